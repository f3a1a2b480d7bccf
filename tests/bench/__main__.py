"""Run every bench, one after the other, and print their tables.

    python tests/bench [quick]

The bench of the page needs a browser and is left out where there is none; ``quick`` leaves out it and the large wall.
"""

from __future__ import annotations

import shutil
import subprocess
import sys
from pathlib import Path

BENCHES = ("bench_render", "bench_draft", "bench_plaster", "bench_cracks", "bench_flow")


def main() -> int:
    quick = sys.argv[1:2] == ["quick"]
    browser = any(shutil.which(name) for name in ("chromium", "chromium-browser", "google-chrome", "firefox"))
    failed = 0
    for name in (*BENCHES, *(("bench_page",) if browser and not quick else ())):
        print(f"\n== {name} ==", flush=True)
        given = ["quick"] if quick and name == "bench_render" else []
        command = [sys.executable, str(Path(__file__).parent / f"{name}.py"), *given]
        failed += subprocess.run(command, check=False).returncode != 0
    return int(failed > 0)


if __name__ == "__main__":
    sys.exit(main())
