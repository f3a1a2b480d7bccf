"""Limewash or paint brushed in crossing strokes: thin films that build up in cloudy patches."""

from __future__ import annotations

from typing import Annotated, Literal

import numpy as np
from pydantic import Field

from render import blade, fields, strokes
from render.fields import Array
from render.layers.base import Angle, Coat, Length, Share, scaled
from render.seeds import Streams
from render.strokes import Habit, Marks, Strokes
from render.wall import Wall


class BrushedCoat(Coat):
    """A thin coat laid with a block brush, every stroke crossing the last."""

    kind: Literal["brushed_coat"] = "brushed_coat"
    tool: Annotated[str, Field(max_length=80, description="The tool in your own words, for the layer list.")] = ""
    brush: Annotated[Length, Field(description="Width of the brush.")] = "5 in"  # type: ignore[assignment]
    stroke: Annotated[Length, Field(description="Mean length of a stroke.")] = "10 in"  # type: ignore[assignment]
    direction: Annotated[Angle, Field(description="Mean direction of the strokes: 90 deg is upright.")] = "0 deg"  # type: ignore[assignment]
    scatter: Annotated[Angle, Field(description="How far strokes stray from it; 90 deg crosses every way.")] = "90 deg"  # type: ignore[assignment]
    cloud: Annotated[Share, Field(description="How strongly thick and thin patches differ.")] = "45 %"  # type: ignore[assignment]
    bristle: Annotated[Share, Field(description="How strongly single bristles show.")] = "35 %"  # type: ignore[assignment]

    title = "brushed in crossing strokes"
    tools = ("block brush",)

    def apply(self, wall: Wall, streams: Streams) -> Wall:
        """Lay the strokes; the film is what they gave, more in hollows and patches, drawn by the bristles."""
        grid, plan = wall.grid, wall.grid.plan
        wide, long = max(self.brush, 0.5), max(self.stroke, 1.0)
        habit = Habit(
            wide, long, self.direction, self.scatter, max(0.8, 0.42 * (wide * long) ** 0.5), 9.0, 25.0, 0.9, 0.7
        )
        laid = strokes.lay(plan, habit, streams.key("strokes"))
        body = fields.resample(self._cloud(wall, laid, streams), plan, grid)
        marks = strokes.grain(laid, grid, Marks(0.11, 26.0, 3), streams.key("bristles"))
        film = body * np.exp(np.float32(self.bristle) * 0.9 * marks)
        mask, edge = self._place(wall, film, streams)
        film = np.where(mask, np.maximum(film * edge, np.float32(1e-3)), np.float32(0.0))
        tone = np.where(mask, blade.drying(grid, streams.key("drying"), laid.lift * 0.5, 0.02), wall.tone)
        return wall.add(self.stratum(scaled(film, self.mean_mil(wall))), tone=tone)

    def _cloud(self, wall: Wall, laid: Strokes, streams: Streams) -> Array:
        """Return the film about 1 on the plan grid: loads, overlaps, and slow patches where more was put."""
        plan = wall.grid.plan
        slow = fields.drift(plan, 16.0, streams.rng("cloud")) + 0.7 * fields.fbm(
            plan, 4.0, streams.key("cloud"), 4, 0.6
        )
        amount = np.float32(self.cloud) * (1.2 * (laid.supply - 0.5) + 0.3 * laid.lift + 0.5 * slow)
        height = blade.plan_height(wall)
        hollow = blade.ride(height, plan.ppi, 0.3, 0.4, 0.4) - height
        return np.asarray(np.exp(amount) * (1.0 + np.clip(0.05 * hollow, -0.3, 0.6)), np.float32)

    def _place(self, wall: Wall, film: Array, streams: Streams) -> tuple[np.ndarray, Array]:
        """Return where the coat lies and its edge profile: a dry brush misses where it gave least."""
        if self.coverage >= 1.0:
            whole = np.ones(wall.grid.shape, np.float32)
            return whole > 0, whole
        field = np.log(film) + 0.5 * fields.fbm(wall.grid, 3.0, streams.key("where"), 6, 0.6)
        mask = fields.cover(field, self.coverage)
        level = fields.threshold(field, self.coverage)
        return mask, blade.softened(mask, fields.edge_distance(field, level, wall.grid.ppi), 0.2, wall.grid.ppi)
