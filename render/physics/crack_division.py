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
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from render import fields, seeds

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
SHORTEST = 1.2
"""Shortest wave in a crack's course as divided, in steps: shorter ones are added where the picture shows them."""
_RIM_IN = 16.0
_DENSE = 16  # an outline is judged by this many of its points: a power of two
_CANDIDATES = 3
_FREE_POINT, _CORNER, _KEPT = 0, 1, 2
_LEAST_POINTS = 5  # inside a crack
_KINKED_IN = 0.28  # shorter waves in a crack's course have kinks
_SPLIT_AT = 1.62  # cells of natural size that a cell may hold before it divides
_REACH = 0.38  # handle of the curve, as a share of the chord
_GOLDEN = np.uint64(0x9E3779B97F4A7C15)
_CANDIDATE = (np.arange(_CANDIDATES, dtype=np.uint64) * _GOLDEN)[:, None]
# Purposes of chance within one cell.
_FIRST, _SECOND, _SPREAD, _PICK, _TURN, _BEND, _WANDER = range(1, 8)


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

    def keep(self, which: NDArray[Any]) -> Shapes:
        """Return the shapes of the cells where ``which``, or of those numbers."""
        return Shapes(*(getattr(self, name)[which] for name in self.__dataclass_fields__))


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
        Name of each crack, and how many cells of natural size the cell that it divided held.
    crack_sway
        How far each crack strays sideways, as a share of the wavelength.
    cell_start, cell_points
        Cell k is the ring ``points[cell_points[cell_start[k]:cell_start[k + 1]]]``, closed, without crossing.
    cell_corner
        Parallel to ``cell_points``: true where the ring turns from one crack to another.
    cell_id, cell_shape
        Name and shape of each cell.
    step_in
        Most between two points of a crack; waves shorter than ``SHORTEST`` of them are left to the opening.
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
    """Cells of one generation: cell k is ``ring[first[k]:first[k] + size[k]]``, each 4 x a point's number + its mark.

    A new crack may end at a free point, not at a corner or a kept one. The ring of a generation is never packed anew:
    cells that go on are copied once, into their halves.
    """

    ring: I4
    first: I8
    size: I8
    name: U8

    def keep(self, which: NDArray[Any]) -> _Cells:
        """Return the cells where ``which``, or of those numbers."""
        return _Cells(self.ring, self.first[which], self.size[which], self.name[which])

    def packed(self) -> I4:
        """Return the rings one after the other."""
        return self.ring[_run_index(self.first, self.size)]


def _starts(sizes: NDArray[np.integer]) -> I8:
    """Return offsets (n + 1,) of runs of those sizes."""
    out = np.zeros(len(sizes) + 1, np.int64)
    np.cumsum(sizes, out=out[1:])
    return out


def _run_index(first: I8, size: I8) -> I8:
    """Return the numbers of runs, one after the other: first, first + 1 ... of each."""
    start = _starts(size)
    return np.arange(start[-1]) + np.repeat(first - start[:-1], size)


def _normals(name: U8, purpose: int) -> tuple[F8, F8]:
    """Return two bell-shaped numbers of unit variance for each name, each the sum of two uniform ones; one hash."""
    mixed = seeds.mix64(name ^ np.uint64(purpose))
    parts = [(mixed >> np.uint64(shift) & np.uint64(0xFFFF)).astype(np.float64) for shift in (0, 16, 32, 48)]
    scale, middle = 2.0**-16 * np.sqrt(6.0), np.sqrt(6.0)
    return (parts[0] + parts[1]) * scale - middle, (parts[2] + parts[3]) * scale - middle


def _total(rows: F4) -> F4:
    """Return the sum over the first axis (of a power of two), in an order that does not hang on the second."""
    while len(rows) > 1:
        rows = rows[: len(rows) // 2] + rows[len(rows) // 2 :]
    return rows[0]


@dataclass(frozen=True)
class _Outlines:
    """Cells as closed polygons: ``row`` and ``col`` float32 (corners + 1, cells), from ``base`` (cells,; complex)."""

    base: C8
    row: F4
    col: F4

    def keep(self, which: I8) -> _Outlines:
        """Return the outlines of the cells of those numbers."""
        return _Outlines(self.base[which], self.row.take(which, axis=1), self.col.take(which, axis=1))


def _outlines(points: C8, cells: _Cells) -> _Outlines:
    """Return each ring by sixteen of its points, evenly along its numbering."""
    place = np.arange(_DENSE + 1)[:, None] * cells.size // _DENSE
    place[-1] = 0
    at = points[cells.ring[place + cells.first] >> 2]
    base = at[0].copy()
    at -= base
    return _Outlines(base, np.ascontiguousarray(at.real), np.ascontiguousarray(at.imag))


def _measure(line: _Outlines) -> Shapes:
    """Measure outlines: area, centre, long axis, aspect, bounding box.

    The aspect is the ratio of the principal radii of gyration (1 for a square).
    """
    pr, qr, pc, qc = line.row[:-1], line.row[1:], line.col[:-1], line.col[1:]
    cross = pr * qc
    cross -= pc * qr
    twice = _total(cross).astype(np.float64)
    twice = np.where(np.abs(twice) < 1e-12, 1e-12, twice)
    sr, sc = pr + qr, pc + qc
    by_r, by_c = sr * cross, sc * cross
    mr, mc = (_total(one) / (3.0 * twice) for one in (by_r, by_c))
    r2, c2, rc = line.row * line.row, line.col * line.col, line.row * line.col
    sums = (
        _total((r2[:-1] + r2[1:]) * cross + sr * by_r),
        _total((rc[:-1] + rc[1:]) * cross + sr * by_c),
        _total((c2[:-1] + c2[1:]) * cross + sc * by_c),
    )
    a, b, c = (one / (12.0 * twice) - m for one, m in zip(sums, (mr * mr, mr * mc, mc * mc), strict=True))
    half, mean = np.sqrt(0.25 * (a - c) ** 2 + b * b), 0.5 * (a + c)
    angle = 0.5 * np.arctan2(2.0 * b, a - c)
    aspect = np.sqrt(np.clip((mean + half) / np.maximum(mean - half, 1e-15), 1.0, 1e6))
    base = np.stack([line.base.real, line.base.imag], axis=1)
    low, high = (np.stack([f(line.row, axis=0), f(line.col, axis=0)], axis=1) + base for f in (np.min, np.max))
    axis = np.stack([np.cos(angle), np.sin(angle)], axis=1)
    return Shapes(0.5 * np.abs(twice), np.stack([mr, mc], axis=1) + base, axis, aspect, low, high)


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
    ring = 4 * np.arange(len(points), dtype=np.int32) + _FREE_POINT
    ring[:: len(side)] += _CORNER - _FREE_POINT
    name = seeds.mix64(np.array([key & ((1 << 64) - 1)], np.uint64))
    cell = _Cells(ring, np.zeros(1, np.int64), np.array([len(points)]), name)
    return (points + ROOT_AT * (1 + 1j)).astype(np.complex64), cell


class _Density:
    """Cells of natural size to the square inch, read at the nearest node of a map."""

    def __init__(self, map_: SpacingMap) -> None:
        self._values = (1.0 / map_.spacing**2).ravel()
        self._shape, self._scale = map_.spacing.shape, 1.0 / map_.step_in

    def at(self, row: F8, col: F8) -> F8:
        """Return the density at places, inches."""
        r = np.clip(row * self._scale, 0, self._shape[0] - 1).astype(np.int64)
        c = np.clip(col * self._scale, 0, self._shape[1] - 1).astype(np.int64)
        return self._values[r * self._shape[1] + c]

    def cells(self, line: _Outlines, shape: Shapes) -> F8:
        """Return how many cells of natural size fit in each cell: read at its middle and on four spokes."""
        r, c = shape.centre.T
        spoke = slice(0, _DENSE, _DENSE // 4)
        rows = 0.62 * (line.row[spoke] + line.base.real) + 0.38 * r
        cols = 0.62 * (line.col[spoke] + line.base.imag) + 0.38 * c
        out = self.at(rows, cols)
        return np.asarray(shape.area * (0.25 * self.at(r, c) + 0.1875 * ((out[0] + out[1]) + (out[2] + out[3]))))


@dataclass(frozen=True)
class _Cuts:
    """Where new cracks begin and end: ring places (counted from the cell's first), points and inward directions."""

    begin: I8
    end: I8
    ends: C8  # (2 ends, cells)
    inward: C8  # same, unit
    sound: NDArray[np.bool_]  # false where a cell is too small or too bent to be cut

    def keep(self, which: NDArray[Any]) -> _Cuts:
        """Return the cuts of the cells where ``which``."""
        ends, inward = self.ends[:, which], self.inward[:, which]
        return _Cuts(self.begin[which], self.end[which], ends, inward, self.sound[which])


def _chords(name: U8, line: _Outlines, shape: Shapes) -> F8:
    """Return where candidate cuts across the long axis meet the outlines: corners (candidates, 2 ends, cells).

    NaN where a cut meets no outline.
    """
    count = len(name)
    size, heading = np.sqrt(shape.area), np.arctan2(-shape.axis[:, 1], shape.axis[:, 0])
    slack = np.where(shape.aspect < 1.12, 0.7, 0.28) / np.clip(shape.aspect, 1.0, 2.5)
    turn, aim = _normals(name + _CANDIDATE, _TURN)
    turn = (heading + turn * slack).astype(np.float32)
    shift = (np.clip(aim * 0.10 * np.sqrt(shape.aspect), -0.24, 0.24) * size).astype(np.float32)
    middle = (shape.centre.T - (line.base.real, line.base.imag)).astype(np.float32)
    axis = shape.axis.T.astype(np.float32)
    tr, tc = middle[0] + axis[0] * shift, middle[1] + axis[1] * shift  # through here, (candidates, cells)
    ar, ac = np.sin(turn), np.cos(turn)  # and this way
    side = line.col * ar[:, None]
    side -= line.row * ac[:, None]
    side += (tr * ac - tc * ar)[:, None]
    above = side > 0
    flat = np.flatnonzero(above[:, 1:] != above[:, :-1])
    candidate = flat // (_DENSE * count)
    rest = flat - candidate * (_DENSE * count)
    edge = rest // count
    flat += candidate * count  # the same place among the corners
    here, row, col = side.ravel()[flat], line.row.ravel()[rest], line.col.ravel()[rest]
    share = here / (here - side.ravel()[flat + count])
    row += (line.row.ravel()[rest + count] - row) * share
    col += (line.col.ravel()[rest + count] - col) * share
    mine = rest + (candidate - edge) * count
    reach = (row - tr.ravel()[mine]) * ar.ravel()[mine] + (col - tc.ravel()[mine]) * ac.ravel()[mine]
    mine[reach <= 0] += _CANDIDATES * count  # behind
    np.abs(reach, out=reach)
    met, nearest = np.full(2 * _CANDIDATES * count, np.nan), np.full(2 * _CANDIDATES * count, np.inf, np.float32)
    np.minimum.at(nearest, mine, reach)
    first = np.flatnonzero(reach == nearest[mine])
    met[mine[first]] = edge[first] + share[first]
    return met.reshape(2, _CANDIDATES, count).transpose(1, 0, 2)


def _around(cells: _Cells, place: I8) -> tuple[I4, I4, I4]:
    """Return the ring's entries before, at and after a place; ``place`` is (..., cells)."""
    at, last = place + cells.first, cells.size - 1
    before, after = np.where(place > 0, at - 1, cells.first + last), np.where(place < last, at + 1, cells.first)
    return cells.ring[before], cells.ring[at], cells.ring[after]


def _landed(points: C8, cells: _Cells, place: I8) -> tuple[I8, C8, C8, NDArray[np.bool_]]:
    """Return the free ring place nearest to a place, the point and direction there, and whether a corner is near.

    ``place`` is (..., cells).
    """
    before, here, after = (one & 3 == _FREE_POINT for one in _around(cells, place))
    place = place + np.where(here | ~(before | after), 0, np.where(before, -1, 1))
    place = np.where(place < 0, place + cells.size, np.where(place >= cells.size, place - cells.size, place))
    near = _around(cells, place)
    run = points[near[2] >> 2] - points[near[0] >> 2]
    run /= np.maximum(np.abs(run), 1e-12)
    corner = (near[0] & 3 == _CORNER) | (near[1] & 3 == _CORNER) | (near[2] & 3 == _CORNER)
    return place, points[near[1] >> 2], run, corner


def _choose(points: C8, cells: _Cells, line: _Outlines, shape: Shapes) -> _Cuts:
    """Choose for every cell the cheapest cut: square to both sides, short, clear of corners, and a little chance."""
    met = _chords(cells.name, line, shape)
    lost = np.isnan(met).any(axis=1)
    place = np.floor(np.nan_to_num(met) * (cells.size / _DENSE) + 0.5).astype(np.int64)
    place, at, run, corner = _landed(points, cells, np.where(place >= cells.size, place - cells.size, place))
    chord = at[:, 1] - at[:, 0]
    length = np.maximum(np.abs(chord), 1e-9)
    slant = np.abs((np.conj(run) * (chord / length)[:, None]).real).sum(axis=1)
    chance = seeds.hash_unit(cells.name + _CANDIDATE, _PICK)
    cost = slant + 0.45 * length / np.sqrt(shape.area) + 0.35 * chance + 1.2 * corner.sum(axis=1)
    cost += np.where(lost | (length < 1e-3), 1e6, 0.0)
    best, every = cost.argmin(axis=0), np.arange(len(cells.name))
    normal = 1j * run[best, :, every].T
    towards = chord[best, every] * np.array([[1.0], [-1.0]])
    normal *= np.where((np.conj(normal) * towards).real < 0, -1.0, 1.0)
    begin, end = place[best, 0, every], place[best, 1, every]
    return _Cuts(begin, end, at[best, :, every].T, normal, cost[best, every] < 1e5)


def along(name: U8, place: F8, octave: int | NDArray[np.int64], purpose: int, kinked: NDArray[np.bool_] | bool) -> F8:
    """Return noise in -1 to 1 along cracks: one value for each name and place (in wavelengths).

    White values hashed at whole places, joined by smooth steps, or by straight lines where ``kinked``.
    """
    node = np.floor(place)
    f = place - node
    blend = np.where(kinked, f, f * f * (3.0 - 2.0 * f))
    seed = name + (node.astype(np.int64) * 64 + octave).astype(np.uint64) * _GOLDEN
    step = np.uint64(64 * int(_GOLDEN) & (1 << 64) - 1)
    a, b = (seeds.hash_unit(one, purpose) * 2.0 - 1.0 for one in (seed, seed + step))
    return np.asarray(a + (b - a) * blend)


def four_of(name: U8, number: I8, purpose: int) -> F4:
    """Return four uniform numbers in -.5 to .5 for each name and number, one after the other: float32 (4 n,)."""
    mixed = seeds.mix64((name ^ np.uint64(purpose)) + number.astype(np.uint64) * _GOLDEN)
    values = mixed.astype("<u8", copy=False).view("<u2").astype(np.float32)
    values *= np.float32(2.0**-16)
    values -= np.float32(0.5)
    return values


def wander(name: U8, which: I8, t: F4, length: F8, sway: F8, longest: float, shortest: float) -> F4:
    """Return how far cracks stray sideways, inches: fractal, still and level at both ends.

    Octaves halve from .8 of the crack's length; those of a wavelength from ``shortest`` to below ``longest`` are in.
    The short ones are kinked rather than rounded, because a crack in a grainy film runs from grain to grain.

    Parameters
    ----------
    name, length, sway
        One row a crack; ``sway`` as a share of the wavelength.
    which, t
        One row a point: the number of its crack, and the share of its way along it.
    """
    skipped, most = (np.maximum(np.frexp(0.8 * length / wave)[1], 0) for wave in (longest, shortest))
    many = np.maximum(most - skipped, 0)  # octaves of each crack
    rows, octave = _starts(many), _run_index(skipped, many)
    crack = np.repeat(np.arange(len(many)), many)
    wave, waves = np.ldexp(0.8 * length[crack], -octave), np.ldexp(1.25, octave)  # inches, and how many in the crack
    hashes = (waves.astype(np.int64) + 5) // 4  # each is good for four nodes
    first = _starts(hashes)
    turn = (np.arange(first[-1]) - np.repeat(first[:-1], hashes)) * 64
    table = four_of(np.repeat(name[crack], hashes), turn + np.repeat(octave, hashes), _WANDER)
    kinked = wave < _KINKED_IN
    row = np.stack([waves, ~kinked, np.where(kinked, 2.5, 2.0) * sway[crack] * wave]).astype(np.float32)
    own = many[which]
    value = _octaves(np.repeat(t, own), _run_index(rows[which], own), table, 4 * first, row)
    out, some = np.zeros(len(t), np.float32), np.flatnonzero(own)
    if len(some):
        out[some] = np.add.reduceat(value, (np.cumsum(own) - own)[some])
    return out


def _octaves(t: F4, row: I8, table: F4, first: I8, about: F4) -> F4:
    """Return one octave of a wander at each of some points, from hashed values at its nodes.

    ``about`` is (3, octaves of cracks): how many waves the crack has, 1 where they are round, and how high they are.
    """
    waves = about[0][row]
    way = t * waves
    node = way.astype(np.int64)
    f = way - node.astype(np.float32)
    smooth = f * f * (np.float32(3.0) - np.float32(2.0) * f)
    smooth -= f
    smooth *= about[1][row]
    f += smooth
    waves -= way
    still = np.minimum(way, waves, out=waves)
    still *= np.float32(1.0 / 0.9)
    np.clip(still, 0.0, 1.0, out=still)
    node += first[row]
    value = table[node]
    node += 1
    value += (table[node] - value) * f
    value *= still * still * (np.float32(3.0) - np.float32(2.0) * still)
    value *= about[2][row]
    return value


def _curves(cuts: _Cuts, name: U8, sway: F8, line: _Outlines, step_in: float) -> tuple[C8, I8]:
    """Return the inner points of new cracks, one after the other, and how many each has.

    A cubic curve leaves both outlines square; its wander is added across the cut. All is reckoned in the frame of the
    straight cut: x along it, y aside.
    """
    begin, chord = cuts.ends[0], cuts.ends[1] - cuts.ends[0]
    length = np.abs(chord)
    unit = chord / np.maximum(length, 1e-9)
    count = np.maximum(np.ceil(length / step_in).astype(np.int64) - 1, _LEAST_POINTS)
    start = _starts(count)
    which = np.repeat(np.arange(len(count)), count)
    t = ((np.arange(start[-1]) - start[:-1][which] + 1.0) / (count + 1.0)[which]).astype(np.float32)
    reach = _REACH * (0.8 + 0.4 * seeds.hash_unit(name, _BEND))
    first, last = cuts.inward * np.conj(unit) * (3.0 * reach * length).astype(np.float32)
    first -= length
    last += length
    s = 1.0 - t
    bow = first[which] * s
    bow += last[which] * t
    bow *= s * t
    aside = wander(name, which, t, length, sway, np.inf, SHORTEST * step_in)
    bow.imag += aside
    calm = _calm(line, begin, unit, length, np.maximum.reduceat(np.abs(bow.imag), start[:-1]))
    bow *= calm[which]
    bow.real += t * length[which]
    return begin[which] + unit[which] * bow, count


def _calm(line: _Outlines, begin: C8, unit: C8, length: F8, most: F4) -> F4:
    """Return by how much each crack's course must be drawn towards the straight cut to stay in its cell (1: not).

    The course may fill an arch over the cut, as high as it strays ``most``; no corner of the outline lies under it.
    """
    begin = begin - line.base
    scale = 1.0 / np.maximum(length, 1e-9)
    ur, ui = unit.real * scale, unit.imag * scale
    r, c = line.row[:-1] - begin.real, line.col[:-1] - begin.imag
    share = r * ur + c * ui
    aside = np.abs(c * ur - r * ui)  # in lengths, as the share
    arch = share * (np.float32(1.0) - share)
    arch *= 4.6 * scale * np.maximum(most, 1e-9)
    room = np.divide(aside, arch, out=np.full_like(arch, 1.0), where=(arch > 0) & (share > 0.02) & (share < 0.98))
    return np.minimum(room.min(axis=0), np.float32(1.0))


def _halves(cells: _Cells, cuts: _Cuts, base: int, count: I8) -> _Cells:
    """Return both halves of every cell: rings of old points from cut to cut, closed by the new crack's points.

    A new crack is free on one side at odd points, on the other at even ones: cracks from both sides never meet in one
    point. Where a crack ends on another it takes the stress off the far side too, so the next one comes a little apart.
    """
    start = _starts(count)
    number = np.arange(start[-1]) - np.repeat(start[:-1], count)
    forward = 4 * (base + np.arange(start[-1])) + np.where(number & 1, _FREE_POINT, _KEPT)
    back = forward[np.repeat(start[:-1] + start[1:] - 1, count) - np.arange(start[-1])] ^ (_FREE_POINT ^ _KEPT)
    pool = np.concatenate([cells.ring, back.astype(np.int32), forward.astype(np.int32)])
    parts, sizes, corners = [], [], []
    at = 0
    for begin, end, new in (
        (cuts.begin, cuts.end, len(cells.ring)),
        (cuts.end, cuts.begin, len(cells.ring) + start[-1]),
    ):
        old = end - begin
        old = np.where(old < 0, old + cells.size, old) + 1
        till = np.minimum(old, cells.size - begin)
        first = np.stack([cells.first + begin, cells.first, new + start[:-1]], axis=1)
        size = np.stack([till, old - till, count], axis=1)
        parts.append(pool[_run_index(first.ravel(), size.ravel())])
        sizes.append(old + count)
        begins = at + _starts(sizes[-1])
        corners += [begins[:-1], begins[:-1] + old - 1]
        at = int(begins[-1])
    ring, corner = np.concatenate(parts), np.concatenate(corners)
    ring[corner] = ring[corner] & ~3 | _CORNER
    names = [seeds.mix64(cells.name ^ np.uint64(purpose << 32)) for purpose in (_FIRST, _SECOND)]
    size = np.concatenate(sizes)
    return _Cells(ring, _starts(size)[:-1], size, np.concatenate(names))


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
    outer, cells = _root(key, _root_side(window), step_in)
    points, density = _Points(outer), _Density(map_)
    leaves: list[tuple[_Cells, Shapes]] = []
    cracks: list[_Cracks] = []
    while len(cells.name):
        line = _outlines(points.array, cells)
        shape = _measure(line)
        natural = density.cells(line, shape)
        want = natural * np.clip(shape.aspect / 1.35, 0.85, 1.6)
        splits = want > _SPLIT_AT * np.exp(0.4 * _normals(cells.name, _SPREAD)[0])
        seen = _in_view(shape, window)
        whole, go = np.flatnonzero(seen & ~splits), np.flatnonzero(seen & splits)
        leaves.append((cells.keep(whole), shape.keep(whole)))
        cells, shape, line, natural = cells.keep(go), shape.keep(go), line.keep(go), natural[go]
        cuts = _choose(points.array, cells, line, shape)
        if not cuts.sound.all():
            stuck, go = np.flatnonzero(~cuts.sound), np.flatnonzero(cuts.sound)
            leaves.append((cells.keep(stuck), shape.keep(stuck)))
            cells, natural, line, cuts = cells.keep(go), natural[go], line.keep(go), cuts.keep(go)
        if not len(cells.name):
            break
        astray = sway * (1.0 + 0.5 * np.clip(np.log2(natural / 8.0) / 5.0, 0.0, 1.0))
        inner, count = _curves(cuts, cells.name, astray, line, step_in)
        base = points.add(inner)
        begin, end = (cells.ring[cells.first + one] >> 2 for one in (cuts.begin, cuts.end))
        cracks.append(_Cracks(begin, end, base + _starts(count)[:-1], count, cells.name, natural, astray))
        cells = _halves(cells, cuts, base, count)
    return _gathered(points, leaves, cracks, step_in)


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


def _in_view(shape: Shapes, window: tuple[float, float, float, float]) -> NDArray[np.bool_]:
    """Return which cells reach the window, give or take what their outline may stray."""
    margin = 0.3 + 0.08 * np.sqrt(shape.area)
    seen = (shape.high[:, 0] > window[0] - margin) & (shape.low[:, 0] < window[2] + margin)
    return seen & (shape.high[:, 1] > window[1] - margin) & (shape.low[:, 1] < window[3] + margin)


def _gathered(points: _Points, leaves: list[tuple[_Cells, Shapes]], cracks: list[_Cracks], step_in: float) -> Division:
    """Put the generations together."""

    def joined(name: str, dtype: type) -> NDArray[Any]:
        return np.concatenate([np.empty(0, dtype), *(getattr(one, name) for one in cracks)])

    begin, end, base, count = (joined(name, np.int64) for name in ("begin", "end", "base", "count"))
    start = _starts(count + 2)
    runs = _run_index(base - 1, count + 2)
    runs[start[:-1]], runs[start[1:] - 1] = begin, end
    rings = np.concatenate([one.packed() for one, _ in leaves])
    ends = _starts(np.concatenate([one.size for one, _ in leaves]))
    shapes = Shapes(*(
        np.concatenate([getattr(one, name) for _, one in leaves]) for name in Shapes.__dataclass_fields__
    ))  # fmt: skip
    shapes = replace(shapes, area=_areas(points.array[rings >> 2], ends))
    return Division(
        points.array[: points.count].copy().view(np.float32).reshape(-1, 2),
        start.astype(np.int32), runs.astype(np.int32), joined("name", np.uint64), joined("natural", np.float64),
        joined("sway", np.float64),
        ends.astype(np.int32), rings >> 2, rings & 3 == _CORNER,
        np.concatenate([one.name for one, _ in leaves]), shapes, step_in,
    )  # fmt: skip


def _areas(ring: C8, start: I8) -> F8:
    """Return the areas of polygons with all their corners."""
    if not len(ring):
        return np.empty(0)
    ring = ring - np.repeat(ring[start[:-1]], np.diff(start))
    cross = np.zeros(len(ring), np.float32)  # nought beside a cell's first point, which is the origin
    np.subtract(ring.real[:-1] * ring.imag[1:], ring.imag[:-1] * ring.real[1:], out=cross[:-1])
    return np.asarray(0.5 * np.abs(np.add.reduceat(cross, start[:-1])), np.float64)
