"""Preview sheet, step board and map."""

from __future__ import annotations

import re
from typing import Any

import numpy as np
import pytest
from test_contract import example

from render import layers
from render.picture import LayerLine, preview
from render.sheets import lettering, map_sheet, preview_sheet, step_board
from tests_support import SMALL, base, small_finish, table


def test_the_sheet_holds_the_picture_and_the_list() -> None:
    """The sheet is wider than the wall by its list, and the wall stands in it unchanged in shape."""
    got = preview(small_finish(), **SMALL)
    page = preview_sheet.sheet(got)
    assert page.width > page.height * 1.2
    assert np.asarray(page).std() > 10


def test_long_names_and_markup_are_only_text() -> None:
    """Long words break, accents draw, markup is text, and lines keep to their width."""
    text = "Überlängenschaumkronenputz" * 4 + " <b>&amp;</b> čšž"
    lines = lettering.wrap(text, "text", 20, 200)
    assert all(lettering.font("text", 20).getlength(line) <= 210 for line in lines)
    assert "".join(lines).replace(" ", "") == text.replace(" ", "")
    assert lettering.wrap("one two three four", "text", 20, 60, 2)[-1].endswith("…")
    got = preview(small_finish({"kind": "sand", "name": "<script>alert(1)</script> " * 3}), **SMALL)
    preview_sheet.sheet(got)


@pytest.mark.parametrize(
    ("share", "words"), [(0.0, "0 %"), (0.004, "0.4 %"), (0.0149, "1.5 %"), (0.5, "50 %"), (1.0, "100 %")]
)
def test_per_cent(share: float, words: str) -> None:
    """Shares are whole points, tenths below two."""
    assert preview_sheet.per_cent(share) == words


def test_a_number_keeps_its_unit_at_the_end_of_a_line() -> None:
    """Whatever the width, no line ends between a number and its unit, and nothing else is tied."""
    text = "about 1.5 % of the wall, 3.4 (3.1–3.7) gal on 16 ft² in 2 buckets, ½ tsp in 4.0 fl oz, 12 mil"
    ends = ("1.5", "gal", "fl", "3.7)", "16", "½", "4.0", "12")
    for width in range(180, 900, 10):  # no number with its unit is wider, so none is broken
        lines = [line.strip() for line in lettering.wrap(text, "text", 20, width)]
        assert [line for line in lines if line.endswith(ends[:1] + ends[2:])] == []
    assert lettering.tie("2 buckets of 5 gal") == "2 buckets of 5\u00a0gal"
    assert lettering.tie("68 %  ·  25 mil") == "68\u00a0%\u00a0· 25\u00a0mil"
    assert lettering.wrap("one · two", "text", 20, 60) == ["one", "two"]
    assert lettering.tie("3 minutes, 4 medium, 12 h") == "3 minutes, 4 medium, 12\u00a0h"


def line(**more: Any) -> LayerLine:
    """A line of the list: two parts in a hundred of a spattered colour, as little as it takes."""
    given = {
        "name": "spatter", "kind": "spatter", "words": "spattered", "asked": 0.02, "achieved": 0.02,
        "visible_share": 0.01, "wet_mil": 0.006, "product_gal": 0.0003, "water_gal": 0.0, "mixed_gal": 0.0003,
        "removed_gal": 0.0, "run_off_gal": 0.0,
    }  # fmt: skip
    return LayerLine(**{**given, **more})


def test_small_amounts_are_told_as_they_are_measured_or_not_at_all() -> None:
    """.0003 gal are .2 tsp (768 to the gallon); .00001 gal nobody measures, nor a film of .006 mil."""
    assert preview_sheet.line_facts(line()) == ("spattered", "2 % of the wall", "", "0.2 tsp")
    assert preview_sheet.line_facts(line(mixed_gal=1e-5))[2:] == ("", "")
    told = preview_sheet.line_facts(line(wet_mil=12.0, mixed_gal=0.3, water_gal=0.1))
    assert told[2:] == ("12 mil", "0.30 gal")
    assert preview_sheet.line_facts(line(mixed_gal=0.3), "metric")[3] == "1.14 L"


def test_words_that_only_repeat_the_name_are_left_out() -> None:
    """A clear sealer is not called a clear sealer twice."""
    assert preview_sheet.own_words(line(name="clear sealer", words="clear sealer")) == ""
    assert preview_sheet.own_words(line(name="size", words="size, brushed on")) == "brushed on"


def test_a_crowded_line_loses_its_film_first() -> None:
    """Words stay longest; then the coverage, the volume, the film."""
    facts = ("plaster skip-trowelled", "68 % of the wall", "25 mil", "31.4 fl oz")
    told = [preview_sheet.fitting(facts, 20, width, 1) for width in (900, 460, 380, 250)]
    assert told == ["  ·  ".join(kept) for kept in (facts, (*facts[:2], facts[3]), facts[:2], facts[:1])]


@pytest.mark.parametrize("kind", sorted(layers.kinds()))
def test_shares_are_written_in_one_form(kind: str) -> None:
    """Whatever the kind, a share in a layer's words has a space before its sign."""
    assert not re.search(r"\d%", layers.kinds()[kind].model_validate(example(kind)).words())


@pytest.mark.parametrize(("count", "across"), [(1, 1), (3, 3), (4, 2), (6, 3), (12, 4), (20, 5), (21, 7)])
def test_a_board_has_full_rows(count: int, across: int) -> None:
    """Square pictures stand in about half as many rows again as columns, the last row full where it can be."""
    assert step_board.across_for(count, 1.0, 1.0) == across


def test_step_board_has_a_picture_for_every_layer() -> None:
    """Each layer's wall is shown once, in order; with no layers an empty board is drawn."""
    from render.picture import site_for
    from render.pipeline import build

    finish = small_finish({"kind": "sand", "name": "rub"})
    built = build(finish, site_for("8 in x 6 in", 12.5, 1), keep_walls=True)
    pictures = step_board.step_pictures(built, "window left 16 deg")
    assert len(pictures) == 3 and pictures[0].size == (100, 75)
    assert step_board.arrange(finish, pictures, "here").width > 300
    assert step_board.arrange(finish.__class__("empty", ()), [], "here").height > 50


def test_map_regions_sum_to_the_wall() -> None:
    """Regions cover the wall, and a full base has all of it."""
    from render.finish import read

    got = preview(small_finish(), **SMALL)
    found = map_sheet.regions(got)
    assert sum(share for _, share, _ in found) == pytest.approx(1.0)
    assert {name: share for name, share, _ in found}["top plaster"] == pytest.approx(0.7, abs=0.08)
    only = preview(read(table(base())), **SMALL)
    assert map_sheet.regions(only)[0][:1] == ("base",) and map_sheet.sheet(only).width > 560


def test_a_line_about_the_wall_leaves_out_what_varies() -> None:
    """Size, light and pour are told where they are the same for all pictures of a sheet."""
    from render.pipeline import Site

    site = Site(48.0, 96.0, 10.0, 3)
    assert preview_sheet.where_words(site, "even") == "8 × 4 ft (32 ft²)  ·  even  ·  pour 3"
    assert preview_sheet.where_words(site, None, pour=False) == "8 × 4 ft (32 ft²)"
    told = preview_sheet.where_words(site, "window left 16 deg", units="metric")
    assert told == "2.438 × 1.219 m (2.97 m²)  ·  window left 16°  ·  pour 3"
