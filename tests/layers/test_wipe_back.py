"""Wipe back: touches the share asked, takes more from high than from low, books what the towel took."""

import numpy as np
import pytest
import wetwalls

from render import flow
from render.layers import wipe_back
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


def test_a_full_wipe_leaves_colour_in_recesses_alone():
    """At 100 % the highest third is clean of what can move, but for the rim of the wipe; the deepest keeps colour."""
    before = wetwalls.coloured(wetwalls.relief(size=14.0), 3.0, fixed=0.5)
    film = wetwalls.lay(WipeBack(name="wipe", coverage="100 %", pressure="100 %"), before).stratum("colour").film
    hollow = flow.Bed(before).relief.deep
    low, high = np.percentile(hollow, [33, 95])
    assert np.mean(film[hollow < low] < 0.5 + 1e-4) > 0.99
    assert film[hollow > high].mean() > 1.2


@pytest.mark.parametrize("share", [0.4, 0.75, 0.9])
def test_pressure_is_what_comes_off_a_high_place(share):
    """On the highest third no more than the share asked comes off, and half of it at least: folds press unevenly."""
    before = wetwalls.coloured(wetwalls.relief(size=14.0), 3.0)
    layer = WipeBack(name="wipe", coverage="100 %", pressure=f"{100 * share} %")
    hollow = flow.Bed(before).relief.deep
    high = hollow < np.percentile(hollow, 33)
    lifted = 1.0 - wetwalls.lay(layer, before).stratum("colour").film[high] / 3.0
    assert 0.5 * share < lifted.mean() < share
    assert np.percentile(lifted, 99) < share + 0.12  # the weave of the cloth: a tenth, by two deviations


def test_a_rag_goes_into_hollows_and_leaves_cracks():
    """A bowl half an inch wide and 4 mil deep is wiped clean, a crack as deep keeps its colour to its lips; a towel
    leaves both.
    """
    wall = wetwalls.smooth(8.0, 50.0)
    row, col = wall.grid.row_in[:, None], wall.grid.col_in[None, :]
    bowl = np.clip(1.0 - ((row - 4.0) ** 2 + (col - 2.0) ** 2) / 0.25**2, 0.0, 1.0)
    crack = (np.abs(col - 6.0) < 0.03) & (row > 0)
    wall = wetwalls.coloured(wall.evolve(height=(20.0 - 5.0 * bowl - 18.0 * crack).astype(np.float32)), 3.0)
    rag, towel = (wetwalls.lay(WipeBack(name="wipe", coverage="100 %", pressure="100 %", cloth=cloth), wall)
                  .stratum("colour").film for cloth in ("rag", "towel"))  # fmt: skip
    inner, bottom = bowl > 0.3, crack & (np.abs(row - 4.0) < 3.0)
    beside = ~crack & (np.abs(col - 6.0) < 0.1) & (np.abs(row - 4.0) < 3.0)
    assert rag[inner].mean() < 0.1 < towel[inner].mean()
    assert rag[bottom].mean() > 1.5 and towel[bottom].mean() > 1.5
    assert rag[beside].mean() < 0.1


@pytest.mark.parametrize("radius", [3.0, 9.0])
def test_a_rag_over_a_slot_by_hand(radius):
    """Over a deep slot it sags by half the width squared over twice the radius, and lies on the rest of the wall."""
    ppi, half = 25.0, 0.15
    cols = np.arange(101) / ppi - 2.0
    height = np.tile(np.where(np.abs(cols) < half, -500.0, 0.0), (9, 1)).astype(np.float32)
    lies = wipe_back._rag(height, ppi, (3.0 / radius) ** 0.25)
    assert lies[4, 50] == lies[4].min() == pytest.approx(-500.0 * 0.16**2 / radius, rel=1e-3)
    assert np.all(lies[:, np.abs(cols) > half] == 0.0)


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
