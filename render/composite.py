"""From strata to colour: what is seen at each pixel, and how much of it belongs to which layer.

Strata are laid over the bare wall oldest first, each a Kubelka-Munk film over what is below it. The share of a layer in
what is seen is its contrast ratio (how much it hides black from white) times what later strata let through.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from render import colour
from render.fields import Array
from render.layers.base import Optics
from render.light import Lamp, exposed
from render.physics import optics
from render.wall import Wall, frozen

_STRIP = 96  # rows at a time: the bands of a strip stay in the processor's cache
_THREADS = 2  # the strips do not depend on it
_SAMPLES = 40_000
_KNOTS, _THICKEST = 8192, 400.0  # of the table of hiding; mil


@dataclass(frozen=True, eq=False)
class Seen:
    """What is seen: colour and shares.

    Attributes
    ----------
    rgb
        float32 (rows, cols, 3), linear sRGB of the surface under the lamp's light, before relief shades it.
    sample
        Reflectances (n, bands) of evenly spread pixels, for figures that do not depend on the lamp.
    shares
        Layer name to its share of what is seen, 0 to 1; ``""`` is the bare wall; all sum to 1.
    main
        int16 (rows, cols), the stratum that a pixel shows most of, -1 for the bare wall.
    """

    rgb: Array
    sample: Array
    shares: Mapping[str, float]
    main: NDArray[np.int16]


@lru_cache(maxsize=128)
def _veil(k: bytes, s: bytes) -> Array:
    """Return the contrast ratio of a film at thicknesses evenly spread in their square root up to ``_THICKEST``."""
    mils = _THICKEST * np.linspace(0.0, 1.0, _KNOTS) ** 2
    r, t = optics.layer(np.frombuffer(k)[None, :], np.frombuffer(s)[None, :], mils[:, None])
    clear = np.mean(t * t / np.maximum(1.0 - r, 1e-9), axis=1)
    return np.asarray(1.0 - clear, np.float32)


def hiding(film: Array, k: NDArray[np.float64], s: NDArray[np.float64]) -> Array:
    """Return the contrast ratio 0..1 of a film (mil): 1 - (R over white - R over black), mean over the bands."""
    table = _veil(np.ascontiguousarray(k, np.float64).tobytes(), np.ascontiguousarray(s, np.float64).tobytes())
    place = np.sqrt(np.minimum(film, np.float32(_THICKEST)) * np.float32((_KNOTS - 1) ** 2 / _THICKEST))
    place += np.float32(0.5)
    return np.take(table, place.astype(np.int16), mode="clip")


def _strips(rows: int) -> Iterator[slice]:
    return (slice(at, min(at + _STRIP, rows)) for at in range(0, rows, _STRIP))


@dataclass(frozen=True, eq=False)
class _Strip:
    """Some rows: colour, every nth reflectance, summed shares (bare wall first), and the main stratum."""

    rgb: Array
    sample: Array
    shares: NDArray[np.float64]
    main: NDArray[np.int16]


def _laid(
    wall: Wall, part: slice, ground: NDArray[np.float64], films: Mapping[str, Optics]
) -> tuple[Array, list[Array]]:
    """Return the reflectance (rows, cols, bands) of some rows and what each stratum hides there."""
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
    return seen, veils


def _shared(veils: list[Array], shape: tuple[int, ...]) -> tuple[NDArray[np.float64], NDArray[np.int16]]:
    """Return summed shares (bare wall first) and the main stratum: each hides part of what later ones let through."""
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
    return shares, main


def look(wall: Wall, ground: str, films: Mapping[str, Optics], lamp: Lamp | None = None) -> Seen:
    """Return what is seen of a wall.

    Parameters
    ----------
    wall
        The strata.
    ground
        Colour of the bare wall, as text.
    films
        (k, s) per mil for every stratum's name.
    lamp
        Its light colours the surface; relief is shaded later.
    """
    base = colour.parse_colour(ground)
    matrix = exposed(lamp or Lamp())
    step = max(1, round((wall.height.size / _SAMPLES) ** 0.5))

    def strip(part: slice) -> _Strip:
        seen, veils = _laid(wall, part, base, films)
        shares, main = _shared(veils, wall.height[part].shape)
        first = -part.start % step
        sample = seen[first::step, ::step].reshape(-1, base.size)
        return _Strip(np.maximum(seen @ matrix, 0.0, dtype=np.float32), sample, shares, main)

    parts = list(_strips(wall.grid.rows))
    with ThreadPoolExecutor(_THREADS) as pool:
        strips = list(pool.map(strip, parts))
    total = sum(one.shares for one in strips)
    names = ["", *(one.name for one in wall.strata)]
    shares = {name: float(part / wall.height.size) for name, part in zip(names, total, strict=True)}
    rgb = frozen(np.concatenate([one.rgb for one in strips]))
    sample = frozen(np.concatenate([one.sample for one in strips]))
    return Seen(rgb, sample, shares, frozen(np.concatenate([one.main for one in strips])))
