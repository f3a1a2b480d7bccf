"""Small walls and colours for the tests of wet layers."""

import numpy as np

from render import fields
from render.seeds import Streams
from render.wall import Stratum, Wall

TINT = {"material": "glaze medium", "colourants": {"raw umber": "2 tsp"}}
POUR = 5


def smooth(size=10.0, ppi=25.0, wet=0.6, thirst=0.3):
    """A flat wall."""
    wall = Wall.bare(size, size, ppi, thirst)
    return wall.evolve(wet=np.full(wall.grid.shape, wet, np.float32))


def relief(size=10.0, ppi=25.0, wet=0.6, thirst=0.5):
    """A wall with plateaus 8 mil high and a little texture."""
    wall = smooth(size, ppi, wet, thirst)
    plateau = 8 * np.clip(4 * fields.fbm(wall.grid, 3.0, 77, 5, 0.55) + 0.5, 0, 1)
    return wall.evolve(height=(plateau + 1.5 * fields.fbm(wall.grid, 1.0, 5, 3)).astype(np.float32))


def ledge(size=10.0, ppi=25.0, out=60.0, wet=0.8):
    """A flat wall whose lower half stands ``out`` mil proud: water and colour gather above the step."""
    wall = smooth(size, ppi, wet)
    rise = np.clip((wall.grid.row_in - 0.5 * size) / 0.3, 0, 1)
    return wall.evolve(height=np.repeat(out * rise[:, None], wall.grid.cols, 1).astype(np.float32))


def coloured(wall, film=3.0, fixed=0.0, name="colour"):
    """The wall with one wet colour of even film, mil, of which ``fixed`` can no longer move."""
    even = np.full(wall.grid.shape, film, np.float32)
    return wall.add(Stratum(name, "colour", even, np.full(wall.grid.shape, fixed, np.float32)))


def lay(layer, wall, pour=POUR):
    """The wall after a layer."""
    return layer.apply(wall, Streams(pour, layer.name))


def balance(wall):
    """Worst relative error of added = on the wall + removed + run off over the wall's colours, in float64."""
    worst = 0.0
    for name, entry in wall.ledger.items():
        on_wall = wall.gallons(wall.stratum(name).film.astype(np.float64))
        gap = abs(entry.added - on_wall - entry.removed - entry.run_off)
        worst = max(worst, gap / max(entry.added, 1e-12))
    return worst
