"""Glaze: its volume, coverage and account, absorbency, crevices, ledges and the same picture at any
resolution.
"""

import numpy as np
import pytest
import wetwalls
from hypothesis import example, given, settings
from hypothesis import strategies as st
from scipy import ndimage

from render.fields import Grid, resample
from render.layers.glaze import Glaze


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
