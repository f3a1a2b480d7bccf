"""Flow over a wall: nothing is lost, runs and spots look as they must, the wall steers and holds."""

import numpy as np
import pytest
import wetwalls
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import ndimage

from render import droplets, fields, flow, trails
from render.fields import Grid


def _even(wall, film=3.0):
    return np.full(wall.grid.shape, film, np.float32)


def _column_of_runs(wall, volume=6.0, film=3.0, key=3):
    """One run down the middle of an evenly coloured wall: (film before, after, run-off, runs)."""
    bed = flow.Bed(wall)
    middle = np.array([0.5 * wall.grid.width_in])
    runs = trails.sweep(bed, np.array([0.5]), middle, np.array([volume]), key=key)
    before = _even(wall, film)
    after, off = trails.run_down(bed, [before.copy()], runs, trails.RunLook(lay=0.5), key=key)
    return before, after[0], off[0], runs


def _reach(wall, volume=1.5):
    """How far a run goes, inches."""
    n = 9
    cols = np.linspace(0.15, 0.85, n) * wall.grid.width_in
    runs = trails.sweep(flow.Bed(wall), np.full(n, 0.3), cols, np.full(n, volume), key=1)
    return float(np.mean(runs.last - runs.first)) / trails.RUN_PPI


def test_mobility_by_hand():
    """A film of 8 mil (.2032 mm) of 16 mm2/s runs at g h^2 / 3 nu = 8.44 mm/s = .332 in/s."""
    by_hand = 9.81 * (8 * 25.4e-6) ** 2 / (3 * 16e-6) / 0.0254
    assert flow.mobility(16.0) * 8**2 == pytest.approx(by_hand, rel=1e-9)
    assert by_hand == pytest.approx(0.332, abs=1e-3)


def _sagged(wall, films, seconds):
    """Films of the sag lattice before, what lies of each after a sag, and what left."""
    coarse = flow.sag_lattice(wall.grid)
    before = [fields.resample(one, wall.grid, coarse) for one in films]
    hold = np.full(coarse.shape, 1.0, np.float32)
    stays, come, off = flow.sag(flow.Bed(wall).relief, before, seconds=seconds, move=flow.mobility(16.0), hold=hold)
    return before, [b * s + c for b, s, c in zip(before, stays, come, strict=True)], off


@pytest.mark.parametrize("colours", [1, 2])
def test_sag_keeps_film_and_counts_what_leaves(colours):
    """Film on the wall + run-off = film before, for one colour and for two at once, to 1e-6."""
    wall = wetwalls.relief()
    films = [_even(wall, 6.0), 2.0 * (fields.lattice(wall.grid, 2.0, 1) > 0).astype(np.float32)][:colours]
    before, after, off = _sagged(wall, films, 6.0)
    for old, new, gone in zip(before, after, off, strict=True):
        assert flow.mean(new) + gone == pytest.approx(flow.mean(old), rel=1e-6)
    assert off[0] > 0


def test_ledge_holds_more_than_the_wall_above():
    """After a sag the film just above a ledge is thicker than on the wall higher up."""
    wall = wetwalls.ledge()
    _, after, _ = _sagged(wall, [_even(wall, 6.0)], 8.0)
    rows = flow.sag_lattice(wall.grid).row_in
    above = after[0][(rows > 4.5) & (rows < 5.1)].mean()
    higher = after[0][(rows > 2.5) & (rows < 3.8)].mean()
    assert above > 1.15 * higher


def test_lattices_follow_a_coarse_picture():
    """Wet fields are worked at 6.25 px/in and the sag at half of it, but never finer than twice the picture."""
    for ppi, wet in ((50.0, 6.25), (12.5, 6.25), (2.0, 4.0), (0.5, 1.0)):
        grid = Grid.over(360.0, 1200.0, ppi)
        assert (flow.wet_lattice(grid).ppi, flow.sag_lattice(grid).ppi) == (wet, wet / 2)


def test_aside_by_hand():
    """Moved half an inch on a grid of 2 px/in a field is read one pixel farther right, and the rim is repeated."""
    grid = Grid(2, 5, 2.0)
    field = np.arange(10, dtype=np.float32).reshape(2, 5)
    moved = flow.aside(field, grid, np.full((2, 5), 0.5, np.float32))
    assert moved == pytest.approx(np.array([[1, 2, 3, 4, 4], [6, 7, 8, 9, 9]]), abs=0.01)
    assert flow.aside(field, grid, np.full((2, 5), 0.25, np.float32))[0, 1] == pytest.approx(1.5)


def test_relief_is_read_once_for_one_height():
    """Two layers on the same relief share what was read off it; another relief, equal or not, is read anew."""
    wall = wetwalls.relief(size=4.0)
    same, other = wall.evolve(wet=wall.wet * 0.5), wall.evolve(height=wall.height.copy())
    assert flow.Bed(wall).relief is flow.Bed(same).relief
    assert flow.Bed(wall).relief is not flow.Bed(other).relief


def test_run_pale_middle_dark_sides():
    """Across a run the middle is paler and the sides are darker than the film was, over runs weak and strong."""
    mean_middle, darkest = [], []
    for key in range(8):
        before, after, _, runs = _column_of_runs(wetwalls.smooth(size=14.0), key=key)
        ratio = after / before
        for row in range(60, 200):
            lane = int((row + 0.5) / 25 * trails.RUN_PPI)
            centre, half = (25 * one[lane - runs.first[0]] for one in (runs.col, np.maximum(runs.half, 0.04)))
            cols = np.arange(ratio.shape[1]) + 0.5
            mean_middle.append(ratio[row, abs(cols - centre) < 0.4 * half].mean())
            darkest.append(ratio[row, abs(cols - centre) < 2.5 * half].max())
    assert np.mean(mean_middle) < 0.9
    assert np.mean(darkest) > 1.05


def test_run_darker_below_than_above():
    """A run that ends on the wall takes colour from its upper half and leaves it in its lower half."""
    before, after, off, runs = _column_of_runs(wetwalls.smooth(size=14.0), volume=2.0)
    assert off == 0
    first, last = (int(r[0] / trails.RUN_PPI * 25) for r in (runs.first, runs.last))
    change = (after - before).sum(1)
    half = (first + last) // 2
    assert change[first:half].sum() < 0 < change[half : last + 2].sum()


def test_misting_lengthens_runs_and_a_rough_dry_wall_shortens_them():
    """The same head of liquid runs at least 1.5 times as far on a misted wall, and farther yet on a smooth
    one.
    """
    dry, misted = (_reach(wetwalls.relief(size=40.0, ppi=12.5, wet=w)) for w in (0.0, 0.8))
    smooth = _reach(wetwalls.smooth(size=40.0, ppi=12.5, wet=0.8))
    assert misted > 1.5 * dry
    assert smooth > misted


@settings(max_examples=15, deadline=None)
@given(st.integers(0, 2**32), st.integers(1, 40))
def test_runs_keep_pigment(seed, count):
    """Film after + run-off = film before to 1e-6, no film below zero, whatever runs cross."""
    rng = np.random.default_rng(seed)
    wall = wetwalls.relief(size=6.0, ppi=12.5)
    row, col, volume = rng.uniform(0, 6, count), rng.uniform(0, 6, count), rng.lognormal(0.5, 1.0, count)
    bed = flow.Bed(wall)
    runs = trails.sweep(bed, row, col, volume, key=seed)
    films = [rng.uniform(0, 5, wall.grid.shape).astype(np.float32), _even(wall)]
    after, off = trails.run_down(bed, [one.copy() for one in films], runs, trails.RunLook(lift=0.9), key=seed)
    for before, new, gone in zip(films, after, off, strict=True):
        assert flow.mean(new) + gone == pytest.approx(flow.mean(before), rel=1e-6)
        assert new.min() >= 0


def test_brought_pigment_is_laid():
    """Pigment that runs bring along lies on the wall or has run off, to 1e-6."""
    wall = wetwalls.smooth(size=6.0)
    bed = flow.Bed(wall)
    runs = trails.sweep(bed, np.full(3, 0.5), np.array([1.0, 3.0, 5.0]), np.full(3, 2.0), key=2)
    load = np.array([[100.0], [50.0], [25.0]])
    after, off = trails.run_down(bed, [_even(wall, 0.0)], runs, trails.RunLook(lift=0.0), 2, load)
    pixels = wall.grid.rows * wall.grid.cols
    assert flow.mean(after[0]) + off[0] == pytest.approx(175.0 / pixels, rel=1e-6)


def test_wash_down_by_hand():
    """On four rows, half lifted from the top one lies below in shares 1 - k, k(1 - k), ...; the rest ran
    off.
    """
    grid = Grid(4, 1, 1.0)
    film = np.array([[2.0], [0.0], [0.0], [0.0]], np.float32)
    moved, off = flow.wash_down(film, np.full((4, 1), 0.5, np.float32), 1.0, grid)
    k = np.exp(-1.0)
    laid = np.array([0.0, 1 - k, k * (1 - k), k * k * (1 - k)])
    assert moved[:, 0] == pytest.approx(np.array([1.0, 0, 0, 0]) + laid, abs=1e-6)
    assert 4 * off == pytest.approx(k**3, rel=1e-5)


def _drops(*places, radius=0.8):
    row, col = (np.array(v, float) for v in zip(*places, strict=True))
    n = len(row)
    return droplets.Drops(row, col, np.full(n, radius), np.zeros(n), np.arange(n, dtype=np.uint64))


def test_alcohol_centre_thinner_rim_thicker():
    """An alcohol drop leaves its middle thinner and its rim thicker than the film, and keeps the whole
    (1e-6).
    """
    wall = wetwalls.smooth(size=6.0)
    before = _even(wall)
    after = droplets.open_spots([before], droplets.spots(wall.grid, _drops((3.0, 3.0)), key=1))[0]
    away = np.hypot(wall.grid.row_in[:, None] - 3.0, wall.grid.col_in[None, :] - 3.0)
    assert after[away < 0.5].mean() < 0.7 * before.mean()
    assert after[(away > 0.65) & (away < 1.0)].mean() > 1.1 * before.mean()
    assert flow.mean(after) == pytest.approx(flow.mean(before), rel=1e-6)
    assert np.array_equal(after[away > 1.9], before[away > 1.9])


def test_alcohol_feathers():
    """Beyond the rim the colour lies in feathers: at one distance it varies with direction by more than a
    tenth.
    """
    wall = wetwalls.smooth(size=6.0)
    after = droplets.open_spots([_even(wall)], droplets.spots(wall.grid, _drops((3.0, 3.0)), key=1))[0]
    away = np.hypot(wall.grid.row_in[:, None] - 3.0, wall.grid.col_in[None, :] - 3.0)
    beyond = after[(away > 0.95) & (away < 1.05)]
    assert beyond.std() > 0.1 * beyond.mean()


def test_two_drops_open_a_bigger_spot():
    """Two drops side by side open more wall than one."""
    wall = wetwalls.smooth(size=6.0)
    bed = flow.Bed(wall)
    one = droplets.open_spots([_even(wall)], droplets.spots(bed.grid, _drops((3.0, 2.6)), key=1))[0]
    two = droplets.open_spots([_even(wall)], droplets.spots(bed.grid, _drops((3.0, 2.6), (3.0, 3.4)), key=1))[0]
    assert (two < 2.4).mean() > 1.3 * (one < 2.4).mean()


def test_no_alcohol_no_spot():
    """Without drops the films are what they were."""
    wall = wetwalls.smooth(size=3.0)
    before = _even(wall)
    none = _drops((1.0, 1.0)).where(np.array([False]))
    assert droplets.open_spots([before], droplets.spots(wall.grid, none, key=1))[0] is before


@settings(max_examples=15, deadline=None)
@given(st.integers(0, 2**32), st.integers(1, 30))
def test_spots_keep_pigment(seed, count):
    """However drops overlap or hang over the wall's edge, each colour keeps its amount to 1e-6."""
    rng = np.random.default_rng(seed)
    wall = wetwalls.smooth(size=5.0, ppi=12.5)
    places = list(zip(rng.uniform(-0.5, 5.5, count), rng.uniform(-0.5, 5.5, count), strict=True))
    films = [rng.uniform(0, 4, wall.grid.shape).astype(np.float32)]
    after = droplets.open_spots(films, droplets.spots(wall.grid, _drops(*places, radius=0.6), key=seed))
    assert flow.mean(after[0]) == pytest.approx(flow.mean(films[0]), rel=1e-6)
    assert after[0].min() >= 0


def test_until_meets_the_share():
    """The drops up to the turn found cover the share asked, to a pixel."""
    grid = Grid.over(20.0, 20.0, 12.5)
    points = fields.scatter(grid, 1.0, 9)
    size = 0.1 + 0.4 * points.unit(1)
    drops = droplets.Drops(points.row_in, points.col_in, size, np.zeros(size.size), points.ids)
    turn = points.unit(2)
    chosen = drops.where(turn < droplets.until(grid, drops, turn, 0.10))
    at = droplets.patches(grid, chosen, np.ones((len(chosen), 4), np.float32), 1.0)
    assert np.unique(at.pixel).size / (grid.rows * grid.cols) == pytest.approx(0.10, abs=0.004)


def test_dry_edges_darken_the_rim():
    """At the edge of a wet patch the film is thicker than inside it; the mean is kept."""
    grid = Grid.over(6.0, 6.0, 25.0)
    film = np.zeros(grid.shape, np.float32)
    film[40:110, 40:110] = 3.0
    after = flow.dry_edges(film, grid, 1.6)
    assert after[75, 41] > 1.15 * after[75, 75]
    assert flow.mean(after) == pytest.approx(flow.mean(film), rel=1e-6)


def test_push_aside_keeps_the_film_and_moves_it():
    """Pushed to the right, a stripe's middle moves right; the mean is kept."""
    grid = Grid.over(2.0, 4.0, 25.0)
    film = np.zeros(grid.shape, np.float32)
    film[:, 30:40] = 1.0
    after = flow.push_aside(film, np.ones(grid.shape, np.float32), grid)
    cols = np.arange(grid.cols)
    assert (after.sum(0) @ cols) / after.sum() > 35 + 5
    assert flow.mean(after) == pytest.approx(flow.mean(film), rel=1e-6)


def test_spot_profile_has_one_clear_middle():
    """From the middle of a spot to its rim the film only grows: there is no dot in its middle."""
    radius, film = droplets.spot_profile()
    inside = radius < 0.95
    assert (np.diff(film[inside]) >= 0).all() and film[0] < 0.6


def test_overlapping_spots_merge():
    """Between two spots that overlap no ridge stands: the film where they meet is thinner than it was."""
    wall = wetwalls.smooth(size=6.0)
    after = []
    for seed in range(8):
        drops = _drops((3.0, 2.5), (3.0, 3.5))
        opened = droplets.open_spots([_even(wall)], droplets.spots(wall.grid, drops, key=seed))[0]
        after.append(opened[68:82, 72:78].mean())
    assert np.mean(after) < 0.8 * 3.0


def test_a_hollow_keeps_most_on_its_lower_lip():
    """In a square hole the lower inch keeps more than the upper one, whatever the chance of the place."""
    wall = wetwalls.smooth(size=8.0)
    height = np.full(wall.grid.shape, 60.0, np.float32)
    height[50:150, 50:150] = 0.0
    wall = wall.evolve(height=ndimage.gaussian_filter(height, 2.0))
    keeps = np.mean([flow.Bed(wall, key).shelter for key in range(6)], 0)
    assert keeps[142:150, 60:140].mean() > 1.5 * keeps[50:58, 60:140].mean() > 0


def test_hairs_run_one_way_in_one_place():
    """Of strokes the one way or the other, in nine tenths of the squares of an inch and a half one prevails: the
    structure tensor's coherence there is over .5.
    """
    grid = Grid.over(40.0, 40.0, 12.5)
    down, right = np.gradient(flow.strokes(grid, 4, 6.0, 0.5))
    a, b, c = (ndimage.gaussian_filter(v, 0.75 * 12.5) for v in (down * down, right * right, down * right))
    coherence = np.sqrt((a - b) ** 2 + 4 * c * c) / (a + b)
    assert (coherence > 0.5).mean() > 0.75
