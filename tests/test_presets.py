"""The shipped finishes: each one reads, renders, has an estimate, and keeps what the wall promises."""

from __future__ import annotations

import math
from functools import lru_cache

import pytest

from render import picture
from render.estimate.quantities import finish_estimate
from render.finish import Finish, load, shipped_names
from render.layers.base import Laid, Wash
from render.pipeline import Built, Site, build
from render.sheets.step_board import board
from render.units import MIL_FT2_PER_GAL

NAMES = shipped_names()
SITE = Site(24.0, 24.0, 6.0, 3)
# Kinds that move within their own layer, or that have no coverage of their own to keep.
_MOVES = ("glaze", "spatter", "streak", "sealer")


@lru_cache(maxsize=len(NAMES))
def opened(name: str) -> Finish:
    """Return a shipped finish, read once."""
    return load(name)


@lru_cache(maxsize=len(NAMES))
def built(name: str) -> Built:
    """Return a shipped finish on a small wall, with the wall after each layer."""
    return build(opened(name), SITE, keep_walls=True)


def test_the_book_has_thirteen_finishes_of_eight_families() -> None:
    """A finisher finds at least thirteen finishes of at least eight families, and no two of one name."""
    finishes = [opened(name) for name in NAMES]
    assert len(finishes) >= 13
    assert len({one.family for one in finishes}) >= 8
    assert len({one.name for one in finishes}) == len(finishes)


@pytest.mark.parametrize("name", NAMES)
def test_a_preset_tells_what_it_is_for(name: str) -> None:
    """Every shipped finish says in words what it is, when to use it and what to watch for, and names its layers."""
    finish = opened(name)
    assert all(len(text) > 20 for text in (finish.summary, finish.use, finish.watch)), name
    assert finish.family
    assert all(layer.words() for layer in finish.layers)


@pytest.mark.parametrize("name", NAMES)
def test_a_preset_renders(name: str) -> None:
    """A preview has the wall's pixels and a line for each layer; visible shares and the bare wall make one."""
    got = picture.preview(opened(name), "12 in x 8 in", 6.0, 2)
    assert got.image.size == (72, 48)
    assert [one.name for one in got.layers] == [one.name for one in opened(name).layers]
    assert math.isclose(sum(one.visible_share for one in got.layers) + got.bare_share, 1.0, abs_tol=1e-4)


@pytest.mark.parametrize("name", NAMES)
def test_a_preset_has_a_step_board(name: str) -> None:
    """The wall after each layer can be shown in one picture."""
    assert min(board(opened(name), "6 in x 6 in", 6.0, 1, picture.DEFAULT_LIGHT).size) > 36


@pytest.mark.parametrize("name", NAMES)
def test_a_preset_has_an_estimate(name: str) -> None:
    """Every material of a preset is on the shelf with a size and a price, and costs something on 100 ft²."""
    got = finish_estimate(opened(name), 100.0)
    assert got.unpriced == ()
    assert got.cost > 0
    assert len(got.layers) == len(opened(name).layers)


@pytest.mark.parametrize("name", NAMES)
def test_coverage_is_what_is_asked(name: str) -> None:
    """Where a layer covers a share of the wall, what it covers is within half a point of what is asked."""
    for done in built(name).done:
        if isinstance(done.layer, Laid) and done.layer.kind not in _MOVES:
            assert done.achieved is not None
            assert abs(done.achieved - done.layer.coverage) <= 0.005, done.layer.name


@pytest.mark.parametrize("name", NAMES)
def test_film_is_the_mixed_volume(name: str) -> None:
    """What a layer adds is its mixed volume, to a millionth: spread, thinning and coverage are all in it."""
    got = built(name)
    for layer in got.finish.layers:
        if isinstance(layer, Laid):
            mixed = layer.amounts(SITE.area_ft2).mixed.likely
            assert math.isclose(got.wall.ledger[layer.name].added, mixed, rel_tol=1e-6), layer.name


@pytest.mark.parametrize("name", NAMES)
def test_the_ledger_closes(name: str) -> None:
    """For every stratum, added = on the wall + removed + run off, to a millionth of what was added."""
    wall = built(name).wall
    for one in wall.strata:
        entry = wall.ledger[one.name]
        there = float(one.film.mean(dtype="float64")) * wall.area_ft2 / MIL_FT2_PER_GAL
        assert abs(entry.added - there - entry.removed - entry.run_off) <= 1e-6 * max(entry.added, 1e-12), one.name


@pytest.mark.parametrize("name", NAMES)
def test_same_pour_same_wall(name: str) -> None:
    """The same pour gives the same bytes; another pour gives another wall."""
    site = Site(8.0, 8.0, 6.0, 5)
    first, again = (build(opened(name), site).wall for _ in range(2))
    other = build(opened(name), Site(8.0, 8.0, 6.0, 6)).wall
    assert first.height.tobytes() == again.height.tobytes()
    assert all(a.film.tobytes() == b.film.tobytes() for a, b in zip(first.strata, again.strata, strict=True))
    assert first.height.tobytes() != other.height.tobytes()


def test_glazes_have_a_recipe() -> None:
    """No glaze of the book is more than a fifth colourant by volume: beyond that it is paint."""
    for name in NAMES:
        for layer in opened(name).layers:
            if isinstance(layer, Wash):
                pigment = sum(layer.colourants.values())
                assert pigment <= 0.25 * layer.medium, (name, layer.name)
