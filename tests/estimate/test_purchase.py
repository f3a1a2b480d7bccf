"""Containers: the cheapest choice is the cheapest of all choices."""

from __future__ import annotations

import itertools
import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from render.estimate.purchase import Purchase, cheapest, container_label
from render.materials import Container


def brute_force(need_qt: int, sizes: list[tuple[int, int]]) -> int:
    """Return the least cost in cents over every combination; sizes are (quarts, cents)."""
    counts = [range(math.ceil(need_qt / size) + 1) for size, _ in sizes]
    choices = itertools.product(*counts)
    return min(
        sum(n * price for n, (_, price) in zip(pick, sizes, strict=True))
        for pick in choices
        if sum(n * size for n, (size, _) in zip(pick, sizes, strict=True)) >= need_qt
    )


@settings(max_examples=300, deadline=None)
@given(
    need=st.integers(0, 40),
    sizes=st.lists(st.tuples(st.integers(1, 20), st.integers(1, 20_000)), min_size=1, max_size=3),
)
def test_cost_equals_brute_force(need: int, sizes: list[tuple[int, int]]) -> None:
    """No combination of containers that is enough costs less, on random small cases."""
    shelf = [Container(size=f"{size} qt", price=cents / 100) for size, cents in sizes]
    got = cheapest(need / 4, shelf)
    assert got is not None
    assert got.cost is not None
    assert round(got.cost * 100) == brute_force(need, sizes)
    assert got.bought >= need / 4 - 1e-6


@settings(max_examples=100, deadline=None)
@given(
    need=st.floats(0.001, 60),
    sizes=st.lists(st.tuples(st.floats(0.1, 6), st.integers(100, 20_000)), min_size=1, max_size=4),
)
def test_enough_is_bought_and_no_can_is_idle(need: float, sizes: list[tuple[float, int]]) -> None:
    """With any sizes the need is met, and leaving out any one can falls short."""
    shelf = [Container(size=f"{size:.6f} gal", price=cents / 100) for size, cents in sizes]
    got = cheapest(need, shelf)
    assert got is not None
    assert got.bought >= need - 2e-6
    for one in got.items:
        assert got.bought - one.container.size < need


def test_leftover_can_be_cheaper_than_a_tight_fit() -> None:
    """4.2 gal from 1 gal at 40 and 5 gal at 150: one pail with 0.8 gal over, not 4 cans and a fifth."""
    got = cheapest(4.2, [Container(size="1 gal", price=40), Container(size="5 gal", price=150)])
    assert got is not None
    assert (got.words(), got.cost) == ("1 × 5 gal", 150)
    assert got.leftover == pytest.approx(0.8)


def test_mixed_sizes_by_hand() -> None:
    """9.1 gal at 62 a gallon and 188 per 3.5: 0+10 is 620, 1+6 560, 2+3 562, 3+0 564; 560 is least."""
    got = cheapest(9.1, [Container(size="1 gal", price=62), Container(size="3.5 gal", price=188)])
    assert got is not None
    assert (got.words(), got.cost) == ("1 × 3.5 gal + 6 × 1 gal", 560)


def test_exactly_full_is_enough() -> None:
    """Ten tenths of a gallon are a gallon, whatever the rounding of their sum."""
    got = cheapest(sum([0.1] * 10), [Container(size="1 gal", price=1)])
    assert got is not None
    assert got.words() == "1 × 1 gal"


def test_without_prices_least_is_left_over() -> None:
    """Sizes without prices: the tightest fit, and no cost is claimed."""
    got = cheapest(4.2, [Container(size="1 gal"), Container(size="3.5 gal"), Container(size="5 gal")])
    assert got is not None
    assert (got.words(), got.cost) == ("1 × 3.5 gal + 1 × 1 gal", None)


def test_nothing_needed_nothing_bought() -> None:
    """No need, no container, no cost; and no sizes, no answer."""
    assert cheapest(0.0, [Container(size="1 gal", price=9)]) == Purchase(0.0, (), 0.0)
    assert cheapest(1.0, []) is None
    with pytest.raises(ValueError, match="zero or more"):
        cheapest(-1.0, [])


def test_labels_are_round_units() -> None:
    """Sizes read as they stand on the can."""
    sizes = ["1 gal", "3.5 gal", "1 qt", "1 pt", "12 fl oz", "5 L", "250 ml"]
    assert [container_label(Container(size=one)) for one in sizes] == [
        "1 gal", "3.5 gal", "1 qt", "1 pt", "12 fl oz", "5 L", "250 ml",
    ]  # fmt: skip
    assert container_label(Container(size="1 gal", label="pail")) == "pail"


def test_a_large_need_of_many_sizes_is_quick() -> None:
    """500 gal from six sizes of nearly one price per gallon is still solved exactly."""
    priced = ((0.25, 10.1), (0.5, 20.03), (1, 40.02), (2.5, 100.01), (3.5, 140.02), (5, 200))
    shelf = [Container(size=f"{size} gal", price=price) for size, price in priced]
    got = cheapest(499.9, shelf)
    assert got is not None
    assert got.cost == 20_000
