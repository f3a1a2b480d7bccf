"""Sanding: flattens, never raises, books its dust, opens what is loose."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from render import texture
from render.layers.plaster_coat import PlasterCoat
from render.layers.sand import Sand
from render.layers.texture_coat import TextureCoat
from render.seeds import Streams
from render.wall import Stratum, Wall


def plastered(ppi: float = 25.0) -> Wall:
    """Return a wall with a base and a torn coat."""
    base = TextureCoat.model_validate({"name": "base", "material": "sanded wall coat"})
    top = {"name": "top", "material": "lime topping", "style": "skip", "coverage": "75 %"}
    wall = base.apply(Wall.bare(10, 10, ppi), Streams(3, "base"))
    return PlasterCoat.model_validate(top).apply(wall, Streams(3, "top"))


def sanded(wall: Wall, **keys: Any) -> Wall:
    """Return the wall rubbed down."""
    return Sand.model_validate({"name": "rub", **keys}).apply(wall, Streams(3, "rub"))


@settings(max_examples=15, deadline=None)
@given(st.floats(0.0, 20.0), st.floats(0.5, 20.0), st.floats(0.0, 2.0), st.floats(0.0, 100.0))
def test_raises_nothing_and_closes(depth: float, block: float, scratch: float, opens: float) -> None:
    """Whatever the pressure: no height rises, and for each coat added = on the wall + removed."""
    before = plastered(12.5)
    after = sanded(
        before, depth=f"{depth:.3f} mil", block=f"{block:.3f} in", scratch=f"{scratch:.3f} mil", opens=f"{opens:.3f} %"
    )
    assert np.all(after.height <= before.height + 1e-4)
    for name, entry in after.ledger.items():
        left = after.gallons(after.stratum(name).film)
        assert entry.added == pytest.approx(left + entry.removed + entry.run_off, rel=1e-6)


def test_flattens() -> None:
    """Sanding lowers Sq and makes Ssk more negative (ISO 25178-2)."""
    before = plastered()
    rough, smooth = (texture.parameters(wall.height, 25.0) for wall in (before, sanded(before, depth="4 mil")))
    assert smooth["Sq_mil"] < rough["Sq_mil"]
    assert smooth["Ssk"] < rough["Ssk"]


def test_flattens_a_sanded_base() -> None:
    """On grains too: lower Sq, lower Ssk, fewer peaks."""
    base = TextureCoat.model_validate({"name": "base", "material": "sanded wall coat"})
    before = base.apply(Wall.bare(8, 8, 50), Streams(3, "base"))
    sharp, rubbed = (texture.parameters(wall.height, 50.0) for wall in (before, sanded(before, depth="6 mil")))
    assert rubbed["Sq_mil"] < sharp["Sq_mil"]
    assert rubbed["Ssk"] < sharp["Ssk"]
    assert rubbed["Sku"] < sharp["Sku"]


def test_burnishes_what_it_rubs() -> None:
    """Rubbed places gain sheen and darken; the others keep both."""
    before = plastered()
    after = sanded(before, opens="0 %")
    rubbed = after.height < before.height - 0.5
    kept = after.height == before.height
    assert np.mean(after.sheen[rubbed]) > np.mean(before.sheen[rubbed]) + 0.01
    assert np.mean(after.tone[rubbed] / before.tone[rubbed]) < 0.995
    np.testing.assert_allclose(after.tone[kept], before.tone[kept], rtol=1e-6)


def test_opens_only_loose_edges() -> None:
    """The top coat breaks away only near where it hung loose, and not at all when nothing is opened."""
    before = plastered()
    shut, opened = sanded(before, depth="0 mil", opens="0 %"), sanded(before, depth="0 mil", opens="70 %")
    gone = (opened.stratum("top").film <= 0) & (shut.stratum("top").film > 0)
    assert 0.0005 < gone.mean() < 0.1
    assert before.loose[gone].min() > 0.1


def test_a_lifted_plate_gives_way() -> None:
    """Film that curled 80 mil off its ground loses no more than its like that lies on it; on a solid swell it goes."""
    wall = Wall.bare(6, 6, 25.0)
    plate = np.zeros(wall.grid.shape, np.float32)
    plate[60:90, 60:90] = 1.0
    flat, swollen = (
        wall.add(Stratum("base", "coat", 10.0 + high * plate)).add(Stratum("paint", "coat", np.full_like(plate, 12.0)))
        for high in (0.0, 80.0)
    )
    lifted = flat.evolve(height=flat.height + 80.0 * plate, loose=plate)
    left = [sanded(one, opens="0 %").stratum("paint").film[plate > 0].min() for one in (flat, lifted, swollen)]
    assert left[1] >= left[0] - 0.1
    assert left[2] < 1.0


def test_tall_grains_are_cut_off_flat() -> None:
    """Of pegs 6 to 30 mil high on even ground flats are left, within a twentieth of a mil; low swells keep a part."""
    wall = Wall.bare(6, 6, 25.0)
    peg = np.zeros(wall.grid.shape, np.float32)
    for number, high in enumerate(np.linspace(6.0, 30.0, 12)):
        peg[20 + 10 * number, 10:140:13] = high
    wall = wall.add(Stratum("stones", "coat", np.full(wall.grid.shape, 10.0, np.float32) + peg))
    left = sanded(wall, depth="2 mil", scratch="0 mil", opens="0 %").height[peg > 0]
    assert left.max() < wall.height[peg > 0].min()
    rub = Sand.model_validate({"name": "rub", "depth": "2 mil"})
    above = np.array([0.01, 0.5, 10.0, 30.0], np.float32)
    spared = above - rub._bitten(above)
    assert spared[0] == pytest.approx(0.006, rel=0.02)
    assert (np.diff(spared) > 0).all() and spared[3] - spared[2] < 0.05 and spared[3] < 0.45


def test_scratches_are_fine_and_shallow() -> None:
    """Scratches go as deep as asked, on rubbed places only."""
    before = plastered()
    plain, scratched = sanded(before, scratch="0 mil"), sanded(before, scratch="0.4 mil")
    deeper = plain.height - scratched.height
    assert 0.3 < deeper.max() <= 1.0 + 1e-3
    assert deeper.min() > -1e-4
    assert deeper[plain.height == before.height].max() < 0.05


def test_bare_wall_stays() -> None:
    """Nothing is sanded off a bare wall."""
    wall = Wall.bare(4, 4, 12.5)
    assert np.array_equal(sanded(wall).height, wall.height)


def test_causes_dust() -> None:
    """The caution for dust travels with sanding."""
    assert Sand.model_validate({"name": "rub"}).cautions() == ("dust",)


@pytest.mark.parametrize(("height", "width", "ppi"), [(0.05, 0.05, 12.5), (1.0, 1.0, 1.0), (30.0, 40.0, 0.1)])
def test_smallest_pictures(height: float, width: float, ppi: float) -> None:
    """A picture of a pixel or a few works like any other."""
    base = TextureCoat.model_validate({"name": "base", "material": "sanded wall coat"})
    wall = base.apply(Wall.bare(height, width, ppi), Streams(3, "base"))
    assert np.isfinite(sanded(wall).height).all()


def test_no_depth_cuts_nothing() -> None:
    """A block set to reach nothing leaves every film as it was."""
    before = TextureCoat.model_validate({"name": "base", "material": "sanded wall coat"}).apply(
        Wall.bare(5, 5, 12.5), Streams(3, "base")
    )
    after = Sand.model_validate({"name": "rub", "depth": "0 mil"}).apply(before, Streams(3, "rub"))
    assert after.stratum("base").film.tobytes() == before.stratum("base").film.tobytes()
