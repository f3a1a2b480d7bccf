"""Cracks of a drying film: how wide they stand open, and what happens beside them.

A crack of the net is as wide as the film shrank and slid (``SpacingMap.opening``), older cracks wider than younger
ones. Along one crack the width varies about threefold and its two lips match without being identical. Some cracks end
blind inside a cell, some run double round an island, and where two meet a crumb is often lost.

All lengths are inches on the wall, rows before columns.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from render import seeds
from render.physics.crack_division import F8, I4, U8, Division, Shapes, SpacingMap, along, measure, outline

_AGE, _WIDE, _NARROW, _LIP, _CRUMB, _BLIND, _ISLAND = range(21, 28)
_ISLAND_HALF = 5  # an island spans this many points to each side
_BLIND_POINTS = 12
_TILE_IN = 3.0
_BATCH = 250_000  # points at a time: keeps what is in hand small
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


def open_cracks(division: Division, map_: SpacingMap, window: tuple[float, float, float, float]) -> Net:
    """Return the net of a division, its cracks opened as the map says, as far as they come near a window.

    A crack is never wider than a sixth of the smaller cell beside it.
    """
    ring, _ = outline(division.points, division.cell_points, division.cell_start.astype(np.int64), 32)
    shape = measure(ring)
    size = np.sqrt(shape.area)
    cells = Cells(
        division.cell_id, shape, size, map_.at("slip", shape.centre), map_.at("opening", shape.centre),
        division.cell_start, division.cell_points,
    )  # fmt: skip
    room = np.full(len(division.points), np.inf)
    np.minimum.at(room, division.cell_points, np.repeat(size, np.diff(division.cell_start)))
    reach = _reach(division, window)
    main = _main_strands(division, reach, map_, room)
    parts = [main, _islands(division, reach, main), _blind_ends(division, cells, map_)]
    return Net(division.points, cells, _joined(parts))


def _joined(parts: list[Strands]) -> Strands:
    """Put strands one after the other, neighbours on the wall near each other in memory."""
    begin, at = [], 0
    for one in parts:
        begin.append(one.start[:-1] + at)
        at += len(one.points)
    first, sizes = np.concatenate(begin), np.concatenate([np.diff(one.start) for one in parts])
    begins = np.concatenate([one.points[one.start[:-1]] for one in parts])
    tile = np.floor(begins / _TILE_IN).astype(np.int64) + 4096
    order = np.argsort(tile[:, 0] * 65536 + tile[:, 1], kind="stable")
    sizes = sizes[order]
    start = np.concatenate([[0], np.cumsum(sizes)])
    take = np.arange(start[-1]) + np.repeat(first[order] - start[:-1], sizes)

    def gathered(name: str) -> NDArray[np.float32]:
        return np.concatenate([getattr(one, name).astype(np.float32, copy=False) for one in parts])[take]

    return Strands(start, *(gathered(name) for name in ("points", "left", "right", "depth", "aside")))


def _arc(points: F8, start: NDArray[np.int64]) -> tuple[F8, F8]:
    """Return each point's distance along its strand, and the length of each strand."""
    step = np.zeros(len(points))
    step[1:] = np.round(np.hypot(*np.diff(points, axis=0).T) * 2.0**22) * 2.0**-22  # sums of these are exact
    step[start[:-1]] = 0.0
    total = np.cumsum(step)
    arc = total - np.repeat(total[start[:-1]], np.diff(start))
    return arc, arc[start[1:] - 1]


def _aside(points: NDArray[np.floating], start: NDArray[np.int64]) -> NDArray[np.floating]:
    """Return unit normals (n, 2) of strands, over two points to each side."""
    sizes = np.diff(start)
    here = np.arange(len(points))
    run = points[np.minimum(here + 2, np.repeat(start[1:] - 1, sizes))]
    run = run - points[np.maximum(here - 2, np.repeat(start[:-1], sizes))]
    run /= np.maximum(np.hypot(run[:, 0], run[:, 1]), 1e-12)[:, None]
    return np.stack([-run[:, 1], run[:, 0]], axis=1)


def _normal(name: U8, purpose: int) -> F8:
    """Return a bell-shaped number of unit variance for each name: the sum of three uniform ones."""
    return np.asarray(2.0 * sum(seeds.hash_unit(name, purpose + 1000 * k) for k in range(3)) - 3.0)


@dataclass(frozen=True)
class _Reach:
    """The part of the dividing cracks that lies near a window, flat.

    ``crack`` is the number of each point's crack, ``arc`` and ``rest`` the way along it from its begin and to its end,
    ``place`` the number of each of the division's crack points here, or -1; ``start`` the offsets of unbroken pieces.
    """

    points: F8
    crack: I4
    arc: NDArray[np.float32]
    rest: NDArray[np.float32]
    place: I4
    start: NDArray[np.int64]


def _reach(division: Division, window: tuple[float, float, float, float]) -> _Reach:
    """Keep the crack points in a window and an inch round it."""
    start = division.crack_start.astype(np.int64)
    points = division.points[division.crack_points]
    arc, length = _arc(points, start)
    low, high = np.array(window[:2]) - _ROUND_IN, np.array(window[2:]) + _ROUND_IN
    near = np.flatnonzero(((points > low) & (points < high)).all(axis=1))
    crack = np.repeat(np.arange(len(start) - 1, dtype=np.int32), np.diff(start))[near]
    place = np.full(len(points), -1, np.int32)
    place[near] = np.arange(len(near))
    begins = np.flatnonzero((np.diff(near, prepend=-5) != 1) | (np.diff(crack, prepend=-1) != 0))
    rest = (length[crack] - arc[near]).astype(np.float32)
    return _Reach(points[near], crack, arc[near].astype(np.float32), rest, place, np.append(begins, len(near)))


def _main_strands(division: Division, reach: _Reach, map_: SpacingMap, room: F8) -> Strands:
    """Return the dividing cracks with their widths."""
    older = np.clip(0.62 + 0.17 * np.log2(division.crack_cells), 0.55, 1.9)
    older *= np.exp(0.3 * _normal(division.crack_id, _AGE))
    middle = division.crack_points[(division.crack_start[:-1] + division.crack_start[1:]) // 2]
    spacing = map_.at("spacing", division.points[middle])
    crumbs = [_crumbs(division, map_, end) for end in (0, 1)]
    room = room[division.crack_points[reach.place >= 0]]
    lips = np.empty((2, len(reach.crack)), np.float32)
    for first in range(0, lips.shape[1], _BATCH):
        part = slice(first, first + _BATCH)
        crack, arc = reach.crack[part], reach.arc[part]
        name, way = division.crack_id[crack], arc / spacing[crack]
        swell = along(name, way / 0.9, 0, _WIDE, False) + along(name, way / 0.25, 1, _WIDE, True)
        width = map_.at("opening", reach.points[part]) * older[crack] * np.exp(0.5 * swell)
        half = 0.5 * np.minimum(width, room[part] / 6.0)
        lips[:, part] = _lips(name, arc, way, half)
        for one, away in zip(crumbs, (arc, reach.rest[part]), strict=True):
            lips[:, part] += one.wedge(crack, away) * (half > 0)
    depth = np.clip(older, 0.5, 1.0).astype(np.float32)[reach.crack]
    points = reach.points.astype(np.float32)
    return Strands(reach.start, points, lips[0], lips[1], depth, _aside(points, reach.start))


def _lips(name: U8, arc: F8, way: F8, half: F8) -> tuple[F8, F8]:
    """Return the lips' distances from the crack's middle: matched, but each with grain of its own.

    ``arc`` is the way along the crack in inches, ``way`` the same in spacings (taken where the crack has its middle).
    """
    own = 0.22 * half * along(name, way / 0.2, 2, _LIP, True)
    grain = np.minimum(0.0025, 0.35 * half)
    point = name + np.round(arc / 0.02).astype(np.uint64) * np.uint64(0x9E3779B97F4A7C15)
    crumbs = (grain * (1.6 * seeds.hash_unit(point, _LIP + side) - 0.8) for side in (40, 41))
    left, right = (np.maximum(half + sign * own + one, 0.0) for sign, one in zip((1.0, -1.0), crumbs, strict=True))
    return left, right


@dataclass(frozen=True)
class _Crumbs:
    """Crumbs lost from the corners where cracks end: one row a crack, ``long`` inches (0: none lost)."""

    long: F8
    steep: F8
    on_left: NDArray[np.bool_]

    def wedge(self, crack: I4, away: F8) -> F8:
        """Return what the left and right lip lose at points ``away`` inches from the end: (2, points)."""
        lost = np.maximum(self.long[crack] - away, 0.0) * self.steep[crack]
        left = self.on_left[crack]
        return np.stack([np.where(left, lost, 0.0), np.where(left, 0.0, lost)])


def _crumbs(division: Division, map_: SpacingMap, end: int) -> _Crumbs:
    """Choose at which cracks' begins (0) or ends (1) a crumb is lost, on one side; wide cracks lose larger ones."""
    name = division.crack_id
    corner = division.crack_points[division.crack_start[:-1] if end == 0 else division.crack_start[1:] - 1]
    chance = seeds.hash_unit(name, _CRUMB + 100 * end)
    long = 0.012 + 2.0 * chance / 0.17 * np.minimum(map_.at("opening", division.points[corner]), 0.05)
    steep = 0.45 + 0.5 * seeds.hash_unit(name, _CRUMB + 7)
    return _Crumbs(np.where(chance < 0.17, long, 0.0), steep, seeds.hash_unit(name, _CRUMB + 13 + end) < 0.5)


def _islands(division: Division, reach: _Reach, main: Strands) -> Strands:
    """Return second branches that leave a crack and come back, leaving an island of film between."""
    name, sizes = division.crack_id, np.diff(division.crack_start)
    span = 2 * _ISLAND_HALF + 1
    offset = (sizes * (0.35 + 0.3 * seeds.hash_unit(name, _ISLAND + 1))).astype(np.int64)
    fits = np.flatnonzero(sizes >= span + 4)
    at = reach.place[(division.crack_start[fits] + offset[fits])[:, None] + np.arange(-_ISLAND_HALF, _ISLAND_HALF + 1)]
    fits, at = fits[(at >= 0).all(axis=1)], at[(at >= 0).all(axis=1)]
    half = 0.5 * (main.left + main.right)[at[:, _ISLAND_HALF]]
    pick = (half > 0.002) & (seeds.hash_unit(name[fits], _ISLAND) < np.clip(12.0 * half, 0.03, 0.22))
    name, at, half = name[fits[pick]], at[pick], half[pick]
    t = np.linspace(0.0, np.pi, span)
    side = np.where(seeds.hash_unit(name, _ISLAND + 2) < 0.5, -1.0, 1.0)
    swing = side * (0.012 + half * (1.6 + 1.5 * seeds.hash_unit(name, _ISLAND + 3)))
    places = np.tile(np.arange(span) / 2.0, len(name))
    rough = 1.0 + 0.3 * along(np.repeat(name, span), places, 5, _ISLAND, True).reshape(-1, span)
    points = (main.points[at] + main.aside[at] * (np.sin(t) * rough * swing[:, None])[..., None]).reshape(-1, 2)
    share = (0.55 - 0.25 * np.sin(t)) * np.clip(rough, 0.5, 1.3)
    left, right = ((lip[at] * share).ravel() for lip in (main.left, main.right))
    depth, aside = main.depth[at].ravel(), main.aside[at].reshape(-1, 2)
    return Strands(np.arange(len(name) + 1) * span, points, left, right, depth, aside)


def _blind_ends(division: Division, cells: Cells, map_: SpacingMap) -> Strands:
    """Return cracks that leave an outline square and die inside the cell."""
    start, sizes = cells.start[:-1].astype(np.int64), np.diff(cells.start).astype(np.int64)
    place = (seeds.hash_unit(cells.name, _BLIND) * sizes).astype(np.int64)
    near = start[:, None] + (place[:, None] + np.arange(-3, 4)) % np.maximum(sizes, 1)[:, None]
    chance = seeds.hash_unit(cells.name, _BLIND + 1)
    fits = (cells.opening > 0) & ~division.cell_corner[near].any(axis=1)
    pick = np.flatnonzero(fits & (chance < 0.16 + 0.24 * cells.slip))
    around = division.points[cells.ring[near[pick]]]
    name, size = cells.name[pick], cells.size[pick][:, None]
    begin, run = around[:, 3], around[:, -1] - around[:, 0]
    inward = np.stack([-run[:, 1], run[:, 0]], axis=1)
    centre = cells.shape.centre[pick] - begin
    inward *= np.where((inward * centre).sum(axis=1) < 0, -1.0, 1.0)[:, None]
    inward /= np.maximum(np.hypot(*inward.T), 1e-12)[:, None]
    reach = size * (0.3 + 0.45 * seeds.hash_unit(name, _BLIND + 2)[:, None])
    t = np.linspace(0.0, 1.0, _BLIND_POINTS)[None, :, None]
    aim = 0.55 * inward * reach + 0.45 * centre * reach / np.maximum(np.hypot(*centre.T), 1e-9)[:, None]
    path = begin[:, None] + 2.0 * t * (1.0 - t) * (0.5 * inward * reach)[:, None] + t * t * aim[:, None]
    long = np.repeat(name, _BLIND_POINTS)
    sway = along(long, np.tile(np.arange(_BLIND_POINTS) / 2.5, len(pick)), 3, _BLIND, True).reshape(-1, _BLIND_POINTS)
    side = np.stack([-aim[:, 1], aim[:, 0]], axis=1)[:, None]
    path = path + (0.13 * sway * t[..., 0] * (1.0 - 0.4 * t[..., 0]))[..., None] * side
    points = path.reshape(-1, 2)
    taper = np.tile((1.0 - t[0, :, 0]) ** 0.7, len(pick))
    half = 0.5 * np.minimum(map_.at("opening", points) * 0.6, np.repeat(size[:, 0], _BLIND_POINTS) / 6.0) * taper
    half *= np.exp(0.4 * along(long, np.tile(np.arange(_BLIND_POINTS) / 1.7, len(pick)), 4, _BLIND, True))
    ends = np.arange(len(pick) + 1) * _BLIND_POINTS
    return Strands(ends, points, half, half.copy(), 0.5 + 0.5 * taper, _aside(points, ends))
