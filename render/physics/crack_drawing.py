"""Cracks of a drying film: from a net in inches to pixels.

Strokes are laid as ink: every short piece of a crack gives the pixels round it exactly its own area, so a hairline far
below a pixel darkens its pixels by its share instead of vanishing or growing. Pieces of film are filled row by row
between the cracks that bound them.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import numpy as np
from numpy.typing import NDArray

from render import threads
from render.physics.crack_opening import Cells, Net, Strands

F4 = NDArray[np.float32]

_RAMP = 0.7  # width of the step between two pixels that share a drop of ink; 1 is a tent, 0 the nearest pixel
_APART, _LANE = 0.8, 0.6  # drops of ink along a crack, and side by side in a wide one: pixels
_FEW = 3
_BATCH = 50_000  # pieces at a time, and pixels: what is in hand stays in the processor's cache
_STRIP = 1 << 15
_SHARED = 1 << 19  # from so many pixels on more than one processor pays


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
    curl
        float32, mil that the film stands off the wall: edges raised, each piece tilted a little its own way.
    runs
        First pixel (row-major) and cell of each run of pixels of one cell.
    """

    ink: F4
    depth: F4
    curl: F4
    runs: tuple[NDArray[np.int64], NDArray[np.int32]]

    def spread(self, values: NDArray[Any]) -> NDArray[Any]:
        """Return a value of each cell (cells,) at that cell's pixels (rows, cols)."""
        start, cell = self.runs
        return np.repeat(values[cell], np.diff(start, append=self.ink.size)).reshape(self.ink.shape)

    @property
    def cell(self) -> NDArray[np.int32]:
        """Number of each pixel's cell in ``net.cells``, int32."""
        return self.spread(np.arange(int(self.runs[1].max(initial=0)) + 1, dtype=np.int32))


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
    runs = runs_of(net, window)
    return CrackFields(ink, depth, curled(net.cells, runs, window, curl, tilt), runs)


# --- strokes ---------------------------------------------------------------------------------------------------------


def ink_of(strands: Strands, window: Window) -> tuple[F4, F4]:
    """Return the share of each pixel that is open crack, and the same weighted by depth: float32 (rows, cols)."""
    pad = 2
    shape = (window.rows + 2 * pad, window.cols + 2 * pad)
    ink, deep = np.zeros(shape[0] * shape[1], np.float32), np.zeros(shape[0] * shape[1], np.float32)
    first = _pieces(strands, window)
    for at in range(0, len(first), _BATCH):
        for place, area, depth in _drops(strands, first[at : at + _BATCH], window):
            _lay(place + np.float32(pad - 0.5), area, depth, shape, ink, deep)
    inner = (slice(pad, -pad), slice(pad, -pad))
    ink, deep = (one.reshape(shape)[inner] for one in (ink, deep))
    full = np.maximum(ink, np.float32(1.0))
    return np.asarray(ink / full, np.float32), np.asarray(deep / full, np.float32)


def _pieces(strands: Strands, window: Window) -> NDArray[np.int64]:
    """Return the index of the first point of every piece of crack that reaches the window and stands open."""
    top, left, bottom, right = window.bounds
    p, slack = strands.points, 0.15 + 2.0 / window.ppi
    row, col = p[:, 0], p[:, 1]
    near = (row > top - slack) & (row < bottom + slack) & (col > left - slack) & (col < right + slack)
    near &= strands.left + strands.right > 0
    near[strands.start[1:] - 1] = False  # the last point of a strand
    return np.flatnonzero(near)


def _drops(strands: Strands, first: NDArray[np.int64], window: Window) -> Iterator[tuple[F4, F4, F4]]:
    """Spread pieces of crack into drops less than a pixel apart: places (2, n) in pixels, areas and depths (n,).

    Most pieces are short and narrow: they get one to three drops, all alike.
    """
    ppi, half = np.float32(window.ppi), np.float32(0.5)
    origin = np.array([window.top, window.left]) * window.ppi
    (a_row, a_col), (b_row, b_col) = (
        (strands.points[one].T * ppi - origin[:, None]).astype(np.float32) for one in (first, first + 1)
    )
    length = np.sqrt((b_row - a_row) ** 2 + (b_col - a_col) ** 2)
    lips = [half * ppi * (lip[first] + lip[first + 1]) for lip in (strands.left, strands.right)]
    width = lips[0] + lips[1]
    count = np.where(width <= _LANE, np.minimum(np.ceil(length / _APART - np.float32(0.25)), _FEW + 1), _FEW + 1)
    for drops in range(1, _FEW + 1):
        some = np.flatnonzero(count == drops if drops > 1 else count <= 1)
        mine = first[some]
        turn, area, depth = strands.aside[mine].T, (width * length)[some], strands.depth[mine]
        area *= np.float32(1.0 / drops)
        aside = half * (lips[1] - lips[0])[some]
        begin = np.stack([a_row[some], a_col[some]])
        begin += turn * aside
        run = np.stack([b_row[some] - a_row[some], b_col[some] - a_col[some]])
        for k in range(drops):
            yield begin + run * np.float32((k + 0.5) / drops), area, depth
    many = np.flatnonzero(count > _FEW)
    yield _many_drops(strands, first[many], np.stack([a_row, a_col, b_row, b_col])[:, many], window)


def _many_drops(strands: Strands, first: NDArray[np.int64], ends: F4, window: Window) -> tuple[F4, F4, F4]:
    """Spread pieces that are longer or wider than a pixel; ``ends`` is (4, n): both ends in pixels."""
    a, b = ends[:2], ends[2:]
    run = b - a
    length = np.sqrt(run[0] * run[0] + run[1] * run[1])
    count = np.maximum(np.ceil(length / _APART - 0.25), 1.0).astype(np.int32)
    which = np.repeat(np.arange(len(first)), count)
    t = np.arange(len(which), dtype=np.float32) - (np.cumsum(count) - count).astype(np.float32)[which] + 0.5
    t /= count[which]
    lips = []
    for lip in (strands.left, strands.right):
        here, there = (lip[first] * window.ppi).astype(np.float32), (lip[first + 1] * window.ppi).astype(np.float32)
        lips.append(here[which] + (there - here)[which] * t)
    turn, there = strands.aside[first].T.astype(np.float32), strands.aside[first + 1].T.astype(np.float32)
    normal = turn[:, which] + (there - turn)[:, which] * t
    place = a[:, which] + run[:, which] * t
    depth = strands.depth[first].astype(np.float32)
    return _across(place, normal, which, lips[0], lips[1], (length / count).astype(np.float32)[which], depth)


def _across(
    place: F4, normal: F4, which: NDArray[np.int64], left: F4, right: F4, length: F4, depth: F4
) -> tuple[F4, F4, F4]:
    """Spread drops over the width of the crack where it is wider than a pixel.

    Wide cracks get a seventh more ink than their area, so that no gap shows on the outside of a bend.
    """
    width = left + right
    lanes = np.maximum(np.ceil(width / _LANE), 1.0).astype(np.int32)
    many = np.repeat(np.arange(len(lanes)), lanes)
    lane: F4 = np.arange(len(many), dtype=np.float32) - (np.cumsum(lanes) - lanes).astype(np.float32)[many] + 0.5
    share = (1.0 / lanes).astype(np.float32)
    aside = right[many] - width[many] * (lane * share[many])
    area = width * length * share * np.where(lanes > 2, np.float32(1.15), np.float32(1.0))
    return place[:, many] + normal[:, many] * aside, area[many], depth[which[many]]


def _lay(place: F4, area: F4, depth: F4, shape: tuple[int, int], ink: F4, deep: F4) -> None:
    """Add drops of ink to the four pixels nearest to each, in place; ``place`` counts from pixels' middles."""
    whole = np.floor(place)
    share = place - whole
    share -= np.float32(0.5)
    share *= np.float32(1.0 / _RAMP)
    share += np.float32(0.5)
    np.clip(share, 0.0, 1.0, out=share)
    row, col = whole
    inside = (row >= 0) & (col >= 0) & (row < shape[0] - 1) & (col < shape[1] - 1)
    at = row.astype(np.int64) * shape[1] + col.astype(np.int64)
    if not inside.all():
        at, share, area, depth = at[inside], share[:, inside], area[inside], depth[inside]
    low = share[0] * area
    for down, part in ((0, area - low), (1, low)):
        right = part * share[1]
        for left, weight in ((0, part - right), (1, right)):
            spot = at + (down * shape[1] + left)
            np.add.at(ink, spot, weight)
            np.add.at(deep, spot, weight * depth)


# --- pieces of film --------------------------------------------------------------------------------------------------


def runs_of(net: Net, window: Window) -> tuple[NDArray[np.int64], NDArray[np.int32]]:
    """Return runs of pixels of one cell: first pixel (row-major, ascending from 0) and the cell's number.

    A cell's left boundary is where its ring climbs; a pixel belongs to the last boundary left of its middle.
    """
    y = (net.points[:, 0] - window.top) * window.ppi
    x = (net.points[:, 1] - window.left) * window.ppi
    level = np.clip(np.ceil(y - 0.5), 0, window.rows).astype(np.int32)
    ring, start = net.cells.ring, net.cells.start
    here = level[ring]
    there = np.empty_like(here)
    there[:-1] = here[1:]
    there[start[1:] - 1] = here[start[:-1]]
    climbs = np.flatnonzero(there < here)
    after = climbs + 1
    cell = np.repeat(np.arange(len(start) - 1), np.diff(start))[climbs]
    last = after == start[cell + 1]
    after[last] = start[cell[last]]
    low, high, count = ring[after], ring[climbs], here[climbs] - there[climbs]
    slope = (x[high] - x[low]) / (y[high] - y[low])
    foot = x[low] + (there[climbs] + 0.5 - y[low]) * slope
    many = np.repeat(np.arange(len(climbs)), count)
    step = np.arange(len(many)) - (np.cumsum(count) - count)[many]
    return _sorted_runs(there[climbs][many] + step, foot[many] + step * slope[many], cell[many], window)


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


def curled(
    cells: Cells,
    runs: tuple[NDArray[np.int64], NDArray[np.int32]],
    window: Window,
    curl: NDArray[np.float64],
    tilt: NDArray[np.float64],
    base: NDArray[np.floating[Any]] | None = None,
) -> F4:
    """Return the height of curled, tilted pieces, mil: flat in the middle, rising to the rim, most at the corners.

    q is the squared distance from the centre in units of the cell's own extent along its long and short axis (1 at
    the middle of a rectangle's side); the rise is curl * q^2 / (1 + .35 q^2), about .74 curl at the sides and 1.7 at
    the corners. ``base`` is added to each cell.
    """
    start, cell = runs
    row, col = np.divmod(start, window.cols)
    down = ((row + 0.5) / window.ppi + window.top) - cells.shape.centre[cell, 0]
    across = ((col + 0.5) / window.ppi + window.left) - cells.shape.centre[cell, 1]
    step = 1.0 / window.ppi
    level, slope = tilt[cell, 0] * down + tilt[cell, 1] * across, tilt[cell, 1] * step
    if base is not None:
        level += base[cell]
    if not curl.any():
        return _along_runs(start, window, [slope, level])
    long, short = 1.0 / cells.shape.aspect, cells.shape.aspect
    e, scale = cells.shape.axis, 4.0 / cells.size**2
    q00 = (scale * (e[:, 0] ** 2 * long + e[:, 1] ** 2 * short))[cell]
    q01 = (scale * e[:, 0] * e[:, 1] * (long - short))[cell]
    q11 = (scale * (e[:, 1] ** 2 * long + e[:, 0] ** 2 * short))[cell]
    constant = q00 * down**2 + 2.0 * q01 * down * across + q11 * across**2
    linear = (2.0 * q01 * down + 2.0 * q11 * across) * step
    return _along_runs(start, window, [slope, level, q11 * step * step, linear, constant, curl[cell]])


def _along_runs(start: NDArray[np.int64], window: Window, terms: list[NDArray[np.floating]]) -> F4:
    """Return slope * k + level at the k-th pixel of each run, and with three terms more the rise of a curled piece.

    Worked in strips of runs that stay in the processor's cache; the strips are shared among processors.
    """
    total = window.rows * window.cols
    out, ends = np.empty(total, np.float32), np.append(start, total)
    terms = [one.astype(np.float32) for one in terms]

    def work(strip: tuple[int, int]) -> None:
        first, last = strip
        begin, lengths = ends[first], np.diff(ends[first : last + 1])
        slope, level, *bend = (np.repeat(one[first:last], lengths) for one in terms)
        k = np.arange(ends[last] - begin, dtype=np.float32)
        k -= np.repeat((ends[first:last] - begin).astype(np.float32), lengths)
        slope *= k
        slope += level
        if bend:
            q, linear, constant, curl = bend
            for term in (linear, constant):
                q *= k
                q += term
            np.minimum(np.square(q, out=q), np.float32(16.0), out=q)
            curl *= q
            q *= np.float32(0.35)
            q += np.float32(1.0)
            curl /= q
            slope += curl
        out[begin : ends[last]] = slope

    cuts = np.unique(np.append(np.searchsorted(start, np.arange(0, total, _STRIP)), len(start)))
    threads.each(work, list(pairwise(cuts.tolist())), total >= _SHARED)
    return out.reshape(window.rows, window.cols)
