"""Time the wet layers, in seconds and in Gaussian blurs of the same picture, so that machines compare; CPU
time, as others may be busy on it.

    python tests/bench/bench_flow.py [px/in ...]

A blur is scipy.ndimage.gaussian_filter(float32, sigma=2) of a picture of the same size.
"""

import sys
import time
from pathlib import Path

import numpy as np
from scipy import ndimage

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

import wetwalls

from render.layers.alcohol import Alcohol
from render.layers.dab import Dab
from render.layers.drag import Drag
from render.layers.glaze import Glaze
from render.layers.mist import Mist
from render.layers.rinse import Rinse
from render.layers.sealer import Sealer
from render.layers.spatter import Spatter
from render.layers.spread import Spread
from render.layers.streak import Streak
from render.layers.wipe_back import WipeBack

SIDE_IN = 48.0
TINT = wetwalls.TINT
STAIN = (
    Mist(name="mist", material="water", dose="0.1 fl oz/ft2"),
    Glaze(name="glaze", spread="230 ft2/gal", thin="30 %", coverage="94 %", **TINT),
    Rinse(name="rinse", material="water", dose="0.4 fl oz/ft2"),
    Alcohol(name="alcohol", material="isopropyl alcohol", dose="0.05 fl oz/ft2"),
    WipeBack(name="wipe back", coverage="30 %"),
)
MORE = (
    Glaze(name="antique", spread="600 ft2/gal", method="brushed", body="creamy", **TINT),
    Spread(name="spread", of=("antique",)),
    Dab(name="dab", of=("antique",)),
    Drag(name="drag", of=("antique",)),
    Spatter(name="spatter", spread="4000 ft2/gal", **TINT),
    Streak(name="streak", spread="9000 ft2/gal", **TINT),
    Sealer(name="sealer", material="clear sealer"),
)


def blur_seconds(shape):
    """Median time of one blur."""
    picture = np.random.default_rng(1).random(shape, dtype=np.float32)
    times = []
    for _ in range(7):
        began = time.process_time()
        ndimage.gaussian_filter(picture, 2)
        times.append(time.process_time() - began)
    return sorted(times)[3]


def main(resolutions):
    """Print a table for each resolution; each layer is the best of three."""
    for ppi in resolutions:
        start = wetwalls.relief(SIDE_IN, ppi, wet=0.0)
        unit = blur_seconds(start.grid.shape)
        print(f"\n{SIDE_IN / 12:g} ft x {SIDE_IN / 12:g} ft at {ppi:g} px/in; one blur {1e3 * unit:.1f} ms")
        for title, layers in (("stain of five layers", STAIN), ("the rest", MORE)):
            whole = 0.0
            for layer in layers:
                best = np.inf
                for _ in range(3):
                    began = time.process_time()
                    after = wetwalls.lay(layer, start)
                    best = min(best, time.process_time() - began)
                start, whole = after, whole + best
                print(f"  {layer.name:12s} {best:7.3f} s {best / unit:7.1f} blurs")
            print(f"  {title:24s} {whole:7.3f} s {whole / unit:7.1f} blurs")


if __name__ == "__main__":
    main([float(a) for a in sys.argv[1:]] or [12.5, 25.0])
