"""The wall's ledger: what is added is on the wall, removed or run off."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from render.wall import LedgerError, Stratum, Wall


def wall_of(rows: int = 4, cols: int = 5) -> Wall:
    """A bare wall of one pixel per inch."""
    return Wall.bare(rows, cols, 1.0)


def film_of(wall: Wall, *values: float) -> np.ndarray:
    """A film that repeats some values over a wall."""
    return np.resize(np.array(values, np.float32), wall.grid.shape)


def closes(wall: Wall) -> None:
    """Added = on the wall + removed + run off, for each stratum."""
    for one in wall.strata:
        entry = wall.ledger[one.name]
        left = entry.added - entry.removed - entry.run_off
        assert wall.gallons(one.film) == pytest.approx(left, rel=1e-6, abs=1e-12)


def test_hand_worked_coat() -> None:
    """20 in² at 10 mil is 0.2 in³, 0.2/231 gal; the height rises by the film."""
    wall = wall_of()
    wall = wall.add(Stratum("base", "coat", film_of(wall, 10.0)))
    assert wall.ledger["base"].added == pytest.approx(20 * 0.010 / 231, rel=1e-6)
    assert np.all(wall.height == 10.0)
    assert np.all(wall.top == 0)


def test_cut_goes_from_the_top_down() -> None:
    """Cutting 3 mil from 2 mil of plaster on 5 mil of base takes all the plaster and 1 mil of base, and the colour."""
    wall = wall_of()
    wall = wall.add(Stratum("base", "coat", film_of(wall, 5.0)))
    wall = wall.add(Stratum("plaster", "coat", film_of(wall, 2.0)))
    wall = wall.add(Stratum("stain", "colour", film_of(wall, 1.0)))
    cut = wall.cut(film_of(wall, 3.0))
    assert np.all(cut.height == 4.0)
    assert np.all(cut.stratum("plaster").film == 0) and np.all(cut.stratum("base").film == 4.0)
    assert np.all(cut.stratum("stain").film == 0)
    closes(cut)


def test_cut_stops_at_the_bare_wall() -> None:
    """There is nothing below the wall."""
    wall = wall_of()
    wall = wall.add(Stratum("base", "coat", film_of(wall, 5.0)))
    cut = wall.cut(film_of(wall, 50.0))
    assert np.all(cut.height == 0)
    closes(cut)


def test_buried_colour_stays_when_the_plaster_above_is_cut() -> None:
    """Colour under a coat is untouched by a cut that ends in that coat."""
    wall = wall_of()
    wall = wall.add(Stratum("base", "coat", film_of(wall, 5.0)))
    wall = wall.add(Stratum("stain", "colour", film_of(wall, 1.0)))
    wall = wall.add(Stratum("plaster", "coat", film_of(wall, 4.0)))
    assert np.all(wall.cut(film_of(wall, 3.0)).stratum("stain").film == 1.0)


@given(st.lists(st.floats(0, 30, width=32), min_size=3, max_size=9), st.floats(0, 1), st.floats(0, 40))
@settings(max_examples=50, deadline=None)
def test_ledger_closes_whatever_is_done(films: list[float], share: float, depth: float) -> None:
    """Adding, taking, moving and cutting in turn keep every account."""
    wall = wall_of(8, 9)
    wall = wall.add(Stratum("base", "coat", film_of(wall, *films)))
    wall = wall.add(Stratum("glaze", "colour", film_of(wall, *reversed(films))))
    glaze = wall.stratum("glaze").film
    wall = wall.take("glaze", glaze * np.float32(share * 0.5), "removed")
    moved = np.roll(wall.stratum("glaze").film, 1, axis=0)
    lost = wall.gallons(moved) * 0.25
    wall = wall.move("glaze", moved * np.float32(0.75), run_off_gal=lost)
    wall = wall.cut(film_of(wall, depth))
    closes(wall)
    assert all(one.film.min() >= 0 for one in wall.strata)


def test_taking_more_than_there_is() -> None:
    """More than lies there cannot be taken."""
    wall = wall_of()
    wall = wall.add(Stratum("glaze", "colour", film_of(wall, 1.0)))
    with pytest.raises(LedgerError, match="more of 'glaze'"):
        wall.take("glaze", film_of(wall, 1.5))


def test_moving_makes_nothing() -> None:
    """A move that makes or loses material is an error."""
    wall = wall_of()
    wall = wall.add(Stratum("glaze", "colour", film_of(wall, 1.0)))
    with pytest.raises(LedgerError, match="from nothing"):
        wall.move("glaze", film_of(wall, 1.5))


def test_negative_film_and_second_name() -> None:
    """A film below zero and a second stratum of one name are errors."""
    wall = wall_of()
    with pytest.raises(LedgerError, match="below zero"):
        wall.add(Stratum("a", "coat", film_of(wall, -1.0)))
    wall = wall.add(Stratum("a", "coat", film_of(wall, 1.0)))
    with pytest.raises(LedgerError, match="two layers"):
        wall.add(Stratum("a", "coat", film_of(wall, 1.0)))


def test_fields_are_read_only_and_constant_ones_are_free() -> None:
    """No layer can write into a wall; untouched fields cost no memory."""
    wall = wall_of()
    for name in ("height", "wet", "thirst", "sheen", "tone", "slip", "loose", "cracks"):
        array = getattr(wall, name)
        assert not array.flags.writeable
        assert array.strides == (0, 0)
    with pytest.raises(ValueError, match="read-only"):
        wall.height[0, 0] = 1.0


def test_open_colours_are_those_since_the_last_coat() -> None:
    """A wet act reaches what no coat has covered, or what it names."""
    wall = wall_of()
    for name, role in [("base", "coat"), ("stain", "colour"), ("plaster", "coat"), ("antique", "colour")]:
        wall = wall.add(Stratum(name, role, film_of(wall, 1.0)))  # type: ignore[arg-type]
    assert [one.name for one in wall.open_colours()] == ["antique"]
    assert [one.name for one in wall.open_colours(("stain",))] == ["stain"]


def test_even_fields_cost_no_memory() -> None:
    """A coat that covers all leaves even fields; one with holes keeps what is even under both; others are as where."""
    wall = wall_of()
    whole = wall.add(Stratum("base", "coat", film_of(wall, 10.0), thirst=0.3))
    assert all(getattr(whole, name).strides == (0, 0) for name in ("thirst", "wet", "slip", "tone", "sheen"))
    part = whole.add(Stratum("top", "coat", film_of(wall, 5.0, 0.0, 2.0), thirst=0.8))
    assert part.wet.strides == part.tone.strides == (0, 0)
    assert np.array_equal(part.thirst, np.where(part.stratum("top").film > 0, np.float32(0.8), np.float32(0.3)))
