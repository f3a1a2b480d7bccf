"""A blur is the one that scipy makes, to float32's rounding, and no bit of it depends on strips."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import ndimage

from render import blur


@given(
    st.integers(1, 40),
    st.integers(1, 40),
    st.floats(0.0, 6.0),
    st.floats(0.0, 6.0),
    st.sampled_from([2.0, 2.5, 4.0]),
)
def test_it_is_the_blur_of_scipy(rows: int, cols: int, down: float, across: float, truncate: float) -> None:
    """Fields of all shapes, narrower than the curve too, are blurred as by ``gaussian_filter``."""
    field = np.random.default_rng(rows * 41 + cols).random((rows, cols), dtype=np.float32)
    known = ndimage.gaussian_filter(field.astype(float), (down, across), truncate=truncate)
    np.testing.assert_allclose(blur.blur(field, (down, across), truncate), known, atol=2e-6)


def test_strips_leave_no_trace(monkeypatch: pytest.MonkeyPatch) -> None:
    """Three rows at a time give the same bytes as all at once."""
    field = np.random.default_rng(1).random((50, 30), dtype=np.float32)
    whole = blur.blur(field, 1.7, 2.5)
    monkeypatch.setattr(blur, "_PIXELS", 90)
    assert blur.blur(field, 1.7, 2.5).tobytes() == whole.tobytes()
