"""Preview sheet, step board and map."""

from __future__ import annotations

import numpy as np
import pytest

from render.picture import preview
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


def test_volumes_as_a_finisher_measures() -> None:
    """A quart and more in gallons, less in fluid ounces."""
    assert preview_sheet.volume(1.5) == "1.50 gal"
    assert preview_sheet.volume(1 / 128) == "1.0 fl oz"


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
    assert preview_sheet.where_words(site, "even") == "8 ft x 4 ft (32 ft²)  ·  even  ·  pour 3"
    assert preview_sheet.where_words(site, None, pour=False) == "8 ft x 4 ft (32 ft²)"
