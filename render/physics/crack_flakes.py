"""Cracks of a drying film: which pieces hang loose, and how they break away.

A piece of film that slid on its base has curled off it; some pieces hang by little. When they are knocked they fall
in groups, mostly along cracks; where a crack is not at hand the film, being brittle, breaks across in facets. A narrow
sloping ledge of fresh film stays between the surface and what lies beneath.

All lengths are inches on the wall.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter
from scipy.special import ndtr

from render import fields, seeds, strips
from render.fields import Array, Grid, Resampled
from render.physics.crack_division import F8
from render.physics.crack_drawing import CrackFields, Window, curled
from render.physics.crack_opening import Cells

_SLIDES, _FREE = 0.16, 0.42  # slip from which film can come away, and from which nothing holds it: chosen by eye
_ALONE_IN = 0.7  # from this size on a piece falls or stays whatever its neighbours do: chosen by eye
_OUTLINE_PPI = 50.0  # outlines are rounded on a grid no finer than this
_ROUND_IN = 0.02  # how far tearing rounds an outline off
_DEEP_IN = 0.09  # how far from an outline its distance is still told
# A brittle film breaks in facets. How long they are about and how far (root mean square) they and the film's grain
# take an edge off its crack; how long they are where a piece breaks across, and how far they take it, in looseness
# within the piece and in slip at the rim of what slips. All chosen by eye.
_FACET_IN, _STRAYS_IN, _GRAIN_IN = 0.14, 0.016, 0.005
_ACROSS_IN, _ACROSS_LOOSE, _ACROSS_SLIP = 0.36, 0.0018, 0.06
# Across a piece looseness falls off by so much; by more where it is ready to snap, and of so many a corner goes alone.
_FALLS, _FALLS_SNAPPED, _SNAPS = 0.035, 0.40, 0.22
_SLIP_RAMP = 12.0  # looseness per slip at that rim: steep, so that it lies there however much falls
_LIP_IN = 0.004  # of film beside its crack goes with what falls: it was no more than crumbs
_OPEN_IN = 0.05  # of a crack, from its middle: so far it belongs to the hole beside it
_NIBBLED_IN = 0.03  # how far all this takes an edge on average; measured on a net of inch-wide pieces
_MOST_RAGGED_IN = 0.035  # this and the widest ledge are told, or specks would stay in the midst of holes
_HELD = -9.0  # looseness, for reckoning, of a piece that does not hang
_FINEST_PPI = 30.0  # below this the finest grain of a torn edge is under a pixel


def scores(cells: Cells, cluster: F8, key: int) -> F8:
    """Return how ready each cell is to fall, 0 to 1, shape (cells,).

    Chance, its neighbourhood (``cluster``: unit-variance noise at the cells' centres, so that pieces fall in groups)
    and its size (a wide plate catches more knocks and has curled more) share it out. Small pieces go with their
    neighbours: hardly one is left standing alone, or falls alone.
    """
    chance, alone = seeds.hash_unit(cells.name, key), np.minimum(cells.size / _ALONE_IN, 1.0) ** 2
    z = 2.1 * cluster + 0.35 * np.log2(np.clip(cells.size, 0.05, 3.0))
    z += alone * (1.15 * (chance - 0.5) + 2.2 * np.clip((chance - 0.93) / 0.07, 0.0, 1.0))  # a few go wherever they are
    return np.asarray(ndtr(z / 1.6))


def looseness(cracks: CrackFields, cells: Cells, score: F8, slip: Array, grid: Grid, key: int) -> Array:
    """Return how loosely each pixel's piece hangs, 0 held to 1 ready to fall: float32 (rows, cols).

    Only where the base slips (``slip``, (rows, cols)), or on specks amidst that, can it be above 0. A piece hangs as a
    whole by the slip under its middle, so that it parts along its cracks; where it reaches over ground that holds, it
    breaks across. Within one piece looseness falls off to one side, in some much, so that pieces break across instead
    of leaving whole: a corner off one, half of another.
    """
    if slip.max() <= _SLIDES:
        return np.zeros(grid.shape, np.float32)
    turn = 2.0 * np.pi * seeds.hash_unit(cells.name, key + 1)
    falls = np.where(seeds.hash_unit(cells.name, key + 2) < _SNAPS, _FALLS_SNAPPED, _FALLS)
    slope = (falls / np.maximum(cells.size, 0.05))[:, None] * np.stack([np.cos(turn), np.sin(turn)], axis=1)
    free = np.clip((cells.slip - _SLIDES) / (_FREE - _SLIDES), 0.0, 1.0)
    hangs = (free > 0) & (cells.opening > 0)  # film without a crack has no rim to lift
    base = np.where(hangs, (0.08 + 0.84 * score) * free, _HELD)
    window = Window(grid.rows, grid.cols, grid.ppi)
    loose = curled(cells, cracks.runs, window, np.zeros(len(slope)), slope, base)
    rough = grid.at(grid.plan.ppi / 4.0)  # specks of ground that hold, smaller than its pixels, hold no film
    slips = Resampled(fields.resample(slip, grid, rough), rough, grid)
    return strips.each(_across, loose, slips, _facets(grid, _ACROSS_IN, key), out=loose)


def _across(loose: Array, slip: Array, facets: Array) -> Array:
    """Return looseness where pieces break across in facets: within themselves, and at the rim of what slips."""
    hangs = slip - np.float32(_SLIDES + _ACROSS_SLIP)
    hangs -= np.float32(_ACROSS_SLIP) * facets
    hangs *= np.float32(_SLIP_RAMP)
    hangs *= loose > np.float32(0.5 * _HELD)
    return np.clip(loose + np.float32(_ACROSS_LOOSE) * facets, 0.01, 1.0) * np.clip(hangs, 0.0, 1.0)


@dataclass(frozen=True)
class Break:
    """What came away: float32 (rows, cols).

    Attributes
    ----------
    gone
        Share of the film that is gone, 0 to 1: 1 in the hole, less on the ledge.
    hole
        Share of the pixel that is hole, 0 to 1: the film is gone to the base.
    grain
        The tooth of the torn film, about unit variance.
    """

    gone: Array
    hole: Array
    grain: Array


@dataclass(frozen=True)
class Tearing:
    """How a film tears, whatever film it is: float32 (rows, cols).

    Attributes
    ----------
    stray
        How far film breaks out of what stays beside a crack, with the ledge, inches: in facets here, little there.
    grain
        The tooth of the torn film, about unit variance.
    wide
        How wide the ledge is that slopes up from a hole, inches.
    """

    stray: Array
    grain: Array
    wide: Array


def tearing(grid: Grid, key: int) -> Tearing:
    """Return how a film tears on a grid; a ledge is .1 to 1 mm wide, most of it under half a millimetre."""
    half = grid.at(grid.plan.ppi / 2.0)
    patchy = np.clip(0.75 + 0.6 * fields.lattice(half, 1.3, key + 7), 0.15, 2.0)
    wide = np.exp(np.float32(-4.4) + np.float32(0.9) * fields.fbm(half, 0.8, key + 40, 2, 0.6))
    wide = np.clip(wide, 0.004, 0.038)
    grain, wide = _grain(grid, key + 45), fields.resample(wide, half, grid)
    stray = strips.each(_ragged, Resampled(patchy, half, grid), _facets(grid, _FACET_IN, key), grain, wide)
    return Tearing(stray, grain, wide)


def _ragged(patchy: Array, facets: Array, grain: Array, wide: Array) -> Array:
    """Return how far film breaks out of what stays, with its ledge, inches: beyond its crack nothing holds it."""
    stray = patchy * facets
    stray *= np.float32(_STRAYS_IN)
    stray += np.float32(_GRAIN_IN) * grain
    np.clip(stray, 0.0, _MOST_RAGGED_IN, out=stray)
    stray += wide
    stray += np.float32(_LIP_IN)
    return stray


def break_away(loose: Array, cracks: Array, share: float, grid: Grid, torn: Tearing) -> Break:
    """Break away the loosest film until ``share`` of the wall is bare, or nothing loose is left.

    Parameters
    ----------
    loose
        From ``looseness``.
    cracks
        Share of the pixel that is open crack.
    share
        Most area of the wall to fall, 0 to 1; ledges count.
    grid, torn
        The pixels, and how the film tears on them.
    """
    hangs = loose > 0
    wanted = min(round(share * loose.size), int(np.count_nonzero(hangs)))
    if wanted == 0:
        none = np.zeros(grid.shape, np.float32)
        return Break(none, none, none)
    level = fields.threshold(loose, wanted / loose.size)
    level = fields.threshold(loose, max(1.0 - _nibbled(loose >= level, grid.ppi) / wanted, 0.5) * wanted / loose.size)
    soft, deep = _outlines((loose >= level) & hangs, grid)
    inside = strips.each(_strayed, soft, deep, cracks, torn.stray, hangs)
    return _ledged(inside, np.float32(max(fields.threshold(inside, wanted / loose.size), 0.0)), torn, grid.ppi)


def _nibbled(fallen: NDArray[np.bool_], ppi: float) -> float:
    """Return about how many pixels the edges of what stays lose beside what falls."""
    sides = np.count_nonzero(fallen[1:] != fallen[:-1]) + np.count_nonzero(fallen[:, 1:] != fallen[:, :-1])
    return 0.25 * np.pi * sides * _NIBBLED_IN * ppi  # outlines run every way


def _outlines(fallen: NDArray[np.bool_], grid: Grid) -> tuple[Resampled, Resampled]:
    """Return shares of fallen film, 0 to 1, rounded off closely and widely."""
    near, far = (grid.at(min(grid.ppi, most)) for most in (_OUTLINE_PPI, fields.PLAN_PPI))
    share = fields.resample(fallen.astype(np.float32), grid, near)
    soft = gaussian_filter(share, _ROUND_IN * near.ppi, mode="nearest", truncate=3.0)
    deep = gaussian_filter(fields.resample(share, near, far), _DEEP_IN * far.ppi, mode="nearest", truncate=2.5)
    return Resampled(soft, near, grid), Resampled(deep, far, grid, smooth=far.ppi < grid.ppi)


def _facets(grid: Grid, long: float, key: int) -> Resampled:
    """Return noise of straight ramps, unit variance at their ends, about ``long`` inches apart: float32 (rows, cols).

    What is torn along its contours goes straight from crease to crease.
    """
    ends = grid.at(1.0 / long)
    heights = seeds.white_lattice(np.arange(ends.rows), np.arange(ends.cols), key, 1.0).T
    return Resampled(np.ascontiguousarray(heights), ends, grid)


def _grain(grid: Grid, key: int) -> Array:
    """Return the grain of a torn edge, about unit variance; what is finer than a pixel is left out."""
    grain = fields.lattice(grid, 0.07, key)
    if grid.ppi > _FINEST_PPI:
        fine = fields.lattice(grid, 0.035, key + 1)
        grain = strips.each(lambda one, fine: 0.8 * one + np.float32(0.6) * fine, grain, fine, out=grain)
    return grain


def _strayed(soft: Array, deep: Array, cracks: Array, stray: Array, hangs: NDArray[np.bool_]) -> Array:
    """Return the distance from the ragged outline, inches, right within a tenth of an inch of it; positive inside.

    The ledge, too, is broken out of what stays, and so is the crack: no sliver of film is left beyond it.
    """
    near, far = (np.float32((2.0 * np.pi) ** 0.5 * width) for width in (_ROUND_IN, _DEEP_IN))
    told = np.float32(0.5) * near
    inside = near * soft
    inside += stray
    inside += np.float32(_OPEN_IN) * cracks
    inside -= told
    deep = far * deep
    deep -= np.float32(0.5) * far
    inside += deep
    inside -= np.clip(deep, -told, told, out=deep)
    return np.where(hangs, inside, np.float32(-1.0))


def _ledged(inside: Array, out: np.float32, torn: Tearing, per_in: float) -> Break:
    """Turn distances from the outline, ``out`` more than told, into what is gone: a ledge slopes up from the hole."""
    pixel, ppi = np.float32(1.0 / per_in), np.float32(per_in)

    def gone(inside: Array, wide: Array, grain: Array) -> Array:
        return np.clip((inside - out) / np.maximum(wide * (1.0 + np.float32(0.25) * grain), pixel), 0.0, 1.0)

    def hole(inside: Array, wide: Array, gone: Array) -> Array:
        return np.minimum(np.clip((inside - out - wide) * ppi + np.float32(0.5), 0.0, 1.0), gone)

    share = strips.each(gone, inside, torn.wide, torn.grain)
    return Break(share, strips.each(hole, inside, torn.wide, share, out=inside), torn.grain)
