"""Light in paint films: Kubelka-Munk layers, mixtures, and the surface between film and air.

Everything here works on arrays of any shape (usually the last axis is the wavelength band), knows nothing
of walls or files, and returns float64. K and S are absorption and scattering per unit of thickness; whatever
the unit, the thickness X is in the same one. Reflectances are shares of the light that falls in, 0 to 1.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]

# Below this b*S*X the layer formulas are replaced by their limit b*S -> 0 (K = 0), where they read 0/0.
_SMALL = 1e-7
# Beyond this b*S*X a layer is infinitely thick to double precision, and sinh would overflow.
_THICK = 300.0


def reflectance_infinite(k_over_s: ArrayLike) -> Array:
    """Reflectance of a layer too thick to see through.

    References: Kubelka & Munk 1931, Z. tech. Phys. 12:593.
    """
    ratio = np.asarray(k_over_s, dtype=np.float64)
    # 1 + q - sqrt(q^2 + 2q), written without the cancellation that would spoil large ratios.
    return 1.0 / (1.0 + ratio + np.sqrt(ratio * ratio + 2.0 * ratio))


def k_over_s(reflectance: ArrayLike) -> Array:
    """Absorption over scattering of a layer too thick to see through: (1 - R)^2 / 2R.

    Raises ValueError where the reflectance is not in (0, 1].
    References: Kubelka & Munk 1931, Z. tech. Phys. 12:593.
    """
    seen = np.asarray(reflectance, dtype=np.float64)
    if np.any(seen <= 0.0) or np.any(seen > 1.0):
        raise ValueError("a reflectance must be above 0 and at most 1")
    return (1.0 - seen) ** 2 / (2.0 * seen)


def layer(k: ArrayLike, s: ArrayLike, thickness: ArrayLike) -> tuple[Array, Array]:
    """Reflectance over black, and transmittance, of one layer.

    R = sinh(bSX)/c, T = b/c, c = a sinh(bSX) + b cosh(bSX), a = 1 + K/S, b = sqrt(a^2 - 1). The limits
    S = 0 (a clear dye, T = exp(-KX)) and K = 0 (a white, R = SX/(1 + SX)) are exact.

    References: Kubelka 1948, J. Opt. Soc. Am. 38:448; Curtis et al. 1997, SIGGRAPH 421-430, section 5.2.
    """
    kx, sx = np.broadcast_arrays(
        np.multiply(k, thickness, dtype=np.float64), np.multiply(s, thickness, dtype=np.float64)
    )
    # With A = (K+S)X and B = sqrt(A^2 - (SX)^2): R = SX sinhc/(A sinhc + cosh), T = 1/(A sinhc + cosh),
    # which has no division by S or by b.
    total = kx + sx
    depth = np.sqrt(kx * (kx + 2.0 * sx))
    tanhc = np.where(depth > _SMALL, np.tanh(depth) / np.maximum(depth, _SMALL), 1.0)
    cosh = np.cosh(np.minimum(depth, _THICK))
    below = total * tanhc + 1.0
    return sx * tanhc / below, 1.0 / (below * cosh)


def over(top_reflectance: ArrayLike, top_transmittance: ArrayLike, below: ArrayLike) -> Array:
    """Reflectance of a layer on something that reflects `below`: R + T^2 Rg / (1 - R Rg).

    References: Kubelka 1954, J. Opt. Soc. Am. 44:330; Curtis et al. 1997, SIGGRAPH 421-430, section 5.2.
    """
    r, t, g = (np.asarray(value, dtype=np.float64) for value in (top_reflectance, top_transmittance, below))
    return r + t * t * g / (1.0 - r * g)


def stack(top: tuple[ArrayLike, ArrayLike], bottom: tuple[ArrayLike, ArrayLike]) -> tuple[Array, Array]:
    """Reflectance over black and transmittance of two layers, each given as (R, T).

    References: Kubelka 1954, J. Opt. Soc. Am. 44:330.
    """
    r1, t1 = (np.asarray(value, dtype=np.float64) for value in top)
    r2, t2 = (np.asarray(value, dtype=np.float64) for value in bottom)
    between = 1.0 - r1 * r2
    return r1 + t1 * t1 * r2 / between, t1 * t2 / between


def from_white_and_black(over_white: ArrayLike, over_black: ArrayLike) -> tuple[Array, Array]:
    """K and S of a layer of unit thickness from its colour on ideal white and on ideal black.

    Raises ValueError unless 0 < over black < over white < 1.
    References: Curtis et al. 1997, SIGGRAPH 421-430, section 5.1.
    """
    white, black = np.broadcast_arrays(
        np.asarray(over_white, dtype=np.float64), np.asarray(over_black, dtype=np.float64)
    )
    if np.any(black <= 0.0) or np.any(white <= black) or np.any(white >= 1.0):
        raise ValueError("the colour over white must be lighter than over black, both inside 0 to 1")
    a = 0.5 * (white + (black - white + 1.0) / black)
    b = np.sqrt(a * a - 1.0)
    s = np.arctanh(b * (1.0 - white) / (b * b - (a - white) * (a - 1.0))) / b
    return s * (a - 1.0), s


def from_masstone_and_tint(
    masstone: ArrayLike, tint: ArrayLike, share: float, white: tuple[ArrayLike, ArrayLike]
) -> tuple[Array, Array]:
    """K and S of a colourant from two hiding drawdowns: alone, and as `share` by volume in a white.

    `white` is (K, S) of that white. The two-constant equations K/S = f(masstone) and
    (cK + (1-c)Kw) / (cS + (1-c)Sw) = f(tint) are solved for K and S, both in the unit of `white`.

    Raises ValueError where the tint is not between white and masstone, which no mixture of the two can be.
    References: Duncan 1940, Proc. Phys. Soc. 52:390 (the mixture); the solution is elementary.
    """
    if not 0.0 < share < 1.0:
        raise ValueError("the share of colourant in the tint must be between 0 and 1")
    k_white, s_white = (np.asarray(value, dtype=np.float64) for value in white)
    alone, mixed = k_over_s(masstone), k_over_s(tint)
    added = mixed * s_white - k_white
    gap = alone - mixed
    if np.any(added * gap < 0.0) or np.any((gap == 0.0) & (added != 0.0)):
        raise ValueError("a tint must lie between the white and the masstone")
    s = (1.0 - share) / share * added / np.where(gap == 0.0, 1.0, gap)
    return s * alone, s


def mixture(shares: ArrayLike, k: ArrayLike, s: ArrayLike) -> tuple[Array, Array]:
    """K and S of a mixture, by volume: K = sum(c K), S = sum(c S); the sums run over the first axis.

    References: Duncan 1940, Proc. Phys. Soc. 52:390.
    """
    c = np.asarray(shares, dtype=np.float64)
    return np.tensordot(c, np.asarray(k, np.float64), 1), np.tensordot(c, np.asarray(s, np.float64), 1)


def saunderson(inside: ArrayLike, k1: float, k2: float) -> Array:
    """What is seen from air when `inside` is the reflectance under the surface.

    k1 is the share of the falling light turned back at the surface, k2 the share of the light coming from
    inside that is turned back in.
    References: Saunderson 1942, J. Opt. Soc. Am. 32:727.
    """
    under = np.asarray(inside, dtype=np.float64)
    return k1 + (1.0 - k1) * (1.0 - k2) * under / (1.0 - k2 * under)


def saunderson_inverse(seen: ArrayLike, k1: float, k2: float) -> Array:
    """Reflectance under the surface from what is seen: the inverse of `saunderson`."""
    body = np.asarray(seen, dtype=np.float64) - k1
    return body / ((1.0 - k1) * (1.0 - k2) + k2 * body)


def fresnel(cos_incidence: ArrayLike, index: float) -> Array:
    """Share of unpolarised light reflected by a smooth surface, from the side of index 1.

    `index` is the index of the far side over that of the near side; below 1 the reflection is total
    beyond the critical angle. Source: the Fresnel equations.
    """
    cos_i = np.clip(np.asarray(cos_incidence, dtype=np.float64), 0.0, 1.0)
    sin_t2 = (1.0 - cos_i**2) / index**2
    cos_t = np.sqrt(np.maximum(0.0, 1.0 - sin_t2))
    parallel = (index * cos_i - cos_t) / (index * cos_i + cos_t)
    across = (cos_i - index * cos_t) / (cos_i + index * cos_t)
    return np.where(sin_t2 >= 1.0, 1.0, 0.5 * (parallel**2 + across**2))


def fresnel_diffuse(index: float, steps: int = 4000) -> float:
    """Share of diffuse light (equal from everywhere) reflected by a smooth surface.

    Integral of fresnel(c) 2c dc by the midpoint rule; for index 1.5 .0918 from air and, with 1/1.5, .596
    from inside, the k2 of Saunderson.
    """
    cos_i = (np.arange(steps) + 0.5) / steps
    return float(np.sum(fresnel(cos_i, index) * 2.0 * cos_i) / steps)
