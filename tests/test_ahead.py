"""Drawing ahead: what it draws, when, and that nothing depends on it."""

from __future__ import annotations

import threading
from typing import Literal

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


class _Drawer(Layer):
    """Draws a constant, and notes which thread drew it."""

    kind: Literal["drawer"] = "drawer"
    level: float = 1.0

    @ahead.drawn
    def field(self, grid: Grid, streams: Streams) -> Array:
        """Return the level everywhere."""
        streams.key("field")
        DRAWN.append((self.name, threading.current_thread().name))
        return np.full(grid.shape, self.level, np.float32)


DRAWN: list[tuple[str, str]] = []


@pytest.fixture(autouse=True)
def _fresh() -> None:
    DRAWN.clear()


def _coming(count: int, kept: Kept, heed=lambda: None) -> list[tuple[Layer, Streams]]:
    return [(_Drawer(name=f"layer {n}"), Streams(1, f"layer {n}", kept, heed)) for n in range(count)]


def _until(ready, seconds: float = 10.0) -> bool:
    return any(ready() or threading.Event().wait(0.01) for _ in range(int(100 * seconds)))


def test_a_drawing_is_made_once_and_kept_read_only() -> None:
    """Asked twice it is the same array; for another key of the layer, grid or pour it is another."""
    (layer, streams), kept = _coming(1, Kept())[0], Kept()
    streams = Streams(1, layer.name, kept)
    first = layer.field(GRID, streams)
    assert layer.field(GRID, streams) is first and not first.flags.writeable and len(DRAWN) == 1
    other = layer.model_copy(update={"level": 2.0}).field(GRID, streams)
    assert float(other[0, 0]) == 2.0
    assert layer.field(Grid(4, 5, 2.0), streams) is not first
    assert layer.field(GRID, Streams(2, layer.name, kept)) is not first


def test_without_room_a_drawing_is_found_while_somebody_holds_it() -> None:
    """A store without room makes it again when it was let go, and not before."""
    layer, streams = _coming(1, Kept(0))[0]
    first = layer.field(GRID, streams)
    assert layer.field(GRID, streams) is first and len(DRAWN) == 1
    del first
    layer.field(GRID, streams)
    assert len(DRAWN) == 2


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
    layer, streams = coming[0]
    with pytest.raises(Stopped):
        layer.field(GRID, streams)
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
