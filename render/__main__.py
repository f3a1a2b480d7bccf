"""Run the command as ``python -m render``."""

import sys

try:
    from render.cli import main

    main()
except KeyboardInterrupt:  # before the command itself listens, or while it leaves
    print("stopped; nothing was written", file=sys.stderr)
    sys.exit(1)
