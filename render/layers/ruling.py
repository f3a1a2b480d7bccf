"""Block lines drawn with a lining brush along a rule.

What a finisher sees: a line that starts full and goes thin before the brush is dipped again, wider where the hand
leaned, run a little past its crossings, streaked by dry bristles, and worn through in a few unequal places.
"""

from __future__ import annotations

from typing import Annotated, ClassVar, Literal

import numpy as np
from pydantic import Field

from render import bond, fields, seeds
from render.bond import Bond, Lines
from render.fields import Array, Grid
from render.layers.base import Length, Share, Wash, scaled
from render.seeds import Streams
from render.wall import Wall

_DIP_IN = (20.0, 17.0)  # a loaded lining brush draws so far at least, and so much farther at most
_PAST_IN = 0.3  # how far an upright runs on past its bed, at most
_MEETS_IN = 0.7  # over which a new stroke takes up the last
_WAVER_IN = 0.009  # how far the hand wavers along the rule


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
    vary: Annotated[
        Share, Field(description="How much blocks differ in length, up to 40 %; courses differ half as much in height.")
    ] = "0 %"  # type: ignore[assignment]
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
        grid = wall.grid
        layout = Bond(self.block_height, self.block_width, self.pattern, self.wander, self.vary)
        lines = bond.draw(grid, layout, streams.pour, self.shift, _PAST_IN)
        waver = fields.resample(np.float32(_WAVER_IN) * _slow(grid, 1.4, streams.key("waver")), grid.plan, grid)
        lean = fields.resample(np.float32(0.008) * _slow(grid, 3.0, streams.key("lean")), grid.plan, grid)
        dry = self._dryness(wall, lines, streams)
        place = lean - np.minimum(np.abs(lines.down + waver), np.abs(lines.right - waver))
        place -= np.float32(0.12) * np.clip(dry - 0.9, 0.0, 1.5) + np.float32(0.006) * dry
        level = fields.threshold(place, self.coverage)
        on = fields.cover(place, self.coverage, level)
        edge = np.clip((place - np.float32(level)) * np.float32(grid.ppi) + 0.5, 0.08, 1.0)
        film = np.where(on, edge * np.exp(np.float32(-2.4) * np.maximum(dry, -0.2)), 0.0).astype(np.float32)
        return wall.add(self.stratum(scaled(film, self.mean_mil)))

    def _dryness(self, wall: Wall, lines: Lines, streams: Streams) -> Array:
        """Return how little colour the brush left: about 0 where it was full, from 1 on the line breaks up.

        It runs dry along a stroke, misses hollows, is worn off high spots, and leaves bristle streaks along the line.
        """
        grid, broken = wall.grid, np.float32(self.broken)
        worn = fields.fbm(grid, 5.0, streams.key("worn"), 7, 0.62)  # all sizes of gap, the long ones rare
        high = np.clip(wall.height - fields.resample(_mean(wall), grid.plan, grid), -3.0, 3.0)
        spent = self._spent(grid, lines, streams)
        hairs = np.where(lines.level, *(fields.lattice(grid, way, streams.key("hairs")) for way in _HAIRS))
        dry = broken * (1.15 * spent**2 + 0.62 * worn + 0.22 * high) + (0.05 + 0.3 * broken * spent) * hairs
        return np.asarray(dry, np.float32)

    def _spent(self, grid: Grid, lines: Lines, streams: Streams) -> Array:
        """Return how much of its load the brush has given, 0 to 1: each stroke starts and ends by itself."""
        number = np.where(lines.level, lines.bed, lines.upright)
        along = np.where(lines.level, grid.col_in[None, :], grid.row_in[:, None]).astype(np.float32)
        least, more = _DIP_IN
        long = least + more * seeds.hash_unit(number, streams.key("draw"))
        part = (along / long + seeds.hash_unit(number, streams.key("dip"))) % 1.0
        meets = np.clip(1.0 - part * long / _MEETS_IN, 0.0, 1.0)  # a full brush is set down on the thin end
        return np.asarray(np.maximum(part, meets**2), np.float32)


_HAIRS = ((0.035, 0.9), (0.9, 0.035))  # bristle streaks along a level line and along an upright, inches


def _slow(grid: Grid, inches: float, key: int) -> Array:
    """Return how a hand strays along a line, unit variance on the plan grid."""
    return fields.fbm(grid.plan, inches, key, 3, 0.5)


def _mean(wall: Wall) -> Array:
    """Return the wall's mean height on the plan grid, mil."""
    from scipy import ndimage

    return ndimage.uniform_filter(fields.resample(wall.height, wall.grid, wall.grid.plan), 9, mode="nearest")
