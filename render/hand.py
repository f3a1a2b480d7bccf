"""What a hand does at a layer whatever the wall is like, worked out once and kept.

A layer kind gathers it in a ``Hand`` of its own and marks it ``drawn``. It depends on the layer's keys, the grid and
the pour alone: when a layer below changes, the hand above it draws nothing again.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property
from typing import Any, Generic, TypeVar, overload

from render.fields import Grid
from render.kept import Kept
from render.seeds import Streams

Drawing = TypeVar("Drawing")


@dataclass(frozen=True)
class Hand:
    """One hand at one layer: the layer, the output grid and its chance. It never sees the wall."""

    layer: Any
    grid: Grid
    streams: Streams

    def asked(self, name: str) -> tuple[Any, ...]:
        """Return under which question a drawing is kept."""
        return name, *self._at_work

    @cached_property
    def _at_work(self) -> tuple[Any, ...]:
        """The kind of hand and all that it goes by."""
        streams = self.streams
        return type(self).__module__, self.layer.fingerprint(), self.grid, streams.pour, streams.layer


class drawn(Generic[Drawing]):  # noqa: N801  # a decorator, as property is
    """Mark what a hand draws: found in the store of ``streams``, or made and kept there; its arrays become read-only.

    The hand itself also holds it, for as long as it is at work.
    """

    held, apart, within = True, False, False

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
        streams.heed()
        found = streams.kept.once(hand.asked(self._name), lambda: self._make(hand))
        if self.held:
            vars(hand)[self._name] = found  # found there from now on
        return found


class drawn_once(drawn[Drawing]):  # noqa: N801
    """The same for a large drawing that the layer asks for once: the hand does not hold it."""

    held = False


class drawn_apart(drawn_once[Drawing]):  # noqa: N801
    """The same for one that rests on no other drawing: it can be made while the others of its layer are."""

    apart = True


class drawn_within(drawn[Drawing]):  # noqa: N801
    """The same for one on which other drawings of the hand rest, and nothing else: whoever has those can do without."""

    within = True


def of(layer: Any, grid: Grid, streams: Streams) -> Hand:
    """Return the hand at a layer: of the kind in the module of its layer kind, or one that draws nothing."""
    kinds = {kind.__module__: kind for kind in Hand.__subclasses__()}
    return kinds.get(type(layer).__module__, Hand)(layer, grid, streams)


def is_apart(hand: Hand, name: str) -> bool:
    """Return whether what a hand draws rests on no other of its drawings."""
    return bool(vars(type(hand))[name].apart)


def is_within(hand: Hand, name: str) -> bool:
    """Return whether only other drawings of a hand rest on one."""
    return bool(vars(type(hand))[name].within)


def lacking(hand: Hand, kept: Kept) -> tuple[str, ...]:
    """Return the names of what a hand draws that is not kept, in order; none where all of it serves only drawings
    that are kept.
    """
    names = [name for name, one in vars(type(hand)).items() if isinstance(one, drawn)]
    names = [name for name in names if hand.asked(name) not in kept]
    return () if all(is_within(hand, name) for name in names) else tuple(names)
