"""Ratings by ISO 4628-4 and -5: class limits, and walls whose cracks and flakes are known."""

from __future__ import annotations

import numpy as np
import pytest

from render import defects
from render.wall import Wall


def ruled(every_in: float, wide_in: float, ppi: float = 50.0, side: float = 10.0) -> Wall:
    """Return a wall with upright cracks of one width at one distance, anti-aliased."""
    wall = Wall.bare(side, side, ppi)
    at = np.arange(wall.grid.cols * 120) + 0.5
    open_ = (np.abs((at / (120 * ppi)) % every_in - every_in / 2) < wide_in / 2).astype(float)
    row = open_.reshape(-1, 120).mean(axis=1).astype(np.float32)
    return wall.evolve(cracks=np.repeat(row[None, :], wall.grid.rows, axis=0))


def square_hole(side_mm: float, count: int = 1) -> Wall:
    """Return a wall 20 in square with ``count`` square holes."""
    wall = Wall.bare(20.0, 20.0, 50.0)
    fallen = np.zeros(wall.grid.shape, np.float32)
    k = round(side_mm / 25.4 * 50.0)
    for i in range(count):
        r, c = divmod(i, 5)
        fallen[10 + 190 * r : 10 + 190 * r + k, 10 + 190 * c : 10 + 190 * c + k] = 1.0
    return wall.evolve(fallen=fallen)


@pytest.mark.parametrize(
    ("share", "class_"),
    [(0.0, 0), (0.0005, 1), (0.001, 1), (0.002, 2), (0.003, 2), (0.009, 3), (0.02, 4), (0.03, 4), (0.1, 5), (0.9, 5)],
)
def test_flaked_area_classes_iso_4628_5(share: float, class_: int) -> None:
    """ISO 4628-5, from memory: 0 none, 1 up to .1 %, 2 up to .3 %, 3 up to 1 %, 4 up to 3 %, 5 above (15 %)."""
    wall = Wall.bare(40.0, 40.0, 25.0)
    fallen = np.zeros(wall.grid.shape, np.float32)
    fallen.ravel()[: round(share * fallen.size)] = 1.0
    rated = defects.rating(wall.evolve(fallen=fallen))["flaking"]
    assert rated["flaked_share"] == pytest.approx(share, abs=1e-6)
    assert rated["quantity"] == class_


@pytest.mark.parametrize(("mm", "size"), [(2.5, 2), (8.0, 3), (25.0, 4), (60.0, 5)])
def test_flake_sizes_iso_4628_5(mm: float, size: int) -> None:
    """ISO 4628-5, from memory: up to 1, 3, 10, 30 mm and above are sizes 1 to 5."""
    rated = defects.rating(square_hole(mm, 9))["flaking"]
    assert rated["largest_mm"] == pytest.approx(mm, abs=0.6)
    assert rated["size"] == size


def test_down_to_the_bare_wall_is_b() -> None:
    """Flakes of the whole system, down to the wall, are depth b."""
    assert defects.rating(square_hole(20.0))["flaking"]["depth"] == "b"
    assert defects.rating(square_hole(20.0))["flaking"]["reported"].endswith(")b")


def test_a_sound_wall_rates_nought() -> None:
    """No cracks, no flakes: 0 and 0."""
    rated = defects.rating(Wall.bare(10.0, 10.0, 20.0))
    assert rated["cracking"]["reported"] == rated["flaking"]["reported"] == "0"
    assert rated["cracking"]["length_in_per_in2"] == 0.0


def test_crack_length_and_width_are_measured() -> None:
    """Upright cracks half an inch apart and .02 in wide: two inches per square inch over the mean of all angles.

    Crossings are met along the rows only, so Buffon's estimate for lines of one direction is pi / 4 of the length.
    """
    rated = defects.rating(ruled(0.5, 0.02))["cracking"]
    assert rated["length_in_per_in2"] == pytest.approx(2.0 * np.pi / 4.0, rel=0.06)
    assert rated["typical_width_mm"] == pytest.approx(0.02 * 25.4 * 2.0 / np.pi, rel=0.05)
    assert rated["open_share"] == pytest.approx(0.04, rel=0.02)


def test_denser_cracks_rate_higher_and_wider_ones_larger() -> None:
    """Quantity follows the length of crack, size the width; over 1 mm is size 5 (ISO 4628-4, from memory)."""
    quantities = [defects.rating(ruled(every, 0.01))["cracking"]["quantity"] for every in (9.0, 3.0, 1.0, 0.3)]
    assert quantities == sorted(quantities) and quantities[-1] == 5 and quantities[0] <= 3
    sizes = [defects.rating(ruled(1.0, wide))["cracking"]["size"] for wide in (0.002, 0.008, 0.03, 0.12)]
    assert sizes == sorted(set(sizes)) and sizes[-1] == 5


def test_resolution_does_not_change_the_rating() -> None:
    """A hairline keeps its ink, so the same cracks rate the same at 25 and 50 px/in."""
    coarse, fine = (defects.rating(ruled(0.5, 0.01, ppi))["cracking"] for ppi in (25.0, 50.0))
    assert coarse["reported"] == fine["reported"]
    assert coarse["typical_width_mm"] == pytest.approx(fine["typical_width_mm"], rel=0.1)


def test_what_is_from_memory_is_marked() -> None:
    """The result names the standards and says which limits were not read in them."""
    rated = defects.rating(Wall.bare(5.0, 5.0, 20.0))
    assert "ISO 4628-4:2016" in rated["standards"] and "ISO 4628-5:2016" in rated["standards"]
    assert "flaked area limits" in rated["from_memory"] and rated["chosen_by_us"]


@pytest.mark.parametrize(("value", "class_"), [(0.0, 0), (0.1, 1), (0.10001, 2), (9.0, 3)])
def test_a_limit_belongs_to_the_class_below(value: float, class_: int) -> None:
    """Up to and including a limit is the lower class."""
    assert defects.rate(value, (0.0, 0.1, 1.0)) == class_
