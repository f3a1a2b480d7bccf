"""Drag: lines along the way asked, spaced as asked, nothing lost."""

import numpy as np
import pytest
import wetwalls

from render.layers.drag import Drag


@pytest.mark.parametrize("tool", ["brush", "comb"])
@pytest.mark.parametrize("way", ["upright", "level"])
def test_lines_run_the_way_asked(tool, way):
    """The film varies several times as much across the lines as along them."""
    before = wetwalls.coloured(wetwalls.smooth(size=8.0), 3.0)
    film = wetwalls.lay(Drag(name="drag", tool=tool, way=way), before).stratum("colour").film
    down, right = (np.abs(np.diff(film, axis=a)).mean() for a in (0, 1))
    assert (right > 3 * down) if way == "upright" else (down > 3 * right)


def test_account_closes():
    """The colour keeps its amount to 1e-6."""
    wall = wetwalls.lay(Drag(name="drag"), wetwalls.coloured(wetwalls.relief(), 3.0))
    assert wetwalls.balance(wall) < 1e-6
    assert abs(wall.ledger["colour"].run_off) < 1e-6 * wall.ledger["colour"].added


def test_comb_spacing():
    """A comb of .4 in leaves its strongest wave at .4 in, within a twentieth."""
    before = wetwalls.coloured(wetwalls.smooth(size=16.0), 3.0)
    film = wetwalls.lay(Drag(name="drag", tool="comb", spacing="0.4 in"), before).stratum("colour").film
    power = np.abs(np.fft.rfft(film - film.mean(), axis=1)) ** 2
    wave = np.fft.rfftfreq(film.shape[1], 1 / 25.0)[power.mean(0).argmax()]
    assert 1 / wave == pytest.approx(0.4, rel=0.05)


def test_strength():
    """Cleaner lines differ more."""
    before = wetwalls.coloured(wetwalls.smooth(size=6.0), 3.0)
    soft, clean = (
        wetwalls.lay(Drag(name="drag", strength=s), before).stratum("colour").film.std() for s in ("20 %", "90 %")
    )
    assert clean > 2 * soft
