"""Areal texture of a surface, ISO 25178-2:2021, and its figures for a wall.

Heights are taken about their least-squares plane.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import fft

_ACF_LEVEL = 0.2  # s, the default of ISO 25178-3
_MOST = 1024  # autocorrelation of larger walls is taken from their middle, which is plenty for wavelengths of inches


def levelled(height: NDArray[np.floating]) -> NDArray[np.float64]:
    """Return heights minus their least-squares plane: float64, same shape and unit."""
    z = np.asarray(height, np.float64)
    r, c = np.arange(z.shape[0]) - (z.shape[0] - 1) / 2.0, np.arange(z.shape[1]) - (z.shape[1] - 1) / 2.0
    slope_r = float(z.mean(1) @ r / max(float(r @ r), 1e-300))
    slope_c = float(z.mean(0) @ c / max(float(c @ c), 1e-300))
    return np.asarray(z - z.mean() - slope_r * r[:, None] - slope_c * c[None, :], np.float64)


def moments(z: NDArray[np.float64]) -> tuple[float, float, float, float]:
    """Return Sa and Sq in the unit of z, Ssk and Sku without unit (ISO 25178-2:2021, 4.1); flat gives 0, 0, 0, 0."""
    sq = math.sqrt(float(np.mean(z * z)))
    if sq < 1e-12:
        return 0.0, 0.0, 0.0, 0.0
    n = z / sq
    square = n * n
    return float(np.mean(np.abs(z))), sq, float(np.mean(square * n)), float(np.mean(square * square))


def developed_area_ratio(height: NDArray[np.floating], pitch: float) -> float:
    """Return Sdr: true area over projected area, minus 1.

    Each cell of four heights is two triangles, averaged over both diagonals (ISO 25178-2:2021, annex D). ``pitch`` is
    the pixel in the unit of the heights.
    """
    z = np.asarray(height, np.float64)
    if min(z.shape) < 2:
        return 0.0
    a, b, c, d = z[:-1, :-1], z[:-1, 1:], z[1:, :-1], z[1:, 1:]
    top, low, left, right = b - a, d - c, c - a, d - b
    p2 = pitch * pitch

    def area(along: NDArray[np.float64], across: NDArray[np.float64]) -> float:
        return float(np.mean(np.sqrt(p2 + along * along + across * across)))

    whole = area(top, left) + area(low, right) + area(top, right) + area(low, left)
    return whole / (4.0 * pitch) - 1.0


def autocorrelation(z: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the unbiased autocorrelation, zero lag in the middle, for lags up to half the sides; 1 at no lag."""
    rows, cols = z.shape
    shape = fft.next_fast_len(2 * rows - 1, real=True), fft.next_fast_len(2 * cols - 1, real=True)
    power = np.abs(fft.rfft2(z, shape)) ** 2
    full = fft.irfft2(power, shape)
    half_r, half_c = max(1, rows // 2), max(1, cols // 2)
    lag_r, lag_c = np.arange(-half_r, half_r + 1), np.arange(-half_c, half_c + 1)
    picked = full[np.ix_(lag_r % shape[0], lag_c % shape[1])]
    seen = (rows - np.abs(lag_r))[:, None] * (cols - np.abs(lag_c))[None, :]
    picked = picked / seen
    return np.asarray(picked / picked[half_r, half_c], np.float64)


def lags(acf: NDArray[np.float64], level: float = _ACF_LEVEL) -> tuple[float, float]:
    """Return the shortest and the longest lag, in pixels, at which the autocorrelation first falls to ``level``.

    Looked for along 180 directions by linear interpolation; where it never falls, the lag is the half side.
    """
    mid_r, mid_c = acf.shape[0] // 2, acf.shape[1] // 2
    reach = min(mid_r, mid_c)
    step = np.arange(0.0, reach, 0.5)
    angle = np.arange(180) * np.pi / 180.0
    r = mid_r + np.sin(angle)[:, None] * step[None, :]
    c = mid_c + np.cos(angle)[:, None] * step[None, :]
    r0 = np.minimum(r.astype(int), acf.shape[0] - 2)
    c0 = np.minimum(c.astype(int), acf.shape[1] - 2)
    fr, fc = r - r0, c - c0
    top = acf[r0, c0] * (1 - fc) + acf[r0, c0 + 1] * fc
    low = acf[r0 + 1, c0] * (1 - fc) + acf[r0 + 1, c0 + 1] * fc
    ray = top * (1 - fr) + low * fr
    under = ray <= level
    first = np.where(under.any(1), under.argmax(1), step.size - 1)
    before = np.maximum(first - 1, 0)
    i = np.arange(angle.size)
    fall = ray[i, before] - ray[i, first]
    part = np.where(fall > 1e-12, (ray[i, before] - level) / np.where(fall > 1e-12, fall, 1.0), 1.0)
    reached = step[before] + np.clip(part, 0.0, 1.0) * (step[first] - step[before])
    return float(reached.min()), float(reached.max())


@dataclass(frozen=True)
class Texture:
    """Areal parameters: heights in mil, lengths in inches, shares without unit."""

    sa_mil: float
    sq_mil: float
    ssk: float
    sku: float
    sal_in: float
    str_: float
    sdr: float


def measure(height_mil: NDArray[np.floating], ppi: float) -> Texture:
    """Return the areal parameters of a wall's height (mil) at a resolution (pixels per inch)."""
    z = levelled(height_mil)
    sa, sq, ssk, sku = moments(z)
    if sq == 0.0 or min(z.shape) < 4:
        return Texture(sa, sq, ssk, sku, 0.0, 1.0, 0.0)
    r0, c0 = max(0, (z.shape[0] - _MOST) // 2), max(0, (z.shape[1] - _MOST) // 2)
    short, long = lags(autocorrelation(levelled(z[r0 : r0 + _MOST, c0 : c0 + _MOST])))
    sdr = developed_area_ratio(height_mil, 1000.0 / ppi)
    return Texture(sa, sq, ssk, sku, short / ppi, short / long if long > 0 else 1.0, sdr)


def parameters(height_mil: NDArray[np.floating], ppi: float) -> dict[str, float]:
    """Return the areal parameters by name with their units, for ``preview --json``."""
    got = measure(height_mil, ppi)
    return {
        "Sa_mil": got.sa_mil, "Sq_mil": got.sq_mil, "Ssk": got.ssk, "Sku": got.sku, "Sal_in": got.sal_in,
        "Str": got.str_, "Sdr": got.sdr,
    }  # fmt: skip
