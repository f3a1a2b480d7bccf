"""What a blade does to plaster: it rides on the high spots, fills the hollows, skips, tears and feathers.

The functions here shape films; the layer kinds choose among them. Heights and films are in mil, lengths in inches.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage, special

from render import fields, strips
from render.fields import Array, Grid, Resampled
from render.wall import Wall

_SIEVES = (1.2, 2.0)  # sand is drawn in three fractions, each with its own width; in median diameters
_MENISCUS = 1.2  # the film climbs a grain all round: what one sees is that much wider than the grain
_BROKEN = 0.5  # how uneven the faces of grains are
_SEEN = 0.5  # pixels across a median grain from which its faces show
_PROUD, _BURIED = 1.0, 1.75  # share of a grain that stands proud at most, and the power of chance it goes with
_SUNK = 1.4  # of the sand that is not drawn singly, what only thickens the film
_GRADES = 4096  # of sand by its size
_FINE_NODES = 2.0  # to a pixel, of the sand that is left to noise
_SPLATTED = 1 << 15  # points at a time: what is made on the way stays in the processor's cache
_FOOT = 1.9  # the same of a grain of which the sides and the top are drawn: its foot is thin
_FACED = 1.5  # pixels across a grain from which its sides and its top are drawn
_SIDES = 5  # of a grain
_FOOT_PX = 0.35  # pixels by which a grain is widened, so that the smallest is seen
_STONES = 1 << 12  # grains at a time
_LEAST_WIDE = 0.4  # pixels: a grain of one pixel only would glitter
_SAMPLES = 20_000  # about how many pixels the level is sought on
TOOTH = np.float32(3.0)  # mil that a torn or worn surface is higher than its films say without standing off
_SPRINGS = np.float32(8.0)  # mil that film may spring back to where a tool went over it at most; chosen by eye
_BROKEN_RIM = np.float32(50.0)  # mil less, times the share of the pixel that is open crack; chosen by eye
_BENT_OVER = 9  # pixels: a blade that bends over so many has no finer detail than every second


def ride(height: Array, ppi: float, span_in: float, flex_in: float, stiff: float) -> Array:
    """Return the surface on which a blade rides over a relief.

    A blade bridges from high spot to high spot (the largest height within ``span_in``) and bends over ``flex_in``;
    ``stiff`` 0 follows the mean surface, 1 touches only the peaks. Shape as ``height``, mil.
    """
    if round(flex_in * ppi) >= _BENT_OVER:  # what bends so slowly is sought on a quarter of the pixels
        fine = Grid(height.shape[0], height.shape[1], ppi)
        coarse = Grid((fine.rows + 1) // 2, (fine.cols + 1) // 2, ppi / 2.0)
        half = _bent(*_halved(height), coarse.ppi, span_in, flex_in, stiff)
        return fields.resample(half, coarse, fine, smooth=True)
    return _bent(height, height, ppi, span_in, flex_in, stiff)


def _bent(peaks: Array, mean: Array, ppi: float, span_in: float, flex_in: float, stiff: float) -> Array:
    """Return the blade's surface over pixels of which the highest and the mean height are known."""
    size, blur = (max(least, round(length * ppi) | 1) for least, length in ((3, span_in), (1, flex_in)))
    high = _highest(_highest(peaks.T, size).T, size)
    high -= mean
    high *= np.float32(stiff)
    high += mean
    for _ in range(2):
        high = ndimage.uniform_filter(high, blur, mode="nearest")
    return high


def _highest(height: Array, size: int) -> Array:
    """Return the highest of ``size`` pixels down about each, an odd number; beyond the rim the rim repeats.

    Of one, of two, of four and so on: a few passes over whole rows, however many they are.
    """
    rows, wide = len(height), 1
    high = np.pad(height, ((size // 2, size // 2), (0, 0)), "edge")
    while 2 * wide <= size:
        high, wide = np.maximum(high[:-wide], high[wide:]), 2 * wide
    return np.asarray(np.maximum(high[:rows], high[size - wide :]), np.float32)


def _halved(height: Array) -> tuple[Array, Array]:
    """Return the highest and the mean of each two by two pixels; beyond an odd rim the rim repeats."""
    rows, cols = height.shape
    even = np.pad(height, ((0, rows % 2), (0, cols % 2)), "edge") if rows % 2 or cols % 2 else height
    up, down = even[::2], even[1::2]
    tall, both = np.maximum(up, down), up + down
    return np.maximum(tall[:, ::2], tall[:, 1::2]), np.float32(0.25) * (both[:, ::2] + both[:, 1::2])


def plan_height(wall: Wall) -> Array:
    """Return the wall's height on the plan grid, mil."""
    return fields.resample(wall.height, wall.grid, wall.grid.plan)


def proud(wall: Wall, about: int = 7) -> Array:
    """Return how far a place stands out of what is around it, mil: of a square of ``about`` plan pixels to a side."""
    low = ndimage.uniform_filter(plan_height(wall), about, mode="nearest")
    return strips.each(np.subtract, wall.height, Resampled(low, wall.grid.plan, wall.grid))


def pressed(wall: Wall) -> Wall:
    """Return the wall with film that stands off its ground pressed down, as the tool of a wet coat does.

    Wetted, it lies on but for a few mil: no coat is laid over hollow plates, up and down their sides. Rims of cracks
    that overhang go down altogether: left so, they would stand proud of what is sanded.
    """
    if not wall.coats:
        return wall

    def down(height: Array, cracks: Array, *films: Array) -> Array:
        lies = sum(films[1:], films[0] + TOOTH)
        over = np.maximum(height - lies, 0.0)
        springs = np.maximum(_SPRINGS - _BROKEN_RIM * cracks, np.float32(1e-3))
        return height - over * over / (over + springs)

    return wall.evolve(height=strips.each(down, wall.height, wall.cracks, *(one.rise for one in wall.coats)))


def soft_ramp(x: Array, round_mil: float) -> Array:
    """Return x where positive and 0 where negative, rounded over ``round_mil``: a coat's way down to nothing."""
    return np.asarray(0.5 * (x + np.sqrt(x * x + np.float32(round_mil * round_mil))), np.float32)


def fill(gap: Array, weight: Array, mean_mil: float, least_mil: float, round_mil: float) -> Array:
    """Return a film that a blade leaves: a level minus the surface, never below ``least_mil``.

    Parameters
    ----------
    gap
        Blade surface minus wall surface, mil (rows, cols); only its shape matters, its level is sought here.
    weight
        What the film is multiplied by: 0 off the coat, below 1 at feathered edges.
    mean_mil
        Mean of weight times film over the whole wall. A few Newton steps on a coarse sample come within half a percent.
    least_mil
        What is left on the highest spots.
    round_mil
        Rounding between scraped and filled.
    """
    stride = max(1, math.isqrt(gap.size // _SAMPLES))
    g, w = (np.asarray(field[::stride, ::stride], np.float64) for field in (gap, weight))
    share = float(np.mean(w))
    if share <= 0.0 or mean_mil <= 0.0:
        return np.full_like(gap, max(least_mil, 1e-6))
    least_mil = min(least_mil, 0.5 * mean_mil / share)
    target = mean_mil - least_mil * share
    level = target / share - float(np.sum(g * w) / np.sum(w))
    for _ in range(12):
        x = g + level
        root = np.sqrt(x * x + round_mil * round_mil)
        got, slope = float(np.mean(w * (x + root))) / 2.0, float(np.mean(w * (1.0 + x / root))) / 2.0
        step = (target - got) / max(slope, 1e-6)
        level += float(np.clip(step, -40.0, 40.0))
        if abs(step) < 1e-4:
            break
    return strips.each(lambda one: np.float32(least_mil) + soft_ramp(one + np.float32(level), round_mil), gap)


def softened(mask: NDArray[np.bool_], distance: Array, width_in: Array | float, ppi: float) -> Array:
    """Return an edge profile, 0 to 1: above 0 on the mask, 0 off it.

    ``distance`` is inches inside the edge. A steep edge still ramps over a pixel, as a pixel half covered holds half
    the film.
    """
    half = np.float32(0.5 / ppi)
    inner = np.clip((distance + half) / (np.float32(1.0 / ppi) + np.asarray(width_in, np.float32)), 2e-3, 1.0)
    return np.asarray(inner * mask, np.float32)


def drying(grid: Grid, key: int, streaks: Array | None = None, depth: float = 0.03) -> Array:
    """Return a factor on reflectance, mean about 1: plaster dries in slow patches, streaked."""
    plan = grid.plan
    patch = fields.fbm(plan, 9.0, key, 5, 0.62)
    tone = 1.0 + np.float32(depth * 0.7) * patch
    if streaks is not None:
        tone = tone + np.float32(depth * 0.45) * streaks
    return fields.resample(np.asarray(tone, np.float32), plan, grid)


@dataclass(frozen=True)
class Sand:
    """Grains by diameter: lognormal about ``median_in`` with log standard deviation ``spread``, within ``ends_in``."""

    median_in: float
    spread: float
    ends_in: tuple[float, float]

    def diameter(self, unit: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return the diameters (inches) below which shares ``unit`` of the grains lie."""
        normal = special.ndtri(np.clip(unit, 1e-12, 1.0 - 1e-12))
        return np.clip(self.median_in * np.exp(self.spread * normal), *self.ends_in)

    @property
    def volume_in3(self) -> float:
        """Mean volume of a grain, in cubic inches."""
        return float(np.mean(np.pi / 6.0 * self.diameter((np.arange(2000) + 0.5) / 2000) ** 3))


def specks(grid: Grid, sand: Sand, mean_mil: float, most_per_in2: float, key: int) -> Array:
    """Return sand grains as their volume per area, in mil: float32 (rows, cols).

    ``mean_mil`` is what all grains come to on the wall. Where that is more than ``most_per_in2`` grains, the largest
    are drawn singly and the finer as noise; never more than one to a pixel. A grain's volume is shared among the
    pixels that it covers, so coarse pictures keep it.
    """
    number = mean_mil / 1000.0 / sand.volume_in3  # of grains per in²
    drawn = min(number, most_per_in2, grid.ppi**2)
    coarse = _single(grid, sand, drawn, drawn / max(number, 1e-12), key)
    if float(np.mean(coarse, dtype=np.float64)) >= mean_mil:
        return coarse
    fine_in = 0.9 * sand.median_in
    rough = fields.lattice(grid, fine_in, key + 1, _FINE_NODES)
    if sand.median_in * grid.ppi >= _SEEN:
        coarse = strips.each(_crushed, coarse, rough, out=coarse)
    rest = max(mean_mil - float(np.mean(coarse, dtype=np.float64)), 0.0)
    told = np.float32(min(fine_in * grid.ppi * _FINE_NODES, 1.0))  # what its nodes miss, each resolution has another of
    fine = strips.each(lambda one: told * np.maximum(one + np.float32(0.6), 0.0) + np.float32(_SUNK), rough, out=rough)
    share = np.float32(rest / max(float(np.mean(fine, dtype=np.float64)), 1e-6))
    return strips.each(lambda coarse, fine: coarse + fine * share, coarse, fine, out=coarse)


def _crushed(grains: Array, rough: Array) -> Array:
    """Return grains with broken faces; together they hold as much as they did."""
    return grains * np.clip(np.float32(1.0) + np.float32(_BROKEN) * rough, 0.0, 2.0)


def _single(grid: Grid, sand: Sand, per_in2: float, share: float, key: int) -> Array:
    """Return the sand that is drawn grain by grain, in mil: the largest ``share`` of all grains."""
    points = fields.scatter(grid, per_in2, key, 12.0, 0.1)
    grades = sand.diameter(1.0 - share * (np.arange(_GRADES) + 0.5) / _GRADES)
    grade = (points.unit(1) * _GRADES).astype(np.intp)
    proud = (_PROUD * 1000.0 * np.pi / 6.0 * grades**3).astype(np.float32)[grade]  # the rest is sunk in the film
    proud *= points.unit(2).astype(np.float32) ** np.float32(_BURIED)
    proud *= _shown(grid, points, key)
    size, total, broken = grades.astype(np.float32)[grade], _rimmed(grid), []
    for finest, coarsest in zip((0.0, *_SIEVES), (*_SIEVES, np.inf), strict=True):
        some = np.flatnonzero((size > finest * sand.median_in) & (size <= coarsest * sand.median_in))
        if some.size:
            wide = _MENISCUS * float(np.mean(size[some], dtype=np.float64))
            if wide * grid.ppi >= _FACED:
                broken.append(_broken(grid, points.where(some), np.float32(_FOOT) * size[some], proud[some]))
            else:
                _add(total, grid, *_grains(points, some, size, proud, wide * grid.ppi >= 1.0), wide)
    coarse = total[1:-1, 1:-1]
    for one in broken:
        coarse += one
    return coarse


def _broken(grid: Grid, points: fields.Points, size: Array, volume: Array) -> Array:
    """Return grains (inches across, in² mil each) as broken stone, in mil: float32 (rows, cols).

    Each has a few sides, no two as far out, and a top that is broken or cut off askew; the film slopes up to it.
    """
    radius = size * np.float32(0.5 * grid.ppi)
    reach = math.ceil(1.2 * float(radius.max()) + _FOOT_PX)
    pad = 2 * reach + 2  # a grain that lies off the wall altogether is laid beside it
    total = np.zeros((grid.rows + 2 * pad, grid.cols + 2 * pad), np.float32)
    near = np.arange(-reach, reach + 2, dtype=np.float32)
    place = near.astype(np.intp)[:, None] * total.shape[1] + near.astype(np.intp)
    for start in range(0, radius.size, _STONES):
        some = points.where(np.arange(start, min(start + _STONES, radius.size)))
        at = [np.clip(one * grid.ppi - 0.5, -reach - 2.0, most + reach + 0.5) for one, most in
              ((some.row_in, grid.rows), (some.col_in, grid.cols))]  # fmt: skip
        first = [np.floor(one).astype(np.intp) for one in at]
        down, right = (near - (one - whole).astype(np.float32)[:, None] for one, whole in zip(at, first, strict=True))
        stone = _stone(some, down[:, :, None], right[:, None, :], radius[start : start + _STONES, None, None])
        stone *= (volume[start : start + _STONES] * np.float32(grid.ppi**2) / stone.sum((1, 2)))[:, None, None]
        middle = (first[0] + pad) * total.shape[1] + first[1] + pad
        np.add.at(total.reshape(-1), middle[:, None, None] + place, stone)
    return total[pad:-pad, pad:-pad]


def _stone(points: fields.Points, down: Array, right: Array, radius: Array) -> Array:
    """Return the shape of broken grains about their middles, 0 to about 1; ``down``, ``right`` and ``radius`` in
    pixels, (grains, rows, 1), (grains, 1, cols) and (grains, 1, 1)."""

    def own(purpose: int) -> Array:
        return points.unit(purpose).astype(np.float32)[:, None, None]

    shape = np.full(np.broadcast_shapes(down.shape, right.shape), np.inf, np.float32)
    turn = np.float32(2.0 * np.pi) * own(3)
    for side in range(_SIDES):
        angle = turn + np.float32(2.0 * np.pi / _SIDES) * (side + np.float32(0.7) * own(10 + side))
        far = radius * (np.float32(0.6) + np.float32(0.6) * own(20 + side)) + np.float32(_FOOT_PX)
        np.minimum(shape, far - np.cos(angle) * down - np.sin(angle) * right, out=shape)
    np.maximum(shape, 0.0, out=shape)
    shape /= np.maximum(radius, np.float32(1.0))
    shape *= np.sqrt(shape)
    lean = np.float32(2.0 * np.pi) * own(4)
    top = (np.cos(lean) * down + np.sin(lean) * right) * (np.float32(0.6) * own(6) / radius)
    top += np.float32(0.25) + np.float32(0.5) * own(5)
    return np.minimum(shape, np.maximum(top, np.float32(0.08)), out=shape)


def _shown(grid: Grid, points: fields.Points, key: int) -> Array:
    """Return how far grains stand out by their place, about 0 to 1: here the film is closed over them, there not."""
    plan = grid.plan
    patch = np.clip(0.55 + 0.65 * fields.fbm(plan, 0.9, key + 2, 4, 0.7), 0.05, 1.6)
    return fields.gather(patch, points.row_in * plan.ppi - 0.5, points.col_in * plan.ppi - 0.5)


def _grains(
    points: fields.Points, some: NDArray[np.intp], size: Array, volume: Array, halved: bool
) -> tuple[fields.Points, Array]:
    """Return some grains' places and volumes; ``halved`` each in two, a little apart: crushed sand is no ball."""
    own = points.where(some)
    if not halved:
        return own, volume[some]
    turn, far = ((most * own.unit(purpose)).astype(np.float32) for most, purpose in ((2.0 * np.pi, 3), (0.4, 4)))
    far *= size[some]
    down, right, half = far * np.sin(turn), far * np.cos(turn), np.float32(0.5) * volume[some]
    rows, cols = (np.concatenate((at - off, at + off)) for at, off in ((own.row_in, down), (own.col_in, right)))
    return fields.Points(rows, cols, np.tile(own.ids, 2)), np.tile(half, 2)


def splat(grid: Grid, points: fields.Points, volume: NDArray, size_in: float) -> Array:
    """Return points' volumes (in² mil each) spread on the pixels, as mil: float32 (rows, cols).

    Each goes to the four nearest pixels by area; where a point covers more than a pixel the result is widened.
    """
    total, widen = _rimmed(grid), round(size_in * grid.ppi)
    _add(total, grid, points, volume, size_in)
    field = total[1:-1, 1:-1]
    if widen >= 2:
        for shift in (0, widen % 2 - 1):  # an even filter lies half a pixel off, and its fellow half a pixel back
            ndimage.uniform_filter(field, widen, output=field, mode="nearest", origin=shift)
    return field


def _rimmed(grid: Grid) -> Array:
    """Return an empty field with a pixel more at each rim."""
    return np.zeros((grid.rows + 2, grid.cols + 2), np.float32)


def _add(total: Array, grid: Grid, points: fields.Points, volume: NDArray, size_in: float) -> None:
    """Add points' volumes (in² mil each) to such a field, as mil."""
    volume = volume * np.float32(grid.ppi**2)
    for start in range(0, points.ids.size, _SPLATTED):
        part = slice(start, start + _SPLATTED)
        _splat(total, points.row_in[part] * grid.ppi, points.col_in[part] * grid.ppi, volume[part], size_in * grid.ppi)


def _splat(total: Array, rows: NDArray, cols: NDArray, volume: NDArray, size: float) -> None:
    """Add squares of a size, all in pixels, to a field that has a pixel more at each rim."""
    wide, across = np.float32(min(max(size, _LEAST_WIDE), 1.0)), total.shape[1]  # parts of two pixels at most
    (at, down), (col, right) = _straddled(rows, total.shape[0], wide), _straddled(cols, across, wide)
    at *= across
    at += col
    upper = volume.astype(np.float32)
    lower = upper * down
    upper -= lower
    for row in (upper, lower):
        beyond = row * right
        np.add.at(total.reshape(-1), at, row - beyond)
        np.add.at(total.reshape(-1), at + 1, beyond)
        at += across


def _straddled(place: NDArray, pixels: int, wide: np.float32) -> tuple[NDArray[np.intp], Array]:
    """Return the first of two pixels under a square about each place along an axis, and its share on the second.

    The first pixel and the last lie outside the wall: places further out are in them.
    """
    beyond = np.clip(place + 0.5, 0.0, pixels - 1 - 1e-9)
    first = beyond.astype(np.intp)
    beyond -= first
    share = (beyond.astype(np.float32) - np.float32(0.5)) / wide + np.float32(0.5)
    return first, np.clip(share, 0.0, 1.0, out=share)


def zone(plan: Grid, wavelength: float, share: float, key: int) -> Array:
    """Return 0 outside and up to 1 inside zones that fill about ``share`` of the wall, soft at their rims."""
    level = float(special.ndtri(1.0 - min(max(share, 1e-6), 1 - 1e-6)))
    return np.clip((fields.fbm(plan, wavelength, key, 4, 0.55) - np.float32(level)) * 1.6 + 0.5, 0.0, 1.0)
