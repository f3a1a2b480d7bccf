"""What every layer kind keeps, whatever it does."""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from render import layers
from render.finish import read
from render.layers.base import Laid, Layer, Liquid, Wash
from render.pipeline import Site, build
from render.wall import Wall
from tests_support import base, plaster

KINDS = sorted(layers.kinds())
GLAZE = {
    "kind": "glaze",
    "name": "ground glaze",
    "material": "glaze medium",
    "colourants": {"raw umber": "4 tsp"},
    "spread": "300 ft2/gal",
}
MIST = {"kind": "mist", "name": "damp", "material": "water", "dose": "0.1 fl oz/ft2"}


def example(kind: str, name: str = "the layer", **more: Any) -> dict[str, Any]:
    """The least that a finish file says for a kind: its material, colourants or dose."""
    model = layers.kinds()[kind]
    given: dict[str, Any] = {"kind": kind, "name": name}
    if issubclass(model, Wash):
        given |= {"material": "glaze medium", "colourants": {"burnt umber": "3 tsp"}}
    elif issubclass(model, Laid):
        given |= {"material": {"size": "release size", "sealer": "clear sealer"}.get(kind, "lime topping")}
    elif issubclass(model, Liquid):
        given |= {"material": "isopropyl alcohol" if kind == "alcohol" else "water", "dose": "0.1 fl oz/ft2"}
    return {**given, **more}


@lru_cache(maxsize=128)
def walls(kind: str, name: str = "the layer", ppi: float = 12.5, pour: int = 3) -> tuple[Wall, Wall, Layer]:
    """The wall before and after a layer on plaster with a wet glaze."""
    finish = read({"name": "contract", "layer": [base(), plaster(), MIST, GLAZE, example(kind, name)]})
    built = build(finish, Site(24.0, 20.0, ppi, pour), keep_walls=True)
    return built.walls[-2], built.walls[-1], finish.layers[-1]


@pytest.mark.parametrize("kind", KINDS)
def test_has_its_own_test_file(kind: str) -> None:
    """One layer kind, one file, one test file."""
    assert (Path(__file__).parent / "layers" / f"test_{kind}.py").is_file()


@pytest.mark.parametrize("kind", KINDS)
def test_every_key_is_documented(kind: str) -> None:
    """A layer kind says what it is, and its own keys say what they do."""
    model = layers.kinds()[kind]
    assert model.__doc__
    shared = set(Layer.model_fields) | set(Laid.model_fields) | set(Wash.model_fields) | set(Liquid.model_fields)
    silent = [k for k, field in model.model_fields.items() if k not in shared and not field.description]
    assert not silent


@pytest.mark.parametrize("kind", KINDS)
def test_fields_stay_finite_and_within_bounds(kind: str) -> None:
    """Every field is finite; shares stay between 0 and 1; no film is negative; arrays are read-only."""
    _, after, _ = walls(kind)
    for name in ("height", "wet", "thirst", "sheen", "tone", "slip", "loose", "cracks"):
        field = getattr(after, name)
        assert field.dtype == np.float32 and field.shape == after.grid.shape and not field.flags.writeable
        assert np.isfinite(field).all(), name
        if name not in ("height", "tone"):
            assert field.min() >= -1e-6 and field.max() <= 1 + 1e-6, name
    assert after.tone.min() > 0.3 and after.tone.max() < 1.7
    for one in after.strata:
        assert one.film.dtype == np.float32 and not one.film.flags.writeable
        assert np.isfinite(one.film).all() and one.film.min() >= 0


@pytest.mark.parametrize("kind", KINDS)
def test_ledger_closes(kind: str) -> None:
    """Added = on the wall + removed + run off for every stratum, to 1e-6."""
    _, after, _ = walls(kind)
    for one in after.strata:
        entry = after.ledger[one.name]
        assert after.gallons(one.film) == pytest.approx(entry.added - entry.removed - entry.run_off, rel=1e-6, abs=1e-9)
        assert entry.removed >= -1e-9 and entry.run_off >= -1e-9


@pytest.mark.parametrize("kind", KINDS)
def test_same_pour_same_bytes(kind: str) -> None:
    """The same finish, wall and pour give the same arrays bit for bit."""
    _, first, _ = walls(kind)
    walls.cache_clear()
    _, second, _ = walls(kind)
    assert first.height.tobytes() == second.height.tobytes()
    for one, other in zip(first.strata, second.strata, strict=True):
        assert one.film.tobytes() == other.film.tobytes()


@pytest.mark.parametrize("kind", KINDS)
def test_volume_and_coverage(kind: str) -> None:
    """What a layer lays is its mixed volume to 1e-6, and covers what was asked to half a point."""
    _, after, layer = walls(kind)
    if not isinstance(layer, Laid):
        assert layer.name not in after.ledger
        return
    mixed = layer.amounts(after.area_ft2).mixed.likely
    assert after.ledger[layer.name].added == pytest.approx(mixed, rel=1e-6)
    achieved = layer.achieved(*walls(kind)[:2])
    assert achieved == (None if layer.asked is None else pytest.approx(layer.asked, abs=0.005))


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("share", ["2 %", "37 %", "100 %"])
def test_coverage_from_little_to_all(kind: str, share: str) -> None:
    """Coverage from 2 % to 100 % is met within half a point."""
    model = layers.kinds()[kind]
    if not issubclass(model, Laid):
        pytest.skip("asks for no coverage of its own")
    finish = read({"name": "c", "layer": [base(), plaster(), example(kind, coverage=share)]})
    built = build(finish, Site(18.0, 16.0, 12.5, 5))
    done = built.done[-1]
    asked = done.layer.asked
    assert done.achieved == (None if asked is None else pytest.approx(asked, abs=0.005))
    mixed = done.amounts.mixed.likely
    assert built.wall.ledger["the layer"].added == pytest.approx(mixed, rel=1e-6)


@pytest.mark.parametrize("kind", KINDS)
def test_resolutions_agree(kind: str) -> None:
    """The wall at 12.5 px/in is the wall at 25 px/in averaged down: correlation at least .96."""
    coarse, fine = walls(kind)[1], walls(kind, ppi=25.0)[1]

    def halved(field: np.ndarray) -> np.ndarray:
        rows, cols = coarse.grid.shape
        return field.reshape(rows, 2, cols, 2).mean((1, 3))

    assert np.corrcoef(halved(fine.height).ravel(), coarse.height.ravel())[0, 1] >= 0.96
    for one, other in zip(coarse.strata, fine.strata, strict=True):
        if one.film.std() > 1e-4 * max(one.film.mean(), 1e-9):
            assert np.corrcoef(halved(other.film).ravel(), one.film.ravel())[0, 1] >= 0.93, one.name


@pytest.mark.parametrize("kind", KINDS)
def test_placement_goes_by_name(kind: str) -> None:
    """A layer of another name is laid by another hand; inserting a layer leaves the others as they were."""
    _, after, layer = walls(kind)
    _, other, _ = walls(kind, "another name")
    if isinstance(layer, Laid):
        film, second = after.stratum("the layer").film, other.stratum("another name").film
        if film.std() > 1e-3 * film.mean():
            # a coat that levels fills the same hollows whoever lays it: other coats are far below this
            assert abs(np.corrcoef(film.ravel(), second.ravel())[0, 1]) < 0.985
    before, _, _ = walls(kind)
    kept, _, _ = walls(kind, "another name")
    assert before.height.tobytes() == kept.height.tobytes()
