"""Chipping: how much falls, from where, and what lies bare afterwards."""

from __future__ import annotations

from functools import lru_cache
from typing import Any

import numpy as np
import pytest
from pydantic import ValidationError
from scipy import ndimage

from render.layers.chip import Chip
from render.layers.crackle_coat import CrackleCoat
from render.layers.size import Size
from render.seeds import Streams
from render.wall import Stratum, Wall

PPI = 40.0
BASE_MIL = 5.0


@lru_cache(maxsize=4)
def crackled(pour: int = 2) -> Wall:
    """Return a wall with an even base, size over half of it, a crackle coat and a thin glaze on top."""
    wall = Wall.bare(16.0, 16.0, PPI)
    wall = wall.add(Stratum("base", "coat", np.full(wall.grid.shape, BASE_MIL, np.float32), thirst=0.3, sheen=0.1))
    size = Size.model_validate({"name": "size", "material": "release size", "coverage": "50 %"})
    wall = size.apply(wall, Streams(pour, "size"))
    coat = CrackleCoat.model_validate({"name": "crackle", "material": "crackle plaster"})
    wall = coat.apply(wall, Streams(pour, "crackle"))
    return wall.add(Stratum("glaze", "colour", np.full(wall.grid.shape, 0.4, np.float32)))


def chipped(wall: Wall, **keys: Any) -> Wall:
    """Return the wall after chipping."""
    return Chip.model_validate({"name": "chip", **keys}).apply(wall, Streams(2, "chip"))


@pytest.mark.parametrize("loss", [0.005, 0.03, 0.08, 0.2])
def test_no_more_falls_than_asked(loss: float) -> None:
    """The share of the wall that lost any film is at most the loss, and most of the loss while enough is loose."""
    before = crackled()
    after = chipped(before, loss=f"{loss:.1%}")
    lost = np.mean(after.stratum("crackle").film < before.stratum("crackle").film)
    assert lost <= loss
    assert lost > 0.85 * loss
    assert np.mean(after.fallen > 0) <= loss


def test_what_is_not_loose_stays() -> None:
    """Asked for everything, only film over size falls; on a bonded wall nothing does."""
    before = crackled()
    after = chipped(before, loss="100 %")
    lost = after.stratum("crackle").film < before.stratum("crackle").film
    assert lost.mean() < 0.5 and not (lost & (before.loose == 0)).any()
    wall = Wall.bare(6.0, 6.0, 25.0)
    bonded = CrackleCoat.model_validate({"name": "c", "material": "crackle plaster"}).apply(wall, Streams(1, "c"))
    assert chipped(bonded, loss="50 %") is bonded


@pytest.mark.parametrize("loss", ["5 %", "40 %"])
def test_every_hole_lies_within_the_size_plus_3_mm(loss: str) -> None:
    """No point that lost film is more than 3 mm from the size (scipy's exact distance transform)."""
    before = crackled()
    after = chipped(before, loss=loss)
    lost = after.stratum("crackle").film < before.stratum("crackle").film
    away = ndimage.distance_transform_edt(before.stratum("size").film <= 0) / PPI * 25.4
    assert lost.any() and away[lost].max() <= 3.0


def test_what_fell_is_booked_as_removed() -> None:
    """Added = on the wall + removed for the coat and the glaze on it; nothing of the base or the size goes."""
    before = crackled()
    after = chipped(before, loss="10 %")
    for name in ("crackle", "glaze"):
        entry = after.ledger[name]
        assert entry.removed > 0
        assert after.gallons(after.stratum(name).film) + entry.removed == pytest.approx(entry.added, rel=1e-6)
    for name in ("base", "size"):
        assert after.stratum(name).film is before.stratum(name).film or np.allclose(
            after.stratum(name).film, before.stratum(name).film, atol=1e-4
        )
        assert after.ledger[name].removed < 1e-6


def test_beneath_lies_what_really_is_there() -> None:
    """The holes' height is base plus size; nothing of the coat, its glaze, its cracks or its looseness is left.

    Almost all of a hole lies over size; film does not hold to specks between, and there the base lies open.
    """
    before = crackled()
    after = chipped(before, loss="8 %")
    hole = after.fallen >= 1.0
    assert hole.any()
    floor = BASE_MIL + after.stratum("size").film
    np.testing.assert_allclose(after.height[hole], floor[hole], atol=0.05)
    assert after.stratum("crackle").film[hole].max() < 1e-4
    assert after.stratum("glaze").film[hole].max() < 1e-4
    assert not after.cracks[hole].any() and not after.loose[hole].any()
    material = Size.model_validate({"name": "s", "material": "release size"}).material
    sized = after.stratum("size").film[hole] > 0
    assert sized.mean() > 0.995
    np.testing.assert_allclose(after.thirst[hole], np.where(sized, material.absorbency, 0.3), atol=1e-5)
    np.testing.assert_allclose(after.sheen[hole], np.where(sized, material.sheen, 0.1), atol=1e-5)


def test_outside_nothing_changes() -> None:
    """Where no film was lost every field is as it was, bit for bit."""
    before = crackled()
    after = chipped(before, loss="8 %")
    kept = after.stratum("crackle").film == before.stratum("crackle").film
    for name in ("height", "thirst", "sheen", "tone", "cracks", "loose", "wet"):
        assert np.array_equal(getattr(after, name)[kept], getattr(before, name)[kept]), name


def test_a_ledge_slopes_between_coat_and_hole() -> None:
    """Round the holes part of the film is left, on .15 to 3 mm on average."""
    before = crackled()
    after = chipped(before, loss="10 %")
    rest = after.stratum("crackle").film / np.maximum(before.stratum("crackle").film, 1e-6)
    ledge = (rest > 0.02) & (rest < 0.98)
    hole = rest <= 0.02
    rim = np.count_nonzero(hole[1:] ^ hole[:-1]) + np.count_nonzero(hole[:, 1:] ^ hole[:, :-1])
    assert 0.15 < ledge.sum() / (rim * np.pi / 4.0) / PPI * 25.4 < 3.0


def test_a_ledge_is_steep_at_its_foot() -> None:
    """Half way down a ledge two thirds of the film still lie, and hide: a straight slope would have half."""
    before = crackled()
    after = chipped(before, loss="10 %")
    rest = after.stratum("crackle").film / np.maximum(before.stratum("crackle").film, 1e-6)
    ledge = (rest > 0.02) & (rest < 0.98) & (before.cracks < 0.1)
    assert np.median(rest[ledge]) > 0.62


def test_holes_are_few_large_and_many_small_and_ragged() -> None:
    """On three walls together: the largest hole is many times the median one, outlines longer than their hulls'."""
    from skimage.measure import regionprops

    found = [regionprops(ndimage.label(chipped(crackled(pour), loss="10 %").fallen > 0.5)[0]) for pour in (1, 2, 3)]
    holes = [one for wall in found for one in wall]
    largest = max(holes, key=lambda one: one.area)
    assert len(holes) >= 18 and largest.area > 5 * np.median([one.area for one in holes])
    assert largest.perimeter > 1.15 * largest.image_convex.sum() ** 0.5 * 2.0 * np.pi**0.5


def test_the_same_holes_at_25_and_50_px_per_inch() -> None:
    """What falls does not depend on the picture's resolution: correlation of the fallen share at least .9."""
    fallen = []
    for ppi in (25.0, 50.0):
        wall = Wall.bare(16.0, 16.0, ppi)
        size = Size.model_validate({"name": "size", "material": "release size", "coverage": "60 %"})
        wall = size.apply(wall, Streams(2, "size"))
        coat = CrackleCoat.model_validate({"name": "crackle", "material": "crackle plaster"})
        fallen.append(chipped(coat.apply(wall, Streams(2, "crackle")), loss="10 %").fallen)
    halved = fallen[1].reshape(400, 2, 400, 2).mean(axis=(1, 3))
    assert np.corrcoef(halved.ravel(), fallen[0].ravel())[0, 1] > 0.9


@pytest.mark.parametrize("loss", ["-3 %", "120 %", "6"])
def test_faults_are_named(loss: str) -> None:
    """A loss is a share from 0 to 100 % with its sign."""
    with pytest.raises(ValidationError, match="loss"):
        Chip.model_validate({"name": "chip", "loss": loss})
