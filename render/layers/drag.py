"""Drag: a dry brush or comb drawn through wet colour, which lies in fine lines afterwards."""

from __future__ import annotations

from typing import Annotated, ClassVar, Literal

import numpy as np
from pydantic import Field

from render import fields, flow
from render.fields import Array, Grid
from render.layers.base import Layer, Length, Share
from render.seeds import Streams
from render.wall import Wall


class Drag(Layer):
    """A brush or comb drawn through the wet colour.

    ``tool`` brush (fine, uneven lines) or comb (even teeth); ``way`` upright or level; ``spacing`` of the
    lines; ``strength`` how clean the lines are.
    """

    kind: Literal["drag"] = "drag"
    tool: Annotated[
        Literal["brush", "comb"], Field(description="A brush leaves fine, uneven lines, a comb even teeth.")
    ] = "brush"
    way: Annotated[Literal["upright", "level"], Field(description="Whether the lines stand upright or lie level.")] = (
        "upright"
    )
    spacing: Annotated[Length, Field(description="Distance of the lines.")] = "0.09 in"  # type: ignore[assignment]
    strength: Annotated[Share, Field(description="How clean the lines are.")] = "60 %"  # type: ignore[assignment]
    of: Annotated[
        tuple[str, ...],
        Field(max_length=8, description="Names of the layers whose colour is dragged; all wet colour if not given."),
    ] = ()

    title: ClassVar[str] = "dragged"
    tools: ClassVar[tuple[str, ...]] = ("dragging brush",)
    while_wet: ClassVar[bool] = True

    def words(self) -> str:
        """Return the layer's line in the list."""
        return f"wet colour dragged {self.way} with a {self.tool}"

    def apply(self, wall: Wall, streams: Streams) -> Wall:
        """Return the wall with the colour in lines; none leaves."""
        lines = _lines(wall.grid, self, streams.key("lines"))

        def work(bed: flow.Bed, mobile: list[Array]) -> tuple[list[Array], list[float]]:
            return _pull(bed, mobile, lines, self.way == "level"), [0.0] * len(mobile)

        return flow.change(wall, work, self.of, streams.key("shelter"))


def _pull(bed: flow.Bed, mobile: list[Array], lines: Array, level: bool) -> list[Array]:
    """Bristles draw the colour out along their way, gather it between the lines, and miss what lies in
    hollows.
    """
    reach = 0.35 + 0.65 * flow.high_spots(bed)
    weight = np.exp(lines * reach)
    out = []
    for film in mobile:
        drawn = flow.draw_out(film, 2.2, bed.grid, axis=1 if level else 0)
        pulled = (film + (drawn - film) * np.float32(0.85) * reach) * weight
        out.append(flow.share_out(pulled.astype(np.float32), flow.mean(film)))
    return out


def _lines(grid: Grid, layer: Drag, key: int) -> Array:
    """Log of the weight that each place keeps: lines along the way, in passes the width of the tool,
    wavering a little.
    """
    turn = layer.way == "level"
    across = Grid(grid.cols, grid.rows, grid.ppi) if turn else grid
    gap = max(layer.spacing, 0.01)
    if layer.tool == "brush":
        lines = 0.65 * fields.fbm(across, (5.0, gap), key, 2, 0.7)
        lines += 0.5 * fields.fbm(across, (17.0, 1.7 * gap), key + 5, 2, 0.7)
        lines += 0.4 * fields.fbm(across, (22.0, 6 * gap), key + 9, 2)
    else:
        waver = 0.12 * fields.lattice(across, (5.0, 40.0), key) + 0.05 * fields.lattice(across, (1.4, 3.0), key + 1)
        phase = (across.col_in[None, :] + waver) / gap
        soft = np.clip(gap * grid.ppi / 2.0 - 0.5, 0.0, 1.0)  # teeth finer than two pixels fade
        lines = 1.3 * soft * np.cos(2 * np.pi * phase) + 0.4 * fields.fbm(across, (10.0, 0.5 * gap), key + 9, 2, 0.6)
    skip = np.clip(0.8 + 0.4 * fields.fbm(across, (6.0, 1.2), key + 30, 3), 0.1, 1.4)
    lines = (layer.strength * 1.2 * lines * skip).astype(np.float32)
    return np.ascontiguousarray(lines.T) if turn else lines
