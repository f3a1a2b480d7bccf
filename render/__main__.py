"""Run the command as ``python -m render``."""

from render.cli import main

main()
