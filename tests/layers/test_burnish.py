"""Burnishing: sheen and tone of the high spots; no material moves."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from render.layers.burnish import Burnish
from render.layers.plaster_coat import PlasterCoat
from render.seeds import Streams
from render.wall import Wall


def plastered() -> Wall:
    """Return a wall with a full coat."""
    coat = {"name": "top", "material": "burnishing lime", "style": "full", "ridge": "2 mil"}
    return PlasterCoat.model_validate(coat).apply(Wall.bare(10, 10, 12.5), Streams(3, "top"))


def burnished(wall: Wall, **keys: Any) -> Wall:
    """Return the wall polished."""
    return Burnish.model_validate({"name": "polish", **keys}).apply(wall, Streams(3, "polish"))


def test_moves_nothing() -> None:
    """No height, film or account changes."""
    before = plastered()
    after = burnished(before)
    assert after.height is before.height
    assert after.strata == before.strata
    assert after.ledger == before.ledger


def test_polishes_and_darkens_together() -> None:
    """Where the sheen rises most the tone falls most; nothing gets lighter, duller or beyond its bounds."""
    before = plastered()
    after = burnished(before)
    shine, dark = after.sheen - before.sheen, 1.0 - after.tone / before.tone
    assert np.corrcoef(shine.ravel(), dark.ravel())[0, 1] > 0.95
    assert shine.min() >= 0
    assert dark.min() >= -1e-6
    assert after.sheen.max() <= 1.0
    assert dark.max() <= 0.07 * 1.2 + 1e-5


def test_high_spots_first() -> None:
    """Hollows below the reach stay matt."""
    before = plastered()
    pit = np.zeros(before.grid.shape, np.float32)
    pit[40:46, 60:66] = 12.0
    after = burnished(before.cut(pit), reach="1 mil")
    shine = after.sheen - before.sheen
    assert shine[41:45, 61:65].mean() < 0.4 * shine.mean()


@settings(max_examples=15, deadline=None)
@given(st.floats(0.5, 100.0))
def test_coverage_is_exact(share: float) -> None:
    """The share that is burnished is the share asked, to the pixel."""
    before = plastered()
    layer = Burnish.model_validate({"name": "polish", "coverage": f"{share:.4f} %"})
    after = layer.apply(before, Streams(3, "polish"))
    assert layer.achieved(before, after) == pytest.approx(layer.coverage, abs=0.51 / before.height.size)


def test_nothing_asked() -> None:
    """Coverage 0 leaves the wall itself."""
    before = plastered()
    assert burnished(before, coverage="0 %") is before


@pytest.mark.parametrize(("height", "width", "ppi"), [(0.05, 0.05, 12.5), (1.0, 1.0, 1.0), (30.0, 40.0, 0.1)])
def test_smallest_pictures(height: float, width: float, ppi: float) -> None:
    """A picture of a pixel or a few works like any other."""
    assert np.isfinite(burnished(Wall.bare(height, width, ppi)).sheen).all()
