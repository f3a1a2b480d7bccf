"""Spatter: colour flicked off a brush. Each flick of the wrist throws a fan or a line: a large drop, some dozens of
specks, the more the finer, drawn out along the throw. On a closed surface drops bead, dry with a ring, and the largest
run a little; a thirsty one drinks them.
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
from render.hand import Hand, drawn
from render.layers.base import Length, Share, Wash
from render.physics import wetting
from render.seeds import Streams
from render.wall import Wall

_RIM_IN = 0.5
_SHAPED = 1.2  # radius in pixels below which a drop's outline is not seen: it is round
_DRIED = 0.7
"""Share of a drop that dries while its edge is pinned, before it sets; chosen by eye."""


class _Hand(Hand):
    """What is thrown."""

    layer: Spatter

    @drawn
    def thrown(self) -> tuple[droplets.Drops, NDArray[np.float64]]:
        """The drops near the wall, and how many drops each stands for."""
        return _throw(self.grid, self.layer, self.streams)


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
        film = _lie(wall, *_Hand(self, wall.grid, streams).thrown, streams.key("edge"))
        film = flow.share_out(film, self.mean_mil)
        return wall.add(self.stratum(film, film * (0.15 + 0.3 * wall.thirst)))


_SPECKS = 44
_FLICK_IN2 = 0.055
"""Drops of a flick, and about the area that they cover together."""
_FINEST_IN, _STEEP = 0.0105, 1.9
"""Radius of the finest specks, and how steeply there are fewer of the larger: N(> r) as r to the minus that; by eye."""
_FLUNG = 2.7  # how far a drop is drawn out in flight at most; chosen by eye
_RUNS_IN = 0.09  # radius above which a drop runs on a closed surface; chosen by eye
_BREAKS_IN = 0.03  # radius above which specks break off a drop's tail; chosen by eye
_AT_A_TIME = 500  # drops whose pixels are held at once
_FLICKS_AT_A_TIME = 4096
_MOST_TO_A_PIXEL = 3.0
"""Specks, or flicks too fine to be seen: where there would be more, one in several is drawn and stands for all."""


def _throw(grid: Grid, layer: Spatter, streams: Streams) -> tuple[droplets.Drops, NDArray[np.float64]]:
    """Flicks until the coverage is met, more of them in some places than in others: the drops near the wall, and how
    many drops each stands for.
    """
    need = -math.log1p(-min(layer.coverage, 0.9999))  # randomly thrown drops of areas a leave exp(-sum a / wall) free
    flicks_to_a_pixel = max(need / _FLICK_IN2, 1e-9) / grid.ppi**2
    thrown = min(1.0, _MOST_TO_A_PIXEL / flicks_to_a_pixel) if layer.largest * grid.ppi < 0.5 else 1.0
    most = max(3.0 * layer.coverage / _FLICK_IN2, 0.02)
    points = fields.scatter(grid, most * thrown, streams.key("drops"), margin_in=14.0)
    slow = grid.at(min(1.0, 2.0 * grid.ppi))
    zone = fields.drift(slow, 12.0, streams.rng("zones"))
    turn = points.unit(4) + 0.7 * fields.gather(zone, points.row_in * slow.ppi, points.col_in * slow.ppi)
    seen = min(1.0, _MOST_TO_A_PIXEL / ((_SPECKS - 1) * flicks_to_a_pixel * thrown))
    specks = max(1, round((_SPECKS - 1) * seen))
    order = np.argsort(turn, kind="stable")
    parts: list[tuple[droplets.Drops, NDArray[np.float64]]] = []
    turns, filled, at = [], 0.0, 0
    while not parts or (at < order.size and filled < need):
        some = order[at : at + _FLICKS_AT_A_TIME]
        flicks = points.where(some)
        (fan, times), flick = _fan(droplets.Throws.of(flicks), layer.largest, specks, grid)
        parts.append((fan, times / thrown))
        turns.append(turn[some][flick] + 1e-6 * seeds.hash_unit(fan.ids, 9))
        filled += float(_covers(*parts[-1], grid).sum())
        at += some.size
    drops = droplets.Drops.joined([part[0] for part in parts])
    times, turn = np.concatenate([part[1] for part in parts]), np.concatenate(turns)
    order = np.argsort(turn)
    cut = np.searchsorted(np.cumsum(_covers(drops, times, grid)[order]), need)
    on = turn <= np.append(turn[order], np.inf)[cut]
    return drops.where(on), times[on]


def _covers(drops: droplets.Drops, times: NDArray[np.float64], grid: Grid) -> NDArray[np.float64]:
    """Area of the drops whose middle is on the wall, over the wall's."""
    on = (drops.row_in > 0) & (drops.row_in < grid.height_in) & (drops.col_in > 0) & (drops.col_in < grid.width_in)
    area = np.pi * drops.radius**2 * (1.0 + 0.5 * drops.tall) * times
    return area * on / (grid.height_in * grid.width_in)


def _fan(
    points: droplets.Throws, largest: float, specks: int, grid: Grid
) -> tuple[tuple[droplets.Drops, NDArray[np.float64]], NDArray[np.int64]]:
    """The drops of each flick that come near the wall and how many each stands for, and which flick threw each.

    Near the brush they are close together, farther out wider apart and drawn out along the throw. A flick is
    one large drop and ``specks`` of its 43 others.
    """
    reach = 2.5 + 10.0 * points.unit(2) ** 2
    off = np.maximum(np.abs(points.row_in - 0.5 * grid.height_in) - 0.5 * grid.height_in,
                     np.abs(points.col_in - 0.5 * grid.width_in) - 0.5 * grid.width_in)  # fmt: skip
    near = np.flatnonzero(off < reach + _RIM_IN)
    points = droplets.Throws(points.row_in[near], points.col_in[near], points.ids[near])
    way, reach = 2 * np.pi * points.unit(1), reach[near]
    spread, fill = 0.015 + 0.6 * points.unit(3) ** 3.5, 0.2 + 0.8 * points.unit(5) ** 2
    bend = 0.5 * points.normal(8)  # the wrist turns as the brush is flicked
    on = points.units(600, specks + 1) < fill  # (drops of a flick, flicks)
    on[0] = True
    number, flick = np.nonzero(on)
    own = droplets.Throws(points.row_in[flick], points.col_in[flick], points.ids[flick])
    purpose = number.astype(np.uint64)
    far = 0.1 + 0.9 * own.units_of(100 + purpose) ** 0.8
    swung = 0.5 * bend[flick] * far
    angle = way[flick] + spread[flick] * own.normals_of(200 + purpose) + swung
    row, col = own.row_in + far * reach[flick] * np.cos(angle), own.col_in + far * reach[flick] * np.sin(angle)
    on = (row > -_RIM_IN) & (row < grid.height_in + _RIM_IN) & (col > -_RIM_IN) & (col < grid.width_in + _RIM_IN)
    number, flick, purpose, far, angle = number[on], flick[on], purpose[on], far[on], (angle + swung)[on]
    own = droplets.Throws(row[on], col[on], own.ids[on])
    size = _FINEST_IN * np.maximum(1.0 - own.units_of(300 + purpose), 1e-9) ** (-1.0 / _STEEP)
    first = largest * (0.15 + 0.85 * points.unit(6) ** 2.5) * (points.unit(7) < 0.6)
    size = np.minimum(np.where(number == 0, np.maximum(size, first[flick]), size), largest)
    slant = own.units_of(500 + purpose)
    tall = (0.7 * slant + (_FLUNG - 0.7) * slant**8) * np.clip(2.0 * far, 0.3, 1.0)  # most a little, a few to a tail
    ids = seeds.mix64(own.ids + purpose + np.uint64(1))
    times = np.where(number == 0, 1.0, (_SPECKS - 1) / specks)
    return (droplets.Drops(own.row_in, own.col_in, size, tall, ids, angle), times), near[flick]


def _runs(drops: droplets.Drops, soak: NDArray[np.float64]) -> tuple[droplets.Drops, NDArray[np.int64]]:
    """What runs down out of some of the largest drops, a bead and the thread up to its drop, and which drop it is of.

    A drop that the wall drinks (``soak`` (n,), 0 to 1) runs less far or not at all.
    """
    luck = (seeds.hash_unit(drops.ids, 41) * (1.0 - soak) - 0.8) / 0.2
    of = np.flatnonzero((drops.radius > _RUNS_IN) & (luck > 0.0))
    size, ids = drops.radius[of], seeds.mix64(drops.ids[of])
    bead = size * (0.2 + 0.15 * seeds.hash_unit(ids, 1))
    far = size * (2.0 + 9.0 * luck[of] ** 2)
    aside = 0.4 * size * (seeds.hash_unit(ids, 2) - 0.5)
    row, col = drops.row_in[of] + far, drops.col_in[of] + aside
    return droplets.Drops(row, col, bead, (far - 0.85 * size) / bead, ids, np.full(of.size, np.pi)), of


def _satellites(drops: droplets.Drops) -> tuple[droplets.Drops, NDArray[np.int64]]:
    """Return specks that broke off the tails of drawn-out drops, in line with them, and which drop each is of."""
    of = np.flatnonzero(drops.radius > _BREAKS_IN)
    of = of[seeds.hash_unit(drops.ids[of], 51) < 0.25 + drops.tall[of]]
    of = np.repeat(of, 1 + (seeds.hash_unit(drops.ids[of], 52) < 0.35))
    nth = np.arange(of.size) - np.searchsorted(of, of)
    ids = seeds.mix64(drops.ids[of] + nth.astype(np.uint64) + np.uint64(7))
    size = drops.radius[of] * (0.18 + 0.22 * seeds.hash_unit(ids, 1)) * 0.7**nth
    far = drops.radius[of] * (1.25 + drops.tall[of] + (0.9 + nth) * seeds.hash_unit(ids, 2) + 0.6 * nth)
    way = drops.way[of] if drops.way is not None else np.zeros(of.size)
    lies = way + 0.15 * (seeds.hash_unit(ids, 3) - 0.5)
    row, col = drops.row_in[of] + far * np.cos(lies), drops.col_in[of] + far * np.sin(lies)
    return droplets.Drops(row, col, size, 0.5 * seeds.hash_unit(ids, 4), ids, way), of


def _outlines(drops: droplets.Drops, key: int, shaped: NDArray[np.bool_]) -> Array:
    """Return (n, angles) outlines: uneven as the wall is, and some of two drops that met and ran into one."""
    shape = droplets.outlines(drops.ids, key, 0.08, 0.02, shaped)
    met = np.flatnonzero(shaped & (drops.tall < 0.8))
    met = met[seeds.hash_unit(drops.ids[met], 61) < 0.2]
    angle = np.linspace(0.0, 2.0 * np.pi, shape.shape[1], endpoint=False)
    off = angle - 2.0 * np.pi * seeds.hash_unit(drops.ids[met], 62)[:, None]
    long = (0.12 + 0.28 * seeds.hash_unit(drops.ids[met], 63))[:, None]
    other = 0.5 * long * (2.0 * seeds.hash_unit(drops.ids[met], 64)[:, None] - 1.0)  # one is the larger
    shape[met] *= (1.0 + long * np.cos(2.0 * off) + other * np.cos(off) + 0.3 * other * np.cos(3.0 * off)) / np.sqrt(
        1.0 + 0.5 * long**2
    )
    return shape


def _lie(wall: Wall, drops: droplets.Drops, times: NDArray[np.float64], key: int) -> Array:
    """Film of the drops, each with its own volume whatever the pixel, laid on a wall with a rim that is
    cut off again; each stands for ``times`` drops.
    """
    grid, wet = wall.grid, flow.wet_lattice(wall.grid)
    thirst = fields.resample(wall.thirst, grid, wet)
    drinks = fields.gather(thirst, drops.row_in * wet.ppi - 0.5, drops.col_in * wet.ppi - 0.5)
    soak = np.clip((drinks - 0.15) / 0.4, 0.0, 1.0)
    (runs, of), (broken, off) = _runs(drops, soak), _satellites(drops)
    own = np.concatenate([np.arange(len(drops)), of, off])
    drops, times, soak = droplets.Drops.joined([drops, runs, broken]), times[own], soak[own]
    rim = math.ceil(_RIM_IN * grid.ppi)
    wide = Grid(grid.rows + 2 * rim, grid.cols + 2 * rim, grid.ppi)
    shift = rim / grid.ppi
    moved = replace(drops, row_in=drops.row_in + shift, col_in=drops.col_in + shift)
    volume, pixels = _volume(drops) * times * grid.ppi**2, drops.radius * grid.ppi
    fine = np.flatnonzero(pixels < 0.5)
    film = _points(wide, moved.where(fine), volume[fine])
    for low, high, finer in ((0.5, _SHAPED, 2), (_SHAPED, 4.0, 3), (4.0, np.inf, 1)):
        some = np.flatnonzero((pixels >= low) & (pixels < high))
        for part in np.array_split(some, 1 + some.size // _AT_A_TIME):
            _discs(wide, moved.where(part), volume[part], soak[part], key, finer, film)
    return film.reshape(wide.shape)[rim : rim + grid.rows, rim : rim + grid.cols].astype(np.float32)


def _volume(drops: droplets.Drops) -> NDArray[np.float64]:
    """Volume of each drop over a film of 1, in square inches: large drops lie thicker and were drawn out, and some
    were more dilute than others.
    """
    strength = np.exp(0.45 * (2.0 * seeds.hash_unit(drops.ids, 77) - 1.0))
    return np.pi * drops.radius**2 * (1.0 + 0.5 * drops.tall) * strength * (drops.radius / 0.02) ** 0.35


def _points(grid: Grid, drops: droplets.Drops, volume: NDArray[np.float64]) -> NDArray[np.float64]:
    """Drops too fine for their shape to be seen, each laid on the four pixels about it."""
    film = np.zeros(grid.rows * grid.cols)
    row = np.clip(drops.row_in * grid.ppi - 0.5, 0, grid.rows - 2)
    col = np.clip(drops.col_in * grid.ppi - 0.5, 0, grid.cols - 2)
    i, j = row.astype(np.int64), col.astype(np.int64)
    down, right, at = row - i, col - j, i * grid.cols + j
    upper, lower = volume * (1 - down), volume * down
    for step, part in ((0, upper), (grid.cols, lower)):
        np.add.at(film, at + step, part * (1 - right))
        np.add.at(film, at + step + 1, part * right)
    return film


def _discs(
    grid: Grid,
    drops: droplets.Drops,
    volume: NDArray[np.float64],
    soak: NDArray[np.float64],
    key: int,
    times: int,
    film: NDArray[np.float64],
) -> None:
    """Lay drops with their shape and volume (mil pixels) on a film, sampled ``times`` to the pixel: ragged outline,
    tail, and pigment at the edge but where the wall drank them (``soak`` (n,), 0 to 1), which leaves a soft edge.
    """
    fine = Grid(grid.rows * times, grid.cols * times, grid.ppi * times)
    shaped = drops.radius * grid.ppi > _SHAPED
    least = float(drops.radius.min(initial=np.inf)) * fine.ppi
    reach = 1.0 + 0.5 / min(max(least, 1.0), 2.0)  # as far as its soft edge goes: see ``sharp``
    thread = np.where(drops.tall > _FLUNG, 0.62, 0.88)  # what runs draws more after it than what flew
    at = droplets.patches(fine, drops, _outlines(drops, key, shaped), reach, taper=thread)
    drunk = soak.astype(np.float32)[at.drop]
    inside = np.linspace(0.0, 1.0, 64)
    dense = np.diff(wetting.inside_share(inside, _DRIED)) / np.diff(inside**2)
    ring = np.interp(at.rho, 0.5 * (inside[1:] + inside[:-1]), dense).astype(np.float32)
    # the ring's share of the pigment, over the area 2 x .85 x .14 sqrt(pi) of the band it stands in
    off = (at.rho - np.float32(0.85)) * np.float32(1 / 0.14)
    ring += np.float32(wetting.ring_share(_DRIED) / 0.422) * np.exp(-off * off)
    ring = ring * (1.0 - drunk) + drunk
    sharp = 1.0 / np.maximum(1.0 / (drops.radius * fine.ppi)[at.drop], 0.45 * drunk * drunk)
    if shaped.any():  # where drops ran into one, none of them has an edge
        ring *= np.exp(np.float32(5.0) * (droplets.deepest(at) - at.rho))
    weight = np.clip((1.0 - at.rho) * sharp + 0.5, 0.0, 1.0) * ring
    own = np.bincount(at.drop, weight, minlength=len(drops))
    whole = (volume / np.maximum(own, 1e-9))[at.drop]
    pixel = at.pixel // fine.cols // times * grid.cols + at.pixel % fine.cols // times
    np.add.at(film, pixel, weight * whole)
