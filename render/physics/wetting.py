"""Wetting, drying and surface tension: alcohol on a film of water, the coffee ring, soaking in. SI in, SI
out.

References
----------
Hernandez-Sanchez, Eddi & Snoeijer 2015, Phys. Fluids 27:032003, arXiv 1312.6590: alcohol on a thin film of
water opens a thin circle, its rim collects the liquid, and its radius goes as the square root of time.
Deegan et al. 1997, Nature 389:827: a drop pinned at its edge carries its solids there as it dries.
Hu & Larson 2006, J. Phys. Chem. B 110:7090: the flow in a flat pinned drop (formula from memory, re-derived).
Jasper 1972, J. Phys. Chem. Ref. Data 1:841: surface tension of 2-propanol. Washburn 1921, Phys. Rev. 17:273.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.linalg import solve_banded

Floats = NDArray[np.float64]


def propanol_tension(celsius: float) -> float:
    """Surface tension of 2-propanol in N/m: (22.90 - .0789 T) mN/m. Jasper 1972."""
    return 1e-3 * (22.90 - 0.0789 * celsius)


def water_tension(celsius: float) -> float:
    """Surface tension of water in N/m: 235.8 (1 - T/Tc)^1.256 (1 - .625 (1 - T/Tc)) mN/m. IAPWS
    R1-76(2014).
    """
    tau = 1.0 - (celsius + 273.15) / 647.096
    return float(0.2358 * tau**1.256 * (1.0 - 0.625 * tau))


def spot_radius(film: float, tension_drop: float, viscosity: float, time: ArrayLike) -> Floats:
    """Scale of the radius, m, of the spot that alcohol opens: (drop x film x t / viscosity)^(1/2).

    The balance of the tension drop over the radius with the drag of a film (Hernandez-Sanchez et al.
    2015); the factor is of order one.
    """
    return np.sqrt(tension_drop * film * np.asarray(time, dtype=float) / viscosity)


@dataclass(frozen=True)
class Spot:
    """A round spot opened by alcohol: all arrays (n,) over ``radius`` (cell middles, m).

    ``film`` in m, ``alcohol`` at the surface 0 to 1, ``times`` (k,) s and ``fronts`` (k,) m: where the rim
    stood; ``poured`` m3 of alcohol that ran in.
    """

    radius: Floats
    film: Floats
    alcohol: Floats
    times: Floats
    fronts: Floats
    poured: float


def open_spot(
    film: float,
    tension_drop: float,
    viscosity: float,
    time: float,
    *,
    feed: float,
    reach: float,
    cells: int = 240,
    smoothing: float = 0.02,
) -> Spot:
    """Solve a drop of alcohol on a film of water, round about its middle, in the lubrication limit.

    Parameters
    ----------
    film, tension_drop, viscosity, time
        m, N/m (0: no alcohol), Pa s, s.
    feed
        Radius of the drop that keeps the surface full of alcohol, and its film no thinner than half, m.
    reach
        Radius of the film solved, m: must stay well beyond the rim.
    smoothing
        Share of the Marangoni speed scale that spreads film and alcohol (diffusion, capillary pressure).

    Notes
    -----
    The surface pulls with tau = -drop x dc/dr, so it moves at u = tau h / mu and the film at half of that
    (plane Couette flow). c goes with the surface, h with the mean:

        dh/dt = -1/r d(r h u / 2)/dr + D lap h,   dc/dt = -1/r d(r c u)/dr + D lap c,   c = 1 within the feed.

    Donor cell in rings for what flows, so the volume of the film is kept to rounding; the diffusive part
    of c is taken implicitly, as c alone obeys a diffusion equation with coefficient drop x h x c / mu.
    """
    dr = reach / cells
    edge: Floats = dr * np.arange(cells + 1, dtype=np.float64)
    radius, ring = 0.5 * (edge[1:] + edge[:-1]), np.pi * np.diff(edge**2)
    h: Floats = np.full(cells, film)
    c: Floats = np.where(radius < feed, 1.0, 0.0)
    mobility = tension_drop / viscosity
    spread = smoothing * mobility * film
    now, poured, times, fronts = 0.0, 0.0, [], []
    while now < time and mobility > 0:
        depth: Floats = 0.5 * (h[1:] + h[:-1])
        surface = -mobility * depth * np.diff(c) / dr
        fastest = float(np.abs(surface).max()) + 1e-30
        dt = min(time - now, 0.4 * dr / fastest, 0.2 * dr * dr / max(spread, 1e-30))
        donor = np.where(surface > 0, h[:-1], h[1:])
        across = 2.0 * np.pi * edge[1:-1] * (0.5 * surface * donor - spread * np.diff(h) / dr)
        h = h - dt * np.diff(across, prepend=0.0, append=0.0) / ring
        spreading: Floats = np.asarray(mobility * depth * 0.5 * (c[1:] + c[:-1]) + spread, np.float64)
        c = _spread_alcohol(c, spreading, edge, ring, dt)
        c[radius < feed] = 1.0
        topped = np.where(radius < feed, np.maximum(h, 0.5 * film), h)
        poured += float((ring * (topped - h)).sum())
        h = topped
        now += dt
        times.append(now)
        fronts.append(_rim(radius, h, film))
    return Spot(radius, h, c, np.array(times), np.array(fronts), poured)


def _spread_alcohol(c: Floats, coefficient: Floats, edge: Floats, ring: Floats, dt: float) -> Floats:
    """One implicit step of dc/dt = 1/r d(r D dc/dr)/dr with closed ends."""
    link = dt * 2.0 * np.pi * edge[1:-1] * coefficient / np.diff(0.5 * (edge[1:] + edge[:-1]))
    bands = np.zeros((3, c.size))
    bands[0, 1:], bands[2, :-1] = -link / ring[:-1], -link / ring[1:]
    bands[1] = 1.0
    bands[1, :-1] += link / ring[:-1]
    bands[1, 1:] += link / ring[1:]
    solved: Floats = solve_banded((1, 1), bands, c)
    return solved


def _rim(radius: Floats, h: Floats, film: float) -> float:
    """Radius of the highest point of the film, by the parabola through its three cells; 0 while there is
    no rim.
    """
    k = int(h.argmax())
    if k in (0, h.size - 1) or h[k] <= film * 1.0001:
        return 0.0
    a, b, d = h[k - 1], h[k], h[k + 1]
    return float(radius[k] + 0.5 * (a - d) / (a - 2 * b + d) * (radius[1] - radius[0]))


def ring_share(dried: ArrayLike) -> Floats:
    """Share of a pinned flat drop's pigment that stands at its edge when ``dried`` (0..1) of it has
    evaporated.

    [1 - (1 - t)^(3/4)]^(4/3): early growth as t^(4/3), everything at the end. From the flow of Hu & Larson
    2006 for a contact angle near zero; Deegan et al. 1997 give t^1.37 for .25 rad.
    """
    t = np.clip(np.asarray(dried, dtype=float), 0.0, 1.0)
    share: Floats = (1.0 - (1.0 - t) ** 0.75) ** (4.0 / 3.0)
    return share


def inside_share(at: ArrayLike, dried: float) -> Floats:
    """Share of the drop's pigment that still lies within ``at`` (radius over the drop's radius, 0..1).

    The flow carries x = 1 - (r/R)^2 by 1 - x^(3/2) = (1 - x0^(3/2)) (1 - t)^(-3/4), and a flat cap holds 1
    - x0^2 of its pigment within x0. At ``at`` = 1 this is 1 - :func:`ring_share`.
    """
    x = 1.0 - np.clip(np.asarray(at, dtype=float), 0.0, 1.0) ** 2
    start = 1.0 - (1.0 - x**1.5) * (1.0 - dried) ** 0.75
    share: Floats = 1.0 - np.clip(start, 0.0, 1.0) ** (4.0 / 3.0)
    return share


def soaking_depth(tension: float, pore: float, viscosity: float, time: ArrayLike, contact_angle: float = 0.0) -> Floats:
    """Depth, m, a liquid soaks into pores of radius ``pore``: (sigma r cos(theta) t / 2 mu)^(1/2).
    Washburn 1921.
    """
    return np.sqrt(tension * pore * np.cos(contact_angle) * np.asarray(time, dtype=float) / (2.0 * viscosity))
