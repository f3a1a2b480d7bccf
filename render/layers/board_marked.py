"""A cast or floated slab that carries the marks of its boards: grain, seams, fins and air holes.

What a finisher sees: boards that stood at slightly different levels, arched grain and knots in reverse, thin fins where
slurry crept between two boards, air holes crowded in places, and each board's own tone.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Annotated, ClassVar, Literal

import numpy as np
from numpy.typing import NDArray
from pydantic import Field

from render import blade, fields, seeds
from render.fields import Array, Grid
from render.layers.base import Coat, Length, Mils, Share, scaled
from render.seeds import Streams
from render.wall import Wall

_SIZES = 0.8  # log standard deviation of the diameters of air holes: pinholes to bowls
_LEAST = 0.12  # of the mean film lies even at the bottom of a hole


@dataclass(frozen=True, eq=False)
class _Boards:
    """Boards on a grid: inches ``along`` and ``across`` from a board's middle, ``seam`` and ``butt`` inches to its
    edges, and ``number`` for hashed attributes; all (rows, cols)."""

    along: Array
    across: Array
    seam: Array
    butt: Array
    number: NDArray[np.uint64]

    def unit(self, purpose: int) -> Array:
        """Return a uniform number for each pixel's board."""
        return seeds.hash_unit(self.number, purpose).astype(np.float32)


class BoardMarked(Coat):
    """A cementitious coat with the print of a board form."""

    kind: Literal["board_marked"] = "board_marked"
    tool: Annotated[str, Field(max_length=80, description="The tool in your own words, for the layer list.")] = ""
    boards: Annotated[
        Literal["across", "upright"], Field(description="Whether the boards run across the wall or stand upright.")
    ] = "across"
    board: Annotated[Length, Field(description="Width of a board.")] = "6 in"  # type: ignore[assignment]
    length: Annotated[Length, Field(description="Mean length of a board.")] = "84 in"  # type: ignore[assignment]
    levels: Annotated[Mils, Field(description="How far boards stand before or behind one another.")] = "14 mil"  # type: ignore[assignment]
    grain: Annotated[Mils, Field(description="Depth of the wood's grain.")] = "6 mil"  # type: ignore[assignment]
    fins: Annotated[Mils, Field(description="Height of the fins at the seams.")] = "22 mil"  # type: ignore[assignment]
    holes: Annotated[Share, Field(description="Share of the wall that is air holes.")] = "0.5 %"  # type: ignore[assignment]
    hole: Annotated[Length, Field(description="Diameter of the largest holes.")] = "3/8 in"  # type: ignore[assignment]
    shade: Annotated[Share, Field(description="How much boards and drying differ in tone.")] = "6 %"  # type: ignore[assignment]

    title: ClassVar[str] = "board-marked slab"
    tools: ClassVar[tuple[str, ...]] = ("steel trowel", "grained boards", "roller")

    def words(self) -> str:
        """Return the layer's line."""
        return f"board-marked, {self.board:.3g} in boards {self.boards}, {100 * self.holes:.2g} % air holes"

    def apply(self, wall: Wall, streams: Streams) -> Wall:
        """Cast the slab: its face is the form's, its back is the wall."""
        grid, mean = wall.grid, self.mean_mil
        boards = self._boards(grid, streams)
        face = self._levels(boards, streams) + self._wood(grid, boards, streams) + self._seams(grid, boards, streams)
        holes = self._holes(grid, streams)
        on = self._placed(grid, streams)
        back = np.clip(wall.height - np.mean(wall.height, dtype=np.float64), -0.4 * mean, 0.4 * mean)
        body = np.maximum(mean + face - 0.7 * back, _LEAST * mean)
        film = np.maximum(body - np.minimum(holes, 0.8 * mean), _LEAST * mean) * on
        tone = np.where(on, self._tone(grid, boards, holes, streams), wall.tone)
        return wall.add(self.stratum(scaled(film.astype(np.float32), mean)), tone=tone.astype(np.float32))

    def _placed(self, grid: Grid, streams: Streams) -> NDArray[np.bool_]:
        """Return where the slab lies: everywhere, or but for ragged losses."""
        if self.coverage >= 1.0:
            return np.ones(grid.shape, bool)
        return fields.cover(fields.fbm(grid, 6.0, streams.key("where"), 6, 0.55), self.coverage)

    def _boards(self, grid: Grid, streams: Streams) -> _Boards:
        """Return the boards on a grid."""
        down, right = grid.row_in[:, None].astype(np.float32), grid.col_in[None, :].astype(np.float32)
        slip = fields.resample(0.02 * fields.fbm(grid.plan, 9.0, streams.key("slip"), 3), grid.plan, grid)
        along, across = (right, down) if self.boards == "across" else (down, right)
        wide, long = max(self.board, 0.5), max(self.length, 6.0)
        first = seeds.hash_lattice(np.arange(1), np.arange(1), streams.key("first"))[0, 0]
        v = (across + slip) / np.float32(wide) + np.float32(first)  # the wall is cut out of a wider slab
        row = np.floor(v).astype(np.int64)
        start = seeds.hash_lattice(np.arange(row.min(), row.max() + 1), np.arange(1), streams.key("start"))[:, 0]
        u = along / np.float32(long) + start[row - row.min()].astype(np.float32)
        piece = np.floor(u).astype(np.int64)
        number = seeds.mix64(((row + 512) * 65536 + piece + 512).astype(np.uint64) ^ np.uint64(streams.key("board")))
        v, u = v - row, u - piece
        return _Boards(
            (u - 0.5) * np.float32(long), (v - 0.5) * np.float32(wide),
            np.minimum(v, 1 - v) * np.float32(wide), np.minimum(u, 1 - u) * np.float32(long), number,
        )  # fmt: skip

    def _levels(self, boards: _Boards, streams: Streams) -> Array:
        """Return how each board stood, mil: before or behind, tilted and cupped."""
        key, part = streams.key, boards.across / np.float32(max(self.board, 0.5))
        level = (boards.unit(key("level")) - 0.5) * 2.0 + (boards.unit(key("tilt")) - 0.5) * 1.6 * part
        cup = (boards.unit(key("cup")) - 0.35) * 2.4 * part * part
        return np.asarray(np.float32(0.5 * self.levels) * (level + cup), np.float32)

    def _wood(self, grid: Grid, boards: _Boards, streams: Streams) -> Array:
        """Return the print of the grain, mil: contours of a bent log, arched on some boards, straight on others."""
        if self.grain <= 0:
            return np.zeros((1, 1), np.float32)
        key, plan = streams.key, grid.plan
        log = self._log(plan, streams)
        arch = 0.5 + 3.0 * boards.unit(key("arch")) ** 1.5
        pitch = 0.17 + 0.16 * boards.unit(key("pitch"))
        years = (0.45, 30.0) if self.boards == "across" else (30.0, 0.45)  # fat years and lean ones
        years_off = 0.8 * fields.fbm(grid, years, key("years"), 3, 0.6)
        rings = boards.across / pitch + arch * fields.resample(log, plan, grid) + years_off
        rings = rings + 40.0 * boards.unit(key("ring"))
        wave = rings - np.floor(rings)
        late = np.clip(np.minimum(wave * 1.6, (1.0 - wave) * 4.0), 0.0, 1.0)  # soft early wood, then a hard edge
        stretched = (0.035, 1.6) if self.boards == "across" else (1.6, 0.035)
        fibre = fields.fbm(grid, stretched, key("fibre"), 2, 0.7)
        bold = 0.15 + 1.15 * boards.unit(key("bold")) ** 1.5
        return np.asarray(np.float32(self.grain) * bold * (late - 0.5 + 0.16 * fibre), np.float32)

    def _log(self, plan: Grid, streams: Streams) -> Array:
        """Return how far the rings are bent, in rings, on the plan grid: long arches, knots that they flow round."""
        stretched = (2.4, 20.0) if self.boards == "across" else (20.0, 2.4)
        log = 1.1 * fields.lattice(plan, stretched, streams.key("log"))
        log += 0.16 * fields.lattice(plan, (stretched[0] / 2.5, stretched[1] / 4.0), streams.key("log", 2))
        knots = fields.scatter(plan, 0.0035, streams.key("knots"), 24.0, 4.0)
        for row, col, size in zip(knots.row_in, knots.col_in, 0.35 + 0.5 * knots.unit(1), strict=True):
            reach = 5.0 * size
            r0, r1 = max(int((row - reach) * plan.ppi), 0), min(int((row + reach) * plan.ppi), plan.rows)
            c0, c1 = max(int((col - reach) * plan.ppi), 0), min(int((col + reach) * plan.ppi), plan.cols)
            if r1 <= r0 or c1 <= c0:
                continue
            down, right = plan.row_in[r0:r1, None] - row, plan.col_in[None, c0:c1] - col
            u, v = (right, down) if self.boards == "across" else (down, right)
            log[r0:r1, c0:c1] += (3.4 * np.exp(-((u / (1.6 * size)) ** 2) - (v / (0.8 * size)) ** 2)).astype(np.float32)
        return log

    def _seams(self, grid: Grid, boards: _Boards, streams: Streams) -> Array:
        """Return fins and hollows along the seams, mil: here slurry crept through, there it was dragged off."""
        along = (0.16, 2.4) if self.boards == "across" else (2.4, 0.16)
        creep = fields.fbm(grid, along, streams.key("creep"), 3, 0.7)
        thin = np.float32(0.03) * (1.0 + 0.5 * np.tanh(creep))
        near = np.minimum(boards.seam, 2.0 * boards.butt)
        ridge = np.clip(1.4 - near / thin, 0.0, 1.0) * np.clip(0.35 + 0.8 * creep, -0.5, 1.6)
        ease = np.exp(-near / np.float32(0.14)) * np.float32(0.18)
        return np.asarray(np.float32(self.fins) * (ridge - ease), np.float32)

    def _holes(self, grid: Grid, streams: Streams) -> Array:
        """Return air holes as a depth, mil: many small and a few large bowls with steep rims, crowded in zones."""
        depth = np.zeros(grid.shape, np.float32)
        if self.holes <= 0 or self.hole <= 0:
            return depth
        largest = max(self.hole, 0.03)
        middle = 0.16 * largest
        mean_area = math.pi / 4.0 * middle**2 * math.exp(2.0 * _SIZES**2)
        points = fields.scatter(grid, 2.6 * self.holes / mean_area, streams.key("holes"), 12.0, largest)
        plan = grid.plan
        crowd = blade.zone(plan, 5.0, 0.25, streams.key("crowd"))
        at = fields.gather(crowd, points.row_in * plan.ppi - 0.5, points.col_in * plan.ppi - 0.5)
        keep = points.unit(1) < 0.05 + 0.95 * at
        size = np.minimum(middle * np.exp(_SIZES * points.normal(2)), largest)
        lobe, turn = 0.1 + 0.12 * points.unit(5), 6.2832 * points.unit(6)
        for i in np.flatnonzero(keep):
            _bowl(depth, grid, (points.row_in[i], points.col_in[i]), size[i] / 2.0, (lobe[i], turn[i]))
        return depth

    def _tone(self, grid: Grid, boards: _Boards, holes: Array, streams: Streams) -> Array:
        """Return the factor on reflectance: each board's own, clouds of drying, and seams that lost water dark."""
        plan, shade = grid.plan, np.float32(self.shade)
        cloud = fields.fbm(plan, 8.0, streams.key("cloud"), 5, 0.6)
        veil = fields.fbm(plan, (3.0, 0.9), streams.key("veil"), 4, 0.65)
        tone = 1.0 + shade * 1.6 * (boards.unit(streams.key("shade")) - 0.5)
        tone = tone + shade * fields.resample(0.55 * cloud + 0.35 * veil, plan, grid)
        leak = np.exp(-boards.seam / (0.12 + 0.3 * boards.unit(streams.key("leak"))))
        tone -= 1.3 * shade * leak * np.clip(0.4 + 0.6 * fields.resample(veil, plan, grid), 0.0, 1.2)
        tone += 0.35 * shade * fields.fbm(grid, 0.3, streams.key("speck"), 4, 0.75)
        return np.asarray(np.maximum(tone, 0.3) * (1.0 - 0.25 * np.clip(holes / 60.0, 0.0, 1.0)), np.float32)


_BOWL = 2.0 / 3.0 * math.pi * 1000.0 * (1.15**1.5 - 0.15**1.5)  # a bowl's volume over its radius cubed, mil in2 / in3


def _bowl(depth: Array, grid: Grid, middle: tuple[float, float], radius: float, lobe: tuple[float, float]) -> None:
    """Draw one hole, about half as deep as wide, into a fresh depth field; below a pixel its volume is kept."""
    ppi = grid.ppi
    if radius * ppi < 1.0:
        _dent(depth, grid, middle, _BOWL * radius**3)
        return
    reach = 1.3 * radius + 1.0 / ppi
    r0, r1 = max(int((middle[0] - reach) * ppi), 0), min(int((middle[0] + reach) * ppi) + 1, grid.rows)
    c0, c1 = max(int((middle[1] - reach) * ppi), 0), min(int((middle[1] + reach) * ppi) + 1, grid.cols)
    if r1 <= r0 or c1 <= c0:
        return
    down, right = (grid.row_in[r0:r1] - middle[0])[:, None], (grid.col_in[c0:c1] - middle[1])[None, :]
    away = np.sqrt(down * down + right * right)
    rim = radius * (1.0 + lobe[0] * np.cos(2.0 * np.arctan2(down, right) + lobe[1]))
    inside = np.clip((rim - away) * ppi + 0.5, 0.0, 1.0)
    bowl = 1000.0 * radius * inside * np.sqrt(np.clip(1.15 - (away / rim) ** 2, 0.05, 1.15))
    np.maximum(depth[r0:r1, c0:c1], bowl, out=depth[r0:r1, c0:c1], casting="same_kind")


def _dent(depth: Array, grid: Grid, middle: tuple[float, float], volume: float) -> None:
    """Share a hole's volume (mil in2) among the four nearest pixels."""
    r, c = middle[0] * grid.ppi - 0.5, middle[1] * grid.ppi - 0.5
    r0, c0 = math.floor(r), math.floor(c)
    for row, share_r in ((r0, r0 + 1 - r), (r0 + 1, r - r0)):
        for col, share_c in ((c0, c0 + 1 - c), (c0 + 1, c - c0)):
            if 0 <= row < grid.rows and 0 <= col < grid.cols:
                depth[row, col] += np.float32(volume * share_r * share_c * grid.ppi**2)
