"""Keeps the last large results of pure functions by what they depend on."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable, Hashable
from concurrent.futures import Future
from dataclasses import fields, is_dataclass
from threading import Lock
from typing import Any, TypeVar

import numpy as np

Found = TypeVar("Found")


def _parts(found: Any) -> tuple[Any, ...]:
    """Return what a result consists of: the items of a tuple, the fields of a dataclass."""
    if isinstance(found, tuple):
        return found
    return tuple(getattr(found, one.name) for one in fields(found)) if is_dataclass(found) else ()


def size_of(found: Any) -> int:
    """Return the bytes of a result: those it names itself, as arrays do, or those of its parts together."""
    return int(found.nbytes) if hasattr(found, "nbytes") else sum(map(size_of, _parts(found)))


def frozen(found: Found) -> Found:
    """Return a result with its arrays read-only, those of its parts too."""
    if isinstance(found, np.ndarray):
        found.flags.writeable = False
    for part in _parts(found):
        frozen(part)
    return found


class Kept:
    """Results up to a number of bytes, the least lately asked for forgotten first; threads may share it."""

    def __init__(self, limit_bytes: int = 128_000_000) -> None:
        """Start empty."""
        self.limit_bytes, self._bytes = limit_bytes, 0
        self._kept: OrderedDict[Hashable, tuple[Any, int]] = OrderedDict()
        self._making: dict[Hashable, Future[Any]] = {}
        self._lock = Lock()

    def get(self, asked: Hashable) -> Any | None:
        """Return what was kept for a question, or None."""
        with self._lock:
            return self._found(asked)

    def _found(self, asked: Hashable) -> Any | None:
        if asked not in self._kept:
            return None
        self._kept.move_to_end(asked)
        return self._kept[asked][0]

    def put(self, asked: Hashable, found: Any, size: int) -> None:
        """Keep a result of ``size`` bytes; one larger than half the room is not kept."""
        if size > self.limit_bytes // 2:
            return
        with self._lock:
            if asked in self._kept:
                self._bytes -= self._kept.pop(asked)[1]
            self._kept[asked] = found, size
            self._bytes += size
            while self._bytes > self.limit_bytes:
                self._bytes -= self._kept.popitem(last=False)[1][1]

    def once(self, asked: Hashable, make: Callable[[], Found]) -> Found:
        """Return what was kept for a question, or make and keep it; two threads that ask at once make it once.

        Its arrays become read-only. What ``make`` raises reaches whoever calls it; a thread that waited makes it anew.
        """
        with self._lock:
            if (known := self._found(asked)) is not None:
                return known
            other = self._making.get(asked)
            mine: Future[Any] = Future()
            if other is None:
                self._making[asked] = mine
        if other is not None:
            return make() if other.exception() else other.result()
        return self._made(asked, make, mine)

    def offer(self, asked: Hashable, make: Callable[[], Any]) -> None:
        """Make a result that somebody may ask for; it is kept unless it is known or being made elsewhere."""
        with self._lock:
            needed = self._found(asked) is None and asked not in self._making
            if needed:
                mine = self._making[asked] = Future()
        if needed:
            self._made(asked, make, mine)
        else:
            make()

    def __contains__(self, asked: Hashable) -> bool:
        """Return whether a result is kept."""
        return asked in self._kept

    def _made(self, asked: Hashable, make: Callable[[], Found], waited_for: Future[Any]) -> Found:
        try:
            found = frozen(make())
        except BaseException as fault:
            waited_for.set_exception(fault)
            raise
        else:
            self.put(asked, found, size_of(found))
            waited_for.set_result(found)
        finally:
            with self._lock:
                del self._making[asked]
        return found

    def __len__(self) -> int:
        """Count what is kept."""
        return len(self._kept)
