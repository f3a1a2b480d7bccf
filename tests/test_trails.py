"""Runs drawn on a wall: a run of a liquid lays what its head loses, keeps its breadth, and ends in a dark foot."""

from dataclasses import replace

import numpy as np
import pytest
import wetwalls

from render import flow, trails
from render.wall import Wall

LOOK = trails.RunLook(lift=0.0, core=0.7, spends=True)


def _run(wall, volume, look=LOOK):
    """One run of a liquid down the middle of a bare wall: the film that it leaves, mil, and the run."""
    bed, middle = flow.Bed(wall), np.array([0.5 * wall.grid.width_in])
    runs = trails.sweep(bed, np.array([0.5]), middle, np.array([volume]), key=3)
    bare = np.zeros(wall.grid.shape, np.float32)
    load = runs.own[:, None] * wall.grid.ppi**2
    (film,), (off,) = trails.run_down(bed, [bare], runs, look, 3, load)
    return film, off, runs


def test_a_run_of_a_liquid_lays_all_of_it():
    """A run of 2 mil in2 that ends on the wall leaves 2 mil in2 of film, to 1e-6."""
    film, off, runs = _run(wetwalls.smooth(size=20.0), 2.0)
    assert runs.own.tolist() == [2.0]
    assert off == 0.0
    assert film.sum(dtype=np.float64) / 25.0**2 == pytest.approx(2.0, rel=1e-6)


def test_a_run_of_a_liquid_lays_what_its_head_loses():
    """From the third inch to the eighth it lays what its head loses there and what it was late with, to a tenth."""
    film, _, runs = _run(wetwalls.smooth(size=20.0), 4.0)
    rows = [round(inch * trails.RUN_PPI) for inch in (3.0, 8.0)]
    lost = np.subtract(*(runs.volume[row - runs.first[0]] for row in rows))
    laid = film[75:200].sum(dtype=np.float64) / 25.0**2
    assert lost < laid < 2.0 * lost


def test_its_foot_is_darkest():
    """Where it stops, the film is thicker than it is over the rest of the run."""
    film, _, runs = _run(wetwalls.smooth(size=20.0), 2.0)
    end = round(runs.last[0] / trails.RUN_PPI * 25)
    thickest = film.max(1)
    assert thickest[end - 14 : end + 2].max() > 1.3 * np.median(thickest[60 : end - 25])


def test_a_run_that_keeps_its_breadth_is_broader_below():
    """With ``keeps`` the lower half of a run is half as broad again as without, and both begin alike."""
    kept, plain = (_run(wetwalls.smooth(size=20.0), 2.0, replace(LOOK, keeps=k))[0] > 0 for k in (0.9, 0.0))
    end = int(np.flatnonzero(plain.any(1)).max())
    below = slice(3 * end // 4, end - 20)
    assert kept[below].sum() > 1.3 * plain[below].sum()
    assert kept[20:60].sum() < 1.3 * plain[20:60].sum()


def test_a_run_that_soaks_aside_is_a_wedge():
    """With ``spreads`` it begins as broad as without and is half as broad again in its lower half; it lays as much."""
    (plain, _, _), (wedge, _, _) = (
        _run(wetwalls.smooth(size=20.0), 2.0, replace(LOOK, keeps=0.9, spreads=one)) for one in (0.0, 3.0)
    )
    end = int(np.flatnonzero(plain.any(1)).max())
    wide, wider = ((film > 0).sum(1) for film in (plain, wedge))
    assert wider[3 * end // 4 : end - 20].mean() > 1.5 * wide[3 * end // 4 : end - 20].mean()
    assert wider[10:25].mean() < 1.3 * wide[10:25].mean()
    assert wedge.sum(dtype=np.float64) == pytest.approx(plain.sum(dtype=np.float64), rel=1e-6)


def test_runs_keep_to_older_channels():
    """Runs beside a wet stripe down an even, drier wall turn towards it, from the left and from the right."""
    wall = wetwalls.smooth(size=16.0, ppi=12.5, wet=0.2)
    wet = wall.wet.copy()
    wet[:, 90:110] = 0.8
    runs = [
        trails.sweep(flow.Bed(one), np.full(2, 0.5), np.array([6.9, 9.1]), np.full(2, 8.0), key=3)
        for one in (wall, wall.evolve(wet=wet))
    ]
    plain, drawn = (one.col[one.start + 25] for one in runs)
    assert drawn[0] > plain[0] + 0.1
    assert drawn[1] < plain[1] - 0.1


def test_a_picture_is_the_same_whatever_is_drawn_at_a_time(monkeypatch):
    """Runs drawn seven pixels at a time are those drawn all at once, to the bit; but for the rounding of the sum that
    makes rims one, which numpy adds in another order along a single line.
    """
    wall = wetwalls.smooth(size=10.0)
    runs = trails.sweep(flow.Bed(wall), np.full(5, 0.5), np.arange(5) * 2.0 + 0.9, np.full(5, 2.0), key=3)
    whole = trails.draw(runs, wall.grid, LOOK, 3)
    monkeypatch.setattr(trails, "_PART", 7)
    parts = trails.draw(runs, wall.grid, LOOK, 3)
    assert len(parts.sheaves) > len(whole.sheaves)
    order = [np.lexsort((one.cell, one.pixel)) for one in (whole, parts)]
    for name in ("pixel", "cell", "body"):
        assert np.array_equal(getattr(whole, name)[order[0]], getattr(parts, name)[order[1]])
    np.testing.assert_allclose(whole.rim[order[0]], parts.rim[order[1]], rtol=1e-6)


def test_what_a_run_draws_is_where_it_is_and_all_of_it():
    """Every line of pixels lies on the wall in one row, the rims of an entry weigh one in all, and so it is where a run
    is broader than the picture.
    """
    for cols in (1, 3, 40):
        bed = flow.Bed(Wall.bare(10.0, cols / 25.0, 25.0))
        runs = trails.sweep(bed, np.array([0.5]), np.array([cols / 50.0]), np.array([9.0]), key=3)
        tracks = trails.draw(runs, bed.grid, LOOK, 3)
        assert tracks.sheaves
        for one in tracks.sheaves:
            assert (one.pixel // cols == one.first // cols).all()
        assert np.bincount(tracks.cell, tracks.rim, runs.half.size) == pytest.approx(1.0, abs=1e-5)


def test_a_run_that_leaves_at_the_floor_is_not_cut_off_in_a_dark_block():
    """On a wall whose floor cuts the last row of runs the film is no thicker there than just above, to a third, and
    what would lie below leaves.
    """
    wall = wetwalls.smooth(size=10.0)
    assert (10.0 * trails.RUN_PPI) % 1.0 > 0.1  # a part of a row
    film, off, runs = _run(wall, 40.0)
    assert runs.off[0] > 0.0 and off > 0.0
    thickest = film.max(1)
    assert thickest[-2:].max() < 1.33 * thickest[-24:-8].max()
