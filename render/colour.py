"""Colour as reflectance in a few spectral bands: words in, pigments and films, sRGB and CIELAB out.

Every colour in the program is a *reflectance*: `BANDS` shares between 0 and 1, as the surface is seen under
diffuse light with its mirror reflection left out (that one is light's business, see `render.light`). Three
RGB numbers mix some layered glazes wrongly, by up to 6 units of CIEDE2000 over 5000 random pigments on
plasters; these bands stay within .5 of a computation at 5 nm, .01 in the mean (tests/test_colour.py).

Words for a colour, read by `parse_colour`:

    #c8b48c                       sRGB, as on a screen
    lab(62, 4, 18)                CIELAB for D65 and the 2 degree observer
    LRV 62, hue 80, chroma 12     light reflectance value 0-100, CIELAB hue angle in degrees, CIELAB chroma

The values are sRGB's own: D65, CIE 1931 2 degree observer. A light reflectance value by BS 8493 uses the
10 degree observer, so ours is an approximation of it: within 2 points for plaster colours, 4 for vivid ones.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from functools import cache, cached_property, lru_cache
from pathlib import Path
from types import MappingProxyType
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from render.physics import optics

Reflectance = NDArray[np.float64]
Picture = NDArray[np.float32]
Codes = NDArray[np.uint8]

# Borders of the bands in nm, found by a coordinate search over 5 nm tables for the smallest mean and worst
# CIEDE2000 of random pigments in films over plaster: tests/reference/choose_bands.py.
BAND_EDGES_NM = (477.5, 492.5, 522.5, 547.5, 567.5, 587.5, 597.5)
BANDS = len(BAND_EDGES_NM) + 1

# Share of the light coming from inside a binder of index 1.5 that its surface turns back in (Saunderson's
# k2; the usual range is .4 to .6). Equals optics.fresnel_diffuse(1 / 1.5).
TURNED_BACK = 0.5963

# Reflectances stay off 0 and 1, where absorption over scattering has no value.
DARKEST, LIGHTEST = 1e-4, 0.9999

# A white tint base for the tints of presets/colourants.toml: LRV about 88, hides at 6 mil (chosen by eye).
WHITE_BASE_LINEAR, WHITE_BASE_HIDING_MIL = 0.88, 6.0

# The most and least a colourant may scatter, as a multiple of the white base: keeps measured or guessed
# pairs of masstone and tint that cross in one band from giving nonsense there (chosen by eye).
SCATTER_RANGE = (0.01, 2.0)

# IEC 61966-2-1:1999, linear sRGB to XYZ for D65, the primaries' seven-digit matrix.
_RGB_TO_XYZ = np.array(
    [[0.4124564, 0.3575761, 0.1804375], [0.2126729, 0.7151522, 0.0721750], [0.0193339, 0.1191920, 0.9503041]]
)
_XYZ_TO_RGB = np.linalg.inv(_RGB_TO_XYZ)
_WHITE = _RGB_TO_XYZ.sum(axis=1)

# Bradford cone responses (Lam 1985; ICC.1:2010 annex E).
_BRADFORD = np.array([[0.8951, 0.2664, -0.1614], [-0.7502, 1.7135, 0.0367], [0.0389, -0.0685, 1.0296]])

_EXPECTED = (
    'expected "#rrggbb", "lab(L, a, b)" such as "lab(62, 4, 18)", or "LRV 62, hue 80, chroma 12" '
    "(hue in degrees of CIELAB; hue and chroma may be left out for a neutral grey)"
)
_NUMBER = r"\s*([-+]?\d+(?:\.\d+)?|[-+]?\.\d+)\s*"
_HEX = re.compile(r"#([0-9a-fA-F]{6})")
_LAB = re.compile(rf"lab\({_NUMBER},{_NUMBER},{_NUMBER}\)", re.IGNORECASE)
_LRV = re.compile(rf"lrv{_NUMBER}(?:,\s*hue{_NUMBER},\s*chroma{_NUMBER})?", re.IGNORECASE)


# ---------------------------------------------------------------------------------------------- spectra


@cache
def _table() -> Mapping[str, Reflectance]:
    """Columns of data/spectra_5nm.csv by name, 380 to 780 nm."""
    path = Path(__file__).parent / "data" / "spectra_5nm.csv"
    lines = [line for line in path.read_text(encoding="utf-8").splitlines() if not line.startswith("#")]
    values = np.array([[float(cell) for cell in line.split(",")] for line in lines[1:]])
    values.flags.writeable = False
    return MappingProxyType(dict(zip(lines[0].split(","), values.T, strict=True)))


def wavelengths_nm() -> Reflectance:
    """The 81 wavelengths of the tables."""
    return _table()["nm"]


def observer() -> Reflectance:
    """CIE 1931 2 degree colour-matching functions, (81, 3)."""
    return np.stack([_table()[name] for name in ("xbar", "ybar", "zbar")], axis=1)


def upsampling_basis() -> Reflectance:
    """Reflectances of the three sRGB primaries at 5 nm, (81, 3): Mallett & Yuksel 2019."""
    return np.stack([_table()[name] for name in ("red", "green", "blue")], axis=1)


def blackbody(kelvin: float) -> Reflectance:
    """Relative power (81,) of a full radiator, 1 at 560 nm (Planck's law, c2 = .014388 m K)."""
    metres = wavelengths_nm() * 1e-9
    power = metres**-5 / np.expm1(1.4388e-2 / (metres * kelvin))
    return power / np.interp(560e-9, metres, power)


_KELVIN = re.compile(r"(led\s*)?(\d{4,5})\s*k", re.IGNORECASE)
# Correlated colour temperatures of the CIE LED lamps, CIE 015:2018 table 12.
_LEDS = {"LED-B1": 2733, "LED-B2": 2998, "LED-B3": 4103, "LED-B4": 5109, "LED-B5": 6598}


def illuminant(name: str) -> Reflectance:
    """Relative spectral power of a light at 380(5)780 nm.

    Names: D65, D50, A, "LED" (a warm white, CIE LED-B2, 2998 K), "LED 4000 K" (the nearest CIE LED lamp),
    "2700 K" (a full radiator: incandescent lamps and candles).

    Raises ValueError for anything else.
    """
    text = name.strip()
    known = {key.lower(): key for key in _table() if key[0] in "DAL"}
    if text.lower() == "led":
        return _table()["LED-B2"]
    if text.lower() in known:
        return _table()[known[text.lower()]]
    match = _KELVIN.fullmatch(text)
    kelvin = float(match.group(2)) if match else 0.0
    if match and match.group(1):
        return _table()[min(_LEDS, key=lambda led: abs(_LEDS[led] - kelvin))]
    if match and 1500 <= kelvin <= 12000:
        return blackbody(kelvin)
    raise ValueError(
        f'"{name}" is no light we know: expected D65, D50, A, LED, "LED 4000 K", or a lamp from "1500 K" to "12000 K"'
    )


def xyz_weights(light: str = "D65") -> Reflectance:
    """Weights (81, 3) that turn a 5 nm reflectance into XYZ under a light; a perfect white has Y = 1."""
    power = observer() * illuminant(light)[:, np.newaxis]
    return power / power[:, 1].sum()


def adaptation(white: ArrayLike, degree: float = 1.0) -> Reflectance:
    """Matrix (3, 3) that shows XYZ seen under `white` to an eye adapted to the D65 of sRGB.

    `degree` 1 is full adaptation (a white wall looks white), 0 none (the lamp's tint shows). Between them the
    gains are taken to the power of the degree: by Wien's law the logarithms of the cone responses to a full
    radiator run straight with 1/T, so what is left of a warm lamp's tint is that of a less warm one.
    Source: von Kries scaling of Bradford responses, ICC.1:2010 annex E.
    """
    seen = np.asarray(white, dtype=np.float64)
    gains = ((_BRADFORD @ _WHITE) / (_BRADFORD @ seen)) ** degree
    matrix = np.linalg.inv(_BRADFORD) @ np.diag(gains) @ _BRADFORD
    return matrix * (seen[1] / (matrix[1] @ seen))


@cache
def _membership() -> Reflectance:
    """Which band each wavelength belongs to, (BANDS, 81) of 0 and 1."""
    band = np.searchsorted(BAND_EDGES_NM, wavelengths_nm())
    return (band == np.arange(BANDS)[:, np.newaxis]).astype(np.float64)


def to_bands(spectrum: ArrayLike) -> Reflectance:
    """Average a reflectance at 5 nm, (..., 81), into bands, weighted by what D65 and the eye see there."""
    weight = _membership() * xyz_weights().sum(axis=1)
    return np.asarray(spectrum, dtype=np.float64) @ (weight / weight.sum(axis=1, keepdims=True)).T


@lru_cache(maxsize=64)
def _xyz_matrix(light: str) -> Reflectance:
    """Bands to XYZ under a light, (3, BANDS)."""
    return xyz_weights(light).T @ _membership().T


@lru_cache(maxsize=64)
def rgb_matrix(light: str = "D65", degree: float = 1.0) -> Reflectance:
    """Bands to linear sRGB under a light, (3, BANDS), with that degree of adaptation."""
    to_xyz = _xyz_matrix(light)
    # The D65 table's white and that of sRGB differ in the fifth digit; that much is always adapted away.
    exact = adaptation(_xyz_matrix("D65").sum(axis=1))
    white = exact @ to_xyz.sum(axis=1)
    return _XYZ_TO_RGB @ adaptation(white, degree) @ exact @ to_xyz


@cache
def band_basis() -> Reflectance:
    """Reflectances of the sRGB primaries in bands, (BANDS, 3); back through D65 they are exactly themselves.

    Band averages of the published basis, moved by the least amount (least squares) that makes the way
    there and back exact.
    """
    averages = to_bands(upsampling_basis().T).T
    forth = rgb_matrix()
    return averages - np.linalg.pinv(forth) @ (forth @ averages - np.eye(3))


# ------------------------------------------------------------------------------------- screen and CIELAB


def srgb_to_linear(encoded: ArrayLike) -> Reflectance:
    """Light from sRGB values 0 to 1 (IEC 61966-2-1:1999)."""
    value = np.asarray(encoded, dtype=np.float64)
    return np.where(value <= 0.04045, value / 12.92, ((np.maximum(value, 0.0) + 0.055) / 1.055) ** 2.4)


def linear_to_srgb(light: ArrayLike) -> Reflectance:
    """sRGB values from light 0 to 1 (IEC 61966-2-1:1999)."""
    value = np.asarray(light, dtype=np.float64)
    return np.where(value <= 0.0031308, value * 12.92, 1.055 * np.maximum(value, 0.0031308) ** (1 / 2.4) - 0.055)


# A table of codes over linear light: its step, 1/16383, is a fifth of the smallest step between two codes.
_STEPS = 16383


@cache
def _code_of_light() -> Codes:
    return np.rint(linear_to_srgb(np.arange(_STEPS + 1) / _STEPS) * 255.0).astype(np.uint8)


@cache
def _light_of_code() -> Picture:
    return srgb_to_linear(np.arange(256) / 255.0).astype(np.float32)


def to_srgb8(linear_rgb: ArrayLike) -> Codes:
    """8-bit sRGB codes of linear light (any shape); what is outside 0 to 1 is clipped."""
    light = np.asarray(linear_rgb, dtype=np.float32)
    place = np.clip(light, 0.0, 1.0)
    place *= _STEPS
    place += 0.5
    return _code_of_light().take(place.astype(np.intp))


def from_srgb8(codes: ArrayLike) -> Picture:
    """Linear light, float32, of 8-bit sRGB codes."""
    return _light_of_code()[np.asarray(codes, dtype=np.uint8)]


def hex_code(linear_rgb: ArrayLike) -> str:
    """`#rrggbb` of one colour in linear sRGB."""
    return "#" + "".join(f"{code:02x}" for code in to_srgb8(linear_rgb))


def to_linear_rgb(reflectance: ArrayLike, illuminant: str = "D65", adapt: bool | float = True) -> NDArray[Any]:
    """Linear sRGB, (..., 3), of reflectances (..., BANDS) under a light, exposed so that white has Y = 1.

    float32 stays float32. `adapt` is True (the eye takes the lamp's white for white), False (the lamp's tint
    shows) or a degree between. Values may leave 0 to 1 for colours that a screen cannot show.
    """
    values = np.asarray(reflectance)
    kind = np.float32 if values.dtype == np.float32 else np.float64
    return values @ rgb_matrix(illuminant, float(adapt)).T.astype(kind)


def xyz_to_lab(xyz: ArrayLike, white: ArrayLike) -> Reflectance:
    """CIELAB (..., 3) of tristimulus values (ISO/CIE 11664-4)."""
    ratio = np.asarray(xyz, dtype=np.float64) / np.asarray(white, dtype=np.float64)
    cube = np.where(ratio > (6 / 29) ** 3, np.cbrt(ratio), ratio * (29 / 6) ** 2 / 3 + 4 / 29)
    fx, fy, fz = np.moveaxis(cube, -1, 0)
    return np.stack([116 * fy - 16, 500 * (fx - fy), 200 * (fy - fz)], axis=-1)


def lab_to_xyz(lab: ArrayLike, white: ArrayLike) -> Reflectance:
    """Tristimulus values (..., 3) of CIELAB: the inverse of `xyz_to_lab`."""
    lightness, a, b = np.moveaxis(np.asarray(lab, dtype=np.float64), -1, 0)
    fy = (lightness + 16) / 116
    cube = np.stack([fy + a / 500, fy, fy - b / 200], axis=-1)
    ratio = np.where(cube > 6 / 29, cube**3, (cube - 4 / 29) * 3 * (6 / 29) ** 2)
    return ratio * np.asarray(white, dtype=np.float64)


def to_lab(colour: ArrayLike, illuminant: str = "D65") -> Reflectance:
    """CIELAB (..., 3) of reflectances (..., BANDS) under a light, or of linear sRGB (..., 3)."""
    values = np.asarray(colour, dtype=np.float64)
    if values.shape[-1] == 3:
        return xyz_to_lab(values @ _RGB_TO_XYZ.T, _WHITE)
    matrix = _xyz_matrix(illuminant)
    return xyz_to_lab(values @ matrix.T, matrix.sum(axis=1))


def lrv(colour: ArrayLike) -> Reflectance:
    """Light reflectance value 0 to 100: CIE Y of reflectances (..., BANDS) or of linear sRGB (..., 3)."""
    values = np.asarray(colour, dtype=np.float64)
    weights = _RGB_TO_XYZ[1] if values.shape[-1] == 3 else _xyz_matrix("D65")[1]
    return 100.0 * (values @ weights)


def delta_e(first: ArrayLike, second: ArrayLike) -> Reflectance:
    """CIEDE2000 colour difference of CIELAB values (..., 3), kL = kC = kH = 1.

    References: Sharma, Wu & Dalal 2005, Color Res. Appl. 30:21-30.
    """
    l1, a1, b1 = np.moveaxis(np.asarray(first, dtype=np.float64), -1, 0)
    l2, a2, b2 = np.moveaxis(np.asarray(second, dtype=np.float64), -1, 0)
    grey = 0.5 * (1 - _seventh(0.5 * (np.hypot(a1, b1) + np.hypot(a2, b2))))
    c1, c2 = np.hypot(a1 * (1 + grey), b1), np.hypot(a2 * (1 + grey), b2)
    h1, h2 = np.arctan2(b1, a1 * (1 + grey)), np.arctan2(b2, a2 * (1 + grey))
    turn = (h2 - h1 + np.pi) % (2 * np.pi) - np.pi  # beside a grey any will do: its step of hue is none
    steps = (l2 - l1, c2 - c1, 2 * np.sqrt(c1 * c2) * np.sin(turn / 2))
    return _ciede2000(steps, 0.5 * (l1 + l2), 0.5 * (c1 + c2), h1 + 0.5 * turn)


def _seventh(chroma: Reflectance) -> Reflectance:
    return np.sqrt(chroma**7 / (chroma**7 + 25.0**7))


def _ciede2000(
    steps: tuple[Reflectance, Reflectance, Reflectance], light: Reflectance, chroma: Reflectance, hue: Reflectance
) -> Reflectance:
    """Weighted difference from the steps and the means of lightness, chroma and hue (radians)."""
    degrees = np.degrees(hue) % 360
    t = 1 - 0.17 * np.cos(hue - np.radians(30)) + 0.24 * np.cos(2 * hue)
    t += 0.32 * np.cos(3 * hue + np.radians(6)) - 0.20 * np.cos(4 * hue - np.radians(63))
    dl = steps[0] / (1 + 0.015 * (light - 50) ** 2 / np.sqrt(20 + (light - 50) ** 2))
    dc = steps[1] / (1 + 0.045 * chroma)
    dh = steps[2] / (1 + 0.015 * chroma * t)
    turn = -2 * _seventh(chroma) * np.sin(np.radians(60 * np.exp(-(((degrees - 275) / 25) ** 2))))
    return np.sqrt(dl**2 + dc**2 + dh**2 + turn * dc * dh)  # not negative: |turn| is at most 2 sin 60, below 2


# ------------------------------------------------------------------------------------------- words


def parse_colour(text: str) -> Reflectance:
    """Reflectance (BANDS,), read-only, from a colour in words (see the head of this file).

    Raises ValueError, saying what is expected, for other words and for colours no screen can show.
    """
    words = text.strip()
    if match := _HEX.fullmatch(words):
        codes = [int(match.group(1)[place : place + 2], 16) for place in (0, 2, 4)]
        return reflectance_of(srgb_to_linear(np.array(codes) / 255.0))
    if match := _LAB.fullmatch(words):
        return _from_lab(text, *(float(part) for part in match.groups()))
    if match := _LRV.fullmatch(words):
        value, hue, chroma = (float(part) if part else 0.0 for part in match.groups())
        if not 0 <= value <= 100 or chroma < 0:
            raise ValueError(f'"{text}" is no colour: an LRV is from 0 to 100, and a chroma is not negative')
        lightness = float(xyz_to_lab(value / 100 * _WHITE, _WHITE)[0])
        return _from_lab(text, lightness, chroma * np.cos(np.radians(hue)), chroma * np.sin(np.radians(hue)))
    raise ValueError(f'"{text}" is no colour we can read: {_EXPECTED}')


def reflectance_of(linear_rgb: ArrayLike) -> Reflectance:
    """Reflectance (..., BANDS), read-only, of linear sRGB (..., 3).

    References: Mallett & Yuksel 2019, EGSR, doi 10.2312/SR.20191216.
    """
    spectrum = np.clip(np.asarray(linear_rgb, dtype=np.float64) @ band_basis().T, DARKEST, LIGHTEST)
    spectrum.flags.writeable = False
    return spectrum


def _linear_of_lab(lab: ArrayLike) -> Reflectance:
    return lab_to_xyz(lab, _WHITE) @ _XYZ_TO_RGB.T


def _shown(linear: Reflectance) -> bool:
    """Whether a screen can show it; a hair outside is rounding of the words."""
    return bool(np.all(linear >= -2e-3) and np.all(linear <= 1 + 2e-3))


def _from_lab(text: str, lightness: float, a: float, b: float) -> Reflectance:
    linear = _linear_of_lab((lightness, a, b))
    if not 0 <= lightness <= 100:
        raise ValueError(f'"{text}" is no colour: the L of lab() is between 0 and 100')
    if not _shown(linear):
        low = _most_vivid(lightness, a, b)
        raise ValueError(
            f'"{text}" is more vivid than a screen can show: at this lightness and hue the chroma is at most '
            f"{low * np.hypot(a, b):.0f}, lab({lightness:.0f}, {low * a:.0f}, {low * b:.0f})"
        )
    return reflectance_of(np.clip(linear, 0.0, 1.0))


def _most_vivid(lightness: float, a: float, b: float) -> float:
    """Largest factor on a and b that a screen can show, by bisection."""
    low, high = 0.0, 1.0
    for _ in range(20):
        middle = 0.5 * (low + high)
        fits = _shown(_linear_of_lab((lightness, middle * a, middle * b)))
        low, high = (middle, high) if fits else (low, middle)
    return low


# ------------------------------------------------------------------------------------------ pigments


@dataclass(frozen=True, eq=False)
class Pigment:
    """One colourant at full strength: absorption k and scattering s per mil, (BANDS,), read-only."""

    name: str
    ci: str
    k: Reflectance
    s: Reflectance
    source: str


def _inside(seen: ArrayLike) -> Reflectance:
    """Reflectance under the surface from the one seen (mirror reflection left out, so k1 = 0)."""
    return optics.saunderson_inverse(np.clip(seen, DARKEST, LIGHTEST), 0.0, TURNED_BACK)


def _outside(inside: ArrayLike) -> Reflectance:
    return optics.saunderson(inside, 0.0, TURNED_BACK)


def _locked(*arrays: Reflectance) -> tuple[Reflectance, ...]:
    for array in arrays:
        array.flags.writeable = False
    return arrays


@cache
def white_base() -> tuple[Reflectance, Reflectance]:
    """K and S per mil of the white that the tints of the colourant list are made with."""
    return coat_ks(reflectance_of(np.full(3, WHITE_BASE_LINEAR)), WHITE_BASE_HIDING_MIL)


def pigment_ks(masstone: ArrayLike, tint: ArrayLike, share: float) -> tuple[Reflectance, Reflectance]:
    """K and S per mil of a colourant from its colour alone and as `share` by volume in the white base.

    Colours are reflectances as seen, on the last axis. Where a band's tint is not between white and masstone
    (two colours chosen by eye may cross there), the scattering is held inside SCATTER_RANGE.
    """
    k_white, s_white = (value.mean() for value in white_base())
    alone, mixed = optics.k_over_s(_inside(masstone)), optics.k_over_s(_inside(tint))
    added, gap = mixed * s_white - k_white, alone - mixed
    # Both are negative for a whiter white than the base; of unlike sign the pair crosses.
    ratio = np.where(added * gap > 0, np.abs(added), 0.0) / np.maximum(np.abs(gap), 1e-9)
    s = np.clip((1 - share) / share * ratio, SCATTER_RANGE[0] * s_white, SCATTER_RANGE[1] * s_white)
    k, s = _locked(s * alone, s)
    return k, s


@cache
def colourants() -> Mapping[str, Pigment]:
    """The shipped colourants by name, from presets/colourants.toml.

    Raises ValueError naming file, colourant and key where a value cannot be read.
    """
    from render.presets import folder

    return read_colourants(folder() / "colourants.toml")


def read_colourants(path: Path) -> Mapping[str, Pigment]:
    """Colourants by name from a TOML file with a [[colourant]] table each (see presets/colourants.toml)."""
    listed = tomllib.loads(path.read_text(encoding="utf-8")).get("colourant", [])
    return MappingProxyType({entry["name"]: _pigment(path, entry) for entry in listed})


def _pigment(path: Path, entry: Mapping[str, Any]) -> Pigment:
    where = f'{path.name}: colourant "{entry.get("name", "?")}"'
    for key in ("ci", "masstone", "tint", "share", "source"):
        if key not in entry:
            raise ValueError(f"{where}: {key} is missing")
    try:
        k, s = pigment_ks(parse_colour(entry["masstone"]), parse_colour(entry["tint"]), float(entry["share"]))
    except ValueError as error:
        raise ValueError(f"{where}: {error}") from error
    return Pigment(entry["name"], entry["ci"], k, s, entry["source"])


def mix(parts: Mapping[Any, float]) -> tuple[Reflectance, Reflectance]:
    """K and S per mil, (BANDS,), of a mixture: shares by volume of Pigments, or of named colourants.

    The medium has next to no K and S of its own: shares that do not reach 1 leave the rest to it.

    Raises ValueError for a negative share, shares above 1 in all, or a name that is no colourant.
    References: Duncan 1940, Proc. Phys. Soc. 52:390.
    """
    shares = np.array(list(parts.values()), dtype=np.float64)
    if np.any(shares < 0) or shares.sum() > 1 + 1e-9:
        raise ValueError("shares of a mixture are not negative and add up to at most 1")
    pigments = [part if isinstance(part, Pigment) else _named(part) for part in parts]
    if not pigments:
        return np.zeros(BANDS), np.zeros(BANDS)
    return optics.mixture(shares, [part.k for part in pigments], [part.s for part in pigments])


def _named(name: str) -> Pigment:
    if name in colourants():
        return colourants()[name]
    raise ValueError(f'"{name}" is no colourant: expected one of {", ".join(sorted(colourants()))}')


# --------------------------------------------------------------------------------------------- films


def coat_ks(reflectance: ArrayLike, hiding_mil: float) -> tuple[Reflectance, Reflectance]:
    """K and S per mil, (BANDS,), of a coat that shows `reflectance` when thick and hides at `hiding_mil`.

    Hiding is a contrast ratio of .98 in Y over black and over white of Y = .80 (the usage of ISO 6504-3).
    Scattering is taken equal in all bands. Raises ValueError for a thickness that is not positive.
    """
    if not hiding_mil > 0:
        raise ValueError("the thickness at which a coat hides must be above 0 mil")
    ratio = optics.k_over_s(_inside(reflectance))
    white = _inside(np.full(BANDS, 0.80))

    def contrast(log_s: Reflectance) -> Reflectance:
        each = np.exp(log_s)[:, np.newaxis]
        r, t = optics.layer(ratio * each, each, hiding_mil)
        return lrv(_outside(r)) / lrv(_outside(optics.over(r, t, white)))

    s = np.full(BANDS, np.exp(_where_reached(contrast, 0.98, -14.0 - np.log(hiding_mil), 12.0 - np.log(hiding_mil))))
    k, s = _locked(ratio * s, s)
    return k, s


def _where_reached(rising: Callable[[Reflectance], Reflectance], level: float, low: float, high: float) -> float:
    """Return where a rising function of an array of places reaches a level, between two ends.

    Each round looks at 64 places and goes on between the two about the level; the last step is linear, which leaves an
    error of the order of 1e-12 of the way.
    """
    for _ in range(4):
        places = np.linspace(low, high, 64)
        values = rising(places)
        at = int(np.clip(np.searchsorted(values, level), 1, places.size - 1))
        low, high = places[at - 1], places[at]
    under, above = values[at - 1], values[at]
    return float(low + (level - under) / (above - under) * (high - low))


_TABLE = 4096
# Pixels worked on at a time: their bands and a table stay in the processor's second cache (2 MB here).
CHUNK = 16384
# Share of a chunk's pixels with film above which they are all computed, which is faster than picking them.
_DENSE = 0.4
# Transmittance at which a film counts as hiding, and the thickest film that is told apart, in mil.
_HIDDEN, _THICKEST = 1e-3, 500.0


@dataclass(frozen=True, eq=False)
class Film:
    """What a film of one K and S does to the colour under it, tabulated over thickness.

    Kubelka's film between two Saunderson surfaces turns the colour below, R, into (a + bR)/(1 + cR); a, b, c
    depend on the thickness only and stand in `table`, (3, steps, BANDS), finest where the film is thin.
    `contrast` (steps,) is the film's contrast ratio: 1 - (R over white - R over black), mean over the bands.
    `hidden` is the place in the table from which on nothing below is seen: beyond it for a film too weak to hide.
    """

    k: Reflectance
    s: Reflectance
    hiding_mil: float = field(init=False)
    table: Picture = field(init=False)
    contrast: Picture = field(init=False)
    hidden: int = field(init=False)

    def __post_init__(self) -> None:
        """Tabulate up to the thickness that hides."""
        thickest = _hiding(self.k, self.s)
        mils = thickest * (np.arange(_TABLE) / (_TABLE - 1)) ** 2
        r, t = optics.layer(self.k, self.s, mils[:, np.newaxis])
        table = np.stack(_moebius(r, t)).astype(np.float32)
        contrast = (1.0 - np.mean(t * t / np.maximum(1.0 - r, 1e-9), axis=1)).astype(np.float32)
        hides = bool(np.all(t[-1] <= _HIDDEN))
        if hides:
            table[0, -1] = self._on_one_colour(np.full(BANDS, 0.5, np.float32), table[:, -1])
            table[1:, -1] = 0.0  # what is under a hiding film cannot matter, to the bit
            contrast[-1] = 1.0
        for array in (table, contrast):
            array.flags.writeable = False
        object.__setattr__(self, "hiding_mil", thickest)
        object.__setattr__(self, "table", table)
        object.__setattr__(self, "contrast", contrast)
        object.__setattr__(self, "hidden", _TABLE - 1 if hides else _TABLE)

    @cached_property
    def clear(self) -> bool:
        """Whether no film of it is seen, however thick."""
        return bool(max(self.k.max(), self.s.max()) * _THICKEST < _HIDDEN)

    @cached_property
    def masstone(self) -> Picture:
        """Reflectance (BANDS,) of a film that hides."""
        return np.asarray(self.table[0, -1])

    def place(self, thickness_mil: Picture) -> NDArray[np.intp]:
        """Places in the table of films of some thickness, mil, none negative."""
        place = np.minimum(thickness_mil, np.float32(self.hiding_mil))
        place *= np.float32((_TABLE - 1) ** 2 / self.hiding_mil)
        np.sqrt(place, out=place)
        place += np.float32(0.5)
        return place.astype(np.intp)

    def lay(self, seen: Picture, place: NDArray[np.intp], work: Picture) -> None:
        """Lay films on colours ``seen`` (n, BANDS), in place; ``work`` (2, n or more, BANDS) is overwritten.

        No film has a = 0, b = 1, c = 0: it leaves the colour to the bit.
        """
        a, b, c = self.table
        under, part = work[0, : place.size], work[1, : place.size]
        c.take(place, axis=0, out=under, mode="clip")
        under *= seen
        under += 1
        seen *= b.take(place, axis=0, out=part, mode="clip")
        seen += a.take(place, axis=0, out=part, mode="clip")
        seen /= under

    def lay_some(self, seen: Picture, thick: Picture, work: Picture) -> None:
        """As ``lay``, by thickness in mil, by the shortest way that the thicknesses allow."""
        if self.clear:
            return
        at = touched(thick)
        if at is None:
            self.lay(seen, self.place(thick), work)
        elif at.size:
            some = seen.take(at, axis=0)
            self.lay(some, self.place(thick.take(at)), work)
            _put(seen, at, some)

    def over(self, base: ArrayLike, thickness_mil: ArrayLike) -> Picture:
        """Reflectance float32 (..., BANDS) of the film on `base` (..., BANDS), thickness (...) in mil."""
        below = np.asarray(base, dtype=np.float32)
        thick = np.maximum(np.asarray(thickness_mil, dtype=np.float32), 0)
        shape = np.broadcast_shapes(below.shape[:-1], thick.shape)
        flat = np.broadcast_to(thick, shape).reshape(-1)
        if below.ndim == 1:
            return self._on_one_colour(below, self.table)[self.place(flat)].reshape(*shape, BANDS)
        out = np.array(np.broadcast_to(below, (*shape, BANDS)), order="C").reshape(-1, BANDS)
        work = np.empty((2, min(CHUNK, flat.size), BANDS), np.float32)
        for start in range(0, flat.size, CHUNK):
            part = slice(start, start + CHUNK)
            self.lay_some(out[part], flat[part], work)
        return out.reshape(*shape, BANDS)

    def _on_one_colour(self, below: Picture, rows: Picture) -> Picture:
        a, b, c = rows
        return (a + b * below) / (1 + c * below)


def touched(amounts: Picture) -> NDArray[np.intp] | None:
    """Return where some amounts (n,) are above zero, or None where so many are that all had better be computed."""
    some = amounts > 0
    if np.count_nonzero(some) > _DENSE * amounts.size:
        return None
    return np.flatnonzero(some)


def _put(seen: Picture, at: NDArray[np.intp], some: Picture) -> None:
    """Write some pixels' bands, (n, BANDS): as one value of 32 bytes each, twice as fast as band by band."""
    whole = f"V{BANDS * 4}"
    seen.view(whole)[at] = some.view(whole)


def _hiding(k: Reflectance, s: Reflectance) -> float:
    """Thickness in mil at which every band lets through less than _HIDDEN, at most _THICKEST."""
    mils = np.geomspace(1e-4, _THICKEST, 400)
    through = optics.layer(k, s, mils[:, np.newaxis])[1].max(axis=1)
    return float(mils[min(int(np.searchsorted(-through, -_HIDDEN)), mils.size - 1)])


def _moebius(r: Reflectance, t: Reflectance) -> tuple[Reflectance, ...]:
    """a, b, c of (a + bR)/(1 + cR): under the surface, through the film (r, t) and back, out again."""
    back, out = TURNED_BACK, 1.0 - TURNED_BACK
    diagonal = t * t - r * r
    scale = 1.0 - back * r
    a = out * r / scale
    b = (r * back + diagonal) / scale
    c = (back - r - back * back * r - back * diagonal) / (out * scale)
    return a, b, c


@lru_cache(maxsize=64)
def _film(k: bytes, s: bytes) -> Film:
    return Film(np.frombuffer(k), np.frombuffer(s))


def film(k: ArrayLike, s: ArrayLike) -> Film:
    """Film of k and s (BANDS,) per mil; the tables of the last 64 different films are kept."""
    return _film(*(np.ascontiguousarray(value, dtype=np.float64).tobytes() for value in (k, s)))


def film_over(base: ArrayLike, k: ArrayLike, s: ArrayLike, thickness_mil: ArrayLike) -> Picture:
    """Reflectance float32 (..., BANDS) of a film on `base` (..., BANDS).

    k and s (BANDS,) per mil, thickness (...) in mil; where it is 0 the base is left as it is.
    References: Kubelka 1948, J. Opt. Soc. Am. 38:448; Saunderson 1942, J. Opt. Soc. Am. 32:727.
    """
    return film(k, s).over(base, thickness_mil)


def film_exact(base: ArrayLike, k: ArrayLike, s: ArrayLike, thickness_mil: ArrayLike) -> Reflectance:
    """As `film_over`, computed without tables in float64 for any number of bands: slow, for checks."""
    mils = np.asarray(thickness_mil, dtype=np.float64)[..., np.newaxis]
    r, t = optics.layer(k, s, mils)
    return _outside(optics.over(r, t, optics.saunderson_inverse(base, 0.0, TURNED_BACK)))


def stain_into(
    base: ArrayLike,
    k: ArrayLike,
    s: ArrayLike,
    thickness_mil: ArrayLike,
    *,
    depth_mil: float,
    scatter_per_mil: float,
) -> Picture:
    """Reflectance float32 (..., BANDS) when pigment is absorbed by the base and does not lie on it.

    The film's pigment, k and s per mil times its thickness (...), is spread over `depth_mil` of a base that
    scatters `scatter_per_mil`; there it colours less than on the surface, for most of the light is turned
    back before it has met all of it. The base is taken as thick and its K from its colour.
    References: Duncan 1940, Proc. Phys. Soc. 52:390, for the mixture of base and pigment.
    """
    below = np.asarray(base, dtype=np.float32)
    load = np.asarray(thickness_mil, dtype=np.float32) * np.float32(1 / (depth_mil * scatter_per_mil))
    shape = np.broadcast_shapes(below.shape[:-1], load.shape)
    loads = np.broadcast_to(load, shape).reshape(1, -1)
    out = np.array(np.broadcast_to(below, (*shape, below.shape[-1])), order="C").reshape(-1, below.shape[-1])
    work = np.empty((2, min(CHUNK, loads.size), BANDS), np.float32)
    own_k, own_s = (np.asarray(value, np.float32)[np.newaxis] for value in (k, s))
    for start in range(0, loads.size, CHUNK):
        part = slice(start, start + CHUNK)
        stain_some(out[part], loads[:, part], own_k, own_s, work)
    return out.reshape(*shape, below.shape[-1])


def stain_some(seen: Picture, loads: Picture, k: Picture, s: Picture, work: Picture) -> None:
    """Stain colours ``seen`` (n, BANDS), in place, with what they took up of several pigments.

    ``loads`` (pigments, n) are amounts over the ground's own scattering, k and s (pigments, BANDS) are of a unit of
    them; ``work`` (2, n or more, BANDS) is overwritten.
    """
    some = loads.any(axis=0)
    count = np.count_nonzero(some)
    if count == some.size:
        _stain(seen, loads, k, s, work)
    elif count:  # a pixel without load keeps its colour to the bit
        at = np.flatnonzero(some)
        stained = seen.take(at, axis=0)
        _stain(stained, loads.take(at, axis=1), k, s, work)
        _put(seen, at, stained)


def _stain(seen: Picture, loads: Picture, k: Picture, s: Picture, work: Picture) -> None:
    """As ``stain_some``, all of them.

    With A = 1 - TURNED_BACK, R inside is R / (A + TURNED_BACK R), so K/S = A^2 (1 - R)^2 / (2 R (A + TURNED_BACK R));
    back through the surface R = A / (A + K/S + sqrt(K/S (K/S + 2))).
    """
    through = np.float32(1 - TURNED_BACK)
    ratio, under = work[0, : len(seen)], work[1, : len(seen)]
    np.clip(seen, DARKEST, LIGHTEST, out=seen)
    np.multiply(seen, -through, out=ratio)
    ratio += through
    ratio *= ratio
    np.multiply(seen, np.float32(2 * TURNED_BACK), out=under)
    under += 2 * through
    under *= seen
    ratio /= under
    ratio += _spread(loads, k, under)
    _spread(loads, s, under)
    under += 1
    ratio /= under
    np.add(ratio, 2, out=under)
    under *= ratio
    np.sqrt(under, out=under)
    ratio += under
    ratio += through
    np.divide(through, ratio, out=seen)


def _spread(loads: Picture, per_load: Picture, out: Picture) -> Picture:
    """Return sums over pigments of ``loads`` (pigments, n) times what each does per band (pigments, BANDS)."""
    if len(loads) > 1:
        return np.matmul(loads.T, per_load, out=out)
    return np.multiply(np.repeat(loads[0], BANDS).reshape(out.shape), per_load, out=out)


# ------------------------------------------------------------------------------------------- summary

_SAMPLE = 40_000


def summary(colour: ArrayLike, dominant: int = 5) -> dict[str, Any]:
    """What a designer asks of a wall: mean, darkest and lightest tenth, dominant colours.

    `colour` is a reflectance picture (..., BANDS) or a linear sRGB picture (..., 3). Each colour is given as
    {"lab": [L, a, b], "srgb": "#rrggbb", "lrv": Y}; a dominant one has its "share" of the wall too. Large
    pictures are sampled evenly (about 40 000 points). D65, 2 degree observer.
    """
    values = np.asarray(colour)
    flat = values.reshape(-1, values.shape[-1])
    flat = flat[:: max(1, flat.shape[0] // _SAMPLE)].astype(np.float64)
    linear = flat if flat.shape[1] == 3 else to_linear_rgb(flat)
    order = np.argsort(lrv(linear), kind="stable")
    tenth = max(1, order.size // 10)
    return {
        "mean": _described(linear.mean(axis=0)),
        "darkest tenth": _described(linear[order[:tenth]].mean(axis=0)),
        "lightest tenth": _described(linear[order[-tenth:]].mean(axis=0)),
        "dominant": _dominant(linear, dominant),
    }


def _described(linear: Reflectance) -> dict[str, Any]:
    return {
        "lab": [round(float(value), 1) + 0.0 for value in to_lab(linear)],
        "srgb": hex_code(linear),
        "lrv": round(float(lrv(linear)), 1),
    }


def _dominant(linear: Reflectance, wanted: int) -> list[dict[str, Any]]:
    """Clusters in CIELAB (k-means from centres set far apart, so no chance is in it), largest first."""
    lab = to_lab(linear)
    centres = _far_apart(lab, wanted)
    for _ in range(12):
        nearest = np.argmin(((lab[:, np.newaxis] - centres) ** 2).sum(axis=2), axis=1)
        counts = np.bincount(nearest, minlength=len(centres))
        sums = np.stack([np.bincount(nearest, lab[:, axis], len(centres)) for axis in range(3)], axis=1)
        centres = np.where(counts[:, np.newaxis] > 0, sums / np.maximum(counts, 1)[:, np.newaxis], centres)
    return [
        {
            **_described(linear[nearest == one].mean(axis=0)),
            "share": round(float(counts[one]) / nearest.size, 3),
        }
        for one in np.argsort(-counts, kind="stable")
        if counts[one]
    ]


def _far_apart(lab: Reflectance, wanted: int) -> Reflectance:
    """First centres: the mean, then the point furthest from those taken, while it is over 3 units off."""
    centres = [lab.mean(axis=0)]
    distance = ((lab - centres[0]) ** 2).sum(axis=1)
    while len(centres) < wanted and distance.max() > 9.0:
        centres.append(lab[int(np.argmax(distance))])
        distance = np.minimum(distance, ((lab - centres[-1]) ** 2).sum(axis=1))
    return np.stack(centres)
