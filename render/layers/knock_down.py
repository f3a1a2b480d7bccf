"""Knock-down: a knife drawn over a texture while it is firm but not hard takes the tips off."""

from __future__ import annotations

from typing import Annotated, Literal

import numpy as np
from pydantic import Field

from render import blade, strips, strokes, threads
from render.fields import Array, Resampled
from render.hand import Hand, drawn_once
from render.layers.base import Layer, Length, Mils, Share
from render.seeds import Streams
from render.strokes import Habit
from render.wall import Wall

_EVERY = 5  # of the pixels down and across tells how high the tips stand


class _Hand(Hand):
    """How the knife is drawn over the wall."""

    layer: KnockDown

    @drawn_once
    def uneven(self) -> Array:
        """How much higher the knife rides where it was pressed lightly, mil, on the plan grid."""
        habit = Habit(max(self.layer.blade, 1.0), 22.0, 90.0, 35.0, 10.0, 30.0, 20.0, beads=False)
        laid = strokes.lay(self.grid.plan, habit, self.streams.key("knife"), self.streams.kept)
        return np.asarray(np.float32(0.35 * self.layer.depth) * (1.0 - laid.supply + 0.3 * laid.lift), np.float32)


class KnockDown(Layer):
    """Takes the tips off a texture; what comes off on the knife is booked as removed."""

    kind: Literal["knock_down"] = "knock_down"
    tool: Annotated[str, Field(max_length=80, description="The tool in your own words, for the layer list.")] = ""
    blade: Annotated[Length, Field(description="Width of the knife.")] = "12 in"  # type: ignore[assignment]
    depth: Annotated[Mils, Field(description="How far below the tips the knife rides.")] = "3 mil"  # type: ignore[assignment]
    firm: Annotated[
        Share, Field(description="How cleanly the tips come off: 100 % is cut flat, less only rounds them.")
    ] = "70 %"  # type: ignore[assignment]

    title = "knocked down"
    tools = ("knock-down knife",)
    while_wet = True

    def apply(self, wall: Wall, streams: Streams) -> Wall:
        """Cut what stands above the knife's way."""
        plan = wall.grid.plan
        coarse = blade.plan_height(wall)
        rides = blade.ride(coarse, plan.ppi, 0.6, 1.5, 0.6)
        uneven = _Hand(self, wall.grid, streams).uneven
        rides = np.asarray(rides + uneven - np.float32(self.depth), np.float32)
        over, tips = Resampled(rides, plan, wall.grid), _tips(wall, coarse)

        def cut(over: Array, height: Array, *films: Array) -> Array:
            above = np.maximum(height - (over + tips), 0.0) * np.float32(self.firm)
            return np.minimum(above, sum(films))

        def rubbed(cut: Array) -> Array:
            return np.clip(cut / max(self.depth, 0.1), 0.0, 1.0)

        goes = strips.each(cut, over, wall.height, *(one.rise for one in wall.coats))
        tone = strips.each(lambda tone, cut: tone * (1.0 - 0.02 * rubbed(cut)), wall.tone, goes)
        sheen = strips.each(lambda sheen, cut: sheen + 0.02 * rubbed(cut), wall.sheen, goes)
        return wall.cut(goes).evolve(tone=tone, sheen=sheen)


def _tips(wall: Wall, coarse: Array) -> np.float32:
    """Return how high the fine tips stand above the coarse relief (plan grid), in mil: nine in ten are lower."""
    relief = Resampled(coarse, wall.grid.plan, wall.grid)
    bands = threads.bands(wall.grid.rows, 100 * _EVERY)
    fine = np.concatenate([(wall.height[rows] - relief[rows])[::_EVERY, ::_EVERY] for rows in bands])
    return np.float32(np.quantile(fine, 0.9)) if fine.size else np.float32(0.0)
