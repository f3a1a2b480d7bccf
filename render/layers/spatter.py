"""Spatter: colour flicked off a brush. Fine mist mostly, some drops, a few large ones with tails, each
with its drying ring.
"""

from __future__ import annotations

import math
from dataclasses import replace
from typing import ClassVar, Literal

import numpy as np
from numpy.typing import NDArray

from render import droplets, fields, flow
from render.fields import Array, Grid
from render.layers.base import Length, Share, Wash
from render.physics import wetting
from render.seeds import Streams
from render.wall import Wall

_RIM_IN = 0.5
_DRIED = 0.35
"""Share of a drop that dries while its edge is pinned, before it sets; chosen by eye."""


class Spatter(Wash):
    """Drops of a wet colour; ``coverage`` is the share of the wall under drops, ``largest`` the radius of
    the largest.
    """

    kind: Literal["spatter"] = "spatter"
    coverage: Share = "1.5 %"  # type: ignore[assignment]
    spread_at: Share | None = "100 %"  # type: ignore[assignment]
    largest: Length = "0.16 in"  # type: ignore[assignment]

    title: ClassVar[str] = "spattered"
    tools: ClassVar[tuple[str, ...]] = ("spatter brush",)

    def apply(self, wall: Wall, streams: Streams) -> Wall:
        """Return the wall with the drops on it, set where they are dry at their edges."""
        drops = _throw(wall.grid, self, streams)
        film = flow.share_out(_lie(wall.grid, drops, streams.key("edge")), self.mean_mil(wall))
        return wall.add(self.stratum(film, film * (0.2 + 0.5 * wall.thirst)))


def _throw(grid: Grid, layer: Spatter, streams: Streams) -> droplets.Drops:
    """Drops until the coverage is met: sizes log-normal with a long tail, thrown in clusters."""
    key = streams.key("drops")
    # mean drop area is about pi (.027 in)^2; three times as many as coverage needs are offered
    points = fields.scatter(grid, max(3.0 * layer.coverage / 0.0032, 0.05), key, margin_in=_RIM_IN)
    size = np.exp(-4.25 + 0.62 * points.normal(1)) + 0.05 * (points.unit(2) < 0.03) * np.exp(0.6 * points.normal(3))
    size = np.clip(size, 0.006, layer.largest)
    zone = fields.drift(grid.at(1.0), 9.0, streams.rng("zones"))
    turn = points.unit(4) + 0.3 * fields.gather(zone, points.row_in, points.col_in)
    tall = np.where(size > 0.045, 3.5 * points.unit(5) ** 3, 0.15 * points.unit(5))
    drops = droplets.Drops(points.row_in, points.col_in, size, tall, points.ids)
    return drops.where(turn <= droplets.until(grid.at(25.0), drops, turn, layer.coverage))


def _lie(grid: Grid, drops: droplets.Drops, key: int) -> Array:
    """Film of the drops, each with its own volume whatever the pixel, laid on a wall with a rim that is
    cut off again.
    """
    rim = math.ceil(_RIM_IN * grid.ppi)
    wide = Grid(grid.rows + 2 * rim, grid.cols + 2 * rim, grid.ppi)
    shift = rim / grid.ppi
    moved = replace(drops, row_in=drops.row_in + shift, col_in=drops.col_in + shift)
    fine = drops.radius * grid.ppi < 0.8
    film = _points(wide, moved.where(fine)) + _discs(wide, moved.where(~fine), key)
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


def _discs(grid: Grid, drops: droplets.Drops, key: int) -> NDArray[np.float64]:
    """Drops with their shape: ragged outline, tail, and pigment at the edge as far as each dried pinned."""
    outline = droplets.outlines(drops.ids, key, 0.14, 0.08)
    at = droplets.patches(grid, drops, outline, 1.0 + 0.7)
    inside = np.linspace(0.0, 1.0, 64)
    dense = np.diff(wetting.inside_share(inside, _DRIED)) / np.diff(inside**2)
    ring = np.interp(at.rho, 0.5 * (inside[1:] + inside[:-1]), dense)
    ring = 0.6 * ring + 2.2 * wetting.ring_share(_DRIED) * np.exp(-(((at.rho - 0.9) / 0.1) ** 2))
    soft = (drops.radius * grid.ppi)[at.drop]
    weight = np.clip((1.0 - at.rho) * soft + 0.5, 0.0, 1.0) * ring
    own = np.bincount(at.drop, weight, minlength=len(drops))
    whole = (_volume(drops) * grid.ppi**2 / np.maximum(own, 1e-9))[at.drop]
    return np.asarray(np.bincount(at.pixel, weight * whole, minlength=grid.rows * grid.cols), np.float64)
