"""What the last picture was made of, so that the next one, which often differs in its last layers only, takes less.

A preview computes the same picture, bit for bit, with or without a ``Recall``: arrays are recognised by identity, which
the read-only arrays of kept walls have.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from typing import Any

from render.fields import Array


@dataclass(frozen=True, eq=False)
class Lower:
    """The lowest strata as they look: ``seen`` (pixels, bands), rows one after another."""

    marks: tuple[tuple[Any, ...], ...]
    seen: Array


@dataclass(frozen=True, eq=False)
class Lit:
    """A lamp's direct light and the sky's share on a relief: float32 (rows, cols)."""

    height: Array
    setting: tuple[Any, ...]
    direct: Array
    sky: Array


class Recall:
    """Holds the parts of one picture. Threads may share it: each part is replaced whole."""

    def __init__(self) -> None:
        """Know nothing yet."""
        self._last: tuple[tuple[Any, ...], ...] = ()
        self._lower: Lower | None = None
        self._lit: Lit | None = None

    def lower(self, marks: tuple[tuple[Any, ...], ...], ends: Collection[int]) -> tuple[Lower | None, int]:
        """Return the kept lowest strata if these marks begin with theirs, and how many strata to keep this time.

        Either number is one of the ``ends``, the numbers of strata whose look stands by itself. What this picture has
        in common with the last one is likely to stay for the next.
        """
        kept, last = self._lower, self._last
        self._last = marks
        fits = kept is not None and len(kept.marks) in ends and common(kept.marks, marks) == len(kept.marks)
        known = kept if fits else None
        shared = common(last, marks)
        alike = max((end for end in ends if end <= shared), default=0)
        return known, alike if alike > (len(known.marks) if known else 0) else 0

    def keep_lower(self, lower: Lower) -> None:
        """Keep the look of some lowest strata."""
        self._lower = lower

    def lit(self, height: Array, setting: tuple[Any, ...]) -> Lit | None:
        """Return the light on that very relief under that setting, if it is kept."""
        kept = self._lit
        return kept if kept is not None and kept.height is height and kept.setting == setting else None

    def keep_lit(self, lit: Lit) -> None:
        """Keep the light on a relief."""
        self._lit = lit


def common(first: tuple[tuple[Any, ...], ...], second: tuple[tuple[Any, ...], ...]) -> int:
    """Return how many marks two lists begin with alike: arrays by identity, everything else by value."""
    count = 0
    for one, other in zip(first, second, strict=False):
        if not all(a is b or (isinstance(a, bytes) and a == b) for a, b in zip(one, other, strict=True)):
            break
        count += 1
    return count
