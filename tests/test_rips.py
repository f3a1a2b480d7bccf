"""Rips: a sheet without a seam that opens at once and closes slowly, read along strokes alike at every resolution."""

from __future__ import annotations

import numpy as np
import pytest

from render import strokes
from render.fields import Grid
from render.rips import Rips, Scale
from render.seeds import Streams

WAY = strokes.Habit(8.0, 16.0, 0.0, 0.0, 6.0, both_ways=False)  # every stroke runs across the wall


def test_sheet_has_no_seam() -> None:
    """The last row and column lie beside the first: they differ no more than neighbours within do."""
    sheet = Rips.of(Streams(3, "top")).sheet
    for axis in (0, 1):
        step = np.abs(np.diff(sheet, axis=axis)).mean()
        seam = np.abs(sheet.take(0, axis) - sheet.take(-1, axis)).mean()
        assert seam < 1.6 * step


def test_sheet_is_of_unit_variance_and_of_the_pour() -> None:
    """Mean 0, variance 1; the same pour tears alike, another otherwise."""
    one, same, other = (Rips.of(Streams(pour, "top")).sheet for pour in (1, 1, 2))
    assert float(one.mean(dtype=np.float64)) == pytest.approx(0.0, abs=1e-4)
    assert float(one.std(dtype=np.float64)) == pytest.approx(1.0, abs=1e-3)
    assert np.array_equal(one, same)
    assert abs(np.corrcoef(one.ravel(), other.ravel())[0, 1]) < 0.2


def test_rips_open_at_once_and_close_slowly() -> None:
    """Along a row the steps up are few and steep, and nothing falls faster than a rip closes."""
    step = np.diff(Rips.of(Streams(3, "top")).sheet, axis=1)
    assert np.mean(step > 0) < 0.45
    assert step.max() > 5.0 * -step.min()


@pytest.mark.parametrize("scale", [Scale(0.4, 9.0), Scale(0.6, 2.0, 300)])
def test_coarse_reading_is_the_fine_one_averaged(scale: Scale) -> None:
    """At 12.5 px/in one reads what four pixels by four at 50 px/in come to."""
    plan, fine = Grid.over(14, 14, 12.5), Grid.over(14, 14, 50.0)
    sweep, rips = strokes.lay(plan, WAY, 3), Rips.of(Streams(3, "top"))
    coarse = rips.along(sweep, plan, scale)
    mean = rips.along(sweep, fine, scale).reshape(175, 4, 175, 4).mean((1, 3))
    inner = sweep.clear > 0.9  # at a stroke's rim places of two strokes mix
    assert np.corrcoef(coarse[inner], mean[inner])[0, 1] > 0.93


def test_rips_are_drawn_out_along_the_strokes() -> None:
    """Read nine times as long as wide they change far less along the way than across it."""
    plan = Grid.over(14, 14, 12.5)
    sweep = strokes.lay(plan, WAY, 3)
    got = Rips.of(Streams(3, "top")).along(sweep, plan, Scale(0.6, 9.0))
    assert np.abs(np.diff(got, axis=0)).mean() > 2.0 * np.abs(np.diff(got, axis=1)).mean()
