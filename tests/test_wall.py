"""The wall's ledger: what is added is on the wall, removed or run off."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from render.wall import Entry, LedgerError, Stratum, Wall, over


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


def test_a_coat_that_sinks_as_it_dries_is_cut_by_its_height() -> None:
    """A wash of 8 mil that stands a quarter high raises 2; a cut of 1 takes 4 mil of it, one of 3 all and 1 below."""
    wall = wall_of(1, 3).add(Stratum("base", "coat", film_of(wall_of(1, 3), 5.0)))
    wall = wall.add(Stratum("wash", "coat", film_of(wall, 8.0), stands=0.25))
    assert np.all(wall.height == 7.0)
    got = wall.cut(np.array([[0.0, 1.0, 3.0]], np.float32))
    assert got.stratum("wash").film.tolist() == [[8.0, 4.0, 0.0]]
    assert got.stratum("base").film.tolist() == [[5.0, 5.0, 4.0]]
    assert got.height.tolist() == [[7.0, 6.0, 4.0]]
    closes(got)


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


def hill(wall: Wall, *names: str) -> Wall:
    """The wall with coats of 4 mil on its left part alone, one pixel narrower each, and all fields other than new."""
    for number, name in enumerate(names):
        film = film_of(wall, 4.0).copy()
        film[:, 3 - number :] = 0.0
        wall = wall.add(Stratum(name, "coat", film))
    return wall


def test_a_bare_wall() -> None:
    """6 in x 24 in is a square foot: dry, flat, matt, bonded and even, and as thirsty as plaster is unless told."""
    wall = Wall.bare(6.0, 24.0, 2.0)
    assert wall.area_ft2 == 1.0 and wall.grid.shape == (12, 48)
    even = {"height": 0, "wet": 0, "sheen": 0, "slip": 0, "loose": 0, "cracks": 0, "fallen": 0, "tone": 1}
    assert all(np.all(getattr(wall, name) == value) for name, value in even.items())
    assert np.all(wall.thirst == np.float32(0.35)) and np.all(Wall.bare(1, 1, 1, 0.8).thirst == np.float32(0.8))
    assert np.all(wall.top == -1) and wall.strata == () and not wall.ledger


def test_the_uppermost_coat() -> None:
    """Each pixel knows its uppermost coat by number in the strata; colours and holes do not count."""
    wall = hill(wall_of(1, 4).add(Stratum("stain", "colour", film_of(wall_of(1, 4), 1.0))), "low", "high")
    assert wall.top.tolist() == [[2, 2, 1, -1]]
    assert not wall.top.flags.writeable
    assert [one.name for one in wall.coats] == ["low", "high"]
    with pytest.raises(KeyError, match="nobody"):
        wall.stratum("nobody")


def test_a_coat_makes_the_surface_new_where_it_lies() -> None:
    """Where a coat lies the surface is its own, dry, bonded and whole; beside it everything stays as it was."""
    used = {"wet": 0.2, "slip": 0.3, "loose": 0.4, "cracks": 0.5, "tone": 0.6, "fallen": 0.7, "sheen": 0.8}
    wall = wall_of(1, 2).evolve(**{name: np.full((1, 2), value, np.float32) for name, value in used.items()})
    got = wall.add(Stratum("half", "coat", np.array([[2.0, 0.0]], np.float32), thirst=0.9, sheen=0.1))
    fresh = {"wet": 0.0, "slip": 0.0, "loose": 0.0, "cracks": 0.0, "tone": 1.0, "fallen": 0.0, "sheen": 0.1}
    for name, value in used.items():
        assert getattr(got, name).tolist() == [[np.float32(fresh[name]), np.float32(value)]], name
    assert got.thirst.tolist() == [[np.float32(0.9), np.float32(0.35)]]
    assert got.height.tolist() == [[2.0, 0.0]]
    told = wall.add(Stratum("half", "coat", np.array([[2.0, 0.0]], np.float32)), wet=np.full((1, 2), 0.9, np.float32))
    assert np.all(told.wet == np.float32(0.9)) and told.slip[0, 0] == 0.0


def test_colour_changes_no_surface() -> None:
    """A glaze adds material alone: height, thirst and looseness stay."""
    wall = hill(wall_of(), "base").evolve(loose=film_of(wall_of(), 0.3))
    got = wall.add(Stratum("glaze", "colour", film_of(wall, 1.0), thirst=0.9))
    assert got.height is wall.height and got.thirst is wall.thirst and got.loose is wall.loose
    assert got.ledger["glaze"].added == pytest.approx(20 * 0.001 / 231, rel=1e-6)


def test_a_film_that_is_no_number() -> None:
    """Infinite and undefined films are refused."""
    for bad in (np.nan, np.inf):
        with pytest.raises(LedgerError, match="below zero"):
            wall_of().add(Stratum("a", "coat", film_of(wall_of(), 1.0, bad)))
    assert wall_of().add(Stratum("a", "coat", film_of(wall_of(), 0.0))).ledger["a"].added == 0.0


def test_each_account_has_its_own_column() -> None:
    """Of 8 mil, 1 is wiped off twice and 2 run off: removed 2/8, run off 2/8, left 4/8; the height is not touched."""
    wall = wall_of().add(Stratum("glaze", "coat", film_of(wall_of(), 8.0)))
    whole = wall.ledger["glaze"].added
    for booked, depth in (("removed", 1.0), ("run_off", 2.0), ("removed", 1.0)):
        wall = wall.take("glaze", film_of(wall, depth), booked)  # type: ignore[arg-type]
    entry = wall.ledger["glaze"]
    assert (entry.added, entry.removed, entry.run_off) == pytest.approx((whole, whole / 4, whole / 4), rel=1e-6)
    assert np.all(wall.stratum("glaze").film == 4.0) and np.all(wall.height == 8.0)
    assert wall.take("glaze", film_of(wall, 1.0)).ledger["glaze"].removed > entry.removed


def test_rounding_is_taken_and_no_more() -> None:
    """A thousandth of the thickest film too much (or of a mil, on a thin one) is rounding, more is not."""
    for mil, slack in ((10.0, 0.01), (0.1, 0.001)):
        wall = wall_of().add(Stratum("glaze", "colour", film_of(wall_of(), mil)))
        left = wall.take("glaze", film_of(wall, mil + 0.9 * slack)).stratum("glaze").film
        assert np.all(left == 0.0)
        with pytest.raises(LedgerError):
            wall.take("glaze", film_of(wall, mil + 1.2 * slack))


def test_taking_from_one_stratum_leaves_the_others() -> None:
    """Other strata are the same objects, and the order stays."""
    wall = wall_of()
    for name in ("one", "two", "three"):
        wall = wall.add(Stratum(name, "colour", film_of(wall, 3.0)))
    got = wall.take("two", film_of(wall, 1.0))
    assert [one.name for one in got.strata] == ["one", "two", "three"]
    assert got.strata[0] is wall.strata[0] and got.strata[2] is wall.strata[2]
    assert np.all(got.strata[1].film == 2.0)


def test_what_soaked_in_stays_within_the_film() -> None:
    """Of 3 mil with 2 soaked in, taking 2 leaves 1 of which 1 is soaked in."""
    film, fixed = film_of(wall_of(), 3.0), film_of(wall_of(), 2.0)
    wall = wall_of().add(Stratum("stain", "colour", film, fixed))
    got = wall.take("stain", film_of(wall, 2.0)).stratum("stain")
    assert got.fixed is not None and np.all(got.fixed == 1.0) and np.all(got.film == 1.0)
    moved = wall.move("stain", film, fixed=film_of(wall, 0.5, 9.0)).stratum("stain").fixed
    assert moved is not None and moved.ravel()[:2].tolist() == [0.5, 3.0] and not moved.flags.writeable
    kept = wall.move("stain", film).stratum("stain").fixed
    assert kept is fixed and np.all(kept == 2.0)  # where all of it still fits, the same array


def test_a_move_is_scaled_by_its_rounding() -> None:
    """A move half a thousandth short is made good; twice a thousandth is an error, either way and with run-off."""
    wall = wall_of().add(Stratum("glaze", "colour", film_of(wall_of(), 4.0)))
    for factor in (0.9995, 1.0005):
        got = wall.move("glaze", film_of(wall, 4.0 * factor))
        assert np.allclose(got.stratum("glaze").film, 4.0, rtol=1e-6)
        assert got.ledger["glaze"].run_off == pytest.approx(0.0, abs=1e-9)
    for factor in (0.998, 1.002):
        with pytest.raises(LedgerError):
            wall.move("glaze", film_of(wall, 4.0 * factor))
    quarter = wall.gallons(film_of(wall, 1.0))
    got = wall.move("glaze", film_of(wall, 3.0), run_off_gal=quarter)
    got = got.move("glaze", film_of(wall, 2.0), run_off_gal=quarter)
    assert got.ledger["glaze"].run_off == pytest.approx(2 * quarter, rel=1e-6) and got.ledger["glaze"].removed == 0.0
    gone = got.move("glaze", film_of(wall, 0.0), run_off_gal=2 * quarter)
    assert gone.ledger["glaze"].run_off == pytest.approx(4 * quarter, rel=1e-6)


def test_colour_leaves_in_proportion_to_the_cut() -> None:
    """A cut of a quarter mil takes half of the colour on a coat, of half a mil or more all of it; none where no cut."""
    wall = wall_of(1, 4).add(Stratum("base", "coat", film_of(wall_of(1, 4), 5.0)))
    wall = wall.add(Stratum("stain", "colour", film_of(wall, 0.8)))
    got = wall.cut(np.array([[0.0, 0.25, 0.5, 2.0]], np.float32))
    assert got.stratum("stain").film.ravel() == pytest.approx([0.8, 0.4, 0.0, 0.0])
    assert got.stratum("base").film.ravel() == pytest.approx([5.0, 4.75, 4.5, 3.0])
    assert got.height.ravel() == pytest.approx([5.0, 4.75, 4.5, 3.0])
    closes(got)
    assert got.ledger["stain"].run_off == 0.0 and got.ledger["stain"].removed > 0.0


def test_what_no_cut_reaches_is_the_same_object() -> None:
    """A cut that ends in the upper coat leaves the lower strata as they are, and what it was told is not written to."""
    wall = wall_of().add(Stratum("base", "coat", film_of(wall_of(), 5.0)))
    wall = wall.add(Stratum("hole", "coat", film_of(wall, 0.0)))
    wall = wall.add(Stratum("top", "coat", film_of(wall, 5.0)))
    depth = film_of(wall, 2.0)
    got = wall.cut(depth)
    assert np.all(depth == 2.0)
    assert got.strata[0] is wall.strata[0] and got.strata[1] is wall.strata[1]
    assert np.all(got.strata[2].film == 3.0) and np.all(got.height == 8.0)


def test_below_a_sealer_nothing_moves() -> None:
    """What a sealer has covered cannot be named any more; colours above it can."""
    wall = wall_of()
    for name, role in [("base", "coat"), ("old", "colour"), ("sealer", "clear"), ("new", "colour"), ("more", "colour")]:
        wall = wall.add(Stratum(name, role, film_of(wall, 1.0)))  # type: ignore[arg-type]
    assert [one.name for one in wall.open_colours()] == ["new", "more"]
    assert [one.name for one in wall.open_colours(("old", "new", "base"))] == ["new"]
    assert wall_of().open_colours() == () and wall_of().open_colours(("old",)) == ()
    colours = wall_of().add(Stratum("only", "colour", film_of(wall_of(), 1.0)))
    assert [one.name for one in colours.open_colours()] == ["only"]
    assert [one.name for one in colours.open_colours(("only",))] == ["only"]


def test_even_stays_even_only_where_it_is() -> None:
    """A new value under all pixels is even; one under some is a field; an even field that is so already is kept."""
    field = np.broadcast_to(np.float32(0.3), (2, 3))
    some = np.array([[True, False, False], [False, False, True]])
    assert over(some, 0.3, field) is field
    assert over(np.ones((2, 3), bool), 0.5, field).strides == (0, 0)
    assert over(some, 0.5, field).tolist() == np.where(some, np.float32(0.5), np.float32(0.3)).tolist()
    drawn = np.array(field)
    assert over(some, drawn + 1, field)[0].tolist() == [np.float32(1.3), np.float32(0.3), np.float32(0.3)]
    mixed = np.array([[0.3, 0.9, 0.9], [0.9, 0.9, 0.9]], np.float32)
    assert over(some, 0.3, mixed)[1].tolist() == [np.float32(0.9), np.float32(0.9), np.float32(0.3)]


def test_what_a_stratum_and_an_account_are_unless_told() -> None:
    """Half thirsty, matt, nothing soaked in; an account of nothing; neither changes."""
    one = Stratum("a", "coat", film_of(wall_of(), 1.0))
    assert (one.fixed, one.thirst, one.sheen) == (None, 0.5, 0.0)
    assert Entry() == Entry(0.0, 0.0, 0.0)
    for frozen_ in (one, Entry(), wall_of()):
        with pytest.raises(AttributeError):
            frozen_.name = "b"  # type: ignore[misc, union-attr]


def test_a_given_field_is_locked() -> None:
    """What a wall is given cannot be written to any more, and its volume in error messages is signed."""
    wet = np.ones((4, 5), np.float32)
    assert not wall_of().evolve(wet=wet).wet.flags.writeable and not wet.flags.writeable
    wall = wall_of().add(Stratum("glaze", "colour", film_of(wall_of(), 1.0)))
    with pytest.raises(LedgerError, match=r"made \+4\.33e-05 gal"):  # half of 20 in² x 1 mil / 231
        wall.move("glaze", film_of(wall, 1.5))
