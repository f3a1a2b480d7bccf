"""Strokes of a hand tool on the plan grid: where they run, how full the tool was, and the relief they leave.

Trowel, roller and brush differ in size, habit and load, and share the sweep. Strokes are scattered by hashed cells and
laid in hashed order, so a wider wall keeps the strokes it had.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from render import fields, seeds, strips, threads
from render.fields import Array, Grid, Resampled
from render.kept import Kept
from render.wall import frozen

_OWN_PLACE = 301  # purpose of the place that a stroke has on a sheet of marks
_SPREAD_IN = 6.0  # each stroke reads its own place on the sheet, up to this far along and across
_BEAD_IN = 0.17  # half the width of the ridge beside a blade


@dataclass(frozen=True)
class Habit:
    """How a hand moves a tool.

    Attributes
    ----------
    width_in, length_in
        Width of the tool and mean length of a stroke.
    direction_deg, scatter_deg
        Mean direction (0 across the wall, 90 upright) and its spread: the standard deviation, or a full turn of random
        directions from 90 on.
    pitch_in
        Spacing of the strokes' middles.
    curve_in
        Smallest radius of a stroke: the forearm's.
    skew_deg
        Angle of the blade to square across its way, at most.
    soft_in, dry
        Width over which a side fades, and the share of its load that the tool has lost at the end of a stroke.
    both_ways
        Whether strokes run up as well as down; a roller's first touch may then be at either end.
    beads
        Whether the tool squeezes material out at its sides; a block or a soft brush does not.
    """

    width_in: float
    length_in: float
    direction_deg: float = 90.0
    scatter_deg: float = 90.0
    pitch_in: float = 6.0
    curve_in: float = 18.0
    skew_deg: float = 20.0
    soft_in: float = 0.35
    dry: float = 0.5
    both_ways: bool = True
    beads: bool = True

    @property
    def reach_in(self) -> tuple[float, float]:
        """Farthest that a stroke reaches from its middle along and across its way, in inches."""
        skew = math.tan(math.radians(self.skew_deg))
        return self.length_in * 0.95 + self.width_in * 0.6 * skew + 1.0, self.width_in * 0.6 + 1.0


@dataclass(frozen=True, eq=False)
class Strokes:
    """What the strokes left on the plan grid; arrays are float32 (rows, cols) unless said.

    Attributes
    ----------
    grid, habit
        The plan grid, and how the tool was moved.
    number
        int32: the stroke that one sees, an index into ``ids``; -1 where none came.
    ids
        uint64 (n,): each stroke's own number, for hashed attributes.
    supply
        How much material the tool gave there, 0 to about 1.
    lift
        Relief of overlapping blade planes, about unit variance; crisp where a blade ended.
    bead
        What the blade squeezed out at its sides and left at its end, 0 to about 1.

    What else is known of the stroke that one sees is worked out when it is first asked for.
    """

    grid: Grid
    habit: Habit
    number: NDArray[np.int32]
    ids: NDArray[np.uint64]
    supply: Array
    lift: Array
    bead: Array
    _board: _Board = field(repr=False)

    @property
    def nbytes(self) -> int:
        """About the bytes it takes when everything has been worked out."""
        return 56 * self.number.size

    @property
    def along(self) -> Array:
        """Inches from the middle of the stroke that one sees, along its way; 0 where none came."""
        return self._board.seen[0]

    @property
    def across(self) -> Array:
        """Inches from the middle of the stroke that one sees, across its way; 0 where none came."""
        return self._board.seen[1]

    @property
    def inside(self) -> Array:
        """How far inside the stroke that one sees, 0 at its rim to 1."""
        return self._board.seen[2]

    @cached_property
    def down(self) -> Array:
        """Share of downwards in the unit vector of the stroke's way; 0 where none came."""
        return frozen(np.append(-self._board.ways.sin, 0.0).astype(np.float32)[self.number])

    @cached_property
    def right(self) -> Array:
        """Share of rightwards in the unit vector of the stroke's way; 1 where none came."""
        return frozen(np.append(self._board.ways.cos, 1.0).astype(np.float32)[self.number])

    @cached_property
    def clear(self) -> Array:
        """Return 1 well inside a stroke and 0 at its rim and beside another: there places on two sheets would mix."""
        down, right = self.number[1:] != self.number[:-1], self.number[:, 1:] != self.number[:, :-1]
        rim = np.zeros(self.grid.shape, np.bool_)
        beside = ((rim[1:], down), (rim[:-1], down), (rim[:, 1:], right), (rim[:, :-1], right))
        for side, other in (*beside, (rim[1:, 1:], down[:, 1:] | right[1:])):
            np.logical_or(side, other, out=side)
        same = np.minimum(self.inside * np.float32(2.0), np.float32(1.0))
        same *= ~rim
        about = np.pad(_averaged(same, 3), ((0, 0), (1, 1)), mode="edge")
        mean = about[:, :-2] + about[:, 1:-1]
        mean += about[:, 2:]
        mean *= np.float32(1.0 / 3.0)
        mean *= same > 0
        return frozen(mean)

    def places(self, target: Grid) -> tuple[Resampled, Resampled, Resampled]:
        """Return, on a grid, inches along and across on a sheet of marks, where each stroke has its own place, and
        ``clear``.
        """
        along, across, clear = (Resampled(one, self.grid, target) for one in (*self._apart, self.clear))
        return along, across, clear

    @cached_property
    def _apart(self) -> tuple[Array, Array]:
        """Inches along and across on a sheet of marks, where each stroke has its own place."""
        along, across = self.unit(_OWN_PLACE), self.unit(_OWN_PLACE + 1)
        along *= np.float32(_SPREAD_IN)
        along += self.along
        across *= np.float32(_SPREAD_IN)
        across += self.across
        return frozen(along), frozen(across)

    def unit(self, purpose: int) -> Array:
        """Return a uniform number in [0, 1) for each pixel's stroke; 0.5 where none came."""
        table = np.append(seeds.hash_unit(self.ids, purpose), 0.5).astype(np.float32)
        return np.take(table, self.number, mode="wrap")


@dataclass(frozen=True, eq=False)
class _Ways:
    """Strokes in the order of laying: each part float64 (n,) unless said.

    ``ids`` are their own numbers, uint64; ``row`` and ``col`` of the middle, ``half_len`` and ``half_wide`` in inches;
    ``cos`` and ``sin`` of the direction; ``bend`` per inch; ``bead`` (3, n) squeezed out at the left and at the right,
    and left at the end.
    """

    ids: NDArray[np.uint64]
    row: NDArray[np.float64]
    col: NDArray[np.float64]
    cos: NDArray[np.float64]
    sin: NDArray[np.float64]
    half_len: NDArray[np.float64]
    half_wide: NDArray[np.float64]
    bend: NDArray[np.float64]
    skew: NDArray[np.float64]
    load: NDArray[np.float64]
    level: NDArray[np.float64]
    tilt: NDArray[np.float64]
    bead: NDArray[np.float64]


def _ways(grid: Grid, habit: Habit, key: int) -> _Ways:
    """Scatter the strokes, one for each jittered cell of the pitch, in hashed order of laying."""
    margin = habit.length_in * 0.8 + habit.width_in
    pitch = habit.pitch_in
    first = math.floor(-margin / pitch)
    rows = np.arange(first, math.ceil((grid.height_in + margin) / pitch))
    cols = np.arange(first, math.ceil((grid.width_in + margin) / pitch))
    cell = seeds.hash_lattice(rows, cols, key)
    ids = seeds.mix64((cell * 2.0**53).astype(np.uint64)).ravel()
    place = np.repeat(rows, cols.size).astype(np.float64) * pitch, np.tile(cols, rows.size).astype(np.float64) * pitch
    pick = fields.Points(*place, ids)
    order = np.argsort(pick.unit(1))
    u = {name: pick.unit(100 + i) for i, name in enumerate(("r", "c", "a", "l", "k", "s", "o", "f", "e", "g", "b"))}
    n = {name: pick.normal(200 + i) for i, name in enumerate(("a", "w", "h", "t"))}
    random = habit.scatter_deg >= 90.0
    angle = np.radians(habit.direction_deg + (360.0 * u["a"] if random else habit.scatter_deg * n["a"]))
    if habit.both_ways and not random:
        angle = angle + np.pi * (u["f"] < 0.5)
    length = habit.length_in * np.clip(np.exp(0.28 * n["w"]), 0.5, 1.9)
    bend = (u["k"] * 2.0 - 1.0) / habit.curve_in
    skew = np.tan(np.radians(habit.skew_deg * (u["s"] * 2.0 - 1.0)))
    beads = np.stack([np.maximum(0.0, 1.6 * u["e"] - 0.6), np.maximum(0.0, 1.6 * u["b"] - 0.6), 0.7 * u["l"] ** 2])
    parts = (
        pick.row_in + u["r"] * pitch, pick.col_in + u["c"] * pitch, np.cos(angle), np.sin(angle),
        0.5 * length, 0.5 * habit.width_in * (0.8 + 0.4 * u["g"]), bend, skew,
        0.45 + 0.75 * u["o"] ** 0.7, n["h"], n["t"], beads,
    )  # fmt: skip
    return _Ways(ids[order], *(np.asarray(part[..., order], np.float64) for part in parts))


_CORNERS = 12  # of an outline, on each side and each end


@dataclass(frozen=True, eq=False)
class _Outlines:
    """Where strokes can reach, in pixels: corners of their outlines (n, corners), and how far beyond to go (n,)."""

    rows: Array
    cols: Array
    beyond_rows: Array
    beyond_cols: Array

    @classmethod
    def of(cls, ways: _Ways, grid: Grid, wobble: Array) -> _Outlines:
        """Return the outlines of strokes and their beads; a hand's ``wobble`` (2, rows, cols) carries them beyond."""
        along, across = _outline(ways)
        row, col, cos, sin = (part[:, None] for part in (ways.row, ways.col, ways.cos, ways.sin))
        rows, cols = (row - sin * along + cos * across) * grid.ppi, (col + cos * along + sin * across) * grid.ppi
        sag = 0.5 * np.abs(ways.bend) * ((ways.half_len + _BEAD_IN) / (_CORNERS - 1)) ** 2  # an arc beyond its chord
        far, wide = (1.0 + grid.ppi * (sag + np.abs(one).max()) for one in wobble)
        cos, sin = np.abs(ways.cos), np.abs(ways.sin)
        parts = rows, cols, far * sin + wide * cos, far * cos + wide * sin
        return cls(*(np.asarray(part, np.float32) for part in parts))

    def within(self, band: slice, cols: int) -> Iterator[tuple[int, tuple[slice, slice]]]:
        """Yield the strokes that can reach a band of rows, in their order, each with its window there."""
        top, low = self.rows.min(axis=1) - self.beyond_rows, self.rows.max(axis=1) + self.beyond_rows
        which = np.flatnonzero((top < band.stop) & (low > band.start))
        left, right = self._across(which, band)
        spans = np.stack([np.maximum(top[which], band.start), np.ceil(np.minimum(low[which], band.stop)),
                          np.maximum(left, 0.0), np.ceil(np.minimum(right, cols))], axis=1)  # fmt: skip
        for index, (top, low, left, right) in zip(which.tolist(), spans.astype(np.int64).tolist(), strict=True):
            if right > left:
                yield index, (slice(top, low), slice(left, right))

    def _across(self, which: NDArray[np.intp], band: slice) -> tuple[Array, Array]:
        """Return the leftmost and rightmost place of some strokes in a band of rows; the leftmost is right of none."""
        rows, cols, beyond = self.rows[which], self.cols[which], self.beyond_rows[which, None]
        top, low = band.start - beyond, band.stop + beyond
        after, step = np.roll(rows, -1, axis=1), np.roll(cols, -1, axis=1) - cols
        step /= np.where(after == rows, np.float32(1.0), after - rows)
        ends = np.stack([cols + step * (np.clip(end, top, low) - rows) for end in (rows, after)])
        off = (np.maximum(rows, after) < top) | (np.minimum(rows, after) > low)
        left, right = np.where(off, np.inf, ends.min(axis=0)), np.where(off, -np.inf, ends.max(axis=0))
        return left.min(axis=1) - self.beyond_cols[which], right.max(axis=1) + self.beyond_cols[which]


def _outline(ways: _Ways) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return the outlines of strokes and their beads, inches along and across before skew and bend: (n, corners)."""
    side, one = np.linspace(-1.0, 1.0, _CORNERS), np.ones(_CORNERS)
    half_len, half_wide = ways.half_len[:, None], ways.half_wide[:, None]
    across = np.concatenate([one, -side, -one, side]) * (half_wide + _BEAD_IN)
    along = np.concatenate([side, one, -side, -one]) * (half_len + _BEAD_IN) - ways.skew[:, None] * across
    return along, across + 0.5 * ways.bend[:, None] * (along**2 - half_len**2 / 3.0)


_FEW = 32  # rows worked at a time where all of each row is: they stay in the processor's cache
_BAND = 200  # rows of the plan drawn at a time: a slanting stroke's window is narrower there
_CREST_IN = np.array([0.15, 0.0], np.float32)[:, None, None]  # where beads stand, from the end and from the side
_RIDGE_IN = np.array([0.22, _BEAD_IN], np.float32)[:, None, None]  # half the width of those beads


class _Board:
    """A sweep at work; what it draws leaves the module read-only, as ``Strokes``.

    A pair's axis of two is along a stroke and across it.
    """

    def __init__(self, grid: Grid, habit: Habit, key: int) -> None:
        self.grid, self.habit, self.ways = grid, habit, _ways(grid, habit, key)
        self.rows, self.cols = grid.row_in[:, None].astype(np.float32), grid.col_in.astype(np.float32)
        self.wobble = np.stack([_wobble(grid, 0.16, 0.035, key + 11), _wobble(grid, 0.09, 0.015, key + 13)])
        self.soft = np.array([0.5 / habit.soft_in, 1.0 / habit.soft_in], np.float32)[:, None, None]
        self.outlines = _Outlines.of(self.ways, grid, self.wobble)
        self.courses, self.paints = self._courses(), self._paints()
        self.number = np.full(grid.shape, -1, np.int32)
        self.supply, self.lift, self.bead = np.zeros((3, *grid.shape), np.float32)

    def _courses(self) -> tuple[Array, ...]:
        """Return half the size of strokes, and what ``_placed`` asks of them: each float32 (n, ...)."""
        ways = self.ways
        start = _pairs(ways.sin * ways.row - ways.cos * ways.col,
                       ways.bend * ways.half_len**2 / 6.0 - ways.cos * ways.row - ways.sin * ways.col)  # fmt: skip
        pairs = _pairs(ways.half_len, ways.half_wide), start, _pairs(-ways.sin, ways.cos), _pairs(ways.cos, ways.sin)
        return tuple(part.astype(np.float32) for part in (*pairs, 0.5 * ways.bend, ways.skew))

    def _paints(self) -> tuple[Array, ...]:
        """Return what strokes leave at their middles, how that changes from there, and their beads: float32 (n, ...).

        What a stroke leaves is a pair: what it gives, which changes along, and its relief, which changes across.
        """
        ways, dry = self.ways, self.habit.dry
        middle = _pairs(ways.load * (1.0 - 0.5 * dry), ways.level)
        slope = _pairs(-0.5 * dry * ways.load / ways.half_len, 0.9 * ways.tilt / ways.half_wide)
        left, right, last = ways.bead
        bead = np.stack([0.5 * (left + right), 0.5 * (right - left) / ways.half_wide, last], axis=1)
        return tuple(part.astype(np.float32) for part in (middle, slope, bead))

    def draw(self, band: slice) -> None:
        """Lay all strokes, one over another, in a band of rows."""
        for index, at in self.outlines.within(band, self.grid.cols):
            self._lay(index, at)

    def _lay(self, index: int, at: tuple[slice, slice]) -> None:
        """Draw one stroke over what is there."""
        half, *course = (part[index] for part in self.courses)
        middle, slope, bead = (part[index] for part in self.paints)
        place = _placed(course, self.rows[at[0]], self.cols[at[1]], self.wobble[:, at[0], at[1]])
        reach = self._reach(half, place)
        weight = self._inside(reach)
        if self.habit.beads:
            self._squeeze(at, bead, reach, place[1], weight)
        place *= slope
        place += middle
        give, change = place
        lift = self.lift[at]
        change -= lift
        place *= weight
        lift += change
        self._take(at, index, weight, give)

    @cached_property
    def seen(self) -> Array:
        """Inches along and across the stroke that one sees, and how far inside it; 0 where none came."""
        seen = np.empty((3, *self.grid.shape), np.float32)
        for band in threads.bands(self.grid.rows, _FEW):
            number = self.number[band].astype(np.intp)
            half, start, down, right, bend, skew = (_of(number, part) for part in self.courses)
            place = _placed((start, down, right, bend, skew), self.rows[band], self.cols, self.wobble[:, band])
            seen[:2, band], seen[2, band] = place, self._inside(self._reach(half, place))
        gone = self.number < 0
        if gone.any():
            seen[:, gone] = 0.0
        return frozen(seen)

    def _reach(self, half: Array, place: Array) -> Array:
        """Return how far inside the end and the side of a stroke places are, in inches."""
        reach = np.abs(place)
        return np.subtract(half, reach, out=reach)

    def _inside(self, reach: Array) -> Array:
        """Return how far inside a stroke places are, 0 at its rim to 1."""
        ramp = reach * self.soft
        np.clip(ramp, 0.0, 1.0, out=ramp)
        return np.multiply(ramp[0], ramp[1], out=ramp[0])

    def _take(self, at: tuple[slice, slice], index: int, weight: Array, give: Array) -> None:
        """Let a stroke be the one that is seen where it gives more than half of what lay there."""
        supply = self.supply[at]
        new = give > np.float32(0.55) * supply
        np.copyto(self.number[at], np.int32(index), where=new)
        weight *= -0.2
        weight += 1.0
        weight *= supply
        np.maximum(weight, give, out=supply)

    def _squeeze(self, at: tuple[slice, slice], sizes: Array, reach: Array, across: Array, weight: Array) -> None:
        """Wipe older beads under the blade and leave new ones beside it and where it lifted."""
        middle, slope, last = sizes
        end, side = ridge = reach - _CREST_IN
        np.abs(ridge, out=ridge)
        ridge *= -1.0 / _RIDGE_IN
        ridge += 1.0
        np.clip(ridge, 0.0, 1.0, out=ridge)
        ridge *= np.clip(reach[::-1], 0.0, 1.0)
        end *= last
        strength = across * slope
        strength += middle
        side *= strength
        bead = weight * -0.92
        bead += 1.0
        bead *= self.bead[at]
        bead += side
        bead += end
        self.bead[at] = bead


def _placed(course: Sequence[Array], rows: Array, cols: Array, wobble: Array) -> Array:
    """Return inches along and across a stroke from its middle, with its bend, its skew and the hand's wobble.

    ``course`` is one stroke's, or one for each pixel; ``wobble`` and what is returned are (2, rows, cols).
    """
    start, down, right, bend, skew = course
    place = down * rows + (right * cols + start)
    place += wobble
    along, across = place
    bow = along * along
    bow *= bend
    across -= bow
    along += np.multiply(across, skew, out=bow)
    return place


def _of(number: NDArray[np.intp], part: Array) -> Array:
    """Return a part of each pixel's stroke: (rows, cols), or (2, rows, cols) of pairs."""
    if part.ndim == 1:
        return np.take(part, number, mode="wrap")
    return np.stack([np.take(one, number, mode="wrap") for one in part.reshape(-1, 2).T.copy()])


def _pairs(along: NDArray[np.float64], across: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return two numbers of each stroke: (n, 2, 1, 1)."""
    return np.stack([along, across], axis=1)[:, :, None, None]


def _wobble(grid: Grid, slow: float, quick: float, key: int) -> Array:
    """Return how far the hand strays, slowly and quickly, in inches."""
    return np.float32(slow) * fields.lattice(grid, 1.6, key) + np.float32(quick) * fields.lattice(grid, 0.4, key + 1)


def lay(plan: Grid, habit: Habit, key: int, kept: Kept | None = None) -> Strokes:
    """Cover the plan grid with strokes of a habit.

    Parameters
    ----------
    plan
        The plan grid of a wall.
    habit
        Tool and hand.
    key
        64-bit key of the purpose.
    kept
        Strokes from before: a coat of another film is laid with the same ones. Nothing depends on it.
    """
    asked = ("strokes", plan, habit, key)
    return kept.once(asked, lambda: _drawn(plan, habit, key)) if kept is not None else _drawn(plan, habit, key)


def _drawn(plan: Grid, habit: Habit, key: int) -> Strokes:
    board = _Board(plan, habit, key)
    for band in threads.bands(plan.rows, _BAND):  # the calls are too short for a second thread to gain anything
        board.draw(band)
    number, ids, supply, lift, bead = (
        frozen(part) for part in (board.number, board.ways.ids, board.supply, board.lift, board.bead)
    )
    return Strokes(plan, habit, number, ids, supply, lift, bead, board)


@dataclass(frozen=True)
class Marks:
    """What a tool's edge writes along its way.

    Attributes
    ----------
    pitch_in, stretch, octaves
        Width of the widest streaks, their length over their width, and how many finer sizes there are.
    gouge
        Depth of the grooves that a caught grain draws, in standard deviations of the streaks; 0 for none.
    chatter_in
        Spacing of the ripples that a blade leaves across its way where it jumps; 0 for none.
    scratch
        Depth of the hairline scratches that fine grains draw, in standard deviations of the streaks; 0 for none.
    """

    pitch_in: float
    stretch: float
    octaves: int = 2
    gouge: float = 0.0
    chatter_in: float = 0.0
    scratch: float = 0.0


_SHEET_PPI, _MOST_ALONG = 50.0, 14.0  # rows of the sheet per inch across, at most so many along
_HAIR_IN, _HAIR_LONG_IN = 0.034, 2.0  # width and length of hairline scratches
_CAUGHT_IN = 2.6  # how far a caught grain is dragged


def grain(strokes: Strokes, target: Grid, marks: Marks, key: int) -> Array:
    """Return the marks along the strokes on the output or plan grid: about unit variance, fading at a stroke's rim.

    They come from a sheet drawn once at the target's resolution; each stroke reads its own place, so no two are alike.
    """
    finest = marks.pitch_in * marks.stretch / 2 ** (marks.octaves - 1)
    coarse = min(target.ppi, _MOST_ALONG, max(6.0 / finest, 8.0 / marks.chatter_in if marks.chatter_in > 0 else 3.0))
    long, wide = strokes.habit.reach_in
    sheet = _sheet((2.0 * wide + _SPREAD_IN, 2.0 * long + _SPREAD_IN), (target.ppi, coarse), marks, key)
    along, across, fade = strokes.places(target)
    rows, cols = np.float32(target.ppi * _finer(target.ppi, marks)), np.float32(coarse)

    def read(along: Array, across: Array, fade: Array) -> Array:
        at = ((across + np.float32(wide)) * rows).astype(np.int32)
        at *= np.int32(sheet.shape[1])
        at += ((along + np.float32(long)) * cols).astype(np.int32)
        return fade * np.take(sheet.ravel(), at, mode="clip")

    return strips.each(read, along, across, fade)


def _finer(ppi: float, marks: Marks) -> int:
    """Return how many rows of a sheet there are to a pixel, so that a coarse picture reads each mark at its place."""
    most = 2.0 / _HAIR_IN if marks.scratch > 0 else 8.0 * 2 ** (marks.octaves - 1) / marks.pitch_in
    wanted = min(max(_SHEET_PPI, 2.0 * ppi), most)
    return max(1, math.ceil(wanted / ppi)) if ppi > 2.0 else 1


def _sheet(size_in: tuple[float, float], ppi: tuple[float, float], marks: Marks, key: int) -> Array:
    """Draw a sheet of marks (across, along the strokes), averaged over a pixel across; pixels need not be square."""
    finer = _finer(ppi[0], marks)
    ppi = (ppi[0] * finer, ppi[1])
    grid = Grid(int(size_in[0] * ppi[0]) + 1, int(size_in[1] * ppi[1]) + 1, 1.0)  # in units of its own pixels
    size = (marks.pitch_in * ppi[0], marks.pitch_in * marks.stretch * ppi[1])
    total = fields.fbm(grid, size, key, marks.octaves, 0.7)
    if marks.gouge > 0:
        total -= np.float32(marks.gouge) * _dragged(grid, ppi, key)
    if marks.scratch > 0:
        hair = fields.lattice(grid, (_HAIR_IN * ppi[0], _HAIR_LONG_IN * ppi[1]), key + 41)
        total -= np.float32(marks.scratch) * np.clip(hair - np.float32(0.6), 0.0, 1.6)
    if marks.chatter_in > 0:
        total += _chatter(grid, ppi, marks.chatter_in, key)
    return _averaged(total, finer + 1) if finer > 1 else total


def _averaged(sheet: Array, count: int) -> Array:
    """Return the mean of ``count`` rows about each row; beyond the rim the rim repeats."""
    mean = np.empty_like(sheet)
    before, after = count // 2, count - count // 2 - 1
    sheet = np.concatenate([sheet[:1]] * before + [sheet] + [sheet[-1:]] * after)
    for part in threads.bands(len(mean), _FEW):
        some = mean[part]
        some[:] = sheet[part]
        for shift in range(1, count):
            some += sheet[part.start + shift : part.stop + shift]
        some *= np.float32(1.0 / count)
    return mean


def _dragged(grid: Grid, ppi: tuple[float, float], key: int) -> Array:
    """Return the grooves of caught grains: each deepens along the way and ends at once, where the grain stayed."""
    groove = fields.lattice(grid, (0.055 * ppi[0], 0.5 * ppi[1]), key + 21)
    groove -= np.float32(2.2)
    np.minimum(groove, 1.0, out=groove)
    deepen(groove, _CAUGHT_IN * ppi[1])
    groove *= np.float32(1.6)
    return np.clip(groove, 0.0, 1.5, out=groove)


def deepen(field: Array, columns: float) -> None:
    """Let what is high deepen along the way, by 1 in so many columns, up to where it ends at once; in place."""
    rise = (np.arange(field.shape[1]) / columns).astype(np.float32)
    field -= rise
    np.maximum.accumulate(field[:, ::-1], axis=1, out=field[:, ::-1])
    field += rise


def _chatter(grid: Grid, ppi: tuple[float, float], spacing_in: float, key: int) -> Array:
    """Return ripples across the way, in patches and never quite even: the blade sticks and jumps."""
    patch = np.clip(fields.lattice(grid, (2.4 * ppi[0], 4.0 * ppi[1]), key + 32) - np.float32(0.7), 0.0, 1.2)
    ripple = fields.lattice(grid, (1.6 * ppi[0], 0.5 * spacing_in * ppi[1]), key + 31)
    return np.asarray(patch * ripple, np.float32)
