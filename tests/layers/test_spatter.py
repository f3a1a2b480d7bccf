"""Spatter: coverage, volume, random places, many sizes, rings, and the same drops at any resolution."""

import numpy as np
import pytest
import wetwalls
from scipy import ndimage

from render import droplets
from render.fields import Grid, resample
from render.layers.spatter import _BREAKS_IN, _RUNS_IN, Spatter, _covers, _outlines, _runs, _satellites, _throw
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


def _thrown():
    """The drops of a yard and a third, one in twenty-five parts of it under them."""
    return _throw(Grid.over(48.0, 48.0, 25.0), _spatter(coverage="4 %"), Streams(1, "spatter"))[0]


def test_most_drops_are_drawn_out_a_little_and_a_few_to_a_tail():
    """Most drops are a tenth to a half longer than wide, and one in fifty at least is twice as long and has a tail."""
    tall = _thrown().tall
    assert 0.1 < np.median(tall) < 0.5
    assert 0.02 < (tall > 1.0).mean() < 0.15


def test_specks_break_off_in_line_with_the_throw():
    """Specks lie beyond the tail of a larger drop, within four degrees and a half of its way, and are under half its
    size; the more drawn out a drop is, the likelier it has one.
    """
    drops = _thrown()
    broken, of = _satellites(drops)
    assert 20 < len(broken) < 0.5 * len(drops)
    assert (drops.radius[of] > _BREAKS_IN).all() and (broken.radius < 0.45 * drops.radius[of]).all()
    down, right = broken.row_in - drops.row_in[of], broken.col_in - drops.col_in[of]
    assert (np.hypot(down, right) >= 1.2 * drops.radius[of] * (1.0 + 0.8 * drops.tall[of])).all()
    off = np.angle(np.exp(1j * (np.arctan2(right, down) - drops.way[of])))
    assert np.abs(off).max() < np.radians(4.5)
    large = drops.radius > _BREAKS_IN
    has = np.isin(np.arange(len(drops)), of)
    assert has[large & (drops.tall > 0.7)].mean() > 1.3 * has[large & (drops.tall < 0.2)].mean()


def test_some_drops_are_two_that_met():
    """A fifth of the drops that are not drawn out are longer than wide by .3 or more, the others nearly round; all
    have the area of a circle within a fifth.
    """
    drops = _thrown()
    short = drops.where(drops.tall < 0.8)
    shape = _outlines(short, 5, np.ones(len(short), bool))
    across = shape + np.roll(shape, shape.shape[1] // 2, axis=1)
    long = across.max(1) / across.min(1) > 1.3
    assert 0.12 < long.mean() < 0.3
    assert np.abs((shape**2).mean(1) - 1.0).max() < 0.2


def test_the_deeper_of_two_drops_is_told_at_each_pixel():
    """Of two drops at one pixel the smaller distance holds for both; a pixel of one drop keeps its own."""
    rho = np.array([0.9, 0.2, 0.5, 0.7], np.float32)
    at = droplets.Patches(np.array([3, 1, 3, 2]), np.array([0, 0, 1, 1]), rho, np.zeros(4, np.float32))
    assert droplets.deepest(at).tolist() == np.array([0.5, 0.2, 0.5, 0.7], np.float32).tolist()


def test_a_drop_is_looked_for_no_farther_than_it_reaches():
    """Flung to the right, a drop with a long tail has all the pixels that a search over the whole grid finds."""
    grid = Grid.over(4.0, 4.0, 25.0)
    one = droplets.Drops(*(np.array([v]) for v in (2.0, 1.5, 0.3, 2.0)), np.array([9], np.uint64), np.array([1.4]))
    at = droplets.patches(grid, one, np.ones((1, 96), np.float32), 1.0)
    down, right = grid.row_in[:, None] - 2.0, grid.col_in[None, :] - 1.5
    along, across = down * np.cos(1.4) + right * np.sin(1.4), right * np.cos(1.4) - down * np.sin(1.4)
    inside = np.hypot(np.where(along > 0, along / 3.0, along), across) < 0.3
    assert set(at.pixel.tolist()) == set(np.flatnonzero(inside).tolist())
