"""Streak: starts in corners and joints, runs down, fades, and keeps its account."""

import numpy as np
import pytest
import wetwalls

from render.layers.streak import Streak


def _streak(**more):
    return Streak(name="streak", **{"spread": "6000 ft2/gal", **wetwalls.TINT, **more})


def test_account_and_volume():
    """Added is the volume asked for and the account closes, to 1e-6."""
    layer, wall = _streak(), wetwalls.relief(size=20.0, ppi=12.5)
    after = wetwalls.lay(layer, wall)
    assert after.ledger["streak"].added == pytest.approx(layer.amounts(wall.area_ft2).mixed.likely, rel=1e-6)
    assert wetwalls.balance(after) < 1e-6


def test_corners_hold_it():
    """Streaks from corners lie within reach of the sides and the top: four fifths of them."""
    wall = wetwalls.smooth(size=40.0, ppi=12.5)
    film = wetwalls.lay(_streak(where="corners"), wall).stratum("streak").film
    col, row = wall.grid.col_in[None, :], wall.grid.row_in[:, None]
    near = (np.minimum(col, 40.0 - col) < 5.0) | (row < 8.0)
    assert film[near].sum() > 0.8 * film.sum()
    assert near.mean() < 0.5


def test_joints_start_streaks():
    """Below a crack there is more colour than above it."""
    wall = wetwalls.smooth(size=24.0, ppi=12.5)
    cracks = np.zeros(wall.grid.shape, np.float32)
    cracks[100:102, 60:240] = 1.0
    film = wetwalls.lay(_streak(where="joints"), wall.evolve(cracks=cracks)).stratum("streak").film
    assert film[104:200].sum() > 4 * film[:95].sum()


def test_streaks_stand_upright():
    """The film varies more across the wall than down it."""
    film = wetwalls.lay(_streak(), wetwalls.smooth(size=24.0, ppi=12.5)).stratum("streak").film
    assert np.abs(np.diff(film, axis=1)).mean() > 2 * np.abs(np.diff(film, axis=0)).mean()


def test_asks_for_no_coverage():
    """A streak has no coverage to achieve."""
    wall = wetwalls.smooth(size=6.0, ppi=12.5)
    layer = _streak()
    assert layer.asked is None and layer.achieved(wall, wetwalls.lay(layer, wall)) is None


def test_few_and_uneven():
    """From corners come few streaks, of very different strength: half the colour on a 4 ft wall lies in a tenth of
    the bands of an inch along its two sides.
    """
    wall = wetwalls.smooth(size=48.0, ppi=12.5)
    film = wetwalls.lay(_streak(where="corners"), wall, pour=2).stratum("streak").film
    near = np.concatenate([film[100:, :62], film[100:, -62:]]).reshape(1000, -1)
    bands = np.sort(near.sum(1))[::-1]
    assert bands[:350].sum() > 0.6 * bands.sum()


def test_more_than_the_wall_can_hold_goes_to_the_floor():
    """However much is poured, no more than 2.2 mil hangs on the wall; the rest is booked as run off."""
    wall = wetwalls.lay(_streak(spread="60 ft2/gal"), wetwalls.smooth(size=12.0, ppi=12.5))
    assert wall.stratum("streak").film.max() < 2.21
    assert wall.ledger["streak"].run_off > 0.5 * wall.ledger["streak"].added
    assert wetwalls.balance(wall) < 1e-6


def test_relief_turns_streaks():
    """On a wall that rises to the right over its whole width streaks drift left as they come down."""
    flat = wetwalls.smooth(size=24.0, ppi=12.5)
    slope = np.broadcast_to(120.0 * flat.grid.col_in[None, :], flat.grid.shape).astype(np.float32)
    cracks = np.zeros(flat.grid.shape, np.float32)
    cracks[50:52, 100:200] = 1.0
    middle = []
    for height in (flat.height, slope):
        wall = flat.evolve(height=height, cracks=cracks)
        film = wetwalls.lay(_streak(where="joints"), wall).stratum("streak").film[60:]
        middle.append(float((film.sum(0) @ flat.grid.col_in) / film.sum()))
    assert middle[1] < middle[0] - 0.4
