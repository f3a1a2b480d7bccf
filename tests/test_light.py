"""Light: lamps in words, shadows, open sky and roughness against geometry, and the picture's own rules."""

from __future__ import annotations

import tracemalloc

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from render import colour, light

PLASTER = colour.parse_colour("#d8cdb6").astype(np.float32)
MM = 1000 / 25.4  # mil


def from_left(elevation: float) -> light.Lamp:
    """A point of light at the left with no light from the room."""
    return light.Lamp(azimuth_deg=180.0, elevation_deg=elevation, spread_deg=(0.0, 0.0), fill=0.0)


def received(height: light.Picture, pitch: float, lamp: light.Lamp) -> light.Picture:
    """Light of the lamp on each pixel's area."""
    return light.lamplight(height.astype(np.float32), pitch, light.directions(lamp))


def relief(rows: int, cols: int, seed: int, scale: float) -> light.Picture:
    """Rough random heights that end flat at the borders."""
    height = np.random.default_rng(seed).normal(0, scale, (rows, cols)).astype(np.float32)
    height[:3] = height[-3:] = 0
    height[:, :3] = height[:, -3:] = 0
    return height


# --------------------------------------------------------------------------- words


def test_no_words_are_the_raking_window() -> None:
    """The default is a window at the left, daylight, between 12 and 18 degrees above the wall."""
    lamp = light.parse_lamp("")
    assert lamp == light.Lamp()
    assert light.directions(lamp)[:, 0].max() < 0
    assert 12 <= lamp.elevation_deg <= 18
    assert lamp.illuminant == "D65"


def test_words_in_any_order() -> None:
    """Place, angle and light may stand in any order, with or without commas."""
    lamp = light.parse_lamp("window left 8 deg, 2700 K")
    assert (lamp.elevation_deg, lamp.illuminant) == (8.0, "2700 K")
    again = light.parse_lamp("2700 k 8° left window")
    assert (again.elevation_deg, again.illuminant, again.azimuth_deg) == (8.0, "2700 K", lamp.azimuth_deg)


@pytest.mark.parametrize(
    ("words", "azimuth", "angle", "illuminant"),
    [
        ("overhead 25 deg", 90.0, 25.0, "D65"),
        ("overhead, LED", 90.0, light.OVERHEAD_DEG, "LED"),
        ("lamp right 30 deg, LED 4000 K", 0.0, 30.0, "LED 4000 K"),
        ("lamp upper left 12.5 deg, A", 135.0, 12.5, "A"),
        ("window right", light.WINDOW_RISE_DEG, light.WINDOW_DEG, "D65"),
        ("lamp below 20 deg, D50", 270.0, 20.0, "D50"),
    ],
)
def test_lamps_in_words(words: str, azimuth: float, angle: float, illuminant: str) -> None:
    """Each word does what it says, and the words are kept for the sheet."""
    lamp = light.parse_lamp(words)
    assert (lamp.azimuth_deg, lamp.elevation_deg, lamp.illuminant) == (azimuth, angle, illuminant)
    assert lamp.words == words


def test_adaptation_in_words() -> None:
    """The eye may take the lamp's white for white or not at all."""
    assert light.parse_lamp("2700 K, adapted").adapted == 1.0
    assert light.parse_lamp("2700 K, unadapted").adapted == 0.0
    assert light.parse_lamp("2700 K").adapted == light.ADAPTED


@pytest.mark.parametrize(
    "words", ["torch", "window sideways", "overhead left", "even 20 deg", "window 8", "LED 2 K", "a torch"]
)
def test_lamps_that_are_not_understood(words: str) -> None:
    """Other words are refused, with an example and the places and lights there are."""
    with pytest.raises(ValueError, match=r'"window left 14 deg".*places: right.*lights: D65'):
        light.parse_lamp(words)


def test_angles_and_temperatures_that_are_no_lamp() -> None:
    """A lamp stands 2 to 90 degrees above the wall, and glows between 1500 and 12000 K."""
    with pytest.raises(ValueError, match="2 to 90 deg above the wall"):
        light.parse_lamp("window left 120 deg")
    with pytest.raises(ValueError, match='"1500 K" to "12000 K"'):
        light.parse_lamp("lamp left, 99000 K")


# --------------------------------------------------------------------------- lamp and shadow


@pytest.mark.parametrize("elevation", [5.0, 10.0, 20.0])
def test_shadow_of_a_step(elevation: float) -> None:
    """A 1 mm step throws a shadow of 1 mm x cot(elevation): 11.43 mm at 5 degrees, to a pixel (geometry)."""
    ppi = 100.0
    pitch = 1000 / ppi
    height = np.zeros((5, 300), np.float32)
    height[:, :50] = MM
    lit = received(height, pitch, from_left(elevation))[2, 50:]
    shadow_px = np.sum(1 - np.minimum(lit, 1))
    expected_px = MM / np.tan(np.radians(elevation)) / pitch
    assert shadow_px == pytest.approx(expected_px, abs=1.0)
    assert np.all(lit[: int(expected_px) - 1] == 0)
    assert np.allclose(lit[int(expected_px) + 2 :], 1, atol=1e-3)


@pytest.mark.parametrize("azimuth", [0.0, 30.0, 45.0, 90.0, 135.0, 180.0, 200.0, 270.0, 300.0])
def test_shadow_falls_away_from_the_lamp(azimuth: float) -> None:
    """A block's shadow points away from the lamp, as long as its height asks, from every side."""
    height = np.zeros((241, 241), np.float32)
    height[110:131, 110:131] = 200
    lamp = light.Lamp(azimuth_deg=azimuth, elevation_deg=20.0, spread_deg=(0.0, 0.0), fill=0.0)
    dark = received(height, 10.0, lamp) < 0.5
    dark[109:132, 109:132] = False
    rows, cols = np.nonzero(dark)
    away = -np.array([np.cos(np.radians(azimuth)), -np.sin(np.radians(azimuth))])
    along = (cols - 120) * away[0] + (rows - 120) * away[1]
    across = np.abs((cols - 120) * away[1] - (rows - 120) * away[0])
    block = 10.5 * np.abs(away).sum()  # half its extent along the light
    length = 200 / np.tan(np.radians(20)) / 10
    # A shadow's corner is rounded a little where the light runs aslant to the pixels.
    assert length + block - 8 <= along.max() <= length + block + 1
    assert along.min() >= -10.5 * abs(abs(away[0]) - abs(away[1])) - 1.5  # the block's own far corners
    assert across.max() <= block + 3  # the front spreads by a pixel or two on its way


@pytest.mark.parametrize(("elevation", "ratio"), [(10.0, 1.197), (60.0, 1.020)])
def test_facet_turned_to_the_lamp(elevation: float, ratio: float) -> None:
    """A facet tilted 2 degrees to the lamp is brighter by sin(elevation + 2)/sin(elevation) (geometry)."""
    cols = np.arange(100, dtype=np.float32)
    height = np.tile(cols * 10 * np.tan(np.radians(2.0)), (8, 1)).astype(np.float32)
    facing = np.cos(np.radians(2.0))
    lit = received(height, 10.0, from_left(elevation))[:, 5:-5] * facing
    assert np.allclose(lit, ratio, atol=1e-3)


@pytest.mark.parametrize(
    "words", ["window left 8 deg", "overhead", "lamp upper right 30 deg", "lamp lower left 90 deg"]
)
def test_flat_wall_receives_one(words: str) -> None:
    """A flat open wall receives 1 everywhere from every lamp."""
    assert np.allclose(received(np.full((30, 40), 7.0), 20.0, light.parse_lamp(words)), 1.0, atol=1e-5)


@settings(deadline=None, max_examples=30)
@given(st.integers(0, 1000), st.floats(0.5, 15.0), st.floats(8.0, 85.0), st.floats(0.0, 360.0))
def test_no_more_light_than_falls_in(seed: int, scale: float, elevation: float, azimuth: float) -> None:
    """However rough a patch on a flat wall, what all pixels receive is what falls on the wall, none less than 0."""
    lamp = light.Lamp(azimuth_deg=azimuth, elevation_deg=elevation, spread_deg=(0.0, 0.0), fill=0.0)
    wall = np.zeros((140, 140), np.float32)  # wide enough for every shadow to land on it
    wall[50:90, 50:90] = relief(40, 40, seed, scale)
    lit = received(wall, 20.0, lamp)
    assert lit.min() >= -1e-4
    assert lit.mean(dtype=np.float64) == pytest.approx(1.0, abs=2e-4)


def test_a_wide_lamp_has_soft_shadows() -> None:
    """A window's shadow ends over more pixels than a point's."""
    height = np.zeros((9, 400), np.float32)
    height[:, :50] = 60
    hard = received(height, 10.0, from_left(10.0))[4, 52:]
    soft = received(height, 10.0, light.Lamp(azimuth_deg=180, elevation_deg=10, spread_deg=(8, 0), fill=0))[4, 52:]
    between = [int(np.sum((lit > 0.05) & (lit < 0.95))) for lit in (hard, soft)]
    assert between[0] <= 3
    assert between[1] >= 10


# --------------------------------------------------------------------------- open sky


def cone(slope_deg: float, side: int = 129) -> light.Picture:
    """Heights of an endless cone of one pixel pitch, deepest in the middle."""
    rows, cols = np.mgrid[:side, :side] - side // 2
    return (np.hypot(rows, cols) * np.tan(np.radians(slope_deg))).astype(np.float32)


@pytest.mark.parametrize("slope", [10.0, 40.0, 60.0])
def test_sky_from_a_basin(slope: float) -> None:
    """At the bottom of a cone the sky is cos^2 of its slope: .5868 at 40 degrees (view factor geometry)."""
    seen = light.sky_visibility(cone(slope), 1.0)[64, 64]
    assert seen == pytest.approx(np.cos(np.radians(slope)) ** 2, rel=0.02)


@pytest.mark.parametrize("slope", [10.0, 40.0, 60.0])
@pytest.mark.parametrize("turned", [False, True])
def test_sky_beside_a_wall(slope: float, turned: bool) -> None:
    """At the foot of an endless slope (1 + cos)/2 of the sky is seen: .8830 at 40 degrees (view factor geometry)."""
    along = np.arange(129) - 64
    height = np.tile(np.maximum(along, 0) * np.tan(np.radians(slope)), (129, 1)).astype(np.float32)
    seen = light.sky_visibility(height.T.copy() if turned else height, 1.0)[64, 64]
    assert seen == pytest.approx((1 + np.cos(np.radians(slope))) / 2, rel=0.02)


@pytest.mark.parametrize("slope", [10.0, 25.0, 40.0])
def test_sky_from_a_canyon(slope: float) -> None:
    """Between two endless slopes cos of the sky is seen: .7660 at 40 degrees (view factor geometry)."""
    height = np.tile(np.abs(np.arange(129) - 64) * np.tan(np.radians(slope)), (129, 1)).astype(np.float32)
    assert light.sky_visibility(height, 1.0)[64, 64] == pytest.approx(np.cos(np.radians(slope)), rel=0.02)


def test_flat_wall_sees_all_the_sky() -> None:
    """Nothing stands up on a flat wall, of whatever size."""
    for shape in ((1, 1), (3, 50), (37, 41), (200, 130)):
        assert np.all(light.sky_visibility(np.full(shape, 12.0, np.float32), 20.0) == 1.0)


@settings(deadline=None, max_examples=25)
@given(st.integers(0, 1000), st.floats(0.1, 100.0), st.integers(9, 60), st.integers(9, 60))
def test_sky_is_a_share(seed: int, scale: float, rows: int, cols: int) -> None:
    """Any relief sees more than none and at most all of the sky."""
    seen = light.sky_visibility(relief(rows, cols, seed, scale), 20.0)
    assert seen.shape == (rows, cols)
    assert seen.min() > 0
    assert seen.max() <= 1.0


@pytest.mark.parametrize("distance", [1, 3, 7, 20, 60])
def test_walls_near_and_far_are_seen(distance: int) -> None:
    """A sheer wall hides about the sky it should at any distance, within .05: coarse grids find the far ones."""
    height = np.zeros((256, 256), np.float32)
    height[:, 127 + distance :] = distance * np.tan(np.radians(40.0))
    seen = light.sky_visibility(height, 1.0)[128, 127]
    assert seen == pytest.approx((1 + np.cos(np.radians(40.0))) / 2, abs=0.05)


# --------------------------------------------------------------------------- rough and polished


@pytest.mark.parametrize(
    ("sigma", "a", "b"), [(0.0, 1.0, 0.0), (20.0, 0.8651679, 0.2588243), (30.0, 0.7731084, 0.3387838)]
)
def test_oren_nayar_coefficients(sigma: float, a: float, b: float) -> None:
    """A and B of Oren & Nayar 1994, equation 30."""
    assert light.oren_nayar(sigma) == pytest.approx((a, b), abs=1e-7)


def test_oren_nayar_against_angles() -> None:
    """The form without angles is A + B max(0, cos phi) sin alpha tan beta, over A, for any three directions."""
    rng = np.random.default_rng(6)
    for _ in range(200):
        vectors = rng.normal(size=(3, 3))
        normal, lamp, eye = vectors / np.linalg.norm(vectors, axis=1, keepdims=True)
        lamp, eye = lamp * np.sign(lamp @ normal), eye * np.sign(eye @ normal)
        angles = np.arccos([lamp @ normal, eye @ normal])
        flat = [vector - (vector @ normal) * normal for vector in (lamp, eye)]
        cosine = flat[0] @ flat[1] / np.linalg.norm(flat[0]) / np.linalg.norm(flat[1])
        a, b = light.oren_nayar(20.0)
        expected = 1 + b / a * max(0.0, cosine) * np.sin(angles.max()) * np.tan(angles.min())
        assert light.rough_factor(lamp @ normal, eye @ normal, lamp @ eye, 20.0) == pytest.approx(expected, rel=1e-6)


def test_smooth_matt_is_lambert() -> None:
    """With no roughness the factor is 1 whatever the angles."""
    assert np.all(light.rough_factor(np.linspace(0.05, 1, 9), np.linspace(1, 0.1, 9), 0.3, 0.0) == 1.0)


@pytest.mark.parametrize("alpha", [0.1, 0.3, 1.0])
def test_facet_density_is_a_density(alpha: float) -> None:
    """Walter et al. 2007: the integral of D cos over the hemisphere is 1, and D(0) = 1/(pi alpha^2)."""
    cosine = (np.arange(200_000) + 0.5) / 200_000
    assert np.mean(light.ggx(cosine, alpha) * cosine) * 2 * np.pi == pytest.approx(1.0, abs=1e-6)
    assert light.ggx(1.0, alpha) == pytest.approx(1 / (np.pi * alpha**2))


# --------------------------------------------------------------------------- picture


def flat_wall(words: str, shade: str) -> light.Codes:
    """Picture of a flat matt wall of one colour."""
    seen = np.broadcast_to(colour.parse_colour(shade).astype(np.float32), (12, 20, colour.BANDS))
    nothing = np.broadcast_to(np.float32(0), (12, 20))
    return light.shade(np.full((12, 20), 5.0, np.float32), seen, nothing, 25.0, light.parse_lamp(words))


@pytest.mark.parametrize("words", ["", "window right 8 deg", "overhead 25 deg", "lamp upper left 30 deg", "even"])
@pytest.mark.parametrize("shade", ["#d8cdb6", "#f7f5f0", "#3f7f86", "#26211d", "#7d3427"])
def test_flat_matt_wall_shows_its_own_colour(words: str, shade: str) -> None:
    """In daylight a flat matt wall is its own colour, CIEDE2000 at most .3."""
    picture = colour.to_lab(colour.from_srgb8(flat_wall(words, shade)))
    assert colour.delta_e(picture, colour.to_lab(colour.parse_colour(shade))).max() <= 0.3


def test_adapted_eye_sees_plaster_alike_in_lamp_light() -> None:
    """Under an incandescent lamp an adapted eye sees plaster within 4 units of daylight; unadapted far off."""
    day = colour.to_lab(colour.from_srgb8(flat_wall("", "#d8cdb6")[0, 0]))
    adapted = colour.to_lab(colour.from_srgb8(flat_wall("2700 K, adapted", "#d8cdb6")[0, 0]))
    raw = colour.to_lab(colour.from_srgb8(flat_wall("2700 K, unadapted", "#d8cdb6")[0, 0]))
    assert colour.delta_e(day, adapted) < 4
    assert colour.delta_e(day, raw) > 15


def light_of(height: light.Picture, lamp: light.Lamp, sheen: float = 0.0, relief: float = 1.0) -> light.Picture:
    """Linear light of a plaster wall."""
    seen = np.broadcast_to(PLASTER, (*height.shape, colour.BANDS))
    gloss = np.broadcast_to(np.float32(sheen), height.shape)
    return colour.from_srgb8(light.shade(height.astype(np.float32), seen, gloss, 25.0, lamp, relief))


@settings(deadline=None, max_examples=20)
@given(st.integers(0, 1000), st.floats(0.5, 30.0), st.sampled_from(["", "overhead", "lamp right 30 deg"]))
def test_rough_wall_sends_out_no_more_than_a_flat_one(seed: int, scale: float, words: str) -> None:
    """The mean light of a rough wall towards the eye is at most that of the flat wall."""
    lamp = light.parse_lamp(words)
    rough = light_of(relief(60, 60, seed, scale), lamp).mean(dtype=np.float64)
    assert rough <= light_of(np.zeros((60, 60)), lamp).mean(dtype=np.float64) * 1.005


def test_heights_are_true_unless_asked() -> None:
    """Relief 2 is the picture of a wall twice as high, and relief 1 that of the wall."""
    height = relief(40, 40, 1, 6.0)
    lamp = light.Lamp()
    assert np.array_equal(light_of(height, lamp, relief=2.0), light_of(2 * height, lamp))
    assert not np.array_equal(light_of(height, lamp), light_of(2 * height, lamp))


def test_lamp_side_is_bright_and_the_other_dark() -> None:
    """On a ridge the flank towards the window is lighter than the wall, the far one darker."""
    cols = np.arange(120)
    height = np.tile(60 * np.exp(-(((cols - 60) / 3.0) ** 2)), (20, 1))
    lit = light_of(height, light.parse_lamp("window left 14 deg"))[10, :, 1]
    assert lit[54:59].mean() > 1.1 * lit[10]
    assert lit[62:68].mean() < 0.7 * lit[10]


def test_even_light_shows_colour_without_relief() -> None:
    """Even light makes a rough wall look like a flat one."""
    lamp = light.parse_lamp("even")
    assert np.array_equal(light_of(relief(30, 30, 2, 20.0), lamp), light_of(np.zeros((30, 30)), lamp))


def test_sheen_adds_light_where_it_is() -> None:
    """A burnished wall is lighter under the lamp than a matt one, most where a facet leans to the lamp."""
    cols = np.arange(120)
    height = np.tile(20 * np.sin(cols / 6.0), (20, 1))
    lamp = light.parse_lamp("lamp left 40 deg")
    gain = (light_of(height, lamp, sheen=1.0) - light_of(height, lamp))[10, 5:-5, 1]
    slope = np.gradient(height[10])[5:-5]
    assert gain.mean() > 0
    assert gain[slope > 2].mean() > 0.02
    assert gain[slope > 2].mean() > 3 * gain[slope < -2].mean()


def test_a_polished_wall_is_lightest_towards_the_lamp() -> None:
    """From its middle one sees a flat polished wall mirror more of a window at its left the farther left one looks."""
    flat, lamp = np.zeros((20, 1200)), light.parse_lamp("window left 14 deg")
    lit = light_of(flat, lamp, sheen=0.8)[10, :, 1]
    assert np.all(np.diff(lit) <= 0) and lit[0] > 1.05 * lit[-1]
    assert np.ptp(light_of(flat, lamp)[10, :, 1]) == 0.0
    near = light_of(flat[:, :300], lamp, sheen=0.8)[10, :, 1]  # a foot of it from as far off: a quarter of the angle
    assert 0 < near[0] - near[-1] < 0.5 * (lit[0] - lit[-1])


def test_the_half_angle_by_hand() -> None:
    """Straight on it lies halfway between the normal and the lamp; half an inch aside per inch it is by hand."""
    towards = light.directions(from_left(30.0))[0]
    flat = light._facing(np.zeros((1, 3), np.float32), slice(0, 1), 1.0, towards)
    eye = light._Eye(np.array([[0.0, 0.5, -0.5]], np.float32), np.zeros((1, 1), np.float32))
    half = light._halfway(flat, towards, eye, slice(0, 1))
    by_hand = [3**0.5 / 2, 1.5 / (0.366025**2 + 1.5**2) ** 0.5, 1.5 / (1.366025**2 + 1.5**2) ** 0.5]
    assert half[0] == pytest.approx(by_hand, abs=1e-5)


def test_metal_mirrors_in_its_own_hue() -> None:
    """Where a wall is metal its sheen is of its own hue, where it is not of the lamp's; no metal is no change."""
    height, lamp = np.zeros((8, 12), np.float32), light.parse_lamp("window left 14 deg")
    own = np.tile(np.array([0.25, 0.08, 0.04], np.float32), (8, 12, 1))
    gloss = np.full(height.shape, 0.8, np.float32)

    def gain(metal: np.ndarray | None) -> np.ndarray:
        shown, dull = (colour.from_srgb8(light.shade(height, own, one, 25.0, lamp, metal=metal))[4, 1]
                       for one in (gloss, 0 * gloss))  # fmt: skip
        return shown - dull

    plain, none, metal = gain(None), gain(0 * gloss), gain(0 * gloss + 1)
    assert np.array_equal(plain, none)
    assert metal[0] > 1.7 * metal[1] > 2.2 * metal[2] > 0
    assert metal.sum() > 3 * plain.sum()


def test_bright_facets_stay_below_white_and_keep_their_order() -> None:
    """What is brighter than the flat wall is held back smoothly: never 1, never reversed, hue kept."""
    own = np.tile(np.array([0.7, 0.6, 0.5], np.float32), (1, 50, 1))
    strength = np.linspace(0.2, 6, 50, dtype=np.float32)[None, :, None]
    out = np.moveaxis(light.held_back(*(np.moveaxis(one, -1, 0) for one in (own * strength, own))), 0, -1)
    assert out.max() < 1
    assert np.all(np.diff(out[0, :, 0]) > 0)
    assert np.allclose(out / out[..., :1], own / own[..., :1], rtol=1e-5)
    below = strength[0, :, 0] <= 1
    assert np.allclose(out[0, below], (own * strength)[0, below], rtol=1e-6)


def test_colour_may_come_as_light_already() -> None:
    """Linear sRGB by `exposed` gives the picture that the bands give."""
    height, lamp = relief(30, 40, 3, 5.0), light.parse_lamp("overhead, LED")
    seen = np.broadcast_to(PLASTER, (30, 40, colour.BANDS))
    gloss = np.zeros((30, 40), np.float32)
    direct = light.shade(height, seen, gloss, 25.0, lamp)
    assert np.array_equal(light.shade(height, seen @ light.exposed(lamp), gloss, 25.0, lamp), direct)


def test_shapes_that_do_not_agree() -> None:
    """Pictures of different sizes are refused."""
    with pytest.raises(ValueError, match="must be"):
        light.shade(np.zeros((4, 4), np.float32), np.zeros((4, 5, 8), np.float32), np.zeros((4, 4), np.float32), 25.0)


def test_picture_needs_little_memory() -> None:
    """Shading takes at most 40 bytes a pixel beyond its inputs."""
    height = relief(700, 900, 4, 5.0)
    seen = np.broadcast_to(PLASTER, (700, 900, colour.BANDS))
    gloss = np.broadcast_to(np.float32(0.3), height.shape)
    light.shade(height[:20, :20], seen[:20, :20], gloss[:20, :20], 25.0)
    tracemalloc.start()
    light.shade(height, seen, gloss, 25.0)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert peak <= 40 * height.size


def test_three_lamps_show_the_same_wall() -> None:
    """Window, overhead LED and incandescent lamp: the wall's mean colour stays within 6 units, its patches in order."""
    rng = np.random.default_rng(8)
    shades = [colour.parse_colour(words) for words in ("#e7ddc6", "#9a8f7c", "#3f7f86", "#7d3427", "#2a2827")]
    patches = rng.integers(0, len(shades), (12, 12)).repeat(8, axis=0).repeat(8, axis=1)
    seen, height = np.stack(shades).astype(np.float32)[patches], relief(96, 96, 9, 4.0)
    gloss = np.zeros_like(height)
    told = []
    for words in ("window left 14 deg", "overhead 25 deg, LED", "lamp right 30 deg, 2700 K"):
        picture = colour.from_srgb8(light.shade(height, seen, gloss, 25.0, light.parse_lamp(words)))
        told.append(np.stack([picture[patches == one].mean(axis=0) for one in range(len(shades))]))
    labs = colour.to_lab(np.stack(told))
    means = colour.to_lab(np.stack(told).mean(axis=1))
    assert colour.delta_e(means[0], means[1]) < 6
    assert colour.delta_e(means[0], means[2]) < 6
    assert all(np.array_equal(np.argsort(lab[:, 0]), np.argsort(labs[0, :, 0])) for lab in labs)
