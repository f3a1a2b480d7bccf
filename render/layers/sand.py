"""Sanding: flattens, burnishes and scratches what stands highest, and opens edges that hang loose."""

from __future__ import annotations

from typing import Annotated, Literal

import numpy as np
from pydantic import Field

from render import blade, fields, strips, strokes
from render.fields import Array, Resampled
from render.hand import Hand, drawn, drawn_once, drawn_within
from render.layers.base import Layer, Length, Mils, Share
from render.seeds import Streams
from render.strokes import Habit, Marks, Strokes
from render.wall import Wall

_SPARES = 0.35  # of its depth: what stands up less is half spared, as the block floats on dust; chosen by eye


class _Hand(Hand):
    """How the block is moved over the wall."""

    layer: Sand

    @drawn_within
    def rubs(self) -> Strokes:
        """The strokes of the block."""
        habit = Habit(max(self.layer.block, 1.0), 9.0, 0.0, 90.0, 5.0, 8.0, beads=False)
        return strokes.lay(self.grid.plan, habit, self.streams.key("rub"), self.streams.kept)

    @drawn_once
    def bites(self) -> Array:
        """How far below the high spots the block reaches, mil, on the plan grid."""
        return np.asarray(np.float32(self.layer.depth) * (0.55 + 0.6 * self.rubs.supply), np.float32)

    @drawn_once
    def scratches(self) -> Array:
        """The scratches of the grit where it rubs hardest, mil."""
        if self.layer.scratch <= 0:
            return np.zeros((1, 1), np.float32)
        lines = strokes.grain(self.rubs, self.grid, Marks(0.05, 40.0, 2), self.streams.key("grit"))
        return np.asarray(np.clip(lines - 0.4, 0.0, 2.5) * np.float32(self.layer.scratch), np.float32)

    @drawn
    def crumbs(self) -> Array:
        """Unevenness of what breaks off where an edge hangs loose, on the output grid."""
        return np.float32(0.22) * fields.fbm(self.grid, 0.22, self.streams.key("crumbs"), 3, 0.6)


class Sand(Layer):
    """Rubs the wall down; the dust is booked as removed. It never raises anything."""

    kind: Literal["sand"] = "sand"
    tool: Annotated[str, Field(max_length=80, description="The tool in your own words, for the layer list.")] = ""
    depth: Annotated[Mils, Field(description="How far below the high spots the block reaches.")] = "2 mil"  # type: ignore[assignment]
    block: Annotated[Length, Field(description="Length of the block; a longer one bridges more hollows.")] = "5 in"  # type: ignore[assignment]
    scratch: Annotated[Mils, Field(description="Depth of the scratches that the grit leaves.")] = "0.15 mil"  # type: ignore[assignment]
    polish: Annotated[Share, Field(description="Sheen that rubbed plaster takes on.")] = "6 %"  # type: ignore[assignment]
    opens: Annotated[Share, Field(description="Share of loose edges that break away under the block.")] = "35 %"  # type: ignore[assignment]

    title = "sanded"
    tools = ("sanding block",)
    hazards = ("dust",)

    def apply(self, wall: Wall, streams: Streams) -> Wall:
        """Cut the high spots, scratch them, and break loose edges away."""
        plan = wall.grid.plan
        span = float(np.clip(self.block * 0.25, 0.3, 3.0))
        over = blade.ride(blade.plan_height(wall), plan.ppi, span, 1.6 * span, 0.8)
        hand = _Hand(self, wall.grid, streams)
        over = np.asarray(over - hand.bites, np.float32)
        above = strips.each(self._above, wall.height, Resampled(over, plan, wall.grid))
        cut = self._cut(wall, above, hand)
        rubbed = strips.each(self._rubbed, above, out=above)

        def toned(tone: Array, rubbed: Array) -> Array:
            return tone * (1.0 - 0.035 * rubbed)

        def polished(sheen: Array, rubbed: Array) -> Array:
            return np.maximum(sheen, sheen + (self.polish - sheen) * rubbed)

        sanded = wall.cut(cut).evolve(tone=strips.each(toned, wall.tone, rubbed))
        return sanded.evolve(sheen=strips.each(polished, wall.sheen, rubbed, out=rubbed))

    def _above(self, height: Array, over: Array) -> Array:
        """Return how far the wall stands above the block's way, mil."""
        above = np.maximum(height - over, 0.0)
        above *= np.float32(min(self.depth / 0.05, 1.0))  # a block that hardly touches takes nothing
        return above

    def _bitten(self, above: Array) -> Array:
        """Return how much of that goes, mil: tall grains are cut off flat, low ones half spared."""
        spared = np.float32(max(_SPARES * self.depth, 0.01))
        return above - above * (np.float32(0.6) * spared) / (above + spared)

    def _rubbed(self, above: Array) -> Array:
        """Return how hard the block rubs, 0 to 1."""
        return np.clip(above / max(self.depth, 0.05), 0.0, 1.0)

    def _cut(self, wall: Wall, above: Array, hand: _Hand) -> Array:
        """Return what goes, mil: high spots, scratches, and the uppermost coat in crumbs where it hangs loosest.

        Film that stands off its ground gives way under the block: it is not rubbed through for standing high.
        """
        loosest, films = 1.6 - np.float32(self.opens) * 1.2, [one.rise for one in wall.coats]
        opens = self.opens > 0

        def lying(above: Array, scratches: Array, *films: Array) -> Array:
            return np.minimum(self._bitten(above) + self._rubbed(above) * scratches, sum(films))

        def hanging(above: Array, scratches: Array, loose: Array, crumbs: Array, height: Array, *films: Array) -> Array:
            lies = sum(films[1:], films[0])
            gives = np.maximum(height - lies - blade.TOOTH, 0.0)  # until it lies on
            cut = lying(np.maximum(above - gives, 0.0), scratches, lies)
            if opens:
                goes = (loose * np.float32(1.6) + crumbs > loosest) & (loose > 0.1)
                cut = np.where(goes, np.maximum(cut, films[-1]), cut)
            return cut

        if not films:
            return np.zeros_like(above)
        if not wall.loose.any():
            return strips.each(lying, above, hand.scratches, *films)
        crumbs = hand.crumbs if opens else np.zeros((1, 1), np.float32)
        return strips.each(hanging, above, hand.scratches, wall.loose, crumbs, wall.height, *films)
