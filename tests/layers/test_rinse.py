"""Rinse: water carries colour down, opens pale channels, and takes some of it off the wall."""

import numpy as np
import pytest
import wetwalls
from scipy import ndimage

from render.fields import Grid
from render.layers import rinse
from render.layers.rinse import Rinse
from render.seeds import Streams


def _rinse(**more):
    return Rinse(name="rinse", material="water", **{"dose": "0.5 fl oz/ft2", **more})


def test_account_closes():
    """Colour on the wall + run off = colour before, to 1e-6, and some ran off."""
    wall = wetwalls.lay(_rinse(), wetwalls.coloured(wetwalls.relief(size=16.0, ppi=12.5), 5.0))
    assert wetwalls.balance(wall) < 1e-6
    assert wall.ledger["colour"].run_off > 0


def test_carries_colour_down():
    """The middle of the colour on an evenly coloured wall is lower after the water."""
    before = wetwalls.coloured(wetwalls.smooth(size=20.0, ppi=12.5), 4.0)
    film = wetwalls.lay(_rinse(), before).stratum("colour").film
    rows = before.grid.row_in
    assert (film.sum(1) @ rows) / film.sum() > 10.0


def test_opens_pale_channels_that_stand_upright():
    """The film varies more across the wall than down it: channels."""
    before = wetwalls.coloured(wetwalls.smooth(size=20.0, ppi=12.5), 4.0)
    film = wetwalls.lay(_rinse(coverage="50 %"), before).stratum("colour").film
    across, down = np.abs(np.diff(film, axis=1)).mean(), np.abs(np.diff(film, axis=0)).mean()
    assert across > 1.5 * down
    assert np.percentile(film, 2) < 3.0


def test_fixed_colour_stays():
    """What has set is not moved: no pixel falls below its fixed film."""
    before = wetwalls.coloured(wetwalls.smooth(size=12.0, ppi=12.5), 4.0, fixed=3.0)
    film = wetwalls.lay(_rinse(), before).stratum("colour").film
    assert film.min() > 3.0 * (1 - 1e-3)


def test_wets_the_wall():
    """Where the water went the wall is wetter, nowhere drier."""
    wall = wetwalls.smooth(size=12.0, ppi=12.5, wet=0.1)
    after = wetwalls.lay(_rinse(), wall)
    assert (after.wet >= wall.wet).all() and after.wet.mean() > 0.12


def test_no_colour_no_change():
    """On a wall without colour nothing is there to move."""
    wall = wetwalls.smooth(size=6.0, ppi=12.5)
    assert wetwalls.lay(_rinse(), wall).strata == ()


def test_words():
    """The list says what was done."""
    assert _rinse(how="thrown").words() == "water thrown on the wet glaze"
    with pytest.raises(ValueError, match="how"):
        _rinse(how="poured")


def test_states_the_share_that_it_thinned():
    """More water asked over more of the wall thins more of it, and never more than was asked and a tenth."""
    before = wetwalls.coloured(wetwalls.smooth(size=24.0, ppi=12.5), 4.0)
    shares = []
    for asked in (0.10, 0.25, 0.50):
        layer = _rinse(coverage=f"{100 * asked} %")
        shares.append(layer.achieved(before, wetwalls.lay(layer, before)))
        assert shares[-1] < asked + 0.1
    assert 0.05 < shares[0] < shares[1] < shares[2]


def test_channels_are_clean_and_far_apart_in_width():
    """On an even glaze the cleanest hundredth of the wall has lost four fifths of its colour, and channels a foot down
    are of many widths: the widest tenth at least four times the narrowest.
    """
    widths, least = [], []
    for pour in range(3):
        wall = wetwalls.coloured(wetwalls.smooth(size=24.0), 4.0)
        film = wetwalls.lay(_rinse(), wall, pour).stratum("colour").film
        least.append(np.percentile(film, 1))
        pale = ndimage.label(film[12 * 25 :] < 2.4, [[0, 0, 0], [1, 1, 1], [0, 0, 0]])[0]
        widths.append(np.bincount(pale.ravel())[1:])
    narrow, wide = np.quantile(np.concatenate(widths), [0.1, 0.9])
    assert np.mean(least) < 0.8
    assert wide >= 4 * narrow


def test_a_channel_is_a_wedge():
    """Below one hit of water its sheet is half as wide again five inches down as one inch down, on the mean of ten
    pours, where it is over half as strong as in its middle.
    """
    wet, wide = Grid.over(24.0, 24.0, 6.25), []
    hit = np.array([[2.0, 12.0, 4.0, 0.5]])
    for pour in range(10):
        sheet = rinse._sheet(wet, hit, Streams(pour, "rinse"), 0.06, 1.0)
        rows = [sheet[round((2.0 + inch) * 6.25)] for inch in (1.0, 5.0)]
        wide.append([np.count_nonzero(row > 0.5 * row.max()) for row in rows])
    narrow, broad = np.mean(wide, 0)
    assert broad >= 1.5 * narrow


def test_what_water_carries_lies_where_it_gives_out():
    """Of a sheet that is even down to a third of the wall and gone below, the inch and a half below its end takes
    five times as much of what it carries as a place on its way; below that it lays as on its way.
    """
    hand = rinse._Hand(_rinse(), Grid.over(24.0, 12.0, 12.5), Streams(1, "rinse"))
    sheet = np.zeros(hand.grid.at(6.25).shape, np.float32)
    sheet[:50] = 0.2
    hand.__dict__["sheet"] = sheet
    lays = hand.lays
    assert np.all(lays[52:58] == pytest.approx(0.25 + 0.2 * rinse._TOES))
    assert np.all(lays[:50] == 0.25) and np.all(lays[62:] == 0.25)
