"""Rinse: water squirted or thrown on a wet colour. It opens pale channels and starts runs, and carries
colour down.
"""

from __future__ import annotations

from typing import Annotated, ClassVar, Literal

import numpy as np
from numpy.typing import NDArray
from pydantic import Field

from render import fields, flow, strips, trails
from render.blur import blur
from render.fields import Array, Grid, Resampled
from render.hand import Hand, drawn, drawn_apart, drawn_once
from render.layers.base import Liquid, Share
from render.physics import runs as rivulets
from render.seeds import Streams
from render.wall import Wall

_MIL_IN2_PER_GAL = 231.0 / flow.MIL_IN

_WIDENS = ((1.1, 0.0, 1.0), (3.0, 0.25, 0.8), (7.0, 0.55, 1.0))
"""How far the water comes down before it soaks aside, how far aside, inches, and how strongly it goes on from there: so
that a channel is a wedge, wider below; chosen by eye.
"""
_TOE_IN, _TOES = 1.5, 5.0
"""Over which the water gives out, and how much more it lays there than on its way: a dirty toe; chosen by eye."""

_CARRIES_IN = 6.0
"""How far what water lifted goes on the mean before it lies; chosen by eye."""

_BY_RUNS = 0.4
"""Share of the water that goes down in runs and not in a sheet; chosen by eye."""


class _Hand(Hand):
    """Where the water goes."""

    layer: Rinse

    @drawn
    def squirts(self) -> NDArray[np.float64]:
        """Where it hits, as ``_squirts``."""
        area_ft2 = self.grid.height_in * self.grid.width_in / 144.0
        return _squirts(self.grid, self.streams, self.layer.dose.likely * area_ft2)

    @drawn
    def sheet(self) -> Array:
        """Share of the mobile colour that the sheet of water below the hits lifts, on the wet lattice."""
        strength, wet = 0.9 if self.layer.how == "thrown" else 0.66, flow.wet_lattice(self.grid)
        return _sheet(wet, self.squirts, self.streams, self.layer.coverage, strength)

    @drawn_once
    def lifts(self) -> Array:
        """The same in wisps, on the output grid."""
        grid, plan, wet, key = self.grid, self.grid.plan, flow.wet_lattice(self.grid), self.streams.key("wisps")
        wisps = fields.fbm(plan, (3.0, 0.3), key, 3, 0.65)
        wisps = flow.aside(wisps, plan, fields.resample(flow.sway(wet, key + 9), wet, plan))
        wisps *= np.float32(0.35)
        wisps -= np.float32(0.06)
        share = Resampled(fields.resample(self.sheet, wet, plan) * np.exp(wisps), plan, grid)
        fine = fields.fbm(grid, (1.8, 0.16), key + 20, 2, 0.7)
        return strips.each(lambda one, fine: np.clip(one * np.exp(np.float32(0.25) * fine), 0.0, 0.92), share, fine)

    @drawn_once
    def lays(self) -> Array:
        """How much it lays of what it carries, on the wet lattice: most where it gives out. Of any mean."""
        wet = flow.wet_lattice(self.grid)
        down = max(round(_TOE_IN * wet.ppi), 1)
        toes = np.full(wet.shape, 0.25, np.float32)
        toes[down:] += np.float32(_TOES) * np.maximum(self.sheet[:-down] - self.sheet[down:], 0.0)
        return toes

    @drawn_once
    def sway(self) -> Array:
        """How far what it carries strays to one side, inches, on the wet lattice."""
        return flow.sway(flow.wet_lattice(self.grid), self.streams.key("wisps") + 30, 1.8)

    @drawn_apart
    def strays(self) -> Array:
        """The runs' own courses: see ``trails.strays``."""
        return trails.strays(flow.wet_lattice(self.grid), self.streams.key("stray"))


class Rinse(Liquid):
    """Water squirted in lines or thrown in sheets over the wet colour; ``coverage`` is the share it
    washes.
    """

    kind: Literal["rinse"] = "rinse"
    how: Annotated[
        Literal["squirted", "thrown"], Field(description="Squirted in lines from a bottle, or thrown in sheets.")
    ] = "squirted"
    coverage: Annotated[Share, Field(description="Share of the wall that the water washes.")] = "25 %"  # type: ignore[assignment]

    title: ClassVar[str] = "water"
    tools: ClassVar[tuple[str, ...]] = ("squeeze bottle", "drop cloths")
    while_wet: ClassVar[bool] = True
    hazards: ClassVar[tuple[str, ...]] = ("wet floor",)

    def words(self) -> str:
        """Return the layer's line in the list."""
        return f"water {self.how} on the wet glaze"

    def achieved(self, before: Wall, after: Wall) -> float:
        """Return the share of the wall on which colour became thinner by a twentieth or more."""
        return flow.thinned(before, after)

    def apply(self, wall: Wall, streams: Streams) -> Wall:
        """Return the wall after the water went down it."""
        hand = _Hand(self, wall.grid, streams)
        washed = flow.change(wall, lambda bed, mobile: _work(bed, mobile, hand))
        wet = Resampled(np.clip(hand.sheet * 1.6, 0.0, 1.0), flow.wet_lattice(wall.grid), wall.grid)
        return washed.evolve(wet=strips.each(np.maximum, wall.wet, wet))


def _squirts(grid: Grid, streams: Streams, gallons: float) -> NDArray[np.float64]:
    """Where water hits, (n, 4): row and column in inches, mil in2, chance. Squirts are short arcs of
    several hits.
    """
    key = streams.key("squirts")
    points = fields.scatter(grid, 0.011, key, margin_in=6.0)
    angle, length = 0.5 * points.normal(1), 1.5 + 7.0 * points.unit(2)
    bow = 0.25 * points.normal(3)
    hits = []
    for number in range(14):
        along = (number / 13.0 - 0.5) * length + 0.25 * points.normal(20 + number)
        row = points.row_in + along * np.sin(angle) + bow * (along / np.maximum(length, 1)) ** 2 * length
        col = points.col_in + along * np.cos(angle)
        size = np.exp(1.3 * points.normal(60 + number))
        on = points.unit(100 + number) < 0.25 + 0.6 * points.unit(4)
        hits.append(np.stack([row, col, size, points.unit(160 + number)], 1)[on])
    every = np.concatenate(hits)
    inside = (every[:, 0] > 0) & (every[:, 0] < grid.height_in) & (every[:, 1] > 0) & (every[:, 1] < grid.width_in)
    every = every[inside]
    if len(every):
        every[:, 2] *= _BY_RUNS * gallons * _MIL_IN2_PER_GAL / every[:, 2].sum()
    return every


def _sheet(plan: Grid, squirts: NDArray[np.float64], streams: Streams, coverage: float, strength: float) -> Array:
    """Share of the mobile colour that the sheet of water below the hits lifts, on a grid."""
    if not len(squirts):
        return np.zeros(plan.shape, np.float32)
    hit = np.zeros(plan.shape, np.float32)
    row = np.clip((squirts[:, 0] * plan.ppi).astype(np.int64), 0, plan.rows - 1)
    col = np.clip((squirts[:, 1] * plan.ppi).astype(np.int64), 0, plan.cols - 1)
    np.add.at(hit, (row, col), np.sqrt(squirts[:, 2]).astype(np.float32))
    key = streams.key("sheet")
    hit = blur(hit, (0.25 * plan.ppi, 0.4 * plan.ppi), 2.5)
    hit *= np.exp(0.9 * fields.fbm(plan, (0.9, 0.5), key + 30, 3, 0.65))
    sheet, comes = np.zeros(plan.shape, np.float32), hit
    for reach, aside, much in _WIDENS:
        if aside:
            comes = blur(comes, (0.0, aside * plan.ppi), 2.5)
        comes = fields.carried(comes, float(np.exp(-1.0 / (reach * plan.ppi))))
        sheet += np.float32(much / reach) * comes
    lanes = np.exp(0.7 * fields.fbm(plan, (4.5, 0.9), key, 3, 0.6) + 0.5 * fields.fbm(plan, 1.4, key + 9, 4, 0.6))
    water = flow.aside((sheet * lanes).astype(np.float32), plan, flow.sway(plan, key + 50, 2.0))
    level = max(fields.threshold(water, coverage), 1e-9)
    return np.asarray(strength * np.clip(np.log(np.maximum(water, 1e-12) / level) * 0.6, 0.0, 1.0), np.float32)


def _work(bed: flow.Bed, mobile: list[Array], hand: _Hand) -> tuple[list[Array], list[float]]:
    """Return the mobile films after the water went down over them, and the mean film of each that ran off."""
    streams, squirts, share = hand.streams, hand.squirts, hand.lifts
    out, off = [], []
    for film in mobile:
        moved, gone = flow.wash_down(film, share, _CARRIES_IN, bed.grid, hand.sway, hand.lays)
        out.append(moved)
        off.append(gone)
    law = rivulets.RunLaw(step=1.0, width=0.1, trail=1.7, stop=0.1)
    some = squirts[:, 3] < 0.5
    row, col, volume = squirts[some, 0], squirts[some, 1], squirts[some, 2]
    runs = trails.sweep(bed, row, col, volume, law=law, drawn=hand.strays)
    look = trails.RunLook(
        lift=0.97, lay=0.09, saturation=7.0, core=0.4, soft=6.0, keeps=0.4, least=0.7, opens=0.3, breathes=0.5
    )
    out, more = trails.run_down(bed, out, runs, look, streams.key("outline"))
    return out, [a + b for a, b in zip(off, more, strict=True)]
