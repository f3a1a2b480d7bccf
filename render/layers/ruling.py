"""Block lines drawn with a lining brush along a rule.

What a finisher sees: a line that starts full and ends dry, thicker where the hand leaned, broken on high grain, and
lost altogether here and there.
"""

from __future__ import annotations

from typing import Annotated, ClassVar, Literal

import numpy as np
from pydantic import Field

from render import bond, fields, seeds
from render.bond import Bond, Lines
from render.fields import Array
from render.layers.base import Length, Share, Wash, scaled
from render.seeds import Streams
from render.wall import Wall

_DIP_IN = 19.0  # a loaded lining brush draws about this far


class Ruling(Wash):
    """Lines of a bond drawn in colour: the coverage says how much of the wall they take, the width follows from it."""

    kind: Literal["ruling"] = "ruling"
    coverage: Annotated[
        Share, Field(description="Share of the wall that the lines take: line width x (1/height + 1/length).")
    ] = "1.6 %"  # type: ignore[assignment]
    tool: Annotated[str, Field(max_length=80, description="The tool in your own words, for the layer list.")] = ""
    pattern: Annotated[
        Literal["running", "stacked", "broken"],
        Field(description="How the blocks lie: half over half, one on another, or each course set on by eye."),
    ] = "running"
    block_height: Annotated[Length, Field(description="Height of a course.")] = "12 in"  # type: ignore[assignment]
    block_width: Annotated[Length, Field(description="Length of a block.")] = "24 in"  # type: ignore[assignment]
    wander: Annotated[Length, Field(description="How far a line strays from straight.")] = "1/16 in"  # type: ignore[assignment]
    shift: Annotated[
        Length,
        Field(description="How far down and right of the bond's lines these are drawn, for a light beside a dark."),
    ] = "0 in"  # type: ignore[assignment]
    broken: Annotated[Share, Field(description="How dry the brush runs: more leaves more gaps.")] = "40 %"  # type: ignore[assignment]

    title: ClassVar[str] = "block lines drawn"
    tools: ClassVar[tuple[str, ...]] = ("lining brush", "straight edge", "chalk line")

    def words(self) -> str:
        """Return the layer's line."""
        return f"block lines drawn, {self.block_width:.3g} x {self.block_height:.3g} in, {self.pattern}"

    def apply(self, wall: Wall, streams: Streams) -> Wall:
        """Draw the lines; coverage and mean film are met exactly."""
        layout = Bond(self.block_height, self.block_width, self.pattern, self.wander)
        lines = bond.draw(wall.grid, layout, streams.pour, self.shift)
        half = self._half(wall, lines, streams)
        place = half - lines.away
        on = fields.cover(place, self.coverage)
        level = np.float32(fields.threshold(place, self.coverage))
        edge = np.clip((place - level) * np.float32(wall.grid.ppi) + 0.5, 0.08, 1.0)
        bristle = np.exp(0.35 * fields.fbm(wall.grid, 0.09, streams.key("bristle"), 2, 0.6))
        film = np.where(on, edge * bristle * np.clip(0.6 + 12.0 * half, 0.25, 1.6), 0.0).astype(np.float32)
        return wall.add(self.stratum(scaled(film, self.mean_mil(wall))))

    def _half(self, wall: Wall, lines: Lines, streams: Streams) -> Array:
        """Return half the line's width before the coverage sets it, inches: load, pressure, grain and gaps."""
        grid, plan = wall.grid, wall.grid.plan
        dip = np.where(lines.level, grid.col_in[None, :], grid.row_in[:, None])
        start = seeds.hash_unit(lines.line, streams.key("dip"))
        left = (1.0 - (dip / _DIP_IN + start) % 1.0).astype(np.float32)
        lean = fields.resample(fields.fbm(plan, 3.0, streams.key("lean"), 4, 0.6), plan, grid)
        gap = fields.fbm(grid, 0.22, streams.key("gap"), 4, 0.7)
        dry = np.float32(self.broken) * (1.15 - left)
        half = 0.016 * lean + 0.012 * (left - 0.5) + dry * 0.07 * np.minimum(gap - 0.2, 0.35)
        high = np.clip(wall.height - fields.resample(_mean(wall), plan, grid), -4.0, 4.0)
        return np.asarray(half - np.float32(0.004) * np.abs(high) * (1.0 + 2.0 * dry), np.float32)


def _mean(wall: Wall) -> Array:
    """Return the wall's mean height on the plan grid, mil."""
    from scipy import ndimage

    return ndimage.uniform_filter(fields.resample(wall.height, wall.grid, wall.grid.plan), 9, mode="nearest")
