"""Time the page in a real browser without a screen: from a slider's input event to the painted picture.

    python tests/bench/bench_page.py [finish [rounds]]

4 ft x 4 ft: the draft at 12.5 px/in after a change in the last and in the first third of the layers, and the picture
at rest at 25 px/in. Beside each median stand what the library itself took, what is left for server, transport and
painting, and the median in blurs: scipy.ndimage.gaussian_filter(float32, sigma=2) of a picture of the same size, taken
by the clock in the same minutes, so that a busy machine shows in both.
"""

from __future__ import annotations

import itertools
import os
import statistics
import subprocess
import sys
import time
from pathlib import Path

import numpy as np
from scipy import ndimage

sys.path.insert(0, str(Path(__file__).resolve().parent.parent / "page"))

from test_live import at_rest, start_browser

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


def blur_ms(side: int) -> float:
    """Median milliseconds of one blur, by the clock."""
    picture = np.random.default_rng(1).random((side, side), dtype=np.float32)
    times = []
    for _ in range(9):
        began = time.perf_counter()
        ndimage.gaussian_filter(picture, 2)
        times.append(1000 * (time.perf_counter() - began))
    return statistics.median(times)


def measure(browser, layers: range, rounds: int, quality: str) -> list[tuple[str, float, float]]:
    """Return (slider, ms from input to paint, ms of the library) for new values of sliders in some layers."""
    found = []
    for _ in range(rounds):
        for at in layers:
            got = browser.execute_async_script(SLIDE, at, 0.25 + 0.5 * (0.618 * next(COUNT) % 1.0), quality)
            if got:
                found.append(tuple(got))
    return found


def report(title: str, found: list[tuple[str, float, float]], side: int, goal: float) -> None:
    """Print one group: its median, and the medians of its sliders."""
    blur = blur_ms(side)
    middle = statistics.median(ms for _, ms, _ in found)
    own = statistics.median(ms - library for _, ms, library in found)
    print(f"{title}: median {middle / 1000:.3f} s (goal {goal:g} s), of which page {own / 1000:.3f} s; "
          f"blur {blur:.1f} ms, so {middle / blur:.1f} blurs; load {os.getloadavg()[0]:.1f}")  # fmt: skip
    for name in dict.fromkeys(name for name, _, _ in found):
        times = [ms for one, ms, _ in found if one == name]
        print(f"    {name:44s} {statistics.median(times) / 1000:.3f} s")


def main() -> None:
    finish = sys.argv[1] if len(sys.argv) > 1 else "old-cistern"
    rounds = int(sys.argv[2]) if len(sys.argv) > 2 else 3
    command = [sys.executable, "-m", "render", "serve", finish, "--port", "0", "--no-browser"]
    server = subprocess.Popen(command, stdout=subprocess.PIPE, text=True)
    browser = start_browser()
    browser.set_script_timeout(180)
    try:
        assert server.stdout is not None
        browser.get(server.stdout.readline().strip())
        at_rest(browser)
        count = browser.execute_script("return document.querySelectorAll('.layer').length")
        first, last = range((count + 2) // 3), range(count - count // 3, count)
        print(f"{finish}: {count} layers, 4 ft x 4 ft")
        report("draft, last third", measure(browser, last, rounds, "draft"), 600, 0.25)
        report("draft, first third", measure(browser, first, rounds, "draft"), 600, 0.8)
        report("at rest, last third", measure(browser, last[-2:], 1, "settled"), 1200, 4)
        report("at rest, first third", measure(browser, first[:2], 1, "settled"), 1200, 4)
    finally:
        browser.quit()
        server.terminate()
        server.wait(20)


if __name__ == "__main__":
    main()
