"""Crackle coat: spacing, release, critical film, topology and relief on real walls."""

from __future__ import annotations

from functools import lru_cache
from typing import Any

import numpy as np
import pytest
from crack_topology import measure
from numpy.typing import NDArray

from render.fields import Grid
from render.kept import Kept
from render.layers.crackle_coat import CRACK_IN, CrackleCoat, sweeps
from render.layers.size import Size
from render.physics.cracks import SpacingMap, net
from render.seeds import Streams
from render.wall import Stratum, Wall

MIL_MM = 0.0254


def coat(**keys: Any) -> CrackleCoat:
    """Return a crackle coat as a file would give it."""
    return CrackleCoat.model_validate({"name": "crackle", "material": "crackle plaster", **keys})


def laid(layer: CrackleCoat, side: float = 10.0, ppi: float = 40.0, slip: float = 0.0, pour: int = 3) -> Wall:
    """Return a flat wall of even slip after the coat."""
    wall = Wall.bare(side, side, ppi).evolve(slip=np.full((1, 1), slip, np.float32))
    return layer.apply(wall, Streams(pour, "crackle"))


def distance(cracks: NDArray[np.float32], ppi: float) -> float:
    """Return the mean distance between cracks along rows and columns of the picture, inches."""
    on = cracks > 0.08
    met = sum(np.count_nonzero(one[1:] & ~one[:-1]) for one in (on, on.T))
    return 2.0 * on.size / max(met, 1) / ppi


def width(cracks: NDArray[np.float32], ppi: float) -> float:
    """Return the mean width of the cracks, inches: open area over half the crossings."""
    return float(cracks.mean(dtype=float)) * distance(cracks, ppi)


def spread_for(mil: float) -> str:
    """Return the spread that gives a mean film."""
    return f"{1604.1667 / mil:.3f} ft2/gal"


@lru_cache(maxsize=1)
def plain() -> Wall:
    """A bonded medium crackle with over 500 inner cells, sharp enough to read its junctions."""
    return laid(coat(spread=spread_for(20.0)), 9.0, 130.0)


def test_topology_on_a_plain_wall() -> None:
    """Bohn, Pauchard & Couder 2005; Goehring 2010: 4.0-4.6 corners a cell, > 90 % T, 80 % square within 20 degrees."""
    found = measure(plain().cracks, reach=11)
    assert found.cells >= 500
    assert 4.0 <= found.corners_per_cell <= 4.6
    assert found.t_share > 0.9 and found.square_share >= 0.8


def test_spacing_grows_with_the_film() -> None:
    """From .25 to 2 mm the mean spacing follows the film with an exponent in .6-1.1.

    Groisman & Kaplan 1994 (1); Ma, Lowensohn & Burton 2019 (2/3).
    """
    film_mm = np.array([0.25, 0.5, 1.0, 2.0])
    seen = [
        distance(laid(coat(spread=spread_for(mm / MIL_MM)), side, ppi).cracks, ppi)
        for mm, side, ppi in zip(film_mm, (5.0, 8.0, 16.0, 30.0), (80.0, 50.0, 30.0, 20.0), strict=True)
    ]
    exponent = np.polyfit(np.log(film_mm), np.log(seen), 1)[0]
    assert 0.6 <= exponent <= 1.1


def test_on_release_size_cracks_are_far_apart_and_wide() -> None:
    """Where the base slips: at least 2.5 times the spacing and 4 times the width of the bonded net."""
    bonded, sliding = laid(coat(), 12.0), laid(coat(), 24.0, slip=1.0)
    assert distance(sliding.cracks, 40.0) >= 2.5 * distance(bonded.cracks, 40.0)
    assert width(sliding.cracks, 40.0) >= 4.0 * width(bonded.cracks, 40.0)


def test_no_cracks_below_the_critical_film() -> None:
    """A film below the critical thickness dries whole; one well above it cracks."""
    layer = coat(spread=spread_for(2.0))
    assert layer.critical_mil() == pytest.approx(4.0, rel=0.05)
    assert not laid(layer, 6.0).cracks.any()
    assert laid(coat(spread=spread_for(8.0)), 6.0).cracks.max() > 0.3


@pytest.mark.parametrize("size", ["fine", "medium", "bold"])
def test_crack_size_means_its_inches(size: str) -> None:
    """At 20 mil on a bonded base the cells are as wide as the documented inches, within a tenth or so."""
    inches = CRACK_IN[size]
    layer = coat(crack_size=size, spread=spread_for(20.0))
    wall = laid(layer, 16 * inches, 44.0 / inches)
    found = measure(wall.cracks, reach=11)
    assert np.sqrt(found.mean_area_px) * inches / 44.0 == pytest.approx(inches, rel=0.15)
    assert f"{inches:.2g} in" in layer.words()


def test_fast_drying_cracks_closer_and_wider() -> None:
    """A film that dries fast has no time to creep."""
    fast, slow = (laid(coat(drying=drying), 8.0) for drying in ("fast", "slow"))
    assert distance(fast.cracks, 40.0) < 0.95 * distance(slow.cracks, 40.0)
    assert width(fast.cracks, 40.0) > 1.1 * width(slow.cracks, 40.0)


def test_a_glossy_base_holds_less_and_a_thirsty_one_more() -> None:
    """Gloss lets the film slide, bare grain grips it."""

    def on(**base: float) -> float:
        wall = Wall.bare(10.0, 10.0, 40.0).evolve(**{k: np.full((1, 1), v, np.float32) for k, v in base.items()})
        return distance(coat().apply(wall, Streams(3, "crackle")).cracks, 40.0)

    assert on(sheen=0.9) > 1.1 * on() > 1.15 * on(thirst=1.0)


def test_the_volume_lies_on_the_wall_to_a_millionth() -> None:
    """The film, cracks and all, integrates to the mixed volume."""
    layer = coat(thin="10 %", coverage="60 %")
    wall = laid(layer, 12.0, 20.0)
    assert wall.gallons(wall.stratum("crackle").film) == pytest.approx(
        layer.amounts(wall.area_ft2).mixed.likely, rel=1e-6
    )


def test_the_same_net_at_12_25_and_50_px_per_inch() -> None:
    """Finer pictures averaged down agree with the coarse one: correlation at least .96."""
    coarse, middle, fine = (laid(coat(), 16.0, ppi).cracks for ppi in (12.5, 25.0, 50.0))
    halved, quartered = (f.reshape(200, k, 200, k).mean(axis=(1, 3)) for f, k in ((middle, 2), (fine, 4)))
    assert np.corrcoef(coarse.ravel(), halved.ravel())[0, 1] >= 0.96
    assert np.corrcoef(coarse.ravel(), quartered.ravel())[0, 1] >= 0.96


def test_a_smaller_wall_is_the_corner_of_a_larger_one() -> None:
    """With an even film the corner of a wider wall has the very same cracks."""
    small, large = (laid(coat(), side, 25.0).cracks for side in (8.0, 12.0))
    corner = large[:150, :150]  # the film's mean, and with it the spacing, differs a little between the walls
    assert np.corrcoef(small[:150, :150].ravel(), corner.ravel())[0, 1] > 0.6


def test_plates_curl_where_they_slid() -> None:
    """Over size the plates' rims stand off the wall; bonded cells lie flat."""
    sliding, bonded = laid(coat(), 12.0, 40.0, slip=1.0), laid(coat(), 12.0, 40.0)
    lift = [np.percentile((w.height - w.stratum("crackle").film)[w.cracks == 0], 95) for w in (sliding, bonded)]
    assert lift[0] > 15.0 and lift[1] < 2.5


def test_a_plate_does_not_lift_where_its_ground_holds() -> None:
    """Plates that reach from size over ground that holds stand up over the size alone; wet film lifts no plate below.

    Their corners had stood 100 mil and more off bare ground, with an upright side towards the film that stuck there.
    """
    wall = Wall.bare(16.0, 16.0, 25.0)
    slip = np.zeros(wall.grid.shape, np.float32)
    slip[:, 200:] = 1.0
    once = coat().apply(wall.evolve(slip=slip), Streams(3, "crackle"))
    off = np.where(once.cracks == 0, once.height - once.stratum("crackle").film, np.float32(0.0))
    assert np.percentile(off[:, 220:], 95) > 15.0
    assert off[:, :190].max() < 8.0  # what cups at most, and a little
    again = coat(name="over").apply(once, Streams(4, "over"))
    bonded = again.cracks == 0
    below = again.height - again.stratum("over").film - again.stratum("crackle").film
    assert np.percentile(below[bonded & (off > 15.0)], 99) < 0.5 * np.percentile(off[off > 15.0], 99)


def test_only_what_slid_hangs_loose() -> None:
    """Looseness is nought on a bonded base, and spread out over size."""
    assert not laid(coat(), 6.0).loose.any()
    loose = laid(coat(), 12.0, slip=1.0).loose
    assert loose.std() > 0.15 and loose.max() <= 1.0


def test_cracks_drink() -> None:
    """Open cracks are thirstier than the film, so that a later glaze gathers there."""
    wall = laid(coat(), 6.0, 50.0, slip=1.0)
    assert wall.thirst[wall.cracks > 0.9].mean() > 0.95 > wall.thirst[wall.cracks == 0].mean()


def test_a_thin_coat_lets_the_net_show_through() -> None:
    """Paint follows the relief of a cracked coat: its hollows are the cracks. The crack field is covered."""
    wall = laid(coat(), 6.0, 60.0, slip=0.6)
    painted = wall.add(Stratum("paint", "coat", np.full(wall.grid.shape, 2.0, np.float32)))
    assert not painted.cracks.any()
    assert np.corrcoef(painted.height.ravel(), wall.height.ravel())[0, 1] > 0.999
    deep = painted.height[wall.cracks > 0.9].mean() - painted.height[wall.cracks < 0.01].mean()
    assert deep < -8.0


def test_a_hand_does_not_weave() -> None:
    """Streaks bend and cross at every slant: over many walls no more of their slope lies along an axis than by chance.

    Within ten degrees of an axis lie two ninths of all slants, and nearly the whole slope of a weave.
    """
    share = []
    for key in range(1, 41):
        down, right = np.gradient(sweeps(Grid.over(24.0, 24.0, 12.5), key))
        off = np.abs((np.degrees(np.arctan2(down, right)) + 45.0) % 90.0 - 45.0)
        energy = down**2 + right**2
        share.append(energy[off < 10.0].sum() / energy.sum())
    assert np.mean(share) < 20.0 / 90.0
    assert max(share) < 0.8


def test_a_wider_wall_keeps_its_sweeps() -> None:
    """Streaks are placed in inches: the corner of a wide wall has those of a small one."""
    small, wide = sweeps(Grid.over(12.0, 12.0, 12.5), 7), sweeps(Grid.over(12.0, 40.0, 12.5), 7)
    assert np.mean(np.abs(wide[:, :150] - small) > 1e-3) < 0.01
    assert 0.5 < small.std() < 1.5


def test_cells_that_stick_are_cupped_a_mil_or_two() -> None:
    """Drying draws the surface in more than what is stuck: the rims of bonded cells stand up to two mil above it."""
    cells = net(SpacingMap.even(0.34, 0.005), (0.0, 0.0, 12.0, 12.0), 1).cells
    curl, *_ = coat()._posture(cells, np.zeros(len(cells.name)))
    assert 0.5 < np.median(0.74 * curl) < np.percentile(0.74 * curl, 95) < 2.2


def test_plates_that_slid_curl_each_in_its_own_way() -> None:
    """Over size a quarter curl less than half as much as the middle one, a tenth over twice as much; none 165 mil."""
    cells = net(SpacingMap.even(1.7, 0.03, slip=1.0), (0.0, 0.0, 60.0, 60.0), 1).cells
    curl, _, aside, roll = coat()._posture(cells, np.full(len(cells.name), 0.5))
    low, middle, high = np.percentile(curl, (25, 50, 90))
    assert low < 0.5 * middle and high > 2.0 * middle and curl.max() < 160.0 + 5.0
    assert np.hypot(*aside.T).max() > 0.6 * cells.size.min()
    assert roll.min() < -0.6 < 0.6 < roll.max()
    stuck = net(SpacingMap.even(0.34, 0.005), (0.0, 0.0, 6.0, 6.0), 1).cells
    assert not coat()._posture(stuck, np.zeros(len(stuck.name)))[3].any()


def test_under_the_cracks_the_base_shows() -> None:
    """Where a crack is wide open almost no film is left to hide the base."""
    wall = laid(coat(), 12.0, 60.0, slip=1.0)
    film = wall.stratum("crackle").film
    assert film[wall.cracks >= 0.99].max() < 0.5
    assert (film > 0).all()


def test_partial_coverage_is_met_and_cracks_stay_on_the_coat() -> None:
    """Sixty per cent are covered; nothing cracks where no coat lies."""
    wall = laid(coat(coverage="60 %"), 12.0, 20.0)
    on = wall.stratum("crackle").film > 0
    assert on.mean() == pytest.approx(0.6, abs=0.005)
    assert not wall.cracks[~on].any()


def test_over_release_size_from_its_own_layer() -> None:
    """On a wall half sized, the sized half has the wider plates."""
    size = Size.model_validate({"name": "size", "material": "release size", "coverage": "50 %", "blotch": "20 in"})
    before = size.apply(Wall.bare(20.0, 20.0, 25.0), Streams(2, "size"))
    after = coat().apply(before, Streams(2, "crackle"))
    assert after.cracks[before.slip > 0.6].mean() > 1.5 * after.cracks[before.slip == 0].mean()


@pytest.mark.parametrize(
    ("key", "value"), [("crack_size", "huge"), ("drying", "medium"), ("coverage", "140 %"), ("spread", "80")]
)
def test_faults_are_named(key: str, value: str) -> None:
    """Unknown words, impossible shares and bare numbers are refused by name."""
    with pytest.raises(ValueError, match=key):
        coat(**{key: value})


def test_a_net_finer_than_the_picture_keeps_its_share_of_open_crack() -> None:
    """At 3 px/in the net is drawn coarser, but as much of the wall is open crack as at 25 px/in."""
    low, high = (laid(coat(), 24.0, ppi).cracks.mean(dtype=float) for ppi in (3.0, 25.0))
    assert low == pytest.approx(high, rel=0.15)


def test_film_without_cracks_does_not_hang_loose() -> None:
    """Below the critical film nothing lifts, even over size."""
    assert not laid(coat(spread=spread_for(1.5)), 6.0, slip=1.0).loose.any()


def test_a_little_more_sanding_below_leaves_the_net() -> None:
    """Two hundredths of sheen or thirst on the base change no crack; a glossy base does (its cells are wider)."""

    def map_(**below: float) -> SpacingMap:
        wall = Wall.bare(6.0, 6.0, 12.5).evolve(**{k: np.full((1, 1), v, np.float32) for k, v in below.items()})
        return coat().spacing_map(wall, np.full(wall.grid.plan.shape, 20.0, np.float32))

    plain = map_(sheen=0.05, thirst=0.35)
    assert map_(sheen=0.07, thirst=0.35) == plain == map_(sheen=0.05, thirst=0.37)
    assert map_(sheen=0.9, thirst=0.35).spacing.mean() > 1.1 * plain.spacing.mean()


@pytest.mark.parametrize("threads", ["1", "2", "3"])
def test_no_bit_hangs_on_what_is_kept_or_on_threads(threads: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """Laid afresh, laid from what was kept, by one thread or more: the same bytes."""
    monkeypatch.setenv("FINISHBOARD_THREADS", "1")
    wall = Wall.bare(20.0, 20.0, 40.0).evolve(slip=np.full((1, 1), 0.6, np.float32))
    fresh = coat().apply(wall, Streams(3, "crackle"))
    monkeypatch.setenv("FINISHBOARD_THREADS", threads)
    kept = Kept()
    for _ in range(2):
        again = coat().apply(wall, Streams(3, "crackle", kept))
        for name in ("height", "cracks", "loose", "tone"):
            assert np.array_equal(getattr(again, name), getattr(fresh, name))
    assert len(kept) == 6  # three drawings of the hand; the division, the opened net, its picture
