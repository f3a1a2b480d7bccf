"""Draws ahead: what a layer draws without regard to the wall, another processor may draw before the layer's turn.

A layer marks such a method with ``drawn``. Its result depends on the layer's keys, the grid and the pour alone, so it
may be made at any time, and kept. Nothing depends on whether it is.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import wraps
from threading import Condition, Thread
from typing import TYPE_CHECKING, Any, TypeVar

from render import threads
from render.fields import Grid
from render.seeds import Streams

if TYPE_CHECKING:
    from render.layers.base import Layer

Drawing = TypeVar("Drawing")
_LAYERS_AHEAD = 2  # further, and what is drawn would push out what is needed first
_MOST_PIXELS = 4_000_000  # drawings of a larger picture are too large to lie about


def drawn(make: Callable[[Any, Grid, Streams], Drawing]) -> Callable[[Any, Grid, Streams], Drawing]:
    """Mark a layer's method ``(self, grid, streams)`` that looks at nothing else; what it returns is read-only."""

    @wraps(make)
    def ask(layer: Any, grid: Grid, streams: Streams) -> Drawing:
        asked = make.__qualname__, layer.fingerprint(), grid, streams.pour, streams.layer
        return streams.kept.once(asked, lambda: make(layer, grid, streams))

    ask.drawn = True  # type: ignore[attr-defined]
    return ask


def drawings(kind: type[Layer]) -> list[str]:
    """Return the names of the methods of a layer kind that can be drawn ahead, as they stand in its file."""
    found = [name for base in reversed(kind.__mro__) for name, one in vars(base).items() if hasattr(one, "drawn")]
    return list(dict.fromkeys(found))


def pays(grid: Grid) -> bool:
    """Return whether another processor is there to draw ahead, and the wall's drawings are small enough to keep."""
    return threads.count() > 1 and grid.rows * grid.cols <= _MOST_PIXELS


class Ahead:
    """Draws for the next layers while one is laid; used as a context, which calls it off at the end."""

    def __init__(self, grid: Grid, coming: Sequence[tuple[Layer, Streams]]) -> None:
        """Be ready to draw for some layers, each with its chance."""
        self._grid, self._coming = grid, coming
        self._turn, self._over = 0, False
        self._changed = Condition()

    def __enter__(self) -> Ahead:
        """Begin."""
        Thread(target=self._draw, name="finishboard ahead", daemon=True).start()
        return self

    def __exit__(self, *_: object) -> None:
        """Draw no more; a drawing under way is finished and thrown away."""
        self.turn(len(self._coming), over=True)

    def turn(self, number: int, over: bool = False) -> None:
        """Say which layer is laid now."""
        with self._changed:
            self._turn, self._over = number, over
            self._changed.notify()

    def _draw(self) -> None:
        for number, (layer, streams) in enumerate(self._coming):
            for name in drawings(type(layer)):
                with self._changed:
                    self._changed.wait_for(lambda: self._over or number <= self._turn + _LAYERS_AHEAD)  # noqa: B023
                    if self._over:
                        return
                if number >= self._turn:
                    self._one(layer, name, streams)

    def _one(self, layer: Layer, name: str, streams: Streams) -> None:
        """Make one drawing; a fault will show when the layer itself asks for it."""
        try:
            getattr(layer, name)(self._grid, streams)
        except Exception:  # also the work being called off
            self._over = True
