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
from render.physics import wetting

_ANGLES = 96
_SECTORS = 24
_SPREADS = 1.5  # mean power that narrows the solved rim: a drop spreads on, its rim grows no wider (by eye)
_SHAPED_IN = 0.07  # radius below which a drop is round: a pixel or two at the usual 25 px/in
Mask = NDArray[np.bool_]
Floats = NDArray[np.float64]


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

    @classmethod
    def joined(cls, parts: Sequence[Drops]) -> Drops:
        """All drops of some parts, of which each has its ways or none has."""
        names = ["row_in", "col_in", "radius", "tall", "ids"]
        names += [] if not parts or parts[0].way is None else ["way"]
        return cls(*(np.concatenate([getattr(part, name) for part in parts]) for name in names))

    def where(self, on: NDArray[Any]) -> Drops:
        """The drops that are on."""
        way = None if self.way is None else self.way[on]
        return Drops(self.row_in[on], self.col_in[on], self.radius[on], self.tall[on], self.ids[on], way)


class Throws(fields.Points):
    """Places from each of which many drops are thrown: their chances are drawn for all at once."""

    @classmethod
    def of(cls, points: fields.Points) -> Throws:
        """The same places."""
        return cls(points.row_in, points.col_in, points.ids)

    def units(self, purpose: int, count: int) -> NDArray[np.float64]:
        """``unit`` for ``count`` purposes from ``purpose`` on: (count, n)."""
        return self.units_of(np.arange(purpose, purpose + count, dtype=np.uint64)[:, None])

    def normals(self, purpose: int, count: int) -> NDArray[np.float64]:
        """``normal`` for ``count`` purposes from ``purpose`` on: (count, n)."""
        return self.normals_of(np.arange(purpose, purpose + count, dtype=np.uint64)[:, None])

    def units_of(self, purposes: NDArray[np.uint64]) -> NDArray[np.float64]:
        """``unit`` for each point's own purpose, or for each of some purposes, by broadcasting."""
        return seeds.hash_unit(self.ids ^ purposes, 0)

    def normals_of(self, purposes: NDArray[np.uint64]) -> NDArray[np.float64]:
        """``normal`` for each point's own purpose, or for each of some purposes, by broadcasting."""
        u, v = 1.0 - self.units_of(purposes), seeds.hash_unit(self.ids ^ purposes, 0x5DEECE66D)
        u = np.sqrt(-2.0 * np.log(u, out=u), out=u)
        v *= 2.0 * np.pi
        u *= np.cos(v, out=v)
        return u


@dataclass(frozen=True)
class Patches:
    """The pixels about drops, (m,) each: ``pixel`` flat index, ``drop``, ``rho`` distance over the drop's
    own outline (1 on it), ``turn`` direction in turns (0..1)."""

    pixel: NDArray[np.int64]
    drop: NDArray[np.int64]
    rho: NDArray[np.float32]
    turn: NDArray[np.float32]


def patches(
    grid: Grid, drops: Drops, outline: Array, reach: float, *, ragged: Array | None = None, taper: Floats | None = None
) -> Patches:
    """Return the pixels within ``reach`` radii of each drop.

    ``outline`` (n, angles) is each drop's radius about its mean, by direction; ``ragged`` (rows, cols)
    adds the wall's own unevenness to it; ``taper`` (n,), 0 to 1, is how much narrower the tail of one well drawn out
    is.
    """
    most = (reach * outline.max(1, initial=1.0)).astype(np.float32)
    pixel, drop, down, over = _about(grid, drops, most)
    if taper is not None:
        over /= _tails(grid, drops, taper, drop, down)
    turn = np.arctan2(over, down)
    turn *= np.float32(0.5 / np.pi)
    turn += turn < 0
    down *= down
    over *= over
    down += over
    rho = np.sqrt(down, out=down)
    rho /= _around(outline, drop, turn) * (drops.radius * grid.ppi).astype(np.float32).take(drop)
    if ragged is not None:
        rho *= 1.0 + ragged.ravel().take(pixel)
    near = np.flatnonzero(rho < reach)
    return Patches(pixel.take(near), drop.take(near), rho.take(near), turn.take(near))


def deepest(at: Patches) -> Array:
    """Return the least ``rho`` of a drop and of those before and after it at the same pixel: (m,)."""
    order = np.argsort(at.pixel.astype(np.uint32), kind="stable")
    pixel, found = at.pixel.take(order), at.rho.copy()
    same = np.flatnonzero(pixel[1:] == pixel[:-1])
    both = order.take(same), order.take(same + 1)
    least = np.minimum(*(at.rho.take(one) for one in both))
    for one in both:
        np.minimum.at(found, one, least)
    return found


def _tails(grid: Grid, drops: Drops, taper: Floats, drop: NDArray[np.int64], down: Array) -> Array:
    """Return the width of drops over an ellipse's, ``down`` from their middles as if they were round: the round head of
    one well drawn out narrows to a thread within its own size.
    """
    thread = (np.clip(drops.tall / 1.2 - 0.25, 0.0, 1.0) * taper).astype(np.float32)
    neck = (-2.0 * (1.0 + drops.tall) / np.maximum(drops.radius * grid.ppi, 1e-3)).astype(np.float32)
    width = np.maximum(down, 0.0)
    width *= neck.take(drop)
    np.expm1(width, out=width)
    width *= thread.take(drop)
    width += np.float32(1.0)
    return width


def _beyond(drops: Drops) -> Sequence[Floats]:
    """Return how far drops reach up, down, left and right of their middles, (n,) each in radii: half a circle, and half
    an ellipse along their way.
    """
    way = np.zeros(len(drops)) if drops.way is None else drops.way
    cos, sin, one = np.cos(way), np.sin(way), np.ones(len(drops))
    along, across = (np.hypot((1.0 + drops.tall) * a, b) for a, b in ((cos, sin), (sin, cos)))
    return (
        np.where(cos < 0, along, one), np.where(cos > 0, along, one),
        np.where(sin < 0, across, one), np.where(sin > 0, across, one),
    )  # fmt: skip


def _about(grid: Grid, drops: Drops, most: Array) -> tuple[NDArray[np.int64], NDArray[np.int64], Array, Array]:
    """The pixels that may lie within ``most`` (n,) radii of each drop: flat index, drop, and how far they lie down and
    to the right of its middle, in pixels, as if it were round.
    """
    r0, c0 = drops.row_in * grid.ppi - 0.5, drops.col_in * grid.ppi - 0.5
    size = drops.radius * grid.ppi * most
    up, low, left, right = (size * one for one in _beyond(drops))
    top = np.maximum(np.ceil(r0 - up), 0).astype(np.int64)
    tall = np.maximum(np.minimum(np.floor(r0 + low), grid.rows - 1).astype(np.int64) - top + 1, 0)
    line = np.repeat(np.arange(len(drops)), tall)  # the drop that each of its rows of pixels belongs to
    row = np.arange(line.size) - (np.cumsum(tall) - tall - top)[line]
    if drops.way is None:  # a drop's rows end where the drop does
        far = row - r0[line]
        far = np.where(far > 0, far / (1 + drops.tall[line]), far) / np.maximum(size[line], 1e-9)
        before = after = size[line] * np.sqrt(np.maximum(1.0 - far * far, 0.0))
    else:
        before, after = left[line], right[line]
    left = np.maximum(np.ceil(c0[line] - before), 0).astype(np.int64)
    wide = np.maximum(np.minimum(np.floor(c0[line] + after), grid.cols - 1).astype(np.int64) - left + 1, 0)
    of = np.repeat(np.arange(line.size), wide)
    col = np.arange(of.size) - (np.cumsum(wide) - wide - left)[of]
    drop = line.take(of)
    down = (row - r0[line]).astype(np.float32).take(of)
    over = (col - c0[line].take(of)).astype(np.float32)
    if drops.way is not None:
        cos, sin = (f(drops.way).astype(np.float32).take(drop) for f in (np.cos, np.sin))
        down, over = down * cos + over * sin, over * cos - down * sin
    shorter = (1.0 / (1.0 + drops.tall)).astype(np.float32)
    np.multiply(down, shorter.take(drop), out=down, where=down > 0)
    return (row * grid.cols).take(of) + col, drop, down, over


def _round(grid: Grid, drops: Drops, reach: float) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """The pixels within ``reach`` radii of each drop as if it were round, flat index and drop."""
    pixel, drop, down, over = _about(grid, drops, np.full(len(drops), reach, np.float32))
    inside = down * down + over * over < ((drops.radius * (grid.ppi * reach)) ** 2).astype(np.float32).take(drop)
    return pixel[inside], drop[inside]


def _around(table: Array, drop: NDArray[np.int64], turn: Array) -> Array:
    """Read a table (n, angles) at directions in turns, linearly and all the way round."""
    angles = table.shape[1]
    closed = np.concatenate([table, table[:, :2]], 1).astype(np.float32, copy=False).ravel()
    place = turn * np.float32(angles)
    i = place.astype(np.int64)
    t = place - i.astype(np.float32)
    i += drop * (angles + 2)
    here = closed.take(i)
    i += 1
    return here + (closed.take(i) - here) * t


def until(plan: Grid, drops: Drops, turn: NDArray[np.float64], share: float) -> float:
    """The turn up to which drops must fall for their union to cover ``share`` of the wall, seen on the
    ``plan`` grid.
    """
    pixel, drop = _round(plan, drops, 1.0)
    first = np.full(plan.rows * plan.cols, np.inf)
    np.minimum.at(first, pixel, turn[drop])
    count = min(round(share * first.size), first.size - 1)
    return float(np.partition(first, count)[count]) if count > 0 else -np.inf


def swallowed(plan: Grid, drops: Drops) -> Mask:
    """Which drops, (n,), lie with their middle inside one a quarter larger, seen on the ``plan`` grid: they open
    nothing of their own.
    """
    pixel, drop = _round(plan, drops, 0.9)
    largest = np.zeros(plan.rows * plan.cols)
    np.maximum.at(largest, pixel, drops.radius[drop])
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


@dataclass(frozen=True, eq=False)
class Spots:
    """What drops of alcohol do to a film, whatever lies there: (m,) for each of ``at``.

    ``lift`` is the share of the film that leaves, ``rim`` how strongly a place draws what left; ``count`` drops.
    """

    at: Patches
    lift: Array
    rim: Array
    count: int


def spots(grid: Grid, drops: Drops, key: int, strength: float = 1.0) -> Spots:
    """Return the spots that drops open.

    The film across a spot is that of :func:`spot_profile`; what leaves the middle lies in the rim and in
    feathers beyond it, in the direction in which it left.
    """
    mottle = fields.grain(grid, 0.6, key + 900, 4, 0.66)
    drops = drops.where(_on_wall(drops, grid))
    large = drops.radius > np.maximum(_SHAPED_IN, 0.8 / grid.ppi)
    at = patches(grid, drops, outlines(drops.ids, key, 0.15, 0.05, shaped=large), 1.45, ragged=0.15 * mottle)
    vigour = np.clip(0.15 + 1.1 * seeds.hash_unit(drops.ids, key + 700), 0.0, 1.0).astype(np.float32).take(at.drop)
    narrow = (0.8 + (_SPREADS - 0.8) * 2.0 * seeds.hash_unit(drops.ids, key + 800)).astype(np.float32).take(at.drop)
    film = _film_at(at.rho**narrow)
    feathered = np.float32(0.25) * mottle.ravel().take(at.pixel)
    feathered += np.float32(0.5) * at.rho * at.rho
    feathered -= np.float32(0.25)
    feathered *= film < np.float32(0.9)
    film *= np.exp(feathered, out=feathered)
    np.clip(film, 0.0, 1.0, out=film)
    edge = np.clip(np.float32(1.15) - at.rho, 0.0, 0.12)
    edge *= np.float32(strength / 0.12) * vigour
    lift = edge - edge * film * film * film * np.sqrt(film)
    crowd = np.zeros(grid.rows * grid.cols, np.float32)
    np.add.at(crowd, at.pixel, lift)
    lift *= np.float32(0.97)
    lift /= np.maximum(crowd.take(at.pixel), np.float32(1.0))
    rim = _ridge(at, drops, large, key) * _outside_others(at, vigour, grid)
    return Spots(at, lift, rim, len(drops))


def open_spots(mobile: Sequence[Array], spots: Spots) -> list[Array]:
    """Let drops push the mobile films out of their middles into rims and feathers, exactly drop by drop."""
    return [_displace(one, spots) for one in mobile] if spots.count else list(mobile)


_FINE = 2000.0  # places of the profile's table to a radius: steps of the film are far below what is seen


def _film_at(radius: Array) -> Array:
    """Film over the undisturbed film at radii over the rim's: :func:`spot_profile`, read off a fine table."""
    at, ratio = spot_profile()
    place = np.arange(round(_FINE * float(at[-1])) + 1) / _FINE
    table = np.interp(place, at, ratio).astype(np.float32)
    return table.take((radius * np.float32(_FINE)).astype(np.int64), mode="clip")


def _ridge(at: Patches, drops: Drops, large: Mask, key: int) -> Array:
    """Where what left a spot lies: a thin ridge, here strong and there gone, and feathers beyond it."""
    quills = np.full((len(drops), _ANGLES), 0.25, np.float32)
    quills[large] = _by_angle(drops.ids[large], key + 300) ** 2.5
    quills[large] *= np.clip(outlines(drops.ids[large], key + 400, 0.9, 0.0) - 0.35, 0.06, 2.0)
    quill = _around(quills, at.drop, at.turn)
    beyond = np.maximum(at.rho - 1.0, 0.0)
    rim = np.exp(-(((at.rho - np.float32(0.97)) / np.float32(0.05)) ** 2)) * (np.float32(0.08) + quill)
    quill *= at.rho > np.float32(0.97)
    rim += np.float32(0.4) * quill * np.exp(beyond / np.float32(-0.14))
    return rim


def _outside_others(at: Patches, vigour: Array, grid: Grid) -> Array:
    """1 where no other drop opened the film, toward 0 inside one: spots that meet merge and keep one ridge."""
    inner = np.clip((1.0 - at.rho) / 0.2, 0.0, 1.0) * vigour
    all_of = np.zeros(grid.rows * grid.cols, np.float32)
    np.add.at(all_of, at.pixel, inner)
    others = all_of.take(at.pixel)
    others -= inner
    np.clip(others, 0.0, np.inf, out=others)
    others *= np.float32(-4.0)
    return np.exp(others, out=others)


def _on_wall(drops: Drops, grid: Grid, reach: float = 2.5) -> Mask:
    """Which drops touch the wall: (n,)."""
    far = reach * drops.radius
    down = (drops.row_in > -far * (1 + drops.tall)) & (drops.row_in < grid.height_in + far)
    return down & (drops.col_in > -far) & (drops.col_in < grid.width_in + far)


def _displace(film: Array, spots: Spots) -> Array:
    """Move what leaves each spot's middle to its rim, by direction; each drop keeps its amount."""
    at, count = spots.at, spots.count
    taken = spots.lift * film.ravel().take(at.pixel)
    sector = np.minimum((at.turn * np.float32(_SECTORS)).astype(np.int64), _SECTORS - 1)
    sector += at.drop * _SECTORS
    by_way = np.bincount(sector, taken, minlength=count * _SECTORS).reshape(count, _SECTORS)
    soft = 0.5 * by_way + 0.25 * (np.roll(by_way, 1, 1) + np.roll(by_way, -1, 1))
    toward = at.turn - np.float32(0.5 / _SECTORS)
    toward += toward < 0
    laid = spots.rim * _around(soft.astype(np.float32), at.drop, toward)
    sums = np.bincount(at.drop, laid, minlength=count)
    whole = by_way.sum(1)
    seen = sums > 1e-6 * whole  # the rim of a drop finer than a pixel may meet none: such a drop changes nothing
    laid *= np.where(seen, whole / np.where(seen, sums, 1.0), 0.0).astype(np.float32).take(at.drop)
    laid -= taken * seen.take(at.drop)
    moved = film.flatten()
    np.add.at(moved, at.pixel, laid)
    moved[at.pixel] = np.maximum(moved.take(at.pixel), 0.0)
    return moved.reshape(film.shape)
