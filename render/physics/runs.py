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

from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.floating]
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
    """The wall as runs meet it: arrays (rows, cols) on cells one ``step`` of the law high and ``breadth`` inches broad.

    ``drag`` multiplies the trail (1 = smooth and wet, more where rough or dry); ``lean`` is the sideways
    slope of the relief (positive: the wall rises to the right and turns a run left); ``ledge`` is extra
    film, mil, that a head leaves where the wall juts out below it.
    """

    drag: Floats
    lean: Floats
    ledge: Floats
    breadth: float


@dataclass(frozen=True)
class Runs:
    """Runs swept to their ends: (m,) for each row that a run passes, run by run and downwards; (n,) for each run.

    ``row`` and ``run`` of an entry; ``col`` middle in inches from the left, ``volume`` of the head on entering the row
    (mil in2), ``half`` half-width in inches, ``left`` volume left behind in the row. Per run: ``first`` and ``last``
    row (last exclusive), ``start`` its first entry, ``parent`` run it ended in or -1, ``tail`` volume that still stood
    in the head where the run ended on the wall and ``off`` volume that left at the floor; ``begun`` middle at the
    start, in, and ``own`` volume it set out with. ``step`` height of a row, in; ``rows`` how many.
    """

    row: Ints
    run: Ints
    col: Floats
    volume: Floats
    half: Floats
    left: Floats
    first: Ints
    last: Ints
    start: Ints
    parent: Ints
    tail: Floats
    off: Floats
    begun: Floats
    own: Floats
    step: float
    rows: int

    @cached_property
    def downward(self) -> Ints:
        """Entries in the order of their rows, (m,)."""
        return np.argsort(self.row, kind="stable")

    def table(self, values: Floats) -> Floats:
        """Values of the entries as a table, (rows, n), zero where a run is not."""
        table = np.zeros((self.rows, self.first.size))
        table[self.row, self.run] = values
        return table

    def finer(self) -> Runs:
        """The same runs on rows half as high, which bend smoothly: entry i is entries 2i and 2i + 1 there."""
        entry = np.arange(self.row.size)
        first, last = self.start, self.start + self.last - self.first - 1
        before = np.maximum(entry - 1, first[self.run])
        after = np.minimum(entry + 1, last[self.run])
        bend = (self.col[after] - self.col[before]) / np.maximum(after - before, 1)  # inches a row
        beyond = np.where(after > entry, 0.5 * (self.col + self.col[after]), self.col + 0.5 * bend)
        between = beyond + 0.125 * (bend - bend[after])  # Hermite's cubic half-way

        def both(here: NDArray[Any], there: NDArray[Any]) -> NDArray[Any]:
            return np.stack([here, there], 1).ravel()

        row, run, volume = both(2 * self.row, 2 * self.row + 1), np.repeat(self.run, 2), np.repeat(self.volume, 2)
        return replace(
            self, row=row, run=run, col=both(self.col, between), volume=volume, left=np.repeat(0.5 * self.left, 2),
            half=both(self.half, 0.5 * (self.half + self.half[after])), first=2 * self.first, last=2 * self.last,
            start=2 * self.start, step=0.5 * self.step, rows=2 * self.rows,
        )  # fmt: skip


def descend(
    first: Ints,
    col: Floats,
    volume: Floats,
    *,
    ground: Ground,
    wander: Floats,
    law: RunLaw,
    lane: Ints | None = None,
) -> Runs:
    """Let heads of liquid run down until they are spent, merge, or reach the floor.

    Parameters
    ----------
    first, col, volume
        (n,) row of the start, middle in inches, volume in mil in2.
    ground
        The wall, (rows, cols).
    wander
        (rows, n) own course of each run: sideways inches per inch down; or (rows, k), of which run i goes by column
        ``lane[i]``.

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
    at = np.clip(col.astype(float), 0.5 * ground.breadth, (cols - 0.5) * ground.breadth)
    last, parent = first.astype(np.int64), np.full(count, -1)
    tail, off = np.zeros(count), np.zeros(count)
    lane = np.arange(count) if lane is None else lane
    starts = np.argsort(first, kind="stable")
    begun = np.searchsorted(first[starts], np.arange(rows + 1)).tolist()
    waiting = np.stack([starts, lane[starts], at[starts], volume[starts], np.zeros(count)]).astype(float)
    course, live, passed = _Course(ground, wander, law), waiting[:, :0], []
    for row in range(rows):
        if begun[row] < begun[row + 1]:
            live = _in_order(np.concatenate([live, waiting[:, begun[row] : begun[row + 1]]], 1))
        if not live.size:
            continue
        root = np.cbrt(live[_VOLUME])
        near = course.near(live[_AT], root)
        if near.size:
            live = _united(live, near, course, row, parent, last)
            root = np.cbrt(live[_VOLUME])
        before, live = live, course.go_on(live, root, row)
        passed.append((before, root, before[_VOLUME] - live[_VOLUME]))
        on = live[_VOLUME] > course.stop
        if np.count_nonzero(on) < on.size:
            spent = live.compress(~on, 1)
            who = spent[_WHO].astype(np.int64)
            tail[who], last[who] = spent[_VOLUME], row + 1
            live = live.compress(on, 1)
    who = live[_WHO].astype(np.int64)
    off[who], last[who] = live[_VOLUME], rows
    first = first.astype(np.int64)
    start = np.cumsum(last - first) - (last - first)
    entries = _entries(passed, start - first, law.width, last - first)
    start = np.minimum(start, max(entries[0].size - 1, 0))  # a run that merges where it starts has no entry
    return Runs(*entries, first, last, start, parent, tail, off, at, volume.astype(float), law.step, rows)


_WHO, _LANE, _AT, _VOLUME, _SLOPE = range(5)
"""What is known of heads on their way, from left to right, (5, n): number of the run and of its lane, middle in inches,
volume, and how far it goes aside in a row. One array, so that few calls of numpy tell who is still on the way.
"""


def _in_order(heads: Floats) -> Floats:
    """Heads from left to right."""
    return heads.take(heads[_AT].argsort(kind="stable"), 1)


def _united(live: Floats, near: Ints, course: _Course, row: int, parent: Ints, last: Ints) -> Floats:
    """Heads after those that touch have merged, each once, the fuller being the parent; ``parent`` and ``last`` of
    those that end here are written.

    ``near`` tells which touch the next as they stand. Some may have passed others: then they are looked at in order.
    """
    at = live[_AT]
    if np.count_nonzero(at[1:] < at[:-1]):
        live = _in_order(live)
        near = course.near(live[_AT], np.cbrt(live[_VOLUME]))
    who, volume = live[_WHO], live[_VOLUME]
    stay, free = np.ones(who.size, bool), 0
    for left in near.tolist():
        if left >= free:
            child, onto = (left + 1, left) if volume[left] >= volume[left + 1] else (left, left + 1)
            volume[onto] += volume[child]
            ends = int(who[child])
            parent[ends], last[ends] = who[onto], row
            stay[child], free = False, left + 2
    return live.compress(stay, 1)


class _Course:
    """How heads go down one row: the wall and the law, as they are read in every row.

    There are few heads and many rows, so that a row costs as much as there are operations: numbers are kept as arrays
    of no dimension, which numpy need not convert, and in the measure that they are used in.
    """

    def __init__(self, ground: Ground, wander: Floats, law: RunLaw) -> None:
        """Make ready; V^(2/3) falls by 2/3 a step on an even wall."""
        eases = min(1.0, law.step / law.relax)
        spends = ground.drag * (4.0 / 3.0 * law.width * law.trail * law.step)
        ledge = ground.ledge * (2.0 * law.width * law.step)
        self.cells = np.stack([spends, ledge, ground.lean * (law.steer * eases * law.step)], 1).astype(float)
        self.wander, self.zero, self.stop = wander * (eases * law.step), np.zeros(()), np.array(law.stop)
        self.per_cell, self.keeps = np.array(1.0 / ground.breadth), np.array(1.0 - eases)
        self.left, self.right = (np.array(one * ground.breadth) for one in (0.5, ground.drag.shape[1] - 0.5))
        self.steep, self.steep_left = np.array(1.2 * law.step), np.array(-1.2 * law.step)
        self.reach = np.array(law.touch * law.width)

    def near(self, at: Floats, root: Floats) -> Ints:
        """Which heads touch the next, or have passed it."""
        reach = root * self.reach
        return ((at - reach)[1:] < (at + reach)[:-1]).nonzero()[0]

    def go_on(self, live: Floats, root: Floats, row: int) -> Floats:
        """Heads one row further down."""
        middle = live[_AT]
        then, cells = live.copy(), self.cells[row].take((middle * self.per_cell).astype(np.int64), 1)
        kept = root * root
        kept -= cells[0]
        np.maximum(kept, self.zero, out=kept)
        after = np.sqrt(kept)
        after *= kept
        after -= root * cells[1]
        np.maximum(after, self.zero, out=then[_VOLUME])
        slope = np.multiply(live[_SLOPE], self.keeps, out=then[_SLOPE])
        slope += self.wander[row].take(live[_LANE].astype(np.int64))
        slope -= cells[2]
        at = np.minimum(slope, self.steep, out=then[_AT])
        np.maximum(at, self.steep_left, out=at)
        at += middle
        np.maximum(at, self.left, out=at)  # corners turn a run down the side
        np.minimum(at, self.right, out=at)
        return then


def _entries(
    passed: list[tuple[Floats, Floats, Floats]], shift: Ints, width: float, rows: Ints
) -> tuple[Ints, Ints, Floats, Floats, Floats, Floats]:
    """What heads were in each row, run by run: row, run, middle, volume, half-width, left behind.

    ``passed`` row by row: heads on entering it, the cube roots of their volumes, and what they left. The entry of a run
    in a row is the row's number plus the run's ``shift``; it has been in so many ``rows``.
    """
    if not passed:
        no, none = np.zeros(0, np.int64), np.zeros(0)
        return no, no, none, none, none, none
    heads, root, left = (np.concatenate(one, axis=-1) for one in zip(*passed, strict=True))
    run = np.repeat(np.arange(rows.size), rows)
    row = np.arange(run.size) - shift[run]
    order = np.argsort(heads[_WHO], kind="stable")  # they come row by row, each run's downwards
    return row, run, heads[_AT][order], heads[_VOLUME][order], width * root[order], left[order]


def carry(
    runs: Runs, offered: Floats, lay_share: Floats, saturation: float, load: Floats | None = None
) -> tuple[Floats, Floats, Floats]:
    """Carry pigment down the runs.

    Parameters
    ----------
    runs
        As swept by :func:`descend`, m entries and n runs.
    offered
        (m, k) pigment of each kind that the body of the run could lift in each row.
    lay_share
        (m,) share of the load that is laid down in each row.
    saturation
        Pigment (all kinds) per mil in2 of head volume at which a run lifts no more.
    load
        (n, k) pigment that a run starts with; nothing if not given.

    Returns
    -------
    taken, laid
        (m, k) what is lifted and what is laid, row by row; a spent head lays all it has in its last
        row.
    off
        (n, k) what left with the run at the floor.

    Notes
    -----
    Lifting fades as the load nears saturation, so a run is pale above and dark below. taken = laid + off
    exactly.
    """
    count, kinds = runs.first.size, offered.shape[1]
    load = np.zeros((count, kinds)) if load is None else np.array(load, dtype=float)
    taken, laid = np.zeros_like(offered), np.zeros_like(offered)
    lays = np.array(lay_share, dtype=float)
    spent = np.flatnonzero((runs.off == 0) & (runs.parent < 0))
    lays[runs.start[spent] + runs.last[spent] - 1 - runs.first[spent]] = 1.0
    fills = -1.0 / np.maximum(saturation * runs.volume, 1e-12)
    zero, one = np.zeros(()), np.ones(())  # numpy need not convert them, row by row
    ends: dict[int, list[int]] = {}
    for run in np.flatnonzero(runs.parent >= 0).tolist():
        ends.setdefault(int(runs.last[run]), []).append(run)
    down, who = runs.downward, runs.run[runs.downward]
    up, share, fills = offered[down], lays[down][:, None], fills[down]
    ups, lay = np.empty_like(up), np.empty_like(up)
    bounds = np.searchsorted(runs.row[down], np.arange(runs.rows + 1)).tolist()
    for row in range(runs.rows):
        for child in ends.get(row, ()):
            load[runs.parent[child]] += load[child]
            load[child] = 0.0
        a, b = bounds[row], bounds[row + 1]
        if a == b:
            continue
        live = who[a:b]
        has = load.take(live, 0)
        room = (has[:, 0] if kinds == 1 else has.sum(1)) * fills[a:b]
        room += one
        np.maximum(room, zero, out=room)
        has += np.multiply(up[a:b], room[:, None], out=ups[a:b])
        has -= np.multiply(has, share[a:b], out=lay[a:b])
        load[live] = has
    taken[down], laid[down] = ups, lay
    return taken, laid, load


def trough_share(u: Floats) -> Floats:
    """Cumulative share of what a run lifts, from its left side to ``u`` half-widths off its middle.

    Integral of the profile 5/8 (1 - u^4) from -1 to u, flat in the middle with soft sides; 0 below -1, 1
    above 1.
    """
    v = np.clip(u, -1.0, 1.0)
    share: Floats = v * v
    share *= share
    share *= -0.125
    share += 0.625
    share *= v
    share += 0.5
    return np.clip(share, 0.0, 1.0, out=share)


def rim_share(u: Floats, thin: Floats | float = 0.28, left: Floats | float = 0.5) -> Floats:
    """Cumulative share of what a run lays at its sides: tents of half-width ``thin`` (at most 1) about u = -1 and +1.

    ``left`` is the left side's share.
    """
    out = np.abs(u)
    out -= 1.0
    out /= thin
    np.clip(out, -1.0, 1.0, out=out)  # tents of the one side and of the other are alike
    tent = np.abs(out)
    tent *= -0.5
    tent += 1.0
    tent *= out
    tent += 0.5
    share: Floats = left + ((u >= 0.0) - left) * tent
    return share
