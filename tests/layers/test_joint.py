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


def test_each_face_is_dressed_its_own_way_inside_a_margin() -> None:
    """A dressed face is cut by up to its dressing, hardly in its margin but where a furrow ran on into it, and blocks
    differ in the way of the tool.
    """
    before, after = struck(dress="15 mil", margin="2 in", depth="0 mil", block_height="8 in", block_width="13 in")
    cut = before.height - after.height
    lines = bond.draw(after.grid, Bond(8.0, 13.0, "running", 0.0), SITE.pour)
    face = lines.away > 3.2  # the margin is .55 to 1.45 of what was asked, from the joint's edge
    assert float(cut[lines.away < 0.6].max()) <= 0.4 * 1.8 * 15.0 + 1e-3
    assert float(np.quantile(cut[lines.away < 1.0], 0.99)) < 0.6 * float(np.quantile(cut[face], 0.99))
    assert float(cut[face].max()) > 8.0
    down, right = np.gradient(cut)
    ways = []
    for one in np.unique(lines.block[face]):
        at = face & (lines.block == one)
        if np.count_nonzero(at) > 500:  # direction of the structure tensor
            cross = 2.0 * float(np.sum((down * right)[at]))
            ways.append(0.5 * np.degrees(np.arctan2(cross, float(np.sum((right**2 - down**2)[at])))))
    assert len(ways) >= 4
    assert np.ptp(ways) > 20.0


def test_furrows_end_unevenly() -> None:
    """From 1 in inside the face to the margin's edge the tooling fades over half an inch or more: no line stops all."""
    before, after = struck(dress="15 mil", margin="1 in", depth="0 mil", block_height="12 in", block_width="24 in")
    cut = before.height - after.height
    lines = bond.draw(after.grid, Bond(12.0, 24.0, "running", 0.0), SITE.pour)
    one = lines.block == lines.block[lines.away == lines.away.max()][0]
    rough = [float(np.std(cut[one & (np.abs(lines.away - at) < 0.1)])) for at in np.arange(0.5, 3.0, 0.2)]
    full = np.mean(rough[-4:])
    part = [share for share in rough if 0.25 * full < share < 0.8 * full]
    assert len(part) >= 2


def test_pecks_are_of_all_sizes() -> None:
    """Of what is pecked deeper than half, the largest peck is at least eight times the middle one's area."""
    from scipy import ndimage

    before, after = struck(dress="15 mil", margin="1 in", depth="0 mil")
    cut = before.height - after.height
    marks, _ = ndimage.label(cut > 7.5)
    areas = np.bincount(marks.ravel())[1:]
    assert areas.size > 10 and areas.max() > 8 * np.median(areas)


def test_dressing_is_the_same_at_another_resolution() -> None:
    """The faces at 12.5 px/in are those at 25 px/in averaged down: correlation at least .96."""
    joint = {"kind": "joint", "name": "joints", "dress": "15 mil", "depth": "0 mil", "crumble": "0 %"}
    coat = {**COAT, "pits": "0 %"}
    cuts = []
    for ppi in (12.5, 25.0):
        first, last = build(
            read({"name": "t", "layer": [coat, joint]}), Site(20.0, 20.0, ppi, 4), keep_walls=True
        ).walls
        cuts.append(first.height - last.height)
    halved = cuts[1].reshape(250, 2, 250, 2).mean((1, 3))
    assert np.corrcoef(halved.ravel(), cuts[0].ravel())[0, 1] >= 0.96


def test_blocks_drink_differently() -> None:
    """A shade goes with a thirst of each block's own; without a shade all faces are as thirsty as the coat."""
    lines = bond.draw(struck()[1].grid, Bond(12.0, 24.0, "running", 0.0), SITE.pour)
    inner = lines.away > 1.0
    before, plain = struck()
    assert np.array_equal(before.thirst[inner], plain.thirst[inner])
    thirst = struck(shade="10 %")[1].thirst
    ratio = np.array([np.median(thirst[inner & (lines.block == one)]) for one in np.unique(lines.block[inner])])
    assert np.ptp(ratio) > 0.05 * float(np.median(before.thirst))
