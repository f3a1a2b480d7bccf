"""Films on a vertical wall against the closed forms of Nusselt, Huppert and Bingham."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from render.physics import film as pf

AREA, NU = 1e-4, 1e-4  # m2 and m2/s: a slab 1 mm thick and .1 m high


def _slab(spacing: float, time: float) -> np.ndarray:
    """The slab after ``time`` seconds on a wall tall enough to hold it."""
    film = np.zeros((round(0.62 / spacing), 1))
    film[: round(0.1 / spacing)] = 1e-3
    law = pf.FilmLaw(mobility=pf.GRAVITY / (3 * NU), spacing=spacing)
    return pf.flow(film, law, time).film[:, 0]


def _front(film: np.ndarray, spacing: float) -> float:
    """Where the film crosses half its greatest height, below that greatest height."""
    peak = int(film.argmax())
    below = film[peak:] / film[peak]
    last = int(np.argmax(below < 0.5))
    return spacing * (peak + 0.5 + last - 1 + (below[last - 1] - 0.5) / (below[last - 1] - below[last]))


def test_nusselt_flux_of_published_example():
    """h = .1 mm, 50 mPa s, 1030 kg/m3 carries 6.7362e-8 m2/s (Nusselt 1916), and twice the film eight
    times that.
    """
    assert pf.nusselt_flux(1e-4, 1030, 0.05) == pytest.approx(1030 * 9.81 * 1e-12 / 0.15, rel=1e-9)
    assert pf.nusselt_flux(1e-4, 1030, 0.05) == pytest.approx(6.7362e-8, rel=1e-5)
    assert pf.nusselt_flux(2e-4, 1030, 0.05) == pytest.approx(8 * pf.nusselt_flux(1e-4, 1030, 0.05), rel=1e-12)


def test_nusselt_speed_of_water():
    """Water at 20 C, .1 mm, runs at 32.6 mm/s (Nusselt 1916 with IAPWS 2008 viscosity, from memory)."""
    assert pf.nusselt_speed(1e-4, 998.2, 1.0016e-3) == pytest.approx(0.0326, abs=5e-5)


def test_solver_carries_the_nusselt_flux():
    """A uniform film leaves at the floor at exactly rho g h^3 / 3 mu, to 1e-9."""
    law = pf.FilmLaw(mobility=pf.GRAVITY / (3 * NU), spacing=1e-3)
    flowed = pf.flow(np.full((400, 3), 1e-4), law, 0.5)
    per_width = flowed.run_off * law.spacing / 0.5
    assert per_width == pytest.approx(pf.nusselt_flux(1e-4, 1.0, NU) * np.ones(3), rel=1e-9)


@pytest.mark.parametrize(("time", "expected"), [(10.0, 0.2805), (40.0, 0.4453)])
def test_front_huppert1982(time, expected):
    """The front of a released slab stands within 1.5 % of (9 A^2 g t / 4 nu)^(1/3) (Huppert 1982)."""
    assert pf.huppert_front(AREA, NU, time) == pytest.approx(expected, abs=1e-4)
    assert _front(_slab(5e-4, time), 5e-4) == pytest.approx(expected, rel=0.015)


def test_front_error_falls_with_spacing():
    """A finer grid meets Huppert's front better."""
    exact = float(pf.huppert_front(AREA, NU, 10.0))
    coarse, middle, fine = (abs(_front(_slab(dx, 10.0), dx) - exact) for dx in (4e-3, 2e-3, 1e-3))
    assert coarse > middle > fine


def test_profile_huppert1982():
    """Behind the front the film is (nu x / g t)^(1/2) within 1 % (Huppert 1982)."""
    dx, time = 5e-4, 40.0
    film = _slab(dx, time)
    x = (np.arange(film.size) + 0.5) * dx
    exact = pf.huppert_profile(x, AREA, NU, time)
    inside = (x > 0.15) & (x < 0.9 * pf.huppert_front(AREA, NU, time))
    assert film[inside] == pytest.approx(exact[inside], rel=0.01)
    assert film[np.argmin(abs(x - 0.2227))] == pytest.approx(np.sqrt(NU * 0.2227 / (9.81 * time)), rel=0.01)


def test_front_exponent_is_one_third():
    """The front goes as t^(1/3) once the slab is forgotten: .333 within .01 (Huppert 1982)."""
    times = np.array([15.0, 40.0, 90.0])
    fronts = [_front(_slab(1e-3, t), 1e-3) for t in times]
    assert np.polyfit(np.log(times), np.log(fronts), 1)[0] == pytest.approx(1 / 3, abs=0.01)


@pytest.mark.parametrize(
    ("stress", "density", "mm"), [(1, 1300, 0.0784), (10, 1300, 0.784), (50, 1600, 3.19), (300, 1700, 18.0)]
)
def test_hang_limit_mezger(stress, density, mm):
    """tau0 / rho g, values of the check list computed from Mezger's rule."""
    assert 1e3 * pf.hang_limit(stress, density) == pytest.approx(mm, rel=2e-3)


def test_yield_film_hangs_below_the_limit_and_runs_above():
    """10 Pa at 1300 kg/m3: .78 mm stays where it is to the last bit, .79 mm moves."""
    law = pf.FilmLaw(mobility=pf.GRAVITY / (3 * NU), spacing=1e-3, hang=pf.hang_limit(10, 1300))
    still, runs = np.full((50, 1), 0.78e-3), np.full((50, 1), 0.79e-3)
    assert np.array_equal(pf.flow(still, law, 5.0).film, still)
    assert pf.flow(runs, law, 5.0).run_off[0] > 0


def test_bingham_factor():
    """Half the film yielded carries .3125 of the flux; none from B = 1 on; all at B = 0."""
    assert pf.bingham_factor([0.0, 0.5, 1.0, 3.0]) == pytest.approx([1.0, 0.3125, 0.0, 0.0], abs=1e-12)


def test_solver_bingham_flux():
    """The solver's flux of a yield-stress film is Nusselt's times the Bingham factor, to 1e-9."""
    law = pf.FilmLaw(mobility=pf.GRAVITY / (3 * NU), spacing=1e-3, hang=0.5e-3)
    off = pf.flow(np.full((400, 1), 1e-3), law, 0.2).run_off[0] * law.spacing / 0.2
    assert off == pytest.approx(0.3125 * float(pf.nusselt_flux(1e-3, 1.0, NU)), rel=1e-9)


def test_levelling_orchard1962():
    """1 Pa s, .03 N/m, .1 mm: ripples of 2 mm fade at .974 a second, and the rate goes as wavelength^-4."""
    fast, slow = (pf.levelling_rate(1e-4, w, 0.03, 1.0) for w in (2e-3, 5e-3))
    assert fast == pytest.approx(0.974, abs=5e-4)
    assert fast / slow == pytest.approx(2.5**4, rel=1e-12)


def test_hold_keeps_a_film_on_the_wall():
    """The contact line keeps ``hold``: nothing thinner moves, and what is thicker drains towards it from
    above.
    """
    law = pf.FilmLaw(mobility=40.0, spacing=0.16, hold=0.4)
    thin = np.full((30, 2), 0.39)
    assert np.array_equal(pf.flow(thin, law, 5.0).film, thin)
    thick = pf.flow(np.full((30, 2), 0.8), law, 200.0).film
    assert thick.min() >= 0.4 and thick.max() < 0.44


def test_ledge_holds_more_than_the_wall_above():
    """Film gathers on the upper side of a ledge that stands out of the wall."""
    relief = np.zeros((60, 5))
    relief[30:36] = 0.08
    law = pf.FilmLaw(mobility=2.0, spacing=0.16, relief_pull=1.6)
    film = pf.flow(np.full((60, 5), 0.5), law, 6.0, relief).film
    assert film[29].mean() > 1.3 * film[15:25].mean()


def test_film_leaves_ridges_for_grooves():
    """Beside an upright groove the film flows into it."""
    relief = np.zeros((40, 21))
    relief[:, 8:13] = -0.05
    law = pf.FilmLaw(mobility=2.0, spacing=0.16, relief_pull=1.0, levelling=0.2)
    film = pf.flow(np.full((40, 21), 0.5), law, 3.0, relief).film
    assert film[20, 8:13].mean() > 1.1 * film[20, [6, 7, 13, 14]].mean()


@settings(max_examples=25, deadline=None)
@given(
    film=arrays(np.float64, (12, 9), elements=st.floats(0, 3)),
    relief=arrays(np.float64, (12, 9), elements=st.floats(-0.2, 0.2)),
    hold=st.floats(0, 1),
)
def test_nothing_is_lost_and_nothing_goes_negative(film, relief, hold):
    """Film and pigment on the wall plus run-off is what there was, to 1e-12, and no cell goes below zero."""
    law = pf.FilmLaw(mobility=1.5, spacing=0.16, hold=hold, cap=2.5, relief_pull=1.0, levelling=0.3)
    flowed = pf.flow(film, law, 1.5, relief, carried=[film * 0.3])
    assert flowed.film.sum() + flowed.run_off.sum() == pytest.approx(film.sum(), rel=1e-12, abs=1e-12)
    total = flowed.carried[0].sum() + flowed.carried_off[0].sum()
    assert total == pytest.approx(0.3 * film.sum(), rel=1e-12, abs=1e-12)
    assert flowed.film.min() >= 0
    assert flowed.carried[0] == pytest.approx(0.3 * flowed.film, abs=1e-12)


def test_float32_in_float32_out():
    """The caller's precision is kept."""
    flowed = pf.flow(np.ones((8, 8), np.float32), pf.FilmLaw(mobility=1.0, spacing=0.2, hold=0.2), 0.3)
    assert flowed.film.dtype == np.float32


def test_negative_film_is_refused():
    """A negative film is a fault of the caller, said plainly."""
    with pytest.raises(ValueError, match="must not be negative"):
        pf.flow(np.full((3, 3), -1.0), pf.FilmLaw(mobility=1.0, spacing=1.0), 1.0)
