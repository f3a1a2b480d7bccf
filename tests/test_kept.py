"""What is kept of large results: bounded, the least lately asked for goes first."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from threading import Event
from time import sleep

import numpy as np
import pytest

from render.kept import Kept, size_of


def test_what_was_put_is_found_until_the_room_is_full() -> None:
    """Of three results of 40 bytes in a room of 100 the one not asked for lately is forgotten."""
    kept = Kept(100)
    kept.put("a", 1, 40)
    kept.put("b", 2, 40)
    assert kept.get("a") == 1
    kept.put("c", 3, 40)
    assert [kept.get(one) for one in "abc"] == [1, None, 3]


def test_a_result_larger_than_half_the_room_is_not_kept() -> None:
    """One large result would push out all others; it is made again instead."""
    kept = Kept(100)
    kept.put("small", 1, 10)
    kept.put("large", 2, 51)
    assert kept.get("large") is None and kept.get("small") == 1


def test_putting_again_takes_no_more_room() -> None:
    """The same question put twice counts once."""
    kept = Kept(100)
    for _ in range(9):
        kept.put("a", 1, 40)
    kept.put("b", 2, 40)
    assert len(kept) == 2 and kept.get("a") == 1


def test_threads_share_it() -> None:
    """A thousand puts and gets from four threads lose nothing that has room."""
    kept = Kept(4000)

    def work(number: int) -> bool:
        kept.put(number % 50, number % 50, 40)
        found = kept.get(number % 50)
        return found is None or found == number % 50

    with ThreadPoolExecutor(4) as pool:
        assert all(pool.map(work, range(1000)))
    assert [kept.get(number) for number in range(50)] == list(range(50))


def test_two_threads_that_ask_at_once_make_it_once() -> None:
    """While one thread makes the answer the other waits for it: both get the same, read-only."""
    kept, begun, made = Kept(), Event(), []

    def make() -> np.ndarray:
        made.append(1)
        begun.set()
        sleep(0.05)
        return np.ones(3)

    with ThreadPoolExecutor(2) as pool:
        first = pool.submit(kept.once, "ones", make)
        begun.wait(30)
        second = kept.once("ones", make)
    assert first.result() is second and made == [1]
    assert not second.flags.writeable
    assert kept.once("ones", make) is second


def test_a_fault_is_not_kept() -> None:
    """The thread that waited for a maker who failed makes it itself; the failed one gets its own fault."""
    kept, begun = Kept(), Event()

    def fails() -> int:
        begun.set()
        sleep(0.05)
        raise ZeroDivisionError

    with ThreadPoolExecutor(1) as pool:
        first = pool.submit(kept.once, "answer", fails)
        begun.wait(30)
        assert kept.once("answer", lambda: 42) == 42
        with pytest.raises(ZeroDivisionError):
            first.result()
    assert kept.once("answer", lambda: 43) in (42, 43) and len(kept) == 1


def test_the_size_of_a_result_is_that_of_its_arrays() -> None:
    """Three float64 and, in a tuple within, two float32 are 32 bytes; other things count nothing."""
    assert size_of((np.zeros(3), (np.zeros(2, np.float32), "word"), None, 7)) == 32


def test_what_is_offered_is_kept_if_nobody_has_it() -> None:
    """It is always made, for it must be taken off somebody's hands, but never put in place of what is known."""
    kept = Kept()
    kept.offer("a", lambda: np.ones(3))
    kept.offer("a", lambda: np.zeros(3))
    assert kept.get("a").tolist() == [1.0, 1.0, 1.0] and not kept.get("a").flags.writeable


def test_who_asks_for_what_is_being_offered_waits_for_it() -> None:
    """One thread is at making it: another that asks makes nothing."""
    kept, begun, go = Kept(), Event(), Event()

    def slow() -> np.ndarray:
        begun.set()
        assert go.wait(60)
        return np.ones(3)

    with ThreadPoolExecutor(2) as pool:
        offered = pool.submit(kept.offer, "a", slow)
        assert begun.wait(60)
        asked = pool.submit(kept.once, "a", lambda: np.zeros(3))
        kept.offer("a", lambda: np.full(3, 2.0))
        go.set()
        offered.result(60)
        assert asked.result(60) is kept.get("a") and kept.get("a").sum() == 3.0
