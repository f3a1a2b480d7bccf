"""How much memory a picture may take, and that what it lets go of serves it again."""

from __future__ import annotations

import ctypes
import os
from contextlib import suppress

_ASSUMED = 4 * 2**30  # where the system does not tell, a small laptop's share


_TRIM_ABOVE, _MAPPED_BLOCKS, _HEAPS = -1, -4, -8  # numbers of glibc's mallopt, from its malloc.h
_SPARE = 2**29  # bytes that are let go of before the system gets any back


def keep_spare() -> None:
    """Let fields of a large wall reuse the memory of those before them, up to 512 MB.

    glibc gives every field above 32 MiB back to the system at once and takes another; touching that page by page costs
    as much as filling it. All threads take from one heap, so that what one lets go of serves the others. Elsewhere
    nothing changes.
    """
    with suppress(AttributeError, OSError, TypeError):  # no glibc
        mallopt = ctypes.CDLL(None).mallopt
        mallopt(_TRIM_ABOVE, _SPARE)
        mallopt(_MAPPED_BLOCKS, 0)
        mallopt(_HEAPS, 1)


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
