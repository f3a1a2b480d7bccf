"""Patina: a metal paint turns under an activator, most where it stood wet, less at its rims, and below where it ran.

What a finisher sees: a growth of many thicknesses, from a veil through which the metal shows to a crust at its heart,
mottled at every size; a mist of specks about it where the spray fell thin; runs out of the wettest places that dry
with pale rims.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Annotated, ClassVar, Literal

import numpy as np
from numpy.typing import NDArray
from pydantic import Field
from scipy import ndimage

from render import blade, fields, flow, seeds, trails
from render.fields import Array, Grid
from render.layers.base import Coat, Length, Share, scaled
from render.physics.runs import RunLaw, Runs
from render.seeds import Streams
from render.voids import beneath
from render.wall import Wall

Floats = NDArray[np.floating]
_LAW = RunLaw(step=1.0, width=0.045, trail=1.8, steer=3.0, relax=0.9, stop=0.12)
"""An activator is as thin as water: narrow runs that go far, turn aside at every crust, and stop in a drop. Chosen by
eye.
"""
_LOOK = trails.RunLook(flare=0.5, soft=1.4, breathes=0.7)
_HEART, _TIDE, _TOE = np.float32(0.8), np.float32(0.75), np.float32(1.4)
"""Oxide in the middle of a run, where its edge dried and in the drop at its end, of what a patch has about its heart:
its salts go to its rims. Chosen by eye."""
_TURNS, _ETCH = np.float32(9.0), np.float32(0.45)
"""How surely it turns where it ran; how much an activator darkens the metal where it stood. Chosen by eye."""
_MARGIN_IN = 0.05
"""How far beside a run the metal is darkened. Chosen by eye."""
_STARTS_PER_IN2 = 0.4
_WELL_IN = 0.3
"""How far past turning the three quarters of an inch are about a run's start: no rim, no speck. Chosen by eye."""
_POOLED = 0.4
"""Most of the wall from which it runs: what stands wettest. Chosen by eye, as the density of starts and specks."""
_SPECKS_PER_IN2 = 26.0


@dataclass(frozen=True)
class _Left:
    """What runs left, on the output grid: ``ran`` share of a pixel under them, 0 to 1; ``dried`` oxide, 1 about a
    patch's heart; ``salt`` how pale, above zero, or dark they made it.
    """

    ran: Array
    dried: Array
    salt: Array

    @classmethod
    def nothing(cls) -> _Left:
        """Return what no run left."""
        none = np.zeros((1, 1), np.float32)
        return cls(none, none, none)


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
        degree, calm, runs = self._degree(wall, streams)
        turns = np.minimum(runs.ran * np.float32(8.0 * _TURNS), _TURNS)
        turns = np.add(turns, degree, out=turns if turns.shape == degree.shape else None)
        level = fields.threshold(turns, self.coverage)
        on = fields.cover(turns, self.coverage, level)
        deep = np.maximum(degree - np.float32(level), 0.0)
        thick, salt = self._thickness(wall.grid, deep, calm, runs, streams)
        film = scaled(np.where(on, thick, np.float32(0.0)), self.mean_mil)
        clear = np.clip(1.0 - film / np.float32(0.5 * self.material.hides), 0.0, 1.0)
        tone = self._tone(wall.grid, salt, streams)
        bare = np.clip(salt, -1.0, 0.0)
        bare *= _ETCH
        bare += 1.0
        bare *= wall.tone
        return wall.add(
            self.stratum(film),
            tone=np.where(on, tone + clear * (bare - tone), bare),
            sheen=wall.sheen * np.where(on, clear * (2.0 - clear), np.float32(1.0)),
        )

    def _thickness(self, grid: Grid, deep: Array, calm: Array, runs: _Left, streams: Streams) -> tuple[Array, Array]:
        """Return the oxide's relative thickness, with what runs left, and how pale it dried: it begins at nothing, or
        where a puddle stood in a tide-line, and its crust is coarser where it is thick.
        """
        edge = np.minimum(deep * np.float32(16.0), 1.0)
        edge *= calm
        tide = edge * np.clip(np.float32(1.6) - deep * np.float32(7.0), 0.0, 1.0)
        grown = np.minimum(deep + np.float32(0.35) * edge, np.float32(3.0))
        heart = grown * np.exp(np.float32(0.6 * self.depth) * (grown - 1.0))
        heart += np.float32(0.5) * tide
        uneven = fields.grain(grid, 2.4, streams.key("uneven"), 7, 0.66)
        plates = np.clip(uneven * np.float32(0.4 * grid.ppi), np.float32(-self.depth), np.float32(0.6 * self.depth))
        plates *= np.clip(heart - np.float32(0.8), 0.0, 1.0)
        uneven *= np.float32(0.34) + np.float32(0.14) * np.minimum(grown, 1.0)
        crumbs = fields.grain(grid, 0.05, streams.key("grain"), 2, 0.9)
        shows = np.exp(-heart)
        heart += runs.dried * shows
        crumbs *= np.float32(0.1) + np.float32(0.45 * self.depth) * np.minimum(heart, 1.0)
        uneven += crumbs
        uneven += plates
        heart += np.float32(0.02)
        tide *= np.float32(0.9)
        tide += runs.salt * shows
        tide *= self._pale
        return np.asarray(heart * np.exp(uneven), np.float32), tide

    @cached_property
    def _pale(self) -> float:
        """How much paler than the growth its salts dry, 1, or darker, below 0: copper's are pale, and iron goes on
        turning where it dried last. Told by how light the growth is, chosen by eye.
        """
        from render import colour

        light = 0.01 * float(colour.lrv(colour.parse_colour(self.material.colour)))
        return float(np.clip(6.0 * (light - 0.2), -0.5, 1.0))

    def fingerprint(self) -> str:
        """Return what the wall depends on: with the keys, whether its salts dry pale or dark."""
        return f"{super().fingerprint()} {self._pale}"

    @property
    def _copper(self) -> float:
        """How much it grows as copper's does, 1, in puddles with a shore, or as rust, 0, which freckles and bleeds."""
        return max(self._pale, 0.0)

    def _tone(self, grid: Grid, salt: Array, streams: Streams) -> Array:
        """Return how light the oxide is: clouded, darker at its damp hearts or paler where its salts dried."""
        tone = fields.grain(grid, 0.8, streams.key("shade"), 3, 0.75)
        tone *= np.float32(0.09)
        tone += 1.0
        tone += np.float32(0.14) * salt
        return np.clip(tone, 0.55, 1.5, out=tone)

    # --- where it turns ---------------------------------------------------------------------------------------------

    def _degree(self, wall: Wall, streams: Streams) -> tuple[Array, Array, _Left]:
        """Return how far each place turned, about unit variance, how calmly it dried, and what runs left."""
        grid, key = wall.grid, streams.key
        wet = self._wet(wall, streams)
        calm = fields.resample(self._calm(grid.plan, streams), grid.plan, grid)
        mottle = np.float32(0.5) * fields.grain(grid, (1.5, 1.2), key("mottle"), 6, 0.68)
        mottle += np.float32(0.26 - 0.14 * self._copper) * fields.grain(grid, 0.07, key("pinpricks"), 2, 0.9)
        mottle -= np.float32(0.05) * np.clip(blade.proud(wall), -6.0, 6.0)  # wet stays in the hollows
        degree = fields.resample(wet, grid.plan, grid, smooth=True)
        degree += mottle * (1.0 - np.float32(0.8) * calm)
        step = max(1, round(grid.ppi / grid.plan.ppi))
        level = np.float32(fields.threshold(degree[::step, ::step], self.coverage))
        turned = ndimage.uniform_filter(fields.resample(degree, grid, grid.plan), 9, mode="nearest") - level
        specks = self._specks(wall, wet - level, streams)
        degree += specks * np.clip(level + np.float32(0.35) - degree, 0.0, 1.2)
        if self.runs <= 0:
            return degree, calm, _Left.nothing()
        return degree, calm, self._run(wall, mottle, wet, turned, streams)

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

    def _calm(self, plan: Grid, streams: Streams) -> Array:
        """Return where it stood in puddles, whose edge is one line, 1, and where it fell as mist, 0."""
        still = 0.25 + 0.75 * self._copper
        calm = fields.lattice(plan, 0.5 * max(self.patch, 0.5), streams.key("calm"))
        return np.asarray(still * np.clip(0.45 + 0.6 * calm, 0.0, 1.0), np.float32)

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
        size = max(self.patch, 0.5)
        bend = np.float32(0.25 * size) * fields.lattice(plan, 0.7 * size, streams.key("bend"))  # no side is plumb
        sheet = flow.aside(sheet, plan, flow.sway(plan, streams.key("sway")) + bend)
        return np.asarray(np.log1p(np.maximum(sheet, 0.0) * np.float32(6.0)), np.float32)

    def _specks(self, wall: Wall, wet: Array, streams: Streams) -> Array:
        """Return the share of each pixel under droplets that fell apart, about the rims of wet places."""
        grid, plan = wall.grid, wall.grid.plan
        points = fields.scatter(grid, _SPECKS_PER_IN2, streams.key("mist"), margin_in=0.1)
        here = fields.gather(wet, points.row_in * plan.ppi - 0.5, points.col_in * plan.ppi - 0.5)
        fell = points.unit(1) < 0.75 / (1.0 + np.exp(-3.0 * (here + 0.35)))
        size = 0.016 * np.exp(0.55 * points.normal(2))
        return _dots(grid, points.row_in[fell], points.col_in[fell], np.minimum(size[fell], 0.12))

    def _run(self, wall: Wall, begins: Array, wet: Array, turned: Array, streams: Streams) -> _Left:
        """Return what runs out of wet places left. A run starts where it ``turned``, above zero on the plan grid, so
        that it hangs from a patch; ``begins`` is the mottle that frays its edges.
        """
        grid, plan = wall.grid, wall.grid.plan
        points = fields.scatter(grid, _STARTS_PER_IN2, streams.key("starts"))
        place = points.row_in * plan.ppi - 0.5, points.col_in * plan.ppi - 0.5
        here = fields.gather(wet, *place) - fields.threshold(wet, min(self.coverage, _POOLED))
        on = (points.unit(1) < np.clip(self.runs * here, 0.0, 0.8)) & (fields.gather(turned, *place) > _WELL_IN)
        volume = self.runs * np.exp(0.8 + 1.1 * points.normal(2)) * np.clip(here, 0.2, 1.5)
        bed = flow.Bed(wall, streams.key("shelter"))
        start = points.row_in[on], points.col_in[on], volume[on]
        return self._left(grid, trails.sweep(bed, *start, key=streams.key("stray"), law=_LAW), begins, streams)

    def _left(self, grid: Grid, runs: Runs, frays: Array, streams: Streams) -> _Left:
        """Return what runs left: thin and dark in their middles, thick and pale where their edges dried, most in the
        drop in which each stopped. Where they met they are one, with no rim between them.
        """
        if not runs.first.size:
            return _Left.nothing()
        shaped, *along = self._along(grid, runs, streams)
        pixel, (share, bead), over, tide, stain = self._crossed(grid, shaped, along, frays, streams)
        ran = _gathered(grid, pixel, over)
        there = ran.ravel().take(pixel)
        alone = np.clip(1.0 - 2.0 * (there - over), 0.0, 1.0)
        over = np.asarray(over / np.maximum(there, 1.0), np.float32)
        tide, stain = tide * alone, stain * alone
        dried = share * (_HEART * over + _TIDE * tide) + bead * (_TOE * over + 0.5 * tide)
        salt = share * (1.4 * tide - 0.8 * over) + 0.9 * bead * over - (0.5 * share + 2.0 * bead) * stain
        dried, salt, drops = _gathered(grid, pixel, dried), _gathered(grid, pixel, salt), _drops(grid, shaped)
        ran = np.minimum(ran + drops, 1.0)
        dried += (_TOE * np.float32(0.4 + 0.6 * self._copper)) * drops
        salt += np.float32(0.9) * drops
        salt -= _margin(grid, ran) * np.clip(np.float32(1.1) - np.float32(0.8) * frays, 0.0, 2.0)
        return _Left(ran, dried, salt)

    def _crossed(
        self, grid: Grid, runs: Runs, along: Sequence[Floats], frays: Array, streams: Streams
    ) -> tuple[NDArray[np.int64], tuple[Array, Array], Array, Array, Array]:
        """Return the pixels that runs cross, how much they left there and of their drops, and what :func:`_across`
        makes of them.
        """
        fine = runs.finer()  # so that no bend has corners
        tracks = trails.draw(fine, grid, _LOOK, streams.key("outline"))
        body = tracks.body
        on = np.flatnonzero(body > 0.0)
        pixel, cell, body = tracks.pixel.take(on), tracks.cell.take(on), np.minimum(body.take(on), np.float32(1.0))
        frayed = frays.ravel().take(pixel)
        half = fine.half.take(cell) * grid.ppi
        cell >>= 1
        below = ((pixel // grid.cols + 0.5) / (grid.ppi * runs.step) - runs.row.take(cell)).astype(np.float32)
        share, bead = (_eased(runs, one, cell, below) for one in along)
        over, tide, stain = _across(body, half, frayed * (1.0 - bead))
        tide *= np.clip(np.float32(1.0) + np.float32(1.2) * frayed, 0.1, 2.0)
        return pixel, (share, bead), over, tide, stain

    def _along(self, grid: Grid, runs: Runs, streams: Streams) -> tuple[Runs, Floats, Floats]:
        """Return runs as broad as they are drawn, how much each left in every row, about 1 where it set out, and how
        much of the drop at its end lies there.
        """
        key, plan = streams.key, grid.plan
        at = (runs.row + 0.5) * (runs.step * plan.ppi) - 0.5, runs.col * plan.ppi - 0.5
        swells, breaks = (
            fields.gather(fields.lattice(plan, size, key(what)), *at)
            for what, size in (("swells", (1.6, 0.4)), ("breaks", (1.4, 0.3)))
        )
        ids = trails.ids(runs)
        runs = replace(runs, col=runs.col + 0.05 * breaks)  # no run is dead straight
        shaped = _shaped(runs, 1.3 * np.exp(1.7 * (seeds.hash_unit(ids, key("wide")) - 0.45)), np.exp(0.2 * swells))
        thin = np.clip(1.0 - shaped.half / 0.03, 0.0, 1.0)
        own = 0.55 + 0.45 * seeds.hash_unit(ids, key("own"))
        left = np.sqrt(runs.volume / np.maximum(runs.volume[runs.start], 1e-9)[runs.run]) * own[runs.run]
        uneven = 1.0 + (0.45 + 0.6 * thin) * breaks - (0.9 - 0.6 * self._copper) * thin  # a thread is broken, and faint
        left = np.clip(left, 0.35, 1.2) * np.clip(uneven, 0.0, 1.8)
        return shaped, left, own[runs.run] * _beads(shaped)


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
    and end without a head of their own. Where one runs into another they go on as one, broader than both.
    """
    first = runs.half[runs.start][runs.run]
    half = runs.half**0.45 * first**0.55 * wide[runs.run] * swells
    met = np.flatnonzero((runs.parent >= 0) & (runs.last > runs.first))
    for one in met[np.argsort(runs.last[met], kind="stable")].tolist():
        onto, end = runs.parent[one], runs.start[one] + runs.last[one] - runs.first[one]
        begin = runs.start[onto] - runs.first[onto]
        on = slice(begin + runs.last[one], begin + runs.last[onto])
        half[on] = np.hypot(half[on], half[end - 1])
    return replace(runs, half=half, tail=np.zeros(runs.tail.shape))


def _across(body: Array, half: Floats, frays: Array) -> tuple[Array, Array, Array]:
    """Return, of pixels so far in the bodies of runs ``half`` a pixel wide to a side, the share that stays wet to the
    last, the share where its edge dries, and the share that was wetted and left. A run many pixels wide has edges as
    frayed as the wall is mottled; one finer than a pixel has them within it.
    """
    seen = np.clip(half - 0.5, 0.0, 1.0).astype(np.float32)
    dome = np.float32(0.83) * body
    dome += seen * (1.0 - np.sqrt(1.0 - body) - dome)
    over = np.clip((dome - seen * (0.35 + 0.75 * np.clip(frays, -0.6, 0.7))) * (1.0 + 1.5 * seen), 0.0, 1.0)
    tide = seen * (4.0 * over * (1.0 - over)) + (1.0 - seen) * 0.3 * over
    return over, tide, seen * (1.0 - over) * np.minimum(3.0 * dome, 1.0)


def _stopped(runs: Runs) -> NDArray[np.bool_]:
    """Return which runs ended on the wall, and not in another."""
    return (runs.parent < 0) & (runs.off == 0)


def _beads(runs: Runs) -> Floats:
    """Return how much a row of a run lies in the drop in which it stopped, 0 to 1: none where it ran on or ran into
    another.
    """
    above = (runs.last[runs.run] - 1 - runs.row) * runs.step
    return np.where(_stopped(runs)[runs.run], np.exp(-((above / (3.0 * runs.half + 0.08)) ** 2)), 0.0)


def _drops(grid: Grid, runs: Runs) -> Array:
    """Return the share of each pixel, 0 to 1, under the drops in which runs stopped: round, and drawn out above."""
    stops = _stopped(runs) & (runs.last > runs.first)
    end = (runs.start + runs.last - runs.first - 1)[stops]
    round_ = 0.02 + 1.3 * runs.half[end]
    foot, col = (runs.row[end] + 0.5) * runs.step, runs.col[end]
    row, wide = (np.concatenate(one) for one in ((foot, foot - 1.1 * round_), (round_, 0.75 * round_)))
    return _dots(grid, row, np.tile(col, 2), wide)


def _margin(grid: Grid, ran: Array) -> Array:
    """Return how much of each pixel, 0 to 1, lies within a twentieth of an inch beside what ran: there the metal was
    wetted and darkened, and nothing grew.
    """
    wide = max(1, round(_MARGIN_IN * grid.ppi))
    beside = ndimage.uniform_filter(ran, 2 * wide + 1, mode="nearest")
    beside *= np.float32(3.0)
    np.minimum(beside, 1.0, out=beside)
    beside *= np.clip(1.0 - np.float32(2.0) * ran, 0.0, 1.0)
    beside *= np.float32(min(1.0, _MARGIN_IN * grid.ppi / wide))
    return beside


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
