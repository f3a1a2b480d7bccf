"""Plaster coats: exact coverage and volume at every style, voids, edges, resolution and crop."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import ndimage

from render import strokes, texture, voids
from render.fields import Grid
from render.layers.plaster_coat import PlasterCoat, _Hand
from render.layers.texture_coat import TextureCoat
from render.rips import Rips
from render.seeds import Streams
from render.wall import Wall

STYLES = ("full", "skip", "torn", "tapped")


def coat(name: str = "top", **keys: Any) -> PlasterCoat:
    """Return a plaster coat."""
    given_keys = {"name": name, "material": "lime topping", "style": "skip", "coverage": "70 %"}
    return PlasterCoat.model_validate({**given_keys, "spread": "66 ft2/gal", **keys})


def lay(layer: PlasterCoat, wall: Wall, pour: int = 3) -> Wall:
    """Return the wall after a coat."""
    return layer.apply(wall, Streams(pour, layer.name))


def bare(height: float = 8.0, width: float = 9.0, ppi: float = 12.5) -> Wall:
    """Return a flat wall."""
    return Wall.bare(height, width, ppi)


def sanded(height: float = 12.0, width: float = 12.0, ppi: float = 12.5) -> Wall:
    """Return a wall with a sanded base."""
    base = TextureCoat.model_validate({"name": "base", "material": "sanded wall coat"})
    return base.apply(bare(height, width, ppi), Streams(3, "base"))


@settings(max_examples=40, deadline=None)
@given(
    st.sampled_from(STYLES), st.floats(2.0, 100.0), st.floats(25.0, 2000.0), st.integers(0, 10**6), st.booleans()
)  # fmt: skip
def test_coverage_and_volume_are_exact(style: str, share: float, spread: float, pour: int, rough: bool) -> None:
    """Any style, coverage 2 to 100 %, spread 25 to 2000 ft²/gal: to the pixel, to 1e-6, nowhere negative."""
    layer = coat(style=style, coverage=f"{share:.4f} %", spread=f"{spread:.4f} ft2/gal", spread_at="80 %")
    wall = lay(layer, sanded(6, 7) if rough else bare(6, 7), pour)
    film = wall.stratum("top").film
    assert np.count_nonzero(film > 0) == round(layer.coverage * film.size)
    assert film.mean(dtype=np.float64) == pytest.approx(layer.mean_mil, rel=1e-6)
    assert film.min() >= 0
    assert np.isfinite(wall.height).all()
    assert wall.ledger["top"].added == pytest.approx(layer.amounts(wall.area_ft2).mixed.likely, rel=1e-6)


@pytest.mark.parametrize("style", STYLES)
def test_nothing_asked_nothing_laid(style: str) -> None:
    """Coverage 0 leaves the wall as it was and no film."""
    before = sanded(4, 4)
    after = lay(coat(style=style, coverage="0 %", spread_at="80 %"), before)
    assert not after.stratum("top").film.any()
    assert np.array_equal(after.height, before.height)


@pytest.mark.parametrize("style", STYLES)
def test_same_pour_same_wall_other_pour_another(style: str) -> None:
    """A pour fixes every pixel; another pour is another hand."""
    one, two, other = (lay(coat(style=style), bare(), pour) for pour in (1, 1, 2))
    assert np.array_equal(one.height, two.height)
    assert not np.array_equal(one.height, other.height)


def made_edges(grid: Grid, sweep: strokes.Strokes, streams: Streams) -> voids.Edges:
    """Return edges that tear only where the blade lifts."""
    rips = Rips.of(streams)
    noise = voids.knobbly(grid, sweep, rips), voids.gritty(grid, streams)
    return voids.Edges(grid, sweep, rips, noise, streams, 0.0)


@settings(max_examples=30, deadline=None)
@given(st.floats(0.02, 1.0), st.floats(0.0, 1.0), st.integers(0, 1000))
def test_two_passes_unite_exactly(share: float, first_part: float, key: int) -> None:
    """Whatever the first pass covers, both together cover what is asked, to the pixel."""
    grid = Grid.over(4, 5, 12.5)
    streams = Streams(key, "passes")
    sweep = strokes.lay(grid.plan, strokes.Habit(4.0, 8.0, 0.0, 90.0, 4.0), key)
    edges = made_edges(grid, sweep, streams)
    slowly = voids.slow(grid.plan, sweep, Rips.of(streams), 2.0, streams, 0.0)
    first = edges.place(slowly, share * first_part)
    second = edges.besides(np.ascontiguousarray(slowly[::-1]), first, share)
    assert np.count_nonzero(first.mask | second.mask) == round(share * grid.rows * grid.cols)


def test_resolution_keeps_strokes_and_voids() -> None:
    """At 12.5 and 25 px/in the voids are those at 50 px/in (IoU >= 0.95), and heights averaged down agree."""
    walls = {ppi: lay(coat(void="5 in"), bare(16, 16, ppi)) for ppi in (12.5, 25.0, 50.0)}
    finest = walls[50.0]
    for ppi, factor in ((12.5, 4), (25.0, 2)):
        shape = (round(16 * ppi), factor, round(16 * ppi), factor)
        lies = (finest.stratum("top").film > 0).reshape(shape).mean((1, 3)) > 0.5
        void, wanted = walls[ppi].stratum("top").film <= 0, ~lies
        assert np.sum(void & wanted) / np.sum(void | wanted) >= 0.95
        down = finest.height.reshape(shape).mean((1, 3))
        assert np.corrcoef(down.ravel(), walls[ppi].height.ravel())[0, 1] >= 0.96


def test_wider_wall_keeps_its_placement() -> None:
    """The placement of a smaller wall is the corner of a larger one's; only the level of exact coverage may shift."""
    fields_ = []
    for width in (10.0, 17.0):
        grid = Grid.over(10, width, 25)
        streams = Streams(3, "top")
        sweep = strokes.lay(grid.plan, strokes.Habit(8.0, 16.0, 0.0, 90.0, 6.0), streams.key("sweeps"))
        slowly = voids.slow(grid.plan, sweep, Rips.of(streams), 3.0, streams, 0.0)
        fields_.append(made_edges(grid, sweep, streams).ragged(slowly)[0])
    np.testing.assert_allclose(fields_[1][:, :245], fields_[0][:, :245], atol=2e-3)


@pytest.mark.parametrize("share", ["50 %", "85 %"])
def test_exact_coverage_only_shifts_the_level(share: str) -> None:
    """On a wider wall the voids of the smaller one grow or shrink, all alike: the level alone has moved."""
    small, large = (
        lay(coat(style="torn", coverage=share), bare(12, width)).stratum("top").film[:, :130] > 0
        for width in (12.0, 26.0)
    )
    gained, lost = np.mean(large & ~small), np.mean(small & ~large)
    assert min(gained, lost) < 0.003


def test_full_coat_of_a_wider_wall() -> None:
    """Without voids the film of a smaller wall is the corner of a larger one's, but for the level of the mean."""
    small, large = (lay(coat(style="full", coverage="100 %"), bare(10, width)) for width in (10.0, 18.0))
    one, other = small.height[:, :100], large.height[:, :100]  # off the new edge by twice the blade's bend
    assert np.corrcoef(one.ravel(), other.ravel())[0, 1] > 0.995


def test_voids_follow_the_coat_beneath() -> None:
    """Bare ground shows through both coats more often than chance: 1.4 times and more, mean of four pours."""
    ratio = []
    for pour in range(4):
        under = lay(coat("under", style="torn", coverage="70 %"), bare(24, 24), pour)
        wall = lay(coat("top", coverage="75 %"), under, pour)
        low, high = (wall.stratum(name).film <= 0 for name in ("under", "top"))
        ratio.append(np.mean(low & high) / (np.mean(low) * np.mean(high)))
    assert np.mean(ratio) > 1.4


def test_hand_that_does_not_follow() -> None:
    """With follow at 0 % the voids of two coats meet by chance, well below what a following hand gives."""
    met = []
    for follow in ("0 %", "80 %"):
        shares = []
        for pour in range(4):
            under = lay(coat("under", style="torn", coverage="70 %"), bare(24, 24), pour)
            wall = lay(coat("top", coverage="75 %", follow=follow), under, pour)
            low, high = (wall.stratum(name).film <= 0 for name in ("under", "top"))
            shares.append(np.mean(low & high) / (np.mean(low) * np.mean(high)))
        met.append(np.mean(shares))
    assert met[0] < 1.3 < met[1]


def test_blade_fills_hollows() -> None:
    """A full coat lies thick where the wall is low: its top is flatter than its ground."""
    before = sanded()
    after = lay(coat(style="full", coverage="100 %", ridge="0.2 mil", pits="0 %"), before)
    film = after.stratum("top").film
    rough = before.height - np.mean(before.height)
    assert np.corrcoef(film.ravel(), before.height.ravel())[0, 1] < -0.5
    fine = [np.std(h[1:, 1:] - h[:-1, :-1]) for h in (rough, after.height)]
    assert fine[1] < 0.5 * fine[0]


def test_skip_trowelled_wall_has_plateaus() -> None:
    """Plateaus with voids between them: skewness below zero (ISO 25178-2, Ssk)."""
    got = [texture.parameters(lay(coat(coverage="78 %"), sanded(24, 24), pour).height, 12.5) for pour in (1, 2, 3)]
    assert max(one["Ssk"] for one in got) < -0.2


def test_tapped_coat_has_peaks() -> None:
    """Suction pulls up tips: a tapped coat is more peaked and more skewed than a full one."""
    full, tapped = (
        texture.parameters(lay(coat(style=style, coverage="100 %"), bare(12, 12, 25)).height, 25.0)
        for style in ("full", "tapped")
    )
    assert tapped["Ssk"] > full["Ssk"] + 0.5
    assert tapped["Sku"] > full["Sku"]


def test_torn_edges_are_steep_and_landing_edges_feathered() -> None:
    """Just inside the rim a coat is thick where the blade lifted off, and thin where it landed."""
    layer, wall, streams = coat(style="full"), bare(16, 16, 25), Streams(3, "top")
    (place,), _ = layer._places(wall, _Hand(layer, wall.grid, streams))
    film = layer.apply(wall, streams).stratum("top").film
    rim = place.mask & (place.distance > 0.02) & (place.distance < 0.1)
    torn, landed = film[rim & (place.lifts > 0.8)], film[rim & (place.lifts < 0.45)]
    assert min(torn.size, landed.size) > 200
    assert torn.mean() > 1.6 * landed.mean()


def test_pits_are_cut_into_the_coat() -> None:
    """Pinholes and drag pits lower the surface here and there, and hardly anywhere raise it."""
    plain, pitted = (
        lay(coat(style="full", coverage="100 %", pits=pits), sanded(12, 12, 25)).height for pits in ("0 %", "60 %")
    )
    change = pitted - plain
    change = change - np.median(change)
    assert change.min() < -3.0
    assert change.max() < 1.0


def test_release_size_opens_voids() -> None:
    """Plaster lets go where release size lies: more voids on the sized half."""
    wall = bare(24, 24)
    slip = np.zeros(wall.grid.shape, np.float32)
    slip[:, 150:] = 1.0
    film = lay(coat(style="torn"), wall.evolve(slip=slip)).stratum("top").film
    assert np.mean(film[:, 150:] <= 0) > 1.3 * np.mean(film[:, :150] <= 0)


def test_tone_varies_but_little() -> None:
    """Drying and pressure vary the tone by a few percent: no plateau is dead, none is stained."""
    tone = lay(coat(style="full", coverage="100 %"), bare(24, 24)).tone
    assert 0.01 < tone.std() < 0.06
    assert abs(float(tone.mean()) - 1.0) < 0.03


def test_suction_varies() -> None:
    """Each load and each patch drinks a little more or less than the material says, and scratches drink most."""
    wall = lay(coat(style="full", coverage="100 %"), bare(24, 24))
    absorbs = coat().material.absorbency
    assert float(wall.thirst.mean()) == pytest.approx(absorbs, rel=0.1)
    assert 0.05 < wall.thirst.std() / absorbs < 0.4


def test_raking_light_finds_hollows() -> None:
    """Over inches a skipped coat of 24 mil on a flat wall rises and falls by 8 mil and more where it is whole."""
    wall = lay(coat(void="5 in", coverage="96 %"), bare(36, 36))
    broad = ndimage.gaussian_filter(wall.height, 1.2 * 12.5)
    assert 8.0 < np.ptp(np.quantile(broad, [0.05, 0.95])) < 40.0


def test_skin_is_nowhere_dead() -> None:
    """Close up even the quietest tenth of the skin carries scratches and tooth: a fifth of the mean fine detail."""
    height = lay(coat(style="full", coverage="100 %"), bare(6, 6, 50)).height
    fine = height - ndimage.uniform_filter(height, 5)
    cells = np.abs(fine[:296, :296]).reshape(37, 8, 37, 8).mean((1, 3))
    assert cells.mean() > 0.05
    assert np.quantile(cells, 0.1) > 0.2 * cells.mean()


def test_loose_only_at_torn_rims() -> None:
    """Only what lies near a void hangs loose."""
    wall = lay(coat(style="torn"), bare(16, 16, 25))
    assert wall.loose.max() > 0.4
    assert np.mean(wall.loose > 0.3) < 0.35
    assert not lay(coat(style="full", coverage="100 %"), bare()).loose.any()


@pytest.mark.parametrize(("height", "width", "ppi"), [(0.05, 0.05, 12.5), (1.0, 1.0, 1.0), (30.0, 40.0, 0.1)])
@pytest.mark.parametrize("style", STYLES)
def test_smallest_pictures(height: float, width: float, ppi: float, style: str) -> None:
    """A wall of one pixel, or a picture of a few, works like any other."""
    layer = coat(style=style, coverage="80 %")
    wall = lay(layer, bare(height, width, ppi))
    assert wall.stratum("top").film.mean(dtype=np.float64) == pytest.approx(layer.mean_mil, rel=1e-6)


def test_words_name_style_and_tool() -> None:
    """The layer list says how the coat was laid and with what."""
    assert coat(tool="hawk and 11 in trowel").words() == "plaster skip-trowelled, hawk and 11 in trowel"
