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
C8 = NDArray[np.complex64]

_RAMP = 0.7  # width of the step between two pixels that share a drop of ink; 1 is a tent, 0 the nearest pixel
_APART, _LANE = 0.8, 0.6  # drops of ink along a crack, and side by side in a wide one: pixels
_FEW = 3
_BATCH = 50_000  # pieces at a time, and pixels: what is in hand stays in the processor's cache
_STRIP = 1 << 15


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


def draw(
    net: Net,
    window: Window,
    curl: NDArray[np.float64],
    tilt: NDArray[np.float64],
    aside: NDArray[np.float64] | float = 0.0,
    roll: NDArray[np.float64] | float = 0.0,
) -> CrackFields:
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
    aside
        How far from its centre each cell lies on the wall, inches down and across, shape (cells, 2): the rim curls
        most on the other side.
    roll
        How much more each cell curls along its long axis than along its short one, -1 to 1, shape (cells,): 0 is cupped
        alike both ways, at -1 and 1 it rolls up one way and is straight the other.
    """
    ink, depth = ink_of(net.strands, window)
    runs = runs_of(net, window)
    return CrackFields(ink, depth, curled(net.cells, runs, window, curl, tilt, aside=aside, roll=roll), runs)


# --- strokes ---------------------------------------------------------------------------------------------------------


def ink_of(strands: Strands, window: Window) -> tuple[F4, F4]:
    """Return the share of each pixel that is open crack, and the same weighted by depth: float32 (rows, cols)."""
    pad = 2
    shape = (window.rows + 2 * pad, window.cols + 2 * pad)
    both = np.zeros(shape[0] * shape[1], np.complex64)  # ink + i ink weighted by depth: one place to look up, not two
    first = _pieces(strands, window)
    for at in range(0, len(first), _BATCH):
        for place, area, depth in _drops(strands, first[at : at + _BATCH], window):
            _lay(place + np.complex64((pad - 0.5) * (1 + 1j)), area, depth, shape, both)
    inner = both.reshape(shape)[pad:-pad, pad:-pad]
    ink, deep = inner.real.copy(), inner.imag.copy()
    full = ink > 1.0
    deep[full] /= ink[full]
    ink[full] = 1.0
    return ink, deep


def _pieces(strands: Strands, window: Window) -> NDArray[np.int64]:
    """Return the index of the first point of every piece of crack that reaches the window and stands open."""
    top, left, bottom, right = window.bounds
    p, slack = strands.points, 0.15 + 2.0 / window.ppi
    row, col = p[:, 0], p[:, 1]
    near = (row > top - slack) & (row < bottom + slack) & (col > left - slack) & (col < right + slack)
    near &= strands.left + strands.right > 0
    near[strands.start[1:] - 1] = False  # the last point of a strand
    return np.flatnonzero(near)


def _complex(pairs: NDArray[np.floating[Any]]) -> C8:
    """Return row + i column of (n, 2)."""
    return np.ascontiguousarray(pairs, np.float32).view(np.complex64)[:, 0]


def _drops(strands: Strands, first: NDArray[np.int64], window: Window) -> Iterator[tuple[C8, F4, F4]]:
    """Spread pieces of crack into drops less than a pixel apart: places (n,) in pixels, areas and depths (n,).

    Most pieces are short and narrow: they get one to three drops, all alike.
    """
    ppi, half = np.float32(window.ppi), np.float32(0.5)
    points, asides = _complex(strands.points), _complex(strands.aside)
    begin = points[first]
    run = (points[first + 1] - begin) * ppi
    begin = (begin - np.complex64(complex(window.top, window.left))) * ppi
    length = np.abs(run)
    left, right = (half * ppi * (lip[first] + lip[first + 1]) for lip in (strands.left, strands.right))
    width = left + right
    count = np.where(width <= _LANE, np.minimum(np.ceil(length / _APART - np.float32(0.25)), _FEW + 1), _FEW + 1)
    for drops in range(1, _FEW + 1):
        some = np.flatnonzero(count == drops if drops > 1 else count <= 1)
        mine = first[some]
        area, depth = (width * length)[some], strands.depth[mine]
        area *= np.float32(1.0 / drops)
        middle, way = begin[some] + asides[mine] * (half * (right - left)[some]), run[some]
        for k in range(drops):
            yield middle + way * np.float32((k + 0.5) / drops), area, depth
    many = np.flatnonzero(count > _FEW)
    yield _many_drops(strands, first[many], (begin[many], run[many]), window)


def _many_drops(strands: Strands, first: NDArray[np.int64], course: tuple[C8, C8], window: Window) -> tuple[C8, F4, F4]:
    """Spread pieces that are longer or wider than a pixel; ``course`` is where each begins and its way, in pixels."""
    begin, run = course
    length = np.abs(run)
    count = np.maximum(np.ceil(length / _APART - 0.25), 1.0).astype(np.int32)
    which = np.repeat(np.arange(len(first)), count)
    t = np.arange(len(which), dtype=np.float32) - (np.cumsum(count) - count).astype(np.float32)[which] + 0.5
    t /= count[which]
    lips = []
    for lip in (strands.left, strands.right):
        here, there = (lip[first] * window.ppi).astype(np.float32), (lip[first + 1] * window.ppi).astype(np.float32)
        lips.append(here[which] + (there - here)[which] * t)
    turn, after = _complex(strands.aside[first]), _complex(strands.aside[first + 1])
    normal = turn[which] + (after - turn)[which] * t
    depth = strands.depth[first].astype(np.float32)
    length = (length / count).astype(np.float32)[which]
    return _across(begin[which] + run[which] * t, normal, which, lips, length, depth)


def _across(
    place: C8, normal: C8, which: NDArray[np.int64], lips: list[F4], length: F4, depth: F4
) -> tuple[C8, F4, F4]:
    """Spread drops over the width of the crack where it is wider than a pixel.

    Wide cracks get a seventh more ink than their area, so that no gap shows on the outside of a bend.
    """
    left, right = lips
    width = left + right
    lanes = np.maximum(np.ceil(width / _LANE), 1.0).astype(np.int32)
    many = np.repeat(np.arange(len(lanes)), lanes)
    lane: F4 = np.arange(len(many), dtype=np.float32) - (np.cumsum(lanes) - lanes).astype(np.float32)[many] + 0.5
    share = (1.0 / lanes).astype(np.float32)
    aside = right[many] - width[many] * (lane * share[many])
    area = width * length * share * np.where(lanes > 2, np.float32(1.15), np.float32(1.0))
    return place[many] + normal[many] * aside, area[many], depth[which[many]]


def _lay(place: C8, area: F4, depth: F4, shape: tuple[int, int], both: C8) -> None:
    """Add drops of ink to the four pixels nearest to each, in place; ``place`` counts from pixels' middles."""
    share, most = np.array([place.real, place.imag]), (shape[0] - 1, shape[1] - 1)
    if share.size and not (share.min() >= 0 and share[0].max() < most[0] and share[1].max() < most[1]):
        inside = np.flatnonzero((share >= 0).all(axis=0) & (share[0] < most[0]) & (share[1] < most[1]))
        share, area, depth = share.take(inside, axis=1), area.take(inside), depth.take(inside)
    whole = np.floor(share)
    share -= whole
    share -= np.float32(0.5)
    share *= np.float32(1.0 / _RAMP)
    share += np.float32(0.5)
    np.clip(share, 0.0, 1.0, out=share)
    at = whole[0].astype(np.int64) * shape[1] + whole[1].astype(np.int64)
    drop = np.empty(len(area), np.complex64)
    drop.real, drop.imag = area, area * depth
    low = share[0] * drop
    for down, part in ((0, drop - low), (1, low)):
        right = part * share[1]
        for left, weight in ((0, part - right), (1, right)):
            np.add.at(both, at + (down * shape[1] + left), weight)


# --- pieces of film --------------------------------------------------------------------------------------------------


def runs_of(net: Net, window: Window) -> tuple[NDArray[np.int64], NDArray[np.int32]]:
    """Return runs of pixels of one cell: first pixel (row-major, ascending from 0) and the cell's number.

    A cell's left boundary is where its ring climbs; a pixel belongs to the last boundary left of its middle.
    """
    place = (_complex(net.points) - np.complex64(complex(window.top, window.left))) * np.float32(window.ppi)
    level = np.clip(np.ceil(place.real - 0.5), 0, window.rows).astype(np.int32)
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
    first, count = there[climbs], here[climbs] - there[climbs]
    low = place[ring[after]]
    run = place[ring[climbs]] - low
    slope = run.imag / run.real
    foot = low.imag + (first + 0.5 - low.real) * slope
    many = np.repeat(np.arange(len(climbs)), count)
    step = np.arange(len(many)) - (np.cumsum(count) - count)[many]
    return _sorted_runs(first[many] + step, foot[many] + step * slope[many], cell[many], window)


def _sorted_runs(
    row: NDArray[np.int64], at: NDArray[np.float64], cell: NDArray[np.int64], window: Window
) -> tuple[NDArray[np.int64], NDArray[np.int32]]:
    """Put crossings on the pixels; the last one before a pixel's middle names the pixel."""
    kept = at < window.cols - 0.5
    row, at, cell = row[kept], at[kept], cell[kept]
    within = np.maximum(np.ceil(at - 0.5), 0.0)
    pixel, back = row * window.cols + within.astype(np.int64), (at - within).astype(np.float32)
    nearest = np.full(window.rows * window.cols, -np.inf, np.float32)
    np.maximum.at(nearest, pixel, back)
    last = np.flatnonzero(back == nearest[pixel])
    names = np.full(len(nearest), -1, np.int32)
    names[pixel[last]] = cell[last]
    start = np.flatnonzero(names >= 0)
    names = names[start]
    if len(start):
        start[0] = 0
    return start, names


def curled(
    cells: Cells,
    runs: tuple[NDArray[np.int64], NDArray[np.int32]],
    window: Window,
    curl: NDArray[np.float64],
    tilt: NDArray[np.float64],
    base: NDArray[np.floating[Any]] | None = None,
    aside: NDArray[np.float64] | float = 0.0,
    roll: NDArray[np.float64] | float = 0.0,
) -> F4:
    """Return the height of curled, tilted pieces, mil: flat in the middle, rising to the rim, most at the corners.

    q is the squared distance from the centre in units of the cell's own extent along its long and short axis (1 at
    the middle of a rectangle's side); the rise is curl * q^2 / (1 + .35 q^2), about .74 curl at the sides and 1.7 at
    the corners. ``base`` is added to each cell; ``aside`` is where its middle is taken, from its centre; ``roll`` gives
    the long axis a greater part in q, the short one a smaller.
    """
    start, cell = runs
    middle = cells.shape.centre + aside
    row, col = np.divmod(start, window.cols)
    down = ((row + 0.5) / window.ppi + window.top) - middle[:, 0][cell]
    across = ((col + 0.5) / window.ppi + window.left) - middle[:, 1][cell]
    step, leaning = 1.0 / window.ppi, tilt[:, 1][cell]
    level, slope = tilt[:, 0][cell] * down + leaning * across, leaning * step
    if base is not None:
        level += base[cell]
    if not curl.any():
        return _along_runs(start, window, [slope, level])
    long, short = (1.0 + roll) / cells.shape.aspect, (1.0 - roll) * cells.shape.aspect
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
    threads.each(work, list(pairwise(cuts.tolist())), total >= threads.FEW_PIXELS)
    return out.reshape(window.rows, window.cols)
