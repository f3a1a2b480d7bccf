"""From strata to colour: what is seen at each pixel, and how much of it belongs to which layer.

Strata are laid over the bare wall oldest first, each a Kubelka-Munk film over what is below it. The share of a layer in
what is seen is its contrast ratio (how much it hides black from white) times what later strata let through.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from render import colour
from render.fields import Array
from render.layers.base import Optics
from render.physics import optics
from render.wall import Stratum, Wall, frozen

_STRIP = 96  # rows at a time: the bands of a strip stay in the processor's cache
_KNOTS = np.concatenate([[0.0], np.geomspace(1e-3, 400.0, 160)])  # mil, for the table of hiding


@dataclass(frozen=True, eq=False)
class Seen:
    """What is seen: linear colour and shares.

    ``rgb`` float32 (rows, cols, 3), linear sRGB of the surface in even light of the lamp's colour; ``shares`` layer
    name to its share of what is seen (0..1), with ``""`` for the bare wall; ``main`` int16 (rows, cols), the stratum that
    most of a pixel shows, -1 for the bare wall.
    """

    rgb: Array
    shares: Mapping[str, float]
    main: NDArray[np.int16]


def hiding(film: Array, k: NDArray[np.float64], s: NDArray[np.float64]) -> Array:
    """Return the contrast ratio 0..1 of a film (mil): 1 - (R over white - R over black), mean over the bands."""
    r, t = optics.layer(k[None, :], s[None, :], _KNOTS[:, None])
    clear = np.mean(t * t / np.maximum(1.0 - r, 1e-9), axis=1)
    return np.asarray(np.interp(film, _KNOTS, 1.0 - clear), np.float32)


def _strips(rows: int) -> Iterator[slice]:
    return (slice(at, min(at + _STRIP, rows)) for at in range(0, rows, _STRIP))


def _strip(
    wall: Wall, part: slice, ground: NDArray[np.float64], films: Mapping[str, Optics], lamp: str
) -> tuple[Array, NDArray[np.float64], NDArray[np.int16]]:
    """Return linear colour, summed shares per stratum (bare wall first) and the main stratum of some rows."""
    shape = wall.height[part].shape
    seen = np.broadcast_to(ground.astype(np.float32), (*shape, ground.size))
    veils: list[Array] = []
    last_coat = max((i for i, one in enumerate(wall.strata) if one.role == "coat"), default=-1)
    for index, one in enumerate(wall.strata):
        k, s = films[one.name]
        film = one.film[part]
        seen = colour.film_over(seen, k, s, film)
        veils.append(hiding(film, k, s))
        if index == last_coat:
            seen = seen * wall.tone[part][..., None]
    left = np.ones(shape, np.float32)
    shares = np.zeros(len(veils) + 1)
    best, main = np.zeros(shape, np.float32), np.full(shape, -1, np.int16)
    for index in range(len(veils) - 1, -1, -1):
        own = left * veils[index]
        shares[index + 1] = np.sum(own, dtype=np.float64)
        main[own > best] = index
        best = np.maximum(best, own)
        left = left - own
    shares[0] = np.sum(left, dtype=np.float64)
    main[left > best] = -1
    return np.asarray(colour.to_linear_rgb(seen, lamp), np.float32), shares, main


def look(wall: Wall, ground: str, films: Mapping[str, Optics], illuminant: str = "D65") -> Seen:
    """Return what is seen of a wall.

    Parameters
    ----------
    wall
        The strata.
    ground
        Colour of the bare wall, as text.
    films
        (k, s) per mil for every stratum's name.
    illuminant
        The lamp's light, by name.
    """
    base = colour.parse_colour(ground)
    parts = list(_strips(wall.grid.rows))
    rgb = np.empty((*wall.grid.shape, 3), np.float32)
    main = np.empty(wall.grid.shape, np.int16)
    total = np.zeros(len(wall.strata) + 1)
    with ThreadPoolExecutor(2) as pool:
        for part, got in zip(parts, pool.map(lambda p: _strip(wall, p, base, films, illuminant), parts), strict=True):
            rgb[part], main[part] = got[0], got[2]
            total += got[1]
    names = ["", *(one.name for one in wall.strata)]
    shares = {name: float(sum_ / main.size) for name, sum_ in zip(names, total, strict=True)}
    return Seen(frozen(rgb), shares, frozen(main))


__all__ = ["Seen", "Stratum", "hiding", "look"]
