"""Work in strips: the same bytes as in one piece."""

from __future__ import annotations

import numpy as np
import pytest

from render import strips, threads
from render.fields import Array, Grid, Resampled, resample


def ramp(one: Array, other: Array, on: Array) -> Array:
    """Something of every sort: a root, a quotient, a choice."""
    return np.where(on, np.sqrt(one * one + np.float32(0.1)), np.exp(other) / (one + np.float32(2.0)))


@pytest.mark.parametrize("pixels", [1, 50, 333, 1 << 20])
@pytest.mark.parametrize("count", ["1", "3"])
def test_strips_are_not_seen(monkeypatch: pytest.MonkeyPatch, pixels: int, count: str) -> None:
    """Strips of any height, by any number of threads, give what the whole gives at once, bit for bit."""
    rng = np.random.default_rng(4)
    one, other = rng.random((2, 37, 29), dtype=np.float32)
    on = one > 0.4
    monkeypatch.setattr(strips, "_PIXELS", pixels)
    monkeypatch.setattr(threads, "FEW_PIXELS", 1)
    monkeypatch.setenv("FINISHBOARD_THREADS", count)
    got = strips.each(ramp, one, other, on)
    assert got.dtype == np.float32
    assert got.tobytes() == ramp(one, other, on).astype(np.float32).tobytes()


def test_one_value_holds_everywhere() -> None:
    """A field of one pixel is spread over the others' shape."""
    wide = np.arange(12, dtype=np.float32).reshape(3, 4)
    got = strips.each(lambda a, b: a + b, np.full((1, 1), 0.5, np.float32), wide)
    np.testing.assert_array_equal(got, wide + 0.5)


def test_written_over_one_of_the_fields() -> None:
    """A strip is read before it is written: the result may take the place of what it was made of."""
    one, other = np.random.default_rng(6).random((2, 37, 29), dtype=np.float32)
    wanted = one - other
    assert strips.each(np.subtract, one, other, out=other) is other
    np.testing.assert_array_equal(other, wanted)


def test_strips_cover_all_rows_once() -> None:
    """Seven rows of ten pixels, 25 pixels at a time: two rows, two, two and one, each with its result."""
    assert strips.by_rows(lambda part: part.stop - part.start, (7, 10), 25) == [2, 2, 2, 1]
    assert strips.parts((7, 10), 3) == [slice(at, at + 1) for at in range(7)]


@pytest.mark.parametrize("ppi", [6.25, 12.5, 30.0])
@pytest.mark.parametrize("smooth", [False, True])
def test_a_field_of_another_grid_is_resampled_on_the_way(
    monkeypatch: pytest.MonkeyPatch, ppi: float, smooth: bool
) -> None:
    """Strip by strip, a field of another grid, or of the same, gives the bytes of one that was resampled whole."""
    source, target = Grid.over(7.3, 5.1, ppi), Grid.over(7.3, 5.1, 12.5)
    rng = np.random.default_rng(8)
    one, other = rng.random(source.shape, np.float32), rng.random(target.shape, np.float32)
    wanted = resample(one, source, target, smooth=smooth) * other
    monkeypatch.setattr(strips, "_PIXELS", 200)
    got = strips.each(np.multiply, Resampled(one, source, target, smooth), other)
    assert got.tobytes() == wanted.tobytes()
