"""A picture in a process that is at work already, nothing kept: alone, and with a mate that draws ahead.

    python tests/bench/bench_draft.py [FINISH]

By the clock, in blurs of 1200 x 1200 pixels; on a machine with other work to do a mate is late.
"""

from __future__ import annotations

import os
import statistics
import sys
import time

import numpy as np
from scipy import ndimage

from render.finish import load
from render.mate import Mate
from render.memory import keep_spare
from render.picture import preview
from render.pipeline import Cache

POURS = 7
PLANE = np.random.default_rng(2).random((1200, 1200), dtype=np.float32)
keep_spare()  # as the command does


def blur() -> float:
    """Return the seconds that a blur takes by the clock, now: a machine's pace changes from second to second."""
    began = time.perf_counter()
    ndimage.gaussian_filter(PLANE, 2.0)
    return time.perf_counter() - began


def main() -> None:
    finish = load(sys.argv[1] if len(sys.argv) > 1 else "old-cistern")
    mate = Mate()
    preview(finish, "1 ft x 1 ft", 12.5)
    time.sleep(2.0)  # the mate loads its libraries meanwhile
    print(f"{finish.name}, 4 ft x 4 ft, median and best of {POURS} pours; load {os.getloadavg()[0]:.1f}")
    for ppi in (12.5, 25.0):
        for name, helper in (("alone", None), ("with a mate", mate)):
            seconds, blurs = [], []
            for pour in range(1, POURS + 1):
                cache = Cache(1_000_000_000, 720_000_000)
                blurs.append(blur())
                seconds.append(preview(finish, "4 ft x 4 ft", ppi, pour, cache=cache, mate=helper).seconds)
            middle, least, unit = statistics.median(seconds), min(seconds), statistics.median(blurs)
            print(f"{ppi:5g} px/in {name:12} {middle:.2f} s = {middle / unit:.0f} blurs, best {least / unit:.0f}; "
                  f"a blur takes {1000 * unit:.1f} ms", flush=True)  # fmt: skip
    mate.close()


if __name__ == "__main__":
    main()
