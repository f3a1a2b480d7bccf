"""Cracks of a drying film: how wide they stand open, and what happens beside them.

A crack of the net is as wide as the film shrank and slid (``SpacingMap.opening``), older cracks wider than younger
ones. Along one crack the width varies about threefold and its two lips match without being identical. Some cracks end
blind inside a cell, some run double round an island, and where two meet a crumb is often lost.

All lengths are inches on the wall, rows before columns.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from render import seeds
from render.physics.crack_courses import along, four_of
from render.physics.crack_division import (
    C8,
    F4,
    F8,
    I4,
    I8,
    U8,
    Division,
    Shapes,
    SpacingMap,
)

FINEST = 3
"""Points to one of the division's at the finest: waves and grains below the draft's pixels are opened only then."""
_AGE, _WIDE, _RIPPLE, _LIP, _CRUMB, _BLIND, _ISLAND = range(21, 28)
_ISLAND_IN = 0.125  # an island spans this far to each side, where it fits
_LEAST_ISLAND_IN = 0.35  # shortest crack with an island
_RIPPLE_IN = 0.07  # wave in a crack's course shorter than the division's: a crack runs from grain to grain
_SMOOTH_IN = 0.05  # a crack's direction is taken over so much to each side
_SWELLS, _SWELLS_PER_SPACING = 1 << 14, 24  # values of how wide cracks stand, read at the nearest
_ROUND_IN = 1.0  # cracks are opened this far round the window


@dataclass(frozen=True)
class Strands:
    """Open cracks as strokes: flat points with the two half widths there.

    Attributes
    ----------
    start
        Offsets (strands + 1,).
    points
        (n, 2); float32 once all strands are joined, as the rest.
    left, right
        Distance of each lip from the point, (n,): left is towards falling columns when the strand runs down.
    depth
        Share of the film that the crack goes through, 0 to 1, (n,).
    aside
        Unit vectors from the left lip to the right one, (n, 2), smoothed so that neighbours do not cross.
    """

    start: NDArray[np.int64]
    points: NDArray[np.floating]
    left: NDArray[np.floating]
    right: NDArray[np.floating]
    depth: NDArray[np.floating]
    aside: NDArray[np.floating]


@dataclass(frozen=True)
class Cells:
    """The pieces of film between the cracks.

    Attributes
    ----------
    name
        uint64 (n,): the same cell has the same name in every window.
    shape
        Area, centre, long axis and aspect.
    size
        Square root of the area, inches.
    slip, opening
        The map's values at the centre.
    start, ring
        Rings of points of the division, as there.
    """

    name: U8
    shape: Shapes
    size: F8
    slip: F8
    opening: F8
    start: I4
    ring: I4


@dataclass(frozen=True)
class Net:
    """A crack net: ``points`` shared by the cells, the ``cells``, and the ``strands`` to be drawn."""

    points: F8
    cells: Cells
    strands: Strands


def open_cracks(
    division: Division, map_: SpacingMap, window: tuple[float, float, float, float], finer: int = FINEST
) -> Net:
    """Return the net of a division, its cracks opened as the map says, as far as they come near a window.

    A crack is never wider than a sixth of the smaller cell beside it. ``finer`` is the number of points to one of the
    division's, 1 to ``FINEST``: with fewer, what a coarse picture cannot show is left out.
    """
    shape = division.cell_shape
    size = np.sqrt(shape.area)
    cells = Cells(
        division.cell_id, shape, size, map_.at("slip", shape.centre), map_.at("opening", shape.centre),
        division.cell_start, division.cell_points,
    )  # fmt: skip
    reach = _reach(division, window, finer)
    main = _main_strands(division, reach, map_, _room(division, size))
    parts = [main, _islands(division, reach, main), _blind_ends(division, cells, map_, 4 * finer + 1)]
    return Net(division.points, cells, _joined(parts))


def _room(division: Division, size: F8) -> F4:
    """Return the size of the smallest cell beside each point."""
    room = np.full(len(division.points), 1e6, np.float32)
    np.minimum.at(room, division.cell_points, np.repeat(size.astype(np.float32), np.diff(division.cell_start)))
    return room


def _joined(parts: list[Strands]) -> Strands:
    """Put strands one after the other."""
    ends, at = [np.zeros(1, np.int64)], 0
    for one in parts:
        ends.append(one.start[1:] + at)
        at += len(one.points)

    def gathered(name: str) -> F4:
        return np.concatenate([getattr(one, name).astype(np.float32, copy=False) for one in parts])

    return Strands(np.concatenate(ends), *(gathered(name) for name in ("points", "left", "right", "depth", "aside")))


def _normal(name: U8, purpose: int) -> F8:
    """Return a bell-shaped number of unit variance for each name: the sum of three uniform ones."""
    return np.asarray(2.0 * sum(seeds.hash_unit(name, purpose + 1000 * k) for k in range(3)) - 3.0)


def _pairs(values: NDArray[np.complexfloating]) -> F4:
    """Return (n, 2) of row + i column."""
    return values.astype(np.complex64, copy=False).view(np.float32).reshape(-1, 2)


@lru_cache(maxsize=1)
def _swells() -> F4:
    """Return by how much cracks swell and shrink along their way: a closed round of values, read from any place on.

    Round waves of a little below the spacing, kinked ones a quarter as long.
    """
    place = (np.arange(_SWELLS) + 0.5) / _SWELLS
    swell = np.zeros(_SWELLS)
    for octave, wave in enumerate((0.9, 0.25)):
        many = round(_SWELLS / _SWELLS_PER_SPACING / wave)
        value = 2.0 * seeds.hash_unit(np.arange(many, dtype=np.uint64), _WIDE + 1000 * octave) - 1.0
        node, f = np.divmod(place * many, 1.0)
        f = f if octave else f * f * (3.0 - 2.0 * f)
        here = node.astype(np.int64)
        swell += value[here] * (1.0 - f) + value[(here + 1) % many] * f
    return np.exp(0.5 * swell).astype(np.float32)


@dataclass(frozen=True)
class _Knots:
    """The division's points of cracks near a window, and where finer points lie between them.

    ``crack`` is the number of each point's crack, ``number`` its place in it; ``point`` its number in the division;
    ``start`` the offsets of unbroken pieces. Between a knot and the next lie ``finer`` points, itself the first; none
    after a piece's last.
    """

    crack: I8
    number: I8
    point: I8
    start: I8
    finer: int

    @property
    def between(self) -> tuple[I8, I8, NDArray[np.bool_]]:
        """The knots before and after, (n,), the rim repeated, and which of (n, finer) points there are."""
        here = np.arange(len(self.crack))
        last, first = np.zeros(len(here), bool), np.zeros(len(here), bool)
        last[self.start[1:] - 1] = first[self.start[:-1]] = True
        real = np.ones((len(here), self.finer), bool)
        real[last, 1:] = False
        return here - ~first, here + ~last, real

    def line(self, values: F4) -> F4:
        """Return values at all points, linear between the knots; ``values`` is float32 (n,)."""
        if self.finer == 1:
            return values
        _, after, real = self.between
        share = np.arange(self.finer, dtype=np.float32) / np.float32(self.finer)
        return np.asarray((values[:, None] + (values[after] - values)[:, None] * share)[real])

    def curve(self, values: C8) -> C8:
        """Return places at all points, on cubics through the knots (Catmull & Rom 1974)."""
        if self.finer == 1:
            return values
        before, after, real = self.between
        beyond = after[after]
        out = np.empty(real.shape, np.complex64)
        out[:, 0] = values
        for k in range(1, self.finer):
            t = k / self.finer
            weights = (-t + 2 * t**2 - t**3, 2 - 5 * t**2 + 3 * t**3, t + 4 * t**2 - 3 * t**3, t**3 - t**2)
            knots = (values[before], values, values[after], values[beyond])
            out[:, k] = 0.5 * sum(weight * knot for weight, knot in zip(weights, knots, strict=True))
        return np.asarray(out[real])


@dataclass(frozen=True)
class _Reach:
    """The dividing cracks near a window, with all their points.

    ``length`` is each crack's. One row a point: ``crack`` is the number of its crack, ``arc`` and ``rest`` the way
    along it from its begin and to its end. ``start`` are the offsets of unbroken pieces, ``place`` the number here of
    each of the division's crack points, or -1.
    """

    knots: _Knots
    points: C8
    aside: C8
    length: F4
    crack: I8
    arc: F4
    rest: F4
    start: I8
    place: I4


def _knots(division: Division, window: tuple[float, float, float, float], finer: int) -> tuple[_Knots, I8]:
    """Keep the crack points in a window and an inch round it; also return their numbers among all crack points."""
    start = division.crack_start.astype(np.int64)
    r, c = division.points.T
    near = (r > window[0] - _ROUND_IN) & (r < window[2] + _ROUND_IN)
    near &= (c > window[1] - _ROUND_IN) & (c < window[3] + _ROUND_IN)
    seen = near.take(division.crack_points)
    flat = np.flatnonzero(seen)
    count = np.add.reduceat(seen, start[:-1], dtype=np.int64)
    crack = np.repeat(np.arange(len(count)), count)
    begins = seen.copy()
    begins[1:] &= ~seen[:-1]
    begins[start[:-1]] = seen[start[:-1]]
    starts = np.append(np.flatnonzero(begins.take(flat)), len(flat))
    point = division.crack_points[flat].astype(np.int64)
    return _Knots(crack, flat - start[crack], point, starts, finer), flat


def _reach(division: Division, window: tuple[float, float, float, float], finer: int) -> _Reach:
    """Return the cracks near a window, with the waves that the division left out as far as ``finer`` shows them."""
    knots, flat = _knots(division, window, finer)
    whole = division.points.view(np.complex64)[:, 0]
    first, last = division.crack_points[division.crack_start[:-1]], division.crack_points[division.crack_start[1:] - 1]
    length = np.abs(whole[last] - whole[first])
    pieces = np.diff(division.crack_start) - 1
    step = (length / pieces)[knots.crack]
    arc = knots.line((knots.number * step).astype(np.float32))
    rest = knots.line(((pieces[knots.crack] - knots.number) * step).astype(np.float32))
    begin = knots.start - np.arange(len(knots.start))
    start = begin * finer + np.arange(len(begin))
    place = np.full(len(division.crack_points), -1, np.int32)
    place[flat] = np.arange(len(flat), dtype=np.int32)
    if finer > 1:
        place[flat] += (finer - 1) * (place[flat] - np.repeat(np.arange(len(start) - 1), np.diff(knots.start)))
    crack = knots.crack if finer == 1 else knots.crack[np.repeat(np.arange(len(flat)), knots.between[2].sum(axis=1))]
    points = knots.curve(whole[knots.point])
    aside = _aside(points, start, max(1, round(_SMOOTH_IN * finer / division.step_in)))
    reach = _Reach(knots, points, aside, length.astype(np.float32), crack, arc, rest, start, place)
    return reach if finer == 1 else _strayed(division, reach, flat)


def _strayed(division: Division, reach: _Reach, flat: I8) -> _Reach:
    """Return the cracks with their short waves. Where a crack ends on another it follows that one's."""
    knots, length, per_wave = reach.knots, reach.length, np.float32(1.0 / _RIPPLE_IN)
    still = np.minimum(np.minimum(reach.arc, reach.rest) * per_wave, np.float32(1.0))
    high = (0.8 * _RIPPLE_IN * division.crack_sway).astype(np.float32)
    ripple = _Tabled(division.crack_id, length * per_wave, 3, _RIPPLE, True).at(reach.crack, reach.arc * per_wave)
    stray = reach.aside * (ripple * still * high[reach.crack])
    moved = np.zeros(len(division.points), np.complex64)
    inner = np.flatnonzero((knots.number > 0) & (reach.rest[reach.place[flat]] > 0))
    moved[knots.point[inner]] = stray[reach.place[flat[inner]]]
    ends = division.crack_points[division.crack_start[:-1]], division.crack_points[division.crack_start[1:] - 1]
    step = (length / (np.diff(division.crack_start) - 1)).astype(np.float32)
    for end, away in zip(ends, (reach.arc, reach.rest), strict=True):
        near = np.flatnonzero(away < step[reach.crack])
        crack = reach.crack[near]
        stray[near] += moved[end[crack]] * (np.float32(1.0) - away[near] / step[crack])
    return replace(reach, points=reach.points + stray)


def _aside(points: C8, start: I8, reach: int) -> C8:
    """Return unit normals of strands, over some points to each side."""
    run = np.zeros_like(points)
    np.subtract(points[2 * reach :], points[: -2 * reach], out=run[reach:-reach])
    first, last, by = start[:-1, None], start[1:, None] - 1, np.arange(reach)
    rim = np.concatenate([np.minimum(first + by, last), np.maximum(last - by, first)], axis=1)
    run[rim] = points[np.minimum(rim + reach, last)] - points[np.maximum(rim - reach, first)]
    scale = np.float32(1.0) / np.maximum(np.abs(run), np.float32(1e-12))
    aside = np.empty_like(run)
    np.multiply(run.imag, -scale, out=aside.real)
    np.multiply(run.real, scale, out=aside.imag)
    return aside


class _Tabled:
    """``along`` for many points of a few cracks: each crack's values are hashed once."""

    def __init__(self, name: U8, most: F8, octave: int, purpose: int, kinked: bool) -> None:
        """Hash the values of cracks up to ``most`` wavelengths long."""
        hashes = (most.astype(np.int64) + 6) // 4  # each is good for four nodes
        first = np.cumsum(hashes) - hashes
        node = np.arange(int(hashes.sum())) - np.repeat(first, hashes)
        self._first, self._values = 4 * first, four_of(np.repeat(name, hashes), node * 64 + octave, purpose)
        self._values *= np.float32(2.0)
        self._kinked = kinked

    def at(self, which: I8, place: F4) -> F4:
        """Return the noise at places (wavelengths) of cracks."""
        node = place.astype(np.int64)
        f = place - node.astype(np.float32)
        if not self._kinked:
            f *= f * (np.float32(3.0) - np.float32(2.0) * f)
        node += self._first[which]
        value = self._values[node]
        return value + (self._values[node + 1] - value) * f


def _main_strands(division: Division, reach: _Reach, map_: SpacingMap, room: F4) -> Strands:
    """Return the dividing cracks with their widths."""
    older = np.clip(0.62 + 0.17 * np.log2(division.crack_cells), 0.55, 1.9)
    older *= np.exp(0.3 * _normal(division.crack_id, _AGE))
    middle = division.crack_points[(division.crack_start[:-1] + division.crack_start[1:]) // 2]
    per_inch = (1.0 / map_.at("spacing", division.points[middle])).astype(np.float32)
    knots, crack = reach.knots, reach.crack
    width = map_.at("opening", division.points[knots.point])
    width *= (0.5 * older).astype(np.float32)[knots.crack]
    half = knots.line(width)
    most = reach.length * per_inch
    way = reach.arc * per_inch[crack]
    at = (way * np.float32(_SWELLS_PER_SPACING)).astype(np.int64)
    at += (division.crack_id >> np.uint64(40)).astype(np.int64)[crack]
    at &= _SWELLS - 1
    half *= _swells().take(at)
    np.minimum(half, knots.line(room[knots.point] * np.float32(0.5 / 6.0)), out=half)
    if knots.finer < FINEST:
        left, right = half, half.copy()
    else:
        left, right = _lips(division.crack_id, crack, reach.arc, way, most, half)
    for end, away in ((0, reach.arc), (1, reach.rest)):
        _lose(division, map_, end, (crack, away, half), (left, right))
    depth = np.clip(older, 0.5, 1.0).astype(np.float32)[crack]
    return Strands(reach.start, _pairs(reach.points), left, right, depth, _pairs(reach.aside))


def _lips(name: U8, crack: I8, arc: F4, way: F4, most: F4, half: F4) -> tuple[F4, F4]:
    """Return the lips' distances from the crack's middle: matched, but each with grain of its own.

    ``arc`` is the way along the crack in inches, ``way`` the same in spacings (taken where the crack has its middle).
    """
    own = 0.22 * half * _Tabled(name, most / 0.2, 2, _LIP, True).at(crack, way * np.float32(5.0))
    grain = np.minimum(0.0025, 0.35 * half)
    point = name[crack] + np.round(arc / 0.02).astype(np.uint64) * np.uint64(0x9E3779B97F4A7C15)
    mixed = seeds.mix64(point ^ np.uint64(_LIP + 40))
    crumbs = (
        grain * ((mixed >> np.uint64(shift) & np.uint64(0xFFFF)).astype(np.float32) * np.float32(1.6 / 65536.0) - 0.8)
        for shift in (0, 24)
    )
    left, right = (np.maximum(half + sign * own + one, 0.0) for sign, one in zip((1.0, -1.0), crumbs, strict=True))
    return left.astype(np.float32), right.astype(np.float32)


def _lose(division: Division, map_: SpacingMap, end: int, course: tuple[I8, F4, F4], lips: tuple[F4, F4]) -> None:
    """Take crumbs off one lip where cracks begin (0) or end (1), in place; wide cracks lose larger ones.

    ``course`` is each point's crack, its distance from that end in inches, and half the width there.
    """
    name = division.crack_id
    corner = division.crack_points[division.crack_start[:-1] if end == 0 else division.crack_start[1:] - 1]
    chance = seeds.hash_unit(name, _CRUMB + 100 * end)
    some, long = np.flatnonzero(chance < 0.17), np.zeros(len(name), np.float32)
    wide = np.minimum(map_.at("opening", division.points[corner[some]]), np.float32(0.05))
    long[some] = 0.012 + 2.0 * chance[some] / 0.17 * wide
    steep = (0.45 + 0.5 * seeds.hash_unit(name, _CRUMB + 7)).astype(np.float32)
    on_left = seeds.hash_unit(name, _CRUMB + 13 + end) < 0.5
    crack, away, half = course
    near = np.flatnonzero((away < long[crack]) & (half > 0))
    mine = crack[near]
    lost = (long[mine] - away[near]) * steep[mine]
    for lip, whose in zip(lips, (on_left[mine], ~on_left[mine]), strict=True):
        lip[near[whose]] += lost[whose]


def _islands(division: Division, reach: _Reach, main: Strands) -> Strands:
    """Return second branches that leave a crack and come back, leaving an island of film between."""
    name, sizes, finer = division.crack_id, np.diff(division.crack_start), reach.knots.finer
    out = max(2, round(_ISLAND_IN * finer / division.step_in))
    span, knots = 2 * out + 1, -(-out // finer)
    offset = (sizes * (0.35 + 0.3 * seeds.hash_unit(name, _ISLAND + 1))).astype(np.int64)
    fits = np.flatnonzero((reach.length >= _LEAST_ISLAND_IN) & (offset >= knots) & (offset < sizes - knots))
    at = division.crack_start[fits] + offset[fits]
    whole = (reach.place[at - knots] >= 0) & (reach.place[at + knots] >= 0) & (reach.place[at] >= 0)
    fits, at = fits[whole], reach.place[at[whole], None] + np.arange(-out, out + 1)
    half = 0.5 * (main.left + main.right)[at[:, out]]
    pick = (half > 0.002) & (seeds.hash_unit(name[fits], _ISLAND) < np.clip(12.0 * half, 0.03, 0.22))
    name, at, half = name[fits[pick]], at[pick], half[pick]
    t = np.linspace(0.0, np.pi, span)
    side = np.where(seeds.hash_unit(name, _ISLAND + 2) < 0.5, -1.0, 1.0)
    swing = side * (0.012 + half * (1.6 + 1.5 * seeds.hash_unit(name, _ISLAND + 3)))
    places = np.tile(np.linspace(0.0, 5.0, span), len(name))
    rough = 1.0 + 0.3 * along(np.repeat(name, span), places, 5, _ISLAND, True).reshape(-1, span)
    points = (main.points[at] + main.aside[at] * (np.sin(t) * rough * swing[:, None])[..., None]).reshape(-1, 2)
    share = (0.55 - 0.25 * np.sin(t)) * np.clip(rough, 0.5, 1.3)
    left, right = ((lip[at] * share).ravel() for lip in (main.left, main.right))
    depth, aside = main.depth[at].ravel(), main.aside[at].reshape(-1, 2)
    return Strands(np.arange(len(name) + 1) * span, points, left, right, depth, aside)


def _blind_ends(division: Division, cells: Cells, map_: SpacingMap, count: int) -> Strands:
    """Return cracks that leave an outline square and die inside the cell, ``count`` points each."""
    start, sizes = cells.start[:-1].astype(np.int64), np.diff(cells.start).astype(np.int64)
    pick = np.flatnonzero((cells.opening > 0) & (seeds.hash_unit(cells.name, _BLIND + 1) < 0.16 + 0.24 * cells.slip))
    place = (seeds.hash_unit(cells.name[pick], _BLIND) * sizes[pick]).astype(np.int64)
    near = start[pick, None] + (place[:, None] + np.arange(-1, 2)) % np.maximum(sizes[pick], 1)[:, None]
    clear = ~division.cell_corner[near].any(axis=1)
    pick, near = pick[clear], near[clear]
    around = division.points[cells.ring[near]]
    name, size = cells.name[pick], cells.size[pick][:, None]
    begin, run = around[:, 1], around[:, -1] - around[:, 0]
    inward = np.stack([-run[:, 1], run[:, 0]], axis=1)
    centre = cells.shape.centre[pick] - begin
    inward *= np.where((inward * centre).sum(axis=1) < 0, -1.0, 1.0)[:, None]
    inward /= np.maximum(np.hypot(*inward.T), 1e-12)[:, None]
    reach = size * (0.3 + 0.45 * seeds.hash_unit(name, _BLIND + 2)[:, None])
    t = np.linspace(0.0, 1.0, count)[None, :, None]
    aim = 0.55 * inward * reach + 0.45 * centre * reach / np.maximum(np.hypot(*centre.T), 1e-9)[:, None]
    path = begin[:, None] + 2.0 * t * (1.0 - t) * (0.5 * inward * reach)[:, None] + t * t * aim[:, None]
    long = np.repeat(name, count)
    sway = along(long, np.tile(np.linspace(0.0, 4.4, count), len(pick)), 3, _BLIND, True).reshape(-1, count)
    side = np.stack([-aim[:, 1], aim[:, 0]], axis=1)[:, None]
    path = path + (0.13 * sway * t[..., 0] * (1.0 - 0.4 * t[..., 0]))[..., None] * side
    points = path.reshape(-1, 2).astype(np.float32)
    taper = np.tile((1.0 - t[0, :, 0]) ** 0.7, len(pick))
    half = 0.5 * np.minimum(map_.at("opening", points) * 0.6, np.repeat(size[:, 0], count) / 6.0) * taper
    half *= np.exp(0.4 * along(long, np.tile(np.linspace(0.0, 6.5, count), len(pick)), 4, _BLIND, True))
    ends = np.arange(len(pick) + 1) * count
    aside = _aside(points.view(np.complex64)[:, 0], ends, max(1, (count - 1) // 6))
    return Strands(ends, points, half, half.copy(), 0.5 + 0.5 * taper, _pairs(aside))
