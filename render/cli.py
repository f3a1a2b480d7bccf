"""The command ``finishboard``: registers the commands and turns errors into words and exit codes.

Exit codes: 0 done; 2 the user's input is wrong (message on stderr, nothing written); 1 anything else.
"""

from __future__ import annotations

import os
import sys
from typing import Annotated, NoReturn

import typer

from render import __version__
from render.commands import compare, estimate, finishes, gallery, job, preview, serve

app = typer.Typer(
    name="finishboard",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
    context_settings={"help_option_names": ["-h", "--help"]},
)


def _version(asked: bool) -> None:
    if asked:
        print(f"finishboard {__version__}")
        raise typer.Exit


@app.callback()
def _root(
    version: Annotated[
        bool, typer.Option("--version", callback=_version, is_eager=True, help="Print the version.")
    ] = False,
) -> None:
    """Previews of layered decorative wall finishes, beside the layer list and the materials that make them."""


for command in (
    finishes.presets,
    finishes.show,
    finishes.kinds,
    finishes.check,
    preview.preview,
    preview.steps,
    compare.compare,
    estimate.estimate,
    gallery.gallery,
    job.sheets,
    job.record,
    serve.serve,
):
    app.command()(command)


def leave_stopped() -> NoReturn:
    """Say that nothing was written and leave at once with code 1.

    An orderly exit would not do: where Ctrl-C came while a library was being loaded, Python remembers it and ends
    itself by that signal.
    """
    print("stopped; nothing was written", file=sys.stderr, flush=True)
    os._exit(1)


_INTERRUPTED = 130  # how the command library leaves after Ctrl-C


def main() -> None:
    """Run the command."""
    from render.faults import InputError
    from render.memory import keep_spare

    keep_spare()
    try:
        app()
    except InputError as error:
        for line in error.faults:
            print(line, file=sys.stderr)
        sys.exit(2)
    except SystemExit as leaving:
        if leaving.code != _INTERRUPTED:
            raise
        leave_stopped()
    except MemoryError:
        print("not enough memory for this picture; try a smaller --ppi", file=sys.stderr)
        sys.exit(1)
    except OSError as error:
        place = f"{error.filename}: " if error.filename else ""
        print(f"{place}{error.strerror or error}", file=sys.stderr)
        sys.exit(1)


if __name__ == "__main__":
    main()
