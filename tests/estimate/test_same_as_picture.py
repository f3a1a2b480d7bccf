"""The estimate and the picture are one thing: the mixed volume of each layer is the volume of its film."""

from __future__ import annotations

import pytest

from render.estimate.quantities import finish_estimate
from render.finish import load, shipped_names
from render.pipeline import Site, build


@pytest.mark.parametrize("name", shipped_names())
def test_likely_volume_is_the_film_of_the_wall(name: str) -> None:
    """For every preset, on 3 ft², what a layer's film held when it was laid is the estimate's likely mix."""
    finish = load(name)
    site = Site(24.0, 18.0, 12.5, 3)
    ledger = build(finish, site).wall.ledger
    lines = {one.name: one.mixed.likely for one in finish_estimate(finish, site.area_ft2).layers}
    for layer, entry in ledger.items():
        assert entry.added == pytest.approx(lines[layer], rel=1e-6), layer
