"""Cracks of a drying film: from a net in inches to pixels.

Strokes are laid as ink: every short piece of a crack gives the pixels round it exactly its own area, so a hairline far
below a pixel darkens its pixels by its share instead of vanishing or growing. Pieces of film are filled row by row
between the cracks that bound them.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from render.physics.crack_opening import Cells, Net, Strands

F4 = NDArray[np.float32]

_RAMP = 0.7  # width of the step between two pixels that share a drop of ink; 1 is a tent, 0 the nearest pixel
_BATCH = 200_000


@dataclass(frozen=True)
class Window:
    """Pixels to draw: ``rows`` x ``cols`` of ``ppi`` per inch, top left corner at (``top``, ``left``) inches."""

    rows: int
    cols: int
    ppi: float
    top: float = 0.0
    left: float = 0.0

    @property
    def bounds(self) -> tuple[float, float, float, float]:
        """(top, left, bottom, right) in inches."""
        return self.top, self.left, self.top + self.rows / self.ppi, self.left + self.cols / self.ppi


@dataclass(frozen=True)
class CrackFields:
    """What a net looks like on a grid: all (rows, cols).

    Attributes
    ----------
    ink
        float32, share of the pixel that is open crack.
    depth
        float32, the same times the share of the film that the crack goes through.
    cell
        int32, number of the cell in ``net.cells``.
    curl
        float32, mil that the film stands off the wall: edges raised, each piece tilted a little its own way.
    runs
        First pixel (row-major) and cell of each run of pixels of one cell.
    """

    ink: F4
    depth: F4
    cell: NDArray[np.int32]
    curl: F4
    runs: tuple[NDArray[np.int64], NDArray[np.int32]]


def draw(net: Net, window: Window, curl: NDArray[np.float64], tilt: NDArray[np.float64]) -> CrackFields:
    """Draw a net.

    Parameters
    ----------
    net
        From ``open_cracks``.
    window
        The pixels.
    curl
        Rise of each cell's edge above its middle, mil, shape (cells,).
    tilt
        Slope of each cell down and across the wall, mil per inch, shape (cells, 2).
    """
    ink, depth = ink_of(net.strands, window)
    start, cell = runs_of(net, window)
    rise = curled(net.cells, (start, cell), window, curl, tilt)
    return CrackFields(ink, depth, _filled(start, cell, window), rise, (start, cell))


# --- strokes ---------------------------------------------------------------------------------------------------------


def ink_of(strands: Strands, window: Window) -> tuple[F4, F4]:
    """Return the share of each pixel that is open crack, and the same weighted by depth: float32 (rows, cols)."""
    pad = 2
    shape = (window.rows + 2 * pad, window.cols + 2 * pad)
    ink, deep = np.zeros(shape[0] * shape[1], np.float32), np.zeros(shape[0] * shape[1], np.float32)
    first = _pieces(strands, window)
    for at in range(0, len(first), _BATCH):
        place, area, depth = _drops(strands, first[at : at + _BATCH], window)
        _lay(place + pad, area, depth, shape, ink, deep)
    inner = (slice(pad, -pad), slice(pad, -pad))
    full: F4 = np.maximum(ink, np.float32(1.0))
    share, depth_share = (np.asarray(one / full, np.float32).reshape(shape)[inner].copy() for one in (ink, deep))
    return share, depth_share


def _pieces(strands: Strands, window: Window) -> NDArray[np.int64]:
    """Return the index of the first point of every piece of crack that reaches the window and stands open."""
    top, left, bottom, right = window.bounds
    p, slack = strands.points, 0.15 + 2.0 / window.ppi
    near = (p[:, 0] > top - slack) & (p[:, 0] < bottom + slack) & (p[:, 1] > left - slack) & (p[:, 1] < right + slack)
    near &= strands.left + strands.right > 0
    last = np.zeros(len(p), bool)
    last[strands.start[1:] - 1] = True
    return np.flatnonzero(near & ~last)


def _drops(strands: Strands, first: NDArray[np.int64], window: Window) -> tuple[F4, F4, F4]:
    """Spread pieces of crack into drops less than a pixel apart: places (n, 2) in pixels, areas and depths (n,)."""
    a = ((strands.points[first] - (window.top, window.left)) * window.ppi).astype(np.float32)
    b = ((strands.points[first + 1] - (window.top, window.left)) * window.ppi).astype(np.float32)
    run = b - a
    length = np.hypot(run[:, 0], run[:, 1])
    count = np.maximum(np.ceil(length / 0.8 - 0.25), 1.0).astype(np.int32)
    which = np.repeat(np.arange(len(first), dtype=np.int32), count)
    t = np.arange(len(which), dtype=np.float32) - (np.cumsum(count) - count).astype(np.float32)[which] + 0.5
    t /= count[which]
    lips = []
    for lip in (strands.left, strands.right):
        here, there = (lip[first] * window.ppi).astype(np.float32), (lip[first + 1] * window.ppi).astype(np.float32)
        lips.append(here[which] + (there - here)[which] * t)
    turn = strands.aside[first].astype(np.float32)
    normal = turn[which] + (strands.aside[first + 1].astype(np.float32) - turn)[which] * t[:, None]
    place = a[which] + run[which] * t[:, None]
    depth = strands.depth[first].astype(np.float32)
    return _across(place, normal, which, lips[0], lips[1], (length / count).astype(np.float32)[which], depth)


def _across(
    place: F4, normal: F4, which: NDArray[np.int32], left: F4, right: F4, length: F4, depth: F4
) -> tuple[F4, F4, F4]:
    """Spread drops over the width of the crack where it is wider than a pixel.

    Wide cracks get a seventh more ink than their area, so that no gap shows on the outside of a bend.
    """
    width = left + right
    lanes = np.maximum(np.ceil(width / 0.6), 1.0).astype(np.int32)
    many = np.repeat(np.arange(len(lanes), dtype=np.int32), lanes)
    lane: F4 = np.arange(len(many), dtype=np.float32) - (np.cumsum(lanes) - lanes).astype(np.float32)[many] + 0.5
    share = (1.0 / lanes).astype(np.float32)
    aside = right[many] - width[many] * (lane * share[many])
    area = width * length * share * np.where(lanes > 2, np.float32(1.15), np.float32(1.0))
    return place[many] + normal[many] * aside[:, None], area[many], depth[which[many]]


def _lay(place: F4, area: F4, depth: F4, shape: tuple[int, int], ink: F4, deep: F4) -> None:
    """Add drops of ink to the four pixels nearest to each, in place."""
    centre = place - np.float32(0.5)
    whole = np.floor(centre)
    share = np.clip((centre - whole - 0.5) / np.float32(_RAMP) + 0.5, 0.0, 1.0).astype(np.float32)
    row, col = whole[:, 0].astype(np.int64), whole[:, 1].astype(np.int64)
    inside = (row >= 0) & (col >= 0) & (row < shape[0] - 1) & (col < shape[1] - 1)
    if not inside.all():
        row, col, share, area, depth = row[inside], col[inside], share[inside], area[inside], depth[inside]
    at = row * shape[1] + col
    for down, left in ((0, 0), (0, 1), (1, 0), (1, 1)):
        weight = (share[:, 0] if down else 1.0 - share[:, 0]) * (share[:, 1] if left else 1.0 - share[:, 1]) * area
        np.add.at(ink, at + (down * shape[1] + left), weight)
        np.add.at(deep, at + (down * shape[1] + left), weight * depth)


# --- pieces of film --------------------------------------------------------------------------------------------------


def runs_of(net: Net, window: Window) -> tuple[NDArray[np.int64], NDArray[np.int32]]:
    """Return runs of pixels of one cell: first pixel (row-major, ascending from 0) and the cell's number.

    A cell's left boundary is where its ring climbs; a pixel belongs to the last boundary left of its middle.
    """
    y = (net.points[:, 0] - window.top) * window.ppi
    x = (net.points[:, 1] - window.left) * window.ppi
    level = np.clip(np.ceil(y - 0.5), 0, window.rows).astype(np.int32)
    ring = net.cells.ring
    after = np.empty_like(ring)
    after[:-1] = ring[1:]
    after[net.cells.start[1:] - 1] = ring[net.cells.start[:-1]]
    climbs = np.flatnonzero(level[after] < level[ring])
    cell = np.searchsorted(net.cells.start, climbs, side="right") - 1
    low, high = after[climbs], ring[climbs]
    count = level[high] - level[low]
    many = np.repeat(np.arange(len(climbs)), count)
    row = level[low][many] + (np.arange(len(many)) - (np.cumsum(count) - count)[many])
    slope = (x[high] - x[low]) / (y[high] - y[low])
    at = x[low][many] + (row + 0.5 - y[low][many]) * slope[many]
    return _sorted_runs(row, at, cell[many], window)


def _sorted_runs(
    row: NDArray[np.int64], at: NDArray[np.float64], cell: NDArray[np.int64], window: Window
) -> tuple[NDArray[np.int64], NDArray[np.int32]]:
    """Order crossings along the rows; the last one before a pixel's middle names the pixel."""
    kept = at < window.cols - 0.5
    row, at, cell = row[kept], np.maximum(at[kept], -0.5 * window.cols), cell[kept]
    order = np.argsort(row * (2.0 * window.cols) + at)
    pixel = row[order] * window.cols + np.maximum(np.ceil(at[order] - 0.5), 0.0).astype(np.int64)
    last = np.append(pixel[1:] != pixel[:-1], True)[: len(pixel)]
    start, names = pixel[last], cell[order][last].astype(np.int32)
    if len(start) and start[0] > 0:
        start[0] = 0
    return start, names


def _lengths(start: NDArray[np.int64], window: Window) -> NDArray[np.int64]:
    """Return the length of each run."""
    return np.diff(start, append=window.rows * window.cols)


def _filled(start: NDArray[np.int64], cell: NDArray[np.int32], window: Window) -> NDArray[np.int32]:
    """Return the cell's number at every pixel."""
    return np.repeat(cell, _lengths(start, window)).reshape(window.rows, window.cols)


def curled(
    cells: Cells,
    runs: tuple[NDArray[np.int64], NDArray[np.int32]],
    window: Window,
    curl: NDArray[np.float64],
    tilt: NDArray[np.float64],
) -> F4:
    """Return the height of curled, tilted pieces, mil: flat in the middle, rising to the rim, most at the corners.

    q is the squared distance from the centre in units of the cell's own extent along its long and short axis (1 at
    the middle of a rectangle's side); the rise is curl * q^2 / (1 + .35 q^2), about .74 curl at the sides and 1.7 at
    the corners.
    """
    start, cell = runs
    row, col = np.divmod(start, window.cols)
    down = ((row + 0.5) / window.ppi + window.top) - cells.shape.centre[cell, 0]
    across = ((col + 0.5) / window.ppi + window.left) - cells.shape.centre[cell, 1]
    long, short = 1.0 / cells.shape.aspect, cells.shape.aspect
    e = cells.shape.axis
    scale = 4.0 / cells.size**2
    q00 = scale * (e[:, 0] ** 2 * long + e[:, 1] ** 2 * short)
    q01 = scale * e[:, 0] * e[:, 1] * (long - short)
    q11 = scale * (e[:, 1] ** 2 * long + e[:, 0] ** 2 * short)
    step = 1.0 / window.ppi
    constant = q00[cell] * down**2 + 2.0 * q01[cell] * down * across + q11[cell] * across**2
    linear = (2.0 * q01[cell] * down + 2.0 * q11[cell] * across) * step
    level = tilt[cell, 0] * down + tilt[cell, 1] * across
    lengths = _lengths(start, window)

    def spread(values: NDArray) -> F4:
        return np.repeat(values.astype(np.float32), lengths)

    k = np.arange(window.rows * window.cols, dtype=np.int64)
    k -= np.repeat(start, lengths)
    k = k.astype(np.float32)
    q = (spread(q11[cell] * step * step) * k + spread(linear)) * k + spread(constant)
    q = np.minimum(q * q, np.float32(16.0))
    rise = spread(curl[cell]) * q / (1.0 + np.float32(0.35) * q)
    rise += spread(tilt[cell, 1] * step) * k + spread(level)
    return np.asarray(rise.reshape(window.rows, window.cols), np.float32)
