"""Time the renderer against Gaussian blurs of the same picture, and its kernels against general libraries.

    python tests/bench/bench_render.py [quick]

Everything is measured in one run. A blur is scipy.ndimage.gaussian_filter(float32, sigma=2). Kernels are the best of
five, in processor time by one thread; whole pictures are by the clock, each in a fresh process with nothing kept,
beside the processor time of both cores. ``quick`` leaves out the large wall.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
import time
from collections.abc import Callable

os.environ.setdefault("OMP_NUM_THREADS", "1")

import noise
import numpy as np
from scipy import ndimage
from skimage import filters, transform

from render import colour, fields, light, seeds
from render.fields import Grid
from render.physics import optics

SIDE, PPI = 48.0, 25.0
PICTURE = """
import json, resource, sys, time
began = time.perf_counter()
from render.memory import keep_spare
from render.picture import preview
keep_spare()  # as the command does
got = preview(sys.argv[1], sys.argv[2], float(sys.argv[3]))
used = resource.getrusage(resource.RUSAGE_SELF)
print(json.dumps([time.perf_counter() - began, used.ru_utime + used.ru_stime, 1024 * used.ru_maxrss,
                  got.image.width * got.image.height]))
"""


def best(act: Callable[[], object], times: int = 5) -> float:
    """Return the least processor time of some runs, in seconds, after one that does not count."""
    act()
    seconds = []
    for _ in range(times):
        began = time.process_time()
        act()
        seconds.append(time.process_time() - began)
    return min(seconds)


def noise_of(count: int) -> float:
    """Return seconds for as many samples of the package noise, from 40 000 that are taken one by one."""
    at = [(i * 0.0173, i * 0.0291) for i in range(40_000)]
    return best(lambda: [noise.pnoise2(x, y) for x, y in at], 3) * count / len(at)


def kernels() -> list[tuple[str, float, str, float]]:
    """Return (kernel, seconds, the same by a general library, seconds)."""
    grid, plan = Grid.over(SIDE, SIDE, PPI), Grid.over(SIDE, SIDE, 12.5)
    rng = np.random.default_rng(1)
    coarse, fine = (rng.standard_normal(one.shape, dtype=np.float32) for one in (plan, grid))
    rows, cols = (rng.uniform(0, 599, grid.shape).astype(np.float32) for _ in range(2))
    film = rng.uniform(0, 6, grid.shape).astype(np.float32)
    k, s = colour.coat_ks(colour.parse_colour("#805030"), 8.0)
    under = np.broadcast_to(np.float32(0.6), (*grid.shape, colour.BANDS)).copy()
    slow = ndimage.gaussian_filter(fine, 3.0) * np.float32(20.0)
    ids = np.arange(fine.size, dtype=np.uint64)
    mask = slow > 0
    lamp = light.directions(light.Lamp())
    part = slice(0, 60)  # of the exact film: it is slow
    return [
        ("noise, wavelength 1 in", best(lambda: fields.lattice(grid, 1.0, 7)), "noise.pnoise2", noise_of(fine.size)),
        ("noise, wavelength .05 in", best(lambda: fields.lattice(grid, 0.05, 7)), "noise.pnoise2", noise_of(fine.size)),
        ("fractal noise, 4 octaves", best(lambda: fields.fbm(grid, 2.0, 7)),
         "4 x noise.pnoise2", 4 * noise_of(fine.size)),
        ("hashed numbers", best(lambda: seeds.hash_unit(ids, 3)), "numpy random", best(lambda: rng.random(fine.size))),
        ("plan to picture", best(lambda: fields.resample(coarse, plan, grid)),
         "skimage transform.resize", best(lambda: transform.resize(coarse, grid.shape, order=1))),
        ("plan to picture, smooth", best(lambda: fields.resample(coarse, plan, grid, smooth=True)),
         "ndimage.zoom, order 3", best(lambda: ndimage.zoom(coarse, 2, order=3), 2)),
        ("read at places", best(lambda: fields.gather(coarse, rows, cols)),
         "ndimage.map_coordinates", best(lambda: ndimage.map_coordinates(coarse, [rows, cols], order=1))),
        ("gradient", best(lambda: fields.gradient(slow)), "skimage sobel, both ways",
         best(lambda: (filters.sobel_h(slow), filters.sobel_v(slow)))),
        ("distance from an edge", best(lambda: fields.edge_distance(slow, 0.0, PPI)), "ndimage distance transform",
         best(lambda: ndimage.distance_transform_edt(mask) - ndimage.distance_transform_edt(~mask), 2)),
        ("coverage, exact", best(lambda: fields.cover(fine, 0.7)), "numpy quantile",
         best(lambda: fine >= np.quantile(fine, 0.3))),
        ("film over a ground", best(lambda: colour.film_over(under, k, s, film)), "the same without tables",
         best(lambda: optics.layer(k, s, film[part][..., None].astype(np.float64)), 2) * grid.rows / 60),
        ("shadows of a window", best(lambda: light.lamplight(slow, 40.0, lamp)), "", 0.0),
        ("sky", best(lambda: light.sky_visibility(slow, 40.0)), "5 blurs of growing size",
         best(lambda: [ndimage.gaussian_filter(slow, 2.0**n) for n in range(1, 6)], 2)),
    ]  # fmt: skip


def picture(name: str, wall: str, ppi: float) -> list[float]:
    """Return seconds by the clock, processor seconds, most memory in bytes and pixels of one picture."""
    done = subprocess.run(
        [sys.executable, "-c", PICTURE, name, wall, str(ppi)], capture_output=True, check=True, text=True
    )
    return json.loads(done.stdout)


def start() -> float:
    """Return the least seconds by the clock until the command has printed its help."""
    seconds = []
    for _ in range(3):
        began = time.perf_counter()
        subprocess.run([sys.executable, "-m", "render", "--help"], capture_output=True, check=True)
        seconds.append(time.perf_counter() - began)
    return min(seconds)


def main() -> None:
    grid = Grid.over(SIDE, SIDE, PPI)
    plane = np.random.default_rng(2).random(grid.shape, dtype=np.float32)
    blur = best(lambda: ndimage.gaussian_filter(plane, 2.0))
    print(f"4 ft x 4 ft at 25 px/in; a blur takes {1000 * blur:.1f} ms; load {os.getloadavg()[0]:.1f}", flush=True)
    print(f"{'kernel':26} {'ms':>8} {'blurs':>7}   {'library':28} {'ms':>9} {'times as long':>14}")
    os.environ["FINISHBOARD_THREADS"] = "1"
    for name, own, library, theirs in kernels():
        beside = f"{library:28} {1000 * theirs:9.1f} {theirs / own:14.1f}" if library else ""
        print(f"{name:26} {1000 * own:8.1f} {own / blur:7.2f}   {beside}".rstrip(), flush=True)
    del os.environ["FINISHBOARD_THREADS"]
    heads = "clock s", "blurs", "cpu s", "blurs", "MP", "B/px over 200 MB"
    print("\n" + f"{'old-cistern, nothing kept':30}" + "".join(f"{head:>9}" for head in heads))
    walls = [("4 ft x 4 ft", 12.5), ("4 ft x 4 ft", 25.0), ("12 ft x 8 ft", 25.0)]
    for wall, ppi in walls[: 2 if "quick" in sys.argv else 3]:
        clock, cpu, peak, pixels = picture("old-cistern", wall, ppi)
        print(f"{f'{wall} at {ppi:g} px/in':30}{clock:9.2f}{clock / blur:9.0f}{cpu:9.2f}{cpu / blur:9.0f}"
              f"{pixels / 1e6:9.2f}{(peak - 200e6) / pixels:9.0f}", flush=True)  # fmt: skip
    print(f"\ncommand to --help: {start():.2f} s by the clock")


if __name__ == "__main__":
    main()
