"""Release size: how much of the wall it covers, where it is brushed, and how slippery it makes it."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pydantic import ValidationError

from render.layers.size import Size
from render.seeds import Streams
from render.wall import Wall


def sized(ppi: float = 12.5, tall: float = 30.0, wide: float = 40.0, **keys: Any) -> Wall:
    """Return a bare wall after a size."""
    layer = Size.model_validate({"name": "size", "material": "release size", **keys})
    return layer.apply(Wall.bare(tall, wide, ppi), Streams(4, "size"))


@settings(max_examples=12, deadline=None)
@given(share=st.integers(0, 100), placement=st.sampled_from(["blotches", "edges", "band"]))
def test_coverage_is_met_within_half_a_point(share: int, placement: str) -> None:
    """What was asked is covered, and slips; the rest is untouched."""
    wall = sized(coverage=f"{share} %", placement=placement)
    film = wall.stratum("size").film
    assert float(np.mean(film > 0)) == pytest.approx(share / 100.0, abs=0.005)
    assert ((wall.slip > 0) == (film > 0)).all()


def test_slip_is_fullest_inside_and_thin_at_the_rim() -> None:
    """Inside a blotch the size slips well; along its rim the brush left little."""
    wall = sized(coverage="40 %", ppi=25.0)
    inside = wall.slip > 0
    rim = inside.copy()
    rim[1:-1, 1:-1] &= ~(inside[:-2, 1:-1] & inside[2:, 1:-1] & inside[1:-1, :-2] & inside[1:-1, 2:])
    rim[[0, -1]] = rim[:, [0, -1]] = False
    assert np.median(wall.slip[inside]) > 0.6
    assert np.median(wall.slip[rim]) < 0.4


def test_edges_lie_along_the_edges() -> None:
    """Brushed along the edges, the outer rim has more of it than the middle, which has none."""
    on = sized(coverage="35 %", placement="edges").slip > 0
    middle = on[120:255, 160:340]
    assert not middle.any()
    assert np.mean(on[:25]) > 0.8 and np.mean(on[:, :25]) > 0.8


def test_a_band_runs_level_at_its_height() -> None:
    """A band has its middle where it was asked, from one side to the other."""
    on = sized(coverage="20 %", placement="band", band_at="12 in", tall=48.0).slip > 0
    rows = np.nonzero(on.any(axis=1))[0] / 12.5
    assert np.average(np.arange(on.shape[0]) / 12.5, weights=on.sum(axis=1)) == pytest.approx(12.0, abs=2.5)
    assert rows.min() > 1.0 and rows.max() < 24.0
    assert on.any(axis=0).mean() > 0.9


def test_the_volume_asked_for_lies_on_the_wall() -> None:
    """The film integrates to the mixed volume, to a millionth."""
    layer = Size.model_validate({"name": "size", "material": "release size", "coverage": "30 %", "thin": "20 %"})
    wall = layer.apply(Wall.bare(30.0, 40.0, 12.5), Streams(4, "size"))
    assert wall.gallons(wall.stratum("size").film) == pytest.approx(layer.amounts(wall.area_ft2).mixed.likely, rel=1e-6)


@pytest.mark.parametrize(
    ("key", "value"), [("placement", "corners"), ("blotch", "0.2 in"), ("blotch", "14"), ("colour", "red")]
)
def test_faults_are_named(key: str, value: str) -> None:
    """An unknown place, a blotch too small, a bare number and an unknown key are refused."""
    with pytest.raises(ValidationError, match=key):
        Size.model_validate({"name": "size", "material": "release size", key: value})


@pytest.mark.parametrize("placement", ["blotches", "edges", "band"])
def test_words_say_where(placement: str) -> None:
    """The layer list says where it is brushed."""
    layer = Size.model_validate({"name": "size", "material": "release size", "placement": placement})
    assert placement.rstrip("s") in layer.words() and "release size" in layer.words()


def test_it_dries_clear() -> None:
    """A generous film of size, 20 mil, changes what is seen of a dark red base by less than two CIEDE2000 units."""
    from render import colour

    base = colour.parse_colour("#7a4630")
    k, s = Size.model_validate({"name": "size", "material": "release size"}).optics()
    seen = colour.film_exact(base, k, s, 20.0)
    bare, sized_over = (colour.to_lab(colour.to_linear_rgb(one)) for one in (base, seen))
    assert 0.0 < float(colour.delta_e(bare, sized_over)) < 2.0
