"""Joints tooled into plaster while it is firm, so that the wall reads as blocks.

What a finisher sees: grooves struck along a rule, a little bent, deeper here and shallower there, their edges crumbled
where the iron pulled a grain, and blocks that differ because each was floated, and perhaps dressed, by itself: its
own way of the tool, its own stroke, a plainer margin at its edge, its own thirst for what is washed over it.
"""

from __future__ import annotations

import math
from typing import Annotated, ClassVar, Literal

import numpy as np
from pydantic import Field

from render import bond, fields, seeds
from render.bond import Bond, Lines
from render.fields import Array, Grid
from render.layers.base import Layer, Length, Mils, Share
from render.seeds import Streams
from render.wall import Wall

_BLUNT_IN = 0.04  # so much farther reaches a groove where its arris is rubbed; chosen by eye
_KEPT = 0.08  # of the coats' film stays under the deepest groove: an iron does not strike through


class Joint(Layer):
    """Strikes joints of a bond into what was laid; what comes out is booked as removed."""

    kind: Literal["joint"] = "joint"
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
    width: Annotated[Length, Field(description="Width of the joint at the surface.")] = "3/16 in"  # type: ignore[assignment]
    depth: Annotated[Mils, Field(description="Depth of the joint; never through all that was laid.")] = "24 mil"  # type: ignore[assignment]
    profile: Annotated[Literal["round", "vee", "square"], Field(description="Shape of the jointing iron's nose.")] = (
        "round"
    )
    wander: Annotated[Length, Field(description="How far a line strays from straight.")] = "1/16 in"  # type: ignore[assignment]
    crumble: Annotated[Share, Field(description="How much of the joint's edges has crumbled.")] = "30 %"  # type: ignore[assignment]
    shade: Annotated[Share, Field(description="How much blocks differ in tone.")] = "4 %"  # type: ignore[assignment]

    dress: Annotated[
        Mils,
        Field(description="Depth of the dressing on each face, tooled its own way; 0 mil leaves faces as floated."),
    ] = "0 mil"  # type: ignore[assignment]
    margin: Annotated[Length, Field(description="Width of the plain margin along the edges of a dressed face.")] = (
        "5/8 in"  # type: ignore[assignment]
    )

    title: ClassVar[str] = "joints struck along a rule"
    tools: ClassVar[tuple[str, ...]] = ("jointing iron", "straight edge", "chalk line")
    while_wet: ClassVar[bool] = True

    def words(self) -> str:
        """Return the layer's line."""
        dressed = ", faces dressed" if self.dress > 0 else ""
        return f"joints tooled, blocks {self.block_width:.3g} x {self.block_height:.3g} in, {self.pattern}{dressed}"

    def apply(self, wall: Wall, streams: Streams) -> Wall:
        """Cut the grooves and their crumbled edges, and tone the blocks."""
        lines = bond.draw(wall.grid, self._bond(), streams.pour)
        cut = np.maximum(self._groove(wall.grid, lines, streams), self._crumbs(wall.grid, lines, streams))
        if self.dress > 0:
            cut = np.maximum(cut, self._dressed(wall.grid, lines, streams))
        cut = np.minimum(cut, _laid(wall) * np.float32(1.0 - _KEPT)).astype(np.float32)
        own = seeds.hash_unit(lines.block, streams.key("tone")).astype(np.float32) - np.float32(0.5)
        open_ = np.clip(cut / np.float32(max(self.depth, 0.1)), 0.0, 1.0)
        tone = wall.tone * (1.0 + np.float32(2.0 * self.shade) * own) * (1.0 - np.float32(0.06) * open_)
        drinks = np.clip(wall.thirst * (1.0 + np.float32(8.0 * self.shade) * _part(own + 0.5, 5, -0.5)), 0.0, 1.0)
        thirst = (drinks + np.float32(0.25) * open_ * (1.0 - drinks)).astype(np.float32)
        return wall.cut(cut).evolve(tone=tone, thirst=thirst, sheen=wall.sheen * (1.0 - open_))

    def _bond(self) -> Bond:
        return Bond(self.block_height, self.block_width, self.pattern, self.wander, self.vary)

    def _groove(self, grid: Grid, lines: Lines, streams: Streams) -> Array:
        """Return the depth of the struck groove, mil: pressed unevenly, dragged along its way."""
        plan = grid.plan
        press = fields.fbm(plan, 5.0, streams.key("press"), 4, 0.55)
        press = fields.resample(np.exp(np.float32(0.24) * press), plan, grid)
        half = np.float32(max(self.width, 0.02) / 2.0) * (0.45 + 0.55 * press)
        half = half + np.float32(0.017) * fields.fbm(grid, 0.5, streams.key("edge"), 5, 0.7)
        blunt = fields.resample(fields.fbm(plan, 1.1, streams.key("blunt"), 4, 0.7), plan, grid)
        blunt = np.clip(0.6 + 0.6 * blunt, 0.0, 1.0)  # an arris stays sharp in few places
        half = half + np.float32(_BLUNT_IN) * (blunt - np.float32(0.5))
        within = np.clip(lines.away / np.maximum(half, 0.01), 0.0, 1.0)
        inside = np.clip((half - lines.away) * np.float32(grid.ppi) + 0.5, 0.0, 1.0)
        bowl = np.sqrt(1.0 - within**2) * (1.0 - blunt * within**2)
        shape = {"round": bowl, "vee": 1.0 - within, "square": np.minimum((1.0 - within) * 3, 1.0)}
        pulled = 1.0 + np.float32(0.10) * fields.fbm(grid, 0.14, streams.key("pulled"), 3, 0.7)
        depth = np.float32(self.depth) * press * np.maximum(shape[self.profile], 0.25 * (1.0 - blunt)) * pulled
        return np.asarray(np.maximum(depth * inside, 0.0), np.float32)

    def _crumbs(self, grid: Grid, lines: Lines, streams: Streams) -> Array:
        """Return the depth that broke away beside the joints, mil: shallow scallops, in places."""
        if self.crumble <= 0:
            return np.zeros((1, 1), np.float32)
        plan = grid.plan
        zone = fields.resample(fields.fbm(plan, 6.0, streams.key("zone"), 3, 0.6), plan, grid)
        broken = fields.fbm(grid, 0.7, streams.key("crumbs"), 5, 0.62) + np.float32(0.7) * zone
        reach = lines.away * np.float32(4.0) + np.float32(2.6 - 2.4 * self.crumble)
        return np.asarray(np.clip((broken - reach) * 9.0, 0.0, 0.55 * self.depth), np.float32)

    def _dressed(self, grid: Grid, lines: Lines, streams: Streams) -> Array:
        """Return how deep the faces are tooled, mil: furrows and pecks in a block's own direction, inside a margin that
        some furrows run into and some do not reach.
        """
        own = seeds.hash_unit(lines.block, streams.key("dress")).astype(np.float32)
        tool = _Tooling(grid, streams)
        turn = np.float32(math.pi) * (0.5 + 0.62 * _part(own, 7, -0.5))  # about upright, the arm's swing either way
        size = 0.75 + 0.7 * _part(own, 19)
        lean = fields.fbm(grid.plan, 4.0, streams.key("lean"), 3, 0.6)
        lean = fields.resample(np.clip(1.0 + 0.35 * lean, 0.2, 1.8).astype(np.float32), grid.plan, grid)
        u, v = tool.places(np.cos(turn) / size, np.sin(turn) / size, own, np.float32(0.2) * lean)
        claw = np.clip(4.0 * _part(own, 11) - 0.8, 0.0, 1.0)  # most blocks are dragged over, some only pointed
        hits = tool.hits(u, v)
        furrow = np.maximum(0.3 + 0.55 * tool.furrows(u, v), 0.0) * np.clip(0.8 + 0.55 * hits, 0.1, 2.0)
        furrow *= claw * (0.3 + 0.7 * _part(own, 13))
        peck = np.clip(0.8 * (tool.pecks(u, v) - (0.95 + 1.1 * claw)), 0.0, 2.0)
        border = np.float32(self.width / 2.0) + np.float32(self.margin) * (0.55 + 0.9 * _part(own, 17))
        border += np.float32(0.12 * self.margin) * fields.lattice(grid, 0.5, streams.key("border"))
        face = np.clip((lines.away - border) * np.float32(5.0), 0.0, 1.0)
        begun = np.clip((lines.away - border - np.float32(_UNEVEN_IN) * (0.9 - hits)) * np.float32(3.0), 0.0, 1.0)
        cut = np.maximum(begun * furrow, face * peck)
        cut += (1.0 - face) * self._margin(grid, lines, own, streams)
        return np.asarray(np.float32(self.dress) * lean * cut, np.float32)

    def _margin(self, grid: Grid, lines: Lines, own: Array, streams: Streams) -> Array:
        """Return how deep the margin is dressed, of the dressing's depth: smooth, or chiselled square to its edge."""
        strokes = np.where(lines.level, *(fields.lattice(grid, way, streams.key("chisel")) for way in _CHISEL))
        chiselled = np.clip(2.0 * _part(own, 37) - 0.5, 0.0, 1.0)
        return np.asarray(0.2 + chiselled * np.clip(0.11 * strokes, -0.2, 0.2), np.float32)


_SHEET_IN = 30.0  # so far before tool marks fold back
_CLAW = (2.6, 0.13)  # a furrow's length and width, inches
_POINT = (0.5, 0.3)  # a large peck's
_CHISEL = ((0.7, 0.09), (0.09, 0.7))  # a chisel's mark in the margin, beside a bed and beside an upright
_UNEVEN_IN = 0.3  # how unevenly furrows begin and end, inches


class _Tooling:
    """Tool marks read off sheets in which they run upright."""

    def __init__(self, grid: Grid, streams: Streams) -> None:
        """Prepare the sheets for a grid."""
        self.grid, self.streams = grid, streams
        self.sheet = Grid.over(_SHEET_IN, _SHEET_IN, grid.ppi)

    def places(self, cos: Array, sin: Array, own: Array, bend: Array) -> tuple[Array, Array]:
        """Return places in the sheets (rows and columns, pixels) for blocks turned by an angle, each elsewhere.

        ``bend`` is how far a mark strays to its side, inches.
        """
        down, right = self.grid.row_in[:, None].astype(np.float32), self.grid.col_in[None, :].astype(np.float32)
        u, v = down * sin + right * cos + 40.0 * _part(own, 23), right * sin - down * cos + 40.0 * _part(own, 29) + bend
        return self._folded(u), self._folded(v)

    def _folded(self, inches: Array) -> Array:
        """Fold inches back and forth over the sheet, in pixels."""
        back = np.abs(inches - np.float32(2.0 * _SHEET_IN) * np.rint(inches * np.float32(0.5 / _SHEET_IN)))
        return np.asarray(back * np.float32(self.grid.ppi), np.float32)

    def furrows(self, u: Array, v: Array) -> Array:
        """Return furrows of a claw or a drag, unit variance."""
        return fields.gather(fields.fbm(self.sheet, _CLAW, self.streams.key("claw"), 3, 0.6), u, v)

    def hits(self, u: Array, v: Array) -> Array:
        """Return how hard each furrow was struck, and so how far it runs, unit variance: it skips and takes again."""
        return fields.gather(fields.fbm(self.sheet, (3.4, 0.16), self.streams.key("hits"), 2, 0.7), u, v)

    def pecks(self, u: Array, v: Array) -> Array:
        """Return what a point leaves, unit variance: crowded here, few there."""
        marks = 0.8 * fields.fbm(self.sheet, _POINT, self.streams.key("point"), 3, 0.75)  # all sizes
        return fields.gather(marks + 0.6 * fields.fbm(self.sheet, 2.6, self.streams.key("crowd"), 3), u, v)


def _part(own: Array, factor: int, shift: float = 0.0) -> Array:
    """Return another uniform number made of one in [0, 1), plus ``shift``: its digits further on."""
    return np.asarray((own * np.float32(factor * 13)) % np.float32(1.0) + np.float32(shift), np.float32)


def _laid(wall: Wall) -> Array:
    """Return how far all coats stand, mil."""
    total = np.zeros(wall.grid.shape, np.float32)
    for one in wall.coats:
        total += one.rise
    return total
