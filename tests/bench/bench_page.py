"""Time the page in a real browser without a screen: from a slider's input event to the painted picture.

    python tests/bench/bench_page.py [finish [sliders in each group]]

4 ft x 4 ft: the draft at 12.5 px/in after a change in the last and in the first third of the layers, and the picture
at rest at 25 px/in. The clock counts whatever else the machine does; beside it stands the processor time of the same
changes without a browser, which is what an idle machine needs at most, and the time of a blur:
scipy.ndimage.gaussian_filter(float32, sigma=2) of a picture of the same size, by the clock and by the processor.
"""

from __future__ import annotations

import itertools
import json
import os
import statistics
import subprocess
import sys
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
from scipy import ndimage

sys.path.insert(0, str(Path(__file__).resolve().parent.parent / "page"))

from test_live import at_rest, start_browser

from render.finish import Finish, load
from render.page.answers import figures
from render.page.controls import controls
from render.page.easel import Easel, Order, jpeg
from render.picture import DEFAULT_LIGHT

COUNT = itertools.count(1)  # no value twice, or a kept wall would answer
SLIDE = """
const [at, part, want, done] = arguments;
const row = document.querySelectorAll('.layer')[at], open = row.querySelector('.open');
if (open.getAttribute('aria-expanded') !== 'true') open.click();
const slider = row.querySelector('.body input[type=range][data-key]');
if (!slider) return done(null);
slider.value = Number(slider.min) + part * (slider.max - slider.min);
setTimeout(() => {
  const began = performance.now();
  const painted = event => {
    const now = Number(document.documentElement.dataset.change);
    if (event.detail.quality !== want || event.detail.change !== now) return;
    document.removeEventListener('painted', painted);
    done([slider.dataset.layer + ', ' + slider.dataset.key, event.detail.at - began, 1000 * event.detail.seconds]);
  };
  document.addEventListener('painted', painted);
  slider.dispatchEvent(new Event('input', {bubbles: true}));
}, 60);
"""


def blur_ms(side: int, clock: Callable[[], float]) -> float:
    """Median milliseconds of one blur."""
    picture = np.random.default_rng(1).random((side, side), dtype=np.float32)
    times = []
    for _ in range(9):
        began = clock()
        ndimage.gaussian_filter(picture, 2)
        times.append(1000 * (clock() - began))
    return statistics.median(times)


def in_browser(browser, layers: list[int], quality: str) -> list[tuple[str, float, float]]:
    """Return (slider, ms from input to paint, ms of the library) for a new value of a slider in each layer."""
    found = []
    for at in layers:
        got = browser.execute_async_script(SLIDE, at, 0.25 + 0.5 * (0.618 * next(COUNT) % 1.0), quality)
        if got:
            found.append(tuple(got))
    return found


def on_processor(easel: Easel, finish: Finish, layers: list[int], quality: str) -> list[float]:
    """Return processor milliseconds of read, draw and encode for a new value of the first slider of each layer."""
    found = []
    for at in layers:
        entry = finish.source["layer"][at]
        sliders = [one for one in controls(finish.layers[at], entry) if one["type"] == "amount"]
        if not sliders:
            continue
        one = sliders[0]
        value = one["low"] + (0.25 + 0.5 * (0.618 * next(COUNT) % 1.0)) * (one["high"] - one["low"])
        changed = {**entry, one["key"]: f"{value:.4g} {one['unit']}"}
        rows = [changed if n == at else row for n, row in enumerate(finish.source["layer"])]
        order = Order({**finish.source, "layer": rows}, "4 ft x 4 ft", 1, DEFAULT_LIGHT, "", 0, quality)
        easel.draw(replace(order, table=finish.source))
        began = time.process_time()
        got = easel.draw(order)
        json.dumps(figures(got))
        jpeg(got.image, quality)
        found.append(1000 * (time.process_time() - began))
    return found


def report(title: str, wall: list[tuple[str, float, float]], processor: list[float], side: int, goal: float) -> None:
    """Print one group."""
    blur = blur_ms(side, time.process_time)
    middle = statistics.median(ms for _, ms, _ in wall) / 1000
    own = statistics.median(ms - library for _, ms, library in wall) / 1000
    cpu = statistics.median(processor)
    print(f"{title}: goal {goal:g} s", flush=True)
    busy = f"load {os.getloadavg()[0]:.1f}, blur {blur_ms(side, time.perf_counter):.1f} ms"
    print(f"    by the clock     {middle:.3f} s median of {len(wall)}, of which page {own:.3f} s; {busy}")
    blurs = f"{cpu / blur:.0f} blurs of {blur:.1f} ms"
    print(f"    by the processor {cpu / 1000:.3f} s median of {len(processor)} = {blurs}", flush=True)


def main() -> None:
    name = sys.argv[1] if len(sys.argv) > 1 else "old-cistern"
    most = int(sys.argv[2]) if len(sys.argv) > 2 else 5
    command = [sys.executable, "-m", "render", "serve", name, "--port", "0", "--no-browser"]
    server = subprocess.Popen(command, stdout=subprocess.PIPE, text=True)
    browser = start_browser()
    browser.set_script_timeout(600)
    browser.command_executor.client_config.timeout = 600
    finish, easel = load(name), Easel()
    count = len(finish.layers)
    last, first = list(range(count - 1, count - 1 - count // 3, -1)), list(range((count + 2) // 3))
    groups = [
        ("draft, last third", last, "draft", 0.25),
        ("draft, first third", first, "draft", 0.8),
        ("at rest, last third", last, "settled", 4.0),
        ("at rest, first third", first, "settled", 4.0),
    ]
    try:
        assert server.stdout is not None
        address = server.stdout.readline().strip()
        browser.get(address)
        print(f"{name}: {count} layers, 4 ft x 4 ft", flush=True)
        for title, layers, quality, goal in groups:
            browser.execute_script("localStorage.clear(); sessionStorage.clear()")
            browser.get(address)  # each group starts from the finish as it ships
            at_rest(browser)
            wall = in_browser(browser, layers[:most], quality)
            processor = on_processor(easel, finish, layers if quality == "draft" else layers[:most], quality)
            report(title, wall, processor, 600 if quality == "draft" else 1200, goal)
    finally:
        browser.quit()
        server.terminate()
        server.wait(20)


if __name__ == "__main__":
    main()
