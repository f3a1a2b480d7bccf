"""Noise, masks and scattered points, all placed in wall inches.

Two lattices carry everything. The *output grid* is the picture. The *plan grid* is fixed at 12.5 px/in whatever the
output; it carries strokes, zones and placement. Both are sampled by pixel-area integrals, so that averaging a fine
picture down gives the coarse one, and a small wall is the corner of a larger one.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise
from typing import Any

import noise
import numpy as np
from numpy.typing import NDArray
from scipy import sparse

from render import seeds, threads

Array = NDArray[np.float32]
PLAN_PPI = 12.5
_SPLINE_STD = 0.4794  # standard deviation of a cubic B-spline surface over a unit-variance white lattice
_PERLIN_STD = 0.2428  # of noise.pnoise2 with one octave, measured over 10^6 points (tests/test_fields.py)


@dataclass(frozen=True)
class Grid:
    """A lattice of square pixels over a wall whose top left corner is (0, 0).

    ``rows`` and ``cols`` count pixels, ``ppi`` is pixels per inch.
    """

    rows: int
    cols: int
    ppi: float

    @classmethod
    def over(cls, height_in: float, width_in: float, ppi: float) -> Grid:
        """Return the grid that covers a wall of that height and width, in inches."""
        return cls(max(1, math.ceil(height_in * ppi - 1e-6)), max(1, math.ceil(width_in * ppi - 1e-6)), ppi)

    @property
    def shape(self) -> tuple[int, int]:
        """Rows and columns."""
        return self.rows, self.cols

    @property
    def height_in(self) -> float:
        """Height in inches."""
        return self.rows / self.ppi

    @property
    def width_in(self) -> float:
        """Width in inches."""
        return self.cols / self.ppi

    @property
    def row_in(self) -> NDArray[np.float64]:
        """Distance of each row's middle from the top, in inches: shape (rows,)."""
        return np.asarray((np.arange(self.rows) + 0.5) / self.ppi, np.float64)

    @property
    def col_in(self) -> NDArray[np.float64]:
        """Distance of each column's middle from the left, in inches: shape (cols,)."""
        return np.asarray((np.arange(self.cols) + 0.5) / self.ppi, np.float64)

    def at(self, ppi: float) -> Grid:
        """Return the grid of another resolution over the same wall."""
        return self if ppi == self.ppi else Grid.over(self.height_in, self.width_in, ppi)

    @property
    def plan(self) -> Grid:
        """The plan grid over the same wall.

        A picture under half its resolution shows no stroke; there the plan grid is only twice as fine as the picture.
        """
        return self.at(PLAN_PPI if self.ppi >= PLAN_PPI / 2.0 else 2.0 * self.ppi)


# --- sampling matrices -----------------------------------------------------------------------------------------------


def _cubic_integral(t: NDArray[np.float64]) -> NDArray[np.float64]:
    """Integral of the cubic B-spline from -infinity to t (support -2..2, total 1)."""
    a = np.minimum(np.abs(t), 2.0)
    square = a * a  # products cost less than powers
    inner = ((square * 0.125 - a * (1.0 / 3.0)) * square) + a * (2.0 / 3.0)
    outer = 2.0 - np.maximum(a, 1.0)
    outer *= outer
    outer *= outer
    half = np.where(a < 1.0, inner, 0.5 - outer * (1.0 / 24.0))
    return 0.5 + np.copysign(half, t, out=half)


def _tent_integral(t: NDArray[np.float64]) -> NDArray[np.float64]:
    """Integral of the tent function from -infinity to t (support -1..1, total 1)."""
    a = np.clip(np.abs(t), 0.0, 1.0)
    return 0.5 + np.sign(t) * (a - 0.5 * a * a)


def _box_integral(t: NDArray[np.float64]) -> NDArray[np.float64]:
    """Integral of the unit box from -infinity to t (support -1/2..1/2, total 1)."""
    return np.clip(t + 0.5, 0.0, 1.0)


_KERNELS = {"cubic": (_cubic_integral, 2.0), "tent": (_tent_integral, 1.0), "box": (_box_integral, 0.5)}


@lru_cache(maxsize=256)
def _weights(pixels: int, pitch: float, kernel: str) -> tuple[sparse.csr_array, int]:
    """Return pixel-area weights (pixels, nodes) of lattice nodes and the first node's number.

    ``pitch`` is the pixel size in lattice spacings; node k stands at k.
    """
    integral, reach = _KERNELS[kernel]
    low = np.arange(pixels) * pitch
    first = np.ceil(low - reach).astype(np.int64)
    taps = math.ceil(pitch + 2 * reach) + 1
    node = first[:, None] + np.arange(taps)
    before = low[:, None] - node
    weight = (integral(before + pitch) - integral(before)) / pitch
    start, keep = int(first[0]), weight > 1e-12
    ends = np.append(0, np.cumsum(np.count_nonzero(keep, axis=1))).astype(np.int32)
    entries = (weight[keep].astype(np.float32), (node[keep] - start).astype(np.int32), ends)
    return sparse.csr_array(entries, shape=(pixels, int(node.max()) - start + 1)), start


def _turned(cols: sparse.csr_array, field: Array) -> Array:
    """Return field @ cols.T, dense.

    Sparse products sum in the order of the nodes, so that no bit depends on the processor or on what is computed
    beside a pixel.
    """
    return np.ascontiguousarray((cols @ np.ascontiguousarray(field.T)).T)


def _some(weights: sparse.csr_array, rows: slice) -> tuple[slice, sparse.csr_array]:
    """Return which nodes some pixels read, and the weights of those alone."""
    ends = weights.indptr[rows.start : rows.stop + 1]
    nodes, shares = (part[ends[0] : ends[-1]] for part in (weights.indices, weights.data))
    first, after = int(nodes[0]), int(nodes[-1]) + 1
    size = ends.size - 1, after - first
    return slice(first, after), sparse.csr_array((shares, nodes - first, ends - ends[0]), shape=size)


@lru_cache(maxsize=64)
def _resampler(pixels: int, ppi: float, nodes: int, node_ppi: float, kernel: str) -> sparse.csr_array:
    """Weights (pixels, nodes) from cells of one resolution to pixels of another; beyond the rim the rim repeats."""
    pitch = node_ppi / ppi
    integral, reach = _KERNELS[kernel]
    low = np.arange(pixels) * pitch - 0.5  # cell k is centred at k
    first = np.ceil(low - reach).astype(np.int64)
    taps = math.ceil(pitch + 2 * reach) + 1
    node = first[:, None] + np.arange(taps)[None, :]
    weight = (integral(low[:, None] + pitch - node) - integral(low[:, None] - node)) / pitch
    row = np.repeat(np.arange(pixels), taps)
    entries = (weight.ravel().astype(np.float32), (row, np.clip(node, 0, nodes - 1).ravel()))
    return sparse.csr_array(entries, shape=(pixels, nodes))


@lru_cache(maxsize=2048)
def _some_resampled(first: int, end: int, *asked: Any) -> tuple[slice, sparse.csr_array]:
    """Return which cells some pixels read, and the weights of those alone; ``asked`` is asked of ``_resampler``."""
    return _some(_resampler(*asked), slice(first, end))


def _across(field: Array, source: Grid, target: Grid, kernel: str) -> Array:
    """Return the field with its rows resampled. Whole cells are added up where they lie, without turning it over."""
    ratio = source.ppi / target.ppi
    whole = ratio.is_integer() and ratio > 1 and math.ceil(source.cols / ratio) == target.cols
    if kernel == "box" and whole:
        return _in_wholes(field, int(ratio), target.cols)
    return _turned(_resampler(target.cols, target.ppi, source.cols, source.ppi, kernel), field)


def _in_wholes(field: Array, ratio: int, pixels: int) -> Array:
    """Return the means of each ``ratio`` cells of a row; beyond the rim the rim repeats."""
    short = ratio * pixels - field.shape[1]
    whole = np.concatenate((field,) + (field[:, -1:],) * short, axis=1) if short else field
    total = whole[:, ::ratio] + whole[:, 1::ratio]
    for at in range(2, ratio):
        total += whole[:, at::ratio]
    total *= np.float32(1.0 / ratio)
    return total


_RESAMPLED = 1 << 17  # pixels at a time, of the finer grid: what is made on the way stays in the processor's cache


@dataclass(frozen=True, eq=False)
class Resampled:
    """A field of one grid as it is on another over the same wall, worked out for the rows that are asked for.

    What work in strips of rows (``strips.each``) only passes over need not lie whole in memory. ``smooth`` as in
    ``resample``; no bit depends on which rows are asked for together.
    """

    field: Array
    source: Grid
    target: Grid
    smooth: bool = False

    @property
    def shape(self) -> tuple[int, int]:
        """Rows and columns of the target."""
        return self.target.shape

    @property
    def as_it_is(self) -> bool:
        """Whether the two grids are one."""
        return self.source.shape == self.target.shape and self.source.ppi == self.target.ppi and not self.smooth

    def __getitem__(self, rows: slice) -> Array:
        """Return some rows of the target, float32; those of the field itself where the two grids are one."""
        if self.as_it_is:
            return self.field[rows]
        source, target = self.source, self.target
        kernel = "cubic" if self.smooth else "tent" if target.ppi > source.ppi else "box"
        asked = rows.start, rows.stop, target.rows, target.ppi, source.rows, source.ppi, kernel
        cells, weights = _some_resampled(*asked)
        field = np.asarray(self.field[cells], np.float32)
        if target.rows < source.rows:  # the fewer pixels, the less to do across
            return _across(weights @ field, source, target, kernel)
        return np.asarray(weights @ _across(field, source, target, kernel), np.float32)


def resample(field: Array, source: Grid, target: Grid, *, smooth: bool = False) -> Array:
    """Return a field of one grid on another over the same wall: linear upwards, area-averaged downwards.

    Averaging the result down again equals resampling straight to the coarser grid. With ``smooth`` the field is taken
    as coefficients of a cubic spline: no facets where contours or raking light would show them, at the price of a
    little blur, which is the same at every resolution.
    """
    seen = Resampled(field, source, target, smooth)
    if seen.as_it_is:
        return field
    out = np.empty(target.shape, np.float32)
    most = max(field.size, out.size)

    def work(rows: slice) -> None:
        out[rows] = seen[rows]

    tall = max(1, _RESAMPLED * target.rows // most)
    threads.each(work, threads.bands(target.rows, tall), most >= threads.FEW_PIXELS)
    return out


_GATHERED = 1 << 15  # places at a time: what is made on the way stays in the processor's cache


def gather(field: Array, rows: NDArray, cols: NDArray) -> Array:
    """Return the field at fractional pixel places by linear interpolation, the rim repeated; shape of ``rows``."""
    rows, cols = np.broadcast_arrays(rows, cols)
    out = np.empty(rows.shape, np.float32)
    flat, places = out.reshape(-1), (rows.reshape(-1), cols.reshape(-1))

    def work(part: slice) -> None:
        flat[part] = _gathered(field, places[0][part], places[1][part])

    parts = [slice(at, at + _GATHERED) for at in range(0, out.size, _GATHERED)]
    threads.each(work, parts, out.size >= threads.FEW_PIXELS)
    return out


def _gathered(field: Array, rows: NDArray, cols: NDArray) -> Array:
    """Return the field at some fractional places, (n,)."""
    (row, down), (col, right) = _parted(rows, field.shape[0]), _parted(cols, field.shape[1])
    row *= field.shape[1]
    row += col
    flat, beside = field.ravel(), 1 if field.shape[1] > 1 else 0
    top = _lerped(flat.take(row), flat.take(row + beside), right)
    row += field.shape[1] if field.shape[0] > 1 else 0
    return _lerped(top, _lerped(flat.take(row), flat.take(row + beside), right), down)


def _parted(places: NDArray, pixels: int) -> tuple[NDArray[np.intp], Array]:
    """Return the pixel before each place along an axis, and the part of a pixel beyond it."""
    place = np.clip(places, 0, pixels - 1).astype(np.float32, copy=False)
    whole = np.minimum(np.trunc(place), np.float32(max(pixels - 2, 0)))
    place -= whole
    return whole.astype(np.intp), place


def _lerped(here: Array, there: Array, part: Array) -> Array:
    """Return what lies that part of the way from here to there; ``there`` is used up."""
    there -= here
    there *= part
    there += here
    return there


# --- noise -----------------------------------------------------------------------------------------------------------

_MOST_NODES = 4.0  # to a pixel, along each side
_FAR_APART = 0.6556  # mean distance of two independent places in a cubic B-spline, in lattice spacings
_STRIP_NODES = 1 << 18  # of the sampled lattice at a time: they stay in the processor's cache
_JOINED = 1.5  # nodes to a pixel up to which octaves are drawn as one


def _bounded(pitch: float, most: float) -> tuple[float, float]:
    """Return the pitch (pixels in lattice spacings) that is sampled, and a factor on the noise.

    Of noise far below a pixel only its mean over the pixel is seen, with variance (1/p - d/p²)/std² for a pitch p of at
    least 4 (at 2 within a thousandth), d the mean distance of two places in the spline; a lattice of ``most`` nodes to
    a pixel, at least 2, stands for it.
    """
    if pitch <= most:
        return pitch, 1.0
    seen, drawn = ((1.0 - _FAR_APART / p) / p for p in (pitch, most))
    return most, math.sqrt(seen / drawn)


@dataclass(frozen=True, eq=False)
class _Octave:
    """One lattice over a picture: weights of its nodes down and across, their first numbers, key and strength.

    ``slower`` is the octave before it, of exactly twice the spacing, where that is drawn along with it.
    """

    down: float
    rows: sparse.csr_array
    cols: sparse.csr_array
    first: tuple[int, int]
    key: int
    std: float
    slower: _Octave | None = None

    def spread(self, first: int, end: int) -> Array:
        """Return rows of nodes from a number to another spread across the picture: float32 (nodes, pixels across)."""
        col = np.arange(self.first[1], self.first[1] + self.cols.shape[1])
        white = seeds.white_lattice(np.arange(first, end), col, self.key, self.std)
        spread = np.ascontiguousarray((self.cols @ white).T)
        if self.slower is not None:
            start = (first + 1) // 2 - 1
            spread += _halved(self.slower.spread(start, (end - 1) // 2 + 2))[first - 2 * start - 1 :][: end - first]
        return spread

    def seen(self, rows: slice) -> Array:
        """Return some rows of the picture."""
        nodes, weights = slice(0, self.rows.shape[1]), self.rows
        if rows.stop - rows.start < weights.shape[0]:
            nodes, weights = _some(weights, rows)
        first = self.first[0] + nodes.start
        return np.asarray(weights @ self.spread(first, first + weights.shape[1]), np.float32)


def _halved(nodes: Array) -> Array:
    """Return the same cubic B-splines along axis 0 on half the spacing: (n, across) to (2 n - 3, across).

    The first is that between the first two nodes. A B-spline is the sum of five of half its width, 1 4 6 4 1 parts in 8
    (de Boor, A Practical Guide to Splines, 1978; from memory; tests/test_fields.py).
    """
    fine = np.empty((2 * len(nodes) - 3, nodes.shape[1]), np.float32)
    between, at = fine[0::2], fine[1::2]
    half = nodes * np.float32(0.5)
    np.add(half[:-1], half[1:], out=between)
    np.add(between[:-1], between[1:], out=at)
    at *= np.float32(0.25)
    at += half[1:-1]
    return fine


def _octaves(grid: Grid, terms: Sequence[tuple[float, float, float, int]], most: float) -> list[_Octave]:
    """Return lattices over a picture, each (spacing down and across the wall in inches, deviation, key).

    One that halves the spacing of that before it takes it along, unless its nodes are so many more than the pixels that
    the two are drawn faster by themselves.
    """
    octaves: list[_Octave] = []
    before = (0.0, 0.0)
    for tall, wide, deviation, key in terms:
        (down, fade_down), (right, fade_right) = (_bounded(1.0 / (grid.ppi * size), most) for size in (tall, wide))
        halves = before == (2.0 * tall, 2.0 * wide) and down <= _JOINED and fade_down * fade_right == 1.0
        slower = octaves.pop() if halves else None
        (rows, row), (cols, col) = _weights(grid.rows, down, "cubic"), _weights(grid.cols, right, "cubic")
        std = deviation * fade_down * fade_right / _SPLINE_STD
        octaves.append(_Octave(down, rows, cols, (row, col), key, std, slower))
        before = tall, wide
    return octaves


def _sum(grid: Grid, terms: Sequence[tuple[float, float, float, int]], most: float = _MOST_NODES) -> Array:
    """Return the sum of lattices, each (spacing down and across the wall in inches, deviation, key).

    Worked in strips of rows, by more than one processor where it pays; no bit depends on either.
    """
    octaves = _octaves(grid, terms, most)
    out = np.empty(grid.shape, np.float32)

    def work(strip: slice) -> None:
        out[strip] = octaves[0].seen(strip)
        for octave in octaves[1:]:
            out[strip] += octave.seen(strip)

    count = math.ceil(max(one.rows.shape[1] for one in octaves) * grid.cols / _STRIP_NODES)
    ends = np.linspace(0, grid.rows, min(max(count, 1), math.ceil(grid.rows / 16)) + 1).astype(np.int64).tolist()
    threads.each(work, [slice(*rows) for rows in pairwise(ends)], out.size >= threads.FEW_PIXELS)
    return out


def lattice(grid: Grid, wavelength: float | tuple[float, float], key: int, most: float = _MOST_NODES) -> Array:
    """Return unit-variance smooth noise: a cubic B-spline over a hashed white lattice.

    Parameters
    ----------
    grid
        Where to sample.
    wavelength
        Lattice spacing in inches, or (down the wall, across it) for stretched noise.
    key
        64-bit key from a layer's streams.
    most
        Nodes to a pixel along each side, at least 2: what is finer is drawn by so many.

    Returns
    -------
    Array
        float32 (rows, cols). Pixel-area integrals: finer detail than a pixel fades instead of aliasing. What is finer
        than ``most`` to a pixel fades as much, but averages down as another sample of the same noise.
    """
    tall, wide = wavelength if isinstance(wavelength, tuple) else (wavelength, wavelength)
    return _sum(grid, [(tall, wide, 1.0, key)], most)


def fbm(grid: Grid, wavelength: float | tuple[float, float], key: int, octaves: int = 4, gain: float = 0.5) -> Array:
    """Return unit-variance fractal noise: octaves from ``wavelength`` (inches) halving, amplitudes times ``gain``."""
    return _fractal(grid, wavelength, key, octaves, gain, octaves)


def _fractal(
    grid: Grid, wavelength: float | tuple[float, float], key: int, octaves: int, gain: float, seen: int
) -> Array:
    """Return the first ``seen`` octaves of fractal noise of unit variance."""
    tall, wide = wavelength if isinstance(wavelength, tuple) else (wavelength, wavelength)
    norm = math.sqrt(sum(gain ** (2 * k) for k in range(octaves)))
    return _sum(grid, [(tall / 2**k, wide / 2**k, gain**k / norm, key + k) for k in range(seen)])


def grain(grid: Grid, wavelength: float | tuple[float, float], key: int, octaves: int = 4, gain: float = 0.5) -> Array:
    """Return ``fbm`` without the octaves finer than half a pixel: the others are as strong as in the whole.

    An octave far below a pixel shows as a faint shimmer and costs more than all the others together.
    """
    longest = max(wavelength) if isinstance(wavelength, tuple) else wavelength
    seen = int(np.clip(1 + math.floor(math.log2(max(2.0 * grid.ppi * longest, 1e-9))), 1, octaves))
    return _fractal(grid, wavelength, key, octaves, gain, seen)


def drift(grid: Grid, wavelength: float, rng: np.random.Generator) -> Array:
    """Return unit-variance slow gradient noise for where a hand works heavy or light (wavelength in inches, >= 2).

    Perlin's improved noise (package ``noise``) on a grid of four samples per wavelength, spread by cubic B-splines.
    The package's table has 256 cells: the offset stays inside it, and ``base`` is never used (it is no seed).
    """
    step = wavelength / 4.0
    rows, row0 = _weights(grid.rows, 1.0 / (grid.ppi * step), "cubic")
    cols, col0 = _weights(grid.cols, 1.0 / (grid.ppi * step), "cubic")
    off_r, off_c = rng.uniform(0.0, 256.0, 2)
    r = [(off_r + (row0 + i) / 4.0) % 256.0 for i in range(rows.shape[1])]
    c = [(off_c + (col0 + i) / 4.0) % 256.0 for i in range(cols.shape[1])]
    raw = np.array([[noise.pnoise2(x, y, repeatx=256, repeaty=256) for x in c] for y in r], np.float32)
    return np.asarray(rows @ _turned(cols, raw / np.float32(_PERLIN_STD)), np.float32)


# --- coverage --------------------------------------------------------------------------------------------------------


def carried(field: Array, keep: float, axis: int = 0, *, held: bool = False) -> Array:
    """Return what is carried on along an axis, ``keep`` of it from line to line: out[i] = field[i] + keep out[i - 1].

    ``held`` starts as if the first line had always been there, at its mean over time: out[0] = field[0] / (1 - keep).
    float32, like ``scipy.signal.lfilter`` of the first order, without the third of a second that its package loads.
    """
    out = np.array(field if axis == 0 else field.T, np.float32, order="C")
    if held:
        out[0] /= np.float32(1.0 - keep)
    came, share = np.empty(out.shape[1], np.float32), np.float32(keep)
    for line in range(1, len(out)):
        np.multiply(out[line - 1], share, out=came)
        out[line] += came
    return out if axis == 0 else np.ascontiguousarray(out.T)


def threshold(placement: Array, share: float) -> float:
    """Return the level above which ``share`` (0..1) of the placement's pixels lie."""
    count = round(share * placement.size)
    if count <= 0:
        return float(np.nextafter(placement.max(), np.float32(np.inf)))
    if count >= placement.size:
        return float(placement.min())
    values = placement.ravel()
    level = _between(values, count)
    return float(np.partition(values, values.size - count)[values.size - count]) if level is None else level


_SAMPLED = 4096  # values that tell between which two the one sought lies


def _between(values: Array, count: int) -> float | None:
    """The ``count``-th highest of some values, sought among the few near it alone; None where a sample misleads.

    The same to the bit in a quarter of the time, and it passes by many equals, among which a partition is slow.
    """
    some = np.sort(values[:: max(1, values.size // _SAMPLED)])
    at, slack = some.size * (1.0 - count / values.size), 0.03 * some.size + 4.0
    low, high = some[max(int(at - slack), 0)], some[min(int(at + slack), some.size - 1)]
    rank = count - int(np.count_nonzero(values > high))
    near = values > low
    near &= values <= high
    found = values[near]
    if 0 < rank <= found.size:
        return float(np.partition(found, found.size - rank)[found.size - rank])
    equals = int(np.count_nonzero(values == low)) if rank > found.size else 0
    return float(low) if found.size < rank <= found.size + equals else None


def cover(placement: Array, share: float, level: float | None = None) -> NDArray[np.bool_]:
    """Return a mask of exactly ``round(share * pixels)`` pixels: those with the highest placement.

    Equal values at the threshold are taken from the top left on. ``level`` is ``threshold(placement, share)`` where
    it is known already.
    """
    level = threshold(placement, share) if level is None else level
    mask = placement >= level
    excess = int(np.count_nonzero(mask)) - round(share * placement.size)
    if excess > 0:
        ties = np.flatnonzero(placement.ravel() == np.float32(level))
        mask.ravel()[ties[len(ties) - excess :]] = False
    return mask


def gradient(field: Array) -> tuple[Array, Array]:
    """Return the change per pixel down and across: central differences, one-sided at the rim, 0 along a single row."""
    down, right = np.zeros_like(field), np.zeros_like(field)
    for change, f in ((down, field), (right.T, field.T)):
        if len(f) > 1:
            np.subtract(f[2:], f[:-2], out=change[1:-1])
            change[1:-1] *= np.float32(0.5)
            change[0], change[-1] = f[1] - f[0], f[-1] - f[-2]
    return down, right


def edge_distance(placement: Array, level: float, ppi: float) -> Array:
    """Return the distance in inches from the placement's contour at ``level``, positive inside.

    First order, (P - level) / |grad P|: right near the contour, where it is used, and far cheaper than a transform.
    """
    down, right = gradient(placement)
    slope = np.sqrt(down * down + right * right) * np.float32(ppi)
    return np.asarray((placement - np.float32(level)) / (slope + np.float32(1e-3)), np.float32)


# --- scattered points ------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Points:
    """Scattered places: ``row_in`` and ``col_in`` in inches, ``ids`` uint64 for hashed attributes; all shape (n,)."""

    row_in: NDArray[np.float64]
    col_in: NDArray[np.float64]
    ids: NDArray[np.uint64]

    def unit(self, purpose: int) -> NDArray[np.float64]:
        """Return a uniform number in [0, 1) for each point and purpose."""
        return seeds.hash_unit(self.ids, purpose)

    def normal(self, purpose: int) -> NDArray[np.float64]:
        """Return a standard normal number for each point and purpose (Box & Muller 1958)."""
        u = 1.0 - self.unit(purpose)
        return np.sqrt(-2.0 * np.log(u)) * np.cos(2.0 * np.pi * self.unit(purpose ^ 0x5DEECE66D))

    def where(self, which: NDArray[Any]) -> Points:
        """Return the points where ``which``, or those of its numbers in that order."""
        return Points(self.row_in[which], self.col_in[which], self.ids[which])


def scatter(grid: Grid, per_in2: float, key: int, tile_in: float = 12.0, margin_in: float = 0.0) -> Points:
    """Return a Poisson scatter, drawn tile by tile so that a wider wall keeps the points it had.

    ``per_in2`` is the density per square inch; points up to ``margin_in`` beyond the wall are kept.
    """
    first, last = math.floor(-margin_in / tile_in), (grid.height_in + margin_in, grid.width_in + margin_in)
    parts = [(np.empty(0), np.empty(0), np.empty(0, np.int64))]
    for tr in range(first, math.ceil(last[0] / tile_in)):
        for tc in range(first, math.ceil(last[1] / tile_in)):
            rng = seeds.stream(key, tr, tc)
            drawn = rng.random((rng.poisson(per_in2 * tile_in * tile_in), 3))
            row, col, ids = (drawn[:, 0] + tr) * tile_in, (drawn[:, 1] + tc) * tile_in, drawn[:, 2] * 2.0**53
            if min(tr, tc) <= 0 or (tr + 1) * tile_in >= last[0] or (tc + 1) * tile_in >= last[1]:
                inside = (row > -margin_in) & (row < last[0]) & (col > -margin_in) & (col < last[1])
                row, col, ids = row[inside], col[inside], ids[inside]
            parts.append((row, col, ids.astype(np.int64)))
    rows, cols, numbers = (np.concatenate(part) for part in zip(*parts, strict=True))
    return Points(rows, cols, seeds.mix64(numbers.view(np.uint64)))
