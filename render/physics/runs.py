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


def _shrink(volume: Floats, loss: Floats, step: float) -> Floats:
    """Volume after one step at ``loss`` = a: V^(2/3) falls by 2/3 a step."""
    left: Floats = np.maximum(np.cbrt(volume) ** 2 - (2.0 / 3.0) * loss * step, 0.0) ** 1.5
    return left


def _merge(col: Floats, half: Floats, volume: Floats, live: Ints, touch: float) -> list[tuple[int, int]]:
    """Pairs (child, parent) among ``live`` runs that touch, the fuller being the parent; each run merges
    once.
    """
    order = live[np.argsort(col[live], kind="stable")]
    near = np.diff(col[order]) < touch * (half[order][1:] + half[order][:-1])
    pairs: list[tuple[int, int]] = []
    taken: set[int] = set()
    for k in np.flatnonzero(near):
        a, b = int(order[k]), int(order[k + 1])
        if a in taken or b in taken:
            continue
        taken.update((a, b))
        pairs.append((b, a) if volume[a] >= volume[b] else (a, b))
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
    at, head, slope = np.clip(col.astype(float), 0.5 * law.step, side), np.zeros(count), np.zeros(count)
    track = {name: np.zeros((rows, count)) for name in ("col", "volume", "half", "left")}
    last, parent = first.astype(np.int64), np.full(count, -1)
    tail, off = np.zeros(count), np.zeros(count)
    starts = np.argsort(first, kind="stable")
    begun = np.searchsorted(first[starts], np.arange(rows + 1))
    live = np.empty(0, np.int64)
    for row in range(rows):
        fresh = starts[begun[row] : begun[row + 1]]
        head[fresh] = volume[fresh]
        live = np.concatenate([live, fresh])
        if not live.size:
            continue
        pairs = _merge(at, law.half_width(head), head, live, law.touch)
        for child, onto in pairs:
            head[onto] += head[child]
            head[child], parent[child], last[child] = 0.0, onto, row
        if pairs:
            live = live[head[live] > 0]
        cell = (at[live] / law.step).astype(np.int64)
        half, before = law.half_width(head[live]), head[live]
        track["col"][row, live], track["volume"][row, live], track["half"][row, live] = at[live], before, half
        loss = 2.0 * law.width * law.trail * ground.drag[row, cell]
        after = _shrink(before, loss, law.step)
        after = np.maximum(after - 2.0 * half * law.step * ground.ledge[row, cell], 0.0)
        track["left"][row, live], head[live], last[live] = before - after, after, row + 1
        course = wander[row, live] - law.steer * ground.lean[row, cell]
        slope[live] += (course - slope[live]) * min(1.0, law.step / law.relax)
        moved = at[live] + np.minimum(np.maximum(slope[live], -1.2), 1.2) * law.step
        at[live] = np.minimum(np.maximum(moved, 0.5 * law.step), side)  # corners turn a run down the side
        tail[live] = np.where(after <= law.stop, after, 0.0)
        live = live[after > law.stop]
    off[live] = head[live]
    return Runs(**track, first=first.astype(np.int64), last=last, parent=parent, tail=tail, off=off)


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
    ends: dict[int, list[int]] = {}
    for run in np.flatnonzero(runs.parent >= 0).tolist():
        ends.setdefault(int(runs.last[run]), []).append(run)
    for row in range(rows):
        for child in ends.get(row, ()):
            load[runs.parent[child]] += load[child]
            load[child] = 0.0
        live = np.flatnonzero(runs.volume[row] > 0)
        room = 1.0 - load[live].sum(1) / np.maximum(saturation * runs.volume[row, live], 1e-12)
        taken[row, live] = offered[row, live] * np.clip(room, 0.0, 1.0)[:, None]
        load[live] += taken[row, live]
        spent = (runs.last[live] == row + 1) & (runs.off[live] == 0) & (runs.parent[live] < 0)
        share = np.where(spent, 1.0, lay_share[row, live])
        laid[row, live] = load[live] * share[:, None]
        load[live] -= laid[row, live]
    return taken, laid, load


def trough_share(u: Floats) -> Floats:
    """Cumulative share of what a run lifts, from its left side to ``u`` half-widths off its middle.

    Integral of the profile 5/8 (1 - u^4) from -1 to u, flat in the middle with soft sides; 0 below -1, 1
    above 1.
    """
    v = np.clip(u, -1.0, 1.0)
    share: Floats = np.clip(0.5 + 0.625 * (v - 0.2 * v**5), 0.0, 1.0)
    return share


def rim_share(u: Floats, thin: Floats | float = 0.28, left: Floats | float = 0.5) -> Floats:
    """Cumulative share of what a run lays at its sides: tents of half-width ``thin`` about u = -1 and u = +1.

    ``left`` is the left side's share.
    """

    def tent(v: Floats) -> Floats:
        a = np.clip(v / thin, -1.0, 1.0)
        return 0.5 + np.sign(a) * (np.abs(a) - 0.5 * a * a)

    share: Floats = left * tent(u + 1.0) + (1.0 - left) * tent(u - 1.0)
    return share
