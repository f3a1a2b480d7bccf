"""Glaze: a wet colour flooded, brushed or sprayed over the wall, which then sags, runs and soaks in.

A finisher sees heavy and light areas where it was thrown, veils drawn out downwards, runs that start where
it lay heavy or on a ledge, and colour gathered in cracks. How far it runs follows from its film, its body
and the wall: a misted wall lets it slide, a rough dry one holds it.
"""

from __future__ import annotations

from typing import Annotated, ClassVar, Literal

import numpy as np
from pydantic import Field

from render import fields, flow, trails
from render.fields import Array, Grid
from render.layers.base import Share, Wash
from render.physics.runs import Runs
from render.seeds import Streams
from render.wall import Wall

_BODY = {"watery": 7.0, "thin": 16.0, "creamy": 70.0, "stiff": 600.0}
"""Kinematic viscosity, mm2/s, chosen so that the trade's words run as they do on a wall."""

_CLINGS = 0.004
"""Share of a glaze that stays on the wall however much runs off; chosen by eye."""


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
        bed = flow.Bed(wall, streams.key("shelter"))
        film = _deposit(wall.grid, self, streams) * _drinks(bed)
        film = flow.share_out(film, self.mean_mil(wall))
        fixed = _soaked(wall, film)
        wall = wall.add(self.stratum(film, fixed))
        moved, off = _run(bed, film - fixed, self, streams)
        off = min(off, (1.0 - _CLINGS) * flow.mean(film))  # a wetted wall never comes quite clean
        whole = _settle(bed, fixed, moved, self.coverage, streams.key("settle"))
        whole = flow.share_out(whole, flow.mean(film) - off)
        wall = wall.move(self.name, whole, fixed=fixed, run_off_gal=flow.gallons(wall, off))
        return wall.evolve(wet=np.maximum(wall.wet, np.clip(whole / 6.0, 0, 0.8)))


def _throw(plan: Grid, key: int) -> Array:
    """Heavy and light areas of a thrown glaze on the plan grid, unit variance: splashes, pushed about and
    drawn out.
    """
    zone = fields.fbm(plan, (8.0, 11.0), key, 3, 0.6)
    splash = fields.fbm(plan, 4.2, key + 20, 5, 0.62)
    curl = 1.1 * plan.ppi
    rows = np.arange(plan.rows, dtype=np.float32)[:, None] + curl * fields.fbm(plan, 3.0, key + 40, 3, 0.5)
    cols = np.arange(plan.cols, dtype=np.float32)[None, :] + curl * fields.fbm(plan, 3.6, key + 50, 3, 0.5)
    splash = fields.gather(splash, rows, cols)
    pushed = flow.strokes(plan, key + 60, 7.0, 0.7, (0.2, 0.75, 2.7))
    return (0.6 * zone + 0.6 * splash + 0.3 * pushed) / np.float32(0.9)


def _brush(plan: Grid, key: int) -> Array:
    """Heavy and light areas of a brushed glaze on the plan grid: strokes at a few angles, one over
    another.
    """
    return 0.55 * fields.fbm(plan, 9.0, key, 3, 0.6) + 0.7 * flow.strokes(plan, key + 10, 6.0, 0.45)


def _spray(plan: Grid, key: int) -> Array:
    """Heavy and light areas of a sprayed glaze on the plan grid: level passes that overlap, and where the
    hand dwelt.
    """
    return 0.75 * fields.fbm(plan, (4.0, 16.0), key, 3, 0.5) + 0.66 * fields.fbm(plan, 7.0, key + 20, 3, 0.5)


_PLACE = {"flooded": _throw, "brushed": _brush, "sprayed": _spray}


def _deposit(grid: Grid, layer: Glaze, streams: Streams) -> Array:
    """Film as put on, mean about 1, zero where it missed; it thins out toward the misses."""
    key, plan, sprayed = streams.key("deposit"), grid.plan, layer.method == "sprayed"
    field = fields.resample(_PLACE[layer.method](plan, key), plan, grid)
    grain = (0.10, 0.14, 2) if sprayed else (0.3, 0.13, 4)  # in, share, octaves: droplets, or ragged edges
    field += np.float32(grain[1]) * fields.fbm(grid, grain[0], key + 100, grain[2], 0.66)
    if layer.method == "flooded":  # one begins along the top and lets it come down
        field += np.float32(0.7) * np.exp(-grid.row_in / 4.0).astype(np.float32)[:, None]
    film = np.exp(np.float32(layer.uneven * (0.7 if sprayed else 1.5)) * (field - 0.12 * field * np.abs(field)))
    if layer.coverage < 1.0:
        inside = field - np.float32(fields.threshold(field, layer.coverage))
        soft = fields.resample(fields.lattice(plan, 2.4, key + 140), plan, grid)  # crisp here, feathered there
        film *= np.clip(inside * (0.9 if sprayed else 1.8 * np.exp(0.9 * soft)), 0.0, 1.0)
    return film


def _drinks(bed: flow.Bed) -> Array:
    """How much more a place takes than the wall at large: cracks and hollows drink."""
    return np.exp(0.34 * bed.shelter + 0.5 * bed.wall.cracks)


def _soaked(wall: Wall, film: Array) -> Array:
    """Film that soaks in at once: more where the wall is thirsty, less where it is wet, and never more
    than it can hold.
    """
    share = np.clip((0.12 + 0.4 * wall.thirst) * (1.0 - 0.45 * wall.wet) + 0.25 * wall.cracks, 0.0, 0.9)
    room = 0.4 + 1.8 * wall.thirst + 3.0 * wall.cracks  # mil of a glaze that the pores take
    return room * (1.0 - np.exp(-share * film / room))


def _grip(bed: flow.Bed, key: int) -> Array:
    """Film that hangs on the wall, mil, on the plan grid: more on a rough wall, on a dry one, along the top, and
    where the brush left it thick.

    At the top the brush cuts in once more when the glaze has stopped running; it lies from half to twice as thick
    as on the mean over a hand's breadth and over a foot (chosen by eye: else it drains bare, or dead even).
    """
    plan, dry = bed.grid.plan, 1.0 - bed.plan_wet
    top = 1.0 + 0.9 * np.exp(-plan.row_in / 3.0)[:, None]
    thick = 0.62 * fields.fbm(plan, (9.0, 7.0), key, 4, 0.6) + 0.25 * flow.strokes(plan, key + 30, 6.0, 0.5)
    grip = 1.4 + 2.6 * bed.rough * (0.4 + 0.6 * dry) + 2.0 * dry
    return np.asarray(top * grip * np.exp(thick - 0.25), np.float32)


def _hold(bed: flow.Bed, grip: Array, key: int) -> Array:
    """The same on the sag grid, with upright lanes in which it clings less, so that the film comes down in
    curtains.
    """
    plan, coarse = bed.grid.plan, bed.grid.at(flow.SAG_PPI)
    lanes = 0.4 * fields.fbm(coarse, (7.0, 0.8), key, 2, 0.7)
    lanes += 0.35 * fields.fbm(coarse, (2.0, 1.2), key + 9, 2, 0.6)
    return fields.resample(grip, plan, coarse) * np.exp(lanes)


def _streaks(grid: Grid, sway: Array, key: int) -> Array:
    """Upright streaks that a film draws as it runs down, wandering as it does: positive weights, mean about 1."""
    plan = grid.plan
    wisps = 0.22 * fields.fbm(plan, (2.6, 0.22), key, 2, 0.7) + 0.2 * fields.lattice(plan, (5.0, 0.5), key + 9)
    return np.asarray(fields.resample(np.exp(flow.aside(wisps, plan, sway) - 0.05), plan, grid), np.float32)


def _run(bed: flow.Bed, mobile: Array, layer: Glaze, streams: Streams) -> tuple[Array, float]:
    """Drain, sag and run. Returns the mobile film and the mean film that left at the floor."""
    move = flow.mobility(_BODY[layer.body])
    vigour = min(1.0, (move / flow.mobility(_BODY["thin"])) ** 0.5)
    grip, sway = _grip(bed, streams.key("grip")), flow.sway(bed.grid.plan, streams.key("sway"))
    drained, fell = _drain(bed, mobile, grip, sway, streams, vigour)
    moved, off, passed = flow.sag(
        bed, [drained], seconds=12.0, move=move, hold=_hold(bed, grip, streams.key("hold")),
        texture=_streaks(bed.grid, sway, streams.key("streaks")), sway=sway,
    )  # fmt: skip
    thinned, more = _drain(bed, moved[0], 1.5 * grip, sway, streams, vigour)
    runs = _seed(bed, passed, streams, vigour)
    look = trails.RunLook(lift=0.75, lay=0.18, core=0.3, soft=2.0)
    moved, last = trails.run_down(bed, [thinned], runs, look, streams.key("outline"))
    return moved[0], fell + off[0] + more + last[0]


def _drain(
    bed: flow.Bed, mobile: Array, grip: Array, sway: Array, streams: Streams, vigour: float
) -> tuple[Array, float]:
    """What no wall can hold goes down at once in veils: the film above twice its grip, less of a stiff
    glaze.
    """
    grid, plan, key = bed.grid, bed.grid.plan, streams.key("drain")
    veils = flow.aside(np.exp(0.55 * fields.fbm(plan, (7.0, 1.1), key, 3, 0.6) - 0.15), plan, sway)
    most = fields.resample(1.3 * grip * veils, plan, grid)
    share = np.float32(0.85 * vigour**2) * np.maximum(1.0 - most / np.maximum(mobile, 1e-3), 0.0)
    return flow.wash_down(mobile, share, 2.0 + 24.0 * vigour, grid, sway)


def _seed(bed: flow.Bed, passed: Array, streams: Streams, vigour: float) -> Runs:
    """Runs that start where much film has come down: on heavy places and ledges, by chance of the wall's
    own points.
    """
    key = streams.key("runs")
    points = fields.scatter(bed.grid, 0.3, key)
    coarse = bed.grid.at(flow.SAG_PPI)
    heavy = fields.gather(passed, points.row_in * coarse.ppi - 0.5, points.col_in * coarse.ppi - 0.5)
    on = points.unit(1) < np.clip((heavy - 2.0) / 5.0, 0.0, 0.7) * vigour
    volume = 0.5 * np.exp(1.1 * points.normal(2)) * heavy**0.7 * vigour
    return trails.sweep(bed, points.row_in[on], points.col_in[on], volume[on], key=streams.key("stray"))


def _settle(bed: flow.Bed, fixed: Array, mobile: Array, coverage: float, key: int) -> Array:
    """What lies at rest: pigment drifts toward hollows and edges; where it is thinnest the wall is left
    free.
    """
    whole = fixed + flow.into_hollows(mobile, bed, 0.45)
    least = np.float32(0.01) * whole.mean() + np.float32(1e-6)
    if coverage < 1.0:
        place = _lies(bed.grid, whole, least, key)
        level = np.float32(fields.threshold(place, coverage))
        soft = fields.resample(fields.lattice(bed.grid.plan, 2.4, key + 140), bed.grid.plan, bed.grid)
        ease = np.clip((place - level) * (1.6 * np.exp(0.9 * soft)), 0.0, 1.0)
        whole = (whole * ease + least) * fields.cover(place, coverage)
    else:
        whole = np.maximum(whole, least)
    return flow.dry_edges(whole, bed.grid, 1.6)


def _lies(grid: Grid, film: Array, least: np.float32, key: int) -> Array:
    """Where a glaze lies at last: log of the film about a place, skipped by groups of bristles and ragged at its edge.

    The film itself is no guide: over a textured wall its thinnest pixels are pepper.
    """
    plan, coarse = grid.plan, grid.at(5.0)
    about = np.log(fields.resample(film, grid, coarse) + 5.0 * least)
    skips = 0.32 * flow.strokes(plan, key, 7.0, 0.5, (0.15, 0.6, 2.8))
    place = fields.resample(fields.resample(about, coarse, plan, smooth=True) + skips, plan, grid)
    return np.asarray(place + 0.1 * fields.fbm(grid, 0.35, key + 100, 4, 0.66), np.float32)
