"""Mist: wetness from the dose, and what it does to a glaze."""

import numpy as np
import pytest
import wetwalls

from render.layers.glaze import Glaze
from render.layers.mist import Mist


def _mist(dose="0.1 fl oz/ft2", **more):
    return Mist(name="mist", material="water", dose=dose, **more)


def test_wetness_by_hand():
    """.1 fl oz/ft2 is 1.253 mil of water: an unthirsty wall is 1 - exp(-1.253 / 1.2) = .648 wet on the
    mean.
    """
    wall = wetwalls.lay(_mist(), wetwalls.smooth(wet=0.0, thirst=0.0, size=24.0, ppi=12.5))
    assert float(wall.wet.mean()) == pytest.approx(0.648, abs=0.05)


def test_more_water_is_wetter_and_thirst_drinks():
    """Wetness rises with the dose and falls with the wall's thirst; it stays within 0 to 1."""
    base = wetwalls.smooth(wet=0.0)
    little, much = (wetwalls.lay(_mist(d), base).wet for d in ("0.05 fl oz/ft2", "0.2 fl oz/ft2"))
    thirsty = wetwalls.lay(_mist("0.05 fl oz/ft2"), wetwalls.smooth(wet=0.0, thirst=0.9)).wet
    assert (much > little).all() and (thirsty < little).all()
    assert float(much.max()) <= 1


def test_covers_the_share_asked():
    """Half a wall misted is half a wall wetter, within a point."""
    wall = wetwalls.smooth(wet=0.0)
    layer = _mist(coverage="50 %")
    assert layer.achieved(wall, wetwalls.lay(layer, wall)) == pytest.approx(0.5, abs=0.03)


def test_a_misted_wall_lets_a_glaze_run_off():
    """The same flood loses more at the floor of a misted wall than of a dry one, three hands together."""
    dry = wetwalls.relief(size=16.0, ppi=12.5, wet=0.0)
    misted = wetwalls.lay(_mist(), dry)
    glazes = [Glaze(name=f"glaze {hand}", spread="250 ft2/gal", **wetwalls.TINT) for hand in range(3)]
    off = [sum(wetwalls.lay(one, wall).ledger[one.name].run_off for one in glazes) for wall in (dry, misted)]
    assert off[1] > 1.05 * off[0]


def test_moves_no_material():
    """Water moves no colour: the strata are the same objects."""
    wall = wetwalls.coloured(wetwalls.smooth(wet=0.0))
    assert wetwalls.lay(_mist(), wall).strata == wall.strata
    assert np.array_equal(wetwalls.lay(_mist(), wall).height, wall.height)
