"""A recalled part of the last picture never changes the next one."""

from __future__ import annotations

import numpy as np
import pytest

from render import composite, light
from render.finish import read
from render.picture import preview
from render.pipeline import Cache
from render.recall import Lower, Recall, common
from tests_support import base, plaster, table

WALL = {"wall": "5 in x 4 in", "ppi": 25.0}
STAIN = {"kind": "spatter", "name": "stain", "material": "glaze medium", "spread": "800 ft2/gal"}


def finish(coverage="70 %", colour="raw umber", amount="2 tsp"):
    """Base, plaster and a spattered colour."""
    return read(table(base(), plaster(coverage=coverage), {**STAIN, "colourants": {colour: amount}}))


SEQUENCE = [
    (finish(), "window left 16 deg"),
    (finish(colour="burnt umber"), "window left 16 deg"),
    (finish(colour="burnt umber", amount="4 tsp"), "window left 16 deg"),
    (finish(coverage="50 %"), "window left 16 deg"),
    (finish(coverage="50 %"), "overhead 25 deg, 2700 K"),
    (finish(coverage="50 %"), "even"),
    (finish(coverage="50 %"), "window left 30 deg"),
    (read(table(base())), "window left 30 deg"),
    (finish(), "window left 16 deg"),
]


def test_pictures_are_the_same_with_and_without_recall():
    """Through changes of colour, coverage, layers and lamp, picture and shares are equal bit for bit."""
    recall, cache = Recall(), Cache()
    for one, lamp in SEQUENCE:
        plain = preview(one, **WALL, light=lamp, cache=cache)
        quick = preview(one, **WALL, light=lamp, cache=cache, recall=recall)
        assert np.array_equal(np.asarray(plain.image), np.asarray(quick.image))
        assert plain.seen.shares == quick.seen.shares
        assert np.array_equal(plain.seen.main, quick.seen.main)


def test_a_change_on_top_lays_no_lower_colour_again(monkeypatch):
    """The third of three like pictures lays no coat again, and no light on the relief."""
    recall, cache = Recall(), Cache()
    laid: list[int] = []
    lit: list[int] = []
    coated, sky = composite._coated, light.sky_visibility
    monkeypatch.setattr(composite, "_coated", lambda *given: laid.append(1) or coated(*given))
    monkeypatch.setattr(light, "sky_visibility", lambda *given: lit.append(1) or sky(*given))
    counts = []
    for amount in ("1 tsp", "2 tsp", "3 tsp"):
        preview(finish(amount=amount), **WALL, light="window left 16 deg", cache=cache, recall=recall)
        counts.append((len(laid), len(lit)))
        laid.clear(), lit.clear()
    assert counts == [(2, 1), (2, 0), (0, 0)]


@pytest.mark.parametrize(
    ("first", "second", "alike"), [("aab", "aac", 2), ("", "a", 0), ("ab", "ab", 2), ("abc", "ab", 2)]
)
def test_common_marks_are_those_before_the_first_difference(first, second, alike):
    """Arrays count by identity, bytes by value."""
    arrays = {letter: np.zeros(2) for letter in "abc"}
    marks = [tuple((arrays[letter], bytes([7]), None) for letter in word) for word in (first, second)]
    assert common(*marks) == alike


def test_equal_arrays_that_are_not_the_same_are_not_recalled():
    """A copy of a film is another film: nothing is compared value by value."""
    mark = (np.zeros(3), b"k")
    recall = Recall()
    recall.keep_lower(Lower((mark,), np.zeros(1)))
    assert recall.lower((mark,), [0, 1])[0] is not None
    assert recall.lower(((mark[0].copy(), b"k"),), [0, 1])[0] is None


def test_nothing_is_kept_or_recalled_amid_colours():
    """Where two strata do not stand by themselves, one is kept; and what was kept of two is not taken."""
    marks = tuple((np.zeros(3), bytes([letter])) for letter in b"abc")
    recall = Recall()
    recall.lower(marks, [0, 1, 3])
    assert recall.lower((*marks[:2], (np.zeros(3), b"d")), [0, 1, 3]) == (None, 1)
    recall.keep_lower(Lower(marks[:2], np.zeros(1)))
    assert recall.lower(marks, [0, 1, 3])[0] is None
