"""Spatter: colour flicked off a brush. Fine mist mostly, some drops, a few large ones with tails, each
with its drying ring.
"""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Annotated, ClassVar, Literal

import numpy as np
from numpy.typing import NDArray
from pydantic import Field

from render import droplets, fields, flow
from render.fields import Array, Grid
from render.layers.base import Length, Share, Wash
from render.physics import wetting
from render.seeds import Streams
from render.wall import Wall

_RIM_IN = 0.5
_DRIED = 0.7
"""Share of a drop that dries while its edge is pinned, before it sets; chosen by eye."""


class Spatter(Wash):
    """Drops of a wet colour; ``coverage`` is the share of the wall under drops, ``largest`` the radius of
    the largest.
    """

    kind: Literal["spatter"] = "spatter"
    coverage: Annotated[Share, Field(description="Share of the wall under drops.")] = "1.5 %"  # type: ignore[assignment]
    spread_at: Annotated[Share | None, Field(description="Coverage at which the spread was measured.")] = "100 %"  # type: ignore[assignment]
    largest: Annotated[Length, Field(description="Radius of the largest drops.")] = "0.16 in"  # type: ignore[assignment]

    title: ClassVar[str] = "spattered"
    tools: ClassVar[tuple[str, ...]] = ("spatter brush",)

    @property
    def asked(self) -> float | None:
        """Not given as a coverage: most drops are finer than a pixel, so a picture cannot show what was
        achieved.
        """
        return None

    def achieved(self, before: Wall, after: Wall) -> float | None:
        """Return None: see ``asked``."""
        return None

    def words(self) -> str:
        """Return the layer's line in the list."""
        return f"spattered, about {100 * self.coverage:.2g} % of the wall under drops"

    def apply(self, wall: Wall, streams: Streams) -> Wall:
        """Return the wall with the drops on it, set where they are dry at their edges."""
        drops = _throw(wall.grid, self, streams)
        film = flow.share_out(_lie(wall.grid, drops, streams.key("edge")), self.mean_mil(wall))
        return wall.add(self.stratum(film, film * (0.2 + 0.5 * wall.thirst)))


def _throw(grid: Grid, layer: Spatter, streams: Streams) -> droplets.Drops:
    """Drops until the coverage is met: sizes log-normal with a long tail, thrown in clusters."""
    key = streams.key("drops")
    # mean drop area is about pi (.033 in)^2; three times as many as coverage needs are offered
    points = fields.scatter(grid, max(3.0 * layer.coverage / 0.0045, 0.05), key, margin_in=_RIM_IN)
    size = np.exp(-4.0 + 0.66 * points.normal(1)) + 0.05 * (points.unit(2) < 0.03) * np.exp(0.6 * points.normal(3))
    size = np.clip(size, 0.006, layer.largest)
    zone = fields.drift(grid.at(1.0), 9.0, streams.rng("zones"))
    turn = points.unit(4) + 0.3 * fields.gather(zone, points.row_in, points.col_in)
    tall = np.where((size > 0.05) & (points.unit(6) < 0.25), 1.8 * points.unit(5), 0.2 * points.unit(5))
    drops = droplets.Drops(points.row_in, points.col_in, size, tall, points.ids)
    area = np.pi * size**2 * (1.0 + 0.5 * tall)
    on_wall = (drops.row_in > 0) & (drops.row_in < grid.height_in)
    on_wall &= (drops.col_in > 0) & (drops.col_in < grid.width_in)
    order = np.argsort(turn)
    # randomly thrown drops of areas a leave exp(-sum a / wall) of the wall free
    filled = 1.0 - np.exp(-np.cumsum((area * on_wall)[order]) / (grid.height_in * grid.width_in))
    return drops.where(turn <= np.append(turn[order], np.inf)[np.searchsorted(filled, layer.coverage)])


def _lie(grid: Grid, drops: droplets.Drops, key: int) -> Array:
    """Film of the drops, each with its own volume whatever the pixel, laid on a wall with a rim that is
    cut off again.
    """
    rim = math.ceil(_RIM_IN * grid.ppi)
    wide = Grid(grid.rows + 2 * rim, grid.cols + 2 * rim, grid.ppi)
    shift = rim / grid.ppi
    moved = replace(drops, row_in=drops.row_in + shift, col_in=drops.col_in + shift)
    pixels = drops.radius * grid.ppi
    film = _points(wide, moved.where(pixels < 0.5))
    film += _discs(wide, moved.where((pixels >= 0.5) & (pixels < 4.0)), key, 3)
    film += _discs(wide, moved.where(pixels >= 4.0), key, 1)
    return film.reshape(wide.shape)[rim : rim + grid.rows, rim : rim + grid.cols].astype(np.float32)


def _volume(drops: droplets.Drops) -> NDArray[np.float64]:
    """Volume of each drop over a film of 1, in square inches: large drops lie thicker and were drawn out."""
    return np.pi * drops.radius**2 * (1.0 + 0.5 * drops.tall) * np.sqrt(drops.radius / 0.02)


def _points(grid: Grid, drops: droplets.Drops) -> NDArray[np.float64]:
    """Drops too fine for their shape to be seen, each laid on the four pixels about it."""
    film = np.zeros(grid.shape)
    volume = _volume(drops) * grid.ppi**2
    row = np.clip(drops.row_in * grid.ppi - 0.5, 0, grid.rows - 2)
    col = np.clip(drops.col_in * grid.ppi - 0.5, 0, grid.cols - 2)
    i, j = row.astype(np.int64), col.astype(np.int64)
    down, right = row - i, col - j
    for di, dj, share in ((0, 0, (1 - down) * (1 - right)), (0, 1, (1 - down) * right),
                          (1, 0, down * (1 - right)), (1, 1, down * right)):  # fmt: skip
        np.add.at(film, (i + di, j + dj), share * volume)
    return film.ravel()


def _discs(grid: Grid, drops: droplets.Drops, key: int, times: int) -> NDArray[np.float64]:
    """Drops with their shape, sampled ``times`` to the pixel: ragged outline, tail, and pigment at the
    edge.
    """
    fine = Grid(grid.rows * times, grid.cols * times, grid.ppi * times)
    at = droplets.patches(fine, drops, droplets.outlines(drops.ids, key, 0.06, 0.015), 1.7, taper=0.7)
    inside = np.linspace(0.0, 1.0, 64)
    dense = np.diff(wetting.inside_share(inside, _DRIED)) / np.diff(inside**2)
    ring = np.interp(at.rho, 0.5 * (inside[1:] + inside[:-1]), dense)
    # the ring's share of the pigment, over the area 2 x .85 x .14 sqrt(pi) of the band it stands in
    ring += wetting.ring_share(_DRIED) / 0.422 * np.exp(-(((at.rho - 0.85) / 0.14) ** 2))
    soft = (drops.radius * fine.ppi)[at.drop]
    weight = np.clip((1.0 - at.rho) * soft + 0.5, 0.0, 1.0) * ring
    own = np.bincount(at.drop, weight, minlength=len(drops))
    whole = (_volume(drops) * grid.ppi**2 / np.maximum(own, 1e-9))[at.drop]
    pixel = at.pixel // fine.cols // times * grid.cols + at.pixel % fine.cols // times
    return np.asarray(np.bincount(pixel, weight * whole, minlength=grid.rows * grid.cols), np.float64)
