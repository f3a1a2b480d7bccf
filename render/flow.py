"""Wet colour on a wall: what a liquid meets, how a film sags, drains, settles and is pushed about.

The physics is in ``render.physics``; this module joins it to a wall (runs: ``render.trails``, drops:
``render.droplets``). Films are in mil, places in inches. A film sags on a coarse lattice (4 px/in) and its
change is laid back on the output grid. Every exchange keeps each colour's amount: what a function returns
beside the films is what left at the floor.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from scipy import ndimage, signal

from render import fields
from render.fields import Array, Grid
from render.physics import film as films
from render.units import MIL_FT2_PER_GAL
from render.wall import Stratum, Wall

SAG_PPI = 4.0
MIL_IN = 1e-3
METRE_IN = 39.37007874


def mobility(viscosity: float) -> float:
    """g / (3 nu) for a kinematic viscosity in mm2/s (water 1, a thin glaze 20), in inches per second per
    mil2.
    """
    per_metre = films.GRAVITY / (3.0 * viscosity * 1e-6)  # 1/(m s)
    return per_metre / METRE_IN * MIL_IN**2


@dataclass(frozen=True)
class Bed:
    """The wall as a liquid meets it; ``key`` is chance for where dirt stays and where it does not."""

    wall: Wall
    key: int = 0

    @property
    def grid(self) -> Grid:
        """The output grid."""
        return self.wall.grid

    @cached_property
    def plan_height(self) -> Array:
        """Height on the plan grid, mil."""
        return fields.resample(self.wall.height, self.grid, self.grid.plan)

    @cached_property
    def plan_hollow(self) -> Array:
        """How far a place lies below its half inch, mil, on the plan grid: positive in recesses, cracks,
        at steps.
        """
        smooth = ndimage.gaussian_filter(self.plan_height, 0.35 * fields.PLAN_PPI, truncate=2.5)
        return smooth - self.plan_height

    @cached_property
    def hollow(self) -> Array:
        """The same on the output grid, with the finest relief in it."""
        smooth = ndimage.gaussian_filter(self.plan_height, 0.35 * fields.PLAN_PPI, truncate=2.5)
        return fields.resample(smooth, self.grid.plan, self.grid) - self.wall.height

    @cached_property
    def shelter(self) -> Array:
        """How well a place keeps what lies there, on the output grid: about -1 on high spots to 1 in hollows.

        A hollow keeps most on its lower lip, where it drains to, little under its upper edge, and not all along.
        """
        plan = self.grid.plan
        smooth = ndimage.gaussian_filter(self.plan_height, 0.12 * plan.ppi, truncate=2.5)
        lip = np.tanh(np.gradient(smooth, axis=0) * np.float32(plan.ppi * MIL_IN * 14.0)) if plan.rows > 1 else 0.0
        patchy = np.clip(0.72 + 0.45 * fields.fbm(plan, 2.6, self.key, 3, 0.6), 0.05, 1.3)
        keeps = fields.resample(np.asarray((0.68 + 0.55 * lip) * patchy, np.float32), plan, self.grid)
        deep = np.tanh(self.hollow * np.float32(1.0 / self.relief))
        return np.where(deep > 0, deep * keeps, deep)

    @cached_property
    def relief(self) -> float:
        """Depth, mil, of what counts as a hollow on this wall: 2 mil on a smooth one, more on a rough one."""
        return 2.0 + 0.8 * float(np.sqrt(np.mean(np.square(self.plan_hollow), dtype=np.float64)))

    @cached_property
    def plan_wet(self) -> Array:
        """Wetness on the plan grid."""
        return fields.resample(self.wall.wet, self.grid, self.grid.plan)

    @cached_property
    def rough(self) -> Array:
        """Roughness on the plan grid: slope of the relief at a tenth of an inch, 0 smooth to about 1."""
        down, right = np.gradient(self.plan_height)
        steep = np.sqrt(down * down + right * right) * np.float32(fields.PLAN_PPI * MIL_IN)
        return np.asarray(np.tanh(ndimage.uniform_filter(steep, 5) * 12.0), np.float32)


def share_out(amount: Array, total: float) -> Array:
    """Return ``amount`` scaled to a mean of ``total`` (float64 sum)."""
    mean = float(np.mean(amount, dtype=np.float64))
    return np.asarray(amount * (total / mean), np.float32) if mean > 0 else amount


def mean(amount: Array) -> float:
    """Mean over the wall in float64."""
    return float(np.mean(amount, dtype=np.float64))


def gallons(wall: Wall, mean_mil: float) -> float:
    """Volume of a mean film over the wall, US gallons."""
    return mean_mil * wall.area_ft2 / MIL_FT2_PER_GAL


# --- sag -------------------------------------------------------------------------------------------------------------


def sag(
    bed: Bed,
    mobile: Sequence[Array],
    *,
    seconds: float,
    move: float,
    hold: Array,
    texture: Array | None = None,
    sway: Array | None = None,
) -> tuple[list[Array], list[float], Array]:
    """Let the mobile films of all colours run down together.

    Parameters
    ----------
    mobile
        Films that can move, (rows, cols) each, mil.
    seconds, move
        How long, and the mobility (:func:`mobility`).
    hold
        Film that the wall keeps, mil, on the sag grid.
    texture
        Positive weights on the output grid that what arrives is laid by, mean about 1.
    sway
        How far to one side, inches, paths wander on the plan grid, so that nothing follows the coarse
        lattice.

    Returns
    -------
    The films, the mean film of each that left at the floor, and how much film passed each place (sag grid,
    mil).
    """
    grid, coarse = bed.grid, bed.grid.at(SAG_PPI)
    before = [fields.resample(m, grid, coarse) for m in mobile]
    total = np.sum(before, axis=0, dtype=np.float32)
    law = films.FilmLaw(move, 1.0 / SAG_PPI, hold=hold, cap=7.0, relief_pull=0.9, levelling=0.012)
    relief = fields.resample(bed.plan_hollow, grid.plan, coarse) * np.float32(-MIL_IN)
    flowed = films.flow(np.maximum(total, 0.0), law, seconds, relief, carried=[np.maximum(b, 0.0) for b in before])
    out, off = [], []
    for m, b, a, left in zip(mobile, before, flowed.carried, flowed.carried_off, strict=True):
        out_of = np.minimum(a / np.maximum(b, 1e-6), 1.0)
        new = m * _finer(out_of, coarse, grid, sway)
        come = _finer(np.maximum(a - b, 0.0), coarse, grid, sway)
        new += come if texture is None else come * texture
        gone = float(left.sum(dtype=np.float64)) / (coarse.rows * coarse.cols)
        out.append(share_out(new, max(mean(m) - gone, 0.0)))
        off.append(gone)
    return out, off, np.maximum(flowed.film - total, 0.0) + 0.25 * total


def _finer(field: Array, coarse: Grid, grid: Grid, sway: Array | None) -> Array:
    """A field of the sag grid on the output grid, pushed sideways by ``sway`` (plan grid, inches) on the
    way.
    """
    if sway is None:
        return fields.resample(field, coarse, grid)
    plan = grid.plan
    smooth = np.maximum(fields.resample(field, coarse, plan, smooth=True), 0.0)
    return fields.resample(aside(smooth, plan, sway), plan, grid)


def aside(field: Array, plan: Grid, sway: Array) -> Array:
    """A field of the plan grid pushed sideways by ``sway`` (plan grid, inches)."""
    row = np.broadcast_to(np.arange(plan.rows, dtype=np.float32)[:, None], plan.shape)
    col = np.arange(plan.cols, dtype=np.float32)[None, :] + np.float32(plan.ppi) * sway
    return fields.gather(field, row, col)


def sway(plan: Grid, key: int, much: float = 1.0) -> Array:
    """How far to one side what runs down strays, inches, on the plan grid."""
    wide, narrow = fields.lattice(plan, (6.0, 3.0), key), fields.lattice(plan, (1.6, 0.9), key + 1)
    return np.asarray(much * (0.28 * wide + 0.09 * narrow), np.float32)


# --- the hand ---------------------------------------------------------------------------------------------------------

_STROKE_PPI = 8.0
_STROKE_PATCH = 640  # cells; 80 in before streaks fold back


def strokes(plan: Grid, key: int, along: float, across: float, angles: Sequence[float] = (0.35, 1.15, 2.5)) -> Array:
    """Return brush or towel streaks on the plan grid: unit-variance noise drawn out along a few directions
    in turn.

    ``along`` and ``across`` are wavelengths in inches; ``angles`` in radians from upright. In one place hairs run one
    way, bending a little; over about eight inches they give way to another, with a ragged lap between.
    """
    grid = plan.at(_STROKE_PPI)
    row = np.arange(grid.rows, dtype=np.float32)[:, None]
    col = np.arange(grid.cols, dtype=np.float32)[None, :]
    bend = 0.9 * grid.ppi * fields.fbm(grid, 5.0, key + 5, 2)
    patch = Grid(_STROKE_PATCH, _STROKE_PATCH, grid.ppi)
    parts, sway = [], []
    for number, angle in enumerate(angles):
        cos, sin = np.float32(np.cos(angle)), np.float32(np.sin(angle))
        streak = fields.fbm(patch, (along, across), key + 20 + 10 * number, 3, 0.62)
        u, v = row * cos + col * sin + bend, col * cos - row * sin + bend
        sway.append(fields.fbm(grid, 8.0, key + 70 + 10 * number, 4, 0.6) - 0.8 * (number == 2))
        parts.append(fields.gather(streak, _bounce(u, patch.rows), _bounce(v, patch.cols)))
    return fields.resample(_one_way(parts, sway), grid, plan)


def _one_way(parts: Sequence[Array], sway: Sequence[Array]) -> Array:
    """Of several fields the one that prevails in each place; they cross over a narrow lap."""
    most = np.max(sway, axis=0)
    total, weight = np.zeros_like(most), np.zeros_like(most)
    for part, own in zip(parts, sway, strict=True):
        here = np.exp(np.float32(9.0) * (own - most))
        total += here * part
        weight += here * here
    return np.asarray(total / np.sqrt(weight), np.float32)


def _bounce(place: Array, size: int) -> Array:
    """Fold places back and forth into a patch, so that streaks go on without a seam."""
    span = np.float32(size - 2)
    return np.asarray(np.abs((place % (2 * span)) - span), np.float32)


def high_spots(bed: Bed) -> Array:
    """Return 0 in hollows to 1 on high places, one half on the flat."""
    deep = 0.3 * bed.shelter + 0.7 * np.tanh(bed.hollow * np.float32(1.0 / bed.relief))
    deep = np.clip(deep + bed.wall.cracks * 3.0, -1.0, 1.0)
    return np.asarray(0.5 - 0.5 * deep, np.float32)


# --- at rest ---------------------------------------------------------------------------------------------------------


def dry_edges(film: Array, grid: Grid, strength: float, reach: float = 0.11, level: float = 2.0) -> Array:
    """Return a film whose pigment has drifted to the edges of what was wet, as at the rim of a drying drop.

    ``reach`` in inches, ``level`` the film that counts as well wetted, mil. The mean is kept.
    """
    coarse = grid.at(min(grid.ppi, 25.0))
    wet = film / (film + np.float32(level))
    around = fields.resample(wet, grid, coarse)
    around = ndimage.gaussian_filter(around, reach * coarse.ppi, truncate=2.0)
    around = fields.resample(around, coarse, grid)
    return share_out(film * np.exp(np.float32(strength) * np.clip(wet - around, -0.25, 0.5)), mean(film))


def into_hollows(film: Array, bed: Bed, strength: float) -> Array:
    """Return a film some of which has drained from high places into hollows; the mean is kept."""
    pull = bed.shelter + 0.8 * bed.wall.cracks
    return share_out(film * np.exp(np.float32(strength) * pull), mean(film))


# --- washing, pushing, working on what is open ----------------------------------------------------------------


def wash_down(film: Array, share: Array, reach: float, grid: Grid, sway: Array | None = None) -> tuple[Array, float]:
    """Return a film of which ``share`` is rinsed off each place and laid again below, and the mean that
    ran off.

    Pigment travels ``reach`` inches on the mean before it lies (exponential), as in a sheet of water that
    soaks in on its way; what passes the floor line has run off. With ``sway`` (plan grid, inches) what is laid strays
    to one side, and lies without the finest detail of where it came from.
    """
    lifted = film * share
    on = grid if sway is None else grid.plan
    start = fields.resample(lifted, grid, on)
    keep = float(np.exp(-1.0 / (reach * on.ppi)))
    laid = signal.lfilter(np.array([0.0, 1.0 - keep], np.float32), np.array([1.0, -keep], np.float32), start, axis=0)
    off = max(mean(start) - mean(laid), 0.0)
    if sway is not None:
        laid = fields.resample(aside(laid, on, sway), on, grid)
    return share_out(film - lifted + laid, mean(film) - off), off


def draw_out(film: Array, reach: float, grid: Grid, axis: int) -> Array:
    """Return a film drawn out both ways along an axis (0 down, 1 across), ``reach`` inches on the mean;
    the mean is kept.
    """
    keep = float(np.exp(-1.0 / (reach * grid.ppi)))
    b, a = np.array([1.0 - keep], np.float32), np.array([1.0, -keep], np.float32)
    there = _held(film, b, a, axis)
    back = np.flip(_held(np.flip(film, axis), b, a, axis), axis)
    return share_out(np.asarray(0.5 * (there + back), np.float32), mean(film))


def _held(film: Array, b: Array, a: Array, axis: int) -> Array:
    """Run a first-order filter that starts as if the first line had always been there."""
    first = np.take(film, [0], axis) * a.dtype.type(-a[1])
    return np.asarray(signal.lfilter(b, a, film, axis=axis, zi=first)[0], np.float32)


def push_aside(film: Array, slide: Array, grid: Grid, reach: float = 0.5) -> Array:
    """Return a film pushed sideways, ``reach`` inches on the mean, right where ``slide`` is positive and
    left where not.

    What would go over the wall's sides stays on it.
    """
    keep = float(np.exp(-1.0 / (reach * grid.ppi)))
    b, a = np.array([1.0 - keep], np.float32), np.array([1.0, -keep], np.float32)
    right = signal.lfilter(b, a, film * (slide > 0), axis=1)
    left = signal.lfilter(b, a, (film * (slide <= 0))[:, ::-1], axis=1)[:, ::-1]
    return share_out((right + left).astype(np.float32), mean(film))


def mobile_of(one: Stratum) -> Array:
    """The part of a colour that can still move."""
    return one.film if one.fixed is None else np.maximum(one.film - one.fixed, 0.0)


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
) -> Wall:
    """Return the wall after ``work`` on its open colours: it gets the mobile films and gives them back
    with run-off.
    """
    open_ = [one for one in wall.open_colours(of) if one.film.any()]
    if not open_:
        return wall
    fixed = [one.film * 0 if one.fixed is None else one.fixed for one in open_]
    moved, off = work(Bed(wall, key), [one.film - f for one, f in zip(open_, fixed, strict=True)])
    for one, f, m, o in zip(open_, fixed, moved, off, strict=True):
        wall = wall.move(one.name, f + m, fixed=f, run_off_gal=gallons(wall, o))
    return wall
