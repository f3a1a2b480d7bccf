"""Drops on a wall: their outlines and pixels, and the spots that alcohol opens in a wet film.

The film across a spot is solved in ``render.physics.wetting``; here it meets a wall, where drops overlap,
hang over the edge and catch on the relief. Each drop keeps the colour that it moves, to rounding.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from render import fields, seeds
from render.fields import Array, Grid
from render.flow import Bed
from render.physics import wetting

_ANGLES = 96
_SECTORS = 24
_SPREADS = 1.5  # mean power that narrows the solved rim: a drop spreads on, its rim grows no wider (by eye)
_SHAPED_IN = 0.07  # radius below which a drop is round: a pixel or two at the usual 25 px/in
Mask = NDArray[np.bool_]


@dataclass(frozen=True)
class Drops:
    """Drops on the wall, (n,) each: middle and radius in inches, ``tall`` how far a drop is drawn out
    downwards, or along ``way`` (radians from straight down toward the right) where that is given.

    ``ids`` uint64, for what chance gives each drop.
    """

    row_in: NDArray[np.float64]
    col_in: NDArray[np.float64]
    radius: NDArray[np.float64]
    tall: NDArray[np.float64]
    ids: NDArray[np.uint64]
    way: NDArray[np.float64] | None = None

    def __len__(self) -> int:
        """How many drops."""
        return len(self.radius)

    def where(self, on: NDArray[Any]) -> Drops:
        """The drops that are on."""
        way = None if self.way is None else self.way[on]
        return Drops(self.row_in[on], self.col_in[on], self.radius[on], self.tall[on], self.ids[on], way)


@dataclass(frozen=True)
class Patches:
    """The pixels about drops, (m,) each: ``pixel`` flat index, ``drop``, ``rho`` distance over the drop's
    own outline (1 on it), ``turn`` direction in turns (0..1)."""

    pixel: NDArray[np.int64]
    drop: NDArray[np.int64]
    rho: NDArray[np.float32]
    turn: NDArray[np.float32]


def patches(
    grid: Grid, drops: Drops, outline: Array, reach: float, *, ragged: Array | None = None, taper: float = 0.0
) -> Patches:
    """Return the pixels within ``reach`` radii of each drop.

    ``outline`` (n, angles) is each drop's radius about its mean, by direction; ``ragged`` (rows, cols)
    adds the wall's own unevenness to it; ``taper`` narrows drawn-out drops toward their lower end.
    """
    ppi = grid.ppi
    r0, c0 = drops.row_in * ppi - 0.5, drops.col_in * ppi - 0.5
    size = drops.radius * ppi * reach * outline.max(1, initial=1.0)
    drawn = size * (1 + drops.tall)
    back = size if drops.way is None else drawn
    aside = size if drops.way is None else drawn
    top = np.maximum(np.ceil(r0 - back), 0).astype(np.int64)
    low = np.minimum(np.floor(r0 + drawn), grid.rows - 1).astype(np.int64)
    left = np.maximum(np.ceil(c0 - aside), 0).astype(np.int64)
    right = np.minimum(np.floor(c0 + aside), grid.cols - 1).astype(np.int64)
    tall, wide = np.maximum(low - top + 1, 0), np.maximum(right - left + 1, 0)
    count = tall * wide
    drop = np.repeat(np.arange(len(drops)), count)
    within = np.arange(drop.size) - np.repeat(np.cumsum(count) - count, count)
    row, col = top[drop] + within // wide[drop], left[drop] + within % wide[drop]
    pixel = row * grid.cols + col
    down, over = (row - r0[drop]).astype(np.float32), (col - c0[drop]).astype(np.float32)
    if drops.way is not None:
        cos, sin = np.cos(drops.way).astype(np.float32)[drop], np.sin(drops.way).astype(np.float32)[drop]
        down, over = down * cos + over * sin, over * cos - down * sin
    down = np.where(down > 0, down / (1 + drops.tall[drop]), down).astype(np.float32)
    tail = np.maximum(down, 0.0) / np.maximum(size[drop], 1e-3) * np.minimum(drops.tall[drop], 1.5) * taper
    across = (over * (1.0 + tail)).astype(np.float32)
    turn = (np.arctan2(across, down) / np.float32(2 * np.pi)) % 1.0
    own = _around(outline.astype(np.float32), drop, turn)
    rho = np.sqrt(down * down + across * across) / (own * (drops.radius * ppi)[drop].astype(np.float32))
    if ragged is not None:
        rho = rho * (1.0 + ragged.ravel()[pixel])
    near = rho < reach
    return Patches(pixel[near], drop[near], rho[near].astype(np.float32), turn[near].astype(np.float32))


def _around(table: Array, drop: NDArray[np.int64], turn: Array) -> Array:
    """Read a table (n, angles) at directions in turns, linearly and all the way round."""
    place = turn * np.float32(table.shape[1])
    i = place.astype(np.int64) % table.shape[1]
    t = (place - np.floor(place)).astype(np.float32)
    return table[drop, i] * (1 - t) + table[drop, (i + 1) % table.shape[1]] * t


def until(plan: Grid, drops: Drops, turn: NDArray[np.float64], share: float) -> float:
    """The turn up to which drops must fall for their union to cover ``share`` of the wall, seen on the
    ``plan`` grid.
    """
    at = patches(plan, drops, np.ones((len(drops), 4), np.float32), 1.0)
    first = np.full(plan.rows * plan.cols, np.inf)
    np.minimum.at(first, at.pixel, turn[at.drop])
    count = min(round(share * first.size), first.size - 1)
    return float(np.partition(first, count)[count]) if count > 0 else -np.inf


def swallowed(plan: Grid, drops: Drops) -> Mask:
    """Which drops, (n,), lie with their middle inside one a quarter larger, seen on the ``plan`` grid: they open
    nothing of their own.
    """
    at = patches(plan, drops, np.ones((len(drops), 4), np.float32), 0.9)
    largest = np.zeros(plan.rows * plan.cols)
    np.maximum.at(largest, at.pixel, drops.radius[at.drop])
    row = np.clip((drops.row_in * plan.ppi).astype(np.int64), 0, plan.rows - 1)
    col = np.clip((drops.col_in * plan.ppi).astype(np.int64), 0, plan.cols - 1)
    return np.asarray(largest[row * plan.cols + col] > 1.25 * drops.radius, np.bool_)


def outlines(
    ids: NDArray[np.uint64], key: int, lobes: float = 0.10, teeth: float = 0.05, shaped: Mask | None = None
) -> Array:
    """Return (n, angles) outlines about 1, one for each id: a few low harmonics, and fine teeth.

    Drops that are not ``shaped`` (n,) stay round: those too fine to show it.
    """
    shape = np.ones((ids.size, _ANGLES), np.float32)
    on = np.ones(ids.size, bool) if shaped is None else shaped
    own, angle = ids[on], np.linspace(0, 2 * np.pi, _ANGLES, endpoint=False)
    m = np.arange(2, 8)
    chance = np.stack([seeds.hash_unit(own, key + n) for n in m.tolist()], 1)
    turn = 2 * np.pi * np.stack([seeds.hash_unit(own, key + 20 + n) for n in m.tolist()], 1)
    size = lobes * (chance + 0.3) * (2.0 / m) ** 1.3
    waves = (size * np.cos(turn)) @ np.cos(m[:, None] * angle) - (size * np.sin(turn)) @ np.sin(m[:, None] * angle)
    fine = _by_angle(own, key + 50) - 0.5
    fine = fine + 0.5 * (np.roll(fine, 1, 1) + np.roll(fine, -1, 1))
    shape[on] = np.clip(1.0 + waves + teeth * fine, 0.4, 2.0)
    return shape


def _by_angle(ids: NDArray[np.uint64], key: int) -> NDArray[np.float64]:
    """Uniform numbers in [0, 1) for each id and direction: (n, angles)."""
    way = seeds.mix64(np.arange(_ANGLES, dtype=np.uint64))
    return seeds.hash_unit(ids[:, None] ^ way[None, :], key)


@lru_cache(maxsize=1)
def spot_profile() -> tuple[Array, Array]:
    """Film over the undisturbed film, against radius over the rim's radius, of the spot that alcohol opens.

    Solved once by :func:`render.physics.wetting.open_spot` for a drop on .1 mm of thin glaze.
    """
    spot = wetting.open_spot(1e-4, 0.02, 2e-3, 0.08, feed=2e-3, reach=24e-3, cells=110)
    film, rim = spot.film / 1e-4, int(np.argmax(spot.film))
    film[: rim + 1] = np.minimum.accumulate(film[rim::-1])[::-1]  # what feeds the middle is alcohol, not colour
    return (spot.radius / spot.fronts[-1]).astype(np.float32), film.astype(np.float32)


def open_spots(bed: Bed, mobile: Sequence[Array], drops: Drops, key: int, strength: float = 1.0) -> list[Array]:
    """Let alcohol drops push the mobile films out of their middles into rims and feathers, exactly drop by
    drop.

    The film across a spot is that of :func:`spot_profile`; what leaves the middle lies in the rim and in
    feathers beyond it, in the direction in which it left.
    """
    if not len(drops):
        return list(mobile)
    grid = bed.grid
    mottle = fields.fbm(grid, 0.6, key + 900, 4, 0.66)
    drops = drops.where(_on_wall(drops, grid))
    large = drops.radius > _SHAPED_IN
    at = patches(grid, drops, outlines(drops.ids, key, 0.15, 0.05, shaped=large), 1.45, ragged=0.15 * mottle)
    vigour = np.clip(0.15 + 1.1 * seeds.hash_unit(drops.ids, key + 700), 0.0, 1.0).astype(np.float32)[at.drop]
    radius, ratio = spot_profile()
    narrow = (0.8 + (_SPREADS - 0.8) * 2.0 * seeds.hash_unit(drops.ids, key + 800)).astype(np.float32)[at.drop]
    film = np.interp(at.rho**narrow, radius, ratio).astype(np.float32)
    film *= np.exp((0.25 * mottle.ravel()[at.pixel] + 0.5 * at.rho**2 - 0.25) * (film < 0.9))
    lift = strength * vigour * (1.0 - np.minimum(film, 1.0) ** 3.5) * np.clip(1.15 - at.rho, 0, 0.12) / 0.12
    crowd = np.bincount(at.pixel, lift, minlength=grid.rows * grid.cols)
    lift = (lift * 0.97 / np.maximum(1.0, crowd[at.pixel])).astype(np.float32)
    rim = _ridge(at, drops, large, key) * _outside_others(at, vigour, grid)
    return [_displace(m, at, lift, rim, len(drops)) for m in mobile]


def _ridge(at: Patches, drops: Drops, large: Mask, key: int) -> Array:
    """Where what left a spot lies: a thin ridge, here strong and there gone, and feathers beyond it."""
    quills = np.full((len(drops), _ANGLES), 0.25, np.float32)
    quills[large] = _by_angle(drops.ids[large], key + 300) ** 2.5
    quills[large] *= np.clip(outlines(drops.ids[large], key + 400, 0.9, 0.0) - 0.35, 0.06, 2.0)
    quill = _around(quills, at.drop, at.turn)
    beyond = np.maximum(at.rho - 1.0, 0.0)
    rim = np.exp(-(((at.rho - 0.97) / 0.05) ** 2)) * (0.08 + quill)
    rim += 0.4 * quill * np.exp(-beyond / 0.14) * (at.rho > 0.97)
    return np.asarray(rim, np.float32)


def _outside_others(at: Patches, vigour: Array, grid: Grid) -> Array:
    """1 where no other drop opened the film, toward 0 inside one: spots that meet merge and keep one ridge."""
    inner = np.clip((1.0 - at.rho) / 0.2, 0.0, 1.0) * vigour
    all_of = np.bincount(at.pixel, inner, minlength=grid.rows * grid.cols)
    return np.asarray(np.exp(-4.0 * np.maximum(all_of[at.pixel] - inner, 0.0)), np.float32)


def _on_wall(drops: Drops, grid: Grid, reach: float = 2.5) -> Mask:
    """Which drops touch the wall: (n,)."""
    far = reach * drops.radius
    down = (drops.row_in > -far * (1 + drops.tall)) & (drops.row_in < grid.height_in + far)
    return down & (drops.col_in > -far) & (drops.col_in < grid.width_in + far)


def _displace(film: Array, at: Patches, lift: Array, weight: Array, count: int) -> Array:
    """Move a share of a film in each patch to where ``weight`` lies, by direction; each drop keeps its
    amount.
    """
    flat = film.ravel()
    taken = lift * flat[at.pixel]
    sector = (at.turn * _SECTORS).astype(np.int64) % _SECTORS
    by_way = np.bincount(at.drop * _SECTORS + sector, taken, minlength=count * _SECTORS).reshape(count, _SECTORS)
    soft = 0.5 * by_way + 0.25 * (np.roll(by_way, 1, 1) + np.roll(by_way, -1, 1))
    laid = weight * _around(soft.astype(np.float32), at.drop, (at.turn - 0.5 / _SECTORS) % 1.0)
    sums = np.bincount(at.drop, laid, minlength=count)
    whole = by_way.sum(1)
    seen = sums > 1e-6 * whole  # the rim of a drop finer than a pixel may meet none: such a drop changes nothing
    laid = laid * np.where(seen, whole / np.where(seen, sums, 1.0), 0.0)[at.drop]
    taken = taken * seen[at.drop]
    moved = flat + np.bincount(at.pixel, laid - taken, minlength=flat.size)
    return np.maximum(moved, 0.0).astype(np.float32).reshape(film.shape)
