"""Chipping: what hangs loose is knocked or scraped off, and only that.

What a finisher sees: islands of bare ground where plates fell, mostly along cracks, with a pale torn ledge round them.
"""

from __future__ import annotations

from typing import Annotated, ClassVar, Literal

import numpy as np
from numpy.typing import NDArray
from pydantic import Field

from render.fields import Array
from render.hand import Hand, drawn
from render.layers.base import Layer, Share
from render.physics.crack_flakes import Break, Tearing, break_away, tearing
from render.seeds import Streams
from render.wall import Wall

Places = NDArray[np.intp]  # numbers of pixels, row after row
Films = list[Array]  # one of each stratum, at some pixels
_SURFACE = ("thirst", "sheen", "tone", "cracks", "fallen")
_BARE = (0.35, 0.0)  # absorbency and sheen of the bare wall


class _Hand(Hand):
    """How a film tears under the scraper."""

    layer: Chip

    @drawn
    def tearing(self) -> Tearing:
        """The same for every film."""
        return tearing(self.grid, self.streams.key("outline"))


class Chip(Layer):
    """Knock off loose film."""

    kind: Literal["chip"] = "chip"
    loss: Annotated[Share, Field(description="The most of the wall that falls; only what is loose does.")] = "6 %"  # type: ignore[assignment]

    title: ClassVar[str] = "chip off what is loose"
    tools: ClassVar[tuple[str, ...]] = ("scraper", "stiff brush")
    hazards: ClassVar[tuple[str, ...]] = ("dust",)

    def apply(self, wall: Wall, streams: Streams) -> Wall:
        """Break away the loosest part of the uppermost coat, at most ``loss`` of the wall."""
        if not wall.loose.any():
            return wall
        came = break_away(wall.loose, wall.cracks, self.loss, wall.grid, _Hand(self, wall.grid, streams).tearing)
        if not came.gone.any():
            return wall
        at = np.flatnonzero(came.gone)
        came = Break(*(_read(one, at) for one in (came.gone, came.hole, came.grain)))  # no more is needed of it
        films = [_read(one.film, at) for one in wall.strata]
        before = _thickness(wall, films)
        after = self._broken(wall, came.gone, at, films)
        return self._bared(after, came, at, films, before)

    def _broken(self, wall: Wall, share: Array, at: Places, films: Films) -> Wall:
        """Take the broken share of the coat on top at each pixel, and the colours on it wherever its skin is gone.

        ``films`` are each stratum's at those pixels; what is left of them takes their places.
        """
        after, top, lost = wall, _lying(wall, films), np.zeros(wall.grid.shape, np.float32)
        skin = np.minimum(share * np.float32(8.0), 1.0)
        share = share * (np.float32(0.1) + np.float32(0.9) * share)  # it breaks off steep, and hides almost to its foot
        for index, one in enumerate(wall.strata):
            taken = share * (top == index) if one.role == "coat" else skin * (top < index)
            taken *= films[index]
            if taken.any():
                lost.ravel()[at] = taken
                after = after.take(one.name, lost)
                films[index] = _read(after.strata[index].film, at)
        return after

    def _bared(self, wall: Wall, came: Break, at: Places, films: Films, before: Array) -> Wall:
        """Give the hole the surface of what lies there, and the ledge the tooth of a fresh break.

        ``films`` are those left of each stratum, ``before`` all coats together (mil) before they broke.
        """
        gone, hole = came.gone, came.hole
        torn = gone * (1.0 - hole)
        old = {name: _read(getattr(wall, name), at) for name in ("height", "loose", *_SURFACE)}
        thirst, sheen = _below(wall, films)
        fresh = {
            "height": _thickness(wall, films) + (old["height"] - before) * (1.0 - gone)
            + np.float32(1.3) * torn * came.grain,
            "thirst": old["thirst"] + (thirst - old["thirst"]) * hole + np.float32(0.2) * torn * (1.0 - old["thirst"]),
            "sheen": old["sheen"] * (1.0 - gone) + sheen * hole,
            "tone": old["tone"] + (1.0 - old["tone"]) * gone,
            "cracks": old["cracks"] * (1.0 - gone),
            "loose": np.zeros_like(gone),
            "fallen": np.maximum(old["fallen"], hole),
        }  # fmt: skip
        changed = [name for name, value in fresh.items() if not (old.pop(name) == value).all()]
        return wall.evolve(**{name: _changed(getattr(wall, name), at, fresh.pop(name)) for name in changed})

    def words(self) -> str:
        """Return the layer's line."""
        return f"chip off what is loose, at most {100 * self.loss:.2g} % of the wall"


def _read(field: Array, at: Places) -> Array:
    """Return a field at some pixels; one that is even all over the wall is not spread out for it."""
    return np.broadcast_to(field[0, 0], at.shape) if field.strides == (0, 0) else field.ravel()[at]


def _changed(field: Array, at: Places, values: Array) -> Array:
    """Return a field with other values at some pixels."""
    new = np.array(field)
    new.ravel()[at] = values
    return new


def _lying(wall: Wall, films: Films) -> NDArray[np.intp]:
    """Return ``wall.top`` at some pixels, where the strata have those films."""
    top = np.full(films[0].size, -1)
    for index, one in enumerate(wall.strata):
        if one.role == "coat":
            top[films[index] > 0] = index
    return top


def _below(wall: Wall, films: Films) -> tuple[Array, Array]:
    """Return absorbency and sheen of the coat that lies open at some pixels, or of the bare wall."""
    shown, top = [*((one.thirst, one.sheen) for one in wall.strata), _BARE], _lying(wall, films)
    thirst, sheen = (np.array(one, np.float32)[top] for one in zip(*shown, strict=True))
    return thirst, sheen


def _thickness(wall: Wall, films: Films) -> Array:
    """Return how far all coats together stand at some pixels, mil."""
    total = np.zeros(films[0].size, np.float32)
    for one, film in zip(wall.strata, films, strict=True):
        if one.role == "coat":
            total += film * np.float32(one.stands)
    return total
