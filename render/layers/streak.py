"""Streak: undiluted colour brushed into corners and joints, from where it runs down and fades."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, ClassVar, Literal

import numpy as np
from numpy.typing import NDArray
from pydantic import Field

from render import fields, flow, seeds, strips, trails
from render.blur import blur
from render.fields import Array, Grid
from render.hand import Hand, drawn, drawn_apart, drawn_once
from render.layers.base import Length, Wash
from render.physics import runs as rivulets
from render.seeds import Streams
from render.wall import Wall

Floats = NDArray[np.float64]


class _Hand(Hand):
    """What breaks up a streak whatever the wall is like: factors."""

    layer: Streak

    @drawn_once
    def lips(self) -> fields.Points:
        """Places where a streak may start."""
        return fields.scatter(self.grid, _PER_IN2, self.streams.key("starts"))

    @drawn_apart
    def zones(self) -> Array:
        """Where more of them let go and where fewer: unit variance, an inch apart."""
        return fields.drift(self.grid.at(1.0), 9.0, self.streams.rng("zones"))

    @drawn_apart
    def patches(self) -> Array:
        """Where hollows keep it and where they do not: see ``flow.patches``."""
        return flow.patches(flow.wet_lattice(self.grid), self.streams.key("shelter"))

    @drawn_apart
    def strays(self) -> Array:
        """The runs' own courses: see ``trails.strays``."""
        return trails.strays(flow.wet_lattice(self.grid), self.streams.key("stray"))

    @drawn_once
    def blots(self) -> Array:
        """How ragged the colour is set down, on the plan grid."""
        return np.exp(1.2 * fields.fbm(self.grid.plan, (0.7, 0.5), self.streams.key("brushed"), 4, 0.7))

    @drawn
    def fingers(self) -> Array:
        """Over a lip it comes in fingers, not in a puff; on the wet lattice."""
        key = self.streams.key("veil")
        return np.exp(1.5 * fields.fbm(flow.wet_lattice(self.grid), (2.0, 0.42), key + 20, 2, 0.8))

    @drawn_once
    def veils(self) -> Array:
        """How dirty water breaks up on its way, on the plan grid."""
        plan, key = self.grid.plan, self.streams.key("veil")
        ragged = 0.55 * fields.fbm(plan, (1.8, 0.45), key, 3, 0.65) + 0.4 * fields.fbm(plan, 1.5, key + 9, 3, 0.6)
        ragged += 0.2 * fields.fbm(plan, (1.6, 0.2), key + 15, 2, 0.6)
        return np.exp(ragged, out=ragged)

    @drawn_once
    def sway(self) -> Array:
        """How far it strays to one side, inches, on the wet lattice."""
        return flow.sway(flow.wet_lattice(self.grid), self.streams.key("veil") + 5, 1.3)

    @drawn_once
    def catches(self) -> Array:
        """Where the wall takes it and where not, log, on the output grid."""
        return np.float32(0.35) * fields.grain(self.grid, 0.7, self.streams.key("caught"), 4, 0.65)


class Streak(Wash):
    """Colour run down from a few places: corners, the top edge, lips of holes, cracks and ledges.

    ``reach`` how far from a corner a streak may start; ``where`` corners, joints (cracks, holes and ledges) or both.
    """

    kind: Literal["streak"] = "streak"
    where: Annotated[
        Literal["corners", "joints", "both"],
        Field(description="Start in corners and along the top, in joints (cracks, lips of holes, ledges), or both."),
    ] = "both"
    reach: Annotated[Length, Field(description="How far from a corner a streak may start.")] = "3 in"  # type: ignore[assignment]

    title: ClassVar[str] = "undiluted colour run down from corners and joints"
    tools: ClassVar[tuple[str, ...]] = ("chip brush", "squeeze bottle")
    while_wet: ClassVar[bool] = True
    hazards: ClassVar[tuple[str, ...]] = ("wet floor",)

    def achieved(self, before: Wall, after: Wall) -> float | None:
        """Streaks have no coverage to achieve."""
        return None

    @property
    def asked(self) -> float | None:
        """Streaks ask for no coverage."""
        return None

    def apply(self, wall: Wall, streams: Streams) -> Wall:
        """Return the wall with the streaks; what reached the floor line is booked as run off."""
        hand = _Hand(self, wall.grid, streams)
        bed = flow.Bed(wall, drawn=hand.patches)
        starts, film = _starts(bed, hand), self.mean_mil
        set_down = _brushed(starts, hand)
        set_down = flow.share_out(set_down, film, out=set_down)
        lies, off = _veil(bed, starts, 0.71 * film, hand)
        off += _threads(bed, starts, 0.15 * film, hand, lies)
        wall = wall.add(self.stratum(set_down))
        strips.each(lambda lies, set_down: lies + np.float32(0.14) * set_down, lies, set_down, out=lies)
        _caught(bed, flow.share_out(lies, film - off, out=lies), hand)
        _held(lies, bed.grid)
        off = max(film - flow.mean(lies), 0.0)
        return wall.move(self.name, lies, fixed=lies * np.float32(0.25), run_off_gal=flow.gallons(wall, off))


_MOST = np.float32(2.2)
"""Film that hangs on a wall where dirty water ran, mil; chosen by eye."""


def _held(film: Array, grid: Grid) -> None:
    """Leave of a film, in place, what the wall can hold; the rest goes on to the floor."""

    def work(part: slice) -> None:
        here = film[part]
        here *= np.float32(-1.0) / _MOST
        np.expm1(here, out=here)
        here *= -_MOST

    flow.by_strips(work, grid)


@dataclass(frozen=True)
class _Starts:
    """Where streaks start, (n,) each: place in inches, how full, and 0 to 1 for how far its water goes."""

    row: Floats
    col: Floats
    weight: Floats
    chance: Floats

    def where(self, on: NDArray[np.bool_]) -> _Starts:
        """The starts that are on."""
        return _Starts(self.row[on], self.col[on], self.weight[on], self.chance[on])


def _veil(bed: flow.Bed, starts: _Starts, film: float, hand: _Hand) -> tuple[Array, float]:
    """Most of the colour comes down as dirty water in wavering veils, some short and some long, that fade and dry with
    a faint tide edge: the film, and the mean film that ran off.
    """
    grid, plan, wet = bed.grid, bed.grid.plan, bed.wet
    veil, off, whole = np.zeros(wet.shape, np.float32), 0.0, 1e-9 + float(starts.weight.sum())
    for number, (reach, width) in enumerate(((2.0, 0.34), (4.5, 0.22), (11.0, 0.13))):
        some = starts.where((starts.chance * 3).astype(int) == number)
        if not len(some.row):
            continue
        share = film * float(some.weight.sum()) / whole
        down, gone = flow.laid_below(_blots(wet, some, (0.16, width)) * hand.fingers, reach, wet)
        scale = share / max(flow.mean(down) + gone, 1e-12)
        veil, off = veil + down * np.float32(scale), off + gone * scale
    veil = fields.resample(veil, wet, plan) * hand.veils
    aside = fields.resample(hand.sway + _turned(bed), wet, plan)
    veil = fields.resample(flow.aside(veil, plan, aside), plan, grid)
    return flow.dry_edges(veil, grid, 3.0, reach=0.09, level=0.35, total=film - off), off


def _turned(bed: flow.Bed) -> Array:
    """How far the relief turns what comes down to the left, inches, wet lattice: it goes where the wall falls."""
    step = 1.0 / bed.wet.ppi
    keep = float(np.exp(-0.5 * step))  # a turn is forgotten after two inches
    return np.clip(fields.carried(np.float32(2.5 * step) * bed.relief.slope[1], keep), -0.8, 0.8)


def _threads(bed: flow.Bed, starts: _Starts, film: float, hand: _Hand, lies: Array) -> float:
    """The rest goes down in runs of very different strength, turned by the relief: laid on what ``lies`` there, in
    place. Returns the mean film that ran off.
    """
    grid, streams = bed.grid, hand.streams
    volume = np.clip(1.1 * starts.weight, 0.0, 14.0)
    law = rivulets.RunLaw(step=1.0, width=0.05, trail=1.5, steer=3.5, relax=0.35, stop=0.01)
    runs = trails.sweep(bed, starts.row, starts.col, volume, law=law, drawn=hand.strays)
    if not runs.first.size:
        return 0.0  # the veils take it all
    load = np.bincount(runs.run, runs.half, minlength=runs.first.size) + 1e-9  # as the ground it wets
    load = load * (0.1 + seeds.hash_unit(trails.ids(runs), streams.key("strength")) ** 2)
    load *= film * grid.rows * grid.cols / load.sum()
    look = trails.RunLook(lift=0.0, lay=0.1, saturation=1e9, flare=1.6, core=0.5, fade=3.0, soft=2.2)
    return trails.run_down(bed, [lies], runs, look, streams.key("outline"), load[:, None])[1][0]


def _caught(bed: flow.Bed, film: Array, hand: _Hand) -> None:
    """Let a film lie as the wall took it, in place: more in pits and on lips, little on proud places, here and there
    none.
    """

    def broken(catches: Array, pull: Array, film: Array) -> Array:
        return np.exp(catches + np.float32(0.7) * pull) * film

    mean = flow.mean(film)
    flow.share_out(strips.each(broken, hand.catches, bed.pull, film, out=film), mean, out=film)


def _brushed(starts: _Starts, hand: _Hand) -> Array:
    """Where the colour was set down: ragged blots about the starts, broken by the relief."""
    plan, wet = hand.grid.plan, flow.wet_lattice(hand.grid)
    blots = fields.resample(_blots(wet, starts, (0.3, 0.2)), wet, plan)
    return fields.resample(blots * hand.blots, plan, hand.grid)


def _blots(grid: Grid, starts: _Starts, size: tuple[float, float]) -> Array:
    """Soft blots of the starts' weight a little below them, ``size`` inches down and across."""
    row = np.clip((starts.row + 0.2) * grid.ppi - 0.5, 0, grid.rows - 1)
    col = np.clip(starts.col * grid.ppi - 0.5, 0, grid.cols - 1)
    dab = np.zeros(grid.shape, np.float32)
    down, right = row.astype(np.int64), col.astype(np.int64)
    for di, dj in ((0, 0), (0, 1), (1, 0), (1, 1)):
        i, j = np.minimum(down + di, grid.rows - 1), np.minimum(right + dj, grid.cols - 1)
        share = np.abs(1 - di - (row - down)) * np.abs(1 - dj - (col - right))
        np.add.at(dab, (i, j), (share * starts.weight).astype(np.float32))
    return blur(dab, (size[0] * grid.ppi, size[1] * grid.ppi), 3.0)


_STRANDS = 6


def _starts(bed: flow.Bed, hand: _Hand) -> _Starts:
    """A few lips leak, near the sides and the top, in cracks, holes and at ledges, by chance of the wall's own
    points; each lets go of a leading run and a few lesser ones beside it.
    """
    grid, layer, points = bed.grid, hand.layer, hand.lips
    joint = _joints(bed, points)
    corner = _corners(grid, points, layer.reach) * (0.6 + 1.2 * np.clip(joint / 0.3, 0, 1))
    most = _LIPS_PER_FT2 * bed.wall.area_ft2 / max(float(joint.sum()), 1e-9)
    joint = joint * min(1.0, most)
    chance = {"corners": corner, "joints": joint, "both": np.maximum(0.7 * corner, joint)}[layer.where]
    here = np.clip(0.6 + 0.8 * fields.gather(hand.zones, points.row_in, points.col_in), 0, 2.0)
    # doubtful ones start faintly, not by a hair
    surely = np.clip(4.0 - 4.0 * points.unit(1) / np.maximum(chance * here, 1e-9), 0.0, 1.0)
    on = surely > 0
    if not on.any():  # nowhere to start: the top corner takes it all
        return _Starts(np.full(1, 0.1), np.full(1, 0.1), np.ones(1), np.full(1, 0.5))
    lips = points.where(on)
    return _strands(lips, surely[on] * np.exp(1.3 * lips.normal(2) - 0.4))


def _strands(lips: fields.Points, strength: Floats) -> _Starts:
    """What each lip lets go: one leading run and up to five lesser ones along half an inch or two of it."""
    row, col, weight, chance = [], [], [], []
    breadth = 0.25 + 0.9 * lips.unit(4) ** 2
    for strand in range(_STRANDS):
        on = lips.unit(20 + strand) < (1.0 if strand == 0 else 0.75 * lips.unit(3))
        aside = 0.0 * breadth if strand == 0 else breadth * lips.normal(40 + strand)
        row.append((lips.row_in + 0.35 * np.abs(aside) * lips.normal(60 + strand))[on])
        col.append((lips.col_in + aside)[on])
        share = 1.0 if strand == 0 else 0.6 * lips.unit(80 + strand) ** 2
        weight.append((strength * share)[on])
        chance.append(lips.unit(100 + strand)[on])
    return _Starts(*(np.concatenate(one) for one in (row, col, weight, chance)))


_PER_IN2 = 2.0
_LIPS_PER_FT2 = 1.2
_PER_FOOT = 1.8
"""Lips that leak on a square foot, and starts along a foot of corner; chosen by eye: a few, and far apart."""


def _corners(grid: Grid, points: fields.Points, reach: float) -> Floats:
    """Chance of a start near the sides and, half as often, along the top."""
    band = max(reach, 0.25)
    side = np.minimum(points.col_in, grid.width_in - points.col_in) / band
    top = points.row_in / (0.4 * band)
    one = _PER_FOOT / 12.0 / _PER_IN2 / band  # a foot of side asks for one start in a band of that breadth
    return np.asarray(one * (1.2 * np.exp(-1.5 * side * side) + 1.2 * np.exp(-top * top)), np.float64)


def _joints(bed: flow.Bed, points: fields.Points) -> Floats:
    """Chance of a start in a crack, at the foot of a hole or under a ledge."""
    wet = bed.wet
    cracks = fields.resample(bed.wall.cracks, bed.grid, wet)
    deep = np.clip(bed.relief.wet_hollow / (3.0 * bed.relief.depth), 0, 1) + 3.0 * cracks
    up = max(round(0.2 * wet.ppi), 1)
    near = deep.copy()  # what lies up to .4 in above, and beside
    for below in range(1, 2 * up + 1):
        np.maximum(near[below:], deep[:-below], out=near[below:])
    beside = near.copy()
    np.maximum(beside[:, 1:], near[:, :-1], out=beside[:, 1:])
    np.maximum(beside[:, :-1], near[:, 1:], out=beside[:, :-1])
    at = np.clip(fields.gather(beside, points.row_in * wet.ppi - 0.5, points.col_in * wet.ppi - 0.5), 0, 1)
    return np.asarray(0.4 * at * at, np.float64)
