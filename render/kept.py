"""Keeps the last large results of pure functions by what they depend on."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Hashable
from threading import Lock
from typing import Any


class Kept:
    """Results up to a number of bytes, the least lately asked for forgotten first; threads may share it."""

    def __init__(self, limit_bytes: int = 128_000_000) -> None:
        """Start empty."""
        self._limit, self._bytes = limit_bytes, 0
        self._kept: OrderedDict[Hashable, tuple[Any, int]] = OrderedDict()
        self._lock = Lock()

    def get(self, asked: Hashable) -> Any | None:
        """Return what was kept for a question, or None."""
        with self._lock:
            if asked not in self._kept:
                return None
            self._kept.move_to_end(asked)
            return self._kept[asked][0]

    def put(self, asked: Hashable, found: Any, size: int) -> None:
        """Keep a result of ``size`` bytes; one larger than half the room is not kept."""
        if size > self._limit // 2:
            return
        with self._lock:
            if asked in self._kept:
                self._bytes -= self._kept.pop(asked)[1]
            self._kept[asked] = found, size
            self._bytes += size
            while self._bytes > self._limit:
                self._bytes -= self._kept.popitem(last=False)[1][1]

    def __len__(self) -> int:
        """Count what is kept."""
        return len(self._kept)
