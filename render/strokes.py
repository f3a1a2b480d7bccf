"""Strokes of a hand tool on the plan grid: where they run, how full the tool was, and the relief they leave.

Trowel, roller and brush differ in size, habit and load, and share the sweep. Strokes are scattered by hashed cells and
laid in hashed order, so a wider wall keeps the strokes it had.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from render import fields, seeds, threads
from render.fields import Array, Grid
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
    along, across
        Inches from the middle of that stroke, along its way and across it.
    supply
        How much material the tool gave there, 0 to about 1.
    inside
        How far inside the stroke, 0 at its rim to 1.
    lift
        Relief of overlapping blade planes, about unit variance; crisp where a blade ended.
    bead
        What the blade squeezed out at its sides and left at its end, 0 to about 1.
    down, right
        Unit vector of the stroke's way.
    """

    grid: Grid
    habit: Habit
    number: NDArray[np.int32]
    ids: NDArray[np.uint64]
    along: Array
    across: Array
    supply: Array
    inside: Array
    lift: Array
    bead: Array
    down: Array
    right: Array
    _read: dict[Grid, tuple[Array, Array, Array]] = field(default_factory=dict, init=False, repr=False)

    @cached_property
    def clear(self) -> Array:
        """Return 1 well inside a stroke and 0 at its rim and beside another: there places on two sheets would mix."""
        same = np.minimum(self.inside * 2.0, 1.0)
        down, right = self.number[1:] != self.number[:-1], self.number[:, 1:] != self.number[:, :-1]
        same[1:][down] = 0.0
        same[:-1][down] = 0.0
        same[:, 1:][right] = 0.0
        same[:, :-1][right] = 0.0
        same[1:, 1:][down[:, 1:] | right[1:]] = 0.0
        return frozen(np.asarray(ndimage.uniform_filter(same, 3, mode="nearest") * (same > 0), np.float32))

    def places(self, target: Grid) -> tuple[Array, Array, Array]:
        """Return, on a grid, inches along and across on a sheet of marks, where each stroke has its own place, and
        ``clear``. Those of the last grid are kept as long as the strokes, for a coat that reads several sheets.
        """
        if target not in self._read:
            self._read.clear()
            along = self.along + self.unit(_OWN_PLACE) * np.float32(_SPREAD_IN)
            across = self.across + self.unit(_OWN_PLACE + 1) * np.float32(_SPREAD_IN)
            along, across, clear = (fields.resample(f, self.grid, target) for f in (along, across, self.clear))
            self._read[target] = along, across, clear
        return self._read[target]

    def unit(self, purpose: int) -> Array:
        """Return a uniform number in [0, 1) for each pixel's stroke; 0.5 where none came."""
        table = np.append(seeds.hash_unit(self.ids, purpose), 0.5).astype(np.float32)
        return table[self.number]


@dataclass(frozen=True)
class _Way:
    """One stroke: middle, direction, half length and width, bend, skew, load, tilt and beads."""

    row: float
    col: float
    cos: float
    sin: float
    half_len: float
    half_wide: float
    bend: float
    skew: float
    load: float
    level: float
    tilt: float
    bead_left: float
    bead_right: float
    bead_end: float


def _ways(grid: Grid, habit: Habit, key: int) -> tuple[list[_Way], NDArray[np.uint64]]:
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
    ways = [
        _Way(
            float(pick.row_in[i] + (u["r"][i]) * pitch), float(pick.col_in[i] + u["c"][i] * pitch),
            math.cos(angle[i]), math.sin(angle[i]), float(length[i]) / 2.0,
            habit.width_in / 2.0 * float(0.8 + 0.4 * u["g"][i]),
            float(bend[i]), float(skew[i]), float(0.45 + 0.75 * u["o"][i] ** 0.7), float(n["h"][i]), float(n["t"][i]),
            float(max(0.0, u["e"][i] * 1.6 - 0.6)), float(max(0.0, u["b"][i] * 1.6 - 0.6)), float(u["l"][i] ** 2),
        )
        for i in order
    ]  # fmt: skip
    return ways, ids[order]


_BAND = 150  # rows of the plan drawn at a time: a foot, which the strokes of other processors do not touch


class _Board:
    """Working arrays of a sweep; they leave the module read-only, as ``Strokes``."""

    def __init__(self, grid: Grid, key: int) -> None:
        self.wobble_along = 0.16 * fields.lattice(grid, 1.6, key + 11) + 0.035 * fields.lattice(grid, 0.4, key + 12)
        self.wobble_across = 0.09 * fields.lattice(grid, 1.6, key + 13) + 0.015 * fields.lattice(grid, 0.4, key + 14)
        self.rows, self.cols = grid.row_in, grid.col_in
        self.grid = grid
        self.number = np.full(grid.shape, -1, np.int32)
        blank = np.zeros(grid.shape, np.float32)
        self.along, self.across, self.supply, self.inside = blank.copy(), blank.copy(), blank.copy(), blank.copy()
        self.lift, self.bead = blank.copy(), blank

    def window(self, way: _Way, band: slice) -> tuple[slice, slice] | None:
        """Return the slices that a stroke can reach in a band of rows, or None off it."""
        sag = 0.5 * abs(way.bend) * way.half_len**2
        wide = way.half_wide * (1.0 + abs(way.skew)) + 0.8
        tall_in = abs(way.sin) * (way.half_len + abs(way.skew) * way.half_wide) + abs(way.cos) * (wide + sag)
        wide_in = abs(way.cos) * (way.half_len + abs(way.skew) * way.half_wide) + abs(way.sin) * (wide + sag)
        ppi = self.grid.ppi
        r0, r1 = int((way.row - tall_in) * ppi), int((way.row + tall_in) * ppi) + 2
        c0, c1 = int((way.col - wide_in) * ppi), int((way.col + wide_in) * ppi) + 2
        r0, c0, r1, c1 = max(r0, band.start), max(c0, 0), min(r1, band.stop), min(c1, self.grid.cols)
        return (slice(r0, r1), slice(c0, c1)) if r1 > r0 and c1 > c0 else None

    def place(self, at: tuple[slice, slice], way: _Way) -> tuple[Array, Array]:
        """Return inches along and across a stroke from its middle, with its bend, its skew and the hand's wobble."""
        down, right = self.rows[at[0]] - way.row, self.cols[at[1]] - way.col
        u = (-way.sin * down).astype(np.float32)[:, None] + (way.cos * right).astype(np.float32)[None, :]
        v = (way.cos * down).astype(np.float32)[:, None] + (way.sin * right).astype(np.float32)[None, :]
        u += self.wobble_along[at]
        v += self.wobble_across[at]
        bow = u * u
        bow -= np.float32(way.half_len**2 / 3.0)
        bow *= np.float32(0.5 * way.bend)
        v -= bow
        np.multiply(v, np.float32(way.skew), out=bow)
        u += bow
        return u, v

    def lay(self, index: int, way: _Way, habit: Habit, band: slice) -> None:
        """Draw one stroke over what is there in a band of rows."""
        at = self.window(way, band)
        if at is None:
            return
        u, v = self.place(at, way)
        rim, end = np.float32(way.half_wide) - np.abs(v), np.float32(way.half_len) - np.abs(u)
        weight = _ramp(rim, habit.soft_in)
        weight *= _ramp(end, 2.0 * habit.soft_in)
        if habit.beads:
            self._bead(at, way, rim, end, v, weight)
        change = v * np.float32(0.9 * way.tilt / way.half_wide)
        change += np.float32(way.level)
        lift = self.lift[at]
        change -= lift
        change *= weight
        lift += change
        give = u * np.float32(-0.5 * habit.dry * way.load / way.half_len)
        give += np.float32(way.load * (1.0 - 0.5 * habit.dry))
        give *= weight
        self._take(at, index, (u, v, weight), give)

    def _take(self, at: tuple[slice, slice], index: int, mine: tuple[Array, Array, Array], give: Array) -> None:
        """Let a stroke be the one that is seen where it gives more than half of what lay there."""
        supply = self.supply[at]
        new = give > np.float32(0.55) * supply
        supply *= 1.0 - np.float32(0.2) * mine[2]
        np.maximum(supply, give, out=supply)
        for theirs, one in zip((self.along, self.across, self.inside), mine, strict=True):
            np.copyto(theirs[at], one, where=new)
        np.copyto(self.number[at], np.int32(index), where=new)

    def _bead(self, at: tuple[slice, slice], way: _Way, rim: Array, end: Array, v: Array, weight: Array) -> None:
        """Wipe older beads under the blade and leave new ones beside it and where it lifted."""
        bead = self.bead[at]
        bead *= 1.0 - np.float32(0.92) * weight
        if way.bead_left > 0 or way.bead_right > 0:
            near = _ramp(np.float32(_BEAD_IN) - np.abs(rim), _BEAD_IN)
            near *= _ramp(end, 1.0)
            near *= np.where(v > 0, np.float32(way.bead_right), np.float32(way.bead_left))
            bead += near
        if way.bead_end > 0.05:
            stop = _ramp(np.float32(0.22) - np.abs(end - np.float32(0.15)), 0.22)
            stop *= _ramp(rim, 1.0)
            stop *= np.float32(0.7 * way.bead_end)
            bead += stop


def _ramp(inside: Array, width_in: float) -> Array:
    """Return 0 at the rim and 1 from ``width_in`` inside it."""
    ramp = inside * np.float32(1.0 / width_in)
    np.maximum(ramp, np.float32(0.0), out=ramp)
    return np.minimum(ramp, np.float32(1.0), out=ramp)


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
    found = kept.get(asked) if kept is not None else None
    if found is None:
        found = _drawn(plan, habit, key)
        if kept is not None:
            kept.put(asked, found, 40 * found.number.size)
    return replace(found)  # what it reads at an output grid is large, and goes with the coat


def _drawn(plan: Grid, habit: Habit, key: int) -> Strokes:
    ways, ids = _ways(plan, habit, key)
    board = _Board(plan, key)

    def draw(band: slice) -> None:
        for index, way in enumerate(ways):
            board.lay(index, way, habit, band)

    threads.each(draw, [slice(top, min(top + _BAND, plan.rows)) for top in range(0, plan.rows, _BAND)])
    cos = np.append([way.cos for way in ways], 1.0).astype(np.float32)[board.number]
    sin = np.append([way.sin for way in ways], 0.0).astype(np.float32)[board.number]
    laid = (board.along, board.across, board.supply, board.inside, board.lift, board.bead, -sin, cos)
    return Strokes(plan, habit, frozen(board.number), frozen(ids), *(frozen(field) for field in laid))


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
    tear_in
        Length over which a streak fades along the way after it began at once: a tear opens and closes so; 0 for none.
    scratch
        Depth of the hairline scratches that fine grains draw, in standard deviations of the streaks; 0 for none.
    """

    pitch_in: float
    stretch: float
    octaves: int = 2
    gouge: float = 0.0
    chatter_in: float = 0.0
    tear_in: float = 0.0
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
    fine = np.float32(target.ppi * _finer(target.ppi, marks))
    col = (along + np.float32(long)) * np.float32(coarse)
    at = ((across + np.float32(wide)) * fine).astype(np.int32)
    at *= np.int32(sheet.shape[1])
    at += col.astype(np.int32)
    return np.asarray(fade * np.take(sheet.ravel(), at, mode="clip"), np.float32)


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
    if marks.tear_in > 0:
        total = _torn(total, marks.tear_in * ppi[1])
    if marks.gouge > 0:
        total -= np.float32(marks.gouge) * _dragged(grid, ppi, key)
    if marks.scratch > 0:
        hair = fields.lattice(grid, (_HAIR_IN * ppi[0], _HAIR_LONG_IN * ppi[1]), key + 41)
        total -= np.float32(marks.scratch) * np.clip(hair - np.float32(0.6), 0.0, 1.6)
    if marks.chatter_in > 0:
        total += _chatter(grid, ppi, marks.chatter_in, key)
    return ndimage.uniform_filter1d(total, finer + 1, axis=0, mode="nearest") if finer > 1 else total


def _torn(streaks: Array, length: float) -> Array:
    """Return streaks that begin at once and fade along the way over ``length`` columns, about unit variance again."""
    fall = (np.arange(streaks.shape[1]) / length).astype(np.float32)
    torn = np.maximum.accumulate(streaks + fall, axis=1) - fall
    return np.asarray((torn - torn.mean()) / np.float32(max(float(torn.std()), 1e-6)), np.float32)


def _dragged(grid: Grid, ppi: tuple[float, float], key: int) -> Array:
    """Return the grooves of caught grains: each deepens along the way and ends at once, where the grain stayed."""
    spots = fields.lattice(grid, (0.055 * ppi[0], 0.5 * ppi[1]), key + 21) - np.float32(2.2)
    rise = (np.arange(grid.cols) / (_CAUGHT_IN * ppi[1])).astype(np.float32)
    groove = np.maximum.accumulate((np.minimum(spots, 1.0) - rise)[:, ::-1], axis=1)[:, ::-1] + rise
    return np.asarray(np.clip(1.6 * groove, 0.0, 1.5), np.float32)


def _chatter(grid: Grid, ppi: tuple[float, float], spacing_in: float, key: int) -> Array:
    """Return ripples across the way, in patches and never quite even: the blade sticks and jumps."""
    patch = np.clip(fields.lattice(grid, (2.4 * ppi[0], 4.0 * ppi[1]), key + 32) - np.float32(0.7), 0.0, 1.2)
    ripple = fields.lattice(grid, (1.6 * ppi[0], 0.5 * spacing_in * ppi[1]), key + 31)
    return np.asarray(patch * ripple, np.float32)
