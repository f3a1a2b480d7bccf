"""From strata to colour: what is seen at each pixel, and how much of it belongs to which layer.

Strata are laid over the bare wall oldest first, each a Kubelka-Munk film over what is below it. The share of a layer in
what is seen is its contrast ratio (how much it hides black from white) times what later strata let through.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from render import colour, threads
from render.fields import Array
from render.layers.base import Optics
from render.light import Lamp, exposed
from render.physics import optics
from render.recall import Lower, Recall
from render.wall import Stratum, Wall, frozen

_STRIP = 96  # rows at a time: the bands of a strip stay in the processor's cache
_SAMPLES = 40_000
# How deep a glaze soaks into plaster, and how much that plaster scatters per mil: chosen by eye, no figure was found.
_SOAK_MIL, _SOAK_SCATTER = 6.0, 0.8
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


def _marks(wall: Wall, ground: NDArray[np.float64], films: Mapping[str, Optics]) -> tuple[tuple[Any, ...], ...]:
    """Return for each stratum what its look depends on besides the strata below it."""
    last = _last_coat(wall)
    return tuple(
        (one.film, one.fixed, *(np.ascontiguousarray(value).tobytes() for value in films[one.name]), ground.tobytes(),
         wall.tone if index == last else None)
        for index, one in enumerate(wall.strata)
    )  # fmt: skip


def _last_coat(wall: Wall) -> int:
    return max((i for i, one in enumerate(wall.strata) if one.role == "coat"), default=-1)


def _laid(
    wall: Wall, part: slice, ground: NDArray[np.float64], films: Mapping[str, Optics], known: Lower | None, keep: int
) -> Iterator[tuple[Array, list[Array]]]:
    """Yield the reflectance (rows, cols, bands) of some rows and what each stratum hides, after each stratum.

    Begins with the ground, or with the lowest strata that are known. A stratum that a later one hides is left out
    there; the lowest ``keep`` strata are right by themselves.
    """
    shape = wall.height[part].shape
    seen = np.broadcast_to(ground.astype(np.float32), (*shape, ground.size))
    veils: list[Array] = []
    if known is not None:
        seen, veils = known.seen[part], [veil[part] for veil in known.veils]
    yield seen, veils
    last_coat, hidden = _last_coat(wall), _hidden_from(wall, part, films, (keep, len(wall.strata)))
    for index in range(len(veils), len(wall.strata)):
        one = wall.strata[index]
        seen = _over(seen, one, part, films[one.name], hidden.get(index))
        veils = [*veils, hiding(one.film[part], *films[one.name])]
        if index == last_coat:
            seen = seen * wall.tone[part][..., None]
        yield seen, veils


def _hidden_from(
    wall: Wall, part: slice, films: Mapping[str, Optics], ends: tuple[int, int]
) -> dict[int, NDArray[np.bool_]]:
    """Return where each stratum of some rows is hidden by a coat above it, up to the next of the ``ends``."""
    found: dict[int, NDArray[np.bool_]] = {}
    hidden: NDArray[np.bool_] | None = None
    for index in range(len(wall.strata) - 1, -1, -1):
        if index + 1 in ends:
            hidden = None
        if hidden is not None:
            found[index] = hidden
        one = wall.strata[index]
        if one.role == "coat":
            opaque = one.film[part] >= np.float32(colour.hides_from(*films[one.name]))
            hidden = opaque if hidden is None else hidden | opaque
    return found


def _over(
    seen: Array, one: Stratum, part: slice, film_optics: Optics, hidden: NDArray[np.bool_] | None = None
) -> Array:
    """Return the reflectance of some rows under a stratum: what soaked in stains the ground, the rest lies on it."""
    film = one.film[part] if hidden is None else np.where(hidden, np.float32(0.0), one.film[part])
    if one.fixed is None or one.role != "colour":
        return colour.film_over(seen, *film_optics, film)
    soaked = one.fixed[part] if hidden is None else np.where(hidden, np.float32(0.0), one.fixed[part])
    stained = colour.stain_into(seen, *film_optics, soaked, depth_mil=_SOAK_MIL, scatter_per_mil=_SOAK_SCATTER)
    return colour.film_over(stained, *film_optics, film - soaked)


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


class _Store:
    """Gathers the look of the lowest ``count`` strata from the strips that pass by."""

    def __init__(self, shape: tuple[int, int], bands: int, count: int) -> None:
        self.count = count
        self.seen = np.empty((*shape, bands) if count else (0,), np.float32)
        self.veils = [np.empty(shape, np.float32) for _ in range(count)]

    def take(self, part: slice, seen: Array, veils: list[Array]) -> None:
        """Keep some rows if they show that many strata."""
        if self.count and len(veils) == self.count:
            self.seen[part] = seen
            for kept, veil in zip(self.veils, veils, strict=True):
                kept[part] = veil

    def lower(self, marks: tuple[tuple[Any, ...], ...]) -> Lower:
        """Return what was gathered."""
        return Lower(marks[: self.count], frozen(self.seen), tuple(frozen(veil) for veil in self.veils))


def look(
    wall: Wall,
    ground: str,
    films: Mapping[str, Optics],
    lamp: Lamp | None = None,
    recall: Recall | None = None,
) -> Seen:
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
    recall
        Parts of the last picture; the result does not depend on it.
    """
    base = colour.parse_colour(ground)
    matrix = exposed(lamp or Lamp())
    step = max(1, round((wall.height.size / _SAMPLES) ** 0.5))

    marks = _marks(wall, base, films)
    known, keep = recall.lower(marks) if recall is not None else (None, 0)
    store = _Store(wall.grid.shape, base.size, keep)

    def strip(part: slice) -> _Strip:
        for seen, veils in _laid(wall, part, base, films, known, keep):
            store.take(part, seen, veils)
        shares, main = _shared(veils, wall.height[part].shape)
        first = -part.start % step
        sample = seen[first::step, ::step].reshape(-1, base.size)
        return _Strip(np.maximum(seen @ matrix, 0.0, dtype=np.float32), sample, shares, main)

    strips = threads.each(strip, list(_strips(wall.grid.rows)))
    if recall is not None and keep:
        recall.keep_lower(store.lower(marks))
    total = sum((one.shares for one in strips), np.zeros(len(wall.strata) + 1))
    names = ["", *(one.name for one in wall.strata)]
    shares = {name: float(part / wall.height.size) for name, part in zip(names, total, strict=True)}
    rgb = frozen(np.concatenate([one.rgb for one in strips]))
    sample = frozen(np.concatenate([one.sample for one in strips]))
    return Seen(rgb, sample, shares, frozen(np.concatenate([one.main for one in strips])))
