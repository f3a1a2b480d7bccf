"""Wipe back: touches the share asked, takes more from high than from low, books what the towel took."""

import numpy as np
import pytest
import wetwalls

from render.layers.wipe_back import WipeBack


@pytest.mark.parametrize("share", [0.25, 0.5, 0.8])
def test_touches_the_share_asked(share):
    """A wipe of 50 % touches 50 +- 2 % of the wall (and others alike)."""
    layer = WipeBack(name="wipe", coverage=f"{100 * share} %")
    before = wetwalls.coloured(wetwalls.relief(size=12.0), 3.0)
    assert layer.achieved(before, wetwalls.lay(layer, before)) == pytest.approx(share, abs=0.02)


def test_lifts_more_from_high_than_from_low():
    """Of the highest third more comes off than of the lowest third."""
    before = wetwalls.coloured(wetwalls.relief(size=14.0), 3.0)
    film = wetwalls.lay(WipeBack(name="wipe", coverage="100 %"), before).stratum("colour").film
    low, high = np.percentile(before.height, [33, 67])
    lifted = 3.0 - film
    assert lifted[before.height > high].mean() > 1.3 * lifted[before.height < low].mean()


def test_account_closes():
    """On the wall + removed = before, to 1e-6; the towel took something and nothing ran off."""
    wall = wetwalls.lay(WipeBack(name="wipe"), wetwalls.coloured(wetwalls.relief(), 3.0))
    assert wetwalls.balance(wall) < 1e-6
    assert wall.ledger["colour"].removed > 0
    assert abs(wall.ledger["colour"].run_off) < 1e-7 * wall.ledger["colour"].added


def test_pressure_takes_more():
    """A harder wipe takes more."""
    before = wetwalls.coloured(wetwalls.relief(), 3.0)
    soft, hard = (
        wetwalls.lay(WipeBack(name="wipe", pressure=p), before).ledger["colour"].removed for p in ("30 %", "90 %")
    )
    assert hard > 2 * soft


def test_only_the_colours_named():
    """A colour that is not named stays as it was."""
    before = wetwalls.coloured(wetwalls.coloured(wetwalls.relief(), 3.0), 1.0, name="second")
    after = wetwalls.lay(WipeBack(name="wipe", of=("second",)), before)
    assert after.stratum("colour").film is before.stratum("colour").film
    assert after.ledger["second"].removed > 0


def test_fixed_colour_stays():
    """What has set does not come off."""
    before = wetwalls.coloured(wetwalls.relief(), 3.0, fixed=3.0)
    assert abs(wetwalls.lay(WipeBack(name="wipe"), before).ledger["colour"].removed) < 1e-12
