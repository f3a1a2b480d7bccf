"""Streak: undiluted colour brushed into corners and joints, from where it runs down and fades."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, ClassVar, Literal

import numpy as np
from numpy.typing import NDArray
from pydantic import Field
from scipy import ndimage

from render import fields, flow, seeds, trails
from render.fields import Array
from render.layers.base import Length, Wash
from render.physics import runs as rivulets
from render.seeds import Streams
from render.wall import Wall

Floats = NDArray[np.float64]


class Streak(Wash):
    """Colour run down from corners, the top edge and joints.

    ``reach`` how far from a corner a streak may start; ``where`` corners, joints (cracks and ledges) or both.
    """

    kind: Literal["streak"] = "streak"
    where: Annotated[
        Literal["corners", "joints", "both"],
        Field(description="Start in corners and along the top, in joints (cracks, ledges), or both."),
    ] = "both"
    reach: Annotated[Length, Field(description="How far from a corner a streak may start.")] = "3 in"  # type: ignore[assignment]

    title: ClassVar[str] = "undiluted colour run down from corners and joints"
    tools: ClassVar[tuple[str, ...]] = ("chip brush", "squeeze bottle")
    hazards: ClassVar[tuple[str, ...]] = ("wet floor",)

    def achieved(self, before: Wall, after: Wall) -> float | None:
        """Streaks have no coverage to achieve."""
        return None

    @property
    def asked(self) -> float | None:
        """Streaks ask for no coverage."""
        return None

    def apply(self, wall: Wall, streams: Streams) -> Wall:
        """Return the wall with the streaks; what reached the floor line is booked as run off."""
        bed = flow.Bed(wall)
        starts, film = _starts(bed, self, streams), self.mean_mil(wall)
        brushed = flow.share_out(_brushed(bed, starts, streams), film)
        veiled, veil_off = _veil(bed, brushed * np.float32(0.78), streams)
        run, run_off = _runs(bed, starts, streams, 0.22 * film)
        off = veil_off + run_off
        wall = wall.add(self.stratum(brushed, brushed * np.float32(0.2)))
        lies = flow.share_out(flow.into_hollows(veiled + run, bed, 0.5), film - off)
        return wall.move(self.name, lies, run_off_gal=flow.gallons(wall, off))


@dataclass(frozen=True)
class _Starts:
    """Where streaks start, (n,) each: place in inches, how full, and whether set down with the flat of the
    brush.
    """

    row: Floats
    col: Floats
    weight: Floats
    flat: NDArray[np.bool_]


def _veil(bed: flow.Bed, film: Array, streams: Streams) -> tuple[Array, float]:
    """Most of the colour washes down in wavering veils that fade: the film, and the mean film that ran
    off.
    """
    key, grid, plan = streams.key("veil"), bed.grid, bed.grid.plan
    share = np.clip(0.75 + 0.2 * fields.fbm(plan, (2.0, 0.5), key, 2), 0.0, 0.95)
    washed, off = flow.wash_down(fields.resample(film, grid, plan), share, 5.0, plan)
    row = np.arange(plan.rows, dtype=np.float32)[:, None] + np.zeros(plan.shape, np.float32)
    col = np.arange(plan.cols, dtype=np.float32)[None, :] + np.float32(plan.ppi) * flow.sway(plan, key + 5)
    veil = fields.resample(fields.gather(washed, row, col), plan, grid)
    wisps = np.exp(0.8 * fields.fbm(grid, (4.0, 0.16), key + 9, 4, 0.68) + 0.4 * fields.fbm(grid, 1.2, key + 19, 3))
    return flow.share_out(veil * wisps, flow.mean(film) - off), off


def _runs(bed: flow.Bed, starts: _Starts, streams: Streams, film: float) -> tuple[Array, float]:
    """The rest goes down in a few runs of very different strength: the film, and the mean film that ran
    off.
    """
    grid = bed.grid
    volume = np.clip(1.2 * starts.weight, 0.0, 12.0)
    law = rivulets.RunLaw(step=1.0 / trails.RUN_PPI, width=0.04, trail=1.6, stop=0.01)
    runs = trails.sweep(bed, starts.row, starts.col, volume, key=streams.key("stray"), law=law)
    zero = np.zeros(grid.shape, np.float32)
    if not runs.first.size:
        return zero + np.float32(film), 0.0
    load = runs.volume[np.minimum(runs.first, len(runs.volume) - 1), np.arange(runs.first.size)] + 1e-9
    load = load * (0.04 + seeds.hash_unit(trails.ids(runs), streams.key("strength")) ** 3)
    load *= film * grid.rows * grid.cols / load.sum()
    look = trails.RunLook(lift=0.0, lay=0.16, saturation=1e9, flare=2.0, core=0.5)
    laid, off = trails.run_down(bed, [zero], runs, look, streams.key("outline"), load[:, None])
    return laid[0], off[0]


def _brushed(bed: flow.Bed, starts: _Starts, streams: Streams) -> Array:
    """Where the brush set the colour down: ragged upright dabs about the starts, broken by the relief."""
    plan, key = bed.grid.plan, streams.key("brushed")
    row = np.clip(((starts.row + 0.5) * plan.ppi).astype(np.int64), 0, plan.rows - 1)
    col = np.clip((starts.col * plan.ppi).astype(np.int64), 0, plan.cols - 1)
    spot = np.zeros(plan.shape, np.float32)
    for some, width in ((starts.flat, 0.5), (~starts.flat, 0.12)):
        dab = np.zeros(plan.shape, np.float32)
        np.add.at(dab, (row[some], col[some]), starts.weight[some].astype(np.float32))
        spot += ndimage.gaussian_filter(dab, (0.6 * plan.ppi, width * plan.ppi), truncate=2.5)
    ragged = np.exp(1.3 * fields.fbm(plan, (0.9, 0.3), key, 4, 0.7))
    dabs = fields.resample(spot * ragged, plan, bed.grid)
    return dabs * np.exp(0.3 * fields.fbm(bed.grid, (1.0, 0.12), key + 9, 2, 0.7))


def _starts(bed: flow.Bed, layer: Streak, streams: Streams) -> _Starts:
    """Start near the sides and the top, in cracks and at ledges, by chance of the wall's own points."""
    grid, key = bed.grid, streams.key("starts")
    points = fields.scatter(grid, 2.5, key)
    side = np.minimum(points.col_in, grid.width_in - points.col_in) / max(layer.reach, 1e-3)
    top = points.row_in / max(0.5 * layer.reach, 1e-3)
    corner = 0.18 * np.exp(-1.2 * side * side) + 0.11 * np.exp(-top * top)
    joint = _joints(bed, points)
    chance = {"corners": corner, "joints": joint, "both": np.maximum(corner, joint)}[layer.where]
    zone = fields.drift(grid.at(1.0), 7.0, streams.rng("zones"))
    here = np.clip(0.4 + fields.gather(zone, points.row_in, points.col_in), 0, 1.2)
    surely = np.clip((chance * here - points.unit(1)) / 0.04, 0.0, 1.0)  # doubtful ones start faintly, not by a hair
    on = surely > 0
    if not on.any():  # nowhere to start: the top corner takes it all
        return _Starts(np.full(1, 0.1), np.full(1, 0.1), np.ones(1), np.ones(1, bool))
    weight, flat = surely * np.exp(1.2 * points.normal(2)), points.unit(3) < 0.5
    return _Starts(points.row_in[on], points.col_in[on], weight[on], flat[on])


def _joints(bed: flow.Bed, points: fields.Points) -> Floats:
    """Chance of a start in a crack or under a ledge; a hand picks two or three on a square foot at most."""
    grid, plan = bed.grid, bed.grid.plan
    deep = np.clip(bed.plan_hollow / 4.0, 0, 1) + 1.5 * fields.resample(bed.wall.cracks, grid, plan)
    near = ndimage.maximum_filter(deep, (round(0.5 * plan.ppi), round(0.15 * plan.ppi)))
    joint = 0.4 * np.clip(fields.gather(near, points.row_in * plan.ppi, points.col_in * plan.ppi), 0, 1)
    most = 2.5 * bed.wall.area_ft2 / max(float(joint.sum()), 1e-9)
    return np.asarray(joint * min(1.0, most), np.float64)
