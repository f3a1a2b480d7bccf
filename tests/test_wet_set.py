"""A whole set of wet layers, one after another: the account of every colourant, and one wall at two
resolutions.
"""

import numpy as np
import pytest
import wetwalls
from scipy import ndimage

from render.fields import Grid, resample
from render.layers.alcohol import Alcohol
from render.layers.base import Wash
from render.layers.dab import Dab
from render.layers.drag import Drag
from render.layers.glaze import Glaze
from render.layers.mist import Mist
from render.layers.rinse import Rinse
from render.layers.sealer import Sealer
from render.layers.spatter import Spatter
from render.layers.spread import Spread
from render.layers.streak import Streak
from render.layers.wipe_back import WipeBack

SEA = {"material": "glaze medium", "colourants": {"phthalo green": "1 tsp", "raw umber": "1 tsp"}}
BROWN = {"material": "glaze medium", "colourants": {"burnt umber": "3 tsp", "raw umber": "2 tsp"}}
SET = (
    Mist(name="mist", material="water", dose="0.1 fl oz/ft2"),
    Glaze(name="stain", spread="220 ft2/gal", thin="30 %", coverage="92 %", **SEA),
    Rinse(name="rinse", material="water", dose="0.5 fl oz/ft2"),
    Alcohol(name="alcohol", material="isopropyl alcohol", dose="0.05 fl oz/ft2", how="poured"),
    Glaze(name="antique", spread="600 ft2/gal", method="brushed", body="creamy", **BROWN),
    Spread(name="spread", of=("antique", "stain")),
    WipeBack(name="wipe"),
    Dab(name="dab"),
    Drag(name="drag", of=("antique",)),
    Spatter(name="spatter", spread="4000 ft2/gal", **BROWN),
    Streak(name="streak", spread="9000 ft2/gal", **BROWN),
    Sealer(name="sealer", material="clear sealer"),
)


def _walls(ppi, size=12.0):
    wall, walls = wetwalls.relief(size, ppi, wet=0.0), []
    for layer in SET:
        wall = wetwalls.lay(layer, wall)
        walls.append(wall)
    return walls


def _colourants(wall):
    """Per colourant, gallons: applied, on the wall (from the films, float64), removed, run off."""
    total = {}
    for layer in SET:
        if isinstance(layer, Wash) and layer.name in wall.ledger:
            entry = wall.ledger[layer.name]
            on_wall = wall.gallons(wall.stratum(layer.name).film.astype(np.float64))
            for name in layer.colourants:
                part = layer.parts[name] * np.array([entry.added, on_wall, entry.removed, entry.run_off])
                total[name] = total.get(name, 0.0) + part
    return total


def test_account_of_every_colourant_after_every_layer():
    """Applied = on the wall and in it + wiped off + run off, to 1e-6, for each colourant after each layer."""
    for layer, wall in zip(SET, _walls(12.5), strict=True):
        for name, (applied, on_wall, wiped, run_off) in _colourants(wall).items():
            assert on_wall + wiped + run_off == pytest.approx(applied, rel=1e-6), (layer.name, name)
            assert min(on_wall, wiped, run_off) >= -1e-9 * applied


def test_set_colour_never_exceeds_the_film():
    """What has soaked in or set is part of the film, everywhere and after every layer."""
    for wall in _walls(12.5):
        for one in wall.strata:
            if one.fixed is not None:
                assert (one.fixed <= one.film + 1e-5).all()


def test_one_wall_at_25_and_50():
    """After the whole set every colour at 25 px/in is that at 50 px/in, to 1 % of its mean at half an inch
    of blur.
    """
    blurred = []
    for ppi in (25.0, 50.0):
        wall = _walls(ppi)[-1]
        coarse = [resample(one.film, wall.grid, Grid.over(12.0, 12.0, 12.5)).astype(float) for one in wall.strata]
        blurred.append([ndimage.gaussian_filter(film, 0.5 * 12.5, mode="nearest") for film in coarse])
    for half, whole, one in zip(*blurred, wall.strata, strict=True):
        assert np.abs(half - whole).mean() < 0.01 * whole.mean(), one.name
