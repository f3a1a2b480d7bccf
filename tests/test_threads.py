"""Sharing work among processors."""

from __future__ import annotations

import threading
from collections.abc import Iterator

import pytest

from render import threads


@pytest.fixture(autouse=True, params=["1", "2", "5"])
def _threads(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """Every rule holds for one thread and for several."""
    monkeypatch.setenv("FINISHBOARD_THREADS", request.param)
    yield


def test_results_come_in_the_order_of_the_parts() -> None:
    """Squares of 0 to 99, whoever computed them; nothing to do gives nothing."""
    assert threads.each(lambda n: n * n, range(100)) == [n * n for n in range(100)]
    assert threads.each(lambda n: n, []) == []


def test_shared_work_may_share_its_own() -> None:
    """Three parts of which each shares four parts of which each shares two: none waits for a thread it holds."""

    def inner(n: int) -> int:
        return sum(threads.each(lambda k: n + k, range(2)))

    def outer(n: int) -> int:
        return sum(threads.each(inner, range(n, n + 4)))

    assert threads.each(outer, range(3)) == [sum(2 * m + 1 for m in range(n, n + 4)) for n in range(3)]


def test_a_fault_reaches_the_caller() -> None:
    """Whichever thread met it, the caller gets the fault, and the next work goes on as before."""

    def work(n: int) -> int:
        if n == 7:
            raise KeyError("seven")
        return n

    with pytest.raises(KeyError, match="seven"):
        threads.each(work, range(20))
    assert threads.each(work, range(5)) == [0, 1, 2, 3, 4]


def test_several_threads_work_at_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """With two threads, two parts that wait for each other both get through."""
    monkeypatch.setenv("FINISHBOARD_THREADS", "2")
    meet = threading.Barrier(2, timeout=30)
    assert sorted(threads.each(lambda _: meet.wait(), [0, 1])) == [0, 1]


def test_bands_hold_every_row_once() -> None:
    """Seven rows by three are 3, 3 and 1; no rows are no bands."""
    assert threads.bands(7, 3) == [slice(0, 3), slice(3, 6), slice(6, 7)]
    assert threads.bands(0, 3) == []
