"""The same finish, wall and pour give the same bytes: in every run, process and number of threads."""

from __future__ import annotations

import hashlib
import multiprocessing
from concurrent.futures import ProcessPoolExecutor

import numpy as np
import pytest

from render import composite, fields, threads
from render.picture import preview


def marks(name: str) -> tuple[str, str]:
    """Hashes of a small picture and of all the films under it; even small fields are shared among threads."""
    threads.FEW_PIXELS, fields._STRIP_NODES, fields._RESAMPLED, composite._CHUNK = 1, 4000, 4000, 3200
    got = preview(name, "10 in x 7 in", 25, 3)
    films = hashlib.sha256(b"".join(one.film.tobytes() for one in got.built.wall.strata))
    films.update(got.built.wall.height.tobytes())
    return hashlib.sha256(np.asarray(got.image).tobytes()).hexdigest(), films.hexdigest()


@pytest.mark.parametrize("name", ["old-cistern", "river-clay"])
def test_same_bytes_in_other_processes_with_other_threads(monkeypatch: pytest.MonkeyPatch, name: str) -> None:
    """Fresh processes with one thread and with three, and this one, agree to the last bit."""
    fresh = multiprocessing.get_context("spawn")
    found = []
    for count in ("1", "3"):
        for variable in ("FINISHBOARD_THREADS", "OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS"):
            monkeypatch.setenv(variable, count)
        with ProcessPoolExecutor(1, mp_context=fresh) as pool:
            found.append(pool.submit(marks, name).result())
    names = (threads, "FEW_PIXELS"), (fields, "_STRIP_NODES"), (fields, "_RESAMPLED"), (composite, "_CHUNK")
    for module, value in names:
        monkeypatch.setattr(module, value, getattr(module, value))  # put back what marks() sets here
    found.append(marks(name))
    assert found[0] == found[1] == found[2]
