"""Wet colour on a wall: what a liquid meets, how a film sags, drains, settles and is pushed about.

The physics is in ``render.physics``; this module joins it to a wall (runs: ``render.trails``, drops:
``render.droplets``). Films are in mil, places in inches. What is smooth by nature - where a film hangs, how far it
comes down - is worked on the *wet lattice* (6.25 px/in) and the sag on one of half its resolution; the output grid
carries what is fine. Every exchange keeps each colour's amount: what a function returns beside the films is what left
at the floor.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cached_property, lru_cache

import numpy as np
from scipy import ndimage

from render import fields, strips, threads
from render.blur import blur
from render.fields import Array, Grid, Resampled
from render.physics import film as films
from render.units import MIL_FT2_PER_GAL
from render.wall import Stratum, Wall

WET_PPI = 6.25
SAG_PPI = 3.125
MIL_IN = 1e-3
METRE_IN = 39.37007874
_KEPT_PIXELS = 4_000_000
"""Walls up to this size keep what was read off their relief for the next wet layer."""


def wet_lattice(grid: Grid) -> Grid:
    """The lattice of smooth wet fields: 6.25 px/in, or twice the picture's resolution where that is less."""
    return grid.at(min(WET_PPI, 2.0 * grid.ppi))


def sag_lattice(grid: Grid) -> Grid:
    """The lattice that films sag on: half as fine as the wet lattice."""
    return grid.at(0.5 * wet_lattice(grid).ppi)


def mobility(viscosity: float) -> float:
    """g / (3 nu) for a kinematic viscosity in mm2/s (water 1, a thin glaze 20), in inches per second per
    mil2.
    """
    per_metre = films.GRAVITY / (3.0 * viscosity * 1e-6)  # 1/(m s)
    return per_metre / METRE_IN * MIL_IN**2


@dataclass(frozen=True, eq=False)
class Relief:
    """What a liquid meets of a height (mil, on ``grid``), read off as it is asked for."""

    height: Array
    grid: Grid

    @cached_property
    def plan_height(self) -> Array:
        """Height on the plan grid, mil."""
        return fields.resample(self.height, self.grid, self.grid.plan)

    @cached_property
    def wet_height(self) -> Array:
        """Height on the wet lattice, mil."""
        return fields.resample(self.plan_height, self.grid.plan, wet_lattice(self.grid))

    @cached_property
    def level(self) -> Array:
        """Height of the half inch about a place, mil, on the wet lattice."""
        return blur(self.wet_height, 0.34 * wet_lattice(self.grid).ppi, 2.5)

    @cached_property
    def plan_hollow(self) -> Array:
        """How far a place lies below its half inch, mil, on the plan grid: positive in recesses, cracks, at steps."""
        wet, plan = wet_lattice(self.grid), self.grid.plan
        return fields.resample(self.level, wet, plan) - self.plan_height

    @cached_property
    def wet_hollow(self) -> Array:
        """The same on the wet lattice."""
        return self.level - self.wet_height

    @cached_property
    def deep(self) -> Array:
        """The same on the output grid, with the finest relief in it, from -1 on high spots to 1 in hollows."""
        deep = np.empty(self.grid.shape, np.float32)

        def lies(part: slice) -> None:
            deep[part] = self._deep(part)

        strips.by_rows(lies, deep.shape)
        return deep

    def deep_in(self, part: slice) -> Array:
        """The same in some rows: a large wall, whose relief is not kept, is read there alone."""
        return self._deep(part) if self.height.size > _KEPT_PIXELS else self.deep[part]

    def _deep(self, part: slice) -> Array:
        hollow = Resampled(self.level, wet_lattice(self.grid), self.grid)[part] - self.height[part]
        hollow *= np.float32(1.0 / self.depth)
        return np.tanh(hollow, out=hollow)

    @cached_property
    def depth(self) -> float:
        """Depth, mil, of what counts as a hollow on this wall: 2 mil on a smooth one, more on a rough one."""
        return 2.0 + 0.8 * float(np.sqrt(np.mean(np.square(self.plan_hollow), dtype=np.float64)))

    @cached_property
    def lip(self) -> Array:
        """Slope of the relief down the wall, on the wet lattice: 1 on the lower lip of a hollow, -1 under its upper
        edge.
        """
        wet = wet_lattice(self.grid)
        smooth = blur(self.wet_height, 0.1 * wet.ppi, 2.5)
        return np.tanh(fields.gradient(smooth)[0] * np.float32(wet.ppi * MIL_IN * 14.0))

    @cached_property
    def slope(self) -> tuple[Array, Array]:
        """Slope down the wall and to the right, on the wet lattice."""
        down, right = fields.gradient(self.wet_height)
        per_inch = np.float32(wet_lattice(self.grid).ppi * MIL_IN)
        return down * per_inch, right * per_inch

    @cached_property
    def rough(self) -> Array:
        """Roughness on the wet lattice: slope of the relief at a tenth of an inch, 0 smooth to about 1."""
        plan, wet = self.grid.plan, wet_lattice(self.grid)
        down, right = fields.gradient(self.plan_height)
        steep = np.sqrt(down * down + right * right) * np.float32(plan.ppi * MIL_IN)
        steep = ndimage.uniform_filter(fields.resample(steep, plan, wet), 3)
        return np.tanh(steep * np.float32(12.0))


class _Same:
    """An array, equal to itself alone: the key under which its relief is kept."""

    def __init__(self, array: Array) -> None:
        self.array = array

    def __hash__(self) -> int:
        return id(self.array)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _Same) and self.array is other.array


@lru_cache(maxsize=2)
def _kept_relief(height: _Same, grid: Grid) -> Relief:
    """One wet layer follows another on the same relief: heights are read-only, so it is read off them once."""
    return Relief(height.array, grid)


_CRACKS_KEEP = np.float32(0.8)
"""How much better than a hollow a crack keeps what lies there; chosen by eye."""


@dataclass(frozen=True)
class Bed:
    """The wall as a liquid meets it; ``key`` is chance for where dirt stays and where it does not, or ``drawn`` is what
    :func:`patches` drew of it.
    """

    wall: Wall
    key: int = 0
    drawn: Array | None = None

    @property
    def grid(self) -> Grid:
        """The output grid."""
        return self.wall.grid

    @cached_property
    def wet(self) -> Grid:
        """The wet lattice."""
        return wet_lattice(self.grid)

    @cached_property
    def relief(self) -> Relief:
        """The wall's relief."""
        height = self.wall.height
        if height.size > _KEPT_PIXELS or height.flags.writeable:
            return Relief(height, self.grid)
        return _kept_relief(_Same(height), self.grid)

    @cached_property
    def shelter(self) -> Array:
        """How well a place keeps what lies there, on the output grid: about -1 on high spots to 1 in hollows."""
        keeps, shelter = np.empty(self.grid.shape, np.float32), self._sheltered()

        def work(part: slice) -> None:
            keeps[part] = shelter(part)

        strips.by_rows(work, keeps.shape)
        return keeps

    @cached_property
    def pull(self) -> Array:
        """The same with cracks, which keep most of all."""
        return self.shelter + _CRACKS_KEEP * self.wall.cracks if even(self.wall.cracks).any() else self.shelter

    def drinks(self, much: float) -> Array:
        """How much more lies where a place keeps what comes, ``much`` times ``pull``: factors, on the output grid."""
        factor, shelter, cracks = np.empty(self.grid.shape, np.float32), self._sheltered(), self.wall.cracks
        cracked, strength = even(cracks).any(), np.float32(much)

        def drunk(part: slice) -> None:
            here = shelter(part)
            if cracked:
                here += _CRACKS_KEEP * cracks[part]
            here *= strength
            np.exp(here, out=factor[part])

        strips.by_rows(drunk, factor.shape)
        return factor

    def _sheltered(self) -> Callable[[slice], Array]:
        """Shelter in some rows. A hollow keeps most on its lower lip, where it drains to, little under its upper edge,
        and not all along.
        """
        patchy, relief = patches(self.wet, self.key) if self.drawn is None else self.drawn, self.relief
        keeps = Resampled((0.68 + 0.55 * relief.lip) * patchy, self.wet, self.grid)

        def sheltered(part: slice) -> Array:
            deep = relief.deep_in(part)
            here = keeps[part] * np.maximum(deep, 0.0)
            here += np.minimum(deep, 0.0)  # high spots keep as little whatever is about them
            return here

        return sheltered

    @cached_property
    def wetness(self) -> Array:
        """Wetness on the wet lattice."""
        return fields.resample(self.wall.wet, self.grid, self.wet)


def patches(wet: Grid, key: int) -> Array:
    """Where hollows keep dirt and where they do not, on the wet lattice: factors about .7."""
    return np.clip(0.72 + 0.45 * fields.fbm(wet, 2.6, key, 3, 0.6), 0.05, 1.3)


_STRIP = 1 << 15  # pixels at a time: what is made on the way stays in the processor's cache


def by_strips(work: Callable[[slice], None], grid: Grid) -> None:
    """Do ``work`` in place for some rows of a grid after the other: see ``strips.by_rows``."""
    strips.by_rows(work, grid.shape, _STRIP)


def share_out(amount: Array, total: float, out: Array | None = None) -> Array:
    """Return ``amount`` scaled to a mean of ``total`` (float64 sum); written to ``out``, which may be the same."""
    whole = mean(amount)
    return np.multiply(amount, np.float32(total / whole), out=out) if whole > 0 else amount


def even(field: Array) -> Array:
    """The field, or a single pixel of it where it is a broadcast constant: what is made of it is as cheap."""
    return field[:1, :1] if field.strides == (0, 0) else field


def mean(amount: Array) -> float:
    """Mean over the wall in float64."""
    return float(np.mean(amount, dtype=np.float64))


def gallons(wall: Wall, mean_mil: float) -> float:
    """Volume of a mean film over the wall, US gallons."""
    return mean_mil * wall.area_ft2 / MIL_FT2_PER_GAL


# --- sag -------------------------------------------------------------------------------------------------------------


def sag(
    relief: Relief, mobile: Sequence[Array], *, seconds: float, move: float, hold: Array
) -> tuple[list[Array], list[Array], list[float]]:
    """Let the mobile films of all colours run down together, on the sag lattice.

    Parameters
    ----------
    mobile
        Films that can move, (rows, cols) each, mil.
    seconds, move
        How long, and the mobility (:func:`mobility`).
    hold
        Film that the wall keeps, mil.

    Returns
    -------
    Share of each film that stays where it is; what comes from above, mil; and the mean film of each that left at the
    floor. Film x share + what comes + what left = film before.
    """
    wet, coarse = wet_lattice(relief.grid), sag_lattice(relief.grid)
    alone = len(mobile) == 1
    total: Array = mobile[0] if alone else np.sum(mobile, axis=0, dtype=np.float32)
    law = films.FilmLaw(move, 1.0 / coarse.ppi, hold=hold, cap=7.0, relief_pull=0.9, levelling=0.012)
    slopes = fields.resample(relief.wet_hollow, wet, coarse) * np.float32(-MIL_IN)
    flowed = films.flow(total, law, seconds, slopes, carried=() if alone else mobile)
    after, left = ((flowed.film,), (flowed.run_off,)) if alone else (flowed.carried, flowed.carried_off)
    keep = [np.minimum(a / np.maximum(m, 1e-6), 1.0) for m, a in zip(mobile, after, strict=True)]
    come = [np.maximum(a - m, 0.0) for m, a in zip(mobile, after, strict=True)]
    off = [float(gone.sum(dtype=np.float64)) / total.size for gone in left]
    return keep, come, off


_ASIDE_ROWS = 64


def aside(field: Array, plan: Grid, sway: Array) -> Array:
    """A field pushed sideways by ``sway`` (inches, on the same grid ``plan``); the rim is repeated."""
    rows, cols = field.shape
    out = np.empty((rows, cols), np.float32)
    if cols < 2:
        return np.asarray(field, np.float32)
    every, place = np.arange(cols, dtype=np.float32), np.ascontiguousarray(field, np.float32)

    def work(top: int) -> None:
        part = slice(top, min(top + _ASIDE_ROWS, rows))
        col = sway[part] * np.float32(plan.ppi)
        col += every
        np.clip(col, 0.0, np.float32(cols - 1.001), out=col)
        left = col.astype(np.intp)
        col -= left
        left += (np.arange(part.start, part.stop) * cols)[:, None]
        flat = place.reshape(-1)
        here = flat.take(left)
        left += 1
        there = flat.take(left)
        there -= here
        there *= col
        np.add(here, there, out=out[part])

    threads.each(work, range(0, rows, _ASIDE_ROWS), out.size >= threads.FEW_PIXELS)
    return out


def sway(plan: Grid, key: int, much: float = 1.0) -> Array:
    """How far to one side what runs down strays, inches, on a grid."""
    wide, narrow = fields.lattice(plan, (6.0, 3.0), key), fields.lattice(plan, (1.6, 0.9), key + 1)
    return np.asarray(much * (0.28 * wide + 0.09 * narrow), np.float32)


# --- the hand ---------------------------------------------------------------------------------------------------------

_STROKE_PPI = 8.0
_TURN_PPI = 2.0  # where one way gives over to another is smooth: over an inch
_STROKE_IN = 80.0
_ALONG = 4  # a streak's patch is this much coarser along the streaks than across


def stroke_lattice(grid: Grid) -> Grid:
    """The lattice that strokes are drawn on: 8 px/in, or the plan grid where that is coarser."""
    return grid.at(min(_STROKE_PPI, grid.plan.ppi))


def strokes(plan: Grid, key: int, along: float, across: float, angles: Sequence[float] = (0.35, 1.15, 2.5)) -> Array:
    """Return brush or towel streaks on a grid: unit-variance noise drawn out along a few directions in turn.

    ``along`` and ``across`` are wavelengths in inches; ``angles`` in radians from upright. In one place hairs run one
    way, bending a little; over about eight inches they give way to another, with a ragged lap between.
    """
    grid = plan.at(min(_STROKE_PPI, plan.ppi))
    slow = grid.at(min(_TURN_PPI, grid.ppi))
    row = np.arange(grid.rows, dtype=np.float32)[:, None]
    col = np.arange(grid.cols, dtype=np.float32)[None, :]
    bend = np.float32(0.9 * grid.ppi) * fields.resample(fields.fbm(slow, 5.0, key + 5, 2), slow, grid)
    span = round(_STROKE_IN * grid.ppi)  # so far before streaks fold back
    patch = Grid(span // _ALONG + 2, span + 2, grid.ppi)
    streak = fields.fbm(patch, (along / _ALONG, across), key + 20, 3, 0.62)
    total = np.zeros(grid.rows * grid.cols, np.float32)
    for number, (angle, weight) in enumerate(zip(angles, _ways(slow, key + 70, len(angles)), strict=True)):
        share = fields.resample(weight, slow, grid).ravel()
        on = np.flatnonzero(share > np.float32(0.02))  # a way is read where it is seen
        cos, sin = np.float32(np.cos(angle)), np.float32(np.sin(angle))
        u, v = row * cos + col * sin + bend, col * cos - row * sin + bend
        v += np.float32((0.5 + 0.37 * number) * span)  # each way is another place of the patch
        read = [_bounce(place.ravel().take(on), span) for place in (u, v)]
        total[on] += share.take(on) * fields.gather(streak, read[0] * np.float32(1.0 / _ALONG), read[1])
    return fields.resample(total.reshape(grid.shape), grid, plan)


def _ways(slow: Grid, key: int, count: int) -> list[Array]:
    """How much of each way is seen in each place: one prevails, they cross over a narrow lap; squares sum to 1."""
    sway = [fields.fbm(slow, 8.0, key + 10 * n, 4, 0.6) - np.float32(0.8 * (n == 2)) for n in range(count)]
    most = np.max(sway, axis=0)
    ways = [np.exp(np.float32(9.0) * (own - most)) for own in sway]
    whole = np.sqrt(np.sum([way * way for way in ways], axis=0, dtype=np.float32))
    return [way / whole for way in ways]


def _bounce(place: Array, span: int) -> Array:
    """Fold places back and forth into 0 to ``span``, so that streaks go on without a seam."""
    there_and_back = np.float32(2 * span)
    return np.abs(place - there_and_back * np.rint(place * (1.0 / there_and_back)))


def high_spots(bed: Bed) -> Array:
    """Return 0 in hollows to 1 on high places, one half on the flat."""
    shelter, relief, cracks = bed.shelter, bed.relief.deep, bed.wall.cracks
    high, cracked = np.empty_like(shelter), even(cracks).any()

    def work(part: slice) -> None:
        here = np.multiply(shelter[part], np.float32(-0.15), out=high[part])
        here -= np.float32(0.35) * relief[part]
        if cracked:
            here -= np.float32(1.5) * cracks[part]
        here += np.float32(0.5)
        np.clip(here, 0.0, 1.0, out=here)

    by_strips(work, bed.grid)
    return high


def weave(grid: Grid, pitch_in: float, depth: float, key: int) -> Array:
    """Return a factor about 1 for the weave of a cloth, threads ``pitch_in`` apart: thicker ones press more lightly."""
    woven = fields.lattice(grid, pitch_in, key)
    woven *= np.float32(-depth)
    woven += np.float32(1.0)
    return np.clip(woven, 1.0 - 2.0 * depth, 1.0 + 2.0 * depth, out=woven)


def cloth_reach(high: Array, least: float, presses: float = 0.6) -> Array:
    """Change ``high_spots`` into how well a cloth reaches: ``least`` in deep hollows, 1 on high spots, and on the flat
    too the harder it ``presses``, 0 to 1 (chosen by eye).
    """
    high *= np.float32((1.2 + 0.8 * presses) * (1.0 - least))
    high += np.float32(least)
    return np.clip(high, least, 1.0, out=high)


# --- at rest ---------------------------------------------------------------------------------------------------------


def dry_edges(
    film: Array, grid: Grid, strength: float, reach: float = 0.11, level: float = 2.0, total: float | None = None
) -> Array:
    """Return a film whose pigment has drifted to the edges of what was wet, as at the rim of a drying drop.

    ``reach`` in inches, ``level`` the film that counts as well wetted, mil; ``total`` its mean, as it was if not given.
    """
    plan, wet = grid.plan, np.empty(grid.shape, np.float32)

    def wetted(part: slice) -> None:
        np.divide(film[part], film[part] + np.float32(level), out=wet[part])

    by_strips(wetted, grid)
    around = blur(fields.resample(wet, grid, plan), reach * plan.ppi, 2.0)
    beside = Resampled(around, plan, grid)

    def drifted(part: slice) -> None:
        drifts = wet[part]
        drifts -= beside[part]
        np.clip(drifts, -0.25, 0.5, out=drifts)
        drifts *= np.float32(strength)
        np.exp(drifts, out=drifts)
        drifts *= film[part]

    strips.by_rows(drifted, grid.shape)
    return share_out(wet, mean(film) if total is None else total, out=wet)


# --- washing, pushing, working on what is open ----------------------------------------------------------------


def wash_down(
    film: Array, share: Array, reach: float, grid: Grid, sway: Array | None = None, lays: Array | None = None
) -> tuple[Array, float]:
    """Return a film of which ``share`` is rinsed off each place and laid again below, and the mean that
    ran off.

    Pigment travels ``reach`` inches on the mean before it lies (exponential), as in a sheet of water that
    soaks in on its way; what passes the floor line has run off. With ``sway`` (wet lattice, inches) what is laid
    strays to one side, and lies without the finest detail of where it came from; ``lays`` (wet lattice, of any mean) is
    how much of what comes by lies in a place.
    """
    lifted = film * share
    on = grid if sway is None else wet_lattice(grid)
    laid, off = laid_below(fields.resample(lifted, grid, on), reach, on)
    below = laid if sway is None else aside(laid, on, sway)
    if lays is not None:
        below = share_out(below * lays, mean(laid))
    seen = Resampled(below, on, grid)
    strips.each(lambda film, lifted, laid: film - lifted + laid, film, lifted, seen, out=lifted)
    return share_out(lifted, mean(film) - off, out=lifted), off


def laid_below(film: Array, reach: float, grid: Grid) -> tuple[Array, float]:
    """Where a film lies that goes down, ``reach`` inches on the mean (exponential), and the mean that ran off."""
    keep = float(np.exp(-1.0 / (reach * grid.ppi)))
    laid = np.zeros_like(film)
    laid[1:] = fields.carried(np.float32(1.0 - keep) * film[:-1], keep)
    return laid, max(mean(film) - mean(laid), 0.0)


def draw_out(film: Array, reach: float, grid: Grid, axis: int) -> Array:
    """Return a film drawn out both ways along an axis (0 down, 1 across), ``reach`` inches on the mean;
    the mean is kept.
    """
    keep = float(np.exp(-1.0 / (reach * grid.ppi)))
    part = np.float32(1.0 - keep) * film
    there = fields.carried(part, keep, axis, held=True)
    back = np.flip(fields.carried(np.flip(part, axis), keep, axis, held=True), axis)
    return share_out(np.asarray(0.5 * (there + back), np.float32), mean(film))


def push_aside(film: Array, slide: Array, grid: Grid, reach: float = 0.5) -> Array:
    """Return a film pushed sideways, ``reach`` inches on the mean, right where ``slide`` is positive and
    left where not.

    What would go over the wall's sides stays on it.
    """
    keep = float(np.exp(-1.0 / (reach * grid.ppi)))
    part = np.float32(1.0 - keep) * film
    right = fields.carried(part * (slide > 0), keep, axis=1)
    left = fields.carried((part * (slide <= 0))[:, ::-1], keep, axis=1)[:, ::-1]
    return share_out((right + left).astype(np.float32), mean(film))


def mobile_of(one: Stratum, part: slice = slice(None)) -> Array:
    """The part of a colour that can still move, in some rows."""
    if one.fixed is None:
        return one.film[part]
    moves = one.film[part] - one.fixed[part]
    return np.clip(moves, 0.0, np.inf, out=moves)


def touched(before: Wall, after: Wall) -> float:
    """Share of the wall on which any colour's film changed by more than a thousandth."""
    changed = np.zeros(before.grid.shape, bool)
    for old, new in zip(before.strata, after.strata, strict=True):
        if old.film is not new.film:
            changed |= np.abs(new.film - old.film) > 1e-3 * old.film
    return float(np.mean(changed))


def thinned(before: Wall, after: Wall) -> float:
    """Share of the wall on which any colour became thinner by a twentieth or more."""
    thinner = np.zeros(before.grid.shape, bool)
    for old, new in zip(before.strata, after.strata, strict=True):
        if old.film is not new.film:
            thinner |= new.film < 0.95 * old.film
    return float(np.mean(thinner))


def change(
    wall: Wall,
    work: Callable[[Bed, list[Array]], tuple[list[Array], list[float]]],
    of: tuple[str, ...] = (),
    key: int = 0,
    bed: Bed | None = None,
) -> Wall:
    """Return the wall after ``work`` on its open colours: it gets the mobile films and gives them back
    with run-off.
    """
    open_ = [one for one in wall.open_colours(of) if one.film.any()]
    if not open_:
        return wall
    none = np.broadcast_to(np.float32(0.0), wall.grid.shape)
    fixed = [none if one.fixed is None else one.fixed for one in open_]
    moved, off = work(bed or Bed(wall, key), [one.film - f for one, f in zip(open_, fixed, strict=True)])
    for one, f, m, o in zip(open_, fixed, moved, off, strict=True):
        wall = wall.move(one.name, f + m, fixed=f, run_off_gal=gallons(wall, o))
    return wall
