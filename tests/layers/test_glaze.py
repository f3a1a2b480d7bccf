"""Glaze: its volume, coverage and account, absorbency, crevices, ledges and the same picture at any
resolution.
"""

from types import SimpleNamespace

import numpy as np
import pytest
import wetwalls
from hypothesis import example, given, settings
from hypothesis import strategies as st
from scipy import ndimage

from render import flow, trails
from render.fields import Grid, resample
from render.layers import glaze
from render.layers.glaze import Glaze
from render.seeds import Streams


def _glaze(**more):
    return Glaze(name="glaze", **{"spread": "250 ft2/gal", **wetwalls.TINT, **more})


@settings(max_examples=12, deadline=None)
@given(
    method=st.sampled_from(["flooded", "brushed", "sprayed"]),
    body=st.sampled_from(["watery", "thin", "creamy", "stiff"]),
    spread=st.integers(60, 1500),
    coverage=st.integers(2, 100),
)
@example("sprayed", "watery", 66, 2)
@example("flooded", "watery", 60, 2)
@example("brushed", "stiff", 60, 100)
def test_account_and_coverage(method, body, spread, coverage):
    """Added is the volume asked for, the account closes to 1e-6, and the film covers the share asked to
    half a point.
    """
    layer = _glaze(method=method, body=body, spread=f"{spread} ft2/gal", coverage=f"{coverage} %")
    before = wetwalls.relief(size=8.0, ppi=12.5)
    wall = wetwalls.lay(layer, before)
    entry = wall.ledger["glaze"]
    assert entry.added == pytest.approx(layer.amounts(before.area_ft2).mixed.likely, rel=1e-6)
    assert wetwalls.balance(wall) < 1e-6
    assert layer.achieved(before, wall) == pytest.approx(coverage / 100, abs=0.005)
    assert entry.removed == 0


def test_thick_thin_glaze_runs_off_and_a_lean_stiff_one_does_not():
    """A heavy watery flood leaves the wall at the floor; a lean stiff glaze stays but for half a
    hundredth.
    """
    wall = wetwalls.smooth(size=12.0, ppi=12.5)
    flood = wetwalls.lay(_glaze(body="watery", spread="120 ft2/gal"), wall).ledger["glaze"]
    lean = wetwalls.lay(_glaze(body="stiff", spread="900 ft2/gal"), wall).ledger["glaze"]
    assert flood.run_off > 0.05 * flood.added
    assert lean.run_off < 5e-3 * lean.added


def test_thirsty_wall_fixes_more():
    """More of the film is fixed on a thirsty wall than on a sealed one."""
    fixed = [wetwalls.lay(_glaze(), wetwalls.smooth(thirst=t)).strata[0].fixed.mean() for t in (0.05, 0.8)]
    assert fixed[1] > 2 * fixed[0]


def test_collects_in_cracks():
    """In a crack lies more colour than on the wall beside it."""
    wall = wetwalls.smooth(size=12.0)
    cracks = np.zeros(wall.grid.shape, np.float32)
    cracks[:, 150:152] = 1.0
    film = wetwalls.lay(_glaze(), wall.evolve(cracks=cracks)).strata[0].film
    assert film[:, 150:152].mean() > 1.4 * film[:, 140:148].mean()


def test_ledge_holds_more_than_the_wall_above():
    """Over several pours a ledge holds more film than the wall above it."""
    wall = wetwalls.ledge(size=14.0, ppi=12.5)
    rows = wall.grid.row_in
    ratio = []
    for pour in range(6):
        film = wetwalls.lay(_glaze(uneven="20 %"), wall, pour).strata[0].film
        ratio.append(film[(rows > 6.4) & (rows < 7.1)].mean() / film[(rows > 3.5) & (rows < 6)].mean())
    assert np.mean(ratio) > 1.1


def test_same_wall_at_25_and_50():
    """At half an inch of blur the film at 25 px/in is the film at 50 px/in to 1 % of its mean."""
    films = []
    for ppi in (25.0, 50.0):
        wall = wetwalls.lay(_glaze(coverage="92 %"), wetwalls.relief(size=10.0, ppi=ppi))
        coarse = resample(wall.strata[0].film, wall.grid, Grid.over(10.0, 10.0, 12.5)).astype(float)
        films.append(ndimage.gaussian_filter(coarse, 0.5 * 12.5, mode="nearest"))
    assert np.abs(films[0] - films[1]).mean() < 0.01 * films[1].mean()
    assert np.abs(films[0] - films[1]).max() < 0.05 * films[1].mean()


def test_same_pour_same_film_and_another_name_another():
    """The same name and pour give the same bytes; another name is another hand."""
    wall = wetwalls.relief(size=6.0, ppi=12.5)
    one, two = (wetwalls.lay(_glaze(), wall).strata[0].film for _ in range(2))
    other = wetwalls.lay(_glaze().model_copy(update={"name": "second"}), wall).strata[0].film
    assert np.array_equal(one, two)
    assert abs(np.corrcoef(one.ravel(), other.ravel())[0, 1]) < 0.8


def test_stain_goes_from_veil_to_deep_within_a_foot():
    """On an even wall the film, seen at an inch, is twice as thick in one place as in another within a foot."""
    film = wetwalls.lay(_glaze(), wetwalls.smooth(size=24.0, ppi=12.5)).stratum("glaze").film
    seen = ndimage.gaussian_filter(film, 12.5)[15:-15, 15:-15]
    high, low = ndimage.maximum_filter(seen, 150), ndimage.minimum_filter(seen, 150)
    assert np.median(high / low) > 2


def test_misses_are_no_pepper():
    """Of a glaze that misses a tenth, four fifths of the missed wall lies in misses larger than a quarter square
    inch.
    """
    film = wetwalls.lay(_glaze(coverage="90 %"), wetwalls.relief(size=20.0)).stratum("glaze").film
    label, _ = ndimage.label(film == 0)
    sizes = np.bincount(label.ravel())[1:]
    assert sizes[sizes > 0.25 * 25**2].sum() > 0.8 * sizes.sum()


def _runs(layer, wall, pour=1):
    """A film of 4 mil on the upper half of the sag lattice, the runs that it lets go, and what they draw of it."""
    bed, hand = flow.Bed(wall, 1), glaze._Hand(layer, wall.grid, Streams(pour, layer.name))
    coarse = flow.sag_lattice(wall.grid)
    film = np.full(coarse.shape, 4.0, np.float32)
    film[coarse.rows // 2 :] = 0.0
    return (film, *glaze._gathered(bed, film, hand))


def test_runs_take_their_volume_from_where_they_start():
    """What runs set out with is what they draw of the film, to 1e-5; nothing is drawn where there is no film, and
    nowhere more than the share that goes by runs.
    """
    film, runs, drawn = _runs(_glaze(), wetwalls.smooth(size=24.0, ppi=12.5))
    assert runs.own.sum() == pytest.approx(drawn.sum(dtype=np.float64) / 3.125**2, rel=1e-5)
    assert runs.own.sum() > 15.0
    assert not drawn[film == 0].any()
    assert (drawn <= 0.61 * film).all()


def test_runs_set_out_at_the_lower_rim():
    """Of a film that ends half-way down the wall, over a fifth of the runs' volume is from its last tenth, on the
    mean of a dozen pours: twice what lies there.
    """
    share = []
    for pour in range(12):
        _, runs, _ = _runs(_glaze(), wetwalls.smooth(size=24.0, ppi=12.5), pour)
        share.append(runs.own[runs.first >= 10.8 * trails.RUN_PPI].sum() / runs.own.sum())
    assert np.mean(share) > 0.2


def test_a_flooded_glaze_runs_and_a_thin_brushed_one_does_not():
    """Down a pale wall below a flooded glaze lie runs of many widths and lengths; a thin creamy coat brushed on has
    none worth naming: less than a thousandth of it.
    """
    wall = wetwalls.smooth(size=24.0, ppi=12.5)
    swept = []

    def sweep(*args, **kwargs):
        swept.append(trails.sweep(*args, **kwargs))
        return swept[-1]

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(glaze, "trails", SimpleNamespace(sweep=sweep, run_down=trails.run_down, strays=trails.strays))
        wetwalls.lay(_glaze(body="watery", spread="180 ft2/gal"), wall)
        wetwalls.lay(_glaze(method="brushed", body="creamy", spread="620 ft2/gal"), wall)
    flooded, brushed = swept
    length = (flooded.last - flooded.first) * flooded.step
    assert flooded.own.sum() > 0.3 * 24.0**2  # mil in2: three tenths of a mil on the mean
    assert np.quantile(length, 0.9) > 3 * np.quantile(length[length > 0], 0.25)
    assert np.quantile(flooded.half, 0.95) > 2.5 * np.quantile(flooded.half, 0.05)
    assert brushed.own.sum() < 1e-3 * 620.0**-1 * 1604.0 * 24.0**2  # 1604 ft2/gal is a film of a mil


def test_a_watery_run_is_a_soft_wedge_and_no_thread():
    """Across what runs lay of a watery flood nothing changes by more than a third of its most from one fiftieth of an
    inch to the next; a thin one's runs have sharper sides.
    """
    wall, steep = wetwalls.smooth(size=20.0, ppi=50.0), []
    bed, middle = flow.Bed(wall), (np.array([0.5]), np.array([10.0]), np.array([6.0]))
    for law, look in ((way.law, way.look) for way in (glaze._WEDGES, glaze._THREADS)):
        runs = trails.sweep(bed, *middle, law=law, key=3)
        bare, load = np.zeros(wall.grid.shape, np.float32), runs.own[:, None] * wall.grid.ppi**2
        (film,), _ = trails.run_down(bed, [bare], runs, look, 3, load)
        on = film[100:250].max(1) > 0
        steep.append(float(np.mean(np.abs(np.diff(film[100:250], axis=1)).max(1)[on] / film[100:250].max(1)[on])))
    assert steep[0] < 0.34 and steep[1] > 1.5 * steep[0]
