"""Alcohol: opens the share asked, keeps every colour's amount, works on wet colour alone."""

import numpy as np
import pytest
import wetwalls

from render import droplets, fields
from render.layers.alcohol import Alcohol


def _alcohol(**more):
    return Alcohol(name="alcohol", material="isopropyl alcohol", **{"dose": "0.05 fl oz/ft2", **more})


@pytest.mark.parametrize("how", ["flicked", "poured"])
def test_account_closes_and_little_leaves(how):
    """Colour is moved about and hardly any leaves, by runs at the floor: the account closes to 1e-6."""
    leaves = []
    for pour in range(4):
        wall = wetwalls.lay(_alcohol(how=how), wetwalls.coloured(wetwalls.relief(), 3.0), pour)
        entry = wall.ledger["colour"]
        assert wetwalls.balance(wall) < 1e-6
        assert entry.removed == 0
        leaves.append(entry.run_off / entry.added)
    assert np.mean(leaves) < 0.01


def test_poured_alcohol_starts_more_runs():
    """Poured, it carries more colour down than flicked: the middle of the colour lies lower."""
    before = wetwalls.coloured(wetwalls.smooth(size=24.0, ppi=12.5), 3.0)
    lower = []
    for how in ("flicked", "poured"):
        film = wetwalls.lay(_alcohol(how=how, coverage="12 %"), before).stratum("colour").film
        lower.append((film.sum(1) @ before.grid.row_in) / film.sum())
    assert lower[1] > lower[0]


@pytest.mark.parametrize("share", [0.04, 0.10, 0.25])
def test_opens_the_share_asked(share):
    """The share of the wall that became thinner is what was asked, within a sixth of it and a point."""
    layer = _alcohol(coverage=f"{100 * share} %")
    before = wetwalls.coloured(wetwalls.smooth(size=24.0, ppi=12.5), 3.0)
    assert layer.achieved(before, wetwalls.lay(layer, before)) == pytest.approx(share, abs=0.01 + share / 6)


def test_pale_cores_and_dark_rims():
    """On an even film spots leave some wall much paler and some darker than it was."""
    film = wetwalls.lay(_alcohol(), wetwalls.coloured(wetwalls.smooth(size=14.0), 3.0)).stratum("colour").film
    assert (film < 1.8).mean() > 0.01
    assert (film > 3.6).mean() > 0.01


def test_dry_colour_does_not_open():
    """Where all of the colour is fixed nothing happens."""
    before = wetwalls.coloured(wetwalls.smooth(), 3.0, fixed=3.0)
    film = wetwalls.lay(_alcohol(), before).stratum("colour").film
    assert film == pytest.approx(np.full_like(film, 3.0), rel=1e-6)


def test_none_asked_none_opened():
    """At 0 % the films stay as they were."""
    before = wetwalls.coloured(wetwalls.smooth(), 3.0)
    layer = _alcohol(coverage="0 %")
    assert layer.achieved(before, wetwalls.lay(layer, before)) == 0


def test_spots_have_many_sizes():
    """Opened areas range over more than a factor of thirty: fine flecks as well as large spots."""
    from scipy import ndimage

    film = wetwalls.lay(_alcohol(), wetwalls.coloured(wetwalls.smooth(size=24.0), 3.0)).stratum("colour").film
    label, count = ndimage.label(film < 2.4)
    sizes = np.bincount(label.ravel())[1:]
    assert count > 20
    assert sizes.max() > 30 * np.median(sizes)


def test_no_spot_within_a_spot():
    """A drop that falls within a larger one opens nothing of its own."""
    grid = fields.Grid.over(4.0, 4.0, 12.5)
    n = np.arange(3)
    drops = droplets.Drops(np.array([2.0, 2.1, 3.6]), np.array([2.0, 2.2, 0.4]), np.array([0.8, 0.2, 0.2]), 0.0 * n,
                           n.astype(np.uint64))  # fmt: skip
    assert droplets.swallowed(grid, drops).tolist() == [False, True, False]
