"""Sealer: clear, sets colour, closes the surface."""

import numpy as np
import pytest
import wetwalls

from render.layers.sealer import Sealer
from render.layers.wipe_back import WipeBack
from render.physics import optics


def _sealer(**more):
    return Sealer(name="sealer", material="clear sealer", **more)


def test_account_and_volume():
    """Added is the volume asked for and the account closes, to 1e-6."""
    layer, wall = _sealer(), wetwalls.smooth()
    after = wetwalls.lay(layer, wall)
    assert after.ledger["sealer"].added == pytest.approx(layer.amounts(wall.area_ft2).mixed.likely, rel=1e-6)
    assert wetwalls.balance(after) < 1e-6


def test_covers_the_share_asked():
    """It covers the share asked to half a point."""
    layer, wall = _sealer(coverage="40 %"), wetwalls.smooth()
    assert layer.achieved(wall, wetwalls.lay(layer, wall)) == pytest.approx(0.4, abs=0.005)


def test_sets_the_colour_beneath():
    """Sealed colour cannot be wiped off any more."""
    wall = wetwalls.lay(_sealer(), wetwalls.coloured(wetwalls.smooth(), 3.0))
    after = wetwalls.lay(WipeBack(name="wipe"), wall)
    assert np.array_equal(after.stratum("colour").film, wall.stratum("colour").film)


def test_closes_the_surface():
    """Thirst is the sealer's, the wall is dry, the sheen no less than before."""
    before = wetwalls.smooth()
    wall = wetwalls.lay(_sealer(), before)
    assert float(wall.thirst.max()) <= _sealer().material.absorbency + 1e-6
    assert float(wall.wet.max()) == 0
    assert (wall.sheen >= before.sheen).all()


def test_is_clear():
    """Its film over any ground leaves the ground's reflectance as it was, to 1e-3."""
    k, s = _sealer().optics()
    ground = np.full(k.shape, 0.3)
    assert optics.over(*optics.layer(k, s, 4.0), ground) == pytest.approx(ground, abs=1e-3)
