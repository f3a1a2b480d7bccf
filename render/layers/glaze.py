"""Glaze: a wet colour flooded, brushed or sprayed over the wall, which then sags, runs and soaks in.

A finisher sees heavy and light areas where it was thrown, veils drawn out downwards, runs that start where
it lay heavy or on a ledge, and colour gathered in cracks. How far it runs follows from its film, its body
and the wall: a misted wall lets it slide, a rough dry one holds it.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Annotated, ClassVar, Literal

import numpy as np
from numpy.typing import NDArray
from pydantic import Field
from scipy import ndimage

from render import fields, flow, strips, trails
from render.blur import blur
from render.fields import Array, Grid, Resampled
from render.hand import Hand, drawn, drawn_apart, drawn_once
from render.layers.base import Share, Wash
from render.physics.runs import RunLaw, Runs
from render.seeds import Streams
from render.strokes import Habit, Marks, grain, lay
from render.wall import Wall

_BODY = {"watery": 7.0, "thin": 16.0, "creamy": 70.0, "stiff": 600.0}
"""Kinematic viscosity, mm2/s, chosen so that the trade's words run as they do on a wall."""

_CLINGS = 0.004
"""Share of a glaze that stays on the wall however much runs off; chosen by eye."""


def _throw(wet: Grid, key: int) -> Array:
    """Heavy and light areas of a thrown glaze on the wet lattice: splashes, pushed about and drawn out."""
    zone = fields.fbm(wet, (8.0, 11.0), key, 3, 0.6)
    splash = fields.fbm(wet, 4.2, key + 20, 5, 0.62)
    curl = np.float32(1.1 * wet.ppi)
    rows = np.arange(wet.rows, dtype=np.float32)[:, None] + curl * fields.fbm(wet, 3.0, key + 40, 3, 0.5)
    cols = np.arange(wet.cols, dtype=np.float32)[None, :] + curl * fields.fbm(wet, 3.6, key + 50, 3, 0.5)
    splash = fields.gather(splash, rows, cols)
    return (zone + splash) * np.float32(0.6 / 0.9)


def _brush(wet: Grid, key: int) -> Array:
    """Where a brushed glaze is heavy and where light, on the wet lattice, but for the strokes."""
    return np.float32(0.55) * fields.fbm(wet, 9.0, key, 3, 0.6)


_SLAP = Habit(
    width_in=3.4, length_in=9.0, pitch_in=3.9, curve_in=9.0, skew_deg=10.0, soft_in=0.3, dry=0.85, beads=False
)
"""How a glaze brush is slapped on: short strokes, every way, a little bent; it gives much and soon runs dry."""

_HAIRS = Marks(pitch_in=0.45, stretch=16.0, octaves=3)
_FLOWS_PX = 5
"""How near strokes lie whose wet rims flow together, on the lattice of strokes; chosen by eye."""


def _slapped(swept: Grid, key: int) -> Array:
    """Crossed strokes of a brush, on the lattice of strokes: full where one begins, hairs where it ends; it deviates
    by about .8.
    """
    ways = lay(swept, _SLAP, key)
    full = ndimage.grey_closing(ways.supply, _FLOWS_PX)
    full -= full.mean()
    full *= np.float32(2.4)
    full += np.float32(0.67) * grain(ways, swept, _HAIRS, key + 1)
    return full


def _spray(wet: Grid, key: int) -> Array:
    """Heavy and light areas of a sprayed glaze on the wet lattice: level passes that overlap, and where the
    hand dwelt.
    """
    return 0.75 * fields.fbm(wet, (4.0, 16.0), key, 3, 0.5) + 0.66 * fields.fbm(wet, 7.0, key + 20, 3, 0.5)


_PLACE = {"flooded": (_throw, 0.2), "brushed": (_brush, 0.7), "sprayed": (_spray, 0.0)}
"""Where it is heavy, and how much the strokes add to that."""

_SKIPS = {"flooded": 0.1, "brushed": 0.32, "sprayed": 0.32}
"""How much the strokes count in where it misses: what is flooded is no brush's work."""


class _Hand(Hand):
    """What one hand does to a glaze in one place, it does there all along: its strokes, where it is heavy, and where
    ragged or soft.
    """

    layer: Glaze

    @property
    def swept(self) -> Grid:
        """The lattice of the strokes."""
        return flow.stroke_lattice(self.grid)

    @property
    def wet(self) -> Grid:
        """The wet lattice."""
        return flow.wet_lattice(self.grid)

    @property
    def way(self) -> _Way:
        """How its runs go and look."""
        return _WEDGES if self.layer.body == "watery" else _THREADS

    @drawn
    def strokes(self) -> Array:
        """Brush strokes, or the sweeps that push a thrown glaze about, on their own lattice: about unit variance."""
        key = self.streams.key("strokes")
        if self.layer.method == "brushed":
            return _slapped(self.swept, key)
        return flow.strokes(self.swept, key, 7.0, 0.6, (0.2, 0.75, 2.7))

    @cached_property
    def grain(self) -> Array:
        """Raggedness of edges and film, or the droplets of a spray, on the output grid: unit variance."""
        inches, octaves = (0.10, 2) if self.layer.method == "sprayed" else (0.3, 4)
        return fields.grain(self.grid, inches, self.streams.key("grain"), octaves, 0.66)

    @drawn
    def crisp(self) -> Array:
        """How crisp edges are, on the output grid, about 1: crisp here, feathered there; 1 where it has none."""
        if self.layer.coverage >= 1.0:
            return np.ones((1, 1), np.float32)
        soft = np.exp(0.9 * fields.lattice(self.wet, 2.4, self.streams.key("soft")))
        return fields.resample(soft, self.wet, self.grid)

    @drawn_once
    def lays(self) -> Array:
        """Film as it would be put on an even wall, on the output grid, of any mean: zero where it missed, and thinner
        toward the misses.
        """
        layer, film, sprayed = self.layer, self._heavy(), self.layer.method == "sprayed"
        missed = layer.coverage < 1.0
        level = np.float32(fields.threshold(film, layer.coverage) if missed else 0.0)
        uneven, edge = np.float32(layer.uneven * (0.7 if sprayed else 1.5)), np.float32(0.9 if sprayed else 1.8)
        crisp = np.broadcast_to(np.float32(1.0), film.shape) if sprayed or not missed else self.crisp

        def laid(part: slice) -> None:
            here = film[part]
            inside = (here - level) * edge if missed else None
            here *= uneven - np.float32(0.12) * uneven * np.abs(here)
            np.exp(here, out=here)
            if inside is not None:
                inside *= crisp[part]
                here *= np.clip(inside, 0.0, 1.0, out=inside)

        flow.by_strips(laid, self.grid)
        return film

    def _heavy(self) -> Array:
        """Where it is put on heavily, on the output grid: about unit variance; a new array."""
        grid, sprayed = self.grid, self.layer.method == "sprayed"
        place, strokes = _PLACE[self.layer.method]
        slow = place(self.wet, self.streams.key("deposit"))
        if strokes:
            slow = fields.resample(slow, self.wet, self.swept) + np.float32(strokes) * self.strokes
            field = fields.resample(slow, self.swept, grid)
        else:
            field = fields.resample(slow, self.wet, grid)
        along_top = np.float32(0.7 * (self.layer.method == "flooded"))
        top = along_top * np.exp(-grid.row_in / 4.0).astype(np.float32)[:, None]
        field, grain, ragged = np.require(field, requirements="W"), self.grain, np.float32(0.14 if sprayed else 0.13)

        def laid(part: slice) -> None:
            field[part] += ragged * grain[part]
            field[part] += top[part]  # one begins along the top and lets it come down

        flow.by_strips(laid, grid)
        return field

    @drawn_once
    def skips(self) -> Array:
        """Where groups of bristles skip, and ragged edges, on the output grid; a single zero where it has no edge."""
        if self.layer.coverage >= 1.0:
            return np.zeros((1, 1), np.float32)
        skips = np.float32(_SKIPS[self.layer.method]) * self.strokes
        seen = Resampled(skips, self.swept, self.grid)
        return strips.each(lambda skips, grain: skips + np.float32(0.1) * grain, seen, self.grain)

    @drawn_apart
    def patches(self) -> Array:
        """Where hollows keep it and where they do not: see ``flow.patches``."""
        return flow.patches(self.wet, self.streams.key("shelter"))

    @drawn_apart
    def strays(self) -> Array:
        """The runs' own courses: see ``trails.strays``."""
        return trails.strays(self.wet, self.streams.key("stray"))

    @drawn
    def sway(self) -> Array:
        """How far what comes down strays to one side, inches, on the wet lattice."""
        return flow.sway(self.wet, self.streams.key("sway"))

    @drawn_once
    def clings(self) -> Array:
        """How much thicker a film hangs where the brush left it thick, on the wet lattice: a factor."""
        thick = 0.62 * fields.fbm(self.wet, (9.0, 7.0), self.streams.key("grip"), 4, 0.6)
        thick += 0.25 * fields.resample(self.strokes, self.swept, self.wet)
        return np.asarray(np.exp(thick - 0.25), np.float32)

    @drawn_once
    def veils(self) -> Array:
        """How much more or less of its grip a wall holds: less in some upright veils; on the wet lattice."""
        veils = np.exp(0.55 * fields.fbm(self.wet, (7.0, 1.1), self.streams.key("drain"), 3, 0.6) - 0.15)
        return flow.aside(veils, self.wet, self.sway)

    @drawn_once
    def lanes(self) -> Array:
        """Upright lanes in which a film clings less, so that it comes down in curtains: factors on the sag lattice."""
        coarse, key = flow.sag_lattice(self.grid), self.streams.key("hold")
        lanes = 0.4 * fields.fbm(coarse, (7.0, 0.8), key, 2, 0.7)
        lanes += 0.35 * fields.fbm(coarse, (2.0, 1.2), key + 9, 2, 0.6)
        return np.asarray(np.exp(lanes), np.float32)

    @drawn
    def starts(self) -> fields.Points:
        """Places where a run may start."""
        return fields.scatter(self.grid, 0.3, self.streams.key("runs"))

    @drawn_once
    def draws(self) -> NDArray[np.float64]:
        """How strongly each start draws: a few most of all, and in clusters."""
        points, slow = self.starts, self.grid.at(1.0)
        zone = fields.fbm(slow, 7.0, self.streams.key("zones"), 2)
        zone = fields.gather(zone, points.row_in - 0.5, points.col_in - 0.5)
        return np.asarray(np.exp(1.8 * points.normal(2) + 1.3 * zone), np.float64)

    @drawn_once
    def streaks(self) -> Array:
        """Curtains that a film draws as it comes down, an inch or so wide, with finer streaks in them, wandering as it
        does: positive weights, mean about 1, on the plan grid.
        """
        plan, key = self.grid.plan, self.streams.key("streaks")
        wisps = 0.22 * fields.fbm(plan, (2.6, 0.22), key, 2, 0.7)
        wisps += fields.resample(0.75 * fields.fbm(self.wet, (9.0, 1.1), key + 9, 3, 0.6) - 0.3, self.wet, plan)
        wisps = flow.aside(wisps, plan, fields.resample(self.sway, self.wet, plan))
        return np.exp(wisps, out=wisps)


class Glaze(Wash):
    """A glaze over the wall.

    ``method`` how it is put on; ``body`` how easily it runs; ``uneven`` how much heavy and light areas
    differ.
    """

    kind: Literal["glaze"] = "glaze"
    method: Annotated[
        Literal["flooded", "brushed", "sprayed"],
        Field(description="How it is put on: thrown and pushed about, brushed in strokes, or sprayed."),
    ] = "flooded"
    body: Annotated[Literal["watery", "thin", "creamy", "stiff"], Field(description="How easily it runs.")] = "thin"
    uneven: Annotated[Share, Field(description="How much heavy and light areas differ.")] = "45 %"  # type: ignore[assignment]

    title: ClassVar[str] = "glaze"
    tools: ClassVar[tuple[str, ...]] = ("glaze brush", "pail", "drop cloths")
    hazards: ClassVar[tuple[str, ...]] = ("wet floor",)

    def words(self) -> str:
        """Return the layer's line in the list."""
        return f"{self.body} glaze, {self.method}"

    def apply(self, wall: Wall, streams: Streams) -> Wall:
        """Return the wall with the glaze on it, after it sagged and ran."""
        hand = _Hand(self, wall.grid, streams)
        bed = flow.Bed(wall, drawn=hand.patches)
        drinks = bed.drinks(_DRINKS)
        film = hand.lays * drinks  # cracks and hollows drink more than the wall at large
        film = flow.share_out(film, self.mean_mil, out=film)
        fixed = _soaked(wall, film)
        wall = wall.add(self.stratum(film, fixed))
        moved, off = _run(bed, film - fixed, hand)
        laid = wall.stratum(self.name).mean
        off = min(off, (1.0 - _CLINGS) * laid)  # a wetted wall never comes quite clean
        moved += fixed
        moved *= drinks  # pigment drifts toward hollows
        del drinks  # as large as the wall
        whole = _settle(bed, moved, hand, laid - off)
        wall = wall.move(self.name, whole, fixed=fixed, run_off_gal=flow.gallons(wall, off))
        return wall.evolve(wet=strips.each(_wetted, wall.wet, wall.stratum(self.name).film))


_DRINKS = 0.36
"""How much more of a glaze lies in cracks and hollows, per unit of their pull, log; chosen by eye."""


def _wetted(wet: Array, film: Array) -> Array:
    """How wet a wall is with a film on it."""
    return np.maximum(wet, np.minimum(film * np.float32(1 / 6), np.float32(0.8)))


def _soaked(wall: Wall, film: Array) -> Array:
    """Film that soaks in at once: more where the wall is thirsty, less where it is wet, and never more
    than it can hold.
    """
    soaked = np.empty_like(film)

    def work(part: slice) -> None:
        thirst, wet, cracks = (flow.even(one[part]) for one in (wall.thirst, wall.wet, wall.cracks))
        share = (0.12 + 0.4 * thirst) * (1.0 - 0.45 * wet) + 0.25 * cracks
        room = 0.4 + 1.8 * thirst + 3.0 * cracks  # mil of a glaze that the pores take
        here = np.multiply(film[part], -np.minimum(share, 0.9) / room, out=soaked[part])
        np.expm1(here, out=here)
        here *= -room

    flow.by_strips(work, wall.grid)
    return soaked


def _grip(bed: flow.Bed, hand: _Hand) -> Array:
    """Film that hangs on the wall, mil, on the wet lattice: more on a rough wall, on a dry one, along the top, and
    where the brush left it thick.

    At the top the brush cuts in once more when the glaze has stopped running; it lies from half to twice as thick
    as on the mean over a hand's breadth and over a foot (chosen by eye: else it drains bare, or dead even).
    """
    dry = 1.0 - bed.wetness
    top = (1.0 + 0.9 * np.exp(-bed.wet.row_in / 3.0)).astype(np.float32)[:, None]
    grip = 0.4 + 0.6 * dry
    grip *= 1.8 * bed.relief.rough
    grip += 0.9 + 1.4 * dry
    grip *= top
    return np.multiply(grip, hand.clings, out=grip)


def _run(bed: flow.Bed, mobile: Array, hand: _Hand) -> tuple[Array, float]:
    """Sag, drain and run. Returns the mobile film, changed in place, and the mean film that left at the floor.

    What comes down is smooth and is followed on the wet lattice; what stays keeps the detail it was laid with.
    """
    streams, move = hand.streams, flow.mobility(_BODY[hand.layer.body])
    vigour = min(1.0, (move / flow.mobility(_BODY["thin"])) ** 0.5)
    wet, grip, grid = bed.wet, _grip(bed, hand), bed.grid
    film = fields.resample(mobile, grid, wet)
    hold = fields.resample(grip, wet, flow.sag_lattice(grid)) * hand.lanes
    sway = fields.resample(hand.sway, wet, flow.sag_lattice(grid))
    stays, come, fell = _sag(bed, film, sway, seconds=_SAGS, move=move, hold=hold)
    film *= stays
    film += come
    goes = _goes(film, hand.veils * grip, vigour)
    film *= goes
    runs, down, off = _let_go(bed, film, hand, vigour)
    hangs = np.subtract(1.0, goes, out=goes)
    stays *= hangs
    come *= hangs
    come += _smooth(bed, down, sway)
    brings = runs.own * grid.ppi**2  # mil pixels
    fell += off
    left = max(flow.mean(mobile) - fell - float(brings.sum()) / mobile.size, 0.0)
    came = strips.each(np.multiply, Resampled(come, wet, grid.plan), hand.streaks)
    every = mobile, Resampled(stays, wet, grid), Resampled(came, grid.plan, grid)
    strips.each(lambda film, stays, came: film * stays + came, *every, out=mobile)
    flow.share_out(mobile, left, out=mobile)
    _, (last,) = trails.run_down(bed, [mobile], runs, hand.way.look, streams.key("outline"), brings[:, None])
    return mobile, fell + last


def _sag(
    bed: flow.Bed, film: Array, sway: Array, *, seconds: float, move: float, hold: Array
) -> tuple[Array, Array, float]:
    """Let a film of the wet lattice sag: share that stays, what comes, what left; ``sway`` on the sag lattice."""
    before = [fields.resample(film, bed.wet, flow.sag_lattice(bed.grid))]
    (kept,), (come,), (off,) = flow.sag(bed.relief, before, seconds=seconds, move=move, hold=hold)
    kept, come = (_smooth(bed, one, sway) for one in (kept, come))
    return np.minimum(kept, 1.0, out=kept), come, off


def _smooth(bed: flow.Bed, film: Array, sway: Array) -> Array:
    """What came down on the sag lattice, after it strayed aside there, on the wet lattice."""
    coarse = flow.sag_lattice(bed.grid)
    film = fields.resample(flow.aside(film, coarse, sway), coarse, bed.wet, smooth=True)
    return np.maximum(film, 0.0, out=film)


_SAGS = 4.0
"""Seconds for which a film sags before it is too thin to; chosen by eye."""

_HANGS = 8.0
"""Film, mil, that no wall keeps of a thin glaze however rough it is; chosen by eye."""

_GOES = 0.92
"""Share of what the wall cannot hold that goes down; the rest is held back by chance. Chosen by eye."""


def _goes(film: Array, holds: Array, vigour: float) -> Array:
    """Share of a film that the wall cannot hold: what is thin goes on until little is left, what is stiff hangs."""
    most = np.float32(1.3 - 0.52 * vigour) * holds
    most /= 1.0 + np.float32(vigour / _HANGS) * most
    share = np.maximum(film, np.float32(1e-3))
    np.divide(most, share, out=share)
    np.subtract(1.0, share, out=share)
    np.maximum(share, 0.0, out=share)
    share *= np.float32(_GOES * vigour**2)
    return share



@dataclass(frozen=True)
class _Way:
    """How runs go and look; ``least`` is the head of one, mil in2, below which it stays in the veil."""

    law: RunLaw
    look: trails.RunLook
    least: float


_THREADS = _Way(
    RunLaw(step=1.0, width=0.08, trail=3.0, stop=0.2),
    trails.RunLook(lift=0.7, saturation=2.5, flare=2.0, core=0.62, soft=1.2, spends=True, keeps=0.5),
    0.8,
)
_WEDGES = _Way(
    RunLaw(step=1.0, width=0.17, trail=1.4, stop=0.2),
    trails.RunLook(
        lift=0.7, saturation=2.5, flare=0.3, core=0.5, soft=6.0, spends=True, keeps=0.7, breathes=0.5, spreads=1.0
    ),
    6.0,
)
"""Runs of a glaze, and of a watery one: it soaks aside, so that a run is a soft wedge and no thread; chosen by eye."""

_GATHERS_IN, _DRAWS_IN = 1.2, 0.9
"""How far what lets go comes down before it breaks into runs, and how far about it a run draws, inches."""

_BREAKS = 1.0
"""Film, mil, below which what comes down stays a veil: its edge does not break into runs."""

_BY_RUNS = 0.6
"""Most of what is thicker that goes by runs, the rest by veils."""

_LONE = 0.7
"""Starts that draw more weakly than this on a square inch leave most of the film to the veils: empty places between
runs. These figures are chosen by eye.
"""


def _let_go(bed: flow.Bed, film: Array, hand: _Hand, vigour: float) -> tuple[Runs, Array, float]:
    """What no wall can hold lets go: it gathers in runs, or goes in veils.

    ``film`` that lets go, wet lattice. Returns the runs, what the veils leave below (sag lattice), and the mean film
    of the veils that left at the floor.
    """
    coarse = flow.sag_lattice(bed.grid)
    film, off = flow.laid_below(fields.resample(film, bed.wet, coarse), _GATHERS_IN, coarse)
    runs, drawn = _gathered(bed, film, hand)
    film -= drawn
    veils, last = flow.laid_below(film, 2.0 + 90.0 * vigour, coarse)
    return runs, veils, off + last


def _gathered(bed: flow.Bed, film: Array, hand: _Hand) -> tuple[Runs, Array]:
    """Runs that set out where a film gathers, and what they draw of it about their starts: both volumes are the same.

    ``film`` on the sag lattice. A start draws as its chance bids, at lower rims of what is heavy and on lips
    most of all; where several draw they share.
    """
    coarse, points = flow.sag_lattice(bed.grid), hand.starts
    row, col = (points.row_in * coarse.ppi).astype(np.intp), (points.col_in * coarse.ppi).astype(np.intp)
    row, col = np.minimum(row, coarse.rows - 1), np.minimum(col, coarse.cols - 1)
    draws = hand.draws * _lets_go(bed, film)[row, col]
    about = np.zeros(coarse.shape, np.float32)
    np.add.at(about, (row, col), draws.astype(np.float32))
    about *= np.float32(coarse.ppi**2)  # on a square inch
    about = blur(about, _DRAWS_IN * coarse.ppi, 2.5)
    each = np.float32(_BY_RUNS) * np.maximum(film - np.float32(_BREAKS), 0.0) / (about + np.float32(_LONE))
    drawn = about * each
    volume = draws * blur(each, _DRAWS_IN * coarse.ppi, 2.5)[row, col]
    on = volume > hand.way.least
    start = points.row_in[on], points.col_in[on], volume[on]
    runs = trails.sweep(bed, *start, law=hand.way.law, drawn=hand.strays)
    return runs, flow.share_out(drawn, float(runs.own.sum()) * coarse.ppi**2 / drawn.size, out=drawn)


def _lets_go(bed: flow.Bed, film: Array) -> Array:
    """How readily a film breaks into runs, sag lattice: at the lower rim of what is heavy, and on the lower lip of a
    hollow.
    """
    coarse = flow.sag_lattice(bed.grid)
    below, rim = max(round(coarse.ppi), 1), film.copy()  # an inch
    rim[:-below] -= film[below:]
    rim /= film + np.float32(0.3)
    lip = fields.resample(bed.relief.lip, bed.wet, coarse)
    return np.asarray(0.08 + np.clip(rim, 0.0, 1.0) + 0.8 * np.clip(lip, 0.0, 1.0), np.float32)


def _settle(bed: flow.Bed, film: Array, hand: _Hand, total: float) -> Array:
    """What lies at rest, ``total`` mil on the mean, made of ``film``: where that is thinnest the wall is left free, and
    pigment drifts to the edges.
    """
    least = np.float32(0.01 * total + 1e-6)
    if hand.layer.coverage >= 1.0:
        return flow.dry_edges(np.maximum(film, least, out=film), bed.grid, 1.6, total=total)
    _leave_free(film, _lies(bed, film, least, hand), hand, least)
    return flow.dry_edges(film, bed.grid, 1.6, total=total)


def _leave_free(film: Array, place: Array, hand: _Hand, least: np.float32) -> None:
    """Leave of a film, in place, what lies where ``place`` is highest, thinner toward the rest; ``least`` at least."""
    coverage, crisp = hand.layer.coverage, hand.crisp
    level = fields.threshold(place, coverage)
    on = fields.cover(place, coverage, level)

    def left_free(part: slice) -> None:
        ease = place[part]
        ease -= np.float32(level)
        ease *= np.float32(1.6)
        ease *= crisp[part]
        here = film[part]
        here *= np.clip(ease, 0.0, 1.0, out=ease)
        here += least
        here *= on[part]

    flow.by_strips(left_free, hand.grid)


def _lies(bed: flow.Bed, film: Array, least: np.float32, hand: _Hand) -> Array:
    """Where a glaze lies at last: log of the film about a place, skipped by groups of bristles and ragged at its edge.

    The film itself is no guide: over a textured wall its thinnest pixels are pepper.
    """
    about = np.log(fields.resample(film, bed.grid, bed.wet) + 5.0 * least)
    return strips.each(np.add, Resampled(about, bed.wet, bed.grid, smooth=True), hand.skips)
