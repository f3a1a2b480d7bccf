"""Alcohol: flicked or poured on a wet glaze, it opens pale spots with dark, feathered rims.

Alcohol has a third of water's surface tension, so the water round a drop pulls the film away from it: the
middle thins, the rim thickens (Hernandez-Sanchez, Eddi & Snoeijer 2015; ``render.physics.wetting``). On
dry colour nothing happens.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Annotated, ClassVar, Literal

import numpy as np
from pydantic import Field

from render import droplets, fields, flow, seeds, trails
from render.hand import Hand, drawn
from render.layers.base import Length, Liquid, Share
from render.physics import runs as rivulets
from render.physics.runs import Runs
from render.seeds import Streams
from render.wall import Wall

_OPEN = 0.9
"""Radius within which a spot is thinner than the film was, over its rim's: read off the solved profile."""


class _Hand(Hand):
    """What is flicked or poured."""

    layer: Alcohol

    @drawn
    def drops(self) -> droplets.Drops:
        """The drops, as many as open the coverage."""
        return _flicks(self.grid, self.layer, self.streams)

    @drawn
    def spots(self) -> droplets.Spots:
        """The spots that they open in whatever is wet."""
        return droplets.spots(self.grid, self.drops, self.streams.key("spots"))


class Alcohol(Liquid):
    """Alcohol on what is wet.

    ``how`` it is put on; ``coverage`` the share of the wall that it opens; ``largest`` the radius of its
    largest spots.
    """

    kind: Literal["alcohol"] = "alcohol"
    how: Annotated[
        Literal["flicked", "poured"],
        Field(description="Flicked off a brush, or poured so that spots are drawn out downwards."),
    ] = "flicked"
    coverage: Annotated[Share, Field(description="Share of the wall that the spots open.")] = "7 %"  # type: ignore[assignment]
    largest: Annotated[Length, Field(description="Radius of the largest spots.")] = "1.1 in"  # type: ignore[assignment]

    title: ClassVar[str] = "alcohol"
    tools: ClassVar[tuple[str, ...]] = ("spatter brush", "squeeze bottle")
    while_wet: ClassVar[bool] = True
    hazards: ClassVar[tuple[str, ...]] = ("alcohol", "wet floor")

    def words(self) -> str:
        """Return the layer's line in the list."""
        return f"alcohol {self.how} into the wet glaze"

    def achieved(self, before: Wall, after: Wall) -> float:
        """Return the share of the wall on which colour became thinner by a twentieth or more."""
        return flow.thinned(before, after)

    def apply(self, wall: Wall, streams: Streams) -> Wall:
        """Return the wall with the spots opened; colour is moved, and leaves by runs alone."""
        return flow.change(wall, lambda bed, mobile: self._work(bed, mobile, streams))

    def _work(self, bed: flow.Bed, mobile: list, streams: Streams) -> tuple[list, list]:
        hand = _Hand(self, bed.grid, streams)
        mobile = droplets.open_spots(mobile, hand.spots)
        runs = _drips(bed, hand.drops, streams, 1.0 if self.how == "poured" else 0.3)
        look = trails.RunLook(lift=0.8, lay=0.16, flare=1.4, core=0.25, soft=1.6)
        return trails.run_down(bed, mobile, runs, look, streams.key("outline"))


def _drips(bed: flow.Bed, drops: droplets.Drops, streams: Streams, share: float) -> Runs:
    """Runs that set out from the lower rim of a share of the large spots, where the liquid gathers."""
    chance = seeds.hash_unit(drops.ids, streams.key("drips"))
    on = (drops.radius > 0.16) & (chance < share)
    large = drops.where(on)
    volume = 14.0 * large.radius**2 * (0.2 + 1.4 * seeds.hash_unit(large.ids, streams.key("drip size")) ** 2)
    row = large.row_in + 0.7 * large.radius * (1.0 + large.tall)
    law = rivulets.RunLaw(step=1.0, width=0.09, trail=1.6, stop=0.08)
    return trails.sweep(bed, row, large.col_in, volume, key=streams.key("stray"), law=law)


_IN_FLICK = 26


def _flicks(grid: fields.Grid, layer: Alcohol, streams: Streams) -> droplets.Drops:
    """Drops in flicks, as many as open the coverage: each flick throws a line of drops, large first and
    finer farther.
    """
    key = streams.key("flicks")
    points = droplets.Throws.of(fields.scatter(grid, 0.04 + 3.2 * layer.coverage, key, margin_in=8.0))
    zone = fields.drift(grid.at(1.0), 14.0, streams.rng("zones"))
    turn = points.unit(4) + 0.7 * fields.gather(zone, points.row_in, points.col_in)
    way, length = points.unit(1) * 2 * np.pi, 1.5 + 9.0 * points.unit(2) ** 2
    far = points.units(100, _IN_FLICK) ** 1.4  # (drops of a flick, flicks)
    aside = (0.25 + 0.9 * far) * points.normals(200, _IN_FLICK) * 0.6
    row = points.row_in + far * length * np.sin(way) + aside * np.cos(way)
    col = points.col_in + far * length * np.cos(way) - aside * np.sin(way)
    size = np.exp(-2.95 + 0.95 * points.normals(300, _IN_FLICK) - 0.4 * far)
    for number in range(2):
        first = layer.largest * points.unit(400 + 2 * number) ** 2.2 * (points.unit(401) < 0.5)
        size[number] = np.maximum(size[number], first)
    on = points.units(500, _IN_FLICK) < 0.85 * points.unit(3)
    on[0] = True
    tall, flick = points.units(600, _IN_FLICK)[on], np.nonzero(on)[1]
    ids = seeds.mix64(points.ids + np.arange(_IN_FLICK, dtype=np.uint64)[:, None])[on]
    row, col, size, turn = row[on], col[on], size[on], turn[flick]
    size = np.clip(size, 0.025, layer.largest)
    stretch = 0.15 + 0.9 * tall**3 if layer.how == "flicked" else 0.4 + 2.0 * tall**2
    drawn = stretch * np.clip(size / 0.3, 0, 1)
    drops = droplets.Drops(row, col, size, drawn, ids)
    opened = replace(drops, radius=_OPEN * drops.radius)
    thrown = drops.where(turn <= droplets.until(grid.plan, opened, turn, layer.coverage))
    return thrown.where(~droplets.swallowed(grid.plan, thrown))
