"""Run the command as ``python -m render``."""

from render.cli import leave_stopped, main

try:
    main()
except KeyboardInterrupt:  # before the command itself listens, or while it leaves
    leave_stopped()
