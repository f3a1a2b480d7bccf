"""Shares work among processors: numpy and scipy let other threads run while they compute."""

from __future__ import annotations

import os
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from functools import lru_cache
from itertools import count as counted
from typing import Any, TypeVar

FEW_PIXELS = 1 << 19
"""Below this many the interpreter's lock takes as much as a second processor gives."""

Part = TypeVar("Part")
Result = TypeVar("Result")


def count(most: int = 8) -> int:
    """Return how many threads share the work: FINISHBOARD_THREADS, or one for each processor we may use, up to most."""
    asked = os.environ.get("FINISHBOARD_THREADS", "")
    if asked.isdigit():
        return max(1, int(asked))
    usable = len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1
    return min(most, usable)


@lru_cache(maxsize=1)
def _others(threads: int) -> ThreadPoolExecutor:
    """Return the threads that stand by to help: starting one takes longer than many a part."""
    return ThreadPoolExecutor(threads, thread_name_prefix="finishboard")


if hasattr(os, "register_at_fork"):
    os.register_at_fork(after_in_child=_others.cache_clear)  # threads do not pass into a forked process


def bands(rows: int, tall: int) -> list[slice]:
    """Part rows into bands of ``tall``; the last may be lower."""
    return [slice(top, min(top + tall, rows)) for top in range(0, rows, tall)]


def each(work: Callable[[Part], Result], parts: Sequence[Part], pays: bool = True) -> list[Result]:
    """Return ``work(part)`` of each part, in order; by several threads where it ``pays``.

    The parts must not touch the same memory. What comes out does not depend on the number of threads. The caller works
    too and waits only for parts that another thread has begun, so that work may share out work of its own.
    """
    threads = min(count(), len(parts)) if pays else 1
    if threads < 2:
        return [work(part) for part in parts]
    found: list[Any] = [None] * len(parts)
    numbers = counted()

    def take() -> None:
        while (number := next(numbers)) < len(parts):
            found[number] = work(parts[number])

    helpers = [_others(count() - 1).submit(take) for _ in range(threads - 1)]
    try:
        take()
    finally:
        begun = [one for one in helpers if not one.cancel()]
        faults = [one.exception() for one in begun]
    for fault in filter(None, faults):
        raise fault
    return found
