"""Burnishing: a clean trowel or a stone closes and polishes plaster that is nearly hard."""

from __future__ import annotations

from typing import Annotated, Literal

import numpy as np
from pydantic import Field

from render import blade, fields, strokes
from render.layers.base import Layer, Length, Mils, Share
from render.seeds import Streams
from render.strokes import Habit, Marks
from render.wall import Wall


class Burnish(Layer):
    """Polishes what stands highest: it darkens, closes and shines. It takes nothing away."""

    kind: Literal["burnish"] = "burnish"
    tool: Annotated[str, Field(max_length=80, description="The tool in your own words, for the layer list.")] = ""
    blade: Annotated[Length, Field(description="Width of the trowel or stone.")] = "6 in"  # type: ignore[assignment]
    reach: Annotated[Mils, Field(description="How far below the high spots the polish reaches.")] = "2 mil"  # type: ignore[assignment]
    polish: Annotated[Share, Field(description="Sheen of well burnished places.")] = "45 %"  # type: ignore[assignment]
    darken: Annotated[Share, Field(description="How much darker burnished places turn.")] = "7 %"  # type: ignore[assignment]
    coverage: Annotated[Share, Field(description="Share of the wall that is burnished.")] = "100 %"  # type: ignore[assignment]

    title = "burnished"
    tools = ("burnishing trowel",)
    while_wet = True

    def achieved(self, before: Wall, after: Wall) -> float | None:
        """Return the share of the wall that was polished or darkened."""
        return float(np.mean((after.tone != before.tone) | (after.sheen != before.sheen)))

    def apply(self, wall: Wall, streams: Streams) -> Wall:
        """Raise the sheen and lower the tone where the tool rubs."""
        if self.coverage <= 0:
            return wall
        plan = wall.grid.plan
        laid = strokes.lay(
            plan, Habit(max(self.blade, 1.0), 13.0, 0.0, 90.0, 5.0, 12.0, beads=False), streams.key("rub")
        )
        over = blade.ride(blade.plan_height(wall), plan.ppi, 0.8, 1.6, 0.7) - np.float32(self.reach)
        above = wall.height - fields.resample(over, plan, wall.grid)
        marks = strokes.grain(laid, wall.grid, Marks(0.14, 24.0, 3), streams.key("marks"))
        pressed = fields.resample(0.25 + 0.75 * laid.supply, plan, wall.grid) * (1.0 + 0.22 * marks)
        rubbed = np.clip(above / np.float32(max(self.reach, 0.05)), 0.0, 1.0) * np.clip(pressed, 0.0, 1.2)
        mask = self._where(wall, rubbed, streams)
        rubbed = np.where(mask, np.maximum(rubbed, 0.02), 0.0).astype(np.float32)
        tone = wall.tone * (1.0 - np.float32(self.darken) * rubbed)
        return wall.evolve(tone=tone, sheen=wall.sheen + (1.0 - wall.sheen) * np.float32(self.polish) * rubbed)

    def _where(self, wall: Wall, rubbed: np.ndarray, streams: Streams) -> np.ndarray:
        """Return the burnished share: where the tool rubs first, in slow patches."""
        if self.coverage >= 1.0:
            return np.ones(wall.grid.shape, bool)
        return fields.cover(rubbed + 0.8 * fields.fbm(wall.grid, 8.0, streams.key("where"), 3), self.coverage)
