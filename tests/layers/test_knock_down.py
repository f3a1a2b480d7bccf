"""Knock-down: tips off, nothing raised, the cut booked."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from render import texture
from render.layers.knock_down import KnockDown
from render.layers.texture_coat import TextureCoat
from render.seeds import Streams
from render.wall import Wall


def textured(ppi: float = 25.0) -> Wall:
    """Return a wall with a sanded texture."""
    coat = TextureCoat.model_validate({"name": "base", "material": "sanded wall coat"})
    return coat.apply(Wall.bare(10, 10, ppi), Streams(3, "base"))


def knocked(wall: Wall, **keys: Any) -> Wall:
    """Return the wall knocked down."""
    return KnockDown.model_validate({"name": "knife", **keys}).apply(wall, Streams(3, "knife"))


def test_only_lowers_and_books() -> None:
    """No height rises; what comes off is booked as removed, and the ledger closes."""
    before = textured()
    after = knocked(before)
    assert np.all(after.height <= before.height + 1e-5)
    entry = after.ledger["base"]
    assert entry.removed > 0
    assert entry.added == pytest.approx(after.gallons(after.stratum("base").film) + entry.removed, rel=1e-6)
    cut = after.gallons(before.height - after.height)
    assert cut == pytest.approx(entry.removed, rel=1e-4)


def test_dulls_the_aggregate() -> None:
    """Sharp before, dull after: Sq, Ssk and Sku fall (ISO 25178-2)."""
    before = textured()
    sharp, dull = (texture.parameters(wall.height, 25.0) for wall in (before, knocked(before)))
    assert dull["Sq_mil"] < sharp["Sq_mil"]
    assert dull["Ssk"] < sharp["Ssk"]
    assert dull["Sku"] < sharp["Sku"]


def test_deeper_takes_more() -> None:
    """A deeper knife takes more off, and one that rides on the tips nearly nothing."""
    before = textured()
    taken = [knocked(before, depth=depth).ledger["base"].removed for depth in ("0 mil", "2 mil", "6 mil")]
    assert 0 <= taken[0] < taken[1] < taken[2]


def test_hollows_are_left_alone() -> None:
    """The lower half of a texture is not touched."""
    before = textured()
    after = knocked(before, depth="2 mil")
    assert np.mean(after.height == before.height) > 0.5


def test_bare_wall_stays() -> None:
    """Where there is no coat there is nothing to take."""
    wall = Wall.bare(4, 4, 12.5)
    assert np.array_equal(knocked(wall).height, wall.height)


def test_resolution() -> None:
    """What comes off at 12.5 px/in is what comes off at 25 px/in, within the grain that the coarse picture averages."""
    fine, coarse = (knocked(textured(ppi)).height for ppi in (25.0, 12.5))
    down = fine.reshape(125, 2, 125, 2).mean((1, 3))
    assert np.corrcoef(down.ravel(), coarse.ravel())[0, 1] >= 0.96


@pytest.mark.parametrize(("height", "width", "ppi"), [(0.05, 0.05, 12.5), (1.0, 1.0, 1.0), (30.0, 40.0, 0.1)])
def test_smallest_pictures(height: float, width: float, ppi: float) -> None:
    """A picture of a pixel or a few works like any other."""
    assert np.isfinite(knocked(Wall.bare(height, width, ppi)).height).all()
