"""Kubelka-Munk layers, mixtures and surfaces against closed forms and printed values."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from render.physics import optics

CURTIS = np.loadtxt(
    Path(__file__).parents[1] / "data" / "published" / "film_reflectance_Curtis1997.csv", delimiter=",", skiprows=4
)
coefficients = st.floats(0.0, 20.0)
thicknesses = st.floats(0.0, 20.0)
shares = st.floats(0.001, 0.999)


def film(k: float, s: float, x: float, ground: float) -> float:
    """Reflectance of one layer on a ground."""
    return float(optics.over(*optics.layer(k, s, x), ground))


def coth_form(k: float, s: float, x: float, ground: float) -> float:
    """Kubelka 1948, J. Opt. Soc. Am. 38:448, in the form he prints."""
    a = 1 + k / s
    b = np.sqrt(a * a - 1)
    coth = 1 / np.tanh(b * s * x)
    return (1 - ground * (a - b * coth)) / (a - ground + b * coth)


def test_infinite_layer_of_half_absorption() -> None:
    """K/S = .5 reflects .3819660, and that reflectance gives .5 back (Kubelka & Munk 1931)."""
    assert optics.reflectance_infinite(0.5) == pytest.approx(0.3819660112501051, abs=1e-12)
    assert optics.k_over_s(0.3819660112501051) == pytest.approx(0.5, abs=1e-12)


@given(st.floats(1e-4, 1.0))
def test_absorption_ratio_round_trip(seen: float) -> None:
    """Any reflectance comes back from its absorption over scattering."""
    assert optics.reflectance_infinite(optics.k_over_s(seen)) == pytest.approx(seen, rel=1e-9)


@pytest.mark.parametrize("seen", [0.0, -0.1, 1.01])
def test_absorption_ratio_needs_a_reflectance(seen: float) -> None:
    """What is no reflectance has no absorption over scattering."""
    with pytest.raises(ValueError, match="above 0 and at most 1"):
        optics.k_over_s(seen)


def test_one_layer_by_curtis() -> None:
    """K = .5, S = 1, X = 1: R = .3465461, T = .2836476 (Curtis et al. 1997, section 5.2)."""
    r, t = optics.layer(0.5, 1.0, 1.0)
    assert (float(r), float(t)) == pytest.approx((0.3465461, 0.2836476), abs=1e-7)


def test_layer_on_a_light_ground() -> None:
    """K = .5, S = 1, X = 1 on .8 reflects .4355998 (Kubelka 1948)."""
    assert film(0.5, 1.0, 1.0, 0.8) == pytest.approx(0.4355998, abs=1e-7)


@given(st.floats(0.01, 5.0), st.floats(0.01, 5.0), st.floats(0.01, 5.0), shares)
def test_stack_formula_equals_ground_formula(k: float, s: float, x: float, ground: float) -> None:
    """R1 + T1^2 Rg/(1 - R1 Rg) is Kubelka's 1948 formula."""
    assert film(k, s, x, ground) == pytest.approx(coth_form(k, s, x, ground), abs=1e-9)


@given(coefficients, coefficients, shares)
def test_no_film_leaves_the_ground(k: float, s: float, ground: float) -> None:
    """X = 0 shows the ground."""
    assert film(k, s, 0.0, ground) == pytest.approx(ground, abs=1e-12)


@pytest.mark.parametrize("ground", [0.0, 0.5, 1.0])
def test_thick_film_hides(ground: float) -> None:
    """X = 200 shows R_inf whatever lies under it."""
    assert film(0.5, 1.0, 200.0, ground) == pytest.approx(0.3819660112501051, abs=1e-9)


@given(st.floats(0.0, 20.0), st.floats(0.0, 20.0))
def test_white_layer(s: float, x: float) -> None:
    """Without absorption R = SX/(1 + SX) and no light is lost."""
    r, t = optics.layer(0.0, s, x)
    assert r == pytest.approx(s * x / (1 + s * x), abs=1e-12)
    assert r + t == pytest.approx(1.0, abs=1e-12)


@given(st.floats(0.0, 20.0), st.floats(0.0, 20.0))
def test_clear_dye(k: float, x: float) -> None:
    """Without scattering T = exp(-KX), Lambert's law, and nothing is reflected."""
    r, t = optics.layer(k, 0.0, x)
    assert r == 0.0
    assert t == pytest.approx(np.exp(-k * x), abs=1e-12)


@given(coefficients, coefficients, thicknesses)
def test_no_layer_makes_light(k: float, s: float, x: float) -> None:
    """R and T are shares of the light, and so is their sum."""
    r, t = optics.layer(k, s, x)
    assert 0.0 <= r <= 1.0
    assert 0.0 <= t <= 1.0
    assert r + t <= 1.0 + 1e-12


@given(st.floats(0.0, 5.0), st.floats(0.0, 5.0), st.floats(0.0, 5.0), shares)
def test_two_halves_are_one_film(k: float, s: float, x: float, cut: float) -> None:
    """A film cut anywhere in two and stacked is the film."""
    whole = optics.layer(k, s, x)
    halves = optics.stack(optics.layer(k, s, cut * x), optics.layer(k, s, (1 - cut) * x))
    assert np.allclose(halves, whole, rtol=0, atol=1e-9)


@given(st.floats(0.01, 5.0), st.floats(0.01, 5.0), st.floats(0.01, 4.0), shares)
def test_thicker_film_lies_between_ground_and_hiding(k: float, s: float, x: float, ground: float) -> None:
    """A film's colour moves from the ground's to its own without turning back."""
    seen = [film(k, s, depth, ground) for depth in (0.0, x, 2 * x, 1e4)]
    assert np.all(np.diff(seen) * np.sign(seen[3] - seen[0]) >= -1e-12)


@pytest.mark.parametrize(("k", "s", "over_white", "over_black"), CURTIS)
def test_film_of_curtis_both_ways(k: float, s: float, over_white: float, over_black: float) -> None:
    """K and S give the colours over white and black, and these give K and S (Curtis et al. 1997, section 5)."""
    assert film(k, s, 1.0, 1.0) == pytest.approx(over_white, abs=1e-7)
    assert film(k, s, 1.0, 0.0) == pytest.approx(over_black, abs=1e-7)
    exact = optics.from_white_and_black(film(k, s, 1.0, 1.0), film(k, s, 1.0, 0.0))
    assert np.allclose(exact, (k, s), atol=1e-6)
    printed = optics.from_white_and_black(over_white, over_black)
    assert np.allclose(printed, (k, s), atol=1e-5)  # the seven printed digits carry no more


@pytest.mark.parametrize(("white", "black"), [(0.4, 0.5), (0.5, 0.5), (1.0, 0.5), (0.5, 0.0)])
def test_white_and_black_in_the_wrong_order(white: float, black: float) -> None:
    """A colour over black that is not darker than over white, or one at 0 or 1, is refused."""
    with pytest.raises(ValueError, match="lighter than over black"):
        optics.from_white_and_black(white, black)


@given(st.floats(0.2, 10.0), st.floats(0.05, 3.0), st.floats(0.01, 0.5))
def test_masstone_and_tint_give_the_pigment_back(k: float, s: float, share: float) -> None:
    """Two drawdowns made from K and S, alone and in white, return them."""
    white = (0.001, 1.5)
    tint_k, tint_s = optics.mixture([share, 1 - share], [k, white[0]], [s, white[1]])
    found = optics.from_masstone_and_tint(
        optics.reflectance_infinite(k / s), optics.reflectance_infinite(tint_k / tint_s), share, white
    )
    assert np.allclose(found, (k, s), rtol=1e-6)


def test_tint_darker_than_masstone_is_refused() -> None:
    """No white makes a colour darker."""
    with pytest.raises(ValueError, match="between the white and the masstone"):
        optics.from_masstone_and_tint(0.5, 0.3, 0.1, (0.001, 1.5))
    with pytest.raises(ValueError, match="share"):
        optics.from_masstone_and_tint(0.3, 0.5, 1.5, (0.001, 1.5))


def test_duncan_mixture() -> None:
    """K and S add by volume, and the mixture is darker than the mean of the two colours (Duncan 1940)."""
    k, s = optics.mixture([0.25, 0.75], [[0.4, 2.0], [0.0, 0.4]], [[1.0, 1.0], [2.0, 2.0]])
    assert np.allclose(k, (0.1, 0.8), atol=1e-12)
    assert np.allclose(s, (1.75, 1.75), atol=1e-12)
    mean = optics.reflectance_infinite([0.4, 2.0]) * 0.25 + optics.reflectance_infinite([0.0, 0.2]) * 0.75
    assert np.all(optics.reflectance_infinite(k / s) < mean - 0.03)


@pytest.mark.parametrize(("inside", "seen"), [(0.0, 0.04), (0.1, 0.0808511), (0.5, 0.3142857), (1.0, 1.0)])
def test_saunderson_values(inside: float, seen: float) -> None:
    """k1 = .04, k2 = .6 (Saunderson 1942)."""
    assert optics.saunderson(inside, 0.04, 0.6) == pytest.approx(seen, abs=1e-7)


@given(st.floats(0.0, 1.0), st.floats(0.0, 0.1), st.floats(0.0, 0.7))
def test_saunderson_round_trip(inside: float, k1: float, k2: float) -> None:
    """The inverse returns what lies under the surface."""
    assert optics.saunderson_inverse(optics.saunderson(inside, k1, k2), k1, k2) == pytest.approx(inside, abs=1e-9)


def test_fresnel_of_a_binder() -> None:
    """Index 1.5 turns back .04 straight on, .0918 of diffuse light, and .5963 from inside (from memory)."""
    assert optics.fresnel(1.0, 1.5) == pytest.approx(0.04, abs=1e-12)
    assert optics.fresnel(0.0, 1.5) == pytest.approx(1.0, abs=1e-12)
    assert optics.fresnel_diffuse(1.5) == pytest.approx(0.0918, abs=5e-5)
    assert optics.fresnel_diffuse(1 / 1.5) == pytest.approx(0.5963, abs=1e-4)


def test_brewster_and_total_reflection() -> None:
    """At Brewster's angle one polarisation is not reflected; beyond the critical angle both wholly are."""
    brewster = np.cos(np.arctan(1.5))
    across = ((1 - 1.5**2) / (1 + 1.5**2)) ** 2  # r_s = (1 - n^2)/(1 + n^2) there
    assert optics.fresnel(brewster, 1.5) == pytest.approx(0.5 * across, abs=1e-12)
    assert optics.fresnel(np.cos(np.arcsin(0.7)), 1 / 1.5) == 1.0
