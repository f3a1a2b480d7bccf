"""A mate: a second process that draws ahead of the layers, so that two processors work at one wall.

Threads do not do it: the many short numpy calls of a drawing wait for each other at the interpreter's lock. What a hand
draws depends on no wall, so a mate can draw it while the layers below are laid; only what is drawn crosses over. It has
the same bytes whoever drew it: nothing depends on how far the mate comes, or on whether there is one.
"""

from __future__ import annotations

import multiprocessing
import os
import pickle
import signal
import socket
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Future
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from functools import partial
from itertools import count
from multiprocessing.connection import Connection
from multiprocessing.context import SpawnContext
from threading import Lock, Thread, current_thread, main_thread
from typing import Any, TypeVar

import numpy as np
from numpy.typing import NDArray

from render import hand
from render.fields import Grid
from render.hand import Hand
from render.kept import Kept, frozen
from render.layers.base import Layer
from render.memory import keep_spare
from render.seeds import Streams

Found = TypeVar("Found")

_ROOM = 100_000_000  # bytes that a mate keeps of what it drew, for what rests on it
_GONE = (EOFError, OSError)  # a line with nobody at its other end
_BYTES_PER_PIXEL = 450  # of all that the hands of a long finish draw: 400 at 12.5 px/in, 215 at 25, measured
_FEWEST = 2  # layers that lack drawings: after a change of one there is nothing to draw ahead
_ALL_OF_IT = getattr(socket, "MSG_WAITALL", 0)
_DONE = 1 << 30  # a place above every layer


class _NotDoneError(Exception):
    """The mate could not do it: whoever asks for it does it, and meets the fault."""


@dataclass(frozen=True)
class _Errand:
    """What to draw for one wall: the layers, each with its place and what is wanted of it, in order."""

    number: int
    grid: Grid
    pour: int
    wanted: tuple[tuple[int, Layer, tuple[str, ...]], ...]


@dataclass(frozen=True)
class _Task:
    """Work that anybody could do: ``partial`` of a function of a module."""

    number: int
    work: Callable[[], Any]


@dataclass(frozen=True)
class _Begun:
    """The layer at a place is begun: of it is wanted only what rests on nothing, and nothing of those below."""

    number: int
    place: int


@dataclass(frozen=True)
class _Line:
    """One end of what joins the two: for words both ways, and for arrays, read where they are to lie."""

    words: Connection
    arrays: socket.socket

    @classmethod
    def pair(cls, context: SpawnContext) -> tuple[_Line, _Line]:
        """Return both ends."""
        (near, far), (here, there) = context.Pipe(), socket.socketpair()
        return cls(near, here), cls(far, there)

    def close(self) -> None:
        """Let go of this end."""
        self.words.close()
        self.arrays.close()

    def send(self, thing: Any) -> None:
        """Send a thing with its arrays beside it, so that they are not copied once more."""
        beside: list[pickle.PickleBuffer] = []
        packed = pickle.dumps(thing, protocol=5, buffer_callback=beside.append)
        self.words.send([one.raw().nbytes for one in beside])
        self.words.send_bytes(packed)
        for one in beside:
            self.arrays.sendall(one.raw())

    def receive(self) -> Any:
        """Return a thing that was sent with its arrays."""
        sizes = self.words.recv()
        packed = self.words.recv_bytes()
        return pickle.loads(packed, buffers=[self._array(size) for size in sizes])

    def _array(self, size: int) -> NDArray[np.uint8]:
        """Return the bytes of an array: waited for in one call, for each has to get the interpreter's lock again."""
        found, at = np.empty(size, np.uint8), 0
        while at < size:
            came = self.arrays.recv_into(found.data[at:], 0, _ALL_OF_IT)
            if not came:
                raise EOFError
            at += came
        return found


# --- in the second process -------------------------------------------------------------------------------------------


def _stand_by(line: _Line) -> None:
    """Draw what is asked for, until nobody is at the other end of the line."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # who is at the other end hears it, and closes the line
    os.environ["FINISHBOARD_THREADS"] = "1"
    keep_spare()
    with suppress(*_GONE):
        said = line.receive()
        while True:
            if isinstance(said, _Task):
                _do(line, said.number, None, said.work)
            said = (_run(line, said) if isinstance(said, _Errand) else None) or line.receive()
    line.close()


def _run(line: _Line, errand: _Errand) -> _Errand | _Task | None:
    """Draw what is wanted, as long as it is; return the next errand or task if one came meanwhile."""
    kept, begun = Kept(_ROOM), -1
    for place, layer, names in errand.wanted:
        who = hand.of(layer, errand.grid, Streams(errand.pour, layer.name, kept))
        held: list[str] = []  # drawn for the others, and not sent
        for name in names:
            while line.words.poll():
                said = line.receive()
                if not isinstance(said, _Begun):
                    return said
                begun = max(begun, said.place) if said.number == errand.number else begun
            wanted = [name] if _worth_it(who, name, place - begun) else []
            if place == begun:  # whoever lays it asks for these next
                wanted, held = [one for one in held if who.asked(one) in kept] + wanted, []
            elif not wanted:
                held.append(name)
            for one in wanted:
                _do(line, errand.number, who.asked(one), partial(getattr, who, one))
    return None


def _worth_it(who: Hand, name: str, above: int) -> bool:
    """Return whether to draw and send something of the hand so many layers above the one that is begun.

    What only other drawings rest on can stay here until the layer is begun, unless that is the next.
    """
    return above == 1 or (above > 1 and not hand.is_within(who, name)) or (above == 0 and hand.is_apart(who, name))


def _do(line: _Line, number: int, asked: tuple[Any, ...] | None, work: Callable[[], Any]) -> None:
    """Say what is begun, do it and send what came of it: a drawing that is ``asked`` for, or a task."""
    line.words.send((number, asked))
    try:
        found = work()
    except Exception:
        found = _NotDoneError()
    line.send(found)


# --- in the first process --------------------------------------------------------------------------------------------


def _receive(line: _Line) -> Any:
    """Return what the mate did."""
    found = line.receive()
    if isinstance(found, _NotDoneError):
        raise found
    return found


@contextmanager
def _unheard() -> Iterator[None]:
    """Let a process that is started meanwhile hear no interrupt, not even before it can choose."""
    if current_thread() is not main_thread():  # only there can one be told not to listen
        yield
        return
    before = signal.signal(signal.SIGINT, signal.SIG_IGN)
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, before)


class Mate:
    """A second process at hand. It is on one errand at a time: the next replaces it."""

    def __init__(self) -> None:
        """Let it come; it is ready some tenths of a second later, and nobody waits for it."""
        context = multiprocessing.get_context("spawn")
        self._line, far = _Line.pair(context)
        self._process = context.Process(target=_stand_by, args=(far,), name="finishboard-mate", daemon=True)
        with _unheard():
            self._process.start()
        far.close()
        self._lock = Lock()
        self._numbers, self._tasks = count(1), dict[int, Future[Any]]()
        self._under_way = 0, Kept(0)
        self._listener = Thread(target=self._listen, name="finishboard-mate", daemon=True)
        self._listener.start()

    def close(self) -> None:
        """Send it home. What it was drawing is drawn by whoever asks for it."""
        self._process.terminate()
        self._process.join()
        self._listener.join()
        with self._lock:
            self._line.close()

    @contextmanager
    def ahead(self, layers: Sequence[Layer], grid: Grid, pour: int, kept: Kept) -> Iterator[Callable[[int], None]]:
        """Let it draw for layers that are about to be laid, into ``kept`` if there is room for all of it.

        Call what this gives with the place of each layer that is begun, from 0: the mate goes on to those above.
        """
        if kept.limit_bytes < _BYTES_PER_PIXEL * grid.rows * grid.cols:  # what is drawn last would push out the first
            layers = ()
        hands = enumerate(hand.of(layer, grid, Streams(pour, layer.name)) for layer in layers)
        lacking = [(place, who.layer, hand.lacking(who, kept)) for place, who in hands]
        wanted = tuple(one for one in lacking if one[2])
        if len(wanted) < _FEWEST:
            wanted = ()
        number = self._begin(grid, pour, wanted, kept)
        begun = partial(self._begun, number)
        try:
            yield begun
        finally:
            begun(_DONE)

    def begin(self, work: Callable[[], Found]) -> Callable[[], Found]:
        """Let it do something else meanwhile, and leave its errand: ``partial`` of a function of a module.

        What this returns gives the result, read-only; it does the work itself where the mate has not begun it.
        """
        number, task = next(self._numbers), Future[Found]()
        self._tasks[number] = task

        def ask() -> None:
            with self._lock:
                self._say(_Task(number, work))

        Thread(target=ask, name="finishboard-mate", daemon=True).start()  # it may be drawing, and listen only then

        def found() -> Found:
            mine = task.cancel() or task.exception() is not None
            self._tasks.pop(number, None)
            return frozen(work()) if mine else task.result()

        return found

    def _begin(self, grid: Grid, pour: int, wanted: tuple[Any, ...], kept: Kept) -> int:
        """Send it on a new errand and return the errand's number."""
        with self._lock:
            number = next(self._numbers)
            self._under_way = number, kept
            self._say(_Errand(number, grid, pour, wanted))
        return number

    def _begun(self, number: int, place: int) -> None:
        with self._lock:
            self._say(_Begun(number, place))

    def _say(self, thing: Any) -> None:
        with suppress(*_GONE):
            self._line.send(thing)

    def _listen(self) -> None:
        """Keep what it draws for the errand under way, until it is gone; whoever asks meanwhile waits for it."""
        with suppress(*_GONE):
            while True:
                number, asked = self._line.words.recv()
                under_way, kept = self._under_way
                with suppress(_NotDoneError):
                    if asked is None:
                        self._take(self._tasks.pop(number, None))
                    else:
                        (kept if number == under_way else Kept(0)).offer(asked, partial(_receive, self._line))

    def _take(self, task: Future[Any] | None) -> None:
        """Give what comes to whoever waits for it: nobody does where it was done here meanwhile."""
        waited = task if task is not None and task.set_running_or_notify_cancel() else Future[Any]()
        try:
            waited.set_result(frozen(_receive(self._line)))
        except BaseException as fault:
            waited.set_exception(fault)
            raise
