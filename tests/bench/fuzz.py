"""Run many mutated files and random finishes and report what happened.

    python tests/bench/fuzz.py files 20000
    python tests/bench/fuzz.py finishes 200
"""

import collections
import random
import sys
import time
import tomllib
import traceback
import warnings
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from test_hard_use import check_accounts

from mutants import mutate
from random_finishes import random_finish
from render import job, materials, presets
from render.faults import InputError
from render.finish import read, shipped_names
from render.pipeline import Site, build


def tables() -> list:
    """Every shipped finish, job and the shelf of materials, with what reads each."""
    folder = presets.folder()

    def opened(path: Path) -> dict:
        return tomllib.loads(path.read_text(encoding="utf-8"))

    found = [(opened(folder / f"{name}.toml"), lambda t: read(t, "m.toml")) for name in shipped_names()]
    found += [(opened(path), lambda t: job.read(t, "m.toml")) for path in folder.glob("job-*.toml")]
    found.append((opened(folder / "materials.toml"), lambda t: materials.read(t, "m.toml")))
    return found


def files(count: int) -> None:
    """Mutate files; anything but a result or an input error is told."""
    rng, seen, known = random.Random(1), collections.Counter(), tables()
    for _ in range(count):
        table, reader = rng.choice(known)
        mutant = mutate(table, rng)
        try:
            reader(mutant)
            seen["read"] += 1
        except InputError:
            seen["refused"] += 1
        except Exception:
            seen["WRONG"] += 1
            traceback.print_exc(limit=-3)
    print(dict(seen))


def finishes(count: int) -> None:
    """Build random finishes of 1 to 40 layers with warnings as errors, and check every account."""
    warnings.simplefilter("error")
    seen = collections.Counter()
    for number in range(count):
        finish = random_finish(random.Random(number))
        rng = random.Random(number)
        try:
            check_accounts(build(finish, Site(rng.uniform(2, 20), rng.uniform(2, 20), 12.5, number)))
            seen["kept"] += 1
        except Exception:
            seen["WRONG"] += 1
            print("finish", number, [one.kind for one in finish.layers])
            traceback.print_exc(limit=-2)
    print(dict(seen))


if __name__ == "__main__":
    began = time.perf_counter()
    {"files": files, "finishes": finishes}[sys.argv[1]](int(sys.argv[2]))
    print(f"{time.perf_counter() - began:.0f} s")
