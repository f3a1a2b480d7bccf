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

_DRIES = 0.35
"""Share of a wash or a paint that stays when it has dried, from memory: what the brush wrote sinks as much."""
_COMBS, _STAINS = 0.26, 0.05
"""How far bristles that show fully vary the log of the film, and how much lighter it dries where it lies thicker;
chosen by eye, as how strongly the ground's tooth breaks up what they draw, and how fine it is.
"""
_TOOTH, _TOOTH_IN = 0.6, 0.065
_FINEST_PPI = 40.0
"""Below this its finest grains are under a pixel."""
_CATCHES, _RISES = 0.6, 0.1
"""How strongly bristles that show fully, and a mil of what stands up, decide where a brush that runs dry still leaves
colour; chosen by eye.
"""
_FADES = 1.3
"""Over which log of what it gives a coat thins toward where it misses; chosen by eye."""
_FLAKE_IN = 0.03  # flakes lie in clusters: what is seen of one another; chosen by eye


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
        hollow = blade.ride(height, grid.plan.ppi, 0.3, 0.4, 0.4) - height
        heavy = fields.resample(self._heavy(hollow, laid, streams), grid.plan, grid)
        combs, stains = np.float32(_COMBS * self.bristle), np.float32(_STAINS * self.bristle)
        heavy = strips.each(lambda heavy, hairs: heavy + combs * hairs, heavy, hairs, out=heavy)
        mask, thinning = self._place(grid, heavy, hairs, hollow, streams)
        film = strips.each(_laid_off, heavy, thinning, mask, out=heavy)
        film = scaled(film, self.mean_mil, out=film)
        drying = blade.drying(grid, streams.key("drying"), laid.lift * 0.5, 0.025)
        fresh = {
            "tone": strips.each(lambda on, dry, hairs, old: np.where(on, dry + stains * hairs, old),
                                mask, drying, hairs, wall.tone),
        }  # fmt: skip
        if self._metallic:
            fresh["sheen"] = np.where(mask, self._flakes(grid, laid, hairs, streams), wall.sheen)
        return wall.add(self.stratum(film, stands=_DRIES), **fresh)

    def _hairs(self, grid: Grid, laid: Strokes, streams: Streams) -> Array:
        """Return what single bristles draw and what the tooth of the ground takes off them, about unit variance."""
        hairs = strokes.grain(laid, grid, Marks(0.055, 36.0, 4), streams.key("bristles"))
        tooth = fields.lattice(grid, _TOOTH_IN, streams.key("tooth"))
        if grid.ppi > _FINEST_PPI:
            tooth += np.float32(0.8) * fields.lattice(grid, 0.5 * _TOOTH_IN, streams.key("tooth", 1))
        combed = fields.resample(self._combed(laid, streams), grid.plan, grid)
        return strips.each(lambda hairs, tooth, combed: (hairs + np.float32(_TOOTH) * tooth) * combed,
                           hairs, tooth, combed, out=hairs)  # fmt: skip

    @property
    def _metallic(self) -> bool:
        return self.material.metallic and self.material.sheen > 0

    def _flakes(self, grid: Grid, laid: Strokes, hairs: Array, streams: Streams) -> Array:
        """Return the sheen of metal flakes: each stroke lays them its own way, bristles line them up, some glint."""
        strokes_own = 0.6 + 0.8 * laid.unit(streams.key("lie")) + 0.25 * laid.lift
        lie = fields.resample(np.asarray(strokes_own, np.float32), grid.plan, grid)
        glints = fields.lattice(grid, _FLAKE_IN, streams.key("flakes"), 2.0)

        def shine(lie: Array, hairs: Array, glints: Array) -> Array:
            own = np.maximum(lie, np.float32(0.2)) * np.exp(np.float32(0.35) * hairs + np.float32(0.45) * glints)
            return np.minimum(np.float32(self.material.sheen) * own, 1.0)

        return strips.each(shine, lie, hairs, glints)

    def _habit(self) -> Habit:
        wide, long = max(self.brush, 0.5), max(self.stroke, 1.0)
        pitch = max(0.8, 0.5 * (wide * long) ** 0.5)
        soft = min(0.7, 0.15 * wide)
        return Habit(wide, long, self.direction, self.scatter, pitch, 9.0, 25.0, soft, 0.7, beads=False)

    def _heavy(self, hollow: Array, laid: Strokes, streams: Streams) -> Array:
        """Return the logarithm of the film on the plan grid: loads, overlaps, and patches where more was put, and in
        ``hollow`` places, mil.
        """
        plan = laid.grid
        slow = 0.6 * fields.drift(plan, 18.0, streams.rng("cloud")) + 0.6 * fields.fbm(
            plan, 5.0, streams.key("cloud"), 5, 0.6
        )
        drawn = strokes.grain(laid, plan, Marks(0.8, 5.0, 3), streams.key("drawn"))
        amount = np.float32(self.cloud) * (1.3 * (laid.supply - 0.5) + 0.35 * laid.lift + 0.65 * slow + 0.12 * drawn)
        return np.asarray(amount + np.log(1.0 + np.clip(0.05 * hollow, -0.3, 0.6)), np.float32)

    def _combed(self, laid: Strokes, streams: Streams) -> Array:
        """Return how clearly single bristles show, about 1, on the plan grid: a full brush floats over the coat and
        what it leaves runs together, an empty one combs it; and a hand does not press evenly.
        """
        pressed = fields.fbm(laid.grid, 2.2, streams.key("pressed"), 3, 0.6)
        clear = np.float32(1.7) - np.float32(1.0) * laid.supply + np.float32(0.5) * pressed
        return np.asarray(np.clip(clear, 0.3, 1.7), np.float32)

    def _place(
        self, grid: Grid, heavy: Array, hairs: Array, hollow: Array, streams: Streams
    ) -> tuple[np.ndarray, Array]:
        """Return where the coat lies, and how it thins to nothing: where it gives least a dry brush leaves broken lines
        of single bristles, on what stands up alone.
        """
        if self.coverage >= 1.0:
            return np.ones(grid.shape, bool), np.ones((1, 1), np.float32)
        missed = fields.fbm(grid.plan, 3.0, streams.key("where"), 4, 0.6)
        missed *= np.float32(0.3)
        missed -= np.float32(_RISES) * np.clip(hollow, -3.0, 3.0)
        catches = np.float32(_CATCHES * self.bristle**0.5)
        field = strips.each(lambda heavy, hairs, missed: heavy + catches * hairs + missed,
                            heavy, hairs, Resampled(missed, grid.plan, grid))  # fmt: skip
        level = fields.threshold(field, self.coverage)
        mask = fields.cover(field, self.coverage, level)

        def thin(field: Array) -> Array:
            return np.clip((field - np.float32(level)) * np.float32(1.0 / _FADES), 0.06, 1.0) ** np.float32(1.5)

        return mask, strips.each(thin, field, out=field)
