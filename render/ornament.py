"""Ornaments of our own for stencils, drawn from leaves, rings and bars, as distance fields of a tile that repeats.

A tile is one unit wide; every piece is an island with bridges of card round it, cut freehand as a stencil is. The
second motif of each all-over tile stands half a tile on (a half drop).
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw
from scipy import ndimage, special

from render.fields import Array

Name = Literal["ogee", "rosette", "trellis", "vine"]
_PX = 480  # pixels across a tile; the field is smooth between them
_FINE = 4  # times as fine as the pieces are drawn
_BRIDGE = 0.011  # card left between two pieces, in widths: 4 mm at 14 in; chosen by eye
_WANDER = 0.0028  # how far the knife wanders from the line, in widths: a millimetre at 14 in; chosen by eye
_SKEW = 0.03  # how far a piece's size and lean are from its fellows'; chosen by eye
_RIM = _PX // 4  # pixels of the tiles around that are seen with one
_SLIVER = 60.0  # pixels of the tile: a piece smaller is no piece
Point = tuple[float, float]
Floats = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Tile:
    """A tile's openings: ``inside`` float32 (rows, cols), distance inside the nearest opening's edge in tile widths
    (negative outside); ``tall`` is its height in widths. It repeats both ways.

    ``motif`` int8 (2, rows, cols) is the motif that each place's nearest piece belongs to, in half tiles down and to
    the right of the tile's corner: it is printed with that motif, whole.
    """

    inside: Array
    tall: float
    motif: NDArray[np.int8]

    @property
    def open_share(self) -> float:
        """Share of the tile that is cut out."""
        return float(np.mean(self.inside > 0))


class _Card:
    """The card of a stencil and the knife: a piece cut later leaves a bridge to those cut before it."""

    def __init__(self, tall: float) -> None:
        self.tall = tall
        self.image = Image.new("L", (_PX * _FINE, round(_PX * tall) * _FINE), 0)
        self.pen = ImageDraw.Draw(self.image)
        self.hand = np.random.default_rng(14)  # any number: the card is cut once, for all walls

    def cut(self, x: Floats, y: Floats) -> None:
        """Cut a piece along its outline (n,), the knife wandering a little; the tile runs on over its edges."""
        angle, waves = 2.0 * np.pi * np.arange(x.size) / x.size, np.arange(2, 9)[:, None]
        size, turn = self.hand.normal(0.0, 1.0, (2, 7, 1)) / waves, self.hand.uniform(0.0, 6.3, (2, 7, 1))
        sway = np.sum(size * np.cos(waves * angle + turn), axis=1)
        out = np.stack([x, y]) + _WANDER * min(1.0, math.hypot(np.ptp(x), np.ptp(y)) / 0.15) * sway
        least, most = out.min(1) - _BRIDGE, out.max(1) + _BRIDGE
        for right, down in itertools.product((-1.0, 0.0, 1.0), (-self.tall, 0.0, self.tall)):
            if most[0] > -right and least[0] < 1.0 - right and most[1] > -down and least[1] < self.tall - down:
                self._draw(out + np.array([[right], [down]]))

    def _draw(self, outline: Floats) -> None:
        shape = [(x, y) for x, y in (outline.T * (_PX * _FINE)).tolist()]
        self.pen.line([*shape, *shape[:2]], 0, round(2.0 * _BRIDGE * _PX * _FINE))
        self.pen.polygon(shape, 1)

    def ribbon(self, x: Floats, y: Floats, half: Floats) -> None:
        """Cut a band along a path (n,), ``half`` as wide to each side of it."""
        way = np.arctan2(np.gradient(y), np.gradient(x))
        off_x, off_y = half * np.sin(way), -half * np.cos(way)
        self.cut(np.concatenate([x + off_x, (x - off_x)[::-1]]), np.concatenate([y + off_y, (y - off_y)[::-1]]))

    def leaf(
        self, base: Point, angle_deg: float, long: float, wide: float, bend: float = 0.0, full: float = 0.75
    ) -> None:
        """Cut a leaf from its base: angle from upright to the right, in widths; ``bend`` in radians to its tip.

        ``full`` below 1 is fullest near its base, above 1 near its tip.
        """
        lean, own_long, own_wide = _SKEW * self.hand.normal(0.0, 1.0, 3)
        t = np.linspace(0.0, 1.0, 28)
        way = math.radians(angle_deg) + lean + bend * t
        step = long * (1.0 + own_long) / (t.size - 1)
        x = base[0] + np.concatenate([[0.0], np.cumsum(np.sin(way[1:]) * step)])
        y = base[1] - np.concatenate([[0.0], np.cumsum(np.cos(way[1:]) * step)])
        self.ribbon(x, y, 0.5 * wide * (1.0 + 2.0 * own_wide) * np.sin(np.pi * t**full))

    def dot(self, at: Point, radius: float) -> None:
        """Cut a round hole."""
        t = np.linspace(0.0, 2.0 * np.pi, 32, endpoint=False)
        self.cut(at[0] + radius * np.cos(t), at[1] + radius * np.sin(t))

    def share(self) -> Array:
        """Return the share of each pixel that is cut out, with a rim of the tiles around."""
        rows, cols = self.image.height // _FINE, self.image.width // _FINE
        share = np.asarray(self.image, np.float32).reshape(rows, _FINE, cols, _FINE).mean((1, 3))
        return _without_slivers(np.pad(share, _RIM, mode="wrap"))


def _without_slivers(share: Array) -> Array:
    """Pieces of a few pixels, left between two bridges, fall out of the card with them: they are not painted."""
    label, count = ndimage.label(share > 0)
    area = np.bincount(label.ravel(), share.ravel(), count + 1)
    return np.where(area[label] > _SLIVER, share, 0.0).astype(np.float32)


def _inside(share: Array, outside: Floats) -> Array:
    """Return how far each place is inside the nearest piece's edge, in widths; ``outside`` how far it is out, pixels.

    Near an edge it is read off the pieces blurred by a pixel: a straight edge gives a normal integral.
    """
    near = special.ndtri(np.clip(ndimage.gaussian_filter(share, 1.0), 1e-3, 1.0 - 1e-3))
    far = ndimage.distance_transform_edt(share > 0.5) - outside
    far -= 0.5 * np.sign(far)
    trust = np.clip(2.5 - np.abs(far), 0.0, 1.0)
    core = ndimage.gaussian_filter(trust * near + (1.0 - trust) * far, 0.8)
    return np.asarray(_core(core) / _PX, np.float32)


def _motif(share: Array, near: NDArray[np.int32], tall: float, half_drop: bool) -> NDArray[np.int8]:
    """Return each place's motif: the one nearest to the middle of the nearest piece, which has a pixel at ``near``."""
    label, count = ndimage.label(share > 0.5)
    middle = np.array(ndimage.center_of_mass(label > 0, label, np.arange(1, count + 1)))
    down, right = ((middle - _RIM + 0.5) / _PX / (tall, 1.0)).T
    whole = np.stack([np.floor(down), np.floor(right)]) * 2.0 + 1.0
    if half_drop:
        corner = np.stack([np.rint(down), np.rint(right)]) * 2.0
        off = [((down - at[0] / 2.0) * tall) ** 2 + (right - at[1] / 2.0) ** 2 for at in (whole, corner)]
        whole = np.where(off[0] <= off[1], whole, corner)
    return np.stack([_core(one[label[tuple(near)] - 1]) for one in whole.astype(np.int8)])


def _core(field: NDArray[Any]) -> NDArray[Any]:
    return field[_RIM:-_RIM, _RIM:-_RIM]


def _palmette(card: _Card, at: Point) -> None:
    """Cut a fan of leaves over a bud, with two curled leaves below."""
    x, y = at
    for side in (1, -1):
        card.leaf((x + side * 0.012, y + 0.215), side * 165, 0.13, 0.042, -side * 0.6)
        for long, drop, lean in ((0.215, 0.175, 138), (0.255, 0.115, 110)):
            card.leaf((x + side * 0.04, y + drop), side * lean, long, 0.056, -side * 2.1, 0.9)
    for angle, long in ((87, 0.15), (64, 0.19), (42, 0.24), (21, 0.28)):
        out = math.radians(angle)
        for side in (1, -1):
            base = (x + side * 0.06 * math.sin(out), y + 0.05 - 0.06 * math.cos(out))
            card.leaf(base, side * 0.8 * angle, long, 0.074, side * 0.7, 1.7)
    card.leaf((x, y - 0.01), 0.0, 0.295, 0.078, 0.0, 1.7)
    for side in (1, -1):
        card.dot((x + side * 0.115, y + 0.14), 0.0165)
    for down, radius in ((0.085, 0.034), (0.385, 0.018), (-0.335, 0.018)):
        card.dot((x, y + down), radius)


def _ogee(card: _Card) -> None:
    """Cut palmettes in a net of leafy ogees."""
    for y, k in (((k + 0.5) / 28.0, k) for k in range(28)):
        sway, slope = 0.215 * math.cos(2.0 * math.pi * y), -0.9 * math.sin(2.0 * math.pi * y)
        for side, x in ((1, 0.25 + sway), (-1, 0.75 - sway)):
            lean = math.degrees(math.atan(-side * slope))
            card.leaf((x, y * card.tall), lean + (26 if k % 2 else -26), 0.08, 0.035)
    for at in ((0.5, 0.75), (0.0, 0.0)):
        _palmette(card, at)


def _rosette(card: _Card) -> None:
    """Cut eight-leaved roses ringed with dots, and small crosses of four leaves between."""
    for x, y in ((0.5, 0.5), (0.0, 0.0)):
        for a in np.radians(45.0 * np.arange(8)).tolist():
            card.leaf((x + 0.045 * math.sin(a), y - 0.045 * math.cos(a)), math.degrees(a), 0.15, 0.075)
        for k, a in enumerate(np.radians(22.5 * (np.arange(16) + 0.5)).tolist()):
            card.dot((x + 0.225 * math.sin(a), y - 0.225 * math.cos(a)), 0.0125 if k % 2 else 0.018)
        card.dot((x, y), 0.028)
    for x, y in ((0.5, 0.0), (0.0, 0.5)):
        for a in np.radians(45.0 + 90.0 * np.arange(4)).tolist():
            card.leaf((x + 0.018 * math.sin(a), y - 0.018 * math.cos(a)), math.degrees(a), 0.10, 0.046)


def _trellis(card: _Card) -> None:
    """Cut a net of bars with four-lobed rings on its crossings."""
    for x, y in ((0.5, 0.5), (0.0, 0.0)):
        for a in np.radians(45.0 + 90.0 * np.arange(4)).tolist():
            turn = a + np.linspace(-1.55, 1.55, 40)
            card.ribbon(x + 0.10 * math.sin(a) + 0.088 * np.sin(turn), y - 0.10 * math.cos(a) - 0.088 * np.cos(turn),
                        0.016 * np.sin(np.linspace(0.15, np.pi - 0.15, 40)) ** 0.3)  # fmt: skip
            card.leaf((x, y), math.degrees(a) - 45.0, 0.085, 0.052)
    for x, y in ((0.25, 0.25), (0.75, 0.25), (0.25, 0.75), (0.75, 0.75)):
        for turn in (45.0, -45.0, 135.0, -135.0):
            card.leaf((x, y), turn, 0.115, 0.034)


def _vine(card: _Card) -> None:
    """Cut a frieze: a running stem with a leaf and berries in each bay, between two lines."""
    mid = 0.5 * card.tall
    for k in range(4):
        for y in (0.028, card.tall - 0.028):
            x = np.linspace(0.25 * k + 0.006, 0.25 * k + 0.244, 30)
            card.ribbon(x, np.full(30, y), np.full(30, 0.009))
    tapers = 0.011 * np.sin(np.linspace(0.25, np.pi - 0.25, 30)) ** 0.4
    for k in range(6):
        x = np.linspace(k / 6.0, (k + 1) / 6.0, 30)
        card.ribbon(x, mid + 0.115 * np.sin(2.0 * np.pi * x), tapers)
    for bay, way in ((0.25, -1.0), (0.75, 1.0)):
        base, up = (bay - 0.02, mid - way * 0.075), 0.0 if way < 0 else 180.0
        for lean, long in ((-74, 0.125), (74, 0.125), (-38, 0.15), (38, 0.15), (0, 0.165)):
            card.leaf(base, up + lean, long, 0.058, -0.25 * np.sign(lean), 0.95)
        for far, high in ((0.135, 0.06), (0.163, 0.035), (0.168, 0.078)):
            card.dot((bay + far, mid + way * high), 0.014)


_DRAWN: dict[str, tuple[Callable[[_Card], None], float]] = {
    "ogee": (_ogee, 1.5),
    "rosette": (_rosette, 1.0),
    "trellis": (_trellis, 1.0),
    "vine": (_vine, 0.45),
}


@lru_cache(maxsize=8)
def tile(name: Name) -> Tile:
    """Return an ornament's tile, cut once.

    Raises
    ------
    KeyError
        If there is no ornament of that name.
    """
    draw, tall = _DRAWN[name]
    card = _Card(tall)
    draw(card)
    share = card.share()
    outside, near = ndimage.distance_transform_edt(share <= 0.5, return_indices=True)
    field, motif = _inside(share, outside), _motif(share, near, tall, half_drop=name != "vine")
    for one in (field, motif):
        one.flags.writeable = False
    return Tile(field, tall, motif)
