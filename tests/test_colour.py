"""Colour: bands against 5 nm, sRGB and CIELAB against the standards, words, pigments and films."""

from __future__ import annotations

import itertools
import warnings
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from render import colour
from render.physics import optics

SHARMA = np.loadtxt(
    Path(__file__).parent / "data" / "published" / "ciede2000_Sharma2005.csv", delimiter=",", skiprows=4
)
channels = st.integers(0, 255)


@pytest.fixture(scope="module")
def library() -> Any:
    """The library colour-science, an outside reference; its import warns about optional parts."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        return pytest.importorskip("colour")


def code(red: int, green: int, blue: int) -> str:
    """`#rrggbb`."""
    return f"#{red:02x}{green:02x}{blue:02x}"


# --------------------------------------------------------------------------- bands against 5 nm


def random_cases(count: int) -> tuple[colour.Reflectance, ...]:
    """Linear sRGB of masstones, tints of 10 % in white and plasters, and film thicknesses in mil."""
    rng = np.random.default_rng(2026)
    masstone = colour.srgb_to_linear(rng.uniform(0.10, 0.80, (count, 3)))
    white = colour.WHITE_BASE_LINEAR
    tint = masstone + (white - masstone) * rng.uniform(0.25, 0.8, (count, 1)) * rng.uniform(0.8, 1.0, (count, 3))
    plaster = colour.srgb_to_linear(rng.uniform(0.45, 0.95, (count, 1)) + rng.uniform(-0.15, 0.04, (count, 3)))
    return masstone, tint, plaster, 10 ** rng.uniform(-2, 1, count)


def glazed(basis: colour.Reflectance, cases: tuple[colour.Reflectance, ...]) -> colour.Reflectance:
    """Reflectances of pigment films over plaster, with colours upsampled by `basis` (bands, 3)."""
    masstone, tint, plaster, mils = cases
    k, s = colour.pigment_ks(masstone @ basis.T, tint @ basis.T, 0.1)
    return colour.film_exact(plaster @ basis.T, k, s, mils)


def reference_lab(spectra: colour.Reflectance) -> colour.Reflectance:
    """CIELAB for D65 of reflectances at 5 nm."""
    weights = colour.xyz_weights("D65")
    return colour.xyz_to_lab(spectra @ weights, weights.sum(axis=0))


def test_bands_keep_to_a_five_nanometre_computation() -> None:
    """Over 600 pigments on plasters CIEDE2000 against 5 nm is at most .5 in the mean and 2 at worst."""
    cases = random_cases(600)
    truth = reference_lab(glazed(colour.upsampling_basis(), cases))
    difference = colour.delta_e(colour.to_lab(glazed(colour.band_basis(), cases)), truth)
    changed = colour.delta_e(truth, colour.to_lab(cases[2]))
    assert np.median(changed) > 10  # the films matter
    assert difference.mean() <= 0.05  # the goal is .5; .010 was measured
    assert difference.max() <= 0.5  # the goal is 2; .19 was measured, and .47 over 5000 cases
    channels = colour.delta_e(colour.to_lab(glazed(np.eye(3), cases)), truth)
    assert channels.max() > 3.0  # the same on linear sRGB: three numbers are not enough


def smooth_spectra(rng: np.random.Generator, count: int) -> colour.Reflectance:
    """Reflectances at 5 nm with a step 12 to 40 nm wide and a hump, like measured pigments, outside the basis."""
    nm = colour.wavelengths_nm()
    step = 1 / (1 + np.exp(-(nm - rng.uniform(430, 670, (count, 1))) / rng.uniform(12, 40, (count, 1))))
    hump = np.exp(-(((nm - rng.uniform(420, 680, (count, 1))) / rng.uniform(25, 60, (count, 1))) ** 2))
    level = rng.uniform(0.05, 0.3, (count, 1)) + rng.uniform(-0.2, 0.6, (count, 1)) * step
    return np.clip(level + rng.uniform(-0.15, 0.4, (count, 1)) * hump, 0.03, 0.85)


def test_bands_hold_for_spectra_outside_the_basis() -> None:
    """Spectra like measured pigments, glazed: mean below .5 when only their sRGB is known, where RGB strays to 5."""
    rng = np.random.default_rng(5)
    masstone, plaster = smooth_spectra(rng, 400), np.clip(0.35 + 0.6 * smooth_spectra(rng, 400), 0, 0.95)
    tint = masstone + (0.88 - masstone) * rng.uniform(0.3, 0.7, (400, 1))
    mils = 10 ** rng.uniform(-2, 1, 400)
    truth = reference_lab(colour.film_exact(plaster, *colour.pigment_ks(masstone, tint, 0.1), mils))
    exact = colour._XYZ_TO_RGB @ colour.adaptation(colour.xyz_weights().sum(axis=0)) @ colour.xyz_weights().T
    shown = tuple(np.clip(value @ exact.T, 1e-3, 0.999) for value in (masstone, tint, plaster))
    ours = colour.delta_e(colour.to_lab(glazed(colour.band_basis(), (*shown, mils))), truth)
    channels = colour.delta_e(colour.to_lab(glazed(np.eye(3), (*shown, mils))), truth)
    assert ours.mean() < 0.5  # .25 was measured; computing at 5 nm from the same sRGB gives .25 too
    assert channels.max() > 5.0
    assert channels.max() > 1.5 * ours.max()
    averaged = colour.film_exact(
        colour.to_bands(plaster), *colour.pigment_ks(colour.to_bands(masstone), colour.to_bands(tint), 0.1), mils
    )
    assert colour.delta_e(colour.to_lab(averaged), truth).mean() < 0.5  # .45 was measured


# --------------------------------------------------------------------------- spectra


@pytest.mark.parametrize("name", ["D65", "D50", "A", "LED-B1", "LED-B2", "LED-B3", "LED-B4", "LED-B5"])
def test_illuminants_are_the_library_s(library: Any, name: str) -> None:
    """The lamps' tables are those of colour-science."""
    theirs = library.SDS_ILLUMINANTS[name].copy().align(library.SpectralShape(380, 780, 5)).values
    assert np.allclose(colour.illuminant(name), theirs, rtol=1e-8)


@pytest.mark.parametrize("light", ["D65", "D50", "A", "LED-B2"])
def test_tristimulus_values_are_the_library_s(library: Any, light: str) -> None:
    """XYZ of a reflectance under a light equal colour-science's integration at 5 nm."""
    shape = library.SpectralShape(380, 780, 5)
    spectrum = colour.upsampling_basis() @ [0.6, 0.3, 0.1]
    theirs = library.sd_to_XYZ(
        library.SpectralDistribution(spectrum, shape),
        library.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"].copy().align(shape),
        library.SDS_ILLUMINANTS[light].copy().align(shape),
        method="Integration",
    )
    assert np.allclose(100 * spectrum @ colour.xyz_weights(light), theirs, atol=1e-6)


def test_blackbody_is_the_library_s(library: Any) -> None:
    """A radiator of 2700 K follows Planck's law as in colour-science, to the digits of c2."""
    theirs = library.sd_blackbody(2700, library.SpectralShape(380, 780, 5)).values
    assert np.allclose(colour.illuminant("2700 K"), theirs / theirs[36], rtol=1e-3)


def test_led_is_the_nearest_of_its_kind(library: Any) -> None:
    """ "LED 4000 K" is the CIE lamp of 4103 K, plain "LED" the one of 2998 K; each lamp's kelvins are colour-science's
    to the kelvin."""
    for name, kelvin in colour._LEDS.items():
        uv = library.UCS_to_uv(library.XYZ_to_UCS(colour.xyz_weights(name).sum(axis=0)))
        assert library.temperature.uv_to_CCT_Ohno2013(uv)[0] == pytest.approx(kelvin, abs=0.51)
    assert np.array_equal(colour.illuminant("LED 4000 K"), colour.illuminant("LED-B3"))
    assert np.array_equal(colour.illuminant("led"), colour.illuminant("LED-B2"))


@pytest.mark.parametrize("name", ["F11", "candle", "900 K", "50000 K", ""])
def test_unknown_lights_are_refused(name: str) -> None:
    """A light we do not know is refused with those we do."""
    with pytest.raises(ValueError, match="expected D65, D50, A, LED"):
        colour.illuminant(name)


@pytest.mark.parametrize("light", ["D65", "D50", "A", "LED", "2000 K", "6500 K"])
def test_white_stays_white_to_an_adapted_eye(light: str) -> None:
    """Under any lamp a perfect white is (1, 1, 1) when the eye is adapted."""
    assert np.allclose(colour.to_linear_rgb(np.ones(colour.BANDS), light), 1.0, atol=1e-9)


def test_warm_lamp_shows_its_tint_to_an_unadapted_eye() -> None:
    """Without adaptation a white under 2700 K is redder and less blue at the same luminance, half way with .5."""
    raw, half = (colour.to_linear_rgb(np.ones(colour.BANDS), "2700 K", degree) for degree in (False, 0.5))
    assert raw[0] > half[0] > 1.0 > half[2] > raw[2]
    assert np.allclose([colour.lrv(raw), colour.lrv(half)], 100.0)


def test_part_adaptation_stays_on_the_radiators_line(library: Any) -> None:
    """What is left of a warm lamp's tint is that of a less warm radiator: off the line by under .006 in uv."""
    xyz = colour.to_linear_rgb(np.ones(colour.BANDS), "2700 K", 0.6) @ colour._RGB_TO_XYZ.T
    uv = library.UCS_to_uv(library.XYZ_to_UCS(xyz))
    kelvin, off = library.temperature.uv_to_CCT_Ohno2013(uv)
    assert 3500 < kelvin < 5500
    assert abs(off) < 0.006


def test_matrices_are_the_library_s(library: Any) -> None:
    """Bradford's cone responses are those of colour-science; so is what sRGB's primaries and white make in XYZ."""
    assert np.array_equal(colour._BRADFORD, library.CHROMATIC_ADAPTATION_TRANSFORMS["Bradford"])
    primaries, white = library.RGB_COLOURSPACES["sRGB"].primaries, (0.95047, 1.0, 1.08883)  # D65 of ASTM E308
    theirs = library.normalised_primary_matrix(primaries, library.XYZ_to_xy(white))
    assert np.allclose(colour._RGB_TO_XYZ, theirs, atol=1e-6)


@pytest.mark.parametrize("light", ["D50", "A", "LED-B5"])
def test_adaptation_is_the_library_s(library: Any, light: str) -> None:
    """Full adaptation, the default, is von Kries with Bradford as in colour-science; a dim lamp stays as dim."""
    white = colour.xyz_weights(light).sum(axis=0)
    theirs = library.adaptation.matrix_chromatic_adaptation_VonKries(white, colour._WHITE, transform="Bradford")
    assert np.allclose(colour.adaptation(white), theirs, atol=1e-6)
    assert np.allclose(colour.adaptation(0.3 * white), theirs, atol=1e-6)
    assert np.allclose(colour.rgb_matrix(light).sum(axis=1), 1.0, atol=1e-9)


@pytest.mark.parametrize("degree", [0.0, 0.25, 0.7, 1.0])
def test_part_adaptation_is_a_power_of_the_cone_responses(degree: float) -> None:
    """What a white under A looks like has the cone responses w^(1-d) W^d but for a factor, and the white's own Y."""
    white = colour.xyz_weights("A").sum(axis=0)
    seen = colour.adaptation(white, degree) @ white
    cones = (colour._BRADFORD @ white) ** (1 - degree) * (colour._BRADFORD @ colour._WHITE) ** degree
    assert np.ptp(colour._BRADFORD @ seen / cones) < 1e-9
    assert seen[1] == pytest.approx(1.0, abs=1e-12)
    assert np.allclose(colour._RGB_TO_XYZ @ colour.rgb_matrix("A", degree).sum(axis=1), seen, atol=1e-4)


def test_lamps_at_the_ends_of_the_range() -> None:
    """Radiators from 1500 to 12000 K are lamps, each 1 at 560 nm and by Planck's law 450 to 650 nm as hand-worked."""
    for kelvin in (1500, 2856, 12000):
        power = colour.illuminant(f"{kelvin} K")
        ratio = (650 / 450) ** 5 * np.expm1(14.388e-3 / (650e-9 * kelvin)) / np.expm1(14.388e-3 / (450e-9 * kelvin))
        assert power[[14, 36, 54]] == pytest.approx([ratio * power[54], 1.0, power[54]], rel=1e-9)
    for beyond in ("1499 K", "12001 K"):
        with pytest.raises(ValueError, match="is no light we know"):
            colour.illuminant(beyond)


def test_bands_are_cut_at_their_edges() -> None:
    """A spectrum that is 1 between two edges and 0 elsewhere is 1 in that band alone; a flat one is itself."""
    nm, edges = colour.wavelengths_nm(), (380.0, *colour.BAND_EDGES_NM, 785.0)
    inside = [(nm >= low) & (nm < high) for low, high in itertools.pairwise(edges)]
    assert np.allclose(colour.to_bands(inside), np.eye(8), atol=1e-12)
    assert np.allclose(colour.to_bands(np.full(81, 0.37)), 0.37, atol=1e-12)


def test_primaries_come_back_exactly() -> None:
    """Bands of the primaries are the published basis' averages but for .01, and give the primaries back."""
    assert np.allclose(colour.rgb_matrix() @ colour.band_basis(), np.eye(3), atol=1e-12)
    assert np.allclose(colour.band_basis(), colour.to_bands(colour.upsampling_basis().T).T, atol=0.01)


# --------------------------------------------------------------------------- screen and CIELAB


@pytest.mark.parametrize(("encoded", "light"), [(0.5, 0.21404114), (0.04045, 0.0031308), (1.0, 1.0), (0.0, 0.0)])
def test_srgb_values(encoded: float, light: float) -> None:
    """The transfer of IEC 61966-2-1:1999, both ways."""
    assert colour.srgb_to_linear(encoded) == pytest.approx(light, abs=1e-7)
    assert colour.linear_to_srgb(light) == pytest.approx(encoded, abs=1e-6)


def test_all_codes_round_trip() -> None:
    """Each of the 256 codes comes back from its light."""
    codes = np.arange(256, dtype=np.uint8)
    assert np.array_equal(colour.to_srgb8(colour.from_srgb8(codes)), codes)


@given(st.floats(0.0, 1.0))
def test_codes_are_the_nearest(light: float) -> None:
    """The table's code is within .6 of the exact one (half a code, and the table's own step)."""
    assert abs(float(colour.to_srgb8(light)) - 255 * float(colour.linear_to_srgb(light))) <= 0.6


def test_light_beyond_the_screen_is_clipped() -> None:
    """Below black is black, above white white."""
    assert colour.to_srgb8([-0.5, 0.0, 1.0, 7.0]).tolist() == [0, 0, 255, 255]


@pytest.mark.parametrize("row", SHARMA, ids=lambda row: f"{row[6]:.4f}")
def test_delta_e_Sharma2005(row: colour.Reflectance) -> None:  # noqa: N802 - named after its data set
    """CIEDE2000 equals the printed pairs, in both orders."""
    assert colour.delta_e(row[:3], row[3:6]) == pytest.approx(row[6], abs=1e-4)
    assert colour.delta_e(row[3:6], row[:3]) == pytest.approx(row[6], abs=1e-4)


def test_delta_e_is_the_library_s(library: Any) -> None:
    """CIEDE2000 of a thousand random pairs equals colour-science's."""
    pairs = np.random.default_rng(1).uniform([0, -90, -90], [100, 90, 90], (2, 1000, 3))
    assert np.allclose(colour.delta_e(*pairs), library.delta_E(*pairs, method="CIE 2000"), atol=1e-9)


def test_cielab_is_the_library_s(library: Any) -> None:
    """CIELAB of linear sRGB equals colour-science's, and goes back."""
    linear = np.random.default_rng(2).uniform(0, 1, (200, 3))
    xyz, white = linear @ colour._RGB_TO_XYZ.T, colour._RGB_TO_XYZ.sum(axis=1)
    ours = colour.to_lab(linear)
    assert np.allclose(ours, library.XYZ_to_Lab(xyz, library.XYZ_to_xy(white)), atol=1e-9)
    assert np.allclose(colour.lab_to_xyz(ours, white), xyz, atol=1e-12)


def test_light_reflectance_value_is_luminance() -> None:
    """LRV is 100 Y: L* = 50 is 18.4187, and a grey's is its reflectance."""
    assert colour.lrv(colour.parse_colour("lab(50, 0, 0)")) == pytest.approx(18.4187, abs=1e-3)
    assert colour.lrv(np.full(colour.BANDS, 0.62)) == pytest.approx(62.0, abs=1e-9)
    assert colour.lrv(np.array([1.0, 0.0, 0.0])) == pytest.approx(21.26, abs=0.01)


@pytest.mark.parametrize(("chroma", "most"), [(0.1, 2.0), (0.4, 4.0)])
def test_light_reflectance_value_for_the_other_observer(library: Any, chroma: float, most: float) -> None:
    """For the 10 degree observer of BS 8493 plaster colours move by less than 2 points, vivid ones by less than 4."""
    shape = library.SpectralShape(380, 780, 5)
    wide = library.MSDS_CMFS["CIE 1964 10 Degree Standard Observer"].copy().align(shape).values[:, 1]
    weights = wide * colour.illuminant("D65")
    rng = np.random.default_rng(7)
    encoded = rng.uniform(0.4, 0.95, (1000, 1)) + rng.uniform(-chroma, chroma, (1000, 3))
    linear = colour.srgb_to_linear(np.clip(encoded, 0, 1))
    other = 100 * (linear @ colour.upsampling_basis().T) @ weights / weights.sum()
    assert np.abs(other - colour.lrv(linear)).max() < most


@pytest.mark.parametrize("light", ["D65", "A"])
def test_greys_are_neutral_under_any_lamp(light: str) -> None:
    """A flat reflectance of .184187 is lab(50, 0, 0) under its lamp."""
    assert np.allclose(colour.to_lab(np.full(colour.BANDS, 0.184187), light), (50, 0, 0), atol=1e-3)


def test_screen_table_is_the_transfer_at_its_places() -> None:
    """Between two codes the table turns over where the transfer does, to its own step."""
    border = colour.srgb_to_linear((np.arange(255) + 0.5) / 255)
    assert np.array_equal(colour.to_srgb8(border - 2 / 16383), np.arange(255))
    assert np.array_equal(colour.to_srgb8(border + 2 / 16383), np.arange(1, 256))


# --------------------------------------------------------------------------- words


@given(channels, channels, channels)
def test_every_screen_colour_round_trips(red: int, green: int, blue: int) -> None:
    """sRGB to bands and back is the same code, its light within 2e-4, all reflectances inside 0 to 1."""
    words = code(red, green, blue)
    bands = colour.parse_colour(words)
    linear = colour.to_linear_rgb(bands)
    assert np.all((bands > 0) & (bands < 1))
    assert np.allclose(linear, colour.from_srgb8([red, green, blue]), atol=2e-4)
    assert colour.hex_code(linear) == words


def test_upsampled_white_is_flat() -> None:
    """White and grey have the same reflectance in every band."""
    assert np.allclose(colour.parse_colour("#ffffff"), 1.0, atol=2e-4)
    assert np.ptp(colour.parse_colour("#808080")) < 1e-4


def test_colour_in_cielab() -> None:
    """lab(62, 4, 18) is that colour."""
    assert np.allclose(colour.to_lab(colour.parse_colour("lab(62, 4, 18)")), (62, 4, 18), atol=1e-3)


def test_colour_by_light_reflectance_value() -> None:
    """LRV, hue and chroma are those of the colour."""
    bands = colour.parse_colour("LRV 62, hue 80, chroma 12")
    _, a, b = colour.to_lab(bands)
    assert colour.lrv(bands) == pytest.approx(62, abs=1e-3)
    assert np.degrees(np.arctan2(b, a)) == pytest.approx(80, abs=0.01)
    assert np.hypot(a, b) == pytest.approx(12, abs=1e-3)
    assert np.ptp(colour.parse_colour("LRV 40")) < 1e-6


@pytest.mark.parametrize("words", ["beige", "#12345", "lab(1, 2)", "LRV", "LRV 50, hue 20", "", "rgb(1,2,3)"])
def test_words_that_are_no_colour(words: str) -> None:
    """Other words are refused with the three ways of writing a colour."""
    with pytest.raises(ValueError, match=r'expected "#rrggbb", "lab\(L, a, b\)"'):
        colour.parse_colour(words)


def test_colours_no_screen_shows() -> None:
    """A colour that is too vivid is refused with the most vivid one, which is accepted."""
    with pytest.raises(ValueError, match=r"chroma is at most 91, lab\(50, 64, 64\)"):
        colour.parse_colour("lab(50, 90, 90)")
    colour.parse_colour("lab(50, 64, 64)")
    with pytest.raises(ValueError, match="LRV is from 0 to 100"):
        colour.parse_colour("LRV 130")
    with pytest.raises(ValueError, match="between 0 and 100"):
        colour.parse_colour("lab(130, 0, 0)")


def test_colours_are_read_only() -> None:
    """Nobody changes a colour that others share."""
    with pytest.raises(ValueError, match="read-only"):
        colour.parse_colour("#aabbcc")[0] = 0.5


@pytest.mark.parametrize("words", ["lab(53.2, 80.1, 67.2)", "lab(87.7, -86.2, 83.2)", "lab(32.3, 79.2, -107.9)"])
def test_primaries_in_rounded_words(words: str) -> None:
    """The screen's own primaries, a hair outside when rounded to a tenth, are colours, and clipped to them."""
    linear = colour.to_linear_rgb(colour.parse_colour(words))
    assert np.allclose(np.sort(linear), (0, 0, 1), atol=3e-3)


@pytest.mark.parametrize("black", ["LRV 0", "lab(0, 0, 0)", "#000000"])
@pytest.mark.parametrize("white", ["LRV 100", "lab(100, 0, 0)", "#FFFFFF"])
def test_the_ends_of_grey(black: str, white: str) -> None:
    """Black and white are colours too, held a hair off 0 and 1."""
    assert np.allclose(colour.parse_colour(black), 0.0001, rtol=0, atol=1e-6)
    assert np.allclose(colour.parse_colour(white), 0.9999, rtol=0, atol=1e-6)


@pytest.mark.parametrize("words", ["LRV -1", "LRV 101", "LRV 50, hue 20, chroma -1", "lab(-1, 0, 0)", "lab(101, 0, 0)"])
def test_beyond_the_ends(words: str) -> None:
    """A lightness outside 0 to 100 and a negative chroma are refused by that name."""
    with pytest.raises(
        ValueError, match=r"LRV is from 0 to 100, and a chroma is not|L of lab\(\) is between 0 and 100"
    ):
        colour.parse_colour(words)


def test_the_most_vivid_is_the_screens_own_limit() -> None:
    """At the lightness and hue of the screen's red the largest factor on a and b is the one that gives that red."""
    lightness, a, b = colour.to_lab(np.array([1.0, 0.0, 0.0]))
    assert colour._most_vivid(lightness, 2 * a, 2 * b) == pytest.approx(0.5, abs=2e-3)
    assert colour._most_vivid(50.0, 0.0, 0.0) == pytest.approx(1.0, abs=1e-5)


# --------------------------------------------------------------------------- pigments


@pytest.mark.parametrize("name", sorted(colour.colourants()))
def test_colourant_shows_its_masstone_and_tint(name: str) -> None:
    """K and S of every shipped colourant give back its two colours to CIEDE2000 1."""
    import tomllib

    from render.presets import folder

    listed = tomllib.loads((folder() / "colourants.toml").read_text(encoding="utf-8"))["colourant"]
    entry = next(one for one in listed if one["name"] == name)
    pigment = colour.colourants()[name]
    k_white, s_white = colour.white_base()
    c = entry["share"]
    alone = colour.film_exact(np.full(colour.BANDS, 0.5), pigment.k, pigment.s, 1e4)
    tinted_ks = c * pigment.k + (1 - c) * k_white, c * pigment.s + (1 - c) * s_white
    tinted = colour.film_exact(np.full(colour.BANDS, 0.5), *tinted_ks, 1e4)
    for seen, wanted in ((alone, entry["masstone"]), (tinted, entry["tint"])):
        assert colour.delta_e(colour.to_lab(seen), colour.to_lab(colour.parse_colour(wanted))) < 1.0
    assert np.all(pigment.k > 0)
    assert np.all(pigment.s > 0)
    assert pigment.source


def test_colourants_have_the_common_generic_names() -> None:
    """The pigments of an antiquing kit are there, by Colour Index generic name."""
    found = {pigment.ci for pigment in colour.colourants().values()}
    assert found >= {"PR101", "PY42", "PBr7", "PBk9", "PBk11", "PW6", "PB29", "PG17"}


def test_pigment_ks_gives_known_k_and_s_back() -> None:
    """From the two colours that Duncan's mixture gives a known K and S with white these are found again."""
    white_k, white_s = (value.mean() for value in colour.white_base())
    s = white_s * np.array([0.05, 0.1, 0.3, 0.5, 0.8, 1.0, 1.5, 1.9])
    k = s * np.array([30.0, 10.0, 4.0, 2.0, 1.0, 0.6, 0.3, 0.1])
    for share in (0.1, 0.4):
        mixed = (share * k + (1 - share) * white_k) / (share * s + (1 - share) * white_s)
        inside = optics.reflectance_infinite([k / s, mixed])
        masstone, tint = optics.saunderson(inside, 0.0, colour.TURNED_BACK)
        found = colour.pigment_ks(masstone, tint, share)
        assert np.allclose(found, (k, s), rtol=1e-6)


def test_pigment_scatters_within_its_range() -> None:
    """A tint darker than its masstone scatters 1 % of the white, one next to as dark 200 %, each absorbing in step."""
    white_s = colour.white_base()[1].mean()
    dark, next_to, light = (colour.parse_colour(words) for words in ("#404040", "#424242", "#c0c0c0"))
    for masstone, tint, times in ((light, dark, 0.01), (dark, next_to, 2.0)):
        k, s = colour.pigment_ks(masstone, tint, 0.1)
        assert np.allclose(s, times * white_s, rtol=1e-12)
        assert np.allclose(optics.saunderson(optics.reflectance_infinite(k / s), 0.0, 0.5963), masstone, atol=1e-9)


def test_white_base_is_what_it_says() -> None:
    """The white of the tints has LRV 88 when thick, and hides at 6 mil: contrast .98 over black and over Y .80."""
    seen = colour.film_exact(np.array([[0.0], [0.8]]), *colour.white_base(), np.array([6.0, 6.0]))
    assert np.divide(*colour.lrv(seen)) == pytest.approx(0.98, abs=1e-4)
    assert colour.lrv(colour.film_exact(np.zeros(1), *colour.white_base(), 1e6)) == pytest.approx(88.0, abs=0.01)
    assert abs(colour.TURNED_BACK - optics.fresnel_diffuse(1 / 1.5)) < 1e-4


def test_yellow_and_blue_make_green() -> None:
    """Pigments mix by subtraction: yellow oxide with phthalo blue is green, which no mean of the two is."""
    k, s = colour.mix({"yellow iron oxide": 0.95, "phthalo blue": 0.05})
    mixed = colour.to_lab(colour.film_exact(np.full(colour.BANDS, 0.5), k, s, 1e4))
    hue = np.degrees(np.arctan2(mixed[2], mixed[1]))
    assert 110 < hue < 190


def test_mix_is_by_volume_and_leaves_the_rest_to_the_medium() -> None:
    """Half the colourant has half the K and S; no colourant has none."""
    pigment = colour.colourants()["raw umber"]
    assert np.allclose(colour.mix({pigment: 0.02}), (0.02 * pigment.k, 0.02 * pigment.s))
    assert np.allclose(colour.mix({"raw umber": 0.02}), colour.mix({pigment: 0.02}))
    assert not np.any(colour.mix({}))


def test_impossible_mixtures_are_refused() -> None:
    """Shares are volumes of a whole, and names are those of the list."""
    with pytest.raises(ValueError, match="add up to at most 1"):
        colour.mix({"raw umber": 0.8, "burnt umber": 0.4})
    with pytest.raises(ValueError, match="not negative"):
        colour.mix({"raw umber": -0.1})
    with pytest.raises(ValueError, match=r'"umber" is no colourant: expected one of .*raw umber'):
        colour.mix({"umber": 0.1})


def test_a_whole_of_colourants_is_a_mixture() -> None:
    """Shares of nothing and shares that make up the whole are allowed: .7 and .3 is the sum of the two."""
    umber, black, ochre = (colour.colourants()[name] for name in ("raw umber", "black iron oxide", "yellow iron oxide"))
    k, s = colour.mix({umber: 0.7, black: 0.3, ochre: 0.0})
    assert np.allclose((k, s), (0.7 * umber.k + 0.3 * black.k, 0.7 * umber.s + 0.3 * black.s))


def test_faulty_colourant_file_is_named(tmp_path: Path) -> None:
    """A fault says file, colourant and what is wrong."""
    path = tmp_path / "mine.toml"
    path.write_text('[[colourant]]\nname = "soot"\nci = "PBk6"\nmasstone = "black"\ntint = "#888888"\nshare = 0.1\n')
    with pytest.raises(ValueError, match=r'mine\.toml: colourant "soot": source is missing'):
        colour.read_colourants(path)
    path.write_text(path.read_text() + 'source = "chosen by eye"\n')
    with pytest.raises(ValueError, match=r'mine\.toml: colourant "soot": "black" is no colour'):
        colour.read_colourants(path)


# --------------------------------------------------------------------------- films


@pytest.mark.parametrize("words", ["#f2ede0", "#7d3427", "#2a2827", "#e5c53a"])
@pytest.mark.parametrize("hiding", [2.0, 8.0, 60.0])
def test_coat_hides_at_its_thickness(words: str, hiding: float) -> None:
    """At the hiding thickness the contrast of Y over black and white (Y .80) is .98, and thick it is its colour."""
    seen = colour.parse_colour(words)
    k, s = colour.coat_ks(seen, hiding)
    over = [float(colour.lrv(colour.film_exact(np.full(colour.BANDS, ground), k, s, hiding))) for ground in (1e-9, 0.8)]
    assert over[0] / over[1] == pytest.approx(0.98, abs=1e-4)
    assert np.allclose(colour.film_exact(np.full(colour.BANDS, 0.5), k, s, 1e4 * hiding), seen, atol=1e-6)


def test_coat_needs_a_thickness() -> None:
    """A coat that hides at no thickness is an error."""
    with pytest.raises(ValueError, match="above 0 mil"):
        colour.coat_ks(colour.parse_colour("#f2ede0"), 0.0)


@given(st.sampled_from(sorted(colour.colourants())), st.floats(0.001, 0.3), st.floats(0.0, 40.0))
def test_tabulated_film_is_the_exact_one(name: str, share: float, mil: float) -> None:
    """The table's films differ from the exact ones by less than CIEDE2000 .15."""
    k, s = colour.mix({name: share})
    base = colour.parse_colour("#e2d6bd")
    fast, exact = colour.film_over(base, k, s, np.float32(mil)), colour.film_exact(base, k, s, mil)
    assert colour.delta_e(colour.to_lab(fast), colour.to_lab(exact)) < 0.15


def test_film_on_a_picture() -> None:
    """Each pixel has its own base and thickness; no film leaves the base bit for bit; inputs stay as they were."""
    rng = np.random.default_rng(3)
    base = rng.uniform(0.1, 0.9, (40, 30, colour.BANDS)).astype(np.float32)
    mils = np.maximum(rng.uniform(-2, 4, (40, 30)), 0).astype(np.float32)
    kept = base.copy()
    k, s = colour.mix({"raw umber": 0.05, "black iron oxide": 0.01})
    seen = colour.film_over(base, k, s, mils)
    assert seen.dtype == np.float32
    assert np.array_equal(base, kept)
    assert np.array_equal(seen[mils == 0], base[mils == 0])
    assert np.allclose(seen, colour.film_exact(base, k, s, mils), atol=1e-3)
    assert np.allclose(colour.film_over(base[0, 0], k, s, mils), colour.film_exact(base[0, 0], k, s, mils), atol=1e-3)


@pytest.mark.parametrize(("k", "s", "hides"), [(0.05, 0.0, np.log(1000) / 0.05), (0.0, 12.0, 999 / 12.0)])
def test_film_hides_where_a_thousandth_comes_through(k: float, s: float, hides: float) -> None:
    """A dye lets exp(-kx) through, a white 1/(1 + sx): the table ends at the next of its 400 places up to 500 mil."""
    got = colour.Film(np.full(colour.BANDS, k), np.full(colour.BANDS, s)).hiding_mil
    assert hides <= got < hides * (500 / 1e-4) ** (1 / 399)


@pytest.mark.parametrize(
    ("k", "s", "contrast"),
    [
        (0.05, 0.0, lambda x: 1 - np.exp(-0.1 * x)),  # there and back through a dye
        (0.0, 12.0, lambda x: 12 * x / (1 + 12 * x)),  # a white: r = sx/(1 + sx), t = 1 - r
        (1e-4, 0.0, lambda x: 1 - np.exp(-2e-4 * x)),  # a weak dye, which hides at no thickness told apart
    ],
)
def test_contrast_of_a_film(k: float, s: float, contrast: Callable[[Any], Any]) -> None:
    """1 - (R over white - R over black) by closed forms at every place; 1 at the last of a film that hides."""
    film = colour.Film(np.full(colour.BANDS, k), np.full(colour.BANDS, s))
    mils = film.hiding_mil * (np.arange(4096) / 4095) ** 2
    assert np.allclose(film.contrast[:-1], contrast(mils[:-1]), atol=1e-6)
    assert film.contrast[-1] == (1.0 if k != 1e-4 else pytest.approx(1 - np.exp(-0.1), abs=1e-6))


def test_contrast_is_the_mean_of_the_bands() -> None:
    """A dye in three of the eight bands has three eighths of its contrast, and so hides nothing wholly."""
    film = colour.Film(np.where(np.arange(colour.BANDS) < 3, 0.05, 0.0), np.zeros(colour.BANDS))
    assert film.hiding_mil == pytest.approx(500.0)
    assert film.contrast[-1] == pytest.approx(3 / 8, abs=1e-6)


def test_places_are_those_of_the_table() -> None:
    """A film's thickness at step i of 4096 is (i / 4095)^2 of what hides; halfway up to the next is i, beyond the end
    the last."""
    film = colour.Film(np.full(colour.BANDS, 0.4), np.full(colour.BANDS, 3.0))
    steps = np.arange(4095)[:, np.newaxis] + np.array([-0.45, 0.0, 0.45])
    mils = (film.hiding_mil * (np.maximum(steps, 0) / 4095) ** 2).astype(np.float32)
    assert np.array_equal(film.place(mils), np.tile(np.arange(4095)[:, np.newaxis], 3))
    assert film.place(np.array([film.hiding_mil, 1e6], np.float32)).tolist() == [4095, 4095] == [film.hidden] * 2


def test_the_last_place_is_the_film_alone() -> None:
    """At its hiding thickness a film is its masstone to the bit, as K/S gives it, over any ground; no film is none."""
    k, s = colour.coat_ks(colour.parse_colour("#d8cdb6"), 6.0)
    film = colour.Film(k, s)
    for ground in (0.01, 0.99):
        below = np.full((1, colour.BANDS), ground, np.float32)
        assert np.array_equal(film.over(below, film.hiding_mil)[0], film.masstone)
        assert np.array_equal(film.over(below, -1.0), below)
    assert np.allclose(film.masstone, colour.parse_colour("#d8cdb6"), atol=1e-4)
    assert film.table[:, 0].tolist() == [[0.0] * 8, [1.0] * 8, [0.0] * 8]


@pytest.mark.parametrize(("part", "clear"), [(1.9e-6, True), (2.1e-6, False)])
def test_what_is_clear(part: float, clear: bool) -> None:
    """A film is clear when in no band K or S over 500 mil comes to a thousandth."""
    one, none = np.where(np.arange(colour.BANDS) == 4, part, 0.0), np.zeros(colour.BANDS)
    assert colour.Film(one, none).clear is clear
    assert colour.Film(none, one).clear is clear


@pytest.mark.parametrize(("some", "found"), [(0, []), (1, [0]), (4, [0, 1, 2, 3]), (5, None), (10, None)])
def test_which_pixels_are_picked(some: int, found: list[int] | None) -> None:
    """Up to four in ten pixels with film are picked; of more all are computed."""
    at = colour.touched(np.where(np.arange(10) < some, 0.5, 0.0).astype(np.float32))
    assert (at if at is None else at.tolist()) == found


@pytest.mark.parametrize("share", [0.0, 0.1, 0.4, 0.9])
def test_picked_or_not_in_pieces_or_not(monkeypatch: pytest.MonkeyPatch, share: float) -> None:
    """Films and stains are the same to the bit pixel by pixel, in pieces of 7, and all at once, however many have some;
    where there is none the base stays to the bit."""
    rng = np.random.default_rng(8)
    base = rng.uniform(0.1, 0.9, (5, 20, colour.BANDS)).astype(np.float32)
    mils = np.where(rng.uniform(0, 1, (5, 20)) < share, rng.uniform(0.1, 6, (5, 20)), 0).astype(np.float32)
    k, s = colour.mix({"raw umber": 0.05, "phthalo blue": 0.01})
    stain = {"depth_mil": 8.0, "scatter_per_mil": 0.5}
    for lay in (lambda b, m: colour.film_over(b, k, s, m), lambda b, m: colour.stain_into(b, k, s, m, **stain)):
        whole = lay(base, mils)
        with monkeypatch.context() as patch:
            patch.setattr(colour, "CHUNK", 7)
            assert lay(base, mils).tobytes() == whole.tobytes()
        single = [lay(base[at][np.newaxis], mils[at][np.newaxis])[0] for at in np.ndindex(mils.shape)]
        assert np.array_equal(np.array(single).reshape(base.shape), whole)
        assert np.array_equal(whole[mils == 0], base[mils == 0])
        assert np.all(np.abs(whole - base).max(axis=2)[mils > 0] > 1e-3)


def test_one_ground_under_many_films() -> None:
    """A ground of one colour under films, and a picture under one film, take the shape of the larger."""
    k, s = colour.mix({"raw umber": 0.05})
    base, mils = colour.parse_colour("#e2d6bd"), np.linspace(0, 5, 6).reshape(2, 3)
    wide = np.broadcast_to(base, (2, 3, colour.BANDS))
    assert np.allclose(colour.film_over(base, k, s, mils), colour.film_over(wide, k, s, mils), atol=1e-6)
    for laid in (colour.film_over(wide, k, s, 2.0), colour.stain_into(wide, k, s, 2.0, depth_mil=8, scatter_per_mil=1)):
        assert laid.shape == wide.shape and np.ptp(laid, axis=(0, 1)).max() == 0
    assert colour.film_exact(base, k, s, mils).shape == wide.shape


def test_equal_films_share_a_table() -> None:
    """The film of the same K and S is the same one, another's is another."""
    k, s = colour.mix({"raw umber": 0.05})
    assert colour.film(k, s) is colour.film(k.copy(), list(s))
    assert colour.film(s, k) is not colour.film(k, s)


def test_clear_film_is_not_seen() -> None:
    """A medium without pigment changes nothing however thick."""
    base = np.full((2, 2, colour.BANDS), 0.4, np.float32)
    nothing = np.zeros(colour.BANDS)
    assert np.allclose(colour.film_over(base, nothing, nothing, np.full((2, 2), 20.0)), base, atol=1e-6)


def test_absorbed_pigment_colours_less_than_a_film() -> None:
    """A stain darkens with its load, but less than the same pigment lying on top; without load nothing changes."""
    base = colour.parse_colour("#e2d6bd").astype(np.float32)
    k, s = colour.mix({"burnt umber": 0.05})
    mils = np.array([0.0, 0.5, 1.0, 2.0, 4.0], np.float32)
    soaked = colour.lrv(colour.stain_into(base, k, s, mils, depth_mil=8.0, scatter_per_mil=1.0))
    lying = colour.lrv(colour.film_over(base, k, s, mils))
    assert soaked[0] == pytest.approx(colour.lrv(base), abs=1e-4)
    assert np.all(np.diff(soaked) < 0)
    assert np.all(soaked[1:] > lying[1:])


def test_stain_is_the_mixture_of_ground_and_pigments() -> None:
    """Stained by two pigments a ground has the K/S of (K + sum of load k)/(1 + sum of load s), its own S being 1."""
    rng = np.random.default_rng(6)
    base, loads = rng.uniform(0.05, 0.95, (9, colour.BANDS)), rng.uniform(0.01, 2, (2, 9))
    k, s = rng.uniform(0, 3, (2, colour.BANDS)), rng.uniform(0, 2, (2, colour.BANDS))
    own = optics.k_over_s(optics.saunderson_inverse(base, 0.0, colour.TURNED_BACK))

    def exact(one: slice) -> Any:
        ratio = (own + loads[one].T @ k[one]) / (1 + loads[one].T @ s[one])
        return optics.saunderson(optics.reflectance_infinite(ratio), 0.0, colour.TURNED_BACK)

    both, work = base.astype(np.float32), np.empty((2, 9, colour.BANDS), np.float32)
    colour.stain_some(both, loads.astype(np.float32), k.astype(np.float32), s.astype(np.float32), work)
    assert np.allclose(both, exact(slice(0, 2)), atol=2e-6)
    single = colour.stain_into(base, k[0], s[0], 6.0 * loads[0], depth_mil=12.0, scatter_per_mil=0.5)
    assert np.allclose(single, exact(slice(0, 1)), atol=2e-6)


@pytest.mark.parametrize(("ends", "level"), [((-3.0, 5.0), 0.3), ((0.1, 2.0), 0.9), ((0.5, 0.7), 0.25)])
def test_where_a_rising_function_is_reached(ends: tuple[float, float], level: float) -> None:
    """A cube reaches a level at its cube root, found to a part in 1e11 of the way."""
    found = colour._where_reached(lambda place: place**3, level, *ends)
    assert found == pytest.approx(np.cbrt(level), abs=1e-11)


# --------------------------------------------------------------------------- summary


def test_summary_of_two_colours() -> None:
    """A wall three quarters plaster, one quarter stain: mean, tenths and dominant colours are those."""
    plaster, stain = colour.parse_colour("#e2d6bd"), colour.parse_colour("#3f7f86")
    picture = np.empty((40, 40, colour.BANDS), np.float32)
    picture[:30], picture[30:] = plaster, stain
    told = colour.summary(picture)
    assert told["darkest tenth"]["srgb"] == "#3f7f86"
    assert told["lightest tenth"]["srgb"] == "#e2d6bd"
    assert [(one["srgb"], one["share"]) for one in told["dominant"]] == [("#e2d6bd", 0.75), ("#3f7f86", 0.25)]
    mean = 0.75 * float(colour.lrv(plaster)) + 0.25 * float(colour.lrv(stain))
    assert told["mean"]["lrv"] == pytest.approx(mean, abs=0.06)


def test_summary_by_hand() -> None:
    """Greys of LRV 1 to 100: the mean is 50.5, the tenths 5.5 and 95.5; a wall of one colour is that colour."""
    greys = np.random.default_rng(9).permutation(np.arange(1, 101) / 100)[:, np.newaxis]
    for picture in (np.tile(greys, 3), np.tile(greys, colour.BANDS)):
        told = colour.summary(picture.reshape(10, 10, -1))
        assert [told[part]["lrv"] for part in ("mean", "darkest tenth", "lightest tenth")] == [50.5, 5.5, 95.5]
        assert sum(one["share"] for one in told["dominant"]) == pytest.approx(1.0)
        assert len(told["dominant"]) == 5
        assert "-0.0" not in str(told)
        assert len(colour.summary(picture, 2)["dominant"]) == 2
    plain = colour.summary(np.tile(colour.parse_colour("lab(62, 4, 18)"), (3, 1)))
    assert plain["mean"] == plain["lightest tenth"] == plain["darkest tenth"]
    assert (plain["mean"]["lab"], plain["mean"]["lrv"]) == ([62.0, 4.0, 18.0], 30.4)
    assert plain["dominant"] == [{**plain["mean"], "share": 1.0}]


@pytest.mark.parametrize(("apart", "found"), [(5.8, 1), (6.2, 2)])
def test_colours_are_told_apart_from_three_units_off_the_mean(apart: float, found: int) -> None:
    """Two greys equally often are one dominant colour while each is less than 3 units of L* from their mean."""
    greys = [colour.parse_colour(f"lab({lightness}, 0, 0)") for lightness in (50.0, 50.0 + apart)]
    dominant = colour.summary(np.array(greys * 2))["dominant"]
    assert [one["share"] for one in dominant] == [1.0 / found] * found
    if found > 1:
        assert sorted(one["lab"][0] for one in dominant) == pytest.approx([50.0, 50.0 + apart])


def test_a_centre_without_colours_takes_none() -> None:
    """Greys of L* 1, 9 and 90: the first centre, their mean of 33, is nearest to none and so the two dark are one."""
    greys = np.array([colour.parse_colour(f"lab({lightness}, 0, 0)") for lightness in (1, 9, 90)])
    assert [one["share"] for one in colour.summary(greys, 3)["dominant"]] == [0.667, 0.333]


def test_large_pictures_are_sampled_evenly() -> None:
    """Of 120 000 pixels every third is looked at; of 79 999 all are."""
    striped = np.tile([[0.2], [0.9], [0.9]], (40_000, 3))
    assert colour.summary(striped)["mean"]["lrv"] == 20.0
    assert colour.summary(striped[:79_999])["mean"]["lrv"] == pytest.approx(66.7, abs=0.05)


def test_summary_takes_light_too_and_is_the_same_each_time() -> None:
    """Reflectances and their linear sRGB give the same summary, twice."""
    picture = np.random.default_rng(4).uniform(0.1, 0.8, (50, 60, colour.BANDS)).astype(np.float32)
    assert colour.summary(picture) == colour.summary(picture)
    assert colour.summary(picture)["mean"] == colour.summary(colour.to_linear_rgb(picture))["mean"]


def test_the_darkest_colours_of_cielab() -> None:
    """Below Y = .008856 L* is a straight line, (29/3)^3 Y, above it 116 times the cube root less 16: neutral stays
    neutral, and back (ISO/CIE 11664-4)."""
    for y in (0.0, 0.002, 0.004, 0.008, 0.0088, 0.0089, 0.009, 0.0095, 0.012):
        got = colour.xyz_to_lab(np.full(3, y), np.ones(3))
        lightness = (29 / 3) ** 3 * y if y < 0.008856 else 116 * np.cbrt(y) - 16
        assert got == pytest.approx([lightness, 0.0, 0.0], abs=1e-9)
        assert colour.lab_to_xyz(got, np.ones(3)) == pytest.approx(np.full(3, y), abs=1e-12)


def test_tables_are_read_only() -> None:
    """Tables that all pictures share cannot be written to."""
    film, umber = colour.film(*colour.mix({"raw umber": 0.05})), colour.colourants()["raw umber"]
    coat = colour.coat_ks(colour.parse_colour("#f2ede0"), 6.0)
    for array in (colour.wavelengths_nm(), film.table, film.contrast, film.masstone, umber.k, umber.s, *coat):
        assert not array.flags.writeable


@pytest.mark.parametrize("strength", [0.0, 1e-4])
def test_a_film_too_weak_to_hide_hides_at_no_thickness(strength: float) -> None:
    """At half an inch and more, clear varnish leaves the ground as it is, and a weak dye darkens it as it should."""
    k, s = np.full(colour.BANDS, strength), np.zeros(colour.BANDS)
    film, ground = colour.Film(k, s), np.linspace(0.1, 0.9, colour.BANDS)
    for mils in (499.0, 500.0, 600.0):
        assert film.place(np.array([mils], np.float32))[0] < film.hidden
        exact = colour.film_exact(ground, k, s, min(mils, 500.0))
        assert np.allclose(colour.film_over(ground, k, s, np.float32(mils)), exact, atol=1e-5)
