"""From strata to colour and shares."""

from __future__ import annotations

import tracemalloc

import numpy as np
import pytest

from render import colour, composite
from render.physics import optics
from render.wall import Stratum, Wall


def test_hiding_is_the_contrast_ratio() -> None:
    """The table agrees with R over white minus R over black, mean over the bands."""
    k, s = colour.coat_ks(colour.parse_colour("#b08060"), 5.0)
    for mil in (0.0, 0.3, 1.0, 4.0, 30.0):
        r, t = optics.layer(k, s, mil)
        exact = 1.0 - float(np.mean(optics.over(r, t, 1.0) - optics.over(r, t, 0.0)))
        got = float(composite.hiding(np.full((1, 1), mil, np.float32), k, s)[0, 0])
        assert got == pytest.approx(exact, abs=2e-3)


def test_a_thick_coat_is_its_own_colour_and_all_that_is_seen() -> None:
    """100 mil of a coat that hides at 4 mil shows the material's colour to one code and a share above .999."""
    wall = Wall.bare(4, 4, 2)
    wall = wall.add(Stratum("coat", "coat", np.full(wall.grid.shape, 100.0, np.float32)))
    optics_of = colour.coat_ks(colour.parse_colour("#b08060"), 4.0)
    seen = composite.look(wall, "#ffffff", {"coat": optics_of})
    assert np.abs(colour.to_linear_rgb(seen.sample[0]) - colour.from_srgb8(np.array([0xB0, 0x80, 0x60]))).max() < 2e-3
    assert seen.shares["coat"] > 0.999
    assert np.all(seen.main == 0)


def test_shares_by_hand() -> None:
    """A hiding coat on a quarter of the wall under a clear one: a quarter is seen of it, the rest is bare wall."""
    wall = Wall.bare(4, 4, 2)
    film = np.zeros(wall.grid.shape, np.float32)
    film[:4, :4] = 500.0
    wall = wall.add(Stratum("coat", "coat", film))
    wall = wall.add(Stratum("clear", "colour", np.full(wall.grid.shape, 3.0, np.float32)))
    clear = (np.zeros(colour.BANDS), np.zeros(colour.BANDS))
    optics_of = {"coat": colour.coat_ks(colour.parse_colour("#805030"), 4.0), "clear": clear}
    seen = composite.look(wall, "#ffffff", optics_of)
    assert seen.shares["coat"] == pytest.approx(0.25, abs=1e-3)
    assert seen.shares["clear"] == pytest.approx(0.0, abs=1e-3)
    assert sum(seen.shares.values()) == pytest.approx(1.0, abs=1e-6)
    assert seen.main[0, 0] == 0 and seen.main[-1, -1] == -1


def test_tone_is_the_coats_and_shows_through_a_colour_on_it() -> None:
    """A coat at .8 of its reflectance under a colour of no hue is .8 as bright in every band as at full tone."""
    optics_of = {
        "coat": colour.coat_ks(colour.parse_colour("#805030"), 4.0),
        "clear": (np.zeros(colour.BANDS), np.zeros(colour.BANDS)),
    }
    wall = Wall.bare(4, 4, 2).add(Stratum("coat", "coat", np.full((8, 8), 500.0, np.float32)))
    wall = wall.add(Stratum("clear", "colour", np.full((8, 8), 3.0, np.float32)))
    full, toned = (
        composite.look(wall.evolve(tone=np.full((8, 8), tone, np.float32)), "#ffffff", optics_of).rgb
        for tone in (1.0, 0.8)
    )
    np.testing.assert_allclose(toned, 0.8 * full, rtol=1e-5)


def _many() -> tuple[Wall, dict[str, tuple[np.ndarray, np.ndarray]]]:
    """Two coats, the upper in patches, with two colours partly soaked in on each; and their optics."""
    rng = np.random.default_rng(3)
    wall = Wall.bare(20, 20, 10)
    optics_of = {}
    for coat, words in (("lower", "#805030"), ("upper", "#d8cfba")):
        film = np.maximum(rng.uniform(-6, 14, wall.grid.shape), 0).astype(np.float32)
        wall = wall.add(Stratum(coat, "coat", film))
        optics_of[coat] = colour.coat_ks(colour.parse_colour(words), 4.0)
        for pigment in ("raw umber", "burnt umber"):
            glaze = np.maximum(rng.uniform(-1, 3, wall.grid.shape), 0).astype(np.float32)
            soaked = glaze * rng.uniform(0, 1, wall.grid.shape).astype(np.float32)
            wall = wall.add(Stratum(f"{coat} {pigment}", "colour", glaze, soaked * (soaked > 0.3)))
            optics_of[f"{coat} {pigment}"] = colour.mix({pigment: 0.03})
    return wall, optics_of


@pytest.mark.parametrize("pixels", [1, 1400, 9000])
def test_chunks_do_not_matter(monkeypatch: pytest.MonkeyPatch, pixels: int) -> None:
    """The picture is bit-equal whatever the pixels worked on at a time and the number of threads."""
    wall, optics_of = _many()
    first = composite.look(wall, "#e0d8c8", optics_of)
    monkeypatch.setattr(composite, "_CHUNK", pixels)
    monkeypatch.setenv("FINISHBOARD_THREADS", "1")
    second = composite.look(wall, "#e0d8c8", optics_of)
    assert first.rgb.tobytes() == second.rgb.tobytes() and first.main.tobytes() == second.main.tobytes()
    assert first.sample.tobytes() == second.sample.tobytes()
    for name, share in first.shares.items():
        assert second.shares[name] == pytest.approx(share, rel=1e-12, abs=1e-15)


def test_a_pixel_is_the_films_one_over_the_other() -> None:
    """Every pixel is the exact films over stains over films, as a sum without tables gives it, to CIEDE2000 .15."""
    wall, optics_of = _many()
    seen = composite.look(wall, "#e0d8c8", optics_of).sample
    film = {one.name: one.film.reshape(-1, 1).astype(float) for one in wall.strata}
    soaked = {one.name: one.fixed.reshape(-1, 1).astype(float) for one in wall.strata if one.fixed is not None}
    below = np.tile(colour.parse_colour("#e0d8c8"), (film["lower"].size, 1))
    for coat in ("lower", "upper"):
        below = colour.film_exact(below, *optics_of[coat], film[coat][:, 0])
        glazes = [f"{coat} {pigment}" for pigment in ("raw umber", "burnt umber")]
        ratio = optics.k_over_s(optics.saunderson_inverse(below, 0.0, colour.TURNED_BACK))
        depth = composite._SOAK_MIL * composite._SOAK_SCATTER
        absorbed, scattered = (sum(soaked[one] * optics_of[one][part] for one in glazes) / depth for part in (0, 1))
        inside = optics.reflectance_infinite((ratio + absorbed) / (1 + scattered))
        below = optics.saunderson(inside, 0.0, colour.TURNED_BACK)
        for one in glazes:
            below = colour.film_exact(below, *optics_of[one], (film[one] - soaked[one])[:, 0])
    assert np.max(colour.delta_e(colour.to_lab(seen), colour.to_lab(below))) < 0.15


def test_main_is_the_largest_share() -> None:
    """The stratum a pixel shows most of, by hand from the contrast ratios."""
    wall, optics_of = _many()
    left, own = np.ones(wall.grid.shape), []
    for one in reversed(wall.strata):
        own.append(left * composite.hiding(one.film, *optics_of[one.name]))
        left = left - own[-1]
    parts = np.stack([left, *own[::-1]])
    most = np.sort(parts, axis=0)
    clear_cut = most[-1] > most[-2] + 1e-3
    seen = composite.look(wall, "#e0d8c8", optics_of)
    assert np.array_equal(seen.main[clear_cut], parts.argmax(axis=0)[clear_cut] - 1)
    assert list(seen.shares.values()) == pytest.approx(list(parts.mean(axis=(1, 2))), abs=1e-3)


def test_metal_is_the_share_of_the_metal_layers() -> None:
    """Of every pixel, by hand from the contrast ratios; nothing is told where no layer is metal."""
    wall, optics_of = _many()
    named = [one.name for one in wall.strata]
    metals = {named[0], named[-1]}
    left, shown = np.ones(wall.grid.shape), np.zeros(wall.grid.shape)
    for one in reversed(wall.strata):
        own = left * composite.hiding(one.film, *optics_of[one.name])
        shown += own * (one.name in metals)
        left = left - own
    seen = composite.look(wall, "#e0d8c8", optics_of, metals=metals)
    assert seen.metal is not None and seen.metal == pytest.approx(shown, abs=2e-3) and shown.max() > 0.5
    assert composite.look(wall, "#e0d8c8", optics_of).metal is None


@pytest.mark.parametrize(
    ("roles", "found"),
    [("", [0]), ("coat", [0, 1]), ("coat colour colour coat", [0, 1, 3, 4]), ("colour colour", [0, 2])],
)
def test_a_look_stands_by_itself_but_amid_colours(roles: str, found: list[int]) -> None:
    """Colours on a coat stain it together: there a picture is kept before the first or after the last of them."""
    film = np.zeros((1, 1), np.float32)
    assert composite.ends([Stratum(str(i), role, film) for i, role in enumerate(roles.split())]) == found


def test_what_soaked_in_colours_less_and_otherwise_than_what_lies_on_top() -> None:
    """The same glaze film colours a ground differently when it soaked in; with nothing soaked in nothing changes."""
    shelf = colour.colourants()
    optics_of = {"glaze": colour.mix({shelf["burnt umber"]: 0.03})}
    wall = Wall.bare(4, 4, 2)
    film = np.full(wall.grid.shape, 2.0, np.float32)
    grounds = [wall.add(Stratum("glaze", "colour", film, fixed)) for fixed in (None, film * 0, film * 0.5, film)]
    lightness = [float(colour.to_lab(composite.look(one, "#e7ddc6", optics_of).sample[0])[0]) for one in grounds]
    assert lightness[0] == pytest.approx(lightness[1], abs=0.05)
    assert lightness[1] < lightness[2] < lightness[3] < 88


def test_what_a_coat_hides_changes_no_bit() -> None:
    """Where a coat hides, the picture is the same to the bit whatever lies below; elsewhere what lies below shows."""
    optics_of = {
        "ground": colour.coat_ks(colour.parse_colour("#305080"), 4.0),
        "stain": colour.mix({colour.colourants()["burnt umber"]: 0.03}),
        "top": colour.coat_ks(colour.parse_colour("#d8cfba"), 4.0),
    }
    hides = colour.film(*optics_of["top"]).hiding_mil
    bare = Wall.bare(6, 6, 10)
    film = np.where(np.arange(bare.grid.cols) % 2 == 0, hides, 1.0) * np.ones(bare.grid.shape)
    top = Stratum("top", "coat", film.astype(np.float32))
    some = np.random.default_rng(4).uniform(0, 6, bare.grid.shape).astype(np.float32)
    full = bare.add(Stratum("ground", "coat", some)).add(Stratum("stain", "colour", some, some * np.float32(0.4)))
    one, other = (composite.look(wall.add(top), "#e0d8c8", optics_of).rgb for wall in (bare, full))
    same = (one == other).all(axis=2)
    assert same[:, ::2].all() and not same[:, 1::2].any()


def test_a_wide_wall_is_looked_at_in_little_more_than_its_picture() -> None:
    """The colour takes 12 bytes for each pixel; the sample for figures holds none of the pixels that it leaves out."""
    wall = Wall.bare(20, 200, 20)
    wall = wall.add(Stratum("coat", "coat", np.full(wall.grid.shape, 3.0, np.float32)))
    optics_of = {"coat": colour.coat_ks(colour.parse_colour("#b08060"), 4.0)}
    composite.look(wall, "#ffffff", optics_of)  # what is tabulated once
    tracemalloc.start()
    composite.look(wall, "#ffffff", optics_of)
    assert tracemalloc.get_traced_memory()[1] < 24 * wall.height.size
    tracemalloc.stop()
