"""Spatter: coverage, volume, random places, many sizes, rings, and the same drops at any resolution."""

import numpy as np
import pytest
import wetwalls
from scipy import ndimage

from render.fields import Grid, resample
from render.layers.spatter import _RUNS_IN, Spatter, _covers, _runs, _throw
from render.seeds import Streams


def _spatter(**more):
    return Spatter(name="spatter", **{"spread": "4000 ft2/gal", **wetwalls.TINT, **more})


def test_account_and_volume():
    """Added is the volume asked for and the account closes, to 1e-6."""
    layer, wall = _spatter(), wetwalls.smooth(size=14.0)
    after = wetwalls.lay(layer, wall)
    assert after.ledger["spatter"].added == pytest.approx(layer.amounts(wall.area_ft2).mixed.likely, rel=1e-6)
    assert wetwalls.balance(after) < 1e-6


@pytest.mark.parametrize("share", [0.01, 0.05])
def test_covers_the_share_asked(share):
    """The share under drops is what was asked, within a seventh of it; faint edge pixels do not count."""
    wall = wetwalls.lay(_spatter(coverage=f"{100 * share} %"), wetwalls.smooth(size=20.0, ppi=50.0))
    film = wall.stratum("spatter").film
    assert (film > 0.4 * film[film > 0].mean()).mean() == pytest.approx(share, rel=1 / 7)


def test_many_fine_drops_and_few_large():
    """Most drops are fine and a few large: the largest has over twenty times the median area."""
    film = wetwalls.lay(_spatter(coverage="3 %"), wetwalls.smooth(size=24.0, ppi=50.0)).stratum("spatter").film
    label, _ = ndimage.label(film > 0)
    sizes = np.bincount(label.ravel())[1:]
    assert sizes.size > 150
    assert sizes.max() > 20 * np.median(sizes)


def test_large_drops_have_darker_edges():
    """In the largest drops the film near the edge is thicker than in the middle (Deegan et al. 1997)."""
    layer = _spatter(coverage="4 %", largest="0.3 in")
    film = wetwalls.lay(layer, wetwalls.smooth(size=24.0, ppi=50.0)).stratum("spatter").film
    label, count = ndimage.label(film > 0)
    depth = ndimage.distance_transform_edt(film > 0)
    sizes = np.bincount(label.ravel(), minlength=count + 1)
    sizes[0] = 0
    ratio = []
    for drop in np.argsort(sizes)[-5:]:
        inside = label == drop
        deep = depth[inside].max()
        edge = film[inside & (depth > 1) & (depth < 0.5 * deep)].mean()
        ratio.append(edge / film[inside & (depth > 0.75 * deep)].mean())
    assert np.median(ratio) > 1


def test_same_drops_at_25_and_50():
    """At half an inch of blur 25 and 50 px/in agree to 1 % of the mean."""
    films = []
    for ppi in (25.0, 50.0):
        wall = wetwalls.lay(_spatter(), wetwalls.smooth(size=20.0, ppi=ppi))
        coarse = resample(wall.stratum("spatter").film, wall.grid, Grid.over(20.0, 20.0, 12.5)).astype(float)
        films.append(ndimage.gaussian_filter(coarse, 0.5 * 12.5, mode="nearest"))
    assert np.abs(films[0] - films[1]).mean() < 0.01 * films[1].mean()


def test_thrown_in_fans():
    """Drops are not scattered evenly: their number in squares of two inches varies six times as much as by chance."""
    film = wetwalls.lay(_spatter(), wetwalls.smooth(size=36.0)).stratum("spatter").film
    label, count = ndimage.label(film > 0)
    middle = np.array(ndimage.center_of_mass(film > 0, label, np.arange(1, count + 1)))
    number, _, _ = np.histogram2d(*middle.T, bins=18)
    assert number.var() > 6 * number.mean()


def test_a_thirsty_wall_drinks_the_ring():
    """On a closed surface the edge of the largest drops is darker than their middle, on bare lime it is not."""
    ratio = []
    for thirst in (0.05, 0.8):
        wall = wetwalls.smooth(size=24.0, ppi=50.0, thirst=thirst)
        film = wetwalls.lay(_spatter(coverage="2 %", largest="0.3 in"), wall).stratum("spatter").film
        label, count = ndimage.label(film > 0)
        sizes = np.bincount(label.ravel(), minlength=count + 1)
        inside = label == 1 + np.argmax(sizes[1:])
        depth = ndimage.distance_transform_edt(inside)
        ratio.append(film[inside & (depth > 2) & (depth < 6)].mean() / film[depth > 0.7 * depth.max()].mean())
    assert ratio[0] > 1.15 and ratio[1] < 1.0


def test_a_coarse_picture_draws_few_drops_for_many():
    """Half of a wall of 20 ft under drops, at half a pixel to the inch: fewer than nine drops are drawn for a pixel,
    each for a hundred, and their areas still sum to -ln .5 of the wall.
    """
    grid = Grid.over(240.0, 240.0, 0.5)
    drops, times = _throw(grid, _spatter(coverage="50 %"), Streams(1, "spatter"))
    assert len(drops) < 9 * grid.rows * grid.cols
    assert float(times.sum()) > 100 * len(drops)
    assert float(_covers(drops, times, grid).sum()) == pytest.approx(np.log(2.0), rel=0.01)


def test_fewer_by_a_steep_law():
    """Their number falls as the radius to the 1.9: of those over .015 in 48 % are over .022 in and 7 % over .06 in; the
    first drop of each flick adds a few.
    """
    size = _throw(Grid.over(48.0, 48.0, 25.0), _spatter(coverage="4 %"), Streams(1, "spatter"))[0].radius
    over = [int((size > one).sum()) for one in (0.015, 0.022, 0.06)]
    assert over[1] / over[0] == pytest.approx((0.022 / 0.015) ** -1.9, rel=0.1)
    assert 1.0 < over[2] / over[0] / (0.06 / 0.015) ** -1.9 < 1.4


def test_some_large_drops_run_on_a_closed_surface():
    """Some of the largest drops, not most, run two radii or more straight down; where the wall drinks, none does."""
    drops, _ = _throw(Grid.over(48.0, 48.0, 25.0), _spatter(coverage="4 %"), Streams(1, "spatter"))
    large = int((drops.radius > _RUNS_IN).sum())
    runs, of = _runs(drops, np.zeros(len(drops)))
    assert 0.1 * large < len(runs) < 0.4 * large
    assert (drops.radius[of] > _RUNS_IN).all()
    down, aside = runs.row_in - drops.row_in[of], runs.col_in - drops.col_in[of]
    assert (down >= 2.0 * drops.radius[of]).all() and (np.abs(aside) < 0.25 * drops.radius[of]).all()
    assert len(_runs(drops, np.ones(len(drops)))[0]) == 0
