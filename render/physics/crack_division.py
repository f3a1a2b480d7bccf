"""Cracks of a drying film by successive division: where they run.

A film that shrinks on a stiff base opens one crack after another. Each new crack divides a cell of the older net, meets
the older cracks square, because an open crack frees the stress across it, and later cracks divide the halves (Bohn,
Pauchard & Couder 2005, Phys. Rev. E 71:046214). So the net is a tree: every cell here carries a 64-bit name hashed
from the path that led to it, all chance in a cell comes from its name, and a window shows exactly its part of the net.

All lengths are inches on the wall, rows before columns. The root cell is one fixed square; cells out of view are not
divided further.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from render import seeds

F8 = NDArray[np.floating[Any]]  # float64, but float32 where many points are kept
I4 = NDArray[np.int32]
U8 = NDArray[np.uint64]

ROOT_IN = 1024.0
"""Side of the root cell, inches; its corner is at (-64, -64)."""
ROOT_AT = -64.0
_DENSE = 24  # an outline is judged by this many of its points
_CANDIDATES = 3
_FREE_POINT, _CORNER, _KEPT = 0, 1, 2
_STRAIGHT = 3  # points to each side over which an outline's direction is taken
_STEP_IN = (
    0.025  # between the points of a crack: the same everywhere, so that the net hangs as little on the map as can be
)
_FINEST_IN = 2.2 * _STEP_IN  # shortest wave in a crack's course
_SPLIT_AT = 1.62  # cells of natural size that a cell may hold before it divides
_REACH = 0.38  # handle of the curve, as a share of the chord
# Purposes of chance within one cell.
_FIRST, _SECOND, _SPREAD, _PICK, _TURN, _AIM, _BEND, _WANDER = range(1, 9)


@dataclass(frozen=True, eq=False)
class SpacingMap:
    """How far apart cracks run: values at the nodes of a square lattice, linear between, level beyond the rim.

    Attributes
    ----------
    spacing
        Inches, float64 (rows, cols), > 0.
    slip
        0 bonded to 1 sliding, same shape.
    opening
        Full width of a crack of middle age, inches, same shape; 0 where the film does not crack.
    step_in
        Distance of the nodes; node (0, 0) stands at ``step_in / 2``.
    digest
        Name made from the content; equal maps have equal names.
    """

    spacing: F8
    slip: F8
    opening: F8
    step_in: float
    digest: str = field(default="", init=False)

    def __post_init__(self) -> None:
        """Check the fields and name the map by its content."""
        if not (self.spacing.shape == self.slip.shape == self.opening.shape) or self.spacing.ndim != 2:
            raise ValueError("spacing, slip and opening must be arrays of one shape (rows, cols)")
        if not (np.isfinite(self.spacing).all() and self.spacing.min() > 0):
            raise ValueError("every spacing must be finite and above zero")
        content = hashlib.blake2b(repr((self.spacing.shape, self.step_in)).encode(), digest_size=16)
        for one in (self.spacing, self.slip, self.opening):
            content.update(np.ascontiguousarray(one, np.float64).tobytes())
        object.__setattr__(self, "digest", content.hexdigest())

    def __eq__(self, other: object) -> bool:
        """Maps are equal if their content is."""
        return isinstance(other, SpacingMap) and other.digest == self.digest

    def __hash__(self) -> int:
        """Hash the content."""
        return hash(self.digest)

    @classmethod
    def even(cls, spacing: float, opening: float, slip: float = 0.0) -> SpacingMap:
        """Return the map of a film that is the same everywhere."""
        every = [np.full((1, 1), value, np.float64) for value in (spacing, slip, opening)]
        return cls(every[0], every[1], every[2], step_in=1.0)

    def at(self, name: str, points: F8) -> F8:
        """Return a field (``spacing``, ``slip`` or ``opening``) at points (..., 2): shape (...)."""
        values = getattr(self, name)
        rows, cols = values.shape
        r = np.clip(points[..., 0] / self.step_in - 0.5, 0.0, rows - 1.0)
        c = np.clip(points[..., 1] / self.step_in - 0.5, 0.0, cols - 1.0)
        r0, c0 = np.minimum(r.astype(np.int64), max(rows - 2, 0)), np.minimum(c.astype(np.int64), max(cols - 2, 0))
        fr, fc = r - r0, c - c0
        flat, right = values.ravel(), 1 if cols > 1 else 0
        at, down = r0 * cols + c0, cols if rows > 1 else 0
        top = flat[at] * (1.0 - fc) + flat[at + right] * fc
        low = flat[at + down] * (1.0 - fc) + flat[at + down + right] * fc
        return np.asarray(top * (1.0 - fr) + low * fr)


@dataclass(frozen=True)
class Division:
    """A net of cracks and the cells between them, as rings of shared points.

    Attributes
    ----------
    points
        float64 (n, 2), inches.
    crack_start, crack_points
        Crack k runs through ``points[crack_points[crack_start[k]:crack_start[k + 1]]]``.
    crack_id, crack_cells
        Name of each crack, and how many cells of natural size the cell that it divided held.
    cell_start, cell_points
        Cell k is the ring ``points[cell_points[cell_start[k]:cell_start[k + 1]]]``, closed, without crossing.
    cell_corner
        Parallel to ``cell_points``: true where the ring turns from one crack to another.
    cell_id
        Name of each cell.
    """

    points: F8
    crack_start: I4
    crack_points: I4
    crack_id: U8
    crack_cells: F8
    cell_start: I4
    cell_points: I4
    cell_corner: NDArray[np.bool_]
    cell_id: U8


@dataclass(frozen=True)
class _Cells:
    """Cells of one generation: flat rings ``ring`` (indices of points) that begin at ``start`` (cells + 1).

    ``mark`` is parallel to the ring: a new crack may end at a free point, not at a corner or a kept one.
    """

    ring: I4
    mark: NDArray[np.int8]
    start: NDArray[np.int64]
    name: U8

    def keep(self, which: NDArray[np.bool_]) -> _Cells:
        """Return the cells where ``which``."""
        sizes = np.diff(self.start)
        flat = np.repeat(which, sizes)
        return _Cells(self.ring[flat], self.mark[flat], _starts(sizes[which]), self.name[which])


@dataclass(frozen=True)
class Shapes:
    """Size and form of cells: all float64, one row a cell."""

    area: F8
    centre: F8
    axis: F8
    aspect: F8
    low: F8
    high: F8

    def keep(self, which: NDArray[np.bool_]) -> Shapes:
        """Return the shapes of the cells where ``which``."""
        return Shapes(*(getattr(self, name)[which] for name in self.__dataclass_fields__))


def _starts(sizes: NDArray[np.integer]) -> NDArray[np.int64]:
    """Return offsets (n + 1,) of runs of those sizes."""
    return np.concatenate([[0], np.cumsum(sizes, dtype=np.int64)])


def _normal(name: U8, purpose: int) -> F8:
    """Return a standard normal number for each name (Box & Muller 1958)."""
    radius = np.sqrt(-2.0 * np.log(1.0 - seeds.hash_unit(name, purpose)))
    return np.asarray(radius * np.cos(2.0 * np.pi * seeds.hash_unit(name, purpose + 7919)))


def measure(ring: F8) -> Shapes:
    """Measure polygons (cells, corners, 2) given in order: area, centre, long axis, aspect, bounding box.

    The aspect is the ratio of the principal radii of gyration (1 for a square).
    """
    base = ring[:, :1]
    p = ring - base
    q = np.roll(p, -1, axis=1)
    cross = p[..., 0] * q[..., 1] - p[..., 1] * q[..., 0]
    twice = cross.sum(axis=1)
    twice = np.where(np.abs(twice) < 1e-12, 1e-12, twice)
    middle = ((p + q) * cross[..., None]).sum(axis=1) / (3.0 * twice)[:, None]
    second = [
        ((p[..., i] * p[..., j] + q[..., i] * q[..., j] + (p + q)[..., i] * (p + q)[..., j]) * cross).sum(axis=1)
        / (12.0 * twice)
        - middle[:, i] * middle[:, j]
        for i, j in ((0, 0), (0, 1), (1, 1))
    ]
    a, b, c = (np.asarray(one) for one in second)
    half, mean = np.sqrt(0.25 * (a - c) ** 2 + b * b), 0.5 * (a + c)
    angle = 0.5 * np.arctan2(2.0 * b, a - c)
    axis = np.stack([np.cos(angle), np.sin(angle)], axis=1)
    aspect = np.sqrt(np.clip((mean + half) / np.maximum(mean - half, 1e-15), 1.0, 1e6))
    return Shapes(0.5 * np.abs(twice), middle + base[:, 0], axis, aspect, ring.min(axis=1), ring.max(axis=1))


def outline(points: F8, ring: I4, start: NDArray[np.int64], count: int = _DENSE) -> tuple[F8, F8]:
    """Return ``count`` points of each ring, evenly along its numbering, and their places in the ring (fractions)."""
    sizes = np.diff(start)
    place = np.arange(count)[None, :] * (sizes[:, None] / count)
    return points[ring[start[:-1, None] + place.astype(np.int64)]], np.floor(place)


class _Points:
    """Points gathered generation by generation."""

    def __init__(self, first: F8) -> None:
        self.array, self.count = np.empty((max(4096, 2 * len(first)), 2)), len(first)
        self.array[: len(first)] = first

    def add(self, more: F8) -> int:
        """Append points; return the index of the first."""
        base = self.count
        if base + len(more) > len(self.array):
            grown = np.empty((2 * (base + len(more)), 2))
            grown[:base] = self.array[:base]
            self.array = grown
        self.array[base : base + len(more)] = more
        self.count += len(more)
        return base


def _root(key: int) -> tuple[F8, _Cells]:
    """Return the outline of the root cell, a point every half inch, and the cell."""
    side = np.arange(0.0, ROOT_IN, 0.5)
    far, none = np.full_like(side, ROOT_IN), np.zeros_like(side)
    edges = [(none, side), (side, far), (far, ROOT_IN - side), (ROOT_IN - side, none)]
    points = np.concatenate([np.stack(edge, axis=1) for edge in edges]) + ROOT_AT
    mark = np.full(len(points), _FREE_POINT, np.int8)
    mark[:: len(side)] = _CORNER
    name = seeds.mix64(np.array([key & ((1 << 64) - 1)], np.uint64))
    return points, _Cells(np.arange(len(points), dtype=np.int32), mark, _starts(np.array([len(points)])), name)


def _natural_cells(map_: SpacingMap, ring: F8, shape: Shapes) -> F8:
    """Return how many cells of natural size fit in each cell."""
    spokes = ring[:, ::3]
    probe = np.concatenate([shape.centre[:, None], 0.62 * spokes + 0.38 * shape.centre[:, None]], axis=1)
    spacing = map_.at("spacing", probe)
    density = 1.0 / spacing**2
    mean = 0.25 * density[:, 0] + 0.75 * density[:, 1:].mean(axis=1)
    return np.asarray(shape.area * mean)


def _chords(name: U8, ring: F8, shape: Shapes) -> Iterator[tuple[F8, F8, NDArray[np.int64], NDArray[np.int64]]]:
    """Yield candidate cuts across the long axis: (through, along) and the outline edges that they meet."""
    across = np.stack([-shape.axis[:, 1], shape.axis[:, 0]], axis=1)
    size = np.sqrt(shape.area)
    for k in range(_CANDIDATES):
        turn = _normal(name, _TURN + 100 * k) * 0.28 / np.clip(shape.aspect, 1.0, 2.5)
        turn = np.where(shape.aspect < 1.12, turn * 2.5, turn)
        sin, cos = np.sin(turn), np.cos(turn)
        along = np.stack([across[:, 0] * cos - across[:, 1] * sin, across[:, 0] * sin + across[:, 1] * cos], axis=1)
        shift = _normal(name, _AIM + 100 * k) * 0.10 * size * np.sqrt(shape.aspect)
        through = shape.centre + shape.axis * np.clip(shift, -0.24 * size, 0.24 * size)[:, None]
        offset = ring - through[:, None]
        side = offset[..., 0] * -along[:, None, 1] + offset[..., 1] * along[:, None, 0]
        reach = offset[..., 0] * along[:, None, 0] + offset[..., 1] * along[:, None, 1]
        after = np.roll(side, -1, axis=1)
        share = side / np.where(side == after, 1.0, side - after)
        reach = reach + (np.roll(reach, -1, axis=1) - reach) * share
        cut = (side > 0) != (after > 0)
        ahead = np.where(cut & (reach > 0), reach, np.inf).argmin(axis=1)
        behind = np.where(cut & (reach <= 0), -reach, np.inf).argmin(axis=1)
        rows = np.arange(len(name))
        yield through, along, ahead + share[rows, ahead], behind + share[rows, behind]


@dataclass(frozen=True)
class _Cuts:
    """Where new cracks begin and end: ring places (counted from the cell's start), points and inward directions."""

    begin: NDArray[np.int64]
    end: NDArray[np.int64]
    ends: F8  # (cells, 2 ends, 2)
    inward: F8  # same
    sound: NDArray[np.bool_]  # false where a cell is too small or too bent to be cut

    def keep(self, which: NDArray[np.bool_] | slice) -> _Cuts:
        """Return the cuts of the cells where ``which``."""
        return _Cuts(*(getattr(self, name)[which] for name in self.__dataclass_fields__))


def _meet(points: F8, cells: _Cells, place: NDArray[np.int64]) -> tuple[NDArray[np.int64], F8, F8, NDArray[np.bool_]]:
    """Return the free ring place nearest to a place, the point and direction there, and whether a corner is near."""
    sizes, first = np.diff(cells.start), cells.start[:-1]
    offset = np.arange(-_STRAIGHT, _STRAIGHT + 1)
    near = (place[:, None] + offset) % sizes[:, None] + first[:, None]
    place = (place + offset[(np.abs(offset) + 10 * (cells.mark[near] != _FREE_POINT)).argmin(axis=1)]) % sizes
    near = (place[:, None] + offset) % sizes[:, None] + first[:, None]
    around = points[cells.ring[near]]
    along = around[:, -1] - around[:, 0]
    along /= np.maximum(np.hypot(along[:, 0], along[:, 1]), 1e-12)[:, None]
    return place, around[:, _STRAIGHT], along, (cells.mark[near] == _CORNER).any(axis=1)


def _choose(points: F8, cells: _Cells, ring: F8, shape: Shapes) -> _Cuts:
    """Choose for every cell the cheapest cut: square to both sides, short, clear of corners, and a little chance."""
    sizes, size = np.diff(cells.start), np.sqrt(shape.area)
    best = np.full(len(sizes), np.inf)
    keep: list[NDArray[Any]] = [np.zeros(len(sizes), np.int64), np.zeros(len(sizes), np.int64)]
    keep += [np.zeros((len(sizes), 2, 2)), np.zeros((len(sizes), 2, 2))]
    for k, (_, _, ahead, behind) in enumerate(_chords(cells.name, ring, shape)):
        places = [np.floor(edge * (sizes / _DENSE) + 0.5).astype(np.int64) % sizes for edge in (ahead, behind)]
        found = [_meet(points, cells, place) for place in places]
        places = [one[0] for one in found]
        met = [one[1:] for one in found]
        chord = met[1][0] - met[0][0]
        length = np.maximum(np.hypot(chord[:, 0], chord[:, 1]), 1e-9)
        slant = sum(np.abs((chord * one[1]).sum(axis=1)) / length for one in met)
        cost = slant + 0.45 * length / size + 0.35 * seeds.hash_unit(cells.name, _PICK + 100 * k)
        cost = cost + 1.2 * (met[0][2].astype(float) + met[1][2]) + np.where(length < 1e-3, 1e6, 0.0)
        wins = cost < best
        best = np.where(wins, cost, best)
        inward = [_square(met[0][1], chord), _square(met[1][1], -chord)]
        fresh = (places[0], places[1], np.stack([met[0][0], met[1][0]], 1), np.stack(inward, 1))
        keep = [np.where(wins.reshape((-1,) + (1,) * (new.ndim - 1)), new, old)
                for new, old in zip(fresh, keep, strict=True)]  # fmt: skip
    return _Cuts(keep[0], keep[1], keep[2], keep[3], sound=best < 1e5)


def _square(along: F8, towards: F8) -> F8:
    """Return the unit normal of an outline direction that points ``towards``."""
    normal = np.stack([-along[:, 1], along[:, 0]], axis=1)
    return np.asarray(normal * np.where((normal * towards).sum(axis=1) < 0, -1.0, 1.0)[:, None])


def along(name: U8, place: F8, octave: int | NDArray[np.int64], purpose: int, kinked: NDArray[np.bool_] | bool) -> F8:
    """Return noise in -1 to 1 along cracks: one value for each name and place (in wavelengths).

    White values hashed at whole places, joined by smooth steps, or by straight lines where ``kinked``.
    """
    node = np.floor(place)
    f = place - node
    blend = np.where(kinked, f, f * f * (3.0 - 2.0 * f))
    seed = name + (node.astype(np.int64) * 64 + octave).astype(np.uint64) * np.uint64(0x9E3779B97F4A7C15)
    step = np.uint64(64 * 0x9E3779B97F4A7C15 & (1 << 64) - 1)
    a, b = (seeds.hash_unit(one, purpose) * 2.0 - 1.0 for one in (seed, seed + step))
    return np.asarray(a + (b - a) * blend)


def _wander(name: U8, which: I4, arc: F8, length: F8, sway: F8) -> F8:
    """Return how far cracks stray sideways, inches: fractal, still and level at both ends.

    Octaves halve from .8 of the crack's length down to a twentieth of an inch; the last ones are kinked rather than
    rounded, because a crack in a grainy film runs from grain to grain.
    """
    out = np.zeros(len(arc))
    wave = 0.8 * length
    octave = 0
    left, total = np.minimum(arc, length[which] - arc), np.arange(len(arc))
    while len(total):
        mine = which[total]
        lam = wave[mine]
        kinked = lam < 5.0 * _FINEST_IN
        still = np.clip(left[total] / (0.9 * lam), 0.0, 1.0)
        rough = np.where(kinked, 1.25, 1.0) * sway[mine] * lam * still * still * (3.0 - 2.0 * still)
        out[total] += rough * along(name[mine], arc[total] / lam, octave, _WANDER, kinked)
        wave, octave = wave * 0.5, octave + 1
        total = total[wave[mine] >= _FINEST_IN]
    return out


def _course(cuts: _Cuts, name: U8, sway: F8, which: I4, t: F8) -> tuple[F8, F8]:
    """Return points at shares ``t`` of the straight cuts ``which``, and how far the crack runs aside of them there.

    A cubic curve leaves both outlines square; its wander is added across the cut.
    """
    a, b = cuts.ends[:, 0], cuts.ends[:, 1]
    length = np.hypot(*(b - a).T)
    reach = (_REACH * length * (0.8 + 0.4 * seeds.hash_unit(name, _BEND)))[:, None]
    c, d = a + cuts.inward[:, 0] * reach, b + cuts.inward[:, 1] * reach
    s = 1.0 - t
    weights = (s**3, 3 * s * s * t, 3 * s * t * t, t**3)
    curve = sum(w[:, None] * p[which] for w, p in zip(weights, (a, c, d, b), strict=True))
    straight = a[which] + (b - a)[which] * t[:, None]
    chord = (b - a) / np.maximum(length, 1e-9)[:, None]
    aside = _wander(name, which, t * length[which], length, sway)
    return straight, np.asarray(
        curve - straight + aside[:, None] * np.stack([-chord[:, 1], chord[:, 0]], axis=1)[which]
    )


def _inside(points: F8, ring: F8) -> NDArray[np.bool_]:
    """Return which points (cells, n, 2) lie in their cell's polygon (cells, corners, 2), by even and odd crossings."""
    r, c = points[..., 0:1], points[..., 1:2]
    r1, c1 = ring[:, None, :, 0], ring[:, None, :, 1]
    r2, c2 = np.roll(ring[..., 0], -1, axis=1)[:, None], np.roll(ring[..., 1], -1, axis=1)[:, None]
    run = np.where(r1 == r2, 1.0, r2 - r1)
    met = ((r1 > r) != (r2 > r)) & (c < c1 + (c2 - c1) * (r - r1) / run)
    return np.asarray(np.count_nonzero(met, axis=2) % 2 == 1)


def _calm(cuts: _Cuts, name: U8, sway: F8, ring: F8) -> F8:
    """Return by how much each crack's course must be drawn towards the straight cut to stay in its cell (1: not)."""
    t = np.linspace(0.12, 0.88, 10)
    calm = np.ones(len(name))
    for first in range(0, len(name), 4096):
        part = slice(first, first + 4096)
        mine = cuts.keep(part)
        which = np.repeat(np.arange(len(mine.begin), dtype=np.int32), len(t))
        straight, bow = _course(mine, name[part], sway[part], which, np.tile(t, len(mine.begin)))
        straight, bow = (one.reshape(-1, len(t), 2) for one in (straight, bow))
        todo = np.arange(len(mine.begin))
        for factor in (1.0, 0.5, 0.2, 0.0):
            calm[first + todo] = factor
            bad = ~_inside((straight + 1.15 * factor * bow)[todo], ring[part][todo]).all(axis=1)
            todo = todo[bad]
            if not len(todo):
                break
    return calm


def _curves(cuts: _Cuts, name: U8, sway: F8, ring: F8) -> tuple[F8, NDArray[np.int64]]:
    """Return the inner points of new cracks, one after the other, and how many each has."""
    length = np.hypot(*(cuts.ends[:, 1] - cuts.ends[:, 0]).T)
    count = np.maximum(np.ceil(length / _STEP_IN).astype(np.int64) - 1, 3)
    which = np.repeat(np.arange(len(count), dtype=np.int32), count)
    t = (np.arange(len(which)) - np.repeat(_starts(count)[:-1], count) + 1.0) / (count[which] + 1.0)
    straight, bow = _course(cuts, name, sway, which, t)
    return straight + bow * _calm(cuts, name, sway, ring)[which, None], count


def _side_marks(number: NDArray[np.integer], first_side: bool) -> NDArray[np.int8]:
    """Return which points of a new crack are free to one side: cracks from both sides never meet in one point.

    Where a crack ends on another it takes the stress off the far side too, so the next one comes a little apart.
    """
    return np.where((number + (0 if first_side else 3)) % 6 < 2, _FREE_POINT, _KEPT).astype(np.int8)


def _halves(cells: _Cells, cuts: _Cuts, base: int, count: NDArray[np.int64]) -> _Cells:
    """Return both halves of every cell: rings of old points from cut to cut, closed by the new crack's points."""
    sizes, first = (one.astype(np.int32) for one in (np.diff(cells.start), cells.start[:-1]))
    counts = count.astype(np.int32)
    new = (base + _starts(counts)[:-1]).astype(np.int32)
    rings, marks, lengths = [], [], []
    for begin, end, forward in ((cuts.begin, cuts.end, False), (cuts.end, cuts.begin, True)):
        old = ((end - begin) % sizes + 1).astype(np.int32)
        total = old + counts
        which = np.repeat(np.arange(len(total), dtype=np.int32), total)
        j = np.arange(len(which), dtype=np.int32) - _starts(total)[:-1].astype(np.int32)[which]
        is_old = j < old[which]
        on, cell = j[is_old], which[is_old]
        at = begin.astype(np.int32)[cell] + on
        source = first[cell] + np.where(at >= sizes[cell], at - sizes[cell], at)
        at_end = (on == 0) | (on == old[cell] - 1)
        fresh, cell = (j - old[which])[~is_old], which[~is_old]
        number = fresh if forward else counts[cell] - 1 - fresh
        rings.append(_merged(is_old, cells.ring[source], new[cell] + number))
        marks.append(_merged(is_old, np.where(at_end, _CORNER, cells.mark[source]), _side_marks(number, forward)))
        lengths.append(total)
    names = [seeds.mix64(cells.name ^ np.uint64(purpose << 32)) for purpose in (_FIRST, _SECOND)]
    start = _starts(np.concatenate(lengths))
    return _Cells(np.concatenate(rings), np.concatenate(marks), start, np.concatenate(names))


def _merged(is_old: NDArray[np.bool_], old: NDArray[Any], new: NDArray[Any]) -> NDArray[Any]:
    """Return old values where ``is_old`` and new ones elsewhere, each in their order; the type of the new ones."""
    out = np.empty(len(is_old), new.dtype)
    out[is_old], out[~is_old] = old, new
    return out


def divide(map_: SpacingMap, window: tuple[float, float, float, float], key: int, sway: float = 0.075) -> Division:
    """Divide the root cell until every cell in view has its natural size.

    Parameters
    ----------
    map_
        Spacing over the wall.
    window
        (top, left, bottom, right) in inches: cells that do not reach it (and a margin) are left undivided and dropped.
    key
        64-bit key of this net.
    sway
        How far cracks stray sideways, as a share of the wavelength (half as much again for old, long cracks, which
        met more flaws on their way). Chosen by eye.

    Raises
    ------
    ValueError
        If the window leaves the root square.

    References
    ----------
    Bohn, Pauchard & Couder 2005, Phys. Rev. E 71:046214 (hierarchical division, from memory).
    Goehring, Conroy, Akhter, Clegg & Routh 2010, Soft Matter 6:3562 (cracks of a first drying meet square).
    """
    top, left, bottom, right = window
    if min(top, left) < ROOT_AT + 32 or max(bottom, right) > ROOT_AT + ROOT_IN - 32:
        raise ValueError(f"a crack net reaches from {ROOT_AT + 32:g} to {ROOT_AT + ROOT_IN - 32:g} in, not {window}")
    outer, cells = _root(key)
    points = _Points(outer)
    leaves: list[_Cells] = []
    cracks: list[tuple[I4, NDArray[np.int64], U8, F8]] = []
    while len(cells.name):
        ring, _ = outline(points.array, cells.ring, cells.start)
        shape = measure(ring)
        margin = 0.3 + 0.08 * np.sqrt(shape.area)
        seen = (shape.high[:, 0] > top - margin) & (shape.low[:, 0] < bottom + margin)
        seen &= (shape.high[:, 1] > left - margin) & (shape.low[:, 1] < right + margin)
        natural = _natural_cells(map_, ring, shape)
        want = natural * np.clip(shape.aspect / 1.35, 0.85, 1.6)
        splits = want > _SPLIT_AT * np.exp(0.4 * np.clip(_normal(cells.name, _SPREAD), -2.2, 2.2))
        leaves.append(cells.keep(seen & ~splits))
        go = seen & splits
        cells = cells.keep(go)
        cuts = _choose(points.array, cells, ring[go], shape.keep(go))
        leaves.append(cells.keep(~cuts.sound))
        sound = cuts.sound
        cells, natural, ring, cuts = cells.keep(sound), natural[go][sound], ring[go][sound], cuts.keep(sound)
        astray = sway * (1.0 + 0.5 * np.clip(np.log2(natural / 8.0) / 5.0, 0.0, 1.0))
        inner, count = _curves(cuts, cells.name, astray, ring)
        base = points.add(inner)
        cracks.append((_runs(cells, cuts, base, count), count + 2, cells.name, natural))
        cells = _halves(cells, cuts, base, count)
    return _gathered(points, leaves, cracks)


def _runs(cells: _Cells, cuts: _Cuts, base: int, count: NDArray[np.int64]) -> I4:
    """Return the points of new cracks from end to end, flat."""
    first = cells.start[:-1]
    start = _starts(count + 2)
    out = np.empty(start[-1], np.int32)
    inner = np.ones(start[-1], bool)
    inner[start[:-1]] = inner[start[1:] - 1] = False
    out[inner] = base + np.arange(int(count.sum()))
    out[start[:-1]] = cells.ring[first + cuts.begin]
    out[start[1:] - 1] = cells.ring[first + cuts.end]
    return out


def _gathered(points: _Points, leaves: list[_Cells], cracks: list[tuple[I4, NDArray[np.int64], U8, F8]]) -> Division:
    """Put the generations together."""
    none = (np.empty(0, np.int32), np.empty(0, np.int64), np.empty(0, np.uint64), np.empty(0))
    runs, counts, names, natural = (np.concatenate(part) for part in zip(none, *cracks, strict=True))
    return Division(
        points.array[: points.count].copy(),
        _starts(counts).astype(np.int32), runs, names, natural,
        _starts(np.concatenate([np.diff(one.start) for one in leaves])).astype(np.int32),
        np.concatenate([one.ring for one in leaves]),
        np.concatenate([one.mark for one in leaves]) == _CORNER,
        np.concatenate([one.name for one in leaves]),
    )  # fmt: skip
