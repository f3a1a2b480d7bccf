"""Dab: lifts soft colour over the share asked and leaves dark rims."""

import numpy as np
import pytest
import wetwalls

from render.layers.dab import Dab
from render.wall import Stratum


def test_touches_the_share_asked():
    """The share touched is the share asked, within two points."""
    layer = Dab(name="dab", coverage="30 %")
    before = wetwalls.coloured(wetwalls.smooth(size=12.0), 3.0)
    assert layer.achieved(before, wetwalls.lay(layer, before)) == pytest.approx(0.3, abs=0.02)


def test_account_closes():
    """On the wall + removed = before, to 1e-6, and something was taken."""
    wall = wetwalls.lay(Dab(name="dab"), wetwalls.coloured(wetwalls.relief(), 3.0))
    assert wetwalls.balance(wall) < 1e-6
    assert wall.ledger["colour"].removed > 0


def test_rims_stay():
    """A narrow dark line keeps a larger share of its colour than the wall beside it."""
    wall = wetwalls.smooth(size=8.0)
    film = np.full(wall.grid.shape, 2.0, np.float32)
    film[:, 99:101] = 5.0
    before = wall.add(Stratum("colour", "colour", film))
    after = wetwalls.lay(Dab(name="dab", coverage="100 %"), before).stratum("colour").film
    kept = (after / film).mean(0)
    assert kept[99:101].mean() > 1.15 * kept[60:90].mean()


def test_cloth_leaves_a_texture():
    """Within a dab the lift varies by the folds of the cloth: by more than a tenth of its mean."""
    before = wetwalls.coloured(wetwalls.smooth(size=8.0), 3.0)
    lifted = 3.0 - wetwalls.lay(Dab(name="dab", coverage="100 %"), before).stratum("colour").film
    assert lifted.std() > 0.1 * lifted.mean()
