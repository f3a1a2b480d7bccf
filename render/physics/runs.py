"""Single runs (rivulets) on a vertical wall: all of them swept together, row by row down the wall.

A run is a head of liquid that leaves a trail. Lengths along the wall are in inches and film in mil, so a
volume is in mil in2 (1 mil in2 = .001 in3). Rows are steps of equal height down the wall. Pure arithmetic:
chance comes in as arrays.

The trail takes ``drag`` x 2 x half-width x trail film from the head per inch, and the half-width goes as
the cube root of the volume (a head keeps its shape as it shrinks: chosen, after the look of real runs), so
on an even wall

    dV/ds = -a V^(1/3),   V(s)^(2/3) = V0^(2/3) - 2/3 a s,   length = 1.5 V0^(2/3) / a,   a = 2 w drag trail

with w the half-width of a head of 1 mil in2. The sweep uses this closed form within each step.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


@dataclass(frozen=True)
class RunLaw:
    """How runs of one liquid go down.

    Attributes
    ----------
    step : height of a row, in.
    width : half-width of a head of 1 mil in2, in.
    trail : film that a run leaves behind it on a smooth wet wall, mil.
    steer : how strongly relief to one side turns a run (sideways slope per unit of ``lean``).
    relax : length over which a run swings back to its own course, in.
    touch : two runs merge when their middles are nearer than this share of their half-widths added.
    stop : head, mil in2, too light to break its contact line: it stays where it is.
    """

    step: float
    width: float
    trail: float
    steer: float = 1.0
    relax: float = 0.6
    touch: float = 0.8
    stop: float = 0.0

    def half_width(self, volume: Floats) -> Floats:
        """Half-width in inches of heads of ``volume`` mil in2."""
        return self.width * np.cbrt(volume)

    def length(self, volume: float, drag: float = 1.0) -> float:
        """How far, in inches, a head of ``volume`` mil in2 runs on an even wall of that ``drag``."""
        spent = max(volume ** (2 / 3) - self.stop ** (2 / 3), 0.0)
        return 1.5 * spent / (2.0 * self.width * self.trail * drag)


@dataclass(frozen=True)
class Ground:
    """The wall as runs meet it: arrays (rows, cols) on cells of ``step`` x ``step`` inches.

    ``drag`` multiplies the trail (1 = smooth and wet, more where rough or dry); ``lean`` is the sideways
    slope of the relief (positive: the wall rises to the right and turns a run left); ``ledge`` is extra
    film, mil, that a head leaves where the wall juts out below it.
    """

    drag: Floats
    lean: Floats
    ledge: Floats


@dataclass(frozen=True)
class Runs:
    """Runs swept to their ends. Arrays (rows, n) unless said; zero volume where a run is not.

    ``col`` middle in inches from the left, ``volume`` of the head on entering the row (mil in2), ``half``
    half-width in inches, ``left`` volume left behind in the row; per run (n,): ``first`` and ``last`` row
    (last exclusive), ``parent`` run it ended in or -1, ``tail`` volume that still stood in the head where
    the run ended on the wall and ``off`` volume that left at the floor.
    """

    col: Floats
    volume: Floats
    half: Floats
    left: Floats
    first: Ints
    last: Ints
    parent: Ints
    tail: Floats
    off: Floats
    step: float


@dataclass
class _Heads:
    """Heads on their way, from left to right, (n,) each: number of the run, middle in inches, volume, slope."""

    who: Ints
    at: Floats
    volume: Floats
    slope: Floats

    def where(self, on: NDArray[np.bool_] | Ints) -> _Heads:
        """Some of them."""
        return _Heads(self.who[on], self.at[on], self.volume[on], self.slope[on])

    def joined_by(self, who: Ints, at: Floats, volume: Floats) -> _Heads:
        """These and others that set out."""
        joined = (np.concatenate(two) for two in ((self.at, at), (self.volume, volume), (self.slope, 0.0 * at)))
        return _Heads(np.concatenate([self.who, who]), *joined)

    def in_order(self) -> _Heads:
        """The same from left to right."""
        right = self.at[1:] >= self.at[:-1]
        return self if right.all() else self.where(np.argsort(self.at, kind="stable"))


def _merge(col: Floats, half: Floats, volume: Floats, touch: float) -> list[tuple[int, int]]:
    """Pairs (child, parent) of neighbours, from left to right, that touch, the fuller being the parent; each run
    merges once.
    """
    near = np.flatnonzero(col[1:] - col[:-1] < touch * (half[1:] + half[:-1]))
    pairs: list[tuple[int, int]] = []
    free = 0
    for left in near.tolist():
        if left >= free:
            pairs.append((left + 1, left) if volume[left] >= volume[left + 1] else (left, left + 1))
            free = left + 2
    return pairs


def descend(first: Ints, col: Floats, volume: Floats, *, ground: Ground, wander: Floats, law: RunLaw) -> Runs:
    """Let heads of liquid run down until they are spent, merge, or reach the floor.

    Parameters
    ----------
    first, col, volume
        (n,) row of the start, middle in inches, volume in mil in2.
    ground
        The wall, (rows, cols).
    wander
        (rows, n) own course of each run: sideways inches per inch down.

    Raises
    ------
    ValueError
        If a volume is not positive or a start lies outside the ground.

    Notes
    -----
    Volume is kept: started = left in the rows + tails + off, to rounding; a merged run's volume goes on in
    its parent.
    """
    rows, cols = ground.drag.shape
    count = len(first)
    if count and (volume.min() <= 0 or first.min() < 0 or first.max() >= rows):
        raise ValueError("descend: every run needs a positive volume and a start on the wall")
    side = (cols - 0.5) * law.step
    at = np.clip(col.astype(float), 0.5 * law.step, side)
    last, parent = first.astype(np.int64), np.full(count, -1)
    tail, off = np.zeros(count), np.zeros(count)
    starts = np.argsort(first, kind="stable")
    begun = np.searchsorted(first[starts], np.arange(rows + 1)).tolist()
    none = np.zeros(0)
    live, passed = _Heads(starts[:0], none, none, none), []
    for row in range(rows):
        fresh = starts[begun[row] : begun[row + 1]]
        if fresh.size:
            live = live.joined_by(fresh, at[fresh], volume[fresh])
        if not live.who.size:
            continue
        live = _united(live.in_order(), law, row, parent, last)
        passed.append((live.who, *_go_on(live, ground, wander, law, row)))
        live.at = np.minimum(np.maximum(live.at, 0.5 * law.step), side)  # corners turn a run down the side
        on = live.volume > law.stop
        if not on.all():
            tail[live.who[~on]] = live.volume[~on]
            last[live.who[~on]] = row + 1
            live = live.where(on)
    off[live.who], last[live.who] = live.volume, rows
    middle, full, half, left = _tracks((rows, count), passed)
    return Runs(middle, full, half, left, first.astype(np.int64), last, parent, tail, off, law.step)


def _united(live: _Heads, law: RunLaw, row: int, parent: Ints, last: Ints) -> _Heads:
    """Heads after those that touch have merged; ``parent`` and ``last`` of those that end here are written."""
    pairs = _merge(live.at, law.half_width(live.volume), live.volume, law.touch)
    if not pairs:
        return live
    child, onto = np.array(pairs).T
    live.volume[onto] += live.volume[child]
    parent[live.who[child]], last[live.who[child]] = live.who[onto], row
    stay = np.ones(live.who.size, bool)
    stay[child] = False
    return live.where(stay)


def _go_on(live: _Heads, ground: Ground, wander: Floats, law: RunLaw, row: int) -> tuple[Floats | Ints, ...]:
    """Let heads go one row down, in place. Returns what they were there: row, middle, volume, half-width, left
    behind.
    """
    cell = row * ground.drag.shape[1] + (live.at * (1.0 / law.step)).astype(np.int64)
    before, root, middle = live.volume, np.cbrt(live.volume), live.at
    half = law.width * root
    # V^(2/3) falls by 2/3 a step on an even wall
    kept = root * root - ground.drag.take(cell) * (4.0 / 3.0 * law.width * law.trail * law.step)
    kept = np.maximum(kept, 0.0)
    after = kept * np.sqrt(kept) - half * ground.ledge.take(cell) * (2.0 * law.step)
    after = np.maximum(after, 0.0)
    course = wander[row].take(live.who) - law.steer * ground.lean.take(cell)
    live.slope = live.slope + (course - live.slope) * min(1.0, law.step / law.relax)
    live.at = middle + np.minimum(np.maximum(live.slope, -1.2), 1.2) * law.step
    live.volume = after
    return np.full(live.who.size, row), middle, before, half, before - after


def _tracks(shape: tuple[int, int], passed: list[tuple[Floats | Ints, ...]]) -> tuple[Floats, ...]:
    """What heads were in each row, (rows, n) each: middle, volume, half-width, left behind."""
    found = tuple(np.zeros(shape) for _ in range(4))
    if passed:
        who, row, *values = (np.concatenate(one) for one in zip(*passed, strict=True))
        for one, value in zip(found, values, strict=True):
            one[row, who] = value
    return found


def carry(
    runs: Runs, offered: Floats, lay_share: Floats, saturation: float, load: Floats | None = None
) -> tuple[Floats, Floats, Floats]:
    """Carry pigment down the runs.

    Parameters
    ----------
    runs
        As swept by :func:`descend`.
    offered
        (rows, n, k) pigment of each kind that the body of the run could lift in each row.
    lay_share
        (rows, n) share of the load that is laid down in each row.
    saturation
        Pigment (all kinds) per mil in2 of head volume at which a run lifts no more.
    load
        (n, k) pigment that a run starts with; nothing if not given.

    Returns
    -------
    taken, laid
        (rows, n, k) what is lifted and what is laid, row by row; a spent head lays all it has in its last
        row.
    off
        (n, k) what left with the run at the floor.

    Notes
    -----
    Lifting fades as the load nears saturation, so a run is pale above and dark below. taken = laid + off
    exactly.
    """
    rows, count, kinds = offered.shape
    taken, laid = np.zeros_like(offered), np.zeros_like(offered)
    load = np.zeros((count, kinds)) if load is None else np.array(load, dtype=float)
    if not count:
        return taken, laid, load
    ends: dict[int, list[int]] = {}
    for run in np.flatnonzero(runs.parent >= 0).tolist():
        ends.setdefault(int(runs.last[run]), []).append(run)
    live = runs.volume > 0
    room_for = np.where(live, 1.0 / np.maximum(saturation * runs.volume, 1e-12), 0.0)
    lays = np.where(live, lay_share, 0.0)
    spent = np.flatnonzero((runs.off == 0) & (runs.parent < 0))
    lays[runs.last[spent] - 1, spent] = 1.0
    for row in range(int(runs.first.min()), min(int(runs.last.max()) + 1, rows)):
        for child in ends.get(row, ()):
            load[runs.parent[child]] += load[child]
            load[child] = 0.0
        full = load[:, 0] if kinds == 1 else load.sum(1)
        room = np.minimum(np.maximum(1.0 - full * room_for[row], 0.0), 1.0)
        up = np.multiply(offered[row], room[:, None], out=taken[row])
        load += up
        load -= np.multiply(load, lays[row][:, None], out=laid[row])
    return taken, laid, load


def trough_share(u: Floats) -> Floats:
    """Cumulative share of what a run lifts, from its left side to ``u`` half-widths off its middle.

    Integral of the profile 5/8 (1 - u^4) from -1 to u, flat in the middle with soft sides; 0 below -1, 1
    above 1.
    """
    v = np.clip(u, -1.0, 1.0)
    square = v * v
    share: Floats = np.clip(0.5 + v * (0.625 - 0.125 * (square * square)), 0.0, 1.0)
    return share


def rim_share(u: Floats, thin: Floats | float = 0.28, left: Floats | float = 0.5) -> Floats:
    """Cumulative share of what a run lays at its sides: tents of half-width ``thin`` about u = -1 and u = +1.

    ``left`` is the left side's share.
    """

    def tent(v: Floats) -> Floats:
        a = np.clip(v / thin, -1.0, 1.0)
        return 0.5 + a - 0.5 * a * np.abs(a)

    share: Floats = left * tent(u + 1.0) + (1.0 - left) * tent(u - 1.0)
    return share
