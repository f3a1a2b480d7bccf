"""Time of the plaster coats and hand tools: ``python tests/bench/bench_plaster.py [feet] [ppi]``.

Prints the least of three runs in seconds of processor time, one thread.
"""

from __future__ import annotations

import os
import sys
import time

os.environ.setdefault("OMP_NUM_THREADS", "1")

from render.layers import kinds
from render.seeds import Streams
from render.wall import Wall

JOBS = [
    {"kind": "texture_coat", "name": "rolled", "material": "sanded wall coat"},
    {"kind": "texture_coat", "name": "brushed", "material": "primer", "method": "brush"},
    {"kind": "knock_down", "name": "knocked down"},
    {"kind": "plaster_coat", "name": "full", "material": "lime topping", "style": "full"},
    {"kind": "plaster_coat", "name": "torn", "material": "lime topping", "style": "torn", "coverage": "70 %"},
    {"kind": "plaster_coat", "name": "skip", "material": "lime topping", "style": "skip", "coverage": "70 %"},
    {"kind": "plaster_coat", "name": "tapped", "material": "lime topping", "style": "tapped"},
    {"kind": "sand", "name": "sanded"},
    {"kind": "brushed_coat", "name": "limewash", "material": "limewash"},
    {"kind": "burnish", "name": "burnished"},
]


def main() -> None:
    feet, ppi = (float(word) for word in (sys.argv[1:] + ["4", "25"][len(sys.argv) - 1 :])[:2])
    base = kinds()["texture_coat"].model_validate(JOBS[0] | {"name": "base"})
    wall = base.apply(Wall.bare(feet * 12, feet * 12, ppi), Streams(1, "base"))
    print(f"{feet:g} ft x {feet:g} ft at {ppi:g} px/in")
    for job in JOBS:
        layer = kinds()[job["kind"]].model_validate(job)
        times = []
        for _ in range(3):
            began = time.process_time()
            layer.apply(wall, Streams(1, layer.name))
            times.append(time.process_time() - began)
        print(f"{layer.name:14s} {min(times):6.3f} s")


if __name__ == "__main__":
    main()
