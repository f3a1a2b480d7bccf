"""Hard use: random files and random finishes. A longer run of the same is tests/bench/fuzz.py."""

from __future__ import annotations

import random
import tomllib

import numpy as np
import pytest

from mutants import mutate
from random_finishes import random_finish
from render import presets
from render.faults import InputError
from render.finish import read, shipped_names
from render.pipeline import Site, build


@pytest.mark.parametrize("name", ["old-cistern", "chalk-loft"])
def test_mutated_finish_files_are_read_or_refused(name: str) -> None:
    """Whatever is done to a finish file, it is read or refused with lines that name it."""
    table = tomllib.loads((presets.folder() / f"{name}.toml").read_text(encoding="utf-8"))
    rng = random.Random(2026)
    refused = 0
    for _ in range(150):
        try:
            read(mutate(table, rng), "mutant.toml")
        except InputError as error:
            refused += 1
            assert error.faults and all("mutant.toml" in line and len(line) < 2000 for line in error.faults)
    assert refused > 50


@pytest.mark.parametrize("number", range(6))
def test_random_finishes_keep_every_account(number: int) -> None:
    """A random valid finish renders without warning and keeps coverage, volume and ledger."""
    finish = random_finish(random.Random(number), most=9)
    built = build(finish, Site(9.0, 11.0, 12.5, number))
    check_accounts(built)


def check_accounts(built) -> None:  # type: ignore[no-untyped-def]  # used by tests/bench/fuzz.py too
    """Coverage within half a point (or a pixel), volume and ledger to 1e-6, everything finite."""
    wall = built.wall
    assert np.isfinite(wall.height).all()
    for done in built.done:
        if done.layer.name in wall.ledger:
            entry = wall.ledger[done.layer.name]
            assert entry.added == pytest.approx(done.amounts.mixed.likely, rel=1e-6, abs=1e-12)
            left = entry.added - entry.removed - entry.run_off
            film = wall.stratum(done.layer.name).film
            assert wall.gallons(film) == pytest.approx(left, rel=1e-6, abs=1e-6 * entry.added + 1e-12)
            if done.layer.asked is not None and done.layer.asked > 0:
                assert done.achieved == pytest.approx(done.layer.asked, abs=0.005 + 1.5 / film.size), done.layer.name


def test_all_presets_survive_their_own_text() -> None:
    """Every shipped finish is valid and its names are its own."""
    for name in shipped_names():
        table = tomllib.loads((presets.folder() / f"{name}.toml").read_text(encoding="utf-8"))
        assert read(table, name).layers
