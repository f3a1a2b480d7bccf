"""Writes the sheets of a job: each as one HTML file and as PDF, all checked before the first picture is rendered."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from render import files, units
from render.estimate.job_estimate import JobEstimate
from render.faults import InputError, nearest
from render.picture import DEFAULT_WALL
from render.pipeline import Cache
from render.sheets.content import ClientSheet, SiteSheet, Told, client_sheet, site_sheet
from render.sheets.paper import Paper

Only = Literal["client", "site", ""]


@dataclass(frozen=True)
class Wanted:
    """What to write, and how."""

    folder: Path
    paper: Paper = "letter"
    ppi: float = 25.0
    sample: str = ""
    only: Only = ""
    option: str = ""
    replace: bool = False

    @classmethod
    def checked(
        cls, folder: Path, paper: str, ppi: float, sample: str, only: str, option: str, replace: bool
    ) -> Wanted:
        """Return the wishes of a command line.

        Raises
        ------
        InputError
            With every fault.
        """
        faults = []
        if paper.lower() not in ("letter", "a4"):
            faults.append(f'--paper = "{paper}": {nearest(paper.lower(), ["letter", "a4"])}')
        if only not in ("", "client", "site"):
            faults.append(f'--only = "{only}": expected client or site')
        if not 1 <= ppi <= 200:
            faults.append(f"--ppi = {ppi:g}: expected 1 to 200 pixels per inch")
        try:
            units.rectangle(sample or DEFAULT_WALL)
        except ValueError as error:
            faults.append(f'--sample = "{sample}": {error}')
        if faults:
            raise InputError(faults)
        size: Paper = "a4" if paper.lower() == "a4" else "letter"
        which: Only = "client" if only == "client" else "site" if only == "site" else ""
        return cls(folder, size, ppi, sample, which, option, replace)


def stem(name: str) -> str:
    """Return a job's name as it can stand in a file name."""
    safe = "".join(letter if letter.isalnum() or letter in "-_" else "-" for letter in name.lower())
    return "-".join(part for part in safe.split("-") if part)[:60] or "job"


def _targets(name: str, wanted: Wanted) -> dict[tuple[str, str], Path]:
    """Return the files to write by (sheet, form)."""
    sheets = [one for one in ("client", "site") if wanted.only in ("", one)]
    return {
        (sheet, form): wanted.folder / f"{stem(name)}-{sheet}.{form}" for sheet in sheets for form in ("html", "pdf")
    }


def _client(sheet: ClientSheet, paper: Paper) -> dict[str, bytes]:
    from render.sheets import client, web

    return {"html": web.client(sheet).encode("utf-8"), "pdf": client.pdf(sheet, paper)}


def _site(sheet: SiteSheet, paper: Paper) -> dict[str, bytes]:
    from render.sheets import site, web

    return {"html": web.site(sheet).encode("utf-8"), "pdf": site.pdf(sheet, paper)}


def write_all(got: JobEstimate, wanted: Wanted, told: Told) -> list[Path]:
    """Write the sheets and return their files.

    Raises
    ------
    InputError
        If the folder cannot be written, a file of somebody else's is in the way, or the option is not known.
    """
    chosen = got.offer(wanted.option) if wanted.option else got.offer(got.job.accepted.option.name)
    wanted.folder.mkdir(parents=True, exist_ok=True)
    targets = _targets(got.job.name, wanted)
    for path in targets.values():
        files.check_target(path, wanted.replace)
    cache = Cache()
    sample = wanted.sample or ("1.2 m x 1.2 m" if got.job.file.units == "metric" else DEFAULT_WALL)
    made: dict[str, Callable[[], dict[str, bytes]]] = {
        "client": lambda: _client(client_sheet(got, sample, wanted.ppi, told, cache), wanted.paper),
        "site": lambda: _site(site_sheet(got, chosen, told, cache), wanted.paper),
    }
    for sheet in dict.fromkeys(sheet for sheet, _ in targets):
        for form, content in made[sheet]().items():
            files.write_bytes(targets[sheet, form], content)
    return list(targets.values())
