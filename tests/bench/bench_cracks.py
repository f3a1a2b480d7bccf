"""Times a crack net over a wall against Gaussian blurs of the same picture, all in one run; prints a table.

python tests/bench/bench_cracks.py [side in feet] [px/in]
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable

import numpy as np
from scipy.ndimage import gaussian_filter

from render.fields import Grid
from render.kept import Kept
from render.physics import cracks


def best(act: Callable[[], object], times: int = 3) -> float:
    """Return the shortest of some runs, seconds of one processor (other work on the machine counts little)."""
    seconds = []
    for _ in range(times):
        start = time.process_time()
        act()
        seconds.append(time.process_time() - start)
    return min(seconds)


def wall_map(side_in: float) -> cracks.SpacingMap:
    """Return a bonded medium net with a third of the wall on release size."""
    nodes = Grid.over(side_in, side_in, 4.0).shape
    rows, cols = np.mgrid[: nodes[0], : nodes[1]] / 4.0
    slip = np.clip(2.0 * np.sin(rows / 9.0) * np.cos(cols / 13.0) - 0.4, 0.0, 1.0)
    return cracks.SpacingMap(0.34 * 5.0**slip, slip, 0.005 * 7.0**slip, 0.25)


def main() -> None:
    side_in = 12.0 * float(sys.argv[1] if len(sys.argv) > 1 else 8.0)
    ppi = float(sys.argv[2] if len(sys.argv) > 2 else 25.0)
    window = cracks.Window(round(side_in * ppi), round(side_in * ppi), ppi)
    picture = np.random.default_rng(1).random((window.rows, window.cols), dtype=np.float32)
    map_, key = wall_map(side_in), iter(range(1, 100))
    blur = best(lambda: gaussian_filter(picture, 2.0), 5)

    def whole() -> cracks.Net:
        net = cracks.net(map_, window.bounds, next(key), ppi)
        draw(net)
        return net

    def draw(net: cracks.Net) -> None:
        cells = len(net.cells.name)
        cracks.draw(net, window, np.full(cells, 10.0), np.zeros((cells, 2)))

    division = best(lambda: cracks.divide(map_, window.bounds, 1), 2)
    cold = best(whole, 2)
    last, kept = 200, Kept()
    net = cracks.net(map_, window.bounds, last, ppi, kept)
    cached = best(lambda: draw(cracks.net(map_, window.bounds, last, ppi, kept)))
    blur = min(blur, best(lambda: gaussian_filter(picture, 2.0), 5))
    print(
        f"{side_in / 12:g} ft x {side_in / 12:g} ft at {ppi:g} px/in, {len(net.cells.name)} cells; a blur {blur:.4f} s"
    )
    for name, seconds, most in (("divide", division, None), ("net and picture", cold, 25), ("from cache", cached, 10)):
        print(f"{name:16} {seconds:7.3f} s {seconds / blur:7.1f} blurs" + (f" (at most {most})" if most else ""))


if __name__ == "__main__":
    main()
