"""A mate draws ahead in a second process: the same bytes, and nothing waits for one that is late, lost or elsewhere."""

from __future__ import annotations

import multiprocessing
import os
import signal
import time
from collections.abc import Iterator
from dataclasses import replace
from functools import partial
from typing import Any

import numpy as np
import pytest
from test_contract import GLAZE, example

from render import hand, layers, light
from render.finish import Finish, read
from render.kept import Kept, size_of
from render.mate import Mate
from render.picture import preview
from render.pipeline import Cache, Site, build
from render.seeds import Streams
from tests_support import base, plaster

SITE = Site(14.0, 12.0, 12.5, pour=5)
FINISH = read({"layer": [base(), plaster(), GLAZE]})


@pytest.fixture
def mate() -> Iterator[Mate]:
    """A mate that goes home."""
    came = Mate()
    yield came
    came.close()


def lacking(finish: Finish, kept: Kept) -> list[tuple[str, str]]:
    """Return layers and names of drawings that are not kept and weigh more than one number."""
    grid = SITE.bare().grid
    hands = [hand.of(layer, grid, Streams(SITE.pour, layer.name)) for layer in finish.layers]
    names = [(who, name) for who in hands for name in hand.lacking(who, kept)]
    return [(who.layer.name, name) for who, name in names if size_of(getattr(who, name)) > 4]


def wait_until(true: Any) -> None:
    """Wait for something that another process does."""
    last = time.monotonic() + 60.0
    while not true():
        assert time.monotonic() < last
        time.sleep(0.01)


def bytes_of(wall: Any) -> list[bytes]:
    """Return everything that a wall holds."""
    return [one.tobytes() for one in wall.arrays()]


def test_a_hand_lacks_what_it_has_not_drawn() -> None:
    """Every drawing of every kind can be found by its layer; what a build drew is not lacking afterwards."""
    cache = Cache()
    assert len(lacking(FINISH, cache.parts)) >= 15
    build(FINISH, SITE, cache=cache)
    assert lacking(FINISH, cache.parts) == []


@pytest.mark.parametrize("kind", sorted(layers.kinds()))
def test_nothing_is_drawn_ahead_that_no_layer_asks_for(kind: str) -> None:
    """After a build nothing of any kind is lacking: a mate would draw it again at each change."""
    finish, cache = read({"layer": [base(), plaster(), GLAZE, example(kind)]}), Cache()
    build(finish, SITE, cache=cache)
    assert lacking(finish, cache.parts) == []


def test_it_draws_ahead_what_the_hands_would_draw(mate: Mate) -> None:
    """Left alone it draws all there is; a wall laid with that has the same bytes."""
    cache = Cache()
    with mate.ahead(FINISH.layers, SITE.bare().grid, SITE.pour, cache.parts):
        wait_until(lambda: not lacking(FINISH, cache.parts))
    assert bytes_of(build(FINISH, SITE, cache=cache).wall) == bytes_of(build(FINISH, SITE).wall)


def test_together_they_make_the_same_wall(mate: Mate) -> None:
    """Whoever is first at a drawing, nothing changes, on one errand after another."""
    for pour in range(1, 6):
        site = Site(14.0, 12.0, 12.5, pour)
        both = build(FINISH, site, cache=Cache(), mate=mate)
        assert bytes_of(both.wall) == bytes_of(build(FINISH, site).wall)


def test_what_is_drawn_ahead_is_read_only(mate: Mate) -> None:
    """As everything that is kept."""
    kept, grid = Kept(), SITE.bare().grid
    with mate.ahead(FINISH.layers[1:], grid, SITE.pour, kept):
        who = hand.of(FINISH.layers[1], grid, Streams(SITE.pour, FINISH.layers[1].name, kept))
        wait_until(lambda: not hand.lacking(who, kept))
    drawn = [getattr(who, name) for name in hand.lacking(who, Kept(0))]
    assert [one for one in drawn if isinstance(one, np.ndarray)]
    assert not any(one.flags.writeable for one in drawn if isinstance(one, np.ndarray))


def test_it_is_not_asked_after_a_change_of_one_layer(mate: Mate) -> None:
    """Where only the layer at hand lacks drawings there is nothing to draw ahead; the next errand finds it free."""
    kept, other = Kept(), Kept()
    with mate.ahead(FINISH.layers[1:2], SITE.bare().grid, SITE.pour, kept):
        time.sleep(0.1)
    with mate.ahead(FINISH.layers, SITE.bare().grid, SITE.pour, other):
        wait_until(lambda: not lacking(FINISH, other))
    assert len(kept) == 0


def test_layers_that_are_begun_are_left_alone(mate: Mate) -> None:
    """Told that a layer is begun, it draws for those above only."""
    kept = Kept()
    with mate.ahead(FINISH.layers, SITE.bare().grid, SITE.pour, kept) as begun:
        begun(1)
        wait_until(lambda: all(name != FINISH.layers[2].name for name, _ in lacking(FINISH, kept)))
    assert {name for name, _ in lacking(FINISH, kept)} >= {FINISH.layers[1].name}


def test_without_room_it_draws_nothing(mate: Mate) -> None:
    """What it drew last would push out what is asked for first."""
    little, room = Kept(400 * 150 * 175), Kept()
    with mate.ahead(FINISH.layers, SITE.bare().grid, SITE.pour, little):
        pass
    with mate.ahead(FINISH.layers, SITE.bare().grid, SITE.pour, room):
        wait_until(lambda: not lacking(FINISH, room))
    assert len(little) == 0


@pytest.mark.skipif(not hasattr(signal, "pthread_kill"), reason="interrupts reach a whole group of processes there")
def test_an_interrupt_does_not_send_it_home(mate: Mate, capfd: pytest.CaptureFixture[str]) -> None:
    """Ctrl+C reaches it too, even before it has loaded anything; whoever took it on decides when it goes."""
    kept = Kept()
    for child in multiprocessing.active_children():
        os.kill(child.pid or 0, signal.SIGINT)
    with mate.ahead(FINISH.layers, SITE.bare().grid, SITE.pour, kept):
        wait_until(lambda: not lacking(FINISH, kept))
    assert capfd.readouterr().err == ""


def test_one_that_is_gone_is_not_waited_for() -> None:
    """Lost before, or in the midst of an errand: the wall is finished alone."""
    gone = Mate()
    gone.close()
    alone = bytes_of(build(FINISH, SITE).wall)
    assert bytes_of(build(FINISH, SITE, cache=Cache(), mate=gone).wall) == alone
    lost = Mate()

    def lose(number: int, _count: int, _name: str) -> None:
        if number == 1:
            lost.close()

    assert bytes_of(build(FINISH, SITE, cache=Cache(), mate=lost, progress=lose).wall) == alone


def test_a_drawing_that_cannot_be_made_is_met_where_it_is_asked_for(mate: Mate) -> None:
    """A layer whose drawing fails in the other process fails here as it does alone, and the mate stays."""
    broken = FINISH.layers[1].model_copy(update={"stroke": "long"})
    finish = replace(FINISH, layers=(FINISH.layers[0], broken))
    faults = []
    for helper in (None, mate):
        with pytest.raises(TypeError) as fault:
            build(finish, SITE, cache=Cache(), mate=helper)
        faults.append(str(fault.value))
    assert faults[0] == faults[1]
    assert bytes_of(build(FINISH, SITE, cache=Cache(), mate=mate).wall) == bytes_of(build(FINISH, SITE).wall)


def test_it_does_something_else_meanwhile(mate: Mate) -> None:
    """The result of another's work is the same; who asks before it is begun, or of one that is gone, does it alone."""
    height = np.random.default_rng(3).random((40, 50), np.float32)
    work = partial(light.cast, height, 12.5, light.Lamp())
    gone = Mate()
    gone.close()
    for one in (mate, gone):
        for found, right in zip(one.begin(work)(), work(), strict=True):
            assert np.array_equal(found, right) and not found.flags.writeable


def test_what_fails_there_fails_here(mate: Mate) -> None:
    """As it does alone; and the mate stays."""
    ask = mate.begin(partial(light.cast, np.zeros((4, 4), np.float32), 0.0, light.Lamp()))
    with pytest.raises(ZeroDivisionError):
        ask()
    assert mate.begin(partial(int, "7"))() == 7


def test_a_preview_has_the_same_bytes_with_a_mate(mate: Mate) -> None:
    """Layers and light, whoever worked them out."""
    alone, both = (preview(FINISH, "1 ft x 1 ft", 12.5, 3, cache=Cache(), mate=one) for one in (None, mate))
    assert alone.image.tobytes() == both.image.tobytes()


def test_what_only_other_drawings_rest_on_stays_where_it_was_drawn(mate: Mate) -> None:
    """Far above the layer that is begun it is not sent; of the layer next in line it is, for that may be begun soon."""
    grid, coat = SITE.bare().grid, FINISH.layers[1]
    sweep = hand.of(coat, grid, Streams(SITE.pour, coat.name)).asked("sweep")
    far, near = Kept(), Kept()
    with mate.ahead(FINISH.layers, grid, SITE.pour, far):
        wait_until(lambda: not lacking(FINISH, far))
    with mate.ahead(FINISH.layers, grid, SITE.pour, near) as begun:
        begun(0)
        wait_until(lambda: sweep in near)
    assert sweep not in far
