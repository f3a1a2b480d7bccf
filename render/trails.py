"""Runs on a wall: swept on a lattice of 8 rows to the inch by ``render.physics.runs``, drawn crisp on the
output grid.

A run lifts the mobile film from its middle, carries it down and lays it at its sides and in its head,
exactly: what is lifted is laid or has left at the floor.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from render import fields, seeds
from render.fields import Array, Grid
from render.flow import MIL_IN, Bed, share_out
from render.physics import runs as rivulets

RUN_PPI = 8.0
Floats = NDArray[np.float64]


@dataclass(frozen=True)
class RunLook:
    """How runs take and lay pigment.

    ``core`` share of what a run lays that lies in its middle and not at its sides;
    ``lift`` share of the film that a strong run takes from its middle; ``lay`` per inch, share of the load
    laid at the rims; ``saturation`` mil of film per mil in2 of head; ``flare`` how much wider a run begins;
    ``fade`` e-foldings of its load that a run has laid by its end, however long it is (0: see ``lay``);
    ``soft`` how much wider than usual its edges are.
    """

    lift: float = 0.7
    lay: float = 0.3
    saturation: float = 3.0
    flare: float = 1.2
    core: float = 0.0
    fade: float = 0.0
    soft: float = 1.0


def ground(bed: Bed, *, dry_drag: float = 3.0) -> rivulets.Ground:
    """The wall as runs meet it: drag from roughness and dryness, lean and ledges from the relief."""
    plan, lanes = bed.grid.plan, bed.grid.at(RUN_PPI)
    height = fields.resample(bed.plan_height, plan, lanes) * np.float32(MIL_IN)
    lean = np.gradient(height, axis=1) * RUN_PPI
    rise = np.gradient(height, axis=0) * RUN_PPI
    grip = (0.35 + 0.65 * bed.rough) * (1.0 + (dry_drag - 1.0) * (1.0 - bed.plan_wet))
    drag = fields.resample(grip.astype(np.float32), plan, lanes)
    ledge = 2.2 * np.clip(rise - 0.03, 0.0, 0.25) / 0.25
    return rivulets.Ground(drag.astype(float), lean.astype(float), ledge.astype(float))


def sweep(
    bed: Bed, row_in: Floats, col_in: Floats, volume: Floats, *, key: int, law: rivulets.RunLaw | None = None
) -> rivulets.Runs:
    """Sweep runs from given places and volumes (mil in2) down this wall; each strays as the wall's own
    noise bids.

    Left out are places off the wall, heads too small to run two inches where they start, and those
    whose runs would be finer than a twelfth of a pixel.
    """
    lanes = bed.grid.at(RUN_PPI)
    law = law or rivulets.RunLaw(step=1.0 / RUN_PPI, width=0.06, trail=2.2, stop=0.08)
    on = (row_in >= 0) & (row_in < lanes.height_in) & (col_in >= 0) & (col_in < lanes.width_in)
    meets = ground(bed)
    cell = np.clip(np.stack([row_in, col_in]) * lanes.ppi, 0, [[lanes.rows - 1], [lanes.cols - 1]])
    on &= law.length(1.0) * volume ** (2 / 3) > 2.0 * meets.drag[tuple(cell.astype(np.int64))]
    on &= 24.0 * law.half_width(volume) * bed.grid.ppi > 1.0
    row_in, col_in, volume = row_in[on], col_in[on], volume[on]
    first = np.clip((row_in * lanes.ppi).astype(np.int64), 0, lanes.rows - 1)
    stray = fields.lattice(lanes, (1.1, 0.5), key) * 0.08 + fields.lattice(lanes, (3.5, 1.5), key + 1) * 0.07
    at = np.clip((col_in * lanes.ppi).astype(np.int64), 0, lanes.cols - 1)
    return rivulets.descend(first, col_in, volume, ground=meets, wander=stray[:, at].astype(float), law=law)


@dataclass(frozen=True)
class Tracks:
    """Runs drawn on the output grid: one entry, (m,), for each pixel that a run touches.

    ``pixel`` flat index; ``cell`` flat index into (lattice rows, runs); ``body`` share 0..1 of the pixel in
    the run's middle; ``rim`` weights of the sides, summing to 1 in each cell.
    """

    pixel: NDArray[np.int64]
    cell: NDArray[np.int64]
    body: NDArray[np.float32]
    rim: NDArray[np.float32]


def _outline(runs: rivulets.Runs, look: RunLook, key: int) -> NDArray[np.float64]:
    """Half-width drawn in each row and run: flared at the top, breathing, with a rounded head at its
    end.
    """
    rows, count = runs.half.shape
    step = 1.0 / RUN_PPI
    row = np.arange(rows)[:, None]
    half = runs.half.copy()
    lone = runs.half[np.minimum(runs.first, rows - 1), np.arange(count)]
    run_in = (row - runs.first[None, :]) * step
    half *= 1.0 + look.flare * np.exp(-np.maximum(run_in, 0.0) / np.maximum(4.0 * lone, 0.05))
    half *= np.sqrt(np.clip((run_in + 0.5 * step) / np.maximum(1.2 * lone, step), 0.0, 1.0))
    half *= np.exp(0.16 * _along(runs, 0.5, key) + 0.32 * _along(runs, 2.2, key + 1) - 0.06)
    to_end = (runs.last[None, :] - row) * step
    ends_here = (runs.parent < 0) & (runs.off == 0)
    at_end = runs.half[np.clip(runs.last - 1, 0, rows - 1), np.arange(count)]
    size = np.maximum(np.maximum(np.cbrt(np.maximum(runs.tail, 1e-4)) * 0.1, 0.04), 0.7 * at_end)[None, :]
    bulb = np.exp(-((to_end - 1.8 * size) ** 2) / (1.8 * size) ** 2) * size
    round_off = np.sqrt(np.clip(to_end / (1.5 * size), 0.0, 1.0))
    joins = np.sqrt(np.clip((to_end + 0.5 * step) / np.maximum(2.0 * half, step), 0.0, 1.0))  # runs into another
    half = np.where(ends_here[None, :], np.maximum(half, bulb) * round_off, half)
    half = np.where((runs.parent >= 0)[None, :], half * joins, half)
    return np.where(runs.volume > 0, half, 0.0)


def _near_end(runs: rivulets.Runs, reach: float = 0.6) -> NDArray[np.float64]:
    """1 in the head of a run that ended on the wall, fading to 0 over ``reach`` inches above it: (rows,
    n).
    """
    to_end = (runs.last[None, :] - np.arange(runs.half.shape[0])[:, None]) / RUN_PPI
    stops = (runs.parent < 0) & (runs.off == 0)
    return np.where(stops[None, :], np.clip(1.0 - to_end / reach, 0.0, 1.0), 0.0)


def ids(runs: rivulets.Runs) -> NDArray[np.uint64]:
    """A number for each run that depends on where it starts alone, so that a wider wall keeps the runs it
    had.
    """
    start = runs.col[np.minimum(runs.first, runs.col.shape[0] - 1), np.arange(runs.first.size)]
    return seeds.mix64((runs.first * 1_000_003 + np.round(start * 256.0).astype(np.int64)).astype(np.uint64))


def _along(runs: rivulets.Runs, wavelength: float, key: int) -> NDArray[np.float64]:
    """Unit-variance noise along each run, (rows, n), that knows nothing of its neighbours: eased between
    hashed knots.
    """
    place = np.arange(runs.half.shape[0]) / (wavelength * RUN_PPI)
    knot = np.arange(int(place[-1]) + 2, dtype=np.uint64)
    drawn = seeds.hash_unit(ids(runs)[None, :] ^ seeds.mix64(knot)[:, None], key) - 0.5
    i = place.astype(np.int64)
    t = (place - i)[:, None]
    ease = t * t * (3.0 - 2.0 * t)
    return (drawn[i] * (1.0 - ease) + drawn[i + 1] * ease) * 4.1


def draw(runs: rivulets.Runs, grid: Grid, look: RunLook, key: int) -> Tracks:
    """Draw runs on a grid: pixel-area shares of their bodies and rims, right even where a run is finer
    than a pixel.
    """
    rows, count = runs.half.shape
    half = _outline(runs, look, key)
    lower = np.minimum(np.arange(rows) + 1, rows - 1)
    next_on = runs.volume[lower] > 0
    slope = np.where(next_on, runs.col[lower] - runs.col, 0.0)
    half_end = np.where(next_on, half[lower], 0.2 * half)
    out_row = np.arange(grid.rows)
    place = (out_row + 0.5) / grid.ppi * RUN_PPI
    lane_row = np.clip(place.astype(np.int64), 0, rows - 1)
    seg_out, seg_run = np.nonzero(runs.volume[lane_row] > 0)
    i, t = lane_row[seg_out], (place - lane_row)[seg_out]
    middle = (runs.col[i, seg_run] + slope[i, seg_run] * t) * grid.ppi
    wide = np.maximum((half[i, seg_run] * (1 - t) + half_end[i, seg_run] * t) * grid.ppi, 0.02)
    left = np.clip(0.5 + 0.3 * _along(runs, 3.0, key + 7) + 0.15 * _along(runs, 0.4, key + 8), 0.02, 0.98)
    left = left[i, seg_run]
    blur = 0.022 * look.soft * np.exp(0.7 * seeds.hash_unit(ids(runs), key + 11))[seg_run]
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
    core = (look.core + (0.75 - look.core) * _near_end(runs))[i, seg_run]
    rim = (1.0 - core[of]) * rim + core[of] * (body / (1.6 * wide[of]))
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
    The films, and the mean film of each that left at the floor. ``load`` (runs, colours) is pigment that
    runs bring along, in mil pixels.
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
    sums = [np.asarray(np.bincount(tracks.cell, c, minlength=rows * count), np.float64) for c in could]
    offered = np.stack(sums, -1).reshape(rows, count, len(flat))
    per_volume = look.saturation * grid.ppi**2  # mil in2 of head to mil pixels of film
    taken, laid, off = rivulets.carry(runs, offered, _lay(runs, look, key), per_volume, load)
    out = []
    for k, f in enumerate(flat):
        part = taken[:, :, k] / np.maximum(offered[:, :, k], 1e-12)
        change = tracks.rim * laid[:, :, k].ravel()[tracks.cell] - could[k] * part.ravel()[tracks.cell]
        moved = np.maximum(f + np.bincount(tracks.pixel, change, minlength=pixels), 0.0)
        # A picture coarser than the lattice of runs misses some of their steps: what they lay there is shared out.
        kept = max(float(f.sum(dtype=np.float64)) + _brought(load, k) - float(off[:, k].sum()), 0.0) / pixels
        out.append(share_out(moved.astype(np.float32).reshape(grid.shape), kept))
    return out, [float(o) / pixels for o in off.sum(0)]


def _brought(load: NDArray[np.float64] | None, colour: int) -> float:
    """Pigment of one colour that runs bring along, mil pixels."""
    return 0.0 if load is None else float(load[:, colour].sum())


def _fade(runs: rivulets.Runs, key: int) -> NDArray[np.float32]:
    """How strongly a run lifts in each row: some hardly at all; it comes in slowly, and weakens as its
    head shrinks.
    """
    step = 1.0 / RUN_PPI
    down = (np.arange(runs.half.shape[0])[:, None] - runs.first[None, :]) * step
    start = runs.volume[np.minimum(runs.first, runs.volume.shape[0] - 1), np.arange(runs.first.size)]
    head = np.cbrt(runs.volume / np.maximum(start, 1e-9)).clip(0, 1)
    own = 0.12 + 0.88 * seeds.hash_unit(ids(runs), key + 13) ** 1.5
    wave = np.clip(0.8 + 0.3 * _along(runs, 2.0, key + 14), 0.0, 1.0)
    return (own * head * wave * (1.0 - np.exp(-np.maximum(down, 0.0) / 0.9))).astype(np.float32)


def _lay(runs: rivulets.Runs, look: RunLook, key: int) -> NDArray[np.float64]:
    """Share of the load laid in each row: a little on the way, more at ledges, all of it over the last
    half inch.
    """
    step = 1.0 / RUN_PPI
    to_end = (runs.last[None, :] - np.arange(runs.half.shape[0])[:, None]).astype(float)
    length = np.maximum((runs.last - runs.first) * step, 1.0)
    ledges = (runs.left / np.maximum(runs.volume, 1e-9)).clip(0, 1)
    way = np.maximum(look.lay, look.fade / length) * step * (1.0 + 3.0 * ledges)
    way = way * np.exp(0.8 * _along(runs, 1.4, key + 17) - 0.3)
    begun = (np.arange(runs.half.shape[0])[:, None] - runs.first[None, :]) * step
    way = way * (1.0 - np.exp(-np.maximum(begun, 0.0) / 0.8))
    stops = (runs.parent < 0) & (runs.off == 0)
    d = np.clip(to_end, 1.0, 9.0)  # rows to the end; what is laid grows evenly toward it
    last = (9.0 - d) / (d * (9.0 - 0.5 * (d + 1.0)))
    last = np.where(stops[None, :] & (to_end > 0), np.where(d == 1.0, 1.0, last), 0.0)
    return np.minimum(np.maximum(way, last), 1.0)
