"""Ornaments of our own for stencils, drawn from leaves and rings, as distance fields of a tile that repeats.

A tile is one unit wide; every piece is an island with bridges round it, as a stencil needs. The second motif of each
tile stands half a tile on (a half drop).
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

import numpy as np
from PIL import Image, ImageDraw
from scipy import ndimage

from render.fields import Array

Name = Literal["ogee", "rosette", "trellis"]
_PX = 480  # pixels across a tile, for drawing; the field is smooth between them
Pen = ImageDraw.ImageDraw
Point = tuple[float, float]


@dataclass(frozen=True, eq=False)
class Tile:
    """A tile's openings: ``inside`` float32 (rows, cols), distance inside the nearest opening's edge in tile widths
    (negative outside); ``tall`` is its height in widths. It repeats both ways."""

    inside: Array
    tall: float

    @property
    def open_share(self) -> float:
        """Share of the tile that is cut out."""
        return float(np.mean(self.inside > 0))


def _leaf(
    pen: Pen, base: Point, angle_deg: float, long: float, wide: float, bend: float = 0.0, full: float = 0.75
) -> None:
    """Draw a leaf from its base: angle from upright to the right, in widths; ``bend`` in radians to its tip.

    ``full`` below 1 is fullest near its base, above 1 near its tip.
    """
    t = np.linspace(0.0, 1.0, 24)
    way = math.radians(angle_deg) + bend * t
    step = long / (t.size - 1)
    x = base[0] + np.concatenate([[0.0], np.cumsum(np.sin(way[1:]) * step)])
    y = base[1] - np.concatenate([[0.0], np.cumsum(np.cos(way[1:]) * step)])
    half = 0.5 * wide * np.sin(np.pi * t**full)
    left = list(zip(x - half * np.cos(way), y - half * np.sin(way), strict=True))
    right = list(zip(x + half * np.cos(way), y + half * np.sin(way), strict=True))
    pen.polygon([(a * _PX, b * _PX) for a, b in left + right[::-1]], fill=1)


def _dot(pen: Pen, at: Point, radius: float) -> None:
    pen.ellipse([((at[0] - radius) * _PX), (at[1] - radius) * _PX, (at[0] + radius) * _PX, (at[1] + radius) * _PX], 1)


def _palmette(pen: Pen, at: Point) -> None:
    """Draw a fan of leaves over a bud, with two curled leaves below."""
    x, y = at
    for angle, long in ((0, 0.30), (21, 0.275), (42, 0.235), (64, 0.19), (87, 0.15)):
        for side in (1, -1) if angle else (1,):
            out = math.radians(angle)
            base = (x + side * 0.06 * math.sin(out), y + 0.05 - 0.06 * math.cos(out))
            _leaf(pen, base, side * 0.8 * angle, long, 0.068, side * 0.7 * (angle > 0), 1.9)
    for side in (1, -1):
        for k, (long, drop) in enumerate(((0.25, 0.115), (0.2, 0.17))):
            _leaf(pen, (x + side * 0.035, y + drop), side * (112 + 28 * k), long, 0.05, -side * 2.1, 0.9)
        _dot(pen, (x + side * 0.115, y + 0.135), 0.016)
        _leaf(pen, (x + side * 0.012, y + 0.21), side * 165, 0.13, 0.04, -side * 0.6)
    _dot(pen, (x, y + 0.085), 0.032)
    _dot(pen, (x, y + 0.375), 0.018)
    _dot(pen, (x, y - 0.305), 0.018)


def _ogee(pen: Pen) -> None:
    """Draw palmettes in a net of leafy ogees."""
    tall = 1.5
    for x, y in ((0.5, 0.75), (0.0, 0.0), (1.0, 0.0), (0.0, 1.5), (1.0, 1.5)):
        _palmette(pen, (x, y))
    for k in range(-1, 29):
        y = tall * (k + 0.5) / 28.0
        sway = 0.215 * math.cos(2.0 * math.pi * y / tall)
        slope = -0.215 * 2.0 * math.pi / tall * math.sin(2.0 * math.pi * y / tall)
        for side, x in ((1, 0.25 + sway), (-1, 0.75 - sway)):
            lean = math.degrees(math.atan(-side * slope))
            _leaf(pen, (x, y), lean + (26 if k % 2 else -26), 0.08, 0.034)


def _rosette(pen: Pen) -> None:
    """Draw eight-leaved roses ringed with dots, and small crosses of four leaves between."""
    for x, y in ((0.5, 0.5), (0.0, 0.0), (1.0, 0.0), (0.0, 1.0), (1.0, 1.0)):
        for k in range(8):
            a = math.radians(45.0 * k)
            _leaf(pen, (x + 0.045 * math.sin(a), y - 0.045 * math.cos(a)), 45.0 * k, 0.15, 0.068)
        for k in range(16):
            a = math.radians(22.5 * (k + 0.5))
            _dot(pen, (x + 0.225 * math.sin(a), y - 0.225 * math.cos(a)), 0.0125 if k % 2 else 0.018)
        _dot(pen, (x, y), 0.028)
    for x, y in ((0.5, 0.0), (0.5, 1.0), (0.0, 0.5), (1.0, 0.5)):
        for k in range(4):
            a = math.radians(90.0 * k + 45.0)
            _leaf(pen, (x + 0.018 * math.sin(a), y - 0.018 * math.cos(a)), 90.0 * k + 45.0, 0.10, 0.042)


def _trellis(pen: Pen) -> None:
    """Draw a net of bars with four-lobed rings on its crossings."""
    for x, y in ((0.5, 0.5), (0.0, 0.0), (1.0, 0.0), (0.0, 1.0), (1.0, 1.0)):
        for fill, grow in ((1, 0.0), (0, -0.032)):
            for k in range(4):
                a = math.radians(90.0 * k + 45.0)
                r, cx, cy = 0.105 + grow, x + 0.10 * math.sin(a), y - 0.10 * math.cos(a)
                box = [(cx - r) * _PX, (cy - r) * _PX, (cx + r) * _PX, (cy + r) * _PX]
                pen.ellipse(box, fill)
        for k in range(4):
            _leaf(pen, (x, y), 90.0 * k, 0.085, 0.05)
    for x, y in ((0.25, 0.25), (0.75, 0.25), (0.25, 0.75), (0.75, 0.75)):
        for turn in (45.0, -45.0):
            for side in (0.0, 180.0):
                _leaf(pen, (x, y), turn + side, 0.115, 0.032)


_DRAWN: dict[str, tuple[Callable[[Pen], None], float]] = {
    "ogee": (_ogee, 1.5),
    "rosette": (_rosette, 1.0),
    "trellis": (_trellis, 1.0),
}


@lru_cache(maxsize=8)
def tile(name: Name) -> Tile:
    """Return an ornament's tile, drawn once.

    Raises
    ------
    KeyError
        If there is no ornament of that name.
    """
    draw, tall = _DRAWN[name]
    image = Image.new("L", (_PX, round(_PX * tall)), 0)
    draw(ImageDraw.Draw(image))
    cut = np.asarray(image) > 0
    wide = np.pad(cut, _PX // 4, mode="wrap")
    far_in, far_out = ndimage.distance_transform_edt(wide), ndimage.distance_transform_edt(~wide)
    inside = np.where(wide, far_in - 0.5, 0.5 - far_out)  # the edge lies half way between two pixels
    core = inside[_PX // 4 : -_PX // 4, _PX // 4 : -_PX // 4]
    smooth = ndimage.gaussian_filter(core, 1.0, mode="wrap") / _PX
    field = np.asarray(smooth, np.float32)
    field.flags.writeable = False
    return Tile(field, tall)
