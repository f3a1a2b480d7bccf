"""An ornament stencilled over the wall."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from scipy import ndimage

from render import ornament
from render.fields import Grid
from render.finish import read
from render.layers.sand import Sand
from render.layers.stencil import _LAPS, Stencil, _Card, _Hand
from render.pipeline import Site, build
from render.seeds import Streams
from render.wall import Wall

SITE = Site(30.0, 30.0, 12.5, 2)
ORNAMENTS = ("ogee", "rosette", "trellis", "vine")
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
    """The field changes by at most one pixel a pixel, as a distance does; a fifth more where an edge is read finer."""
    down, right = np.gradient(ornament.tile(name).inside * ornament.tile(name).inside.shape[1])
    assert np.sqrt(down**2 + right**2).max() < 1.25


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


@pytest.mark.parametrize("name", ORNAMENTS)
def test_a_piece_is_of_one_motif(name: Any) -> None:
    """No piece is parted between two motifs, which would be printed apart; an all-over tile has five motifs, of which
    four stand in its corners, a frieze one in its middle.
    """
    tile = ornament.tile(name)
    label, count = ndimage.label(tile.inside > 0)
    number = 8 * tile.motif[0].astype(int) + tile.motif[1]
    for piece in range(1, count + 1):
        assert np.unique(number[label == piece]).size == 1
    share = np.unique(number, return_counts=True)
    seen = {0, 2, 9, 16, 18} if name != "vine" else {9}
    assert seen <= set(share[0].tolist())
    assert share[1][np.isin(share[0], list(seen))].sum() > 0.9 * number.size


def test_a_motif_strays_as_one() -> None:
    """Strayed by up to half an inch, each rose is the rose laid true but moved: the best shift matches 17 in 20."""
    true, strayed = (film(ornament="rosette", **{**TRUE, "stray": one}) > 0 for one in ("0 in", "1/2 in"))
    moved = 0
    for row, col in ((62, 62), (187, 187), (125, 125), (250, 125)):
        rose = true[row - 26 : row + 27, col - 26 : col + 27]
        alike = {
            (down, right): float(
                np.mean(rose == strayed[row - 26 + down : row + 27 + down, col - 26 + right : col + 27 + right])
            )
            for down in range(-8, 9)
            for right in range(-8, 9)
        }
        best = max(alike, key=lambda at: alike[at])
        assert alike[best] > 0.85
        moved += best != (0, 0)
    assert moved >= 3


def test_a_band_is_kept() -> None:
    """Between tapes 8 in apart, 10 in down, nothing is printed beyond; all that the wall asks for lies in the band, the
    frieze in its middle.
    """
    got = film(ornament="vine", placement="band", band_at="10 in", band_width="8 in", coverage="4 %", **TRUE)
    rows = np.flatnonzero((got > 0).any(1))
    assert rows.min() >= 6.0 * SITE.ppi - 1 and rows.max() <= 14.0 * SITE.ppi + 1
    assert np.count_nonzero(got) == round(0.04 * got.size)
    assert abs(float(np.average(np.arange(got.shape[0]), weights=(got > 0).sum(1))) / SITE.ppi - 10.0) < 0.4


def test_a_dry_print_is_stippled() -> None:
    """Within the palmettes, a pixel from their edges, a dry brush leaves thick and thin three times as far apart as
    a full one.
    """
    rough = []
    for dry in ("0 %", "80 %"):
        got = film(**{**TRUE, "dry": dry})
        within = got[ndimage.binary_erosion(got > 0)]
        rough.append(float(within.std() / within.mean()))
    assert rough[1] > 3.0 * rough[0]


def test_what_crept_under_the_card_is_thin() -> None:
    """Beyond the openings of a card laid true, colour that crept lies less than half as thick as within; so it does
    at the share of the openings, where without any creep nothing lies there at all.
    """
    share = ornament.tile("rosette").open_share
    keys = {"ornament": "rosette", "coverage": f"{100 * share:.3f} %", "repeat": "15 in", "stray": "0 in", "dry": "0 %"}
    tile = ornament.tile("rosette").inside
    at = ((np.arange(375) + 0.5) * tile.shape[1] / (15.0 * SITE.ppi)).astype(int) % tile.shape[0]
    inside = 15.0 * tile[np.ix_(at, at)]
    true, crept = film(bleed="0 in", **keys), film(bleed="0.2 in", **keys)
    far = inside < -0.08
    assert not (true[far] > 0).any()
    assert (crept[far] > 0).sum() > 50
    assert crept[far & (crept > 0)].mean() < 0.5 * crept[inside > 0.08].mean()


def test_a_breath_of_colour_does_not_close_the_wall() -> None:
    """Where the film is thick the wall drinks as the paint does, where it is bare as before, in between in between."""
    print_ = {"kind": "stencil", "name": "print", "material": "stencil paint", "coverage": "15 %", "dry": "90 %"}
    wall = build(read({"name": "t", "layer": [{**print_, "spread": "3000 ft2/gal"}]}), SITE).wall
    lies = wall.stratum("print")
    bare = float(wall.thirst[lies.film == 0].min())
    assert bare == wall.thirst[lies.film == 0].max() != lies.thirst
    low, high = sorted((bare, lies.thirst))
    assert ((wall.thirst >= low - 1e-6) & (wall.thirst <= high + 1e-6)).all()
    assert np.allclose(wall.thirst[lies.film > 3.0], lies.thirst, atol=1e-3)
    thin = (lies.film > 0) & (lies.film < 0.05)
    assert thin.any() and np.abs(wall.thirst[thin] - bare).max() < 0.2 * (high - low)


def ribbed(high_mil: float = 1.5) -> Wall:
    """Return a wall with upright ribs every third of an inch, so high from groove to crest."""
    wall = Wall.bare(24.0, 24.0, 25.0)
    ribs = np.float32(0.5 * high_mil) * np.sin(2.0 * np.pi * 3.0 * wall.grid.col_in).astype(np.float32)
    return wall.evolve(height=wall.height + ribs)


def printed(wall: Wall, **more: Any) -> tuple[Wall, np.ndarray]:
    """Return a wall with a thin print on it, and the print's film."""
    keys = {"name": "print", "material": "stencil paint", "spread": "10000 ft2/gal", "coverage": "19 %", **more}
    after = Stencil.model_validate(keys).apply(wall, Streams(2, "print"))
    return after, after.stratum("print").film


def test_colour_lies_thin_on_what_stands_and_holds_in_hollows() -> None:
    """On ribs a mil and a half high the print is half as thick on the crests as in the grooves, or less."""
    wall = ribbed()
    film = printed(wall)[1]
    on, stands = film > 0, wall.height - wall.height.mean()
    crest, groove = (float(film[on & there].mean()) for there in (stands > 0.5, stands < -0.5))
    assert crest < 0.5 * groove
    flat = printed(Wall.bare(24.0, 24.0, 25.0))[1]
    crest, groove = (float(flat[(flat > 0) & there].mean()) for there in (stands > 0.5, stands < -0.5))
    assert crest == pytest.approx(groove, rel=0.1)


def test_rubbing_takes_it_from_what_stands_first() -> None:
    """Sanded, the print is gone from a larger share of the crests than of the grooves, by far."""
    wall = ribbed()
    before, film = printed(wall)
    rubbed = Sand.model_validate({"name": "rub", "depth": "0.8 mil"}).apply(before, Streams(2, "rub"))
    gone, stands = rubbed.stratum("print").film <= 0, wall.height - wall.height.mean()
    crest, groove = (float(gone[(film > 0) & there].mean()) for there in (stands > 0.5, stands < -0.5))
    assert crest > 0.08 and crest > 5.0 * groove


def test_the_rim_is_thin_and_goes_first() -> None:
    """The outermost twenty-fifth of an inch of a print is thinner than a tenth inside, and more of it is rubbed off."""
    wall = ribbed()
    before, film = printed(wall)
    rubbed = Sand.model_validate({"name": "rub", "depth": "0.8 mil"}).apply(before, Streams(2, "rub"))
    gone, depth = rubbed.stratum("print").film <= 0, ndimage.distance_transform_edt(film > 0) / wall.grid.ppi
    rim, inner = (film > 0) & (depth < 0.05), depth > 0.1
    assert film[rim].mean() < 0.7 * film[inner].mean()
    assert gone[rim].mean() > 1.3 * gone[inner].mean() > 0.0


def test_a_thick_coat_hardly_minds_the_ground() -> None:
    """At 25 mil the same ribs leave the crests with more than nine tenths of what the grooves have."""
    wall = ribbed()
    film = printed(wall, spread="330 ft2/gal")[1]
    stands = wall.height - wall.height.mean()
    crest, groove = (float(film[(film > 0) & there].mean()) for there in (stands > 0.5, stands < -0.5))
    assert 0.9 < crest / groove < 1.0


def test_the_print_is_not_of_one_tone() -> None:
    """Where it covers, its tone varies by some hundredths; beside it the wall keeps its own."""
    wall = Wall.bare(24.0, 24.0, 25.0)
    after, film = printed(wall)
    assert 0.03 < float(after.tone[film > 1.0].std()) < 0.15
    assert np.array_equal(after.tone[film == 0], wall.tone[film == 0])


def test_it_is_gone_over_in_laps() -> None:
    """How often a place was gone over changes in steps: half of the wall lies on one, where even noise has a tenth."""
    layer = Stencil.model_validate({"name": "print", "material": "stencil paint"})
    hand = _Hand(layer, Grid.over(24.0, 24.0, 50.0), Streams(2, "print"))
    off = hand.laps * _LAPS
    assert 0.5 < float(np.mean(np.abs(off - 0.5 - np.rint(off - 0.5)) < 0.05)) < 0.95
    assert 0.7 < float(hand.laps.std()) < 1.3


def test_bristles_leave_arcs() -> None:
    """Within a motif streaks keep along circles about one place and change across them."""
    card = _Card.of(Stencil.model_validate({"name": "print", "material": "stencil paint", "repeat": "14 in"}),
                    Grid.over(24.0, 24.0, 25.0), Streams(2, "print"))  # fmt: skip
    streaks, far = card.streaks(25.0), 0.25 * card.wide
    motif = card.motif == card.motif[260, 180]
    away = np.hypot(card.from_down + far * card.own("round down"), card.from_right + far * card.own("round right"))
    ring = np.rint(away[motif] * 50.0).astype(int)
    count = np.maximum(np.bincount(ring), 1)
    mean = np.bincount(ring, streaks[motif]) / count
    assert float(np.mean((streaks[motif] - mean[ring]) ** 2)) < 0.1 * float(streaks[motif].var())
    assert 0.5 < float(streaks.std()) < 1.5
