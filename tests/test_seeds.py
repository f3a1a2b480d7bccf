"""Random streams keyed by words."""

from __future__ import annotations

import numpy as np

from render import seeds


def test_stream_depends_on_words_alone() -> None:
    """The same pour and words give the same numbers; another word or pour gives others."""
    first = seeds.stream(7, "top plaster", "voids").random(4)
    assert np.array_equal(first, seeds.stream(7, "top plaster", "voids").random(4))
    assert not np.array_equal(first, seeds.stream(7, "top plaster", "pits").random(4))
    assert not np.array_equal(first, seeds.stream(8, "top plaster", "voids").random(4))


def test_words_do_not_run_together() -> None:
    """("ab", "c") and ("a", "bc") are different streams."""
    assert seeds.key(1, "ab", "c") != seeds.key(1, "a", "bc")


def test_splitmix_first_outputs() -> None:
    """splitmix64 from state 0: the reference C code's first outputs (Steele, Lea & Flood 2014), from memory."""
    states = np.array([0, 0x9E3779B97F4A7C15], np.uint64)
    assert [int(v) for v in seeds.mix64(states)] == [0xE220A8397B1DCDAF, 0x6E789E6AA1B965F4]


def test_lattice_hash_is_uniform() -> None:
    """Hashed lattice numbers have the mean and variance of a uniform variable, and rows do not correlate."""
    unit = seeds.hash_lattice(np.arange(-200, 200), np.arange(-200, 200), 99)
    assert abs(unit.mean() - 0.5) < 5 * (1 / 12 / unit.size) ** 0.5
    assert abs(unit.var() - 1 / 12) < 0.002
    assert abs(np.corrcoef(unit[:-1].ravel(), unit[1:].ravel())[0, 1]) < 0.015
    assert abs(np.corrcoef(unit[:, :-1].ravel(), unit[:, 1:].ravel())[0, 1]) < 0.015
