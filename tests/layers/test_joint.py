"""Joints tooled into plaster."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from render import bond
from render.bond import Bond
from render.finish import read
from render.pipeline import Site, build
from render.wall import Wall

SITE = Site(26.0, 26.0, 25.0, 4)
COAT = {"kind": "plaster_coat", "name": "coat", "material": "stone plaster", "spread": "40 ft2/gal", "ridge": "0 mil"}


def struck(**more: Any) -> tuple[Wall, Wall]:
    """A full plaster coat before and after joints were struck."""
    joint = {"kind": "joint", "name": "joints", "wander": "0 in", "crumble": "0 %", "shade": "0 %", **more}
    built = build(read({"name": "t", "layer": [COAT, joint]}), SITE, keep_walls=True)
    return built.walls[0], built.walls[1]


def test_the_groove_is_as_deep_and_wide_as_asked() -> None:
    """A square joint 1/2 in wide and 20 mil deep takes its cross-section times its length, to 15 %."""
    before, after = struck(width="1/2 in", depth="20 mil", profile="square")
    lost = float(np.mean(before.height - after.height, dtype=np.float64))
    assert lost == pytest.approx(20.0 * bond.share(Bond(12.0, 24.0), 0.5), rel=0.2)
    middle = bond.draw(after.grid, Bond(12.0, 24.0, "running", 0.0), SITE.pour).away < 0.08
    assert float(np.mean((before.height - after.height)[middle])) == pytest.approx(20.0, rel=0.15)


def test_faces_keep_their_height() -> None:
    """Away from the lines nothing is cut, and nothing is raised anywhere."""
    before, after = struck()
    away = bond.draw(after.grid, Bond(12.0, 24.0, "running", 0.0), SITE.pour).away
    assert np.array_equal(before.height[away > 0.4], after.height[away > 0.4])
    assert np.all(after.height <= before.height)


def test_an_iron_does_not_strike_through() -> None:
    """However deep is asked, some of what was laid stays under the joint, and what came out is booked as removed."""
    before, after = struck(depth="2000 mil", width="1/2 in")
    assert float(after.stratum("coat").film.min()) > 0
    entry = after.ledger["coat"]
    assert entry.removed == pytest.approx(before.gallons(before.height - after.height), rel=1e-5)


def test_crumbling_widens_and_blocks_differ() -> None:
    """More crumbling takes more off beside the joints; a shade makes blocks of different tone, even within a block."""
    whole, broken = (float(np.mean(struck(crumble=share)[1].height)) for share in ("0 %", "70 %"))
    assert broken < whole
    wall = struck(shade="10 %")[1]
    lines = bond.draw(wall.grid, Bond(12.0, 24.0, "running", 0.0), SITE.pour)
    inner = lines.away > 1.0
    plain = struck()[1].tone
    ratio = np.round((wall.tone / plain)[inner], 4)
    blocks = [np.unique(ratio[lines.block[inner] == one]) for one in np.unique(lines.block[inner])]
    assert all(one.max() - one.min() < 2e-4 for one in blocks)
    assert len({float(one[0]) for one in blocks}) > 2
