"""What a hand draws: once, for the layer, the grid and the pour."""

from __future__ import annotations

from typing import Any, Literal

import numpy as np
import pytest
from test_contract import GLAZE, MIST, example

from render import layers
from render.fields import Array, Grid
from render.finish import read
from render.hand import Hand, drawn, drawn_once
from render.kept import Kept
from render.layers.base import Layer
from render.pipeline import Cache, Site, build
from render.seeds import Streams
from tests_support import base, plaster

GRID = Grid(4, 5, 1.0)
DRAWN: list[str] = []


class _Level(Hand):
    """Draws the same height everywhere, and notes that it did."""

    @drawn
    def field(self) -> Array:
        """Return the layer's level everywhere."""
        DRAWN.append("field")
        return np.full(self.grid.shape, self.layer.level, np.float32)

    @drawn_once
    def large(self) -> Array:
        """Return the same."""
        DRAWN.append("large")
        return np.full(self.grid.shape, self.layer.level, np.float32)


class _Drawer(Layer):
    """A layer of which all is known beforehand."""

    kind: Literal["drawer"] = "drawer"
    level: float = 1.0


LAYER = _Drawer(name="one")


@pytest.fixture(autouse=True)
def _fresh() -> None:
    DRAWN.clear()


def test_a_drawing_is_made_once_and_kept_read_only() -> None:
    """Another hand at the same work finds the same array; another key of the layer, grid or pour gives another."""
    streams = Streams(1, "one", kept := Kept())
    first = _Level(LAYER, GRID, streams).field
    assert _Level(LAYER, GRID, streams).field is first and not first.flags.writeable and DRAWN == ["field"]
    other = _Level(LAYER.model_copy(update={"level": 2.0}), GRID, streams).field
    assert float(other[0, 0]) == 2.0
    assert _Level(LAYER, Grid(4, 5, 2.0), streams).field is not first
    assert _Level(LAYER, GRID, Streams(2, "one", kept)).field is not first


def test_without_room_each_hand_draws_for_itself() -> None:
    """A store without room keeps nothing; a hand holds what it asks for again, and lets go what it asks for once."""
    hand, other = _Level(LAYER, GRID, Streams(1, "one")), _Level(LAYER, GRID, Streams(1, "one"))
    assert hand.field is hand.field and other.field is not hand.field
    assert hand.large is not hand.large
    assert DRAWN == ["field", "field", "large", "large"]


@pytest.mark.parametrize("kind", sorted(layers.kinds()))
def test_what_is_kept_of_a_hand_changes_no_bit(kind: str) -> None:
    """Under another base, a layer whose drawings are all kept is laid as one that draws everything anew."""
    site = Site(12.0, 10.0, 12.5, pour=3)

    def finish(spread: str) -> Any:
        return read({"layer": [base(spread=spread), plaster(), MIST, GLAZE, example(kind)]})

    cache = Cache()
    build(finish("165 ft2/gal"), site, cache=cache)
    warm, cold = build(finish("150 ft2/gal"), site, cache=cache).wall, build(finish("150 ft2/gal"), site).wall
    assert warm.height.tobytes() == cold.height.tobytes()
    assert [one.film.tobytes() for one in warm.strata] == [one.film.tobytes() for one in cold.strata]
