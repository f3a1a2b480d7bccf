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
from dataclasses import dataclass, field
from functools import lru_cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from render import fields, seeds
from render.kept import frozen
from render.physics.crack_courses import GOLDEN, Courses, courses

F4 = NDArray[np.float32]
F8 = NDArray[np.floating[Any]]  # float64, but float32 where many points are kept
C8 = NDArray[np.complex64]  # row + i column: at 300 ft from the corner still right to a four-thousandth of an inch
I4 = NDArray[np.int32]
I8 = NDArray[np.int64]
U8 = NDArray[np.uint64]

ROOTS_IN = (1024.0, 4096.0)
"""Side of the root cell, inches: the smallest that holds the wall (81 or 337 ft); its corner is at (-32, -32)."""
ROOT_AT = -32.0
STEP_IN = 0.075
"""Most between two points of a crack. The same everywhere, so that the net hangs as little on the map as can be."""
_RIM_IN = 16.0
_DENSE_BITS = 4
_DENSE = 1 << _DENSE_BITS  # an outline is judged by this many of its points
_SIXTEENTHS = np.arange(_DENSE)[:, None]
_BITS = np.ldexp(1.0, np.arange(_DENSE)).astype(np.float32)
_PAIR_A, _PAIR_B = np.array([0, 0, 1]), np.array([0, 1, 1])
_CANDIDATES = 3
# Marks of a point in a ring: its kind, and whether it is a corner or beside one.
_FREE_POINT, _CORNER, _KEPT, _KIND = 0, 1, 2, 3
_BY_CORNER, _MARKS = 4, 3
_LEAST_POINTS = 5  # inside a crack
_SPLIT_AT = 1.62  # cells of natural size that a cell may hold before it divides
_OLD = 256.0  # from so many on its crack is as old as any: 8 times 2^5
_REACH = 0.38  # handle of the curve, as a share of the chord
_CHANCES = (np.arange(_CANDIDATES + 1, dtype=np.uint64) * GOLDEN)[:, None]
_HALF = np.array([1 << 32, 2 << 32], np.uint64)
_SLACK, _SHIFT = np.float32(0.28 * 6.0**0.5), np.float32(0.10 * 6.0**0.5)
# Where a crack's course strays most, its bow and its waves add up to about so much of both: chosen by eye.
_TOGETHER = np.float32(0.7)
_EARLY = np.array([9, 8, 3], np.float32)[:, None] / np.float32(64.0)  # of the bow's ends, at .25, .5, .75
_LATE = _EARLY[::-1]


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
        """Return a field (``spacing``, ``slip`` or ``opening``) at points (..., 2): float32 (...)."""
        values = getattr(self, name).astype(np.float32)
        return fields.gather(values, *(points[..., k] * (1.0 / self.step_in) - 0.5 for k in (0, 1)))


@dataclass(frozen=True)
class Shapes:
    """Size and form of cells: all float64, one row a cell."""

    area: F8
    centre: F8
    axis: F8
    aspect: F8
    low: F8
    high: F8


@dataclass(frozen=True)
class Division:
    """A net of cracks and the cells between them, as rings of shared points.

    Attributes
    ----------
    points
        float32 (n, 2), inches.
    crack_start, crack_points
        Crack k runs through ``points[crack_points[crack_start[k]:crack_start[k + 1]]]``.
    crack_id, crack_cells
        Name of each crack, and how many cells of natural size the cell that it divided held; 256 also stands for more.
    crack_sway
        How far each crack strays sideways, as a share of the wavelength.
    cell_start, cell_points
        Cell k is the ring ``points[cell_points[cell_start[k]:cell_start[k + 1]]]``, closed, without crossing.
    cell_corner
        Parallel to ``cell_points``: true where the ring turns from one crack to another.
    cell_id, cell_shape
        Name and shape of each cell.
    step_in
        Most between two points of a crack; waves shorter than ``SHORTEST_IN`` are left to the opening.
    """

    points: F8
    crack_start: I4
    crack_points: I4
    crack_id: U8
    crack_cells: F8
    crack_sway: F8
    cell_start: I4
    cell_points: I4
    cell_corner: NDArray[np.bool_]
    cell_id: U8
    cell_shape: Shapes
    step_in: float


@dataclass(frozen=True)
class _Cells:
    """Cells of one generation: cell k is ``ring[first[k]:first[k] + size[k]]``, each 8 x a point's number + its marks.

    A new crack may end at a free point, not at a corner or a kept one, and better not beside a corner. The ring of a
    generation is never packed anew: cells that go on are copied once, into their halves.
    """

    ring: I4
    first: I8
    size: I8
    name: U8

    def keep(self, which: I8) -> _Cells:
        """Return the cells of those numbers."""
        return _Cells(self.ring, self.first.take(which), self.size.take(which), self.name.take(which))


def _starts(sizes: NDArray[np.integer]) -> I8:
    """Return offsets (n + 1,) of runs of those sizes."""
    out = np.zeros(len(sizes) + 1, np.int64)
    sizes.cumsum(out=out[1:])
    return out


def _run_index(first: I8, size: I8, start: I8 | None = None) -> I8:
    """Return the numbers of runs, one after the other: first, first + 1 ... of each; no run is empty.

    ``start`` are the runs' offsets, if they are known.
    """
    start = _starts(size) if start is None else start
    out = np.ones(start[-1], np.int64)
    if len(first):
        step = first.copy()
        step[1:] -= first[:-1] + size[:-1] - 1
        out[start[:-1]] = step
    return out.cumsum(out=out)


def _quarters(name: U8) -> F4:
    """Return four uniform numbers in -.5 to .5 made of each mixed name: (4, ...)."""
    parts = np.ascontiguousarray(name).astype("<u8", copy=False).view("<u2").reshape(*name.shape, 4)
    values = parts.astype(np.float32)
    values *= np.float32(2.0**-16)
    values -= np.float32(0.5)
    return values.transpose(values.ndim - 1, *range(values.ndim - 1))


def _total(rows: F4) -> F4:
    """Return the sum over the first axis (of a power of two), in an order that does not hang on the others."""
    while len(rows) > 1:
        rows = rows[: len(rows) // 2] + rows[len(rows) // 2 :]
    return rows[0]


@dataclass(frozen=True)
class _Outlines:
    """Cells as closed polygons: row and column ``line`` float32 (2, corners + 1, cells), from ``base`` (2, cells)."""

    base: F4
    line: F4

    def keep(self, which: I8) -> _Outlines:
        """Return the outlines of the cells of those numbers."""
        return _Outlines(self.base.take(which, axis=1), self.line.take(which, axis=2))


def _outlines(points: C8, cells: _Cells) -> _Outlines:
    """Return each ring by sixteen of its points, evenly along its numbering."""
    place = _SIXTEENTHS * cells.size
    place += _DENSE // 2
    place >>= _DENSE_BITS
    np.minimum(place, cells.size - 1, out=place)  # the last sixteenth of a short ring is nearest its end
    place += cells.first
    at = points.take(cells.ring.take(place) >> _MARKS)
    base = np.array([at.real[0], at.imag[0]])
    line = np.zeros((2, _DENSE + 1, len(cells.size)), np.float32)
    for way, ends, begin in zip(line, (at.real, at.imag), base, strict=True):
        np.subtract(ends, begin, out=way[:_DENSE])
    return _Outlines(base, line)


# Rows of the figures of cells, float32 (rows, cells).
_AREA, _ROW, _COL, _ANGLE, _ASPECT, _TOP, _LEFT, _BOTTOM, _RIGHT = range(9)


def _measure(outlines: _Outlines) -> F4:
    """Measure outlines: area, centre, angle of the long axis, aspect, bounding box; one row a figure.

    The aspect is the ratio of the principal radii of gyration (1 for a square).
    """
    line = outlines.line
    here, there = line[:, :-1], line[:, 1:]
    cross = here[0] * there[1]
    cross -= here[1] * there[0]
    parts = np.empty((_DENSE, 6, cross.shape[1]), np.float32)
    parts[:, 0] = cross
    both = here + there
    swept = both * cross
    parts[:, 1], parts[:, 2] = swept
    for k, (a, b) in enumerate(((0, 0), (0, 1), (1, 1)), start=3):
        product, of = line[a] * line[b], parts[:, k]
        np.add(product[:-1], product[1:], out=of)
        of *= cross
        of += both[a] * swept[b]
    sums = _total(parts)
    return _figured(sums, outlines.base, line)


def _figured(sums: F4, base: F4, line: F4) -> F4:
    """Return the figures of outlines from their sums of areas and moments."""
    out = np.empty((9, sums.shape[1]), np.float32)
    twice = np.where(np.abs(sums[0]) < 1e-12, np.float32(1e-12), sums[0])
    sums[1:] /= twice
    middle = sums[1:3]
    middle *= np.float32(1.0 / 3.0)
    moment = sums[3:]
    moment *= np.float32(1.0 / 12.0)
    moment -= middle[_PAIR_A] * middle[_PAIR_B]
    a, b, c = moment
    apart, mean = a - c, np.float32(0.5) * (a + c)
    half = np.float32(0.5) * np.hypot(apart, b + b)
    np.abs(twice, out=out[_AREA])
    out[_AREA] *= np.float32(0.5)
    np.add(middle, base, out=out[_ROW : _COL + 1])
    np.arctan2(b + b, apart, out=out[_ANGLE])
    out[_ANGLE] *= np.float32(0.5)
    ((mean + half) / np.maximum(mean - half, np.float32(1e-15))).clip(1.0, 1e6, out=out[_ASPECT])
    np.sqrt(out[_ASPECT], out=out[_ASPECT])
    np.add(line.min(axis=1), base, out=out[_TOP : _LEFT + 1])
    np.add(line.max(axis=1), base, out=out[_BOTTOM : _RIGHT + 1])
    return out


class _Points:
    """Points gathered generation by generation: row + i column."""

    def __init__(self, first: C8) -> None:
        self.array, self.count = np.empty(max(65536, 2 * len(first)), np.complex64), len(first)
        self.array[: len(first)] = first

    def add(self, more: C8) -> int:
        """Append points; return the number of the first."""
        base = self.count
        if base + len(more) > len(self.array):
            grown = np.empty(2 * (base + len(more)), np.complex64)
            grown[:base] = self.array[:base]
            self.array = grown
        self.array[base : base + len(more)] = more
        self.count += len(more)
        return base


def _root(key: int, side_in: float, step_in: float) -> tuple[C8, _Cells]:
    """Return the outline of the root cell, half as many points as a crack has, and the cell."""
    side = np.linspace(0.0, side_in, round(0.5 * side_in / step_in), endpoint=False)
    points = np.concatenate([1j * side, side + 1j * side_in, side_in + 1j * (side_in - side), side_in - side])
    ring = (1 << _MARKS) * np.arange(len(points), dtype=np.int32) + _FREE_POINT
    ring[:: len(side)] += _CORNER - _FREE_POINT
    name = seeds.mix64(np.array([key & ((1 << 64) - 1)], np.uint64))
    cell = _Cells(ring, np.zeros(1, np.int64), np.array([len(points)]), name)
    return (points + ROOT_AT * (1 + 1j)).astype(np.complex64), cell


class _Density:
    """Cells of natural size to the square inch, read at the nearest node of a map."""

    def __init__(self, map_: SpacingMap) -> None:
        self._values = (1.0 / map_.spacing**2).astype(np.float32).ravel()
        self._wide, self._scale = map_.spacing.shape[1], np.float32(1.0 / map_.step_in)
        self._last = np.array(map_.spacing.shape, np.float32).reshape(2, 1, 1) - np.float32(1.0)

    def cells(self, outlines: _Outlines, figures: F4) -> F4:
        """Return how many cells of natural size fit in each cell: read at its middle and on four spokes."""
        middle = figures[_ROW : _COL + 1]
        at = np.empty((2, 5, middle.shape[1]), np.float32)
        at[:, 0] = middle
        np.multiply(outlines.line[:, : _DENSE : _DENSE // 4], np.float32(0.62), out=at[:, 1:])
        at[:, 1:] += (np.float32(0.62) * outlines.base + np.float32(0.38) * middle)[:, None]
        at *= self._scale
        np.maximum(at, np.float32(0.0), out=at)
        np.minimum(at, self._last, out=at)
        node = at.astype(np.int64)
        node[0] *= self._wide
        node[0] += node[1]
        read = self._values.take(node[0])
        spokes = (read[1] + read[2]) + (read[3] + read[4])
        return np.asarray(figures[_AREA] * (np.float32(0.25) * read[0] + np.float32(0.1875) * spokes))


@lru_cache(maxsize=1)
def _edges_met() -> NDArray[np.uint8]:
    """Return for each pattern of corners on either side of a line (bit k: the k-th) the two edges that it meets.

    The one is in the lower four bits, the other in the upper four; 0 unless it meets just two.
    """
    above = np.arange(1 << _DENSE)
    change = above ^ (above >> 1 | (above & 1) << _DENSE - 1)
    second = np.frexp(change)[1] - 1
    rest = change - (1 << np.maximum(second, 0))
    first = np.frexp(np.maximum(rest, 0))[1] - 1
    two = (rest > 0) & (rest == 1 << np.maximum(first, 0))
    return np.where(two, first + (second << 4), 0).astype(np.uint8)


@dataclass(frozen=True)
class _Cuts:
    """Where new cracks begin and end: ring places (2 ends, cells), counted from the cell's first, the lower first.

    ``points`` are the numbers of the points there, ``ends`` where they lie, ``inward`` the directions into the cell
    (unit), complex; ``sound`` is false where a cell is too small or too bent to be cut.
    """

    place: I8
    points: I4
    ends: C8
    inward: C8
    sound: NDArray[np.bool_]

    def keep(self, which: I8) -> _Cuts:
        """Return the cuts of the cells of those numbers."""
        every: Any = (one.take(which, axis=-1) for one in (self.place, self.points, self.ends, self.inward, self.sound))
        return _Cuts(*every)


def _chords(chance: F4, line: F4, figures: F4, base: F4) -> tuple[F4, F4]:
    """Return where candidate cuts across the long axis meet the outlines, and how far from square.

    Places are corners, (2 ends, candidates, cells), -1 where a cut does not meet two edges; slants are the cosines of
    the angles with the edges there.
    """
    area, aspect, angle = figures[_AREA], figures[_ASPECT], figures[_ANGLE]
    slack = _SLACK * np.where(aspect < 1.12, np.float32(2.5), np.float32(1.0)) / np.minimum(aspect, np.float32(2.5))
    turn = (chance[0] + chance[1]) * slack - angle
    shift = np.minimum(_SHIFT * np.sqrt(aspect) * np.abs(chance[2] + chance[3]), np.float32(0.24))
    shift = np.copysign(shift * np.sqrt(area), chance[2] + chance[3])
    ar, ac = np.sin(turn), np.cos(turn)
    middle = figures[_ROW : _COL + 1] - base
    along_r, along_c = np.cos(angle), np.sin(angle)
    through = (middle[0] + along_r * shift) * ac - (middle[1] + along_c * shift) * ar
    side = line[1] * ar[:, None]
    side -= line[0] * ac[:, None]
    side += through[:, None]
    code = np.matmul(_BITS, (side[:, :-1] > 0).astype(np.float32))
    met = _edges_met().take(code.astype(np.int64))
    edge = np.array([met & 15, met >> 4], np.int64)
    count = len(area)
    flat = edge * count
    flat += np.arange(count)
    run = line[:, 1:] - line[:, :-1]
    run *= run
    long = (run[0] + run[1]).take(flat)
    flat += np.arange(_CANDIDATES)[:, None] * (side.shape[1] * count)
    here = side.take(flat)
    flat += count
    across = here - side.take(flat)
    place = edge + here / across
    place[:, met == 0] = -1.0
    slant = np.float32(1.0) - across * across / np.maximum(long, np.float32(1e-12))
    return place, np.sqrt(np.maximum(slant, np.float32(0.0)))


def _choose(points: C8, cells: _Cells, outlines: _Outlines, figures: F4) -> _Cuts:
    """Choose for every cell the cheapest cut: square to both sides, short, clear of corners, and a little chance."""
    chance = _quarters(seeds.mix64(cells.name + _CHANCES))
    met, slant = _chords(chance[:, :_CANDIDATES], outlines.line, figures, outlines.base)
    place = (met * (cells.size * np.float32(1.0 / _DENSE)) + np.float32(0.5)).astype(np.int64)
    place -= (place >= cells.size) * cells.size
    np.maximum(place, 0, out=place)
    here = cells.ring.take(place + cells.first)
    at = points.take(here >> _MARKS)
    length = np.abs(at[1] - at[0])
    by_corner = here & _BY_CORNER
    cost = slant[0] + slant[1] + np.float32(0.45) * length / np.sqrt(figures[_AREA])
    cost += np.float32(0.35) * chance[:_CANDIDATES, _CANDIDATES]
    cost += np.float32(1.2 / _BY_CORNER) * (by_corner[0] + by_corner[1])
    cost[(met[0] < 0) | (length < 1e-3)] = 1e6
    best = cost.argmin(axis=0) * len(cells.name) + np.arange(len(cells.name))
    place = place.reshape(2, -1).take(best, axis=1)
    return _landed(points, cells, place, cost.ravel().take(best) < 1e5)


def _around(cells: _Cells, place: I8) -> I4:
    """Return the ring's entries before, at and after places (..., cells): (3, ..., cells)."""
    near = np.array([place - 1, place, place + 1])
    near[0] += (place == 0) * cells.size
    near[2] -= (near[2] == cells.size) * cells.size
    near += cells.first
    return cells.ring.take(near)


def _landed(points: C8, cells: _Cells, place: I8, sound: NDArray[np.bool_]) -> _Cuts:
    """Return cuts that end at free places of the rings: at places (2 ends, cells) or, squarer, beside them."""
    near = _around(cells, place)
    before, here, after = near & _KIND == _FREE_POINT
    behind, at, ahead = points.take(near >> _MARKS)
    leans = _dot(ahead - behind, _towards(at)) > 0
    move = (after & (leans | ~before)).astype(np.int64)
    move -= before & ~(leans & after)
    place = place + move * ~here
    place += (place < 0) * cells.size
    place -= (place == cells.size) * cells.size
    place.sort(axis=0)
    apart = place[1] - place[0]
    sound &= (apart > 1) & (apart < cells.size - 1)
    near = _around(cells, place) >> _MARKS
    behind, at, ahead = points.take(near)
    normal = ahead - behind
    normal *= 1j / np.maximum(np.abs(normal), np.float32(1e-12))
    return _Cuts(place, near[1], at, normal * np.copysign(np.float32(1.0), _dot(normal, _towards(at))), sound)


def _towards(ends: C8) -> C8:
    """Return the way from each end of cuts (2 ends, cells) to the other."""
    return np.asarray(ends[::-1] - ends)


def _dot(one: C8, other: C8) -> F4:
    """Return the scalar products of vectors."""
    return one.real * other.real + one.imag * other.imag


@dataclass(frozen=True)
class _Runs:
    """Inner points of new cracks: how many each has, their offsets (cracks + 1,), and numbers in their own crack."""

    count: I8
    start: I8
    number: I4

    @classmethod
    def of(cls, count: I8) -> _Runs:
        """Number the points."""
        start = _starts(count)
        number = np.arange(start[-1], dtype=np.int32)
        number -= start[:-1].astype(np.int32).repeat(count)
        return cls(count, start, number)


def _curves(cuts: _Cuts, name: U8, sway: F4, outlines: _Outlines, step_in: float, courses: Courses) -> tuple[C8, _Runs]:
    """Return the inner points of new cracks, one after the other.

    A cubic curve leaves both outlines square; its course's straying is added across the cut. All is reckoned in the
    frame of the straight cut: x along it, y aside.
    """
    chance, chord = _quarters(name), cuts.ends[1] - cuts.ends[0]
    length = np.abs(chord)
    unit = chord / np.maximum(length, np.float32(1e-9))
    reach = (np.float32(_REACH) + np.float32(0.4 * _REACH) * chance[2]) * length * np.float32(3.0)
    first, last = cuts.inward * np.conj(unit) * reach
    first -= length
    last += length
    begin, long, strayed = courses.pick(name, length)
    strays = np.copysign(length * sway, chance[3])
    most = np.abs(_EARLY * first.imag + _LATE * last.imag).max(axis=0)
    most += np.abs(strays) * strayed * _TOGETHER
    calm = unit * _calm(outlines, cuts.ends[0], unit, length, most)
    terms = np.array([
        calm * (first - last), calm * (last - first - first), calm * first + chord, cuts.ends[0], 1j * calm * strays
    ])  # fmt: skip
    runs = _Runs.of(np.maximum(np.ceil(length * np.float32(1.0 / step_in)).astype(np.int64) - 1, _LEAST_POINTS))
    return _pointed(terms, runs, courses.values, begin, long), runs


def _pointed(terms: C8, runs: _Runs, courses: F4, begin: I8, long: I8) -> C8:
    """Return points of curves a t^3 + b t^2 + c t + d + e x course (``terms``), for t in even steps between 0 and 1.

    Each curve's course is the ``long`` values from ``begin`` on.
    """
    t = (1.0 / (runs.count + 1)).astype(np.float32).repeat(runs.count)
    t *= runs.number + np.float32(1.0)
    at = (long.astype(np.float32).repeat(runs.count) * t).astype(np.int64)
    at += begin.repeat(runs.count)
    course, out = courses.take(at), np.empty(len(t), np.complex64)
    for part, way in ((terms.real, out.real), (terms.imag, out.imag)):
        place, *more, aside = (one.repeat(runs.count) for one in part)
        for one in more:
            place *= t
            place += one
        aside *= course
        np.add(place, aside, out=way)
    return out


def _calm(outlines: _Outlines, begin: C8, unit: C8, length: F4, most: F4) -> F4:
    """Return by how much each crack's course must be drawn towards the straight cut to stay in its cell (1: not).

    The course may fill an arch over the cut, as high as it strays ``most``; no corner of the outline lies under it.
    """
    scale = np.float32(1.0) / np.maximum(length, np.float32(1e-9))
    ur, ui = unit.real * scale, unit.imag * scale
    r0, c0 = begin.real - outlines.base[0], begin.imag - outlines.base[1]
    row, col = outlines.line[:, :-1]
    share = row * ur
    share += col * ui
    share -= r0 * ur + c0 * ui
    aside = col * ur
    aside -= row * ui
    aside -= c0 * ur - r0 * ui  # in lengths, as the share
    np.abs(aside, out=aside)
    beyond = np.abs(share - np.float32(0.5)) >= np.float32(0.48)
    aside += beyond * np.float32(1e30)  # a division that leaves some out takes several times as long
    share.clip(0.01, 0.99, out=share)
    arch = share * (np.float32(1.0) - share)
    arch *= np.float32(4.6) * scale * np.maximum(most, np.float32(1e-9))
    aside /= arch
    return np.minimum(aside.min(axis=0), np.float32(1.0))


def _halves(cells: _Cells, cuts: _Cuts, base: int, runs: _Runs) -> _Cells:
    """Return both halves of every cell: rings of old points from cut to cut, closed by the new crack's points.

    A new crack is free on one side at odd points, on the other at even ones: cracks from both sides never meet in one
    point. Where a crack ends on another it takes the stress off the far side too, so the next one comes a little apart.
    """
    (begin, end), old, new = cuts.place, len(cells.ring), len(runs.number)
    forward = np.arange(base, base + new, dtype=np.int32) << _MARKS
    odd = (runs.number & 1) * np.int32(_KEPT)
    pool = np.concatenate([cells.ring, (forward + odd)[::-1], forward + (np.int32(_KEPT) - odd)])
    back, there = old + new - runs.start[1:], old + new + runs.start[:-1]
    first = _beside(cells.first + begin, back, cells.first, there, cells.first + end)
    size = _beside(end - begin + 1, runs.count, begin + 1, runs.count, cells.size - end)
    start = _starts(size)
    ring = pool.take(_run_index(first, size, start))
    a, b, c, d, e = start[:-1].reshape(-1, 5).T  # where the parts of a cell's halves begin
    ring[np.array([a + 1, b - 2, b, c - 1, d - 2, d, e - 1, np.minimum(e + 1, len(ring) - 1)])] |= _BY_CORNER
    corner = np.array([a, b - 1, d - 1, e])
    ring[corner] = ring[corner] & -1 << _MARKS | _CORNER | _BY_CORNER
    names = seeds.mix64(cells.name[:, None] ^ _HALF)
    return _Cells(ring, _beside(a, c), _beside(c - a, start[5::5] - c), names.ravel())


def _beside(*values: I8) -> I8:
    """Return the first of all values, then the second of all, and so on: (n x their number,)."""
    out = np.empty((len(values[0]), len(values)), np.int64)
    for column, one in zip(out.T, values, strict=True):
        column[:] = one
    return out.ravel()


@dataclass(frozen=True)
class _Leaves:
    """Cells that stay as they are: rings one after the other, their sizes, names and figures."""

    ring: I4
    size: I8
    name: U8
    figures: F4

    @classmethod
    def of(cls, cells: _Cells, figures: F4, which: I8) -> _Leaves:
        """Take the cells of those numbers."""
        mine = cells.keep(which)
        ring = cells.ring.take(_run_index(mine.first, mine.size))
        return cls(ring, mine.size, mine.name, figures.take(which, axis=1))


@dataclass(frozen=True)
class _Cracks:
    """The cracks of one generation: numbers of the points at both ends, of the first inner one, and how many inner."""

    begin: I8
    end: I8
    base: I8
    count: I8
    name: U8
    natural: F8
    sway: F8


def divide(
    map_: SpacingMap,
    window: tuple[float, float, float, float],
    key: int,
    sway: float = 0.075,
    step_in: float = STEP_IN,
) -> Division:
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
    step_in
        Most between two points of a crack.

    Raises
    ------
    ValueError
        If the window leaves the largest root square.

    References
    ----------
    Bohn, Pauchard & Couder 2005, Phys. Rev. E 71:046214 (hierarchical division, from memory).
    Goehring, Conroy, Akhter, Clegg & Routh 2010, Soft Matter 6:3562 (cracks of a first drying meet square).
    """
    opening = _Opening(sway, step_in, courses(1.5 * _root_side(window)))
    stem = _stem(window, key, sway, step_in, _always_divided(map_))
    points, cells, cracks, density = _Points(stem.points), stem.cells, [*stem.cracks], _Density(map_)
    leaves: list[_Leaves] = []
    while len(cells.name):
        outlines = _outlines(points.array, cells)
        figures = _measure(outlines)
        natural = density.cells(outlines, figures)
        chance = _quarters(cells.name)
        want = natural * (figures[_ASPECT] * np.float32(1.0 / 1.35)).clip(0.85, 1.6)
        splits = want > np.float32(_SPLIT_AT) * np.exp(np.float32(0.4 * 6.0**0.5) * (chance[0] + chance[1]))
        seen = _in_view(figures, window)
        leaves.append(_Leaves.of(cells, figures, np.flatnonzero(seen & ~splits)))
        go = np.flatnonzero(seen & splits)
        cells, figures, outlines, natural = cells.keep(go), figures.take(go, axis=1), outlines.keep(go), natural[go]
        cuts = _choose(points.array, cells, outlines, figures)
        if not cuts.sound.all():
            stuck, go = np.flatnonzero(~cuts.sound), np.flatnonzero(cuts.sound)
            leaves.append(_Leaves.of(cells, figures, stuck))
            cells, natural, outlines, cuts = cells.keep(go), natural[go], outlines.keep(go), cuts.keep(go)
        if not len(cells.name):
            break
        cells, opened = opening.cut(points, cells, outlines, cuts, natural)
        cracks.append(opened)
    return _gathered(points, leaves, cracks, step_in)


@dataclass(frozen=True)
class _Opening:
    """How cracks open: their sway, the most between two of their points, and the courses that they may take."""

    sway: float
    step_in: float
    courses: Courses

    def cut(
        self, points: _Points, cells: _Cells, outlines: _Outlines, cuts: _Cuts, natural: F4
    ) -> tuple[_Cells, _Cracks]:
        """Cut cells that hold so many of natural size: add the points, return the halves and the cracks."""
        old = (np.log2(natural * np.float32(0.125)) * np.float32(0.2)).clip(0.0, 1.0)
        astray = np.float32(self.sway) * (np.float32(1.0) + np.float32(0.5) * old)
        inner, runs = _curves(cuts, cells.name, astray, outlines, self.step_in, self.courses)
        base, (begin, end) = points.add(inner), cuts.points
        cracks = _Cracks(begin, end, base + runs.start[:-1], runs.count, cells.name, natural, astray)
        return _halves(cells, cuts, base, runs), cracks


@dataclass(frozen=True)
class _Stem:
    """The first generations of a net: their points and cracks, and the cells that they leave."""

    points: C8
    cracks: tuple[_Cracks, ...]
    cells: _Cells


def _always_divided(map_: SpacingMap) -> float:
    """Return an area, square inches, from which on cells divide wherever they lie, and their cracks are old."""
    return float(np.exp2(np.ceil(np.log2(_OLD * map_.spacing.max() ** 2))))


@lru_cache(maxsize=4)
def _stem(window: tuple[float, float, float, float], key: int, sway: float, step_in: float, least: float) -> _Stem:
    """Divide the root cell while all cells in view are of an area of at least ``least``, square inches.

    Nothing else of the map matters to these generations: a wall that is drafted, settled and changed has them once.
    """
    side, cracks = _root_side(window), list[_Cracks]()
    opening = _Opening(sway, step_in, courses(1.5 * side))
    outer, cells = _root(key, side, step_in)
    points = _Points(outer)
    while True:
        outlines = _outlines(points.array, cells)
        figures = _measure(outlines)
        seen = np.flatnonzero(_in_view(figures, window))
        mine, figures, outlines = cells.keep(seen), figures.take(seen, axis=1), outlines.keep(seen)
        if figures[_AREA].min(initial=np.inf if len(seen) else 0.0) < least:
            break
        cuts = _choose(points.array, mine, outlines, figures)
        if not cuts.sound.all():
            break
        cells, opened = opening.cut(points, mine, outlines, cuts, np.full(len(seen), _OLD, np.float32))
        cracks.append(opened)
    return frozen(_Stem(points.array[: points.count].copy(), tuple(cracks), cells))


def _root_side(window: tuple[float, float, float, float]) -> float:
    """Return the side of the root cell: larger walls than most are parts of a larger net."""
    most = max(window)
    side = next((one for one in ROOTS_IN if most <= ROOT_AT + one - _RIM_IN), None)
    if side is None or min(window) < ROOT_AT + _RIM_IN:
        low, high = ROOT_AT + _RIM_IN, ROOT_AT + ROOTS_IN[-1] - _RIM_IN
        span = " to ".join(f"{one:g}" for one in (min(window), max(window)))
        raise ValueError(
            f"a crackle coat reaches {high / 12.0:.0f} ft from the wall's corner at most "
            f"({low:g} to {high:g} in, not {span} in); divide the wall"
        )
    return side


def _in_view(figures: F4, window: tuple[float, float, float, float]) -> NDArray[np.bool_]:
    """Return which cells reach the window, give or take what their outline may stray."""
    margin = np.float32(0.3) + np.float32(0.08) * np.sqrt(figures[_AREA])
    beyond = np.array(window, np.float32)[:, None]
    low, high = figures[_TOP : _LEFT + 1] - margin < beyond[2:], figures[_BOTTOM : _RIGHT + 1] + margin > beyond[:2]
    return np.asarray(low[0] & low[1] & high[0] & high[1])


def _gathered(points: _Points, leaves: list[_Leaves], cracks: list[_Cracks], step_in: float) -> Division:
    """Put the generations together."""

    def joined(parts: list[Any], name: str, dtype: type) -> NDArray[Any]:
        return np.concatenate([np.empty(0, dtype), *(getattr(one, name) for one in parts)], dtype=dtype)

    begin, end, base, count = (joined(cracks, name, np.int64) for name in ("begin", "end", "base", "count"))
    start = _starts(count + 2)
    runs = _run_index(base - 1, count + 2, start)
    runs[start[:-1]], runs[start[1:] - 1] = begin, end
    rings, ends = joined(leaves, "ring", np.int32), _starts(joined(leaves, "size", np.int64))
    ring = rings >> _MARKS
    shapes = _shapes(_areas(points.array.take(ring), ends), np.concatenate([one.figures for one in leaves], axis=1))
    return Division(
        points.array[: points.count].copy().view(np.float32).reshape(-1, 2),
        start.astype(np.int32), runs.astype(np.int32), joined(cracks, "name", np.uint64),
        joined(cracks, "natural", np.float64), joined(cracks, "sway", np.float64),
        ends.astype(np.int32), ring, rings & _KIND == _CORNER, joined(leaves, "name", np.uint64), shapes, step_in,
    )  # fmt: skip


def _shapes(area: F8, figures: F4) -> Shapes:
    """Return the shapes of cells of known areas."""
    of = figures.astype(np.float64)
    axis = np.stack([np.cos(of[_ANGLE]), np.sin(of[_ANGLE])], axis=1)
    centre, low, high = (of[first : first + 2].T for first in (_ROW, _TOP, _BOTTOM))
    return Shapes(area, centre, axis, of[_ASPECT], low, high)


def _areas(ring: C8, start: I8) -> F8:
    """Return the areas of polygons with all their corners."""
    if not len(ring):
        return np.empty(0)
    ring = ring - np.repeat(ring[start[:-1]], np.diff(start))
    cross = np.zeros(len(ring), np.float32)  # nought beside a cell's first point, which is the origin
    np.subtract(ring.real[:-1] * ring.imag[1:], ring.imag[:-1] * ring.real[1:], out=cross[:-1])
    return np.asarray(0.5 * np.abs(np.add.reduceat(cross, start[:-1])), np.float64)
