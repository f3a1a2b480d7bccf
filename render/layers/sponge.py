"""Colour dabbed on with a sponge, a rag or a crumpled bag: print beside print, each turned and pressed differently.

What a finisher sees: pores or creases printed crisp where the tool was pressed, soft rims where two prints meet, and
bare ground between; no print twice the same way up.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import lru_cache
from typing import Annotated, ClassVar, Literal

import numpy as np
from numpy.typing import NDArray
from pydantic import Field

from render import fields, seeds
from render.fields import Array, Grid
from render.layers.base import Length, Share, Wash, scaled
from render.seeds import Streams
from render.wall import Wall

_SHEET_IN = 30.0  # each dab reads its own place and turn on a sheet of the tool's face
_FINEST_PPI = 40.0  # finer than this a face has no more to say
_KEPT_PIXELS = 1_500_000  # walls up to this size keep what each dab touches; on larger ones it is worked out twice


class Sponge(Wash):
    """A wet colour dabbed on; the coverage is met exactly."""

    kind: Literal["sponge"] = "sponge"
    coverage: Annotated[Share, Field(description="Share of the wall that the prints take.")] = "55 %"  # type: ignore[assignment]
    face: Annotated[
        Literal["sponge", "rag", "bag"],
        Field(description="What touches the wall: a natural sponge, a soft rag, or a crumpled bag with sharp creases."),
    ] = "sponge"
    tool: Annotated[str, Field(max_length=80, description="The tool in your own words, for the layer list.")] = ""
    size: Annotated[Length, Field(description="Width of one print, taken as 1 to 8 in.")] = "5 in"  # type: ignore[assignment]
    pressure: Annotated[Share, Field(description="How much pressure and load differ from dab to dab.")] = "35 %"  # type: ignore[assignment]
    drift: Annotated[Share, Field(description="How much denser and thinner the dabbing is by areas.")] = "20 %"  # type: ignore[assignment]

    title: ClassVar[str] = "dabbed on"
    tools: ClassVar[tuple[str, ...]] = ("natural sponge or lint-free rags", "glaze tray")

    def words(self) -> str:
        """Return the layer's line."""
        what = {"sponge": "a natural sponge", "rag": "a soft rag", "bag": "a crumpled bag"}[self.face]
        return f"dabbed on with {what}" + (f", {self.tool}" if self.tool else "")

    def apply(self, wall: Wall, streams: Streams) -> Wall:
        """Press the prints; thick at their hearts, thin at their rims, and twice where two lie over one another."""
        grid = wall.grid
        dabs = _scatter(grid, float(np.clip(self.size, 1.0, 8.0)), streams.key("dabs"))
        face = _sheet(self.face, min(grid.ppi, _FINEST_PPI), streams.key("face", self.face))
        bias = self._wall_says(wall, streams)
        felt = list(_felt(grid, dabs, face)) if grid.rows * grid.cols <= _KEPT_PIXELS else None
        touch = self._touch(grid, felt or _felt(grid, dabs, face), bias)
        on = fields.cover(touch, self.coverage)
        bias -= np.float32(fields.threshold(touch, self.coverage))
        film = self._film(grid, felt or _felt(grid, dabs, face), bias)
        film *= np.exp(np.float32(0.22) * fields.grain(grid, 0.12, streams.key("mottle"), 3, 0.85))
        film = np.where(on, np.maximum(film, 0.02), 0.0).astype(np.float32)
        return wall.add(self.stratum(scaled(film, self.mean_mil)))

    def _wall_says(self, wall: Wall, streams: Streams) -> Array:
        """Return what areas and relief add to the touch: dense and thin areas, high grain first."""
        plan = wall.grid.plan
        low = fields.resample(wall.height, wall.grid, plan)
        area = fields.drift(plan, 15.0, streams.rng("areas")) + 0.6 * fields.fbm(plan, 6.0, streams.key("areas"), 3)
        high = np.tanh((wall.height - fields.resample(low, plan, wall.grid)) * np.float32(0.4))
        slow = np.float32(self.drift) * area.astype(np.float32)
        return np.asarray(fields.resample(slow, plan, wall.grid) + np.float32(0.15) * high, np.float32)

    def _touch(self, grid: Grid, felt: Iterable[_Felt], bias: Array) -> Array:
        """Return how firmly each place was touched by the dab that touched it most."""
        touch = np.full(grid.shape, -9.0, np.float32)
        for dab, at, face in felt:
            new = face + (bias[at] + np.float32(self.pressure * dab.press))
            np.maximum(touch[at], new, out=touch[at])
        return touch

    def _film(self, grid: Grid, felt: Iterable[_Felt], bias: Array) -> Array:
        """Return what all dabs leave where they touch harder than nothing, about 1 at a fresh tool's heart."""
        film = np.zeros(grid.shape, np.float32)
        soft = np.float32({"sponge": 0.6, "rag": 0.9, "bag": 0.5}[self.face])
        for dab, at, face in felt:
            new = face + (bias[at] + np.float32(self.pressure * dab.press))
            np.maximum(new, 0.0, out=new)
            new /= -soft
            film[at] -= np.float32(math.exp(-4.0 * self.pressure * dab.spent)) * np.expm1(new, out=new)
        return film


@dataclass(frozen=True)
class _Dab:
    """One print: middle and half width (in), turn (rad), pressure about 0, ``spent`` 0 for a tool freshly loaded to 1
    for one that has printed itself empty, its place on the sheet (in).
    """

    row: float
    col: float
    half: float
    turn: float
    press: float
    spent: float
    sheet_row: float
    sheet_col: float
    lobe: float

    def window(self, grid: Grid) -> tuple[slice, slice] | None:
        """Return the slices that the print can reach, or None off the wall."""
        reach = 1.35 * self.half
        r0, r1 = int((self.row - reach) * grid.ppi), int((self.row + reach) * grid.ppi) + 2
        c0, c1 = int((self.col - reach) * grid.ppi), int((self.col + reach) * grid.ppi) + 2
        r0, c0, r1, c1 = max(r0, 0), max(c0, 0), min(r1, grid.rows), min(c1, grid.cols)
        return (slice(r0, r1), slice(c0, c1)) if r1 > r0 and c1 > c0 else None

    def touch(self, grid: Grid, at: tuple[slice, slice], sheet: Array, ppi: float) -> Array:
        """Return how firmly the tool's face touches: its texture, falling off toward a lobed rim."""
        down = ((grid.row_in[at[0]] - self.row)[:, None]).astype(np.float32)
        right = ((grid.col_in[at[1]] - self.col)[None, :]).astype(np.float32)
        cos, sin, step = np.float32(math.cos(self.turn)), np.float32(math.sin(self.turn)), np.float32(1.0 / self.half)
        u, v = right * cos - down * sin, right * sin + down * cos
        lobes = 1.0 + np.float32(0.2) * np.sin(2.3 * step * u + np.float32(self.lobe)) * np.sin(1.9 * step * v)
        out = (u * u + v * v) * (step * step) * lobes
        face = fields.gather(sheet, (v + self.sheet_row) * ppi, (u + self.sheet_col) * ppi)
        return np.asarray(face - np.float32(2.2) * out * out, np.float32)


_Felt = tuple[_Dab, tuple[slice, slice], Array]


def _felt(grid: Grid, dabs: list[_Dab], face: tuple[Array, float]) -> Iterator[_Felt]:
    """Yield each dab on the wall, the slices that it can reach, and how firmly its face touches there."""
    for dab in dabs:
        at = dab.window(grid)
        if at is not None:
            yield dab, at, dab.touch(grid, at, *face)


def _scatter(grid: Grid, size: float, key: int) -> list[_Dab]:
    """Return the dabs, one for each jittered cell, so that a wider wall keeps those it had."""
    pitch = 0.56 * size
    rows = np.arange(-2, math.ceil(grid.height_in / pitch) + 2)
    cols = np.arange(-2, math.ceil(grid.width_in / pitch) + 2)
    ids = seeds.mix64((seeds.hash_lattice(rows, cols, key) * 2.0**53).astype(np.uint64)).ravel()
    place = np.repeat(rows, cols.size).astype(float) * pitch, np.tile(cols, rows.size).astype(float) * pitch
    pick = fields.Points(*place, ids)
    u: list[NDArray[np.float64]] = [pick.unit(i) for i in range(1, 8)]
    spent = pick.unit(21)
    press = 0.8 * pick.normal(20) - 1.2 * (spent - 0.5)  # what is nearly empty prints fewer places
    room = _SHEET_IN - 3.2 * size
    return [
        _Dab(
            place[0][i] + 1.2 * u[0][i] * pitch, place[1][i] + 1.2 * u[1][i] * pitch, size * (0.42 + 0.2 * u[2][i]),
            2.0 * math.pi * u[3][i], float(press[i]), float(spent[i]),
            1.6 * size + u[4][i] * room, 1.6 * size + u[5][i] * room, 6.28 * u[6][i],
        )
        for i in range(ids.size)
    ]  # fmt: skip


@lru_cache(maxsize=4)
def _sheet(face: str, ppi: float, key: int) -> tuple[Array, float]:
    """Return the face of a tool as a read-only sheet of about unit variance, and its resolution."""
    grid = Grid.over(_SHEET_IN, _SHEET_IN, ppi)
    field = _lace(grid, key) if face == "sponge" else _creases(grid, key, sharp=face == "bag")
    field = (field - field.mean()) / max(float(field.std()), 1e-6)
    field = np.asarray(field, np.float32)
    field.flags.writeable = False
    return field, ppi


def _lace(grid: Grid, key: int) -> Array:
    """Return the face of a sea sponge: walls between pores of several sizes, tufts, and hollows that never touch."""
    total = np.float32(0.45) * fields.lattice(grid, 0.8, key + 9)
    for number, (pore, amp) in enumerate(((0.42, 0.8), (0.21, 0.9), (0.11, 0.6))):
        total -= np.float32(amp) * np.abs(fields.lattice(grid, pore, key + 20 + number))
    total += np.float32(0.55) * fields.fbm(grid, 0.13, key, 3, 0.7)
    return np.asarray(total, np.float32)


def _creases(grid: Grid, key: int, sharp: bool) -> Array:
    """Return folds of cloth or foil: ridges of bent noise at falling sizes, few and long or many and soft."""
    plan = Grid.over(grid.height_in, grid.width_in, min(grid.ppi, 16.0))
    total = np.zeros(grid.shape, np.float32)
    for octave, (size, amp) in enumerate(((2.4, 1.0), (1.15, 0.75), (0.55, 0.5), (0.27, 0.3))):
        long = (size, 0.55 * size) if octave % 2 else (0.55 * size, size)
        bend = 0.35 * fields.resample(fields.lattice(plan, 1.7 * size, key + 40 + octave), plan, grid)
        fold = 1.0 - np.abs(fields.lattice(grid, long, key + octave) + bend)
        total += np.float32(amp) * (np.maximum(fold, -0.6) ** 3 if sharp else fold)
    return total + np.float32(0.16) * fields.fbm(grid, 0.1, key + 60, 2, 0.7)
