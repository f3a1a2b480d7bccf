"""Running layers: order, cache, accounts."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from render.finish import read
from render.picture import preview
from render.pipeline import Cache, Site, Stopped, build, keys
from render.recall import Recall
from tests_support import SMALL, base, plaster, small_finish, table

SITE = Site(10.0, 12.0, 12.5, 7)


def test_inserting_a_layer_leaves_the_others_alone() -> None:
    """With a mist slipped in between, the base and the plaster are bit for bit the same."""
    mist = {"kind": "mist", "name": "in between", "material": "water", "dose": "0.01 fl oz/ft2"}
    plain = build(read(table(base(), plaster())), SITE)
    more = build(read(table(base(), mist, plaster())), SITE)
    for name in ("base", "top plaster"):
        assert plain.wall.stratum(name).film.tobytes() == more.wall.stratum(name).film.tobytes()


def test_cached_walls_are_the_same_objects() -> None:
    """A second build lays nothing again; a change in the last layer keeps the walls before it."""
    cache = Cache()
    first = build(small_finish(), SITE, cache=cache, keep_walls=True)
    second = build(small_finish(), SITE, cache=cache, keep_walls=True)
    assert all(a is b for a, b in zip(first.walls, second.walls, strict=True))
    changed = build(read(table(base(), plaster(coverage="60 %"))), SITE, cache=cache, keep_walls=True)
    assert changed.walls[0] is first.walls[0] and changed.walls[1] is not first.walls[1]


def test_colour_and_price_are_no_part_of_the_wall() -> None:
    """Another colour of the same material, or another note, gives the same keys; another spread does not."""
    plain = read(table(base(), plaster()))
    lime = {"class": "plaster", "colour": "#aa8866", "absorbency": "60 %", "hides": "5 mil", "spread": "66 ft2/gal"}
    tinted = read({**table(base(note="n"), plaster()), "material": {"lime topping": lime}})
    assert keys(plain, SITE) == keys(tinted, SITE)
    assert keys(plain, SITE) != keys(read(table(base(spread="170 ft2/gal"), plaster())), SITE)
    assert keys(plain, SITE) != keys(plain, Site(10.0, 12.0, 12.5, 8))


def test_small_cache_forgets_but_stays_right() -> None:
    """A cache with room for one wall gives the same result."""
    tiny = Cache(limit_bytes=1)
    first, second = (build(small_finish(), SITE, cache=tiny) for _ in range(2))
    assert first.wall.height.tobytes() == second.wall.height.tobytes()


def test_what_walls_share_counts_once_in_the_cache() -> None:
    """Two walls that share a field of 100 pixels and have one of their own each hold 1200 bytes; an even field none."""
    bare = Site(1.0, 1.0, 10.0).bare()
    field = np.arange(100, dtype=np.float32).reshape(10, 10)
    first = bare.evolve(height=field, tone=field + 1)
    second = first.evolve(tone=field + 2)
    done = build(small_finish(), SITE).done[0]
    cache = Cache(limit_bytes=1200)
    for key, wall in (("first", first), ("second", second), ("second", second)):
        cache.put(key, wall, done)
    assert cache.get("first") and cache.get("second")
    cache.put("third", second.evolve(wet=field + 3), done)
    assert cache.get("first") is None and cache.get("second") and cache.get("third")


def test_stop_between_layers() -> None:
    """Work can be called off."""
    asked: list[int] = []

    def stop() -> bool:
        asked.append(1)
        return len(asked) > 1

    with pytest.raises(Stopped):
        build(small_finish(), SITE, stop=stop)


def test_a_layer_under_way_is_called_off() -> None:
    """Called off after the last layer has begun, the work stops inside it, and nothing half done is kept."""
    begun: list[str] = []
    cache = Cache()
    last = small_finish().layers[-1].name
    with pytest.raises(Stopped):
        build(small_finish(), SITE, cache=cache, progress=lambda *at: begun.append(at[2]), stop=lambda: last in begun)
    assert begun[-1] == last
    again, whole = build(small_finish(), SITE, cache=cache), build(small_finish(), SITE)
    assert again.wall.height.tobytes() == whole.wall.height.tobytes()


def test_colour_and_light_are_called_off() -> None:
    """Called off when the last layer lies, at the first question or at a later one, no picture comes; else it is whole.

    The same cache and recall then give the picture that a fresh start gives.
    """
    cache, recall, finish = Cache(), Recall(), small_finish()
    whole = preview(finish, "36 in x 30 in", 12.5, cache=cache)
    asked: list[int] = []
    preview(finish, "36 in x 30 in", 12.5, cache=cache, stop=lambda: bool(asked.append(1)))
    assert len(asked) > 5  # more often than between layers, colour and light
    for last in range(1, len(asked)):
        left = iter(range(last))
        with pytest.raises(Stopped):
            preview(finish, "36 in x 30 in", 12.5, cache=cache, recall=recall, stop=lambda: next(left, None) is None)  # noqa: B023
    again = preview(finish, "36 in x 30 in", 12.5, cache=cache, recall=recall)
    assert again.image.tobytes() == whole.image.tobytes()


def test_ledger_by_material_closes() -> None:
    """Per material: added = on the wall + removed + run off, to 1e-6, water of thinning included."""
    sand = {"kind": "sand", "name": "rub", "depth": "4 mil"}
    got = preview(small_finish(sand), **SMALL)
    assert set(got.ledger) == {"sanded wall coat", "lime topping", "water"}
    for account in got.ledger.values():
        closing = account["on_wall_gal"] + account["removed_gal"] + account["run_off_gal"]
        assert account["added_gal"] == pytest.approx(closing, rel=1e-6)
    assert got.ledger["lime topping"]["removed_gal"] > 0
    assert got.layers[2].removed_gal == pytest.approx(sum(a["removed_gal"] for a in got.ledger.values()), rel=1e-6)


def test_visible_shares_sum_to_one() -> None:
    """What is seen is one of the layers or the bare wall."""
    got = preview(small_finish(), **SMALL)
    assert got.bare_share + sum(line.visible_share for line in got.layers) == pytest.approx(1.0, abs=1e-5)


def test_film_is_the_estimate() -> None:
    """The mean film of a coat is 1604.1667 x mixed gallons / ft², and ``film`` is read-only."""
    got = preview(small_finish(), **SMALL)
    line = got.layers[1]
    film = got.film("top plaster")
    area = 10 * 12 / 144
    assert film.mean(dtype=np.float64) == pytest.approx(231 / 0.144 * line.mixed_gal / area, rel=1e-6)
    assert line.product_gal == pytest.approx(area / 66.0, rel=1e-12)
    assert line.mixed_gal == pytest.approx(area / 66.0 * 1.2, rel=1e-12)
    assert not film.flags.writeable


def test_no_layers_is_the_bare_wall() -> None:
    """A finish without layers shows the wall's own colour."""
    got = preview(read(table()), **SMALL)
    assert got.bare_share == 1.0 and got.layers == ()


def test_a_late_change_needs_no_early_wall(monkeypatch) -> None:
    """Where only the last wall is still kept, a new last layer lays itself alone, with every account as before."""
    laid: list[str] = []
    for kind in {type(one) for one in small_finish().layers}:
        monkeypatch.setattr(kind, "apply", _noting(laid, kind.apply))
    sand = {"kind": "sand", "name": "sand"}
    whole = build(read(table(base(), plaster(), sand)), SITE)
    laid.clear()
    tiny = Cache(limit_bytes=1)
    build(read(table(base(), plaster())), SITE, cache=tiny)
    got = build(read(table(base(), plaster(), sand)), SITE, cache=tiny)
    assert laid == ["base", "top plaster"]
    assert got.wall.height.tobytes() == whole.wall.height.tobytes()
    assert got.done == whole.done


def _noting(laid: list[str], plain: Any) -> Any:
    def apply(self: Any, wall: Any, streams: Any) -> Any:
        laid.append(self.name)
        return plain(self, wall, streams)

    return apply
