"""Draws ahead: what a hand does whatever the wall is like, another processor may work out before the layer's turn.

A layer kind gathers that in a ``Hand`` of its own and marks it ``drawn``. It depends on the layer's keys, the grid and
the pour alone, so it may be made at any time, and kept. Nothing depends on whether it is.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from threading import Condition, Thread
from typing import TYPE_CHECKING, Any, Generic, TypeVar, overload

from render import threads
from render.fields import Grid
from render.seeds import Streams

if TYPE_CHECKING:
    from render.layers.base import Layer

Drawing = TypeVar("Drawing")
_LAYERS_AHEAD = 2  # further, and what is drawn would push out what is needed first
_MOST_PIXELS = 4_000_000  # drawings of a larger picture are too large to lie about


@dataclass(frozen=True)
class Hand:
    """One hand at one layer: the layer, the output grid and its chance. It never sees the wall."""

    layer: Any
    grid: Grid
    streams: Streams


class drawn(Generic[Drawing]):  # noqa: N801  # a decorator, as property is
    """Mark what a hand draws as fit to be drawn ahead and kept; its arrays become read-only.

    The hand itself also holds it, for as long as it is at work.
    """

    held = True

    def __init__(self, make: Callable[[Any], Drawing]) -> None:
        """Take the hand's method."""
        self._make, self.__doc__ = make, make.__doc__

    def __set_name__(self, _: type, name: str) -> None:
        """Learn the attribute's name."""
        self._name = name

    @overload
    def __get__(self, hand: None, kind: type) -> drawn[Drawing]: ...
    @overload
    def __get__(self, hand: Hand, kind: type) -> Drawing: ...
    def __get__(self, hand: Hand | None, kind: type) -> drawn[Drawing] | Drawing:
        """Return the drawing, kept or made now."""
        if hand is None:
            return self
        streams = hand.streams
        asked = self._make.__qualname__, hand.layer.fingerprint(), hand.grid, streams.pour, streams.layer
        found = streams.kept.once(asked, lambda: self._make(hand))
        if self.held:
            vars(hand)[self._name] = found  # found there from now on
        return found


class drawn_once(drawn[Drawing]):  # noqa: N801
    """The same for a large drawing that the layer asks for once: the hand does not hold it."""

    held = False


def drawings(hand: type[Hand]) -> list[str]:
    """Return the names of what a kind of hand draws, as they stand in its class."""
    return [name for name, one in vars(hand).items() if isinstance(one, drawn)]


def pays(grid: Grid) -> bool:
    """Return whether another processor is there to draw ahead, and the wall's drawings are small enough to keep."""
    return threads.count() > 1 and grid.rows * grid.cols <= _MOST_PIXELS


class Ahead:
    """Draws for the next layers while one is laid; used as a context, which calls it off at the end."""

    def __init__(self, grid: Grid, coming: Sequence[tuple[Layer, Streams]]) -> None:
        """Be ready to draw for some layers, each with its chance."""
        self._hands = [layer.hand(layer, grid, streams) if layer.hand else None for layer, streams in coming]
        self._turn, self._over = 0, not pays(grid)
        self._changed = Condition()

    def __enter__(self) -> Ahead:
        """Begin, where it pays."""
        if not self._over:
            Thread(target=self._draw, name="finishboard ahead", daemon=True).start()
        return self

    def __exit__(self, *_: object) -> None:
        """Draw no more; a drawing under way is finished and thrown away."""
        self.turn(len(self._hands), over=True)

    def turn(self, number: int, over: bool = False) -> None:
        """Say which layer is laid now."""
        with self._changed:
            self._turn, self._over = number, over
            self._changed.notify()

    def _draw(self) -> None:
        try:
            for number, hand in enumerate(self._hands):
                for name in drawings(type(hand)) if hand else ():
                    if self._called(number):
                        getattr(hand, name)
        except Exception:  # of a drawing, or the work was called off: the layer will meet it when it asks itself
            self.turn(self._turn, over=True)

    def _called(self, number: int) -> bool:
        """Wait until a layer is near, and return whether its drawings may still be wanted."""
        with self._changed:
            self._changed.wait_for(lambda: self._over or number <= self._turn + _LAYERS_AHEAD)
            return not self._over and number >= self._turn
