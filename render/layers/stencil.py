"""An ornament stencilled over the wall, sheet beside sheet, with a dry brush.

What a finisher sees: registration a hair off from sheet to sheet, colour stippled thin at the heart of one leaf and
thick in the next, a little bleed under the edge, and misses where the wall lies low.
"""

from __future__ import annotations

import math
from typing import Annotated, ClassVar, Literal

import numpy as np
from numpy.typing import NDArray
from pydantic import Field
from scipy import ndimage

from render import fields, ornament, seeds
from render.fields import Array, Grid
from render.layers.base import Coat, Length, Share, scaled
from render.seeds import Streams
from render.wall import Wall


class Stencil(Coat):
    """A coat through the openings of a stencil.

    The coverage is of the whole wall and met exactly: more swells the ornament, less starves it.
    """

    kind: Literal["stencil"] = "stencil"
    coverage: Annotated[
        Share, Field(description="Share of the wall that the print takes; the openings take a quarter to a third.")
    ] = "24 %"  # type: ignore[assignment]
    ornament: Annotated[
        Literal["ogee", "rosette", "trellis"],
        Field(description="Palmettes in a net of leaves, roses and crosses, or barred rings."),
    ] = "ogee"
    repeat: Annotated[Length, Field(description="Width of one repeat of the ornament.")] = "14 in"  # type: ignore[assignment]
    stray: Annotated[Length, Field(description="How far a sheet strays from its place.")] = "1/16 in"  # type: ignore[assignment]
    bleed: Annotated[Length, Field(description="How far colour creeps under the stencil's edge.")] = "0.02 in"  # type: ignore[assignment]
    dry: Annotated[
        Share, Field(description="How dry the brush was: more leaves the print thinner and more broken.")
    ] = "40 %"  # type: ignore[assignment]
    tool: Annotated[str, Field(max_length=80, description="The tool in your own words, for the layer list.")] = ""

    title: ClassVar[str] = "stencilled"
    tools: ClassVar[tuple[str, ...]] = ("stencil", "stencil brush", "low-tack tape", "spirit level")

    def words(self) -> str:
        """Return the layer's line."""
        return f"{self.ornament} stencil, {self.repeat:.3g} in repeat" + (f", {self.tool}" if self.tool else "")

    def apply(self, wall: Wall, streams: Streams) -> Wall:
        """Print the sheets; coverage and mean film are met exactly."""
        grid = wall.grid
        inside = self._inside(grid, streams) + self._creep(grid, streams)
        load = self._load(grid, streams)
        stipple = self._stipple(wall, streams)
        gave = np.float32(0.35) * load + stipple  # a starved brush misses a little more; above all it lays thinner
        place = np.minimum(inside, np.float32(0.05) * (gave + np.float32(2.0 - 1.5 * self.dry)))
        on = fields.cover(place, self.coverage)
        in_ = place - np.float32(fields.threshold(place, self.coverage))
        edge = np.clip(in_ * np.float32(grid.ppi) + 0.5, 0.12, 1.0)
        bead = 1.0 + 0.35 * np.exp(-np.maximum(in_, 0.0) / np.float32(0.02))
        film = np.where(on, edge * bead * np.exp(np.float32(self.dry) * (1.3 * load + 0.8 * stipple)), 0.0).astype(
            np.float32
        )
        return wall.add(self.stratum(scaled(film, self.mean_mil)))

    def _inside(self, grid: Grid, streams: Streams) -> Array:
        """Return inches inside the nearest opening, sheet by sheet, each a little off and turned."""
        tile = ornament.tile(self.ornament)
        wide = max(self.repeat, 1.0)
        tall = wide * tile.tall
        rows, cols = np.arange(math.ceil(grid.height_in / tall)), np.arange(math.ceil(grid.width_in / wide))
        r = np.minimum((grid.row_in / tall).astype(int), rows.size - 1)
        c = np.minimum((grid.col_in / wide).astype(int), cols.size - 1)

        def own(purpose: str) -> NDArray[np.float64]:
            return (seeds.hash_lattice(rows, cols, streams.key(purpose)) - 0.5)[np.ix_(r, c)]

        down = grid.row_in[:, None] - (r[:, None] + 0.5) * tall
        right = grid.col_in[None, :] - (c[None, :] + 0.5) * wide
        turn = own("turn") * 2.0 * min(self.stray / wide, 0.05)
        v = down + right * turn + own("down") * 2.0 * self.stray
        u = right - down * turn + own("right") * 2.0 * self.stray
        scale = tile.inside.shape[1] / wide
        field = np.pad(tile.inside, 1, mode="wrap")
        size = tile.inside.shape
        at_r = (v + tall / 2.0) * scale - 0.5
        at_c = (u + wide / 2.0) * scale - 0.5
        return fields.gather(field, at_r % size[0] + 1.0, at_c % size[1] + 1.0) * np.float32(wide)

    def _creep(self, grid: Grid, streams: Streams) -> Array:
        """Return how far colour crept under the edge, inches: mostly a hair, in places a tongue."""
        hair = fields.fbm(grid, 0.16, streams.key("hair"), 3, 0.7)
        tongue = np.maximum(fields.fbm(grid, 0.7, streams.key("tongue"), 4, 0.6) - 1.2, 0.0)
        return np.asarray(np.float32(self.bleed) * (0.35 * hair + 1.1 * tongue), np.float32)

    def _loads(self, plan: Grid, streams: Streams) -> Array:
        """Return how full the brush was for each motif, about unit variance, on the plan grid: half drop by half drop.

        Motifs stand at the corners and in the middle of a sheet; a place is given the load of the nearest.
        """
        wide = max(self.repeat, 1.0)
        tall = wide * ornament.tile(self.ornament).tall
        down, right = plan.row_in[:, None] / tall, plan.col_in[None, :] / wide
        corner = np.broadcast_arrays(np.rint(down), np.rint(right))
        middle = np.broadcast_arrays(np.floor(down) + 0.5, np.floor(right) + 0.5)
        off = [(down - r) ** 2 * (tall / wide) ** 2 + (right - c) ** 2 for r, c in (corner, middle)]
        near = off[0] <= off[1]
        row, col = (np.where(near, a, b) * 2.0 + 8192.0 for a, b in zip(corner, middle, strict=True))
        number = seeds.mix64((row * 65536.0 + col).astype(np.uint64))
        return np.asarray((seeds.hash_unit(number, streams.key("motif")) - 0.5) * 12.0**0.5, np.float32)

    def _load(self, grid: Grid, streams: Streams) -> Array:
        """Return how much colour the brush held, about unit variance: by motif, by areas and by dabs."""
        plan = grid.plan
        slow = 0.55 * fields.fbm(plan, 8.0, streams.key("load"), 3, 0.5) + 0.7 * self._loads(plan, streams)
        slow += 0.5 * fields.fbm(plan, 1.6, streams.key("dabs"), 3)
        return fields.resample(np.asarray(slow, np.float32), plan, grid)

    def _stipple(self, wall: Wall, streams: Streams) -> Array:
        """Return how much of it the wall took, about unit variance: stipple of all sizes, misses in hollows."""
        grid, plan = wall.grid, wall.grid.plan
        low = ndimage.uniform_filter(fields.resample(wall.height, grid, plan), 7, mode="nearest")
        proud = np.clip((wall.height - fields.resample(low, plan, grid)) * np.float32(0.3), -2.0, 1.0)
        fine = fields.fbm(grid, 0.45, streams.key("stipple"), 5, 0.75)
        return np.asarray(0.7 * fine + 0.75 * proud, np.float32)
