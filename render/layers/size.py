"""A release size: a slippery film under a crackling coat, so that it slides, opens wide, curls and comes away.

What a finisher sees: an almost clear, slightly shiny patch, brushed on in blotches, along the edges, or as a band.
"""

from __future__ import annotations

from typing import Annotated, ClassVar, Literal

import numpy as np
from pydantic import Field, field_validator

from render import fields, strips
from render.fields import Array, Grid, Resampled
from render.hand import Hand, drawn_once
from render.layers.base import Coat, Length, Optics, scaled
from render.seeds import Streams
from render.wall import Wall

_CLEAR = 0.03  # of the absorption and scattering that the material's hiding film stands for: chosen by eye
_LARGE_IN = 5.0  # blotches from this size on have no dab under a quarter inch, and are placed on fewer pixels
_FEATHER_IN = 0.8  # a brush leaves the rim of a patch thin over this distance


class _Hand(Hand):
    """Where and how a brush lays the size; at output size."""

    layer: Size

    @property
    def slow(self) -> Grid:
        """The grid of what has nothing fine."""
        return self.grid.at(self.grid.plan.ppi / (2.0 if self.layer.blotch > _LARGE_IN else 1.0))

    @drawn_once
    def brushed(self) -> Array:
        """How full the brush lays it, 0 where it lays none."""
        layer, key = self.layer, self.streams.key
        placed = Resampled(layer.placed(self.slow, self.streams), self.slow, self.grid, smooth=True)
        rim = fields.grain(self.grid, 0.5, key("rim"), 3, 0.65)
        placement = strips.each(lambda placed, rim: placed + np.float32(0.05) * rim, placed, rim, out=rim)
        level = fields.threshold(placement, layer.coverage)
        on = fields.cover(placement, layer.coverage, level)
        steep, reach = np.float32(layer.reach_in / _FEATHER_IN), np.float32(level)

        def full(place: Array, on: Array) -> Array:
            return np.clip(np.float32(0.12) + (place - reach) * steep, 0.03, 1.0) * on

        return strips.each(full, placement, on, out=placement)

    @drawn_once
    def hairs(self) -> Array:
        """What the bristles leave, a factor."""
        hairs = fields.grain(self.grid, (0.08, 1.6), self.streams.key("bristles"), 2, 0.6)
        return strips.each(lambda hair: np.exp(np.float32(0.06) * hair), hairs, out=hairs)

    @drawn_once
    def uneven(self) -> Array:
        """How well it parts, a factor."""
        uneven = Resampled(fields.fbm(self.slow, 3.5, self.streams.key("uneven"), 3, 0.6), self.slow, self.grid)
        return strips.each(lambda one: np.float32(0.88) + np.float32(0.2) * one, uneven)


class Size(Coat):
    """Release size over part of the wall."""

    kind: Literal["size"] = "size"
    placement: Annotated[
        Literal["blotches", "edges", "band"],
        Field(
            description="Where it is brushed: in blotches here and there, along the wall's edges, or in a level band."
        ),
    ] = "blotches"
    blotch: Annotated[Length, Field(description="Size of a blotch, or of the wander of an edge.")] = "14 in"  # type: ignore[assignment]
    band_at: Annotated[Length, Field(description="How far below the top the band's middle runs.")] = "30 in"  # type: ignore[assignment]

    title: ClassVar[str] = "release size"
    tools: ClassVar[tuple[str, ...]] = ("3 in chip brush",)

    @field_validator("blotch")
    @classmethod
    def _blotch_has_a_size(cls, blotch: float) -> float:
        if blotch < 1.0:
            raise ValueError("a blotch is at least 1 in wide")
        return blotch

    def apply(self, wall: Wall, streams: Streams) -> Wall:
        """Lay the size: its film where it was brushed, and the slip of what comes on it."""
        hand = _Hand(self, wall.grid, streams)
        brushed = hand.brushed
        film = strips.each(lambda full, hairs: full * hairs, brushed, hand.hairs)

        def slip(full: Array, uneven: Array, old: Array) -> Array:
            return np.where(full > 0, np.clip(full * uneven, 0.0, 1.0), old)

        slips = strips.each(slip, brushed, hand.uneven, wall.slip)
        return wall.add(self.stratum(scaled(film, self.mean_mil, out=film)), slip=slips)

    def optics(self) -> Optics:
        """A size dries clear: it veils what lies below far less than a paint of its colour."""
        k, s = super().optics()
        return k * _CLEAR, s * _CLEAR

    @property
    def reach_in(self) -> float:
        """Return about how many inches lie between two placements one apart."""
        return self.blotch / 6.0 if self.placement == "blotches" else 3.0

    def placed(self, slow: Grid, streams: Streams) -> Array:
        """Return where a brush goes first, on a slow grid: unit-variance noise plus the chosen place."""
        loose = fields.fbm(slow, self.blotch, streams.key("blotch"), 3, 0.5)
        loose += 0.35 * fields.fbm(slow, self.blotch / 5.0, streams.key("dabs"), 3, 0.55)
        if self.placement == "edges":
            rows, cols = (
                np.minimum(at, end - at) for at, end in ((slow.row_in, slow.height_in), (slow.col_in, slow.width_in))
            )
            return np.asarray(-np.minimum(rows[:, None], cols[None, :]) / 3.0 + 0.7 * loose, np.float32)
        if self.placement == "band":
            away = np.abs(slow.row_in - min(self.band_at, slow.height_in / 2.0))
            return np.asarray(-away[:, None] / 3.0 + 0.7 * loose, np.float32)
        return loose

    def words(self) -> str:
        """Return the layer's line."""
        where = {"blotches": "in blotches", "edges": "along the edges", "band": "in a band"}[self.placement]
        return f"{self.material.name}, brushed on {where}"
