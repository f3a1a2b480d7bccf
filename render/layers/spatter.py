"""Spatter: colour flicked off a brush. Each flick of the wrist throws a fan: one large drop, some dozens of specks,
tails along the throw. On a closed surface drops bead and dry with a ring; a thirsty one drinks them.
"""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Annotated, ClassVar, Literal

import numpy as np
from numpy.typing import NDArray
from pydantic import Field

from render import droplets, fields, flow, seeds
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
    while_wet: ClassVar[bool] = True

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
        film = flow.share_out(_lie(wall, drops, streams.key("edge")), self.mean_mil(wall))
        return wall.add(self.stratum(film, film * (0.15 + 0.3 * wall.thirst)))


_SPECKS = 44
_FLICK_IN2 = 0.11
"""Drops of a flick, and about the area that they cover together."""
_AT_A_TIME = 500  # drops whose pixels are held at once


def _throw(grid: Grid, layer: Spatter, streams: Streams) -> droplets.Drops:
    """Flicks until the coverage is met, more of them in some places than in others."""
    points = fields.scatter(grid, max(3.0 * layer.coverage / _FLICK_IN2, 0.02), streams.key("drops"), margin_in=14.0)
    zone = fields.drift(grid.at(1.0), 12.0, streams.rng("zones"))
    turn = points.unit(4) + 0.45 * fields.gather(zone, points.row_in, points.col_in)
    drops, flick = _fan(points, layer.largest)
    turn = turn[flick] + 1e-6 * seeds.hash_unit(drops.ids, 9)
    area = np.pi * drops.radius**2 * (1.0 + 0.5 * drops.tall)
    on_wall = (drops.row_in > 0) & (drops.row_in < grid.height_in)
    on_wall &= (drops.col_in > 0) & (drops.col_in < grid.width_in)
    order = np.argsort(turn)
    # randomly thrown drops of areas a leave exp(-sum a / wall) of the wall free
    filled = 1.0 - np.exp(-np.cumsum((area * on_wall)[order]) / (grid.height_in * grid.width_in))
    return drops.where(turn <= np.append(turn[order], np.inf)[np.searchsorted(filled, layer.coverage)])


def _fan(points: fields.Points, largest: float) -> tuple[droplets.Drops, NDArray[np.int64]]:
    """The drops of each flick, and which flick threw each: near the brush close together, farther out wider apart,
    finer and drawn out along the throw.
    """
    way, reach = 2 * np.pi * points.unit(1), 2.0 + 9.0 * points.unit(2) ** 2
    spread, fill = 0.12 + 0.5 * points.unit(3) ** 2, 0.25 + 0.75 * points.unit(5)
    parts, ids, flick = [], [], []
    for number in range(_SPECKS):
        far = 0.12 + 0.88 * points.unit(100 + number) ** 0.8
        angle = way + spread * points.normal(200 + number)
        size = np.exp(-4.05 + 0.5 * points.normal(300 + number) + 0.9 * (points.unit(400 + number) < 0.12))
        if number == 0:
            size = np.maximum(size, largest * (0.3 + 0.7 * points.unit(6)) * (points.unit(7) < 0.5))
        tall = 1.6 * points.unit(500 + number) ** 3 * np.clip(2.0 * far, 0.3, 1.0)
        on = points.unit(600 + number) < np.where(number == 0, 1.0, fill)
        row, col = points.row_in + far * reach * np.cos(angle), points.col_in + far * reach * np.sin(angle)
        parts.append(np.stack([row, col, np.clip(size, 0.006, largest), tall, angle])[:, on])
        ids.append(seeds.mix64(points.ids + np.uint64(number + 1))[on])
        flick.append(np.flatnonzero(on))
    row, col, size, tall, angle = np.concatenate(parts, 1)
    return droplets.Drops(row, col, size, tall, np.concatenate(ids), angle), np.concatenate(flick)


def _lie(wall: Wall, drops: droplets.Drops, key: int) -> Array:
    """Film of the drops, each with its own volume whatever the pixel, laid on a wall with a rim that is
    cut off again.
    """
    grid, plan = wall.grid, wall.grid.plan
    near = (drops.row_in > -_RIM_IN) & (drops.row_in < grid.height_in + _RIM_IN)
    near &= (drops.col_in > -_RIM_IN) & (drops.col_in < grid.width_in + _RIM_IN)
    drops = drops.where(near)
    thirst = fields.resample(wall.thirst, grid, plan)
    drinks = fields.gather(thirst, drops.row_in * plan.ppi - 0.5, drops.col_in * plan.ppi - 0.5)
    soak = np.clip((drinks - 0.15) / 0.4, 0.0, 1.0)
    rim = math.ceil(_RIM_IN * grid.ppi)
    wide = Grid(grid.rows + 2 * rim, grid.cols + 2 * rim, grid.ppi)
    shift = rim / grid.ppi
    moved = replace(drops, row_in=drops.row_in + shift, col_in=drops.col_in + shift)
    pixels = drops.radius * grid.ppi
    film = _points(wide, moved.where(pixels < 0.5))
    for low, high, times in ((0.5, 4.0, 3), (4.0, np.inf, 1)):
        some = np.flatnonzero((pixels >= low) & (pixels < high))
        for part in np.array_split(some, 1 + some.size // _AT_A_TIME):
            _discs(wide, moved.where(part), soak[part], key, times, film)
    return film.reshape(wide.shape)[rim : rim + grid.rows, rim : rim + grid.cols].astype(np.float32)


def _volume(drops: droplets.Drops) -> NDArray[np.float64]:
    """Volume of each drop over a film of 1, in square inches: large drops lie thicker and were drawn out, and some
    were more dilute than others.
    """
    strength = np.exp(0.45 * (2.0 * seeds.hash_unit(drops.ids, 77) - 1.0))
    return np.pi * drops.radius**2 * (1.0 + 0.5 * drops.tall) * strength * (drops.radius / 0.02) ** 0.35


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


def _discs(
    grid: Grid, drops: droplets.Drops, soak: NDArray[np.float64], key: int, times: int, film: NDArray[np.float64]
) -> None:
    """Lay drops with their shape on a film, sampled ``times`` to the pixel: ragged outline, tail, and pigment at the
    edge but where the wall drank them (``soak`` (n,), 0 to 1), which leaves a soft edge.
    """
    fine = Grid(grid.rows * times, grid.cols * times, grid.ppi * times)
    at = droplets.patches(fine, drops, droplets.outlines(drops.ids, key, 0.10, 0.02), 1.7, taper=0.7)
    drunk = soak.astype(np.float32)[at.drop]
    inside = np.linspace(0.0, 1.0, 64)
    dense = np.diff(wetting.inside_share(inside, _DRIED)) / np.diff(inside**2)
    ring = np.interp(at.rho, 0.5 * (inside[1:] + inside[:-1]), dense)
    # the ring's share of the pigment, over the area 2 x .85 x .14 sqrt(pi) of the band it stands in
    ring += wetting.ring_share(_DRIED) / 0.422 * np.exp(-(((at.rho - 0.85) / 0.14) ** 2))
    ring = ring * (1.0 - drunk) + drunk
    sharp = 1.0 / np.maximum(1.0 / (drops.radius * fine.ppi)[at.drop], 0.45 * drunk * drunk)
    weight = np.clip((1.0 - at.rho) * sharp + 0.5, 0.0, 1.0) * ring
    own = np.bincount(at.drop, weight, minlength=len(drops))
    whole = (_volume(drops) * grid.ppi**2 / np.maximum(own, 1e-9))[at.drop]
    pixel = at.pixel // fine.cols // times * grid.cols + at.pixel % fine.cols // times
    np.add.at(film, pixel, weight * whole)
