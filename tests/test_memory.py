"""Memory: what a process lets go of serves it again, and how much is free."""

from __future__ import annotations

import os
import subprocess
import sys

import pytest

from render.memory import free_bytes

_FIELDS = """
import resource
import numpy as np
from render.memory import keep_spare
{first}
before = resource.getrusage(resource.RUSAGE_SELF).ru_minflt
for _ in range(20):
    np.ones(12_000_000, np.float32).sum()
print(resource.getrusage(resource.RUSAGE_SELF).ru_minflt - before)
"""


def faults(first: str) -> int:
    """Return how often a process that fills twenty fields of 48 MB, one after the other, asks for a page."""
    env = {**os.environ, "NUMPY_MADVISE_HUGEPAGE": "0"}
    ran = subprocess.run(
        [sys.executable, "-c", _FIELDS.format(first=first)], env=env, capture_output=True, text=True, check=True
    )
    return int(ran.stdout)


@pytest.mark.skipif("CS_GNU_LIBC_VERSION" not in os.confstr_names, reason="only glibc is told")
def test_large_fields_take_the_pages_of_those_before_them() -> None:
    """Only the first two of twenty ask for new ones: the second is filled while the first is still there."""
    assert faults("keep_spare()") < 0.2 * faults("")


def test_some_memory_is_free() -> None:
    """More than this test takes, less than any machine has."""
    assert 10_000_000 < free_bytes() < 2**50
