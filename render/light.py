"""Light on a wall: relief, reflectance and a lamp make the picture.

The wall is seen from straight in front; what it mirrors, from a place before its middle, so that a polished wall is
lightest towards the lamp. Light comes from one lamp of some angular size, and from the room: walls, ceiling and sky
that light the surface from everywhere it is open to. Heights are true unless `relief`
says otherwise. A flat matt wall renders its own colour: exposure is set for it, and only what is brighter
than that is held back below the screen's white.

Words for a lamp, read by `parse_lamp`: place, angle above the wall's plane, light; in any order, each may be
left out.

    window left 14 deg            the default; also right, above, below, "upper left" ...
    window right 8 deg, 2700 K    raking hard, in the light of an incandescent lamp
    overhead 25 deg, LED          a ceiling light washing down the wall
    lamp upper right 30 deg       small lamp, hard shadows
    even                          from everywhere: colour without relief
    ..., adapted / unadapted      the eye takes the light's white for white / its tint shows fully
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from render import colour, threads
from render.colour import Codes, Picture
from render.recall import Lit, Recall

# Everything below is chosen by eye on relief of known height unless a source is given.
WINDOW_DEG, OVERHEAD_DEG = 14.0, 25.0
# A window's light comes from the sky, so from a little above the level of the wall.
WINDOW_RISE_DEG = 18.0
# Roughness of plaster in Oren & Nayar's model (standard deviation of the slope of its grains), degrees.
ROUGHNESS_DEG = 20.0
# Roughness of a burnished or sealed surface in the model of Walter et al., and its reflectance at the normal.
SHEEN_ROUGHNESS, SHEEN_FRESNEL = 0.3, 0.04
# The same of metal flakes in a paint, which lie less even, under their binder and tarnish; they mirror in their own
# hue, a little paler than light that went in among them and out again, which is less by so much.
METAL_ROUGHNESS, METAL_FRESNEL, METAL_BODY = 0.45, 0.5, 0.35
# A polished wall mirrors what stands around the lamp with it (reveals, ceiling), so it shines more than the lamp
# alone would make it; and of the even veil that a flat wall mirrors the eye sees the greater part as its colour.
SHEEN_AROUND, SHEEN_VEIL = 4.5, 0.2
# How far one stands before the middle of the wall: so many inches, or so many times its longer side.
EYE_IN, EYE_SIDES = 60.0, 1.3
# How far the eye takes the lamp's white for white, where the words do not say.
ADAPTED = 0.93
# Rows that are shaded and coded at a time.
_STRIP = 64


@dataclass(frozen=True)
class Lamp:
    """One lamp and the room around it.

    Attributes
    ----------
    words
        What the user wrote.
    azimuth_deg
        Where the light comes from on the picture: 0 right, 90 above, 180 left, 270 below.
    elevation_deg
        Angle of the light's middle above the wall's plane: 90 is straight at the wall.
    spread_deg
        Angular size (elevation, azimuth): full height and width of the light as seen from the wall.
    fill
        Share of a flat wall's light that comes from the room and not from the lamp; 1 is even light.
    illuminant
        Its light, in the words of `colour.illuminant`.
    adapted
        Degree, 0 to 1, to which its white is shown as white.
    """

    words: str = ""
    azimuth_deg: float = 180.0 - WINDOW_RISE_DEG
    elevation_deg: float = WINDOW_DEG
    spread_deg: tuple[float, float] = (10.0, 24.0)
    fill: float = 0.34
    illuminant: str = "D65"
    adapted: float = ADAPTED


_SIDES = {
    "right": 0.0,
    "upper right": 45.0,
    "above": 90.0,
    "upper left": 135.0,
    "left": 180.0,
    "lower left": 225.0,
    "below": 270.0,
    "lower right": 315.0,
}
_KINDS = {
    "window": Lamp(),
    "lamp": Lamp(spread_deg=(2.0, 3.0), fill=0.26, elevation_deg=30.0),
    "overhead": Lamp(azimuth_deg=90.0, elevation_deg=OVERHEAD_DEG, spread_deg=(10.0, 30.0), fill=0.40),
    "even": Lamp(fill=1.0, elevation_deg=90.0, spread_deg=(0.0, 0.0)),
}
_EXPECTED = (
    'expected words such as "window left 14 deg", "window right 8 deg, 2700 K", "overhead 25 deg, LED", '
    '"lamp upper right 30 deg" or "even"; places: '
    + ", ".join(_SIDES)
    + '; lights: D65, D50, A, LED, "LED 4000 K", "2700 K"; and adapted or unadapted'
)
_ANGLE = re.compile(r"([-+]?\d+(?:\.\d+)?)\s*(?:deg(?:rees?)?|°)")
_LIGHT = re.compile(r"\b(led\s*\d{4,5}\s*k|\d{3,6}\s*k|led(?:-b\d)?|d65|d50|a$)(?:\b|$)", re.IGNORECASE)


def parse_lamp(text: str) -> Lamp:
    """Lamp from words (see the head of this file); "" is the default window.

    Raises ValueError, saying what is expected, for words it does not know.
    """
    rest = " ".join(text.lower().replace(",", " ").split())
    kind, rest = _take_word(rest, _KINDS, "window")
    lamp = replace(_KINDS[kind], words=text.strip())
    angle, rest = _take(rest, _ANGLE)
    light, rest = _take(rest, _LIGHT)
    adapted, rest = _take_word(rest, ("unadapted", "adapted"), "")
    side, rest = _take_word(rest, sorted(_SIDES, key=len, reverse=True), "")
    if rest or (side and kind in ("overhead", "even")) or (angle and kind == "even"):
        raise ValueError(f'the light "{text}" is not understood ("{rest or side or angle}"): {_EXPECTED}')
    if side:
        lamp = replace(lamp, azimuth_deg=_azimuth(kind, side))
    if angle:
        lamp = replace(lamp, elevation_deg=_checked_angle(text, float(angle)))
    if light:
        colour.illuminant(light)  # raises for an impossible temperature
        lamp = replace(lamp, illuminant=light.upper())
    if adapted:
        lamp = replace(lamp, adapted=float(adapted == "adapted"))
    return lamp


def _take(rest: str, pattern: re.Pattern[str]) -> tuple[str, str]:
    """First match's own group and the words without it, or "" and all the words."""
    found = pattern.search(rest)
    if not found:
        return "", rest
    return found.group(1), " ".join((rest[: found.start()] + rest[found.end() :]).split())


def _take_word(rest: str, words: Any, default: str) -> tuple[str, str]:
    for word in words:
        found, left = _take(rest, re.compile(rf"\b({word})\b"))
        if found:
            return word, left
    return default, rest


def _azimuth(kind: str, side: str) -> float:
    """A window at a side lights from a little above; everything else from where it is said to be."""
    rise = {"left": -WINDOW_RISE_DEG, "right": WINDOW_RISE_DEG}.get(side, 0.0) if kind == "window" else 0.0
    return _SIDES[side] + rise


def _checked_angle(text: str, angle: float) -> float:
    if not 2.0 <= angle <= 90.0:
        raise ValueError(
            f'the light "{text}" stands at {angle:g} deg: expected 2 to 90 deg above the wall, '
            "2 grazing it and 90 straight at it"
        )
    return angle


# ---------------------------------------------------------------------------------- lamp and its shadows


def directions(lamp: Lamp) -> NDArray[np.float64]:
    """Unit vectors (samples, 3) to five places on the lamp, as (towards right, up the wall, off the wall)."""
    up, along = lamp.spread_deg
    # Middle and the four quarters: means over the lamp's face are right to second order.
    offsets = np.array([(0, 0), (1, 1), (1, -1), (-1, 1), (-1, -1)]) * np.array([up, along]) / 4
    if not np.any(offsets):
        offsets = offsets[:1]
    elevation = np.radians(np.clip(lamp.elevation_deg + offsets[:, 0] * 1.15, 1.5, 90.0))
    azimuth = np.radians(lamp.azimuth_deg + offsets[:, 1] * 1.15)
    flat = np.cos(elevation)
    return np.stack([flat * np.cos(azimuth), flat * np.sin(azimuth), np.sin(elevation)], axis=1)


def lamplight(height: Picture, pitch: float, towards: NDArray[np.float64]) -> Picture:
    """Light from a lamp that each pixel receives, per pixel area, 1 on a flat open wall; float32 (rows, cols).

    height (rows, cols) and the pixel's side `pitch` are in one unit; `towards` are `directions`, whose mean is
    taken. A front that just grazes the relief is carried away from the lamp, column after column (row after
    row if it stands above); it falls as the light does and is lifted by what stands higher. What a pixel
    lifts it by is the light that falls on the pixel: slope and cast shadow come out of one number, and
    nothing is lit that does not take its light from something else.
    """
    total: Picture | None = None
    for sideways in (True, False):
        chosen = towards[(np.abs(towards[:, 0]) >= np.abs(towards[:, 1])) == sideways]
        if not len(chosen):
            continue
        # Rows of `field` are taken one after the other; the front moves along the first axis.
        field = np.ascontiguousarray(height.T) if sideways else height
        part = _sweep(field, pitch, chosen, sideways)
        part = part.T if sideways else part
        total = part if total is None else total + part
    assert total is not None
    return np.ascontiguousarray(total / np.float32(towards[:, 2].sum()))


def _sweep(field: Picture, pitch: float, towards: NDArray[np.float64], sideways: bool) -> Picture:
    """Sum over lamps of the light received, times its sine of elevation; lines along the first axis."""
    # Along the sweep: away from the lamp. Image rows run down the wall, so "up" is against the rows.
    main, cross = (towards[:, 0], -towards[:, 1]) if sideways else (-towards[:, 1], towards[:, 0])
    out = np.zeros_like(field)
    for forward in (True, False):
        group = (main < 0) == forward
        if np.any(group):
            lines, lit = (field, out) if forward else (field[::-1], out[::-1])
            _march(lines, lit, pitch, np.abs(main[group]), cross[group], towards[group, 2])
    return out


def _march(lines: Picture, out: Picture, pitch: float, main: Any, cross: Any, up: NDArray[np.float64]) -> None:
    """Carry the fronts of several lamps over `lines`, adding to `out` what each line takes from them."""
    order = np.argsort(cross < 0, kind="stable")  # lamps above the sweep, then those below it
    main, cross, up = np.maximum(main[order], 1e-6), cross[order], up[order]
    above = int(np.sum(cross >= 0))
    drop = (pitch * up / main).astype(np.float32)[:, np.newaxis]
    weight = (up / drop[:, 0]).astype(np.float32)
    # The front comes from the lamp's side: between this pixel and its neighbour there.
    part = np.minimum(np.abs(cross / main), 1.0).astype(np.float32)[:, np.newaxis]
    padded = np.pad(np.repeat(lines[:1], len(up), axis=0), ((0, 0), (1, 1)), mode="edge")
    front, came = padded[:, 1:-1], np.empty((len(up), lines.shape[1]), np.float32)
    before = np.zeros(lines.shape[1], np.float32)
    for line in range(lines.shape[0]):
        np.subtract(padded[:above, 2:], front[:above], out=came[:above])
        np.subtract(padded[above:, :-2], front[above:], out=came[above:])
        came *= part
        came += front
        came -= drop
        np.maximum(came, lines[line], out=front)
        padded[:, 0], padded[:, -1] = front[:, 0], front[:, -1]
        np.subtract(front, came, out=came)
        now = weight @ came
        # Light taken between two lines belongs to both: centred like the relief.
        if line:
            out[line - 1] += np.float32(0.5) * (before + now)
        before = now
    out[-1] += before


# ------------------------------------------------------------------------------------------- open sky

# Four directions as steps of (rows, cols); each stands for its opposite too.
_WAYS = ((0, 1), (1, 1), (1, 0), (1, -1))
_NEAR, _FAR = (1, 2, 4), (3, 4)  # steps on the finest grid, and on the coarser ones
# Farthest that relief is looked for, in pixels of the coarsest grid's picture: a hundred pixels and more see
# relief of a quarter inch as a horizon of a few degrees only.
_FARTHEST = 128


def sky_visibility(height: Picture, pitch: float) -> Picture:
    """Share of an even sky's light that reaches each pixel, float32 (rows, cols): 1 where nothing stands up.

    The mean over eight directions of cos^2 of the horizon: inside a cone of slope t it is 1/(1 + t^2), beside
    an endless wall (1 + cos)/2. The horizon is looked for at growing distances, the far ones on coarse grids.
    """
    padded = np.pad(height, 4, mode="edge")
    padded *= np.float32(1.0 / pitch)
    coarse = _horizons(_halved(padded[4:-4, 4:-4]), 2) if min(height.shape) >= 8 else None
    out = np.empty(height.shape, np.float32)

    def strip(rows: slice) -> None:
        around = _around(padded, rows, coarse, _NEAR)
        total = out[rows]
        total.fill(0.0)
        for place, tangent in enumerate(around):
            square = np.multiply(tangent, tangent, out=tangent)
            if place // 2 % 2:  # a step along the diagonal is longer
                square *= np.float32(0.5)
            square += 1
            total += np.divide(1, square, out=square)
        total *= np.float32(1 / len(around))

    threads.each(strip, threads.bands(height.shape[0], _STRIP), height.size >= threads.FEW_PIXELS)
    return out


def _around(padded: Picture, rows: slice, coarse: Sequence[Picture] | None, steps: tuple[int, ...]) -> list[Picture]:
    """Tangents of the horizon for some rows of a grid padded by 4: each way, and below zero the opposite way.

    Heights are in pixels. A rise along a way is a fall against it, so one difference serves both; tangents along a
    diagonal are too great by the square root of two.
    """
    count, width = rows.stop - rows.start, padded.shape[1] - 8
    part = padded[rows.start : rows.stop + 8]
    found = [np.zeros((count, width), np.float32) for _ in range(2 * len(_WAYS))]
    for tangent, far in zip(found, coarse or (), strict=coarse is not None):
        _doubled(far, rows, tangent)
    for step in steps:
        level = part * np.float32(1 / step)
        for place, (down, across) in enumerate(_WAYS):
            top, left = 4 - down * step, 4 - max(across, 0) * step
            tall, wide = count + down * step, width + abs(across) * step
            rise = level[4 : 4 + tall, left + across * step : left + across * step + wide]
            rise = rise - level[top : top + tall, left : left + wide]
            ahead, behind = max(across, 0) * step, max(-across, 0) * step
            forth, back = found[2 * place], found[2 * place + 1]
            np.maximum(forth, rise[down * step :, ahead : ahead + width], out=forth)
            np.minimum(back, rise[:count, behind : behind + width], out=back)
    return found


def _horizons(height: Picture, scale: int) -> list[Picture]:
    """Tangents of the horizon as ``_around``, 3 and 4 pixels off and then on coarser grids."""
    coarse = _horizons(_halved(height), 2 * scale) if min(height.shape) >= 8 and scale * 4 <= _FARTHEST else None
    return _around(np.pad(height, 4, mode="edge"), slice(0, height.shape[0]), coarse, _FAR)


def _halved(height: Picture) -> Picture:
    """Means of two by two pixels, in pixels twice as large; an odd last row or column counts twice."""
    even = np.pad(height, ((0, height.shape[0] % 2), (0, height.shape[1] % 2)), mode="edge")
    pairs = even[0::2] + even[1::2]
    return (pairs[:, 0::2] + pairs[:, 1::2]) * np.float32(0.125)


def _doubled(coarse: Picture, rows: slice, out: Picture) -> None:
    """Fill `out`, some rows (from an even one) of the grid twice as fine, with the coarse grid, linear between its
    pixels."""
    near = np.arange(rows.start // 2 - 1, (rows.stop - 1) // 2 + 2)
    lines = coarse.take(np.clip(near, 0, coarse.shape[0] - 1), axis=0)
    quarter = lines * np.float32(0.25)
    lines *= np.float32(0.75)
    wide = np.empty((len(lines), out.shape[1]), np.float32)
    even, odd = wide[:, 0::2], wide[:, 1::2]
    np.add(lines[:, 1:], quarter[:, :-1], out=even[:, 1 : lines.shape[1]])
    even[:, 0] = lines[:, 0] + quarter[:, 0]
    inner = min(odd.shape[1], lines.shape[1] - 1)
    np.add(lines[:, :inner], quarter[:, 1 : inner + 1], out=odd[:, :inner])
    if odd.shape[1] > inner:
        odd[:, -1] = lines[:, -1] + quarter[:, -1]
    quarter = wide * np.float32(0.25)
    wide *= np.float32(0.75)
    np.add(wide[1:-1], quarter[:-2], out=out[0::2])
    half = out.shape[0] // 2
    np.add(wide[1 : half + 1], quarter[2 : half + 2], out=out[1::2])


# ------------------------------------------------------------------------------------- rough and polished


def oren_nayar(sigma_deg: float) -> tuple[float, float]:
    """A and B of a rough matt surface whose grains' slopes have the standard deviation sigma.

    References: Oren & Nayar 1994, SIGGRAPH 239-246, equation 30.
    """
    variance = float(np.radians(sigma_deg)) ** 2
    return 1.0 - 0.5 * variance / (variance + 0.33), 0.45 * variance / (variance + 0.09)


def rough_factor(facing_lamp: Any, facing_eye: Any, lamp_eye: float, sigma_deg: float) -> Any:
    """What roughness makes of the light of a matt facet, against the same rough surface seen flat on.

    The three numbers are cosines: facet to lamp, facet to eye, lamp to eye. A + B max(0, cos phi) sin a tan b
    of Oren & Nayar 1994, over A, without any angle being computed.
    """
    a, b = oren_nayar(sigma_deg)
    aligned = np.maximum(lamp_eye - facing_lamp * facing_eye, 0.0)
    return 1.0 + np.float32(b / a) * aligned / np.maximum(facing_lamp, facing_eye)


def ggx(cos_half: Any, alpha: float) -> Any:
    """Density of facets at an angle from the surface's normal, per steradian.

    References: Walter, Marschner, Li & Torrance 2007, EGSR, equation 33.
    """
    square = alpha * alpha
    return square / (np.pi * (cos_half * cos_half * (square - 1.0) + 1.0) ** 2)


def sheen_lobe(
    facing_half: Any, facing_lamp: Any, facing_eye: Any, alpha: float = SHEEN_ROUGHNESS, fresnel: float = SHEEN_FRESNEL
) -> Any:
    """Mirror-like light of a burnished facet, as a multiple of what a perfect white matt facet would show.

    pi D F V with Walter's density and Schlick's shadowing (1994, Computer Graphics Forum 13:233). Fresnel's
    rise at grazing is left out: the eye looks about straight on, so the facets that show are not grazed.
    """
    k = alpha / 2
    hidden = 4.0 * (facing_lamp * (1 - k) + k) * (facing_eye * (1 - k) + k)
    return np.pi * fresnel * ggx(facing_half, alpha) / hidden


# -------------------------------------------------------------------------------------------- picture


def _raised(height_mil: Picture, relief: float) -> Picture:
    """Heights times a factor, in the order that the sweeps run in."""
    height = np.ascontiguousarray(height_mil, dtype=np.float32)
    return height if relief == 1.0 else height * np.float32(relief)


def _stood(lamp: Lamp, relief: float) -> float:
    """What heights are multiplied by: light from everywhere shows no relief."""
    return relief if lamp.fill < 1 else 0.0


def setting(lamp: Lamp, ppi: float, relief: float = 1.0) -> tuple[Any, ...]:
    """What the light that falls on a relief depends on beside the heights."""
    return 1000.0 / ppi, relief, lamp.fill >= 1, directions(lamp).tobytes()


def cast(height_mil: Picture, ppi: float, lamp: Lamp, relief: float = 1.0) -> tuple[Picture, Picture]:
    """Light that falls on a relief: the lamp's, by `lamplight`, and the sky's share, by `sky_visibility`.

    height_mil (rows, cols) above the bare wall, ppi pixels per inch, `relief` a factor on the heights.
    """
    height, pitch, towards = _raised(height_mil, _stood(lamp, relief)), 1000.0 / ppi, directions(lamp)
    parts: list[Callable[[], Picture]] = [
        lambda: lamplight(height, pitch, towards) if lamp.fill < 1 else np.ones(height.shape, np.float32),
        lambda: sky_visibility(height, pitch),
    ]
    direct, sky = threads.each(lambda part: part(), parts, height.size >= threads.FEW_PIXELS)
    return direct, sky


def shade(
    height_mil: Picture,
    reflectance: Picture,
    sheen: Picture,
    ppi: float,
    lamp: Lamp | None = None,
    relief: float = 1.0,
    roughness_deg: float = ROUGHNESS_DEG,
    recall: Recall | None = None,
    heed: Callable[[], None] = lambda: None,
    metal: Picture | None = None,
    elsewhere: Callable[[], tuple[Picture, Picture]] | None = None,
) -> Codes:
    """Picture, uint8 (rows, cols, 3), of a wall under a lamp.

    height_mil (rows, cols) above the bare wall, reflectance (rows, cols, BANDS) or its linear sRGB under this lamp
    by `exposed` (rows, cols, 3), sheen (rows, cols) from 0 matt to 1 polished, ppi pixels per inch. `relief`
    multiplies the heights; whoever sets it says so on the sheet.
    `metal` (rows, cols) is the share of what is seen that is metal, 0 to 1, or None; it mirrors in its own hue.
    `roughness_deg` is that of the plaster's grain, Oren & Nayar's sigma. `recall` holds parts of the last picture;
    the result does not depend on it. `heed` is called now and then and may raise to call the work off. `elsewhere`
    gives what `cast` does, where another process works that out.

    Raises ValueError where the shapes do not agree or ppi is not positive.
    """
    lamp = lamp or Lamp()
    shape = height_mil.shape
    bands = reflectance.shape[2] if reflectance.ndim == 3 else 0
    if reflectance.shape[:2] != shape or bands not in (3, colour.BANDS) or sheen.shape != shape or not ppi > 0:
        raise ValueError(
            f"height {shape}, reflectance {reflectance.shape} and sheen {sheen.shape} must be (rows, cols), "
            f"(rows, cols, {colour.BANDS}) and (rows, cols), with ppi above 0"
        )
    pitch, towards, height = 1000.0 / ppi, directions(lamp), _raised(height_mil, _stood(lamp, relief))
    here = setting(lamp, ppi, relief)
    known = recall.lit(height_mil, here) if recall is not None else None
    if known is None:
        fallen = elsewhere() if elsewhere is not None else cast(height_mil, ppi, lamp, relief)
        known = Lit(height_mil, here, *fallen)
        if recall is not None:
            recall.keep_lit(known)
    direct, sky = known.direct, known.sky
    eye = _Eye.before(shape, ppi)
    out = np.empty((*shape, 3), np.uint8)

    def strip(rows: slice) -> None:
        heed()
        facing = _facing(height, rows, pitch, towards.mean(axis=0))
        own = reflectance[rows].astype(np.float32, copy=False)
        own = np.array(np.moveaxis(own if bands == 3 else own @ exposed(lamp), 2, 0), order="C")  # colour by colour
        own = np.maximum(own, 0, out=own)
        light = _matt(own, direct[rows], sky[rows], facing, lamp, roughness_deg)
        shining = sheen[rows] * direct[rows]
        if lamp.fill < 1 and shining.any():
            half = _halfway(facing, towards.mean(axis=0), eye, rows)
            polished = shining if metal is None else shining * (1 - metal[rows])
            _add_sheen(light, polished, half, facing, lamp)
            if metal is not None and metal[rows].any():
                _add_metal(light, own, shining, metal[rows], half, facing, lamp)
        out[rows] = np.moveaxis(colour.to_srgb8(held_back(light, own)), 0, 2)

    threads.each(strip, threads.bands(shape[0], _STRIP), height.size >= threads.FEW_PIXELS)
    return out


@cache
def exposed(lamp: Lamp) -> Picture:
    """Bands to linear sRGB, (BANDS, 3), with a white wall just inside the screen's range."""
    matrix = colour.rgb_matrix(lamp.illuminant, lamp.adapted)
    return (matrix / max(1.0, matrix.sum(axis=1).max())).T.astype(np.float32)


@dataclass(frozen=True)
class _Facing:
    """Slopes of each pixel's facet towards right and upwards; its cosines to the eye and to the lamp; lamp to eye."""

    right: Picture
    upward: Picture
    eye: Picture
    lamp: Picture
    lamp_eye: float


def _facing(height: Picture, rows: slice, pitch: float, towards: NDArray[np.float64]) -> _Facing:
    """Facets of some rows from central differences of the heights."""
    last = height.shape[0] - 1
    index = np.arange(rows.start, rows.stop)
    scale = np.float32(0.5 / pitch)
    upward = (height[np.maximum(index - 1, 0)] - height[np.minimum(index + 1, last)]) * scale
    padded = np.pad(height[rows], ((0, 0), (1, 1)), mode="edge")
    right = (padded[:, 2:] - padded[:, :-2]) * scale
    eye = 1 / np.sqrt(1 + right * right + upward * upward)
    x, y, z = (float(value) for value in towards / np.linalg.norm(towards))
    to_lamp = np.maximum((np.float32(z) - np.float32(x) * right - np.float32(y) * upward) * eye, 0)
    return _Facing(right, upward, eye, to_lamp, z)


@dataclass(frozen=True)
class _Eye:
    """Where the eye stands from each column (1, cols) and each row (rows, 1): inches right and up per inch off."""

    right: Picture
    up: Picture

    @classmethod
    def before(cls, shape: tuple[int, int], ppi: float) -> _Eye:
        """An eye before the middle of a picture; the relief is seen straight on, and only mirrors tell where it is."""
        far = np.float32(max(EYE_IN, EYE_SIDES * max(shape) / ppi) * ppi)
        down, along = ((np.arange(size, dtype=np.float32) - np.float32(0.5 * (size - 1))) / far for size in shape)
        return cls(-along[np.newaxis, :], down[:, np.newaxis])


def _halfway(facing: _Facing, towards: NDArray[np.float64], eye: _Eye, rows: slice) -> Picture:
    """Cosines of some rows' facets to halfway between the lamp and the eye."""
    x, y, z = (np.float32(value) for value in towards / np.linalg.norm(towards))
    right, up, off = x + eye.right, y + eye.up[rows], z + np.float32(1)
    cosine = off - right * facing.right
    cosine -= up * facing.upward
    cosine *= facing.eye
    cosine /= np.sqrt(right * right + (up * up + off * off))
    return np.maximum(cosine, 0, out=cosine)


def _matt(own: Picture, direct: Picture, sky: Picture, facing: _Facing, lamp: Lamp, roughness_deg: float) -> Picture:
    """Light leaving the matt body of some rows towards the eye, linear sRGB (3, rows, cols)."""
    fill = np.float32(lamp.fill)
    beam = direct * facing.eye * (1 - fill)
    beam *= rough_factor(facing.lamp, facing.eye, facing.lamp_eye, roughness_deg)
    # What is hidden from the sky sees the wall itself instead, lit like the rest and of about its own colour.
    light = own * (1 - sky)
    light += beam + sky * fill
    light *= own
    return light


def _add_sheen(light: Picture, shining: Picture, half: Picture, facing: _Facing, lamp: Lamp) -> None:
    """Add the lamp's soft mirror image where the surface is burnished or sealed."""
    lobe = sheen_lobe(half, facing.lamp, facing.eye)
    flat = sheen_lobe(np.sqrt(0.5 + 0.5 * facing.lamp_eye), facing.lamp_eye, 1.0)
    lobe -= np.float32((1 - SHEEN_VEIL) * flat)
    lobe *= shining * facing.eye * np.float32(SHEEN_AROUND * (1 - lamp.fill))
    light += lobe
    np.maximum(light, 0, out=light)


def _add_metal(
    light: Picture, own: Picture, shining: Picture, metal: Picture, half: Picture, facing: _Facing, lamp: Lamp
) -> None:
    """Let metal mirror the lamp in its own hue, broadly, and send the less of it out as a matt body."""
    lobe = sheen_lobe(half, facing.lamp, facing.eye, METAL_ROUGHNESS, METAL_FRESNEL)
    lobe *= shining * metal
    lobe *= facing.eye * np.float32(SHEEN_AROUND * (1 - lamp.fill))
    light *= 1 - np.float32(METAL_BODY) * metal
    root = np.sqrt(own / np.maximum(_largest(own), np.float32(1e-6)))
    root *= np.sqrt(root)  # the hue itself, to the power of three quarters
    light += root * lobe


def held_back(light: Picture, own: Picture) -> Picture:
    """Bring what is brighter than the same wall lying flat below the screen's white, hue kept; (3, rows, cols).

    With m the flat wall's largest channel, an excess d becomes d / (1 + d/(1 - m)): slope 1 at the start.
    """
    flat = np.minimum(_largest(own), np.float32(0.995))
    most = _largest(light)
    excess = np.maximum(most - flat, 0)
    allowed = excess / (1 + excess / (1 - flat))
    light *= (most - excess + allowed) / np.maximum(most, np.float32(1e-6))
    return light


def _largest(light: Picture) -> Picture:
    """Largest channel of each pixel."""
    return np.maximum(np.maximum(light[0], light[1]), light[2])
