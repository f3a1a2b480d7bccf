"""Patina: a metal paint turns under an activator, most where it stood wet, less at its rims, and below where it ran.

What a finisher sees: a growth of many thicknesses, from a veil through which the metal shows to a crust at its heart,
mottled at every size; a mist of specks about it where the spray fell thin; runs out of the wettest places that dry
with pale rims.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Annotated, ClassVar, Literal

import numpy as np
from numpy.typing import NDArray
from pydantic import Field
from scipy import ndimage

from render import fields, flow, seeds, trails
from render.fields import Array, Grid
from render.layers.base import Coat, Length, Share, scaled
from render.physics.runs import RunLaw, Runs
from render.seeds import Streams
from render.voids import beneath
from render.wall import Wall

Floats = NDArray[np.float64]
_Grown = tuple[Array, Array]
_Ran = tuple[NDArray[np.int64], Array, Array, Array]
_LAW = RunLaw(step=1.0, width=0.045, trail=1.0, steer=6.0, relax=0.5, stop=0.12)
"""An activator is as thin as water: narrow runs that go far, turn aside at every crust, and stop in a drop. Chosen by
eye, as how many branch off.
"""
_BRANCHES_PER_IN = 0.05
_LOOK = trails.RunLook(flare=0.5, soft=1.4, breathes=0.35)
_MIDDLE, _RIM, _POWDERY = np.float32(0.95), np.float32(1.4), np.float32(0.4)
"""How far the middle and the rims of a run turn, for its salts go to its rims; and how strongly the wall's mottle
breaks it up, of what it does elsewhere. Chosen by eye."""
_STARTS_PER_IN2 = 0.5
_WELL_IN = 0.3
"""How far past turning the three quarters of an inch are about a run's start: no rim, no speck. Chosen by eye."""
_POOLED = 0.4
"""Most of the wall from which it runs: what stands wettest. Chosen by eye, as the density of starts and specks."""
_SPECKS_PER_IN2 = 26.0


class Patina(Coat):
    """The oxide that grows on a metal coat; its material is the activator, with the colour that the metal turns."""

    kind: Literal["patina"] = "patina"
    coverage: Annotated[Share, Field(description="Share of the wall that turns.")] = "60 %"  # type: ignore[assignment]
    method: Annotated[
        Literal["sprayed", "brushed", "sponged"],
        Field(description="How the activator is put on: it turns in drifts, in level bands, or in dabs."),
    ] = "sprayed"
    patch: Annotated[Length, Field(description="Size of the larger patches.")] = "7 in"  # type: ignore[assignment]
    runs: Annotated[Share, Field(description="How strongly it is drawn down by running wet.")] = "40 %"  # type: ignore[assignment]
    depth: Annotated[Share, Field(description="How much thicker hearts are than rims.")] = "60 %"  # type: ignore[assignment]
    follow: Annotated[Share, Field(description="How strongly it grows where the last patina did.")] = "30 %"  # type: ignore[assignment]

    title: ClassVar[str] = "patina grown with an activator"
    tools: ClassVar[tuple[str, ...]] = ("pump sprayer", "block brush", "drop cloths")
    hazards: ClassVar[tuple[str, ...]] = ("wet floor",)

    def words(self) -> str:
        """Return the layer's line."""
        return f"{self.material.name}, {self.method}, left to turn"

    def apply(self, wall: Wall, streams: Streams) -> Wall:
        """Grow the oxide; coverage and mean film are met exactly."""
        degree, salt = self._degree(wall, streams)
        level = fields.threshold(degree, self.coverage)
        on = fields.cover(degree, self.coverage, level)
        deep = np.maximum(degree - np.float32(level), 0.0)
        film = np.where(on, self._thickness(wall.grid, deep, streams) + np.float32(0.05) * np.abs(salt), 0.0)
        film = scaled(np.asarray(film, np.float32), self.mean_mil)
        clear = np.clip(1.0 - film / np.float32(0.5 * self.material.hides), 0.0, 1.0)
        tone = self._tone(wall.grid, deep, salt, streams)
        return wall.add(
            self.stratum(film),
            tone=np.where(on, wall.tone * clear + tone * (1.0 - clear), wall.tone).astype(np.float32),
            sheen=(wall.sheen * np.where(on, clear, 1.0)).astype(np.float32),
        )

    def _thickness(self, grid: Grid, deep: Array, streams: Streams) -> Array:
        """Return the oxide's relative thickness: it begins at nothing, and its crust is coarser where it is thick."""
        grown = np.minimum(deep, np.float32(3.0))
        heart = grown * np.exp(np.float32(0.6 * self.depth) * (grown - 1.0))
        uneven = fields.grain(grid, 2.4, streams.key("uneven"), 7, 0.78)
        uneven *= np.float32(0.34) + np.float32(0.14) * np.minimum(grown, 1.0)
        uneven += np.float32(0.34) * fields.grain(grid, 0.05, streams.key("grain"), 2, 0.9)
        return np.asarray((heart + np.float32(0.02)) * np.exp(uneven), np.float32)

    def _tone(self, grid: Grid, deep: Array, salt: Array, streams: Streams) -> Array:
        """Return how light the oxide is: clouded, darker at its damp hearts or paler where its salts dried."""
        tone = 1.0 + 0.09 * fields.grain(grid, 0.8, streams.key("shade"), 5, 0.75)
        return np.clip(tone + np.float32(0.14) * salt, 0.55, 1.5)

    # --- where it turns ---------------------------------------------------------------------------------------------

    def _degree(self, wall: Wall, streams: Streams) -> tuple[Array, Array]:
        """Return how far each place turned, about unit variance, and where salts dried, 0 to about 1."""
        grid, key = wall.grid, streams.key
        wet = self._wet(wall, streams)
        mottle = np.float32(0.42) * fields.grain(grid, (1.5, 1.2), key("mottle"), 6, 0.8)
        mottle += np.float32(0.12) * fields.grain(grid, 0.07, key("pinpricks"), 2, 0.9)
        mottle -= np.float32(0.05) * np.clip(self._proud(wall), -6.0, 6.0)
        degree = fields.resample(wet, grid.plan, grid, smooth=True)
        degree += mottle
        step = max(1, round(grid.ppi / grid.plan.ppi))
        level = np.float32(fields.threshold(degree[::step, ::step], self.coverage))
        turned = ndimage.uniform_filter(fields.resample(degree, grid, grid.plan), 9, mode="nearest") - level
        specks = self._specks(wall, wet - level, streams)
        degree += specks * np.clip(level + np.float32(0.35) - degree, 0.0, 1.2)
        if self.runs <= 0:
            return degree, np.zeros((1, 1), np.float32)
        mottle *= _POWDERY
        mottle += level
        return self._run(wall, degree, mottle, wet, turned, streams)

    def _wet(self, wall: Wall, streams: Streams) -> Array:
        """Return how much activator stands where, on the plan grid: about unit variance."""
        plan, key, size = wall.grid.plan, streams.key, max(self.patch, 0.5)
        if self.method == "brushed":
            base = 0.85 * fields.fbm(plan, (0.8 * size, 1.3 * size), key("drift"), 6, 0.6)
            base = _bent(base, plan, size, key("bent")) + 0.06 * fields.fbm(plan, (0.3, 5.0), key("hairs"), 3, 0.7)
        elif self.method == "sponged":
            base = 0.85 * fields.fbm(plan, 0.5 * size, key("dabs"), 4, 0.65)
            base += 0.35 * fields.fbm(plan, 2.0 * size, key("drift"), 2, 0.5)
        else:
            base = _bent(0.9 * fields.fbm(plan, size, key("drift"), 5, 0.55), plan, size, key("bent"))
        base = base + np.float32(0.4) * fields.drift(plan, max(3.5 * size, 4.0), streams.rng("reach"))
        base = base + np.float32(self.follow) * self._last(wall)
        return np.asarray(base + np.float32(0.5 * self.runs) * self._curtains(plan, base, streams), np.float32)

    def _last(self, wall: Wall) -> Array:
        """Return how thick the last patina lies, about -1 to 1.5, on the plan grid: 0 where there is none."""
        lies = beneath(wall)
        if not lies.any():
            return lies
        film = next(one.film for one in reversed(wall.coats) if 0.0 < float(np.mean(one.film > 0)) < 1.0)
        there = fields.resample(film, wall.grid, wall.grid.plan)
        there = ndimage.uniform_filter(there, 5, mode="nearest")
        return lies - np.float32(1.5) * np.expm1(-there / np.float32(1.5 * max(float(there.mean()), 1e-6)))

    def _curtains(self, plan: Grid, source: Array, streams: Streams) -> Array:
        """Return the sheets that went down from wet places: soft, wavering, fading over inches."""
        lanes = np.exp(0.8 * fields.fbm(plan, (6.0, 0.7), streams.key("lanes"), 4, 0.65))
        seeded = np.maximum(source - np.float32(0.6), 0.0) * lanes
        keep = float(np.exp(-1.0 / (5.0 * plan.ppi)))
        sheet = fields.carried(np.float32(1.0 - keep) * seeded, keep)
        sheet = flow.aside(sheet, plan, flow.sway(plan, streams.key("sway")))
        return np.asarray(np.log1p(np.maximum(sheet, 0.0) * np.float32(6.0)), np.float32)

    def _specks(self, wall: Wall, wet: Array, streams: Streams) -> Array:
        """Return the share of each pixel under droplets that fell apart, about the rims of wet places."""
        grid, plan = wall.grid, wall.grid.plan
        points = fields.scatter(grid, _SPECKS_PER_IN2, streams.key("mist"), margin_in=0.1)
        here = fields.gather(wet, points.row_in * plan.ppi - 0.5, points.col_in * plan.ppi - 0.5)
        fell = points.unit(1) < 0.75 / (1.0 + np.exp(-3.0 * (here + 0.35)))
        size = 0.016 * np.exp(0.55 * points.normal(2))
        return _dots(grid, points.row_in[fell], points.col_in[fell], np.minimum(size[fell], 0.12))

    def _run(self, wall: Wall, degree: Array, begins: Array, wet: Array, turned: Array, streams: Streams) -> _Grown:
        """Return the degree with what runs out of wet places turned on their way, above what ``begins`` to turn, and
        the salts at the runs' rims, below zero at the rims of beads. A run starts where it ``turned``, above zero on
        the plan grid, so that it hangs from a patch.
        """
        grid, plan = wall.grid, wall.grid.plan
        points = fields.scatter(grid, _STARTS_PER_IN2, streams.key("starts"))
        place = points.row_in * plan.ppi - 0.5, points.col_in * plan.ppi - 0.5
        here = fields.gather(wet, *place) - fields.threshold(wet, min(self.coverage, _POOLED))
        on = (points.unit(1) < np.clip(self.runs * here, 0.0, 0.8)) & (fields.gather(turned, *place) > _WELL_IN)
        volume = self.runs * np.exp(1.0 + 1.2 * points.normal(2)) * np.clip(here, 0.2, 1.5)
        drawn = self._drawn(wall, points.row_in[on], points.col_in[on], volume[on], streams)
        if not drawn:
            return degree, np.zeros((1, 1), np.float32)
        pixel, *parts = (np.concatenate(one) for one in zip(*drawn, strict=True))
        body, left, rims = (_gathered(grid, pixel, one) for one in parts)
        return _turned(degree, begins, body, left, rims), np.clip(rims, -2.5, 1.2)

    def _drawn(self, wall: Wall, row: Floats, col: Floats, volume: Floats, streams: Streams) -> list[_Ran]:
        """Return where runs went and what they left, and the same of those that branched off them."""
        bed, drawn = flow.Bed(wall, streams.key("shelter")), []
        for order in ("", "branch"):
            runs = trails.sweep(bed, row, col, volume, key=streams.key(f"stray{order}"), law=_LAW)
            if not runs.first.size:
                break
            drawn.append(self._ran(wall.grid, runs, order, streams))
            row, col, volume = _branches(runs, streams.key("branches"))
        return drawn

    def _ran(self, grid: Grid, runs: Runs, order: str, streams: Streams) -> _Ran:
        """Return the pixels that runs touched with what each left in the middle and at its rims, least in breaks."""
        key, plan = streams.key, grid.plan
        at = (runs.row + 0.5) * (runs.step * plan.ppi) - 0.5, runs.col * plan.ppi - 0.5
        swells, breaks = (
            fields.gather(fields.lattice(plan, size, key(f"{what}{order}")), *at)
            for what, size in (("swells", (2.8, 0.4)), ("breaks", (1.4, 0.3)))
        )
        ids = trails.ids(runs)
        shaped = _shaped(runs, np.exp(1.7 * (seeds.hash_unit(ids, key("wide")) - 0.45)), np.exp(0.08 * swells))
        tracks = trails.draw(shaped, grid, _LOOK, key(f"outline{order}"))
        own = 0.55 + 0.45 * seeds.hash_unit(ids, key("own"))
        left = np.sqrt(runs.volume / np.maximum(runs.volume[runs.start], 1e-9)[runs.run]) * own[runs.run]
        left = np.maximum(left, 0.6) * np.clip(1.1 + 0.25 * breaks, 0.0, 1.4)
        left *= 1.0 - 0.6 * np.exp((runs.first[runs.run] - runs.row) * runs.step / 0.8)  # it leaves the pool by degrees
        bead = _beads(shaped)
        left = np.maximum(left, (0.6 + 0.7 * own[runs.run]) * bead)
        pixel, cell = tracks.pixel, tracks.cell
        below = ((pixel // grid.cols + 0.5) / (grid.ppi * runs.step) - runs.row.take(cell)).astype(np.float32)
        share, dries, crust = (_eased(runs, one, cell, below) for one in (left, left * (1.0 - bead), 8.0 * bead))
        body, rims = np.minimum(tracks.body, 1.0), tracks.rim * dries * np.float32(grid.ppi**2 / 900.0)
        return pixel, body, body * share, np.asarray(rims - crust * body * (1.0 - body), np.float32)

    def _proud(self, wall: Wall) -> Array:
        """Return how far a place stands above its half inch, mil: wet stays in the hollows."""
        plan = wall.grid.plan
        low = ndimage.uniform_filter(fields.resample(wall.height, wall.grid, plan), 7, mode="nearest")
        return wall.height - fields.resample(low, plan, wall.grid)


def _bent(field: Array, plan: Grid, size: float, key: int) -> Array:
    """Return a field pushed about by a quarter of ``size``, so that no patch stands square to the wall."""
    away = np.float32(0.22 * size)
    field = flow.aside(field, plan, away * fields.lattice(plan, 0.9 * size, key))
    turned = Grid(plan.cols, plan.rows, plan.ppi)
    return flow.aside(field.T, turned, away * fields.lattice(plan, 0.7 * size, key + 1).T).T


def _eased(runs: Runs, values: Floats, cell: NDArray[np.int64], below: Array) -> Array:
    """Return what runs have in pixels of their rows, ``below`` the tops of these by a share: no row shows as a step."""
    begins = np.append(True, runs.run[1:] != runs.run[:-1])
    top = np.where(begins, values, 0.5 * (values + np.roll(values, 1))).astype(np.float32)
    foot = np.where(np.roll(begins, -1), values, np.roll(top, -1)).astype(np.float32)
    return top.take(cell) + below * (foot - top).take(cell)


def _shaped(runs: Runs, wide: Floats, swells: Floats | Array) -> Runs:
    """Return runs so many times as ``wide`` each, that narrow a little on their way and swell so many times row by row,
    each with a drop at its end broader than itself.
    """
    first = runs.half[runs.start][runs.run]
    half = runs.half**0.45 * first**0.55 * wide[runs.run] * swells
    last = half[np.minimum(runs.start + np.maximum(runs.last - runs.first - 1, 0), half.size - 1)]
    return replace(runs, half=half, tail=(np.maximum(1.6 * last, 0.045) / 0.1) ** 3)


def _turned(degree: Array, begins: Array, body: Array, left: Array, rims: Array) -> Array:
    """Return how far each place turned once runs of such bodies left so much there. A body turns whatever it crosses
    to its edges, so that a run is as broad on bare metal as beside a patch; how much it left says only how thick.
    """
    out = degree.copy()
    flat, on = out.reshape(-1), np.flatnonzero(body)
    was, starts, over = flat.take(on), np.broadcast_to(begins, degree.shape).take(on), body.take(on)
    share = left.take(on) / over
    reach = np.clip(over * (2.0 + 3.0 * (starts - np.float32(begins.mean()))), 0.0, 1.0)  # its edge is frayed
    here = was + reach * np.maximum(starts + _MIDDLE * share - was, np.float32(-0.3) * share)
    flat[on] = here + np.minimum(np.abs(rims.take(on)), 1.5) * np.maximum(starts + _RIM - here, 0.0)
    return out


def _beads(runs: Runs) -> Floats:
    """Return how much a row of a run lies in the drop in which it stopped, 0 to 1: none where it ran on or ran into
    another.
    """
    above = (runs.last[runs.run] - 1 - runs.row) * runs.step
    stops = (runs.parent < 0) & (runs.off == 0)
    return np.where(stops[runs.run], np.exp(-((above / (3.0 * runs.half + 0.08)) ** 2)), 0.0)


def _branches(runs: Runs, key: int) -> tuple[Floats, Floats, Floats]:
    """Return where runs let a smaller one go at their side, and its volume: rows and columns in inches, mil in2."""
    ids = trails.ids(runs)[runs.run] ^ seeds.mix64(runs.row.astype(np.uint64))
    off = np.flatnonzero(seeds.hash_unit(ids, key) < _BRANCHES_PER_IN * runs.step)
    side = np.where(seeds.hash_unit(ids[off], key + 1) < 0.5, -0.3, 0.3)
    volume = runs.volume[off] * (0.15 + 0.4 * seeds.hash_unit(ids[off], key + 2))
    row = np.asarray((runs.row[off] + 0.5) * runs.step, np.float64)
    return row, runs.col[off] + side * runs.half[off], volume


def _gathered(grid: Grid, pixel: NDArray[np.int64], weight: Array) -> Array:
    """Return the sum of weights in each pixel."""
    return np.bincount(pixel, weight, minlength=grid.rows * grid.cols).reshape(grid.shape).astype(np.float32)


def _dots(grid: Grid, row_in: Floats, col_in: Floats, radius: Floats) -> Array:
    """Return the share of each pixel under round dots, 0 to 1; a dot under a pixel keeps its area."""
    total = np.zeros(grid.rows * grid.cols, np.float32)
    soft = np.maximum(radius * grid.ppi, 0.5)  # drawn at least a pixel wide
    wide = np.ceil(soft + 0.5).astype(np.int64)
    for reach in np.unique(wide):
        some = wide == reach
        row, col = row_in[some] * grid.ppi - 0.5, col_in[some] * grid.ppi - 0.5
        span = np.arange(-reach, reach + 1)
        r, c = np.round(row).astype(np.int64)[:, None] + span, np.round(col).astype(np.int64)[:, None] + span
        down, right = ((r - row[:, None]) ** 2)[:, :, None], ((c - col[:, None]) ** 2)[:, None, :]
        away = np.sqrt((down + right).astype(np.float32))
        share = np.clip((soft[some] + 0.5).astype(np.float32)[:, None, None] - away, 0.0, 1.0)
        area = np.pi * (radius[some] * grid.ppi) ** 2
        share *= (area / np.maximum(share.sum((1, 2)), 1e-9)).astype(np.float32)[:, None, None]
        r, c = r[:, :, None], c[:, None, :]
        r, c = np.broadcast_arrays(r, c)
        on = (r >= 0) & (r < grid.rows) & (c >= 0) & (c < grid.cols) & (share > 0)
        total += np.bincount((r * grid.cols + c)[on], share[on], minlength=total.size).astype(np.float32)
    return np.minimum(total, 1.0).reshape(grid.shape)
