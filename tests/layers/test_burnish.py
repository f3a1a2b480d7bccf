"""Burnishing: sheen, tone and smoothness of the high spots; no material moves."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import ndimage

from render import blade, fields, seeds
from render.fields import Grid
from render.layers import burnish
from render.layers.burnish import Burnish
from render.layers.plaster_coat import PlasterCoat
from render.seeds import Streams
from render.wall import Wall


def plastered() -> Wall:
    """Return a wall with a full coat."""
    coat = {"name": "top", "material": "burnishing lime", "style": "full", "ridge": "2 mil"}
    return PlasterCoat.model_validate(coat).apply(Wall.bare(10, 10, 12.5), Streams(3, "top"))


def burnished(wall: Wall, **keys: Any) -> Wall:
    """Return the wall polished."""
    return Burnish.model_validate({"name": "polish", **keys}).apply(wall, Streams(3, "polish"))


def test_moves_nothing() -> None:
    """No film or account changes; what is rubbed is pressed down, by a few thousandths of an inch at most."""
    before = plastered()
    after = burnished(before)
    sunk = before.height - after.height
    deepest = 1.35 * burnish._SINKS + 0.6 * burnish._TORN + 0.5 * burnish._PORE
    assert sunk.min() >= 0.0 and sunk.max() < deepest
    assert after.strata == before.strata
    assert after.ledger == before.ledger


def test_polishes_and_darkens_together() -> None:
    """Where the sheen rises most the tone falls most, but for grains and pores; all stays within bounds."""
    before = plastered()
    after = burnished(before, darken="30 %")
    shine, dark = after.sheen - before.sheen, 1.0 - after.tone / before.tone
    assert np.corrcoef(np.sqrt(shine).ravel(), dark.ravel())[0, 1] > 0.9
    assert shine.min() >= 0
    assert after.sheen.max() <= 1.0
    assert np.quantile(dark, 0.01) > -0.1  # a grain of marble cut open is lighter
    assert np.quantile(dark, 0.99) <= 0.3 * 1.35 + 0.1
    assert dark.max() <= 0.3 * 1.35 + 0.4


def lone(grid: Grid, **parts: Any) -> burnish._Leaves:
    """Return a track along a row, 3 x 1 in about row 2 in, column 2 in; it ends at once, and its edge is even."""
    place = {"row": 2.0, "col": 2.0, "cos": 1.0, "sin": 0.0, "half_len": 1.5, "half_wide": 0.5, "bend": 0.0, "bow": 0.0}
    how = {"level": 1.0, "heel": 0.0, "fades": 0.8, "stops": 0.0, "shakes": 0.0, "tears": 0.0, "at": 0.0}
    own = {name: np.full(1, value) for name, value in {**place, **how, **parts}.items()}
    shakes = np.where(np.arange(40) % 10 < 5, 0.2, -0.2).astype(np.float32)
    heel = np.array([0.4, 0.2], np.float32)
    torn = np.tile(np.repeat([0.0, -1.0], 5).astype(np.float32), (20, 4))
    edge = burnish._Edge(np.zeros(40, np.float32), shakes, heel, torn, per_in=10.0)
    return burnish._Leaves(grid, **own, ids=np.ones(1, np.uint64), edge=edge)


def test_the_side_that_bears_is_a_bow() -> None:
    """With a bow of .2 per inch the crisp side lies .2 x 1 in2 nearer an inch along the track; the other side stays."""
    grid = Grid.over(4.0, 4.0, 50.0)
    hard = np.zeros(grid.shape, np.float32)
    lone(grid, bow=0.2).draw(hard, slice(0, 200))
    for along, low in ((0.0, 2.5), (1.0, 2.3)):
        rows = np.flatnonzero(hard[:, round(50 * (2.0 + along))] > 0.01) / 50.0
        assert rows[[0, -1]] == pytest.approx([1.5, low], abs=0.03)


def test_a_blade_that_shakes_writes_across_its_way() -> None:
    """The chatter of a track changes along it only, as strongly as the blade shook."""
    grid = Grid.over(4.0, 4.0, 50.0)
    hard = np.zeros(grid.shape, np.float32)
    lone(grid, shakes=0.5, fades=0.01).draw(hard, slice(0, 200))
    inner = hard[90:110, 105:165]
    assert np.ptp(inner, axis=0).max() < 1e-6
    assert np.unique(inner.round(4)).tolist() == pytest.approx([0.9, 1.1])


def test_the_side_that_bears_is_burnt() -> None:
    """The last tenth of an inch along the bow is .4 harder, that before it .2, and nothing else."""
    grid = Grid.over(4.0, 4.0, 50.0)
    hard = np.zeros(grid.shape, np.float32)
    lone(grid, bow=0.2, heel=1.0, fades=0.01).draw(hard, slice(0, 200))
    for along, low in ((0.0, 2.5), (1.0, 2.3)):
        rows = [round(50.0 * (low - off)) for off in (0.05, 0.15, 0.4)]
        assert hard[rows, round(50 * (2.0 + along))] == pytest.approx([1.4, 1.2, 1.0], abs=1e-5)


def test_a_blade_that_tears_leaves_the_track_open() -> None:
    """Where its sheet of tears says so, a track is so much less hard, and goes on hard beyond."""
    grid = Grid.over(4.0, 4.0, 50.0)
    hard = np.zeros(grid.shape, np.float32)
    lone(grid, tears=0.5, fades=0.01).draw(hard, slice(0, 200))
    inner = hard[90:110, 105:165]
    assert np.unique(inner.round(4)).tolist() == pytest.approx([0.5, 1.0])
    assert np.ptp(inner, axis=0).max() < 1e-6


def test_what_is_torn_is_dull_and_low() -> None:
    """Where the skin is torn the wall shines no more than unrubbed and lies lower than the places beside it."""
    wall = Wall.bare(24, 24, 25.0)
    layer = Burnish.model_validate({"name": "polish", "reach": "2 mil"})
    pressed = burnish._Hand(layer, wall.grid, Streams(3, "polish")).pressed
    after = layer.apply(wall, Streams(3, "polish"))
    torn, weak = pressed < -0.3, (pressed > 0.0) & (pressed < 0.1)
    assert 0.0001 < torn.mean() < 0.02
    assert after.sheen[torn].max() < 0.01 < np.median(after.sheen)
    assert after.height[torn].mean() < after.height[weak].mean() - 1.0


def test_tears_end_at_once() -> None:
    """Along the way a tear deepens slowly and is shut again in a place or two: the steps back are far the largest."""
    torn = burnish._torn(50.0, 7)
    step = np.diff(torn, axis=1)
    assert 0.02 < (torn < 0).mean() < 0.4
    assert step.max() > 3.0 * -step.min()


def crowding(points: fields.Points, side_in: float, cell_in: float) -> float:
    """Return the variance of counts in square cells over their mean: 1 for a Poisson scatter."""
    edges = np.arange(0.0, side_in + 1e-9, cell_in)
    count = np.histogram2d(points.row_in, points.col_in, (edges, edges))[0]
    return float(count.var() / count.mean())


def test_pores_crowd() -> None:
    """Counted in squares of 2 in, pores vary three times as much as points that know nothing of each other."""
    layer, grid = Burnish.model_validate({"name": "polish"}), Grid.over(48.0, 48.0, 12.5)
    pores = burnish._Hand(layer, grid, Streams(3, "polish"))._pores()
    even = fields.scatter(grid, pores.ids.size / 48.0**2, 5)
    assert pores.ids.size > 500
    assert crowding(even, 48.0, 2.0) < 1.3 and crowding(pores, 48.0, 2.0) > 3.0


def test_pores_stand_in_rows_along_the_way() -> None:
    """A row of pores keeps to a line along its track, within a few hundredths of an inch, and is far longer."""
    track, rows = lone(Grid.over(4.0, 4.0, 12.5)), []
    for own in seeds.mix64(np.arange(200, dtype=np.uint64)):
        row = replace(track, ids=np.array([own])).rows_of_pores()
        rows += [row] if row.ids.size > 5 else []
    assert len(rows) > 10
    assert max(one.row_in.std() for one in rows) < 0.06
    assert np.median([np.ptp(one.col_in) / np.ptp(one.row_in) for one in rows]) > 5.0


def test_pores_are_of_many_sizes() -> None:
    """The largest hundredth of the pores cover more than five times as much as the middle one."""
    layer, grid = Burnish.model_validate({"name": "polish"}), Grid.over(24.0, 24.0, 100.0)
    specks = burnish._Hand(layer, grid, Streams(3, "polish")).specks
    label, count = ndimage.label(specks < -0.15)
    size = np.bincount(label.ravel())[1:]
    assert count > 100 and np.quantile(size, 0.99) > 5.0 * np.median(size)


def test_polish_is_in_islands() -> None:
    """It is full in the upper half of its reach, and falls over the lower half: at three quarters down it is half."""
    wall = Wall.bare(10, 10, 12.5)
    hollow = np.zeros(wall.grid.shape, np.float32)
    hollow[60:70, 20:30], hollow[60:70, 60:70] = 1.0, 1.5
    coat = wall.evolve(height=wall.height - hollow)
    layer = Burnish.model_validate({"name": "polish", "reach": "2 mil", "darken": "30 %"})
    over = blade.ride(coat.height, 12.5, 0.8, 1.6, 0.7) - 2.0
    pressed = burnish._Hand(layer, wall.grid, Streams(3, "polish")).pressed
    dark = (1.0 - layer.apply(coat, Streams(3, "polish")).tone) / 0.3
    share = np.clip((coat.height - over) / 2.0, 0.0, 1.0)
    for low, high, want in ((0.5, 1.0, 1.0), (0.2, 0.3, 0.5)):
        there = (share > low) & (share <= high) & (pressed > 0.3)
        assert there.sum() > 20
        assert np.median(dark[there] / pressed[there]) == pytest.approx(want, abs=0.1)


def test_tracks_have_one_crisp_side() -> None:
    """Across a lone track the polish rises at once where the blade bore and falls over its width at the other side."""
    grid = Grid.over(4.0, 4.0, 50.0)
    leaf = lone(grid)
    hard = np.zeros(grid.shape, np.float32)
    leaf.draw(hard, slice(0, 90))
    leaf.draw(hard, slice(90, 200))
    profile = hard[:, 130]
    assert profile.max() == pytest.approx(1.0)
    down = np.diff(profile)
    assert -down.min() > 0.4 and 0 < down.max() < 0.03
    assert np.flatnonzero(profile > 0.01)[[0, -1]] / 50.0 == pytest.approx([1.5, 2.5], abs=0.03)
    assert hard[100, 176] == 0.0 and hard[100, 172] > 0.5 and 0 < hard[100, 30] < 0.3


def test_bands_make_no_difference() -> None:
    """Tracks drawn in bands of rows are those drawn at once, to the bit."""
    grid = Grid.over(6.0, 7.0, 25.0)
    leaves = burnish._Leaves.over(grid, 2.4, Streams(3, "polish"))
    whole, parts = np.zeros((2, *grid.shape), np.float32)
    leaves.draw(whole, slice(0, grid.rows))
    for rows in (slice(0, 31), slice(31, 100), slice(100, grid.rows)):
        leaves.draw(parts, rows)
    assert whole.std() > 0.3 and np.array_equal(whole, parts)


def test_a_wider_wall_keeps_its_tracks() -> None:
    """A smaller wall is the corner of a larger one."""
    layer = Burnish.model_validate({"name": "polish"})
    small, large = (layer.apply(Wall.bare(9, wide, 25.0), Streams(3, "polish")).sheen for wide in (9.0, 17.0))
    assert np.allclose(small, large[:, :225], atol=1e-5)


def test_a_coarse_picture_is_the_fine_one_averaged() -> None:
    """The polish at 12.5 px/in is that at 25 px/in averaged down."""
    layer = Burnish.model_validate({"name": "polish"})
    coarse, fine = (layer.apply(Wall.bare(16, 16, ppi), Streams(3, "polish")).sheen for ppi in (12.5, 25.0))
    assert np.corrcoef(fine.reshape(200, 2, 200, 2).mean((1, 3)).ravel(), coarse.ravel())[0, 1] > 0.97


def test_high_spots_first() -> None:
    """Hollows below the reach stay matt."""
    before = plastered()
    pit = np.zeros(before.grid.shape, np.float32)
    pit[40:46, 60:66] = 12.0
    after = burnished(before.cut(pit), reach="1 mil")
    shine = after.sheen - before.sheen
    assert shine[41:45, 61:65].mean() < 0.4 * shine.mean()


@settings(max_examples=15, deadline=None)
@given(st.floats(0.5, 100.0))
def test_coverage_is_exact(share: float) -> None:
    """The share that is burnished is the share asked, to the pixel."""
    before = plastered()
    layer = Burnish.model_validate({"name": "polish", "coverage": f"{share:.4f} %"})
    after = layer.apply(before, Streams(3, "polish"))
    assert layer.achieved(before, after) == pytest.approx(layer.coverage, abs=0.51 / before.height.size)


def test_nothing_asked() -> None:
    """Coverage 0 leaves the wall itself."""
    before = plastered()
    assert burnished(before, coverage="0 %") is before


@pytest.mark.parametrize(("height", "width", "ppi"), [(0.05, 0.05, 12.5), (1.0, 1.0, 1.0), (30.0, 40.0, 0.1)])
def test_smallest_pictures(height: float, width: float, ppi: float) -> None:
    """A picture of a pixel or a few works like any other."""
    assert np.isfinite(burnished(Wall.bare(height, width, ppi)).sheen).all()
