"""Shares work among processors: numpy and scipy let other threads run while they compute."""

from __future__ import annotations

import os
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from typing import TypeVar

Part = TypeVar("Part")
Result = TypeVar("Result")


def count(most: int = 8) -> int:
    """Return how many threads share the work: FINISHBOARD_THREADS, or one for each processor we may use, up to most."""
    asked = os.environ.get("FINISHBOARD_THREADS", "")
    if asked.isdigit():
        return max(1, int(asked))
    usable = len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1
    return min(most, usable)


def each(work: Callable[[Part], Result], parts: Sequence[Part], pays: bool = True) -> list[Result]:
    """Return ``work(part)`` of each part, in order; by several threads where it ``pays``.

    The parts must not touch the same memory. What comes out does not depend on the number of threads.
    """
    threads = min(count(), len(parts)) if pays else 1
    if threads < 2:
        return [work(part) for part in parts]
    with ThreadPoolExecutor(threads) as pool:
        return list(pool.map(work, parts))
