"""Areal texture parameters against closed forms (ISO 25178-2:2021)."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import ndimage

from render import texture


def sine(amplitude: float, period: float, size: int = 256) -> np.ndarray:
    """Return a sine across the columns, whole periods."""
    return amplitude * np.sin(2 * np.pi * np.arange(size) / period)[None, :] * np.ones((size, 1))


def filtered(sigma: tuple[float, float], size: int = 1024, seed: int = 0) -> np.ndarray:
    """Return white noise through a Gaussian filter."""
    return ndimage.gaussian_filter(np.random.default_rng(seed).standard_normal((size, size)), sigma, mode="wrap")


def test_sine_moments() -> None:
    """A sine of amplitude A has Sa 2A/pi, Sq A/sqrt 2, Ssk 0 and Sku 1.5."""
    sa, sq, ssk, sku = texture.moments(sine(5.0, 64.0))
    assert sa == pytest.approx(10.0 / math.pi, rel=1e-3)
    assert sq == pytest.approx(5.0 / math.sqrt(2.0), rel=1e-9)
    assert ssk == pytest.approx(0.0, abs=1e-9)
    assert sku == pytest.approx(1.5, rel=1e-9)


def test_gaussian_moments() -> None:
    """Gaussian heights have Sa = Sq sqrt(2/pi), Ssk 0 and Sku 3."""
    sa, sq, ssk, sku = texture.moments(np.random.default_rng(4).standard_normal((600, 600)))
    assert sa / sq == pytest.approx(math.sqrt(2.0 / math.pi), rel=5e-3)
    assert ssk == pytest.approx(0.0, abs=0.1)
    assert sku == pytest.approx(3.0, abs=0.2)


@pytest.mark.parametrize(("rise", "ratio"), [((1.0, 0.0), math.sqrt(2.0)), ((1.0, 1.0), math.sqrt(3.0))])
def test_plane_area(rise: tuple[float, float], ratio: float) -> None:
    """A 45 degree plane has 41.4214 % more area; one that climbs both ways sqrt 3 times."""
    plane = rise[0] * np.arange(40.0)[:, None] + rise[1] * np.arange(50.0)[None, :]
    assert texture.developed_area_ratio(plane * 2.5, 2.5) == pytest.approx(ratio - 1.0, rel=1e-6)


def test_sine_area() -> None:
    """Amplitude 5, period 64 on unit pixels: 5.761 % as a mesh, 5.776 % by the elliptic integral."""
    got = texture.developed_area_ratio(sine(5.0, 64.0, 641), 1.0)
    slope = 2 * np.pi * 5.0 / 64.0 * np.cos(np.linspace(0, 2 * np.pi, 200_001))
    assert got == pytest.approx(0.05761, rel=5e-3)
    assert got == pytest.approx(float(np.mean(np.sqrt(1 + slope**2))) - 1.0, rel=5e-3)


def test_filtered_noise_lag() -> None:
    """White noise through a Gaussian of sigma f falls to 0.2 at a lag of 2 f sqrt(ln 5), the same all round."""
    short, long = texture.lags(texture.autocorrelation(texture.levelled(filtered((6.0, 6.0)))))
    assert short == pytest.approx(12.0 * math.sqrt(math.log(5.0)), rel=0.2)
    assert short / long > 0.8


def test_stretched_noise_ratio() -> None:
    """A filter four times as long one way gives Str 0.25."""
    short, long = texture.lags(texture.autocorrelation(texture.levelled(filtered((16.0, 4.0)))))
    assert short / long == pytest.approx(0.25, rel=0.2)
    assert short == pytest.approx(8.0 * math.sqrt(math.log(5.0)), rel=0.2)


@settings(max_examples=20, deadline=None)
@given(st.floats(-3, 3), st.floats(-3, 3), st.floats(-50, 50))
def test_tilt_and_offset_do_not_count(down: float, right: float, offset: float) -> None:
    """Moments are about the least-squares plane."""
    rough = filtered((2.0, 2.0), 64)
    tilt = offset + down * np.arange(64.0)[:, None] + right * np.arange(64.0)[None, :]
    np.testing.assert_allclose(
        texture.moments(texture.levelled(rough + tilt)), texture.moments(texture.levelled(rough)), rtol=1e-6, atol=1e-9
    )


def test_levelling_is_least_squares() -> None:
    """What is left has no mean and no slope, as numpy's own least squares leaves it."""
    z = filtered((3.0, 1.0), 48)[:, :37] + np.arange(37.0)
    r, c = np.indices(z.shape)
    plane = np.stack([np.ones(z.size), r.ravel(), c.ravel()], 1)
    fit = plane @ np.linalg.lstsq(plane, z.ravel(), rcond=None)[0]
    np.testing.assert_allclose(texture.levelled(z), z - fit.reshape(z.shape), atol=1e-9)


@pytest.mark.parametrize("shape", [(1, 1), (1, 40), (3, 3), (20, 30)])
def test_flat_wall_is_flat(shape: tuple[int, int]) -> None:
    """A flat wall of any size has no texture, and no number is undefined."""
    got = texture.parameters(np.full(shape, 7.0, np.float32), 25.0)
    assert got == {"Sa_mil": 0, "Sq_mil": 0, "Ssk": 0, "Sku": 0, "Sal_in": 0, "Str": 1, "Sdr": 0}


def test_units() -> None:
    """Heights are in mil, lags in inches: ripples of 2.56 in, 5 mil high, at 25 px/in."""
    even = np.cos(2 * np.pi * (np.arange(256) - 127.5) / 64.0)[None, :] * np.full((256, 1), 5.0, np.float32)
    got = texture.parameters(even.astype(np.float32), 25.0)
    assert got["Sa_mil"] == pytest.approx(10.0 / math.pi, rel=1e-2)
    # the autocorrelation of a sine is a cosine: 0.2 is reached at acos 0.2 of a period
    assert got["Sal_in"] == pytest.approx(2.56 * math.acos(0.2) / (2 * math.pi), rel=0.05)
    assert got["Sdr"] == pytest.approx((math.pi * 5.0 / 2560.0) ** 2, rel=0.02)
