"""Spread: colours are worked together and into hollows; what the towel takes up is booked."""

import numpy as np
import pytest
import wetwalls
from scipy import ndimage

from render.layers.spread import Spread
from render.wall import Stratum


def _two_halves(wall):
    """One colour on the left half, another on the right."""
    left = np.zeros(wall.grid.shape, np.float32)
    left[:, : wall.grid.cols // 2] = 3.0
    wall = wall.add(Stratum("left", "colour", left))
    return wall.add(Stratum("right", "colour", 3.0 - left))


def test_account_closes():
    """On the wall + removed = before for both colours, to 1e-6."""
    wall = wetwalls.lay(Spread(name="spread"), _two_halves(wetwalls.relief()))
    assert wetwalls.balance(wall) < 1e-6
    assert all(wall.ledger[n].removed > 0 for n in ("left", "right"))


def test_takes_nothing_if_told_so():
    """With ``takes`` 0 % every colour keeps its amount."""
    wall = wetwalls.lay(Spread(name="spread", takes="0 %"), _two_halves(wetwalls.relief()))
    assert abs(wall.ledger["left"].removed) < 1e-6 * wall.ledger["left"].added


def test_blends_across_the_border():
    """Colour from the left is found beyond the border, and fades with distance from it."""
    wall = wetwalls.lay(Spread(name="spread", blend="100 %"), _two_halves(wetwalls.smooth()))
    film = wall.stratum("left").film.mean(0)
    ppi, middle = 25, wall.grid.cols // 2
    near, far = film[middle + ppi], film[middle + 4 * ppi]
    assert near > 0.1 and near > 5 * far


def test_drift_makes_zones():
    """More drift, more difference between places two inches apart."""
    before = wetwalls.coloured(wetwalls.smooth(size=20.0, ppi=12.5), 3.0)
    spreads = []
    for drift in ("0 %", "100 %"):
        film = wetwalls.lay(Spread(name="spread", drift=drift), before).stratum("colour").film
        soft = ndimage.gaussian_filter(film, 0.7 * 12.5)
        spreads.append(soft.std() / soft.mean())
    assert spreads[1] > 2 * spreads[0]


def test_gathers_in_hollows():
    """More colour is left in hollows than on high places."""
    before = wetwalls.coloured(wetwalls.relief(size=14.0), 3.0)
    film = wetwalls.lay(Spread(name="spread", drift="0 %"), before).stratum("colour").film
    low, high = np.percentile(before.height, [20, 80])
    hollow = ndimage.gaussian_filter(before.height, 9) - before.height
    assert film[hollow > 2].mean() > 1.2 * film[hollow < -2].mean()
    assert low < high


def test_unknown_key_is_refused():
    """A key that is not there is an error that names it."""
    with pytest.raises(ValueError, match="strength"):
        Spread(name="spread", strength="10 %")
