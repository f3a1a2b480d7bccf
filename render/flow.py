"""Wet colour on a wall: what a liquid meets, how a film sags, how runs and drops carry pigment about.

The physics is in ``render.physics``; this module joins it to a wall. Films are in mil, places in inches. A film sags on a
coarse lattice (5 px/in) and its change is laid back on the output grid; runs are swept on the plan grid and drawn crisp.
Every exchange keeps each colour's amount: what a function returns beside the films is what left at the floor.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cached_property, lru_cache

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage, signal

from render import fields, seeds
from render.fields import Array, Grid
from render.physics import film as films
from render.physics import runs as rivulets
from render.physics import wetting
from render.wall import Stratum, Wall

SAG_PPI = 4.0
MIL_IN = 1e-3
METRE_IN = 39.37007874


def mobility(viscosity: float) -> float:
    """g / (3 nu) for a kinematic viscosity in mm2/s (water 1, a thin glaze 20), in inches per second per mil2."""
    per_metre = films.GRAVITY / (3.0 * viscosity * 1e-6)  # 1/(m s)
    return per_metre / METRE_IN * MIL_IN**2


@dataclass(frozen=True)
class Bed:
    """The wall as a liquid meets it."""

    wall: Wall

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
        """How far a place lies below its half inch, mil, on the plan grid: positive in recesses, cracks, at steps."""
        smooth = ndimage.gaussian_filter(self.plan_height, 0.35 * fields.PLAN_PPI, truncate=2.5)
        return smooth - self.plan_height

    @cached_property
    def hollow(self) -> Array:
        """The same on the output grid, with the finest relief in it."""
        smooth = ndimage.gaussian_filter(self.plan_height, 0.35 * fields.PLAN_PPI, truncate=2.5)
        return fields.resample(smooth, self.grid.plan, self.grid) - self.wall.height

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


# --- sag -------------------------------------------------------------------------------------------------------------


def sag(
    bed: Bed,
    mobile: Sequence[Array],
    *,
    seconds: float,
    move: float,
    hold: Array,
    texture: Array | None = None,
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

    Returns
    -------
    The films, the mean film of each that left at the floor, and how much film passed each place (sag grid, mil).
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
        new = m * fields.resample(out_of, coarse, grid)
        come = fields.resample(np.maximum(a - b, 0.0), coarse, grid)
        new += come if texture is None else come * texture
        gone = float(left.sum(dtype=np.float64)) / (coarse.rows * coarse.cols)
        out.append(share_out(new, max(mean(m) - gone, 0.0)))
        off.append(gone)
    return out, off, np.maximum(flowed.film - total, 0.0) + 0.25 * total


# --- the hand ---------------------------------------------------------------------------------------------------------

_STROKE_PATCH = 2048


def strokes(plan: Grid, key: int, along: float, across: float, angles: Sequence[float] = (0.35, 1.15, 2.5)) -> Array:
    """Return brush or towel streaks on the plan grid: unit-variance noise drawn out along a few directions in turn.

    ``along`` and ``across`` are wavelengths in inches; ``angles`` in radians from upright. Strokes bend a little and give
    way to one another over about five inches.
    """
    row = np.arange(plan.rows, dtype=np.float32)[:, None]
    col = np.arange(plan.cols, dtype=np.float32)[None, :]
    bend = 0.6 * plan.ppi * fields.fbm(plan, 4.0, key + 5, 2)
    total, weight = np.zeros(plan.shape, np.float32), np.full(plan.shape, 1e-3, np.float32)
    patch = Grid(_STROKE_PATCH // 4, _STROKE_PATCH // 4, plan.ppi)
    for number, angle in enumerate(angles):
        cos, sin = np.float32(np.cos(angle)), np.float32(np.sin(angle))
        streak = fields.fbm(patch, (along, across), key + 20 + 10 * number, 3, 0.62)
        u, v = row * cos + col * sin + bend, col * cos - row * sin + bend
        here = np.clip(0.3 + fields.lattice(plan, 5.0, key + 70 + number), 0.0, 1.0)
        total += here * fields.gather(streak, _bounce(u, patch.rows), _bounce(v, patch.cols))
        weight += here * here
    return total / np.sqrt(weight)


def _bounce(place: Array, size: int) -> Array:
    """Fold places back and forth into a patch, so that streaks go on without a seam."""
    span = np.float32(size - 2)
    return np.abs((place % (2 * span)) - span)


def high_spots(bed: Bed, depth: float = 2.0) -> Array:
    """Return 0 in hollows to 1 on high places, one half on the flat; ``depth`` in mil."""
    return 0.5 - 0.5 * np.tanh(bed.hollow * np.float32(1.0 / depth) + bed.wall.cracks * 3.0)


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


def into_hollows(film: Array, bed: Bed, strength: float, depth: float = 3.0) -> Array:
    """Return a film some of which has drained from high places into hollows (``depth`` mil deep); the mean is kept."""
    pull = np.tanh(bed.hollow * np.float32(1.0 / depth)) + 0.8 * bed.wall.cracks
    return share_out(film * np.exp(np.float32(strength) * pull), mean(film))


# --- runs ------------------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class RunLook:
    """How runs take and lay pigment.

    ``core`` share of what a run lays that lies in its middle and not at its sides;
    ``lift`` share of the film that a strong run takes from its middle; ``lay`` per inch, share of the load laid at the
    rims; ``saturation`` mil of film per mil in2 of head; ``flare`` how much wider a run begins.
    """

    lift: float = 0.7
    lay: float = 0.22
    saturation: float = 3.0
    flare: float = 1.2
    core: float = 0.0


def ground(bed: Bed, *, dry_drag: float = 3.0) -> rivulets.Ground:
    """The wall as runs meet it, on the plan grid: drag from roughness and dryness, lean and ledges from the relief."""
    height = ndimage.gaussian_filter(bed.plan_height, 0.1 * fields.PLAN_PPI, truncate=2.0) * MIL_IN
    lean = np.gradient(height, axis=1) * fields.PLAN_PPI
    rise = np.gradient(height, axis=0) * fields.PLAN_PPI
    drag = (0.35 + 0.65 * bed.rough) * (1.0 + (dry_drag - 1.0) * (1.0 - bed.plan_wet))
    ledge = 2.2 * np.clip(rise - 0.03, 0.0, 0.25) / 0.25
    return rivulets.Ground(drag.astype(float), lean.astype(float), ledge.astype(float))


def sweep(
    bed: Bed, row_in: NDArray, col_in: NDArray, volume: NDArray, *, key: int, law: rivulets.RunLaw | None = None
) -> rivulets.Runs:
    """Sweep runs from given places and volumes (mil in2) down this wall; each strays as the wall's own noise bids."""
    plan = bed.grid.plan
    law = law or rivulets.RunLaw(step=1.0 / fields.PLAN_PPI, width=0.06, trail=2.2, stop=0.08)
    inside = (row_in >= 0) & (row_in < plan.height_in) & (col_in >= 0) & (col_in < plan.width_in) & (volume > 1e-4)
    row_in, col_in, volume = row_in[inside], col_in[inside], volume[inside]
    first = np.clip((row_in * plan.ppi).astype(np.int64), 0, plan.rows - 1)
    stray = fields.lattice(plan, (1.1, 0.5), key) * 0.08 + fields.lattice(plan, (3.5, 1.5), key + 1) * 0.07
    at = np.clip((col_in * plan.ppi).astype(np.int64), 0, plan.cols - 1)
    return rivulets.descend(first, col_in, volume, ground=ground(bed), wander=stray[:, at].astype(float), law=law)


@dataclass(frozen=True)
class Tracks:
    """Runs drawn on the output grid: one entry, (m,), for each pixel that a run touches.

    ``pixel`` flat index; ``cell`` flat index into (plan rows, runs); ``body`` share 0..1 of the pixel in the run's middle;
    ``rim`` weights of the sides, summing to 1 in each cell.
    """

    pixel: NDArray[np.int64]
    cell: NDArray[np.int64]
    body: NDArray[np.float32]
    rim: NDArray[np.float32]


def _outline(runs: rivulets.Runs, look: RunLook, key: int) -> NDArray[np.float64]:
    """Half-width drawn in each plan row and run: flared at the top, breathing, with a rounded head at its end."""
    rows, count = runs.half.shape
    step = 1.0 / fields.PLAN_PPI
    row = np.arange(rows)[:, None]
    half = runs.half.copy()
    lone = runs.half[np.minimum(runs.first, rows - 1), np.arange(count)]
    run_in = (row - runs.first[None, :]) * step
    half *= 1.0 + look.flare * np.exp(-np.maximum(run_in, 0.0) / np.maximum(4.0 * lone, 0.05))
    half *= np.exp(0.10 * _along(runs, 0.5, key) + 0.16 * _along(runs, 2.6, key + 1))
    to_end = (runs.last[None, :] - row) * step
    ends_here = (runs.parent < 0) & (runs.off == 0)
    size = np.maximum(np.cbrt(np.maximum(runs.tail, 1e-4)) * 0.1, 0.04)[None, :]
    bulb = np.exp(-((to_end - 1.8 * size) ** 2) / (1.8 * size) ** 2) * size
    round_off = np.sqrt(np.clip(to_end / (1.5 * size), 0.0, 1.0))
    half = np.where(ends_here[None, :], np.maximum(half, bulb) * round_off, half)
    return np.where(runs.volume > 0, half, 0.0)


def _along(runs: rivulets.Runs, wavelength: float, key: int) -> NDArray[np.float32]:
    """Unit-variance noise along each run, (rows, n), that knows nothing of its neighbours."""
    rows, count = runs.half.shape
    step = 1.0 / fields.PLAN_PPI
    many = fields.lattice(Grid(rows, max(3 * count, 1), fields.PLAN_PPI), (wavelength, step), key)
    return np.clip(many[:, : 3 * count : 3] * np.float32(1.2), -2.5, 2.5)


def draw(runs: rivulets.Runs, grid: Grid, look: RunLook, key: int) -> Tracks:
    """Draw runs on a grid: pixel-area shares of their bodies and rims, right even where a run is finer than a pixel."""
    rows, count = runs.half.shape
    half = _outline(runs, look, key)
    lower = np.minimum(np.arange(rows) + 1, rows - 1)
    next_on = runs.volume[lower] > 0
    slope = np.where(next_on, runs.col[lower] - runs.col, 0.0)
    half_end = np.where(next_on, half[lower], 0.85 * half)
    out_row = np.arange(grid.rows)
    place = (out_row + 0.5) / grid.ppi * fields.PLAN_PPI
    plan_row = np.clip(place.astype(np.int64), 0, rows - 1)
    seg_out, seg_run = np.nonzero(runs.volume[plan_row] > 0)
    i, t = plan_row[seg_out], (place - plan_row)[seg_out]
    middle = (runs.col[i, seg_run] + slope[i, seg_run] * t) * grid.ppi
    wide = np.maximum((half[i, seg_run] * (1 - t) + half_end[i, seg_run] * t) * grid.ppi, 0.02)
    left = np.clip(0.5 + 0.3 * _along(runs, 3.0, key + 7) + 0.15 * _along(runs, 0.4, key + 8), 0.02, 0.98)
    left = left[i, seg_run]
    blur = 0.022 * np.exp(0.7 * seeds.hash_unit(np.arange(count, dtype=np.uint64), key + 11))[seg_run]
    thin = np.clip(blur * grid.ppi / wide, 0.16, 1.2)
    low = np.floor(middle - (1 + thin) * wide).astype(np.int64)
    spans = (np.ceil(middle + (1 + thin) * wide).astype(np.int64) - low).clip(1)
    of = np.repeat(np.arange(low.size), spans)
    col = low[of] + np.arange(of.size) - np.repeat(np.cumsum(spans) - spans, spans)
    keep = (col >= 0) & (col < grid.cols)
    of, col = of[keep], col[keep]
    u0 = (col - middle[of]) / wide[of]
    u1 = u0 + 1.0 / wide[of]
    body = (rivulets.trough_share(u1) - rivulets.trough_share(u0)) * wide[of] * 1.6
    rim = rivulets.rim_share(u1, thin[of], left[of]) - rivulets.rim_share(u0, thin[of], left[of])
    rim = (1.0 - look.core) * rim + look.core * (body / (1.6 * wide[of]))
    cell = i[of] * count + seg_run[of]
    whole = np.bincount(cell, rim, minlength=rows * count)
    rim = rim / np.maximum(whole[cell], 1e-12)
    return Tracks(seg_out[of] * grid.cols + col, cell, body.astype(np.float32), rim.astype(np.float32))


def run_down(
    bed: Bed,
    mobile: Sequence[Array],
    runs: rivulets.Runs,
    look: RunLook,
    key: int,
    load: NDArray[np.float64] | None = None,
) -> tuple[list[Array], list[float]]:
    """Let runs lift, carry and lay the mobile films: pale middles, dark sides, darker below.

    Returns
    -------
    The films, and the mean film of each that left at the floor. ``load`` (runs, colours) is pigment that runs bring
    along, in mil pixels.
    """
    grid, (rows, count) = bed.grid, runs.half.shape
    if count == 0:
        return list(mobile), [0.0] * len(mobile)
    tracks = draw(runs, grid, look, key)
    pixels = grid.rows * grid.cols
    crowd = np.bincount(tracks.pixel, tracks.body, minlength=pixels).astype(np.float32)
    body = tracks.body * (look.lift / np.maximum(1.0, crowd))[tracks.pixel]
    fade = _fade(runs, key)
    body *= fade.ravel()[tracks.cell]
    flat = [m.ravel() for m in mobile]
    could = [body * f[tracks.pixel] for f in flat]
    offered = np.stack([np.bincount(tracks.cell, c, minlength=rows * count) for c in could], -1)
    offered = offered.reshape(rows, count, len(flat))
    per_volume = look.saturation * grid.ppi**2  # mil in2 of head to mil pixels of film
    taken, laid, off = rivulets.carry(runs, offered, _lay(runs, look, key), per_volume, load)
    out = []
    for k, f in enumerate(flat):
        part = taken[:, :, k] / np.maximum(offered[:, :, k], 1e-12)
        change = tracks.rim * laid[:, :, k].ravel()[tracks.cell] - could[k] * part.ravel()[tracks.cell]
        moved = f + np.bincount(tracks.pixel, change, minlength=pixels)
        out.append(np.maximum(moved, 0.0).astype(np.float32).reshape(grid.shape))
    return out, [float(o) / pixels for o in off.sum(0)]


def _fade(runs: rivulets.Runs, key: int) -> NDArray[np.float32]:
    """How strongly a run lifts in each row: some hardly at all; it comes in slowly, and weakens as its head shrinks."""
    step = 1.0 / fields.PLAN_PPI
    down = (np.arange(runs.half.shape[0])[:, None] - runs.first[None, :]) * step
    start = runs.volume[np.minimum(runs.first, runs.volume.shape[0] - 1), np.arange(runs.first.size)]
    head = np.cbrt(runs.volume / np.maximum(start, 1e-9)).clip(0, 1)
    own = 0.12 + 0.88 * seeds.hash_unit(np.arange(runs.first.size, dtype=np.uint64), key + 13) ** 1.5
    wave = np.clip(0.8 + 0.3 * _along(runs, 2.0, key + 14), 0.0, 1.0)
    return (own * head * wave * (1.0 - np.exp(-np.maximum(down, 0.0) / 0.9))).astype(np.float32)


def _lay(runs: rivulets.Runs, look: RunLook, key: int) -> NDArray[np.float64]:
    """Share of the load laid in each row: a little on the way, more at ledges, all of it over the last half inch."""
    step = 1.0 / fields.PLAN_PPI
    to_end = (runs.last[None, :] - np.arange(runs.half.shape[0])[:, None]).astype(float)
    way = look.lay * step * (1.0 + 3.0 * (runs.left / np.maximum(runs.volume, 1e-9)).clip(0, 1))
    way = way * np.exp(0.8 * _along(runs, 1.4, key + 17) - 0.3)
    begun = (np.arange(runs.half.shape[0])[:, None] - runs.first[None, :]) * step
    way = way * (1.0 - np.exp(-np.maximum(begun, 0.0) / 0.8))
    stops = (runs.parent < 0) & (runs.off == 0)
    last = np.where(stops[None, :] & (to_end > 0) & (to_end <= 5), 1.0 / np.maximum(to_end, 1.0), 0.0)
    return np.minimum(np.maximum(way, last), 1.0)


def wash_down(film: Array, share: Array, reach: float, grid: Grid) -> tuple[Array, float]:
    """Return a film of which ``share`` is rinsed off each place and laid again below, and the mean that ran off.

    Pigment travels ``reach`` inches on the mean before it lies (exponential), as in a sheet of water that soaks in on its
    way; what passes the floor line has run off.
    """
    lifted = film * share
    keep = float(np.exp(-1.0 / (reach * grid.ppi)))
    laid = signal.lfilter(np.float32([0.0, 1.0 - keep]), np.float32([1.0, -keep]), lifted, axis=0)
    off = max(mean(lifted) - mean(laid), 0.0)
    return share_out(film - lifted + laid, mean(film) - off), off


def push_aside(film: Array, slide: Array, grid: Grid, reach: float = 0.5) -> Array:
    """Return a film pushed sideways, ``reach`` inches on the mean, right where ``slide`` is positive and left where not.

    What would go over the wall's sides stays on it.
    """
    keep = float(np.exp(-1.0 / (reach * grid.ppi)))
    b, a = np.float32([1.0 - keep]), np.float32([1.0, -keep])
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


# --- drops -----------------------------------------------------------------------------------------------------------

_ANGLES = 96
_SECTORS = 24


@dataclass(frozen=True)
class Drops:
    """Drops on the wall, (n,) each: middle and radius in inches, ``tall`` how far a drop is drawn out downwards."""

    row_in: NDArray[np.float64]
    col_in: NDArray[np.float64]
    radius: NDArray[np.float64]
    tall: NDArray[np.float64]

    def __len__(self) -> int:
        return len(self.radius)

    def where(self, on: NDArray[np.bool_]) -> Drops:
        """The drops that are on."""
        return Drops(self.row_in[on], self.col_in[on], self.radius[on], self.tall[on])


@dataclass(frozen=True)
class Patches:
    """The pixels about drops, (m,) each: ``pixel`` flat index, ``drop``, ``rho`` distance over the drop's own outline
    (1 on it), ``turn`` direction in turns (0..1)."""

    pixel: NDArray[np.int64]
    drop: NDArray[np.int64]
    rho: NDArray[np.float32]
    turn: NDArray[np.float32]


def patches(grid: Grid, drops: Drops, outline: Array, reach: float, ragged: Array | None = None) -> Patches:
    """Return the pixels within ``reach`` radii of each drop.

    ``outline`` (n, angles) is each drop's radius about its mean, by direction; ``ragged`` (rows, cols) adds the wall's own
    unevenness to it.
    """
    ppi = grid.ppi
    r0, c0 = drops.row_in * ppi - 0.5, drops.col_in * ppi - 0.5
    size = drops.radius * ppi * reach * outline.max(1, initial=1.0)
    top = np.maximum(np.ceil(r0 - size), 0).astype(np.int64)
    low = np.minimum(np.floor(r0 + size * (1 + drops.tall)), grid.rows - 1).astype(np.int64)
    left = np.maximum(np.ceil(c0 - size), 0).astype(np.int64)
    right = np.minimum(np.floor(c0 + size), grid.cols - 1).astype(np.int64)
    tall, wide = np.maximum(low - top + 1, 0), np.maximum(right - left + 1, 0)
    count = tall * wide
    drop = np.repeat(np.arange(len(drops)), count)
    within = np.arange(drop.size) - np.repeat(np.cumsum(count) - count, count)
    row, col = top[drop] + within // wide[drop], left[drop] + within % wide[drop]
    pixel = row * grid.cols + col
    down = (row - r0[drop]).astype(np.float32)
    down = np.where(down > 0, down / (1 + drops.tall[drop]), down).astype(np.float32)
    across = (col - c0[drop]).astype(np.float32)
    turn = (np.arctan2(across, down) / np.float32(2 * np.pi)) % 1.0
    own = _around(outline.astype(np.float32), drop, turn)
    rho = np.sqrt(down * down + across * across) / (own * (drops.radius * ppi)[drop].astype(np.float32))
    if ragged is not None:
        rho = rho * (1.0 + ragged.ravel()[pixel])
    near = rho < reach
    return Patches(pixel[near], drop[near], rho[near].astype(np.float32), turn[near].astype(np.float32))


def _around(table: Array, drop: NDArray[np.int64], turn: Array) -> Array:
    """Read a table (n, angles) at directions in turns, linearly and all the way round."""
    place = turn * np.float32(table.shape[1])
    i = place.astype(np.int64) % table.shape[1]
    t = (place - np.floor(place)).astype(np.float32)
    return table[drop, i] * (1 - t) + table[drop, (i + 1) % table.shape[1]] * t


def until(plan: Grid, drops: Drops, turn: NDArray[np.float64], share: float) -> float:
    """The turn up to which drops must fall for their union to cover ``share`` of the wall, seen on the ``plan`` grid."""
    at = patches(plan, drops, np.ones((len(drops), 4), np.float32), 1.0)
    first = np.full(plan.rows * plan.cols, np.inf)
    np.minimum.at(first, at.pixel, turn[at.drop])
    count = min(round(share * first.size), first.size - 1)
    return float(np.partition(first, count)[count]) if count > 0 else -np.inf


def outlines(count: int, key: int, lobes: float = 0.10, teeth: float = 0.05) -> Array:
    """Return (count, angles) outlines about 1: a few low harmonics, and fine teeth."""
    ids = np.arange(count, dtype=np.uint64)
    angle = np.linspace(0, 2 * np.pi, _ANGLES, endpoint=False)
    shape = np.ones((count, _ANGLES))
    for m in range(2, 8):
        amp = lobes * (seeds.hash_unit(ids, key + m) + 0.3) * (2.0 / m) ** 0.8
        phase = 2 * np.pi * seeds.hash_unit(ids, key + 20 + m)
        shape += amp[:, None] * np.cos(m * angle[None, :] + phase[:, None])
    fine = seeds.hash_lattice(np.arange(count), np.arange(_ANGLES), key + 50) - 0.5
    fine = fine + 0.5 * (np.roll(fine, 1, 1) + np.roll(fine, -1, 1))
    return np.clip(shape + teeth * fine, 0.4, 2.0).astype(np.float32)


@lru_cache(maxsize=1)
def spot_profile() -> tuple[Array, Array]:
    """Film over the undisturbed film, against radius over the rim's radius, of the spot that alcohol opens.

    Solved once by :func:`render.physics.wetting.open_spot` for a drop on .1 mm of thin glaze.
    """
    spot = wetting.open_spot(1e-4, 0.02, 2e-3, 0.08, feed=2e-3, reach=24e-3, cells=110)
    return (spot.radius / spot.fronts[-1]).astype(np.float32), (spot.film / 1e-4).astype(np.float32)


def open_spots(
    bed: Bed, mobile: Sequence[Array], drops: Drops, key: int, strength: float = 1.0
) -> list[Array]:
    """Let alcohol drops push the mobile films out of their middles into rims and feathers, exactly drop by drop.

    The film across a spot is that of :func:`spot_profile`; what leaves the middle lies in the rim and in feathers beyond
    it, in the direction in which it left.
    """
    if not len(drops):
        return list(mobile)
    grid = bed.grid
    ragged = 0.10 * fields.fbm(grid, 0.4, key + 900, 3, 0.6)
    at = patches(grid, drops, outlines(len(drops), key), 1.75, ragged)
    radius, ratio = spot_profile()
    film = np.interp(at.rho, radius, ratio).astype(np.float32)
    lift = strength * (1.0 - np.minimum(film, 1.0) ** 2.4) * np.clip(1.15 - at.rho, 0, 0.12) / 0.12
    crowd = np.bincount(at.pixel, lift, minlength=grid.rows * grid.cols)
    lift = (lift * 0.97 / np.maximum(1.0, crowd[at.pixel])).astype(np.float32)
    quills = seeds.hash_lattice(np.arange(len(drops)), np.arange(_ANGLES), key + 300).astype(np.float32)
    quill = _around(quills**2.5, at.drop, at.turn)
    beyond = np.maximum(at.rho - 1.0, 0.0)
    rim = np.exp(-(((at.rho - 0.97) / 0.07) ** 2)) * (0.35 + quill)
    rim += 0.55 * quill * np.exp(-beyond / 0.16) * (at.rho > 0.97)
    return [_displace(m, at, lift, rim, len(drops)) for m in mobile]


def _displace(film: Array, at: Patches, lift: Array, weight: Array, count: int) -> Array:
    """Move a share of a film in each patch to where ``weight`` lies, by direction; each drop keeps its amount."""
    flat = film.ravel()
    taken = lift * flat[at.pixel]
    sector = (at.turn * _SECTORS).astype(np.int64) % _SECTORS
    by_way = np.bincount(at.drop * _SECTORS + sector, taken, minlength=count * _SECTORS).reshape(count, _SECTORS)
    soft = 0.5 * by_way + 0.25 * (np.roll(by_way, 1, 1) + np.roll(by_way, -1, 1))
    laid = weight * _around(soft.astype(np.float32), at.drop, (at.turn - 0.5 / _SECTORS) % 1.0)
    sums = np.bincount(at.drop, laid, minlength=count)
    whole = by_way.sum(1)
    laid = laid * np.where(sums > 0, whole / np.maximum(sums, 1e-12), 0.0)[at.drop]
    taken = taken * (sums > 0)[at.drop]
    moved = flat + np.bincount(at.pixel, laid - taken, minlength=flat.size)
    return np.maximum(moved, 0.0).astype(np.float32).reshape(film.shape)


def change(
    wall: Wall, work: Callable[[Bed, list[Array]], tuple[list[Array], list[float]]], of: tuple[str, ...] = ()
) -> Wall:
    """Return the wall after ``work`` on its open colours: it gets the mobile films and gives them back with run-off."""
    open_ = [one for one in wall.open_colours(of) if one.film.any()]
    if not open_:
        return wall
    fixed = [one.film * 0 if one.fixed is None else one.fixed for one in open_]
    moved, off = work(Bed(wall), [one.film - f for one, f in zip(open_, fixed, strict=True)])
    for one, f, m, o in zip(open_, fixed, moved, off, strict=True):
        wall = wall.move(one.name, f + m, fixed=f, run_off_gal=wall.gallons(np.float32(o)))
    return wall
