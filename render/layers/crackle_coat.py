"""A crackling coat: a plaster or paint that shrinks as it dries, and shows its own application in its cracks.

What a finisher sees: a fine porcelain net where the coat sticks, finer where it is thin; over a release size wide
plates that curl, open to what lies below, and hang loose. Cracks run square into older cracks, the old ones wider.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Annotated, Any, ClassVar, Literal

import numpy as np
from numpy.typing import NDArray
from pydantic import Field

from render import blade, fields, seeds, strips
from render.blur import blur
from render.fields import Array, Grid, Resampled
from render.hand import Hand, drawn, drawn_once
from render.layers.base import Coat, scaled
from render.physics import crack_flakes, cracks
from render.seeds import Streams
from render.wall import Wall, over

MAP_PPI = 4.0  # spacing is laid out on this grid, whatever the picture's, down to half of it
NOMINAL_MIL = 20.0  # film at which a crack size means its inches
CRACK_IN = {"fine": 0.20, "medium": 0.34, "bold": 0.62}
"""Mean distance of the cracks of a bonded coat 20 mil thick, inches; it grows in proportion to the film."""
# Below this film a coat does not crack, for "medium": critical_thickness(5 MPa, 1 GPa, 5 J/m2) is 4.0 mil.
_STRESS_PA, _MODULUS_PA, _ENERGY_J_M2 = 5.0e6, 1.0e9, 5.0
_M_PER_MIL = 2.54e-5
_STRAIN, _STRENGTH_STRAIN = 0.055, 0.066  # free shrinkage and strain at break of a wet film: chosen by eye
_LEAST_IN, _LEAST_PX, _MOST_CELLS = 0.12, 1.5, 1.5e6  # finest net drawn: inches, pixels, and cells on one wall
_WHOLE_IN = 1.0  # where nothing cracks, pieces of this size are enough to reckon with
# A wide tool: the width of its lanes and of their soft sides, how far they are bent over what length, the widest of its
# streaks, and their height as a share of the film. Chosen by eye.
_LANE_IN, _SIDE_IN, _BEND_IN, _BEND_LONG_IN = 5.0, 0.6, 2.2, 24.0
_STREAK_IN, _STREAK_LONG_IN, _STREAK = 0.4, 8.0, 0.04
_SHEET_IN, _SHEET_PER_IN = (14.0, 40.0), (40.0, 6.0)  # size and resolution of the sheet of streaks, across and along
_SWEEP_PPI = 10.0  # all that the finest streaks ask for
# How far from its centre a cell may lie on the wall where it sticks and where it slid, as a share of its size, and how
# much more one that slid may curl one way than the other: chosen by eye.
_ASIDE, _HINGED, _ROLLED = 0.25, 0.7, 0.7
_MOST_CURL_MIL = 160.0  # how far the largest plates curl; chosen by eye
_DREGS_MIL = 2e-3  # what stays of the coat at the bottom of an open crack
# Slip up to which the ground holds a piece down, and from which on it curls freely; how far film that is held cups at
# most, mil. Chosen by eye.
_HELD_SLIP, _FREE_SLIP, _CUPPED_MIL = 0.1, 0.6, 6.0
_LEVEL_PPI, _LEVELS = 8.0, 0.8  # relief finer than an eighth of an inch is filled to this share: chosen by eye
_RELEASE = 5.0  # a release size divides the friction of the base by this: chosen by eye
# Thirst and sheen of the base count in such steps (4 % of the spacing at most), so that a little more rolling or
# sanding below leaves the net as it is. Materials' values in twentieths lie clear of the steps' edges.
_GRIP_STEP, _PLAIN_THIRST = 0.25, 0.35
# (spacing, opening): a film that dries fast has no time to creep. Chosen by eye.
_DRYING = {"fast": (0.8, 1.4), "slow": (1.0, 1.0)}
_RIM_IN, _RIM_SHARE, _LEAST_RIM_PX = 0.022, 0.22, 0.4
"""How far a crack's rim is rounded, inches, by what share of the film, and from how many pixels on it shows; by eye."""

_Drawn = tuple[cracks.Cells, NDArray[np.floating[Any]], cracks.CrackFields, Array]


@dataclass(frozen=True)
class _Plates:
    """What the net makes of the coat: float32 (rows, cols), heights in mil."""

    ink: Array
    depth: Array
    curl: Array
    loose: Array
    tone: Array


def _map_ppi(grid: Grid) -> float:
    """Return the resolution of the map of spacings: a picture of large pixels needs no finer one than twice its own."""
    return min(MAP_PPI, 2.0 * grid.ppi)


def sweeps(plan: Grid, key: int) -> Array:
    """Return the streaks of a wide tool on a coarse grid, about unit variance: float32 (rows, cols).

    It goes over the whole wall at one slant, then over parts of it at another, in lanes bent as an arm bends them.
    """
    tall, wide = (round(size * per_in) for size, per_in in zip(_SHEET_IN, _SHEET_PER_IN, strict=True))
    wave = _STREAK_IN * _SHEET_PER_IN[0], _STREAK_LONG_IN * _SHEET_PER_IN[1]
    sheet = fields.fbm(Grid(tall, wide, 1.0), wave, key, 3, 0.8)
    slant, cross = 2.0 * math.pi * seeds.hash_unit(np.array([key, key + 1], np.uint64), 81)
    first = _lanes(plan, sheet, slant, key + 10)
    again = _lanes(plan, sheet, slant + 0.9 + 0.2 * cross, key + 20)
    there = fields.lattice(plan, 8.0, key + 30)
    there *= np.float32(1.6)
    there += np.float32(0.45)
    again -= first
    again *= np.clip(there, 0.0, 1.0, out=there)
    first += again
    return first


def _lanes(plan: Grid, sheet: Array, slant: float, key: int) -> Array:
    """Return the streaks of lanes at a slant, none at a lane's sides; some lanes are laid heavier than others.

    Each lane reads its own part of a sheet of streaks, to and fro along it.
    """
    row, col = plan.row_in.astype(np.float32)[:, None], plan.col_in.astype(np.float32)
    down, right = np.float32(math.cos(slant)), np.float32(math.sin(slant))
    across = fields.fbm(plan, _BEND_LONG_IN, key, 2, 0.3)
    across *= np.float32(_BEND_IN)
    across += row * down
    across -= col * right
    across *= np.float32(1.0 / _LANE_IN)
    first, last = (int(np.floor(one)) for one in (across.min(), across.max()))
    names = np.arange(first, last + 1).astype(np.uint64)
    chance = [seeds.hash_unit(names, key + k) for k in range(3)]
    begin, aside, heavy = (one.astype(np.float32) for one in (
        2.0 * _SHEET_IN[1] * chance[0], chance[1] * (_SHEET_IN[0] - _LANE_IN) * _SHEET_PER_IN[0], 2.0 * chance[2] - 1.0,
    ))  # fmt: skip

    def read(rows: slice) -> None:
        place = across[rows]
        lane = np.floor(place)
        place -= lane
        number = lane.astype(np.int32).astype(np.intp)
        number -= first
        along = begin.take(number)
        along += row[rows] * right
        along += col * down
        along -= np.float32(2.0 * _SHEET_IN[1]) * np.floor(along * np.float32(0.5 / _SHEET_IN[1]))
        along -= np.float32(_SHEET_IN[1])
        np.abs(along, out=along)
        along *= np.float32(_SHEET_PER_IN[1])
        side = np.minimum(place, np.float32(1.0) - place)
        side *= np.float32(_LANE_IN / _SIDE_IN)
        np.minimum(side, np.float32(1.0), out=side)
        place *= np.float32(_LANE_IN * _SHEET_PER_IN[0])
        place += aside.take(number)
        at = place.astype(np.int32)
        at *= np.int32(sheet.shape[1])
        at += along.astype(np.int32)
        streaks = np.take(sheet, at, mode="clip")
        streaks += heavy.take(number)
        np.multiply(streaks, side, out=place)

    strips.by_rows(read, across.shape)
    return across


class _Hand(Hand):
    """How the coat is laid on even ground."""

    layer: CrackleCoat

    @drawn
    def reach(self) -> Array:
        """The film on the plan grid, mil, heavier and thinner by the hand's reach, 0 where none is laid."""
        plan, streams = self.grid.plan, self.streams
        heavy = np.exp(0.22 * fields.fbm(plan, 7.0, streams.key("reach"), 4, 0.55)) * self.layer.laid(plan, streams)
        return scaled(heavy.astype(np.float32), self.layer.mean_mil)

    @drawn
    def laid(self) -> Array:
        """Where the coat lies, 0 to 1, on the output grid."""
        return self.layer.laid(self.grid, self.streams)

    @drawn_once
    def film(self) -> Array:
        """The film on the output grid, mil: as the hand reaches, streaked and grainy."""
        grid, plan = self.grid, self.grid.plan
        coarse = plan.at(min(plan.ppi, _SWEEP_PPI))
        heavy = fields.resample(sweeps(coarse, self.streams.key("sweeps")), coarse, plan)
        heavy *= np.float32(_STREAK)
        heavy += np.float32(1.0)
        heavy *= self.reach
        film = fields.grain(grid, 0.14, self.streams.key("grain"), 5, 0.8)

        def laid(grain: Array, heavy: Array) -> Array:
            return (np.float32(0.022) * grain + np.float32(1.0)) * heavy

        return strips.each(laid, film, Resampled(heavy, plan, grid), out=film)


class CrackleCoat(Coat):
    """A coat that crackles as it dries."""

    kind: Literal["crackle_coat"] = "crackle_coat"
    crack_size: Annotated[
        Literal["fine", "medium", "bold"],
        Field(
            description="Distance of the cracks where the coat sticks, at 20 mil: fine 0.20 in, medium 0.34 in, "
            "bold 0.62 in. It grows with the film; over release size it is five times as wide."
        ),
    ] = "medium"
    drying: Annotated[
        Literal["fast", "slow"],
        Field(description="Fast (heat, a draught): more and wider cracks. Slow: fewer and finer ones."),
    ] = "slow"

    title: ClassVar[str] = "crackle coat"
    tools: ClassVar[tuple[str, ...]] = ("trowel", "wide brush")

    def apply(self, wall: Wall, streams: Streams) -> Wall:
        """Lay the coat, let it dry and crack, curl what slid, and mark what hangs loose."""
        wall, hand = blade.pressed(wall), _Hand(self, wall.grid, streams)
        film = self._film(wall, hand)
        map_ = self.spacing_map(wall, hand.reach)
        plates = self._plates(wall, map_, streams)
        on, left = film > 0, strips.each(_left, film, plates.ink)
        left = scaled(left, self.mean_mil, out=left)
        height = strips.each(_stands, wall.height, film, plates.ink, plates.depth, plates.curl, _free(wall), out=film)
        height = self._worn(height, plates.ink, on, wall.grid.ppi)
        open_ = plates.ink if on.all() else plates.ink * on
        after = wall.add(self.stratum(left), height=height)
        return after.evolve(
            cracks=over(on, open_, wall.cracks),
            loose=over(on, plates.loose, wall.loose),
            tone=over(on, plates.tone, wall.tone),
            thirst=strips.each(lambda thirst, open_: thirst + open_ * (1.0 - thirst), after.thirst, open_),
            sheen=strips.each(lambda sheen, open_: sheen * (1.0 - open_), after.sheen, open_),
        )

    def _worn(self, height: Array, ink: Array, on: NDArray[np.bool_], ppi: float) -> Array:
        """Return the height with the rims of cracks rounded, where a pixel is small enough to show it; in place."""
        reach = _RIM_IN * ppi
        if reach < _LEAST_RIM_PX:
            return height
        near = blur(ink, reach)
        depth = np.float32(_RIM_SHARE * self.mean_mil)
        return strips.each(lambda height, near, on: height - depth * np.minimum(near * np.float32(2.0), 1.0) * on,
                           height, near, on, out=height)  # fmt: skip

    def _film(self, wall: Wall, hand: _Hand) -> Array:
        """Return the film as laid, mil: as on even ground, but levelling shallow relief."""
        coarse = wall.grid.at(_LEVEL_PPI)
        smooth = Resampled(fields.resample(wall.height, wall.grid, coarse), coarse, wall.grid)

        def levelled(even: Array, laid: Array, smooth: Array, height: Array) -> Array:
            film = even + np.float32(_LEVELS) * (smooth - height)  # it fills most of what is finer than it
            np.maximum(film, np.float32(0.12) * even + np.float32(0.01), out=film)
            film *= laid > 0
            return film

        film = strips.each(levelled, hand.film, hand.laid, smooth, wall.height)
        return scaled(film, self.mean_mil, out=film)

    def laid(self, grid: Grid, streams: Streams) -> Array:
        """Return where the coat lies, 0 to 1, feathered at its rim."""
        if self.coverage >= 1.0:
            return np.ones((1, 1), np.float32)
        plan = grid.plan
        placement = fields.fbm(plan, 9.0, streams.key("placement"), 4, 0.5)
        level = fields.threshold(placement, self.coverage)
        inside = np.clip(fields.edge_distance(placement, level, plan.ppi), -2.0, 2.0)
        placement = fields.resample(placement, plan, grid)
        placement = placement + np.float32(0.04) * fields.grain(grid, 0.4, streams.key("rim"), 4, 0.65)
        feather = np.clip(fields.resample(inside, plan, grid) / 0.5 + 0.2, 0.15, 1.0)
        return np.where(fields.cover(placement, self.coverage), feather, np.float32(0.0))

    def spacing_map(self, wall: Wall, reach: Array) -> cracks.SpacingMap:
        """Return how far apart and how wide this coat cracks here: by its film (mil, plan grid) and the base's grip."""
        coarse = wall.grid.at(_map_ppi(wall.grid))

        def even(values: Array) -> NDArray[np.float64]:
            source = wall.grid if values.shape == wall.grid.shape else wall.grid.plan
            return np.asarray(np.round(fields.resample(values, source, coarse), 3), np.float64)

        laid = even(reach)
        cracks_at_all = self._cracks_at_all(laid)
        thick = np.maximum(laid, self.critical_mil())
        slip = np.clip(even(wall.slip), 0.0, 1.0)
        thirst, sheen = (
            _GRIP_STEP * np.round((even(one) - plain) / _GRIP_STEP)
            for one, plain in ((wall.thirst, _PLAIN_THIRST), (wall.sheen, 0.0))
        )
        grip = (1.0 + 0.35 * thirst - 0.3 * sheen * (1.0 - slip)).clip(0.6, 1.4)
        near, wide = _DRYING[self.drying]
        scale = CRACK_IN[self.crack_size] / NOMINAL_MIL
        metres = thick * _M_PER_MIL
        strength = 0.5 * scale / (_M_PER_MIL / 0.0254)  # in units of the bonded base's friction
        bonded = cracks.spacing(metres, strength, grip / near) / 0.0254
        sliding = cracks.spacing(metres, strength, 1.0 / (near * _RELEASE)) / 0.0254
        spacing = np.exp(np.log(bonded) * (1.0 - slip) + np.log(sliding) * slip)
        stuck = cracks.bonded_opening(metres, _STRAIN) / 0.0254 * CRACK_IN[self.crack_size] / CRACK_IN["medium"]
        slid = cracks.sliding_opening(spacing, _STRAIN, _STRENGTH_STRAIN)
        opening = np.exp(np.log(stuck) * (1.0 - slip) + np.log(slid) * slip) * wide * cracks_at_all
        coarser = np.maximum(spacing, np.where(cracks_at_all > 0, self._least_in(wall), _WHOLE_IN))
        return cracks.SpacingMap(coarser, slip, opening * coarser / spacing, 1.0 / coarse.ppi)

    def _least_in(self, wall: Wall) -> float:
        """Return the least spacing that is drawn: finer nets are drawn coarser, with the same share of open crack.

        A net that the picture cannot resolve, or of more cells than a wall can hold, costs time and shows nothing.
        """
        return max(_LEAST_IN, _LEAST_PX / wall.grid.ppi, math.sqrt(wall.area_ft2 * 144.0 / _MOST_CELLS))

    def critical_mil(self) -> float:
        """Return the film below which this coat does not crack, mil."""
        metres = cracks.critical_thickness(_STRESS_PA, _MODULUS_PA, _ENERGY_J_M2)
        return metres / _M_PER_MIL * CRACK_IN[self.crack_size] / CRACK_IN["medium"]

    def _cracks_at_all(self, thick: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return 0 below the critical film, 1 from half as much again."""
        t = np.clip((thick / self.critical_mil() - 1.0) / 0.5, 0.0, 1.0)
        return np.asarray(t * t * (3.0 - 2.0 * t))

    def _plates(self, wall: Wall, map_: cracks.SpacingMap, streams: Streams) -> _Plates:
        """Divide, open and draw; curl the plates that slid, and score how they hang."""
        grid = wall.grid
        asked = ("plates", map_, grid, streams.key("net"))
        cells, score, drawn, tone = streams.kept.once(asked, lambda: self._drawn(grid, map_, streams))
        loose = crack_flakes.looseness(drawn, cells, score, wall.slip, grid, streams.key("hang"))
        return _Plates(drawn.ink, drawn.depth, drawn.curl, loose, tone)

    def _drawn(self, grid: Grid, map_: cracks.SpacingMap, streams: Streams) -> _Drawn:
        """Return the cells of the net, how ready each is to fall, the net's picture and the tone it gives the coat."""
        window = cracks.Window(grid.rows, grid.cols, grid.ppi)
        net = cracks.net(map_, window.bounds, streams.key("net"), grid.ppi, streams.kept)
        cells = net.cells
        coarse = grid.at(_map_ppi(grid))
        cluster = fields.fbm(coarse, 6.0, streams.key("cluster"), 2, 0.5)
        at = cells.shape.centre * coarse.ppi - 0.5
        score = crack_flakes.scores(
            cells, fields.gather(cluster, at[:, 0], at[:, 1]).astype(np.float64), streams.key("fall")
        )
        drawn = cracks.draw(net, window, *self._posture(cells, score))
        tone = drawn.spread((0.985 + 0.03 * seeds.hash_unit(cells.name, 71)).astype(np.float32))
        tone = strips.each(lambda tone, depth: tone * (1.0 - np.float32(0.66) * depth), tone, drawn.depth, out=tone)
        for one in (drawn.ink, drawn.depth, drawn.curl, tone):
            one.flags.writeable = False
        return cells, score, drawn, tone

    def _posture(
        self, cells: cracks.Cells, score: NDArray[np.floating[Any]]
    ) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
        """Return curl (mil), tilt (mil per inch), where it lies on the wall (inches) and roll of each cell.

        It curls much where it slid, a mil where it sticks, and more at one side than at the other: of those that slid
        most lie on at one side and stand up at the other, some nearly flat, and some rolled up one way.
        """
        some, far, rolled = (seeds.hash_unit(cells.name, purpose) for purpose in (72, 75, 76))
        free = np.where(cells.opening > 0, cells.slip**1.5, 0.0)
        stuck = 1.6 * np.sqrt(cells.size / 0.34)
        broad = np.minimum(cells.size / np.sqrt(cells.shape.aspect), 3.0)  # a strip would stand up steep
        slid = 32.0 * free * (0.8 + 0.6 * score) * broad * (0.12 + 2.2 * some**1.8)
        curl = stuck * (0.25 + 1.5 * some**1.6) + slid / (1.0 + slid / _MOST_CURL_MIL)
        turn = 2.0 * np.pi * seeds.hash_unit(cells.name, 73)
        slope = (4.0 + 22.0 * free) * seeds.hash_unit(cells.name, 74)
        gate = np.where(cells.opening > 0, 1.0, 0.0)
        way = gate[:, None] * np.stack([np.cos(turn), np.sin(turn)], axis=1)
        aside = (_ASIDE + (_HINGED - _ASIDE) * free) * far * cells.size
        return curl * gate, slope[:, None] * way, -aside[:, None] * way, _ROLLED * free * (2.0 * rolled - 1.0)

    def words(self) -> str:
        """Return the layer's line."""
        inches = CRACK_IN[self.crack_size] * self.thickness_ratio
        return f"{self.material.name}, {self.crack_size} crackle (about {inches:.2g} in), {self.drying} drying"

    @property
    def thickness_ratio(self) -> float:
        """Likely film where the coat lies, over the nominal film."""
        at = self.spread_at or self.coverage
        film = 1604.1667 / self.spread_used.likely * (1.0 + self.thin.likely) / at if at > 0 else 0.0
        return film / NOMINAL_MIL


def _left(film: Array, ink: Array) -> Array:
    """Return what is left of a film, mil, to hide what lies below: that shows in cracks narrower than a pixel too."""
    left = np.float32(1.0) - ink
    np.square(left, out=left)
    np.square(left, out=left)
    left *= film
    np.maximum(left, np.float32(_DREGS_MIL), out=left)
    left *= film > 0
    return left


def _free(wall: Wall) -> Resampled:
    """Return how free of its ground film is, 0 to 1: what a piece spans, it spans; specks of ground do not hold it."""
    rough = wall.grid.at(wall.grid.plan.ppi / 4.0)
    slip = fields.resample(wall.slip, wall.grid, rough)
    free = np.clip((slip - np.float32(_HELD_SLIP)) / np.float32(_FREE_SLIP - _HELD_SLIP), 0.0, 1.0)
    return Resampled(free, rough, wall.grid, smooth=True)


def _stands(height: Array, film: Array, ink: Array, depth: Array, curl: Array, free: Array) -> Array:
    """Return the height of a film that has cracked and curled, mil: it does not lift where its ground holds it."""
    lifted = np.maximum(curl - np.float32(_CUPPED_MIL), 0.0)
    lifted *= np.float32(1.0) - free
    sunk = np.clip(np.float32(1.4) * ink - np.float32(0.4), 0.0, 1.0)
    sunk *= depth
    stands = film - film * sunk
    stands += curl - lifted
    stands *= film > 0
    stands += height
    return stands
