"""Drawing ahead: what it draws, when, and that nothing depends on it."""

from __future__ import annotations

import threading
from typing import ClassVar, Literal

import numpy as np
import pytest

from render import ahead
from render.fields import Array, Grid
from render.finish import read
from render.kept import Kept
from render.layers.base import Layer
from render.pipeline import Site, Stopped, build
from render.seeds import Streams
from tests_support import base, plaster, table

GRID = Grid(4, 5, 1.0)


class _Level(ahead.Hand):
    """Draws the same height everywhere, and notes which thread drew it."""

    @ahead.drawn
    def field(self) -> Array:
        """Return the layer's level everywhere."""
        self.streams.key("field")
        DRAWN.append((self.layer.name, threading.current_thread().name))
        return np.full(self.grid.shape, self.layer.level, np.float32)


class _Drawer(Layer):
    """A layer of which all is known beforehand."""

    kind: Literal["drawer"] = "drawer"
    level: float = 1.0
    hand: ClassVar[type[ahead.Hand] | None] = _Level


DRAWN: list[tuple[str, str]] = []


@pytest.fixture(autouse=True)
def _two_threads(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("FINISHBOARD_THREADS", "2")
    DRAWN.clear()


def _coming(count: int, kept: Kept, heed=lambda: None) -> list[tuple[Layer, Streams]]:
    return [(_Drawer(name=f"layer {n}"), Streams(1, f"layer {n}", kept, heed)) for n in range(count)]


def _until(ready, seconds: float = 10.0) -> bool:
    return any(ready() or threading.Event().wait(0.01) for _ in range(int(100 * seconds)))


def test_a_drawing_is_made_once_and_kept_read_only() -> None:
    """Another hand at the same work finds the same array; another key of the layer, grid or pour gives another."""
    layer, streams = _coming(1, kept := Kept())[0]
    first = _Level(layer, GRID, streams).field
    assert _Level(layer, GRID, streams).field is first and not first.flags.writeable and len(DRAWN) == 1
    other = _Level(layer.model_copy(update={"level": 2.0}), GRID, streams).field
    assert float(other[0, 0]) == 2.0
    assert _Level(layer, Grid(4, 5, 2.0), streams).field is not first
    assert _Level(layer, GRID, Streams(2, layer.name, kept)).field is not first


def test_without_room_each_hand_draws_for_itself() -> None:
    """A store without room keeps nothing; one hand draws once."""
    layer, streams = _coming(1, Kept(0))[0]
    hand = _Level(layer, GRID, streams)
    assert hand.field is hand.field and _Level(layer, GRID, streams).field is not hand.field
    assert len(DRAWN) == 2


def test_what_a_hand_draws_is_known_by_its_class() -> None:
    """Marked properties, in their order, and nothing else."""
    assert ahead.drawings(_Level) == ["field"] and ahead.drawings(ahead.Hand) == []


def test_another_thread_draws_for_the_next_two_layers_and_no_further() -> None:
    """While layer 0 of 6 is laid, layers 1 and 2 are drawn too; when layer 3 is, the rest follow."""
    kept = Kept()
    with ahead.Ahead(GRID, _coming(6, kept)) as others:
        assert _until(lambda: len(kept) == 3)
        threading.Event().wait(0.05)
        assert [name for name, _ in DRAWN] == ["layer 0", "layer 1", "layer 2"]
        others.turn(3)
        assert _until(lambda: len(kept) == 6)
    assert all(thread != threading.current_thread().name for _, thread in DRAWN)


def test_it_stops_when_the_work_is_called_off() -> None:
    """Chance that may not be used any more ends it without a word; the layer that asks hears of it."""

    def heed() -> None:
        raise Stopped

    coming = _coming(3, Kept(), heed)
    with ahead.Ahead(GRID, coming) as others:
        assert _until(lambda: others._over)
    with pytest.raises(Stopped):
        _ = _Level(coming[0][0], GRID, coming[0][1]).field
    assert DRAWN == []


def test_a_wall_is_the_same_whether_or_not_it_was_drawn_ahead(monkeypatch: pytest.MonkeyPatch) -> None:
    """Bit for bit, with one thread and with two."""
    finish = read(table(base(), plaster()))
    heights = []
    for count in "12":
        monkeypatch.setenv("FINISHBOARD_THREADS", count)
        heights.append(build(finish, Site(10.0, 12.0, 12.5, 7)).wall.height.tobytes())
    assert heights[0] == heights[1]


def test_large_walls_and_single_processors_draw_nothing_ahead(monkeypatch: pytest.MonkeyPatch) -> None:
    """Drawings of nine megapixels would take too much memory; one processor has no other."""
    monkeypatch.setenv("FINISHBOARD_THREADS", "2")
    assert ahead.pays(Grid(1200, 1200, 25.0)) and not ahead.pays(Grid(3600, 2400, 25.0))
    monkeypatch.setenv("FINISHBOARD_THREADS", "1")
    assert not ahead.pays(Grid(1200, 1200, 25.0))
