"""Drag: a dry brush or comb drawn through wet colour, which lies in fine lines afterwards."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Annotated, ClassVar, Literal

import numpy as np
from numpy.typing import NDArray
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
        """Return the wall with the colour in lines, which stand up as they dry; none leaves."""
        lines = _lines(wall.grid, self, streams)

        def work(bed: flow.Bed, mobile: list[Array]) -> tuple[list[Array], list[float]]:
            return _pull(bed, mobile, lines, self.way == "level"), [0.0] * len(mobile)

        after = flow.change(wall, work, self.of, streams.key("shelter"))
        return after.evolve(height=wall.height + np.float32(_DRIES) * _shifted(wall, after))


_DRIES = 0.35
"""Share of a glaze that stays when it has dried, from memory: what was pulled into ridges stands up that much."""
_ACROSS_PPI = 60.0
"""Lines are drawn at least so fine across their way, and averaged to the picture."""
_TOOL_IN, _REACH_IN = 3.4, 60.0
"""Width of the tool, and how far down an arm draws it in one stroke; chosen by eye."""


def _shifted(before: Wall, after: Wall) -> Array:
    """Return how much more colour lies at each place than before, mil."""
    moved = np.zeros(before.grid.shape, np.float32)
    for old, new in zip(before.strata, after.strata, strict=True):
        if old.film is not new.film:
            moved += new.film - old.film
    return moved


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


def _lines(grid: Grid, layer: Drag, streams: Streams) -> Array:
    """Log of the weight that each place keeps: lines along the way, in passes the width of the tool."""
    turn = layer.way == "level"
    upright = Grid(grid.cols, grid.rows, grid.ppi) if turn else grid
    fine = _Fine.over(upright)
    gap = max(layer.spacing, 0.01)
    drawn = _bristles(fine, gap, streams) if layer.tool == "brush" else _teeth(fine, gap, streams)
    lines = np.float32(layer.strength) * fine.picture(drawn + _ends(fine, streams), upright)
    return np.ascontiguousarray(lines.T) if turn else lines


@dataclass(frozen=True)
class _Fine:
    """A lattice finer across the lines than along them: ``along`` rows and ``across`` columns to the inch."""

    rows: int
    cols: int
    along: float
    across: float

    @classmethod
    def over(cls, grid: Grid) -> _Fine:
        """Return the one over an upright grid: the plan's rows, and some columns to each of the grid's."""
        times = int(np.clip(math.ceil(_ACROSS_PPI / grid.ppi - 1e-6), 1, 8))
        return cls(grid.plan.rows, grid.cols * times, grid.plan.ppi, grid.ppi * times)

    @property
    def col_in(self) -> NDArray[np.float64]:
        """Return the distance of each column's middle from the left, in inches."""
        return np.asarray((np.arange(self.cols) + 0.5) / self.across, np.float64)

    def noise(self, along: float, across: float, key: int) -> Array:
        """Return ``fields.lattice`` of those wavelengths in inches."""
        grid = Grid(self.rows, self.cols, self.across)
        return fields.lattice(grid, (along * self.along / self.across, across), key)

    def picture(self, field: Array, grid: Grid) -> Array:
        """Return a field on the grid: averaged across, eased along."""
        narrow = field.reshape(self.rows, grid.cols, -1).mean(2)
        place = np.clip(grid.row_in * self.along - 0.5, 0.0, self.rows - 1.0)
        top = np.minimum(place.astype(np.int64), max(self.rows - 2, 0))
        part = (place - top).astype(np.float32)[:, None]
        return np.asarray(narrow[top] * (1 - part) + narrow[np.minimum(top + 1, self.rows - 1)] * part, np.float32)


def _bristles(fine: _Fine, gap: float, streams: Streams) -> Array:
    """Return the log of what bristles leave: scratches nearly to the ground and ridges between them, in clumps, each
    lifting off here and there; a ridge where a pass ended beside the last.
    """
    key = streams.key("lines")
    hair = fine.noise(40.0, gap, key) + np.float32(0.9) * fine.noise(16.0, 0.45 * gap, key + 1)
    hair += np.float32(0.55) * fine.noise(18.0, 3.5 * gap, key + 2)
    touch = fine.noise(6.0, 2.2 * gap, key + 3) + np.float32(0.6) * fine.noise(1.8, 1.2 * gap, key + 4)
    press, edge = _passes(fine, streams)
    down = np.clip((touch + 1.2) * np.float32(5.0), 0.0, 1.0)
    hair = hair * (down * press) + np.float32(0.7) * (1.0 - down)  # where hairs lift off, the colour lies as it was
    hair += edge * np.clip(1.0 + 0.8 * touch, 0.0, 2.0)
    lines = np.log(np.float32(0.1) + np.float32(2.4) / (1.0 + np.exp(np.float32(1.0) - np.float32(1.8) * hair)))
    sway = np.float32(0.03) * fine.noise(7.0, 1.5, key + 5) + np.float32(0.05) * fine.noise(26.0, 5.0, key + 6)
    return flow.aside(lines, Grid(fine.rows, fine.cols, fine.across), sway)


def _edges(fine: _Fine, streams: Streams) -> NDArray[np.float64]:
    """Return where each pass of the tool ends, in inches from the left: each laps over the last by its own width."""
    wide = _TOOL_IN * (0.7 + 0.3 * streams.rng("passes").random(3 + int(fine.cols / fine.across / (0.7 * _TOOL_IN))))
    return np.asarray(np.cumsum(wide) - wide[0] * streams.rng("first").random(), np.float64)


def _passes(fine: _Fine, streams: Streams) -> tuple[Array, Array]:
    """Return how hard each pass of the tool was pressed and the ridges between passes, (1, columns)."""
    edges, place = _edges(fine, streams), fine.col_in
    which = np.searchsorted(edges, place)
    press = 0.75 + 0.5 * streams.rng("press").random(edges.size + 1)
    high = 0.5 + 1.5 * streams.rng("ridges").random(edges.size)
    ridge = np.zeros(place.size)
    for at in (np.maximum(which - 1, 0), which):
        ridge += np.exp(-(((place - edges[at]) / 0.05) ** 2)) * high[at]
    return press[which].astype(np.float32)[None, :], np.asarray(ridge, np.float32)[None, :]


def _teeth(fine: _Fine, gap: float, streams: Streams) -> Array:
    """Return the log of what a comb leaves: even teeth that waver together."""
    key = streams.key("lines")
    waver = 0.12 * fine.noise(5.0, 40.0, key) + 0.05 * fine.noise(1.4, 3.0, key + 1)
    phase = (fine.col_in[None, :] + waver) / gap
    soft = np.clip(gap * fine.across / 2.0 - 0.5, 0.0, 1.0)  # teeth finer than two pixels fade
    lines = 1.3 * soft * np.cos(2 * np.pi * phase) + 0.25 * fine.noise(10.0, 0.5 * gap, key + 9)
    skip = np.clip(0.8 + 0.3 * fine.noise(6.0, 1.2, key + 30), 0.1, 1.4)
    return np.asarray(1.2 * lines * skip, np.float32)


def _ends(fine: _Fine, streams: Streams) -> Array:
    """Return the log of what is left where the tool is set on and where it stops: heavier, and ragged.

    What is higher than a reach is dragged in strokes, which run out into one another at another height in each pass.
    """
    key, chance = streams.key("ends"), streams.rng("reach")
    which = np.searchsorted(_edges(fine, streams), fine.col_in)
    down = ((np.arange(fine.rows) + 0.5) / fine.along).astype(np.float32)[:, None]
    tall, total = fine.rows / fine.along, np.zeros((fine.rows, fine.cols), np.float32)
    strokes = math.ceil(tall / _REACH_IN)
    for number in range(strokes + 1):
        inner = 0 < number < strokes
        at = number * tall / strokes + (3.0 * chance.standard_normal(which.max() + 1)[which] if inner else 0.0)
        ragged = fields.lattice(Grid(1, fine.cols, fine.across), (1.0, 0.12), key + number)
        away = np.abs(down - np.asarray(at, np.float32) + np.float32(0.6 if inner else 0.25) * ragged)
        total += np.float32(0.3 if inner else 0.6) * np.exp(-away / np.float32(0.9 if inner else 0.35))
    return total
