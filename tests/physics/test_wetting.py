"""Alcohol spots, coffee rings and soaking in against what has been published."""

import numpy as np
import pytest

from render.physics import wetting as pw

FILM, MU, DROP = 1e-4, 2e-3, 0.02  # .1 mm of thin glaze, and a tension drop of 20 mN/m


def _spot(drop=DROP, time=0.1, feed=1e-3, cells=240):
    return pw.open_spot(FILM, drop, MU, time, feed=feed, reach=40e-3, cells=cells)


def _volume(spot):
    dr = spot.radius[1] - spot.radius[0]
    return float((2 * np.pi * spot.radius * dr * spot.film).sum())


def test_centre_thinner_rim_thicker():
    """Alcohol leaves a thin centre and a rim thicker than the film was (Hernandez-Sanchez et al. 2015)."""
    spot = _spot()
    inner = spot.radius < 0.5 * spot.fronts[-1]
    assert spot.film[inner].max() < 0.9 * FILM
    assert spot.film.max() > 1.1 * FILM
    assert spot.film[-1] == pytest.approx(FILM, rel=1e-6)


def test_volume_of_the_film_is_kept():
    """What leaves the centre stands in the rim: film = film before + alcohol poured, within 1e-12."""
    spot = _spot()
    assert _volume(spot) == pytest.approx(np.pi * (40e-3) ** 2 * FILM + spot.poured, rel=1e-12)
    assert 0 < spot.poured < 0.1 * np.pi * (40e-3) ** 2 * FILM


def test_radius_goes_as_root_of_time_hernandez2015():
    """The rim's radius grows as t^.5 within .1 once it is well outside the drop (Hernandez-Sanchez et al.
    2015).
    """
    spot = _spot(time=0.1, feed=3e-4, cells=400)
    late = spot.times > 0.01
    exponent = np.polyfit(np.log(spot.times[late]), np.log(spot.fronts[late]), 1)[0]
    assert exponent == pytest.approx(0.5, abs=0.1)


def test_radius_is_of_the_order_of_the_scale():
    """The rim stands within a factor of three of (drop x film x t / viscosity)^(1/2)."""
    spot = _spot()
    assert spot.fronts[-1] / pw.spot_radius(FILM, DROP, MU, 0.1) == pytest.approx(1.0, abs=0.67)


def test_no_alcohol_no_spot():
    """Without a tension drop the film stays as it was, bit for bit."""
    assert np.array_equal(_spot(drop=0.0).film, np.full(240, FILM))


def test_more_alcohol_bigger_spot():
    """A wider drop opens a wider spot."""
    assert _spot(feed=3e-3).fronts[-1] > _spot(feed=1e-3).fronts[-1]


@pytest.mark.parametrize(("celsius", "milli"), [(20, 72.74), (25, 71.97)])
def test_water_tension_iapws2014(celsius, milli):
    """IAPWS R1-76(2014): 72.74 mN/m at 20 C, 71.97 at 25 C."""
    assert 1e3 * pw.water_tension(celsius) == pytest.approx(milli, abs=0.1)


@pytest.mark.parametrize(("celsius", "milli"), [(20, 21.3), (25, 20.9)])
def test_propanol_tension_jasper1972(celsius, milli):
    """Jasper 1972: 21.3 mN/m at 20 C, 20.9 at 25 C; far below water's, so alcohol pushes water away."""
    assert 1e3 * pw.propanol_tension(celsius) == pytest.approx(milli, abs=0.05)
    assert pw.propanol_tension(celsius) < pw.water_tension(celsius)


def test_ring_growth_deegan1997():
    """The ring grows as t^(4/3) at first (contact angle to 0; measured 1.3 +- .1, Deegan 1997) and takes
    all.
    """
    early = np.array([1e-4, 1e-3])
    slope = np.diff(np.log(pw.ring_share(early)))[0] / np.log(10)
    assert slope == pytest.approx(4 / 3, abs=0.01)
    assert pw.ring_share([0.0, 1.0]) == pytest.approx([0.0, 1.0], abs=1e-12)


def test_ring_and_inside_are_the_whole():
    """Pigment inside and at the edge add to all of it, at any time."""
    for dried in (0.0, 0.2, 0.7, 0.99):
        assert pw.inside_share(1.0, dried) + pw.ring_share(dried) == pytest.approx(1.0, abs=1e-12)


def test_inside_share_follows_the_flow():
    """Particles moved through Hu & Larson's velocity field end where the closed form says."""
    x = 1 - np.sqrt(np.linspace(0.02, 0.6, 8)) ** 2
    start, steps, dried = x.copy(), 20000, 0.4
    for t in (np.arange(steps) + 0.5) * dried / steps:
        x = np.maximum(x - dried / steps * 0.5 / (1 - t) * (x**-0.5 - x), 1e-9)
    kept = x > 0.05
    assert kept.sum() >= 4
    at = np.sqrt(1 - x[kept])
    assert pw.inside_share(at, dried) == pytest.approx(1 - start[kept] ** 2, abs=1e-3)


def test_edge_is_darker_than_centre_deegan1997():
    """Pigment per area at the outer tenth, ring included, is more than at the centre (Deegan 1997)."""
    centre = pw.inside_share(0.3, 0.6) / 0.09
    edge = (1 - pw.inside_share(0.9, 0.6)) / (1 - 0.81)
    assert edge > 2 * centre


def test_soaking_washburn1921():
    """Water in pores of 1 micrometre soaks 6.03 mm in a second, and the depth goes as the root of time."""
    one, sixty = pw.soaking_depth(72.74e-3, 1e-6, 1.0016e-3, [1.0, 60.0])
    assert one == pytest.approx(6.03e-3, rel=1e-3)
    assert sixty / one == pytest.approx(60**0.5, rel=1e-12)
