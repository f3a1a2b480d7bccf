"""How much memory a picture may take."""

from __future__ import annotations

import os

_ASSUMED = 4 * 2**30  # where the system does not tell, a small laptop's share


def free_bytes() -> int:
    """Return the bytes of memory that are free for a render, as far as the system tells."""
    try:
        with open("/proc/meminfo", encoding="ascii") as table:
            rows = dict(line.split(":", 1) for line in table)
        return int(rows["MemAvailable"].split()[0]) * 1024
    except (OSError, KeyError, ValueError):
        pass
    try:
        return int(os.sysconf("SC_PHYS_PAGES") * os.sysconf("SC_PAGE_SIZE")) // 2
    except (AttributeError, OSError, ValueError):
        return _ASSUMED
