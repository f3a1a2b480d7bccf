"""Limewash or paint brushed in crossing strokes: thin films that build up in cloudy patches."""

from __future__ import annotations

from typing import Annotated, Literal

import numpy as np
from pydantic import Field

from render import blade, fields, strips, strokes
from render.fields import Array, Grid, Resampled
from render.layers.base import Angle, Coat, Length, Share, scaled
from render.seeds import Streams
from render.strokes import Habit, Marks, Strokes
from render.wall import Wall

_DRIES, _WASH_DRIES = 0.35, 0.2
"""Share of a paint and of a limewash, which is mostly water, that stays when it has dried, from memory: what the brush
wrote sinks as much.
"""
_BRISTLES = Marks(0.07, 110.0, 4, scratch=0.35)
_TUFTS = Marks(0.6, 20.0, 2)
"""What clumps of bristles down to single ones draw, and how a brush is parted into tufts: all far longer than wide, so
that only the ground breaks them; chosen by eye.
"""
_COMBS, _STAINS = 0.26, 0.05
"""How far bristles that show fully vary the log of the film, and how much lighter it dries where it lies thicker;
chosen by eye.
"""
_CATCHES, _RISES = 0.6, 0.2
"""How strongly bristles that show fully, and a mil of what stands up, decide where a brush that runs dry still leaves
colour; chosen by eye.
"""
_DIPS, _DIP_IN = 0.15, 0.1
"""How strongly dips in a ground break bristle lines and how wide they are, where it is drawn flat, as none is; chosen
by eye.
"""
_FADES = 1.6
"""Over which log of what it gives a coat thins toward where it misses; chosen by eye."""
_FLAKE_IN = 0.03  # flakes lie in clusters: what is seen of one another; chosen by eye
_CURVED_IN, _CURVED = 12.0, 2.2  # smallest radius of a stroke, and to its length: the arm swings, not the wrist; by eye


def _laid_off(heavy: Array, thinning: Array, on: Array) -> Array:
    """Return the relative film where it lies: a brush lays off what is too thick."""
    film = np.exp(np.float32(-1.6) * heavy)
    film += 1.0
    np.divide(np.float32(2.0), film, out=film)
    return np.maximum(film * thinning, np.float32(1e-3)) * on


class BrushedCoat(Coat):
    """A thin coat laid with a block brush, every stroke crossing the last."""

    kind: Literal["brushed_coat"] = "brushed_coat"
    tool: Annotated[str, Field(max_length=80, description="The tool in your own words, for the layer list.")] = ""
    brush: Annotated[Length, Field(description="Width of the brush.")] = "5 in"  # type: ignore[assignment]
    stroke: Annotated[Length, Field(description="Mean length of a stroke.")] = "10 in"  # type: ignore[assignment]
    direction: Annotated[Angle, Field(description="Mean direction of the strokes: 90 deg is upright.")] = "0 deg"  # type: ignore[assignment]
    scatter: Annotated[Angle, Field(description="How far strokes stray from it; 90 deg crosses every way.")] = "90 deg"  # type: ignore[assignment]
    cloud: Annotated[Share, Field(description="How strongly thick and thin patches differ.")] = "55 %"  # type: ignore[assignment]
    bristle: Annotated[Share, Field(description="How strongly single bristles show.")] = "35 %"  # type: ignore[assignment]

    title = "brushed in crossing strokes"
    tools = ("block brush",)

    def apply(self, wall: Wall, streams: Streams) -> Wall:
        """Lay the strokes; the film is what they gave, more in hollows and patches, drawn by the bristles."""
        grid = wall.grid
        laid = strokes.lay(grid.plan, self._habit(), streams.key("strokes"))
        hairs = self._hairs(grid, laid, streams)
        height = blade.plan_height(wall)
        rides = blade.ride(height, grid.plan.ppi, 0.3, 0.4, 0.4)
        heavy = fields.resample(self._heavy(rides - height, laid, streams), grid.plan, grid)
        combs, stains = np.float32(_COMBS * self.bristle), np.float32(_STAINS * self.bristle)
        heavy = strips.each(lambda heavy, hairs: heavy + combs * hairs, heavy, hairs, out=heavy)
        mask, thinning = self._place(wall, laid, heavy, hairs, rides, streams)
        film = strips.each(_laid_off, heavy, thinning, mask, out=heavy)
        film = scaled(film, self.mean_mil, out=film)
        drying = blade.drying(grid, streams.key("drying"), laid.lift * 0.5, 0.025)
        fresh = {
            "tone": strips.each(lambda on, dry, hairs, old: np.where(on, dry + stains * hairs, old),
                                mask, drying, hairs, wall.tone),
        }  # fmt: skip
        if self._metallic:
            fresh["sheen"] = np.where(mask, self._flakes(grid, laid, hairs, streams), wall.sheen)
        return wall.add(self.stratum(film, stands=self._dries), **fresh)

    def _hairs(self, grid: Grid, laid: Strokes, streams: Streams) -> Array:
        """Return what single bristles draw, unbroken, about unit variance."""
        hairs = strokes.grain(laid, grid, _BRISTLES, streams.key("bristles"))
        combed = Resampled(self._combed(laid, streams), grid.plan, grid)
        return strips.each(np.multiply, hairs, combed, out=hairs)

    @property
    def _dries(self) -> float:
        return _WASH_DRIES if self.material.group == "limewash" else _DRIES

    @property
    def _metallic(self) -> bool:
        return self.material.metallic and self.material.sheen > 0

    def _flakes(self, grid: Grid, laid: Strokes, hairs: Array, streams: Streams) -> Array:
        """Return the sheen of metal flakes: each stroke lays them its own way, bristles line them up, some glint."""
        strokes_own = 0.6 + 0.8 * laid.unit(streams.key("lie")) + 0.25 * laid.lift
        lie = fields.resample(np.asarray(strokes_own, np.float32), grid.plan, grid)
        glints = fields.lattice(grid, _FLAKE_IN, streams.key("flakes"), 2.0)

        def shine(lie: Array, hairs: Array, glints: Array) -> Array:
            own = np.maximum(lie, np.float32(0.2)) * np.exp(np.float32(0.4) * hairs + np.float32(0.15) * glints)
            return np.minimum(np.float32(self.material.sheen) * own, 1.0)

        return strips.each(shine, lie, hairs, glints)

    def _habit(self) -> Habit:
        wide, long = max(self.brush, 0.5), max(self.stroke, 1.0)
        pitch = max(0.8, 0.6 * (wide * long) ** 0.5)
        curve, soft = max(_CURVED_IN, _CURVED * long), min(0.45, 0.09 * wide)
        return Habit(wide, long, self.direction, self.scatter, pitch, curve, 12.0, soft, 0.9, beads=False)

    def _heavy(self, hollow: Array, laid: Strokes, streams: Streams) -> Array:
        """Return the logarithm of the film on the plan grid: loads, overlaps, less where a brush lifts, and patches
        where more was put, and in ``hollow`` places, mil.
        """
        plan = laid.grid
        slow = 0.6 * fields.drift(plan, 18.0, streams.rng("cloud")) + 0.6 * fields.fbm(
            plan, 5.0, streams.key("cloud"), 5, 0.6
        )
        drawn = strokes.grain(laid, plan, _TUFTS, streams.key("drawn"))
        way = laid.along * np.float32(2.0 / max(self.stroke, 1.0))  # -1 where a mean stroke lands, 1 where it lifts
        given = 1.3 * (laid.supply - 0.5) + 0.35 * laid.lift - 0.5 * np.clip(way, -1.2, 1.2) * np.abs(way)
        amount = np.float32(self.cloud) * (given + 0.65 * slow + 0.2 * drawn)
        return np.asarray(amount + np.log(1.0 + np.clip(0.05 * hollow, -0.3, 0.6)), np.float32)

    def _combed(self, laid: Strokes, streams: Streams) -> Array:
        """Return how clearly single bristles show, about 1, on the plan grid: a full brush floats over the coat and
        what it leaves runs together, an empty one combs it; and a hand does not press evenly.
        """
        pressed = fields.fbm(laid.grid, 2.2, streams.key("pressed"), 3, 0.6)
        clear = np.float32(1.7) - np.float32(1.0) * laid.supply + np.float32(0.5) * pressed
        return np.asarray(np.clip(clear, 0.3, 1.7), np.float32)

    def _place(
        self, wall: Wall, laid: Strokes, heavy: Array, hairs: Array, rides: Array, streams: Streams
    ) -> tuple[np.ndarray, Array]:
        """Return where the coat lies, and how it thins to nothing: where it gives least a dry brush leaves long lines
        of single bristles, which break where the ground dips below what it rides on, mil on the plan grid.
        """
        grid, plan = wall.grid, wall.grid.plan
        if self.coverage >= 1.0:
            return np.ones(grid.shape, bool), np.ones((1, 1), np.float32)
        missed = np.float32(0.3) * fields.fbm(plan, 3.0, streams.key("where"), 4, 0.6)
        dips = np.maximum(fields.lattice(plan, _DIP_IN, streams.key("dips")) - np.float32(0.5), 0.0)
        missed -= np.float32(_DIPS) * dips * (np.float32(2.0) - laid.clear)
        catches = np.float32(_CATCHES * self.bristle**0.5)

        def place(heavy: Array, hairs: Array, missed: Array, rides: Array, height: Array) -> Array:
            stands = np.clip(height - rides, -3.0, 3.0)
            return heavy + catches * hairs + missed + np.float32(_RISES) * stands

        field = strips.each(place, heavy, hairs, *(Resampled(one, plan, grid) for one in (missed, rides)), wall.height)
        level = fields.threshold(field, self.coverage)
        mask = fields.cover(field, self.coverage, level)

        def thin(field: Array) -> Array:
            return np.clip((field - np.float32(level)) * np.float32(1.0 / _FADES), 0.06, 1.0) ** np.float32(1.5)

        return mask, strips.each(thin, field, out=field)
