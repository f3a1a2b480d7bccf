"""An ornament stencilled over the wall."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from render import ornament
from render.finish import read
from render.pipeline import Site, build

SITE = Site(30.0, 30.0, 12.5, 2)
ORNAMENTS = ("ogee", "rosette", "trellis")
TRUE = {"stray": "0 in", "bleed": "0 in", "dry": "0 %"}


def film(**more: Any) -> np.ndarray:
    """The film of a print on a flat wall, mil."""
    print_ = {"kind": "stencil", "name": "print", "material": "stencil paint", "repeat": "10 in", "coverage": "15 %"}
    wall = build(read({"name": "t", "layer": [{**print_, "spread": "3000 ft2/gal", **more}]}), SITE).wall
    return wall.stratum("print").film


@pytest.mark.parametrize("name", ORNAMENTS)
def test_a_tile_repeats(name: Any) -> None:
    """A tile's distance field runs on over its edges both ways, and has islands with bridges between."""
    tile = ornament.tile(name)
    inside = tile.inside
    step = np.abs(np.diff(inside, axis=0)).max(), np.abs(np.diff(inside, axis=1)).max()
    assert np.abs(inside[0] - inside[-1]).max() <= 1.5 * step[0]
    assert np.abs(inside[:, 0] - inside[:, -1]).max() <= 1.5 * step[1]
    assert 0.08 < tile.open_share < 0.4
    assert inside.shape[0] == round(inside.shape[1] * tile.tall)


@pytest.mark.parametrize("name", ORNAMENTS)
def test_the_distance_is_a_distance(name: Any) -> None:
    """The field changes by at most one pixel a pixel, as a distance does."""
    down, right = np.gradient(ornament.tile(name).inside * ornament.tile(name).inside.shape[1])
    assert np.sqrt(down**2 + right**2).max() < 1.06


def test_the_print_repeats_at_its_width() -> None:
    """Sheets 10 in apart print alike; half a repeat on they do not."""
    on = (film(ornament="rosette", **TRUE) > 0).astype(float)

    def alike(lag: int) -> float:
        return float(np.corrcoef(on[:, lag:].ravel(), on[:, :-lag].ravel())[0, 1])

    assert alike(125) > 0.8
    assert alike(62) < 0.3


def test_at_the_share_of_its_openings_the_print_is_the_ornament() -> None:
    """Laid true, a coverage equal to the open share prints the openings and nothing else."""
    share = ornament.tile("rosette").open_share
    got = film(ornament="rosette", coverage=f"{100 * share:.3f} %", repeat="15 in", **TRUE) > 0
    tile = ornament.tile("rosette").inside
    scale = tile.shape[1] / (15.0 * SITE.ppi)
    at = ((np.arange(375) + 0.5) * scale).astype(int) % tile.shape[0]
    drawn = tile[np.ix_(at, at)] > 0
    assert float(np.mean(got != drawn)) < 0.02


def test_stray_and_bleed_leave_the_coverage() -> None:
    """A careless hand prints elsewhere, but as much."""
    careless = film(stray="1/2 in", bleed="0.1 in", dry="90 %")
    assert np.count_nonzero(careless) == round(0.15 * careless.size)
    assert np.mean((careless > 0) != (film(**TRUE) > 0)) > 0.05


def test_a_dry_brush_holds_less_for_one_motif_than_for_another() -> None:
    """With a dry brush the mean film of roses differs by motif; a full brush gives each nearly the same."""
    spread = []
    for dry in ("0 %", "80 %"):
        got = film(ornament="rosette", stray="0 in", bleed="0 in", dry=dry)
        motifs = [got[r - 25 : r + 25, c - 25 : c + 25] for r in (62, 187, 312) for c in (62, 187, 312)]
        means = np.array([one[one > 0].mean() for one in motifs])
        spread.append(float(means.std() / means.mean()))
    assert spread[0] < 0.1 < spread[1]
