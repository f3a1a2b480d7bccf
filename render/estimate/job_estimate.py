"""The whole estimate of a job: every option's quantities, batches, hours, schedule, price and cautions."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from render.estimate import batches, cautions, labour, price, protection, schedule
from render.estimate.batches import Mix
from render.estimate.quantities import LayerLine, MaterialLine, layer_lines, material_lines, sold_as, sum_materials
from render.finish import Finish
from render.job import MEASURE_WORDS, Job, Offer, Placed
from render.materials import Material
from render.record import Correction


@dataclass(frozen=True)
class FinishPart:
    """One finish of an option: its area, its layers' volumes and its batches."""

    finish: Finish
    area_ft2: float
    layers: tuple[LayerLine, ...]
    mixes: tuple[Mix, ...]


@dataclass(frozen=True)
class OfferEstimate:
    """Everything about one option. The three schedules are for the low, likely and high ends."""

    job: Job
    offer: Offer
    parts: tuple[FinishPart, ...]
    materials: tuple[MaterialLine, ...]
    hours: tuple[labour.LabourLine, ...]
    plans: tuple[schedule.Schedule, schedule.Schedule, schedule.Schedule]
    price: price.Price
    cautions: tuple[cautions.Caution, ...]
    open_points: tuple[str, ...]
    covers: tuple[protection.Strip, ...]
    tools: tuple[str, ...]

    @property
    def schedule(self) -> schedule.Schedule:
        """The likely schedule."""
        return self.plans[1]

    @property
    def days(self) -> tuple[int, int, int]:
        """Working days low, likely, high."""
        return schedule.day_range(self.plans)

    @property
    def labour_hours(self) -> tuple[float, float, float]:
        """Direct labour in person-hours, low, likely, high."""
        ends = [(one.hours.low, one.hours.likely, one.hours.high) for one in self.hours]
        low, likely, high = (round(sum(column), 1) for column in zip(*ends, strict=True)) if ends else (0.0, 0.0, 0.0)
        return low, likely, high

    def as_dict(self) -> dict[str, Any]:
        """Return the option as plain data."""
        units = self.job.file.units
        return {
            "option": self.offer.option.name,
            "title": self.offer.title,
            "net_ft2": self.offer.area(),
            "finishes": [
                {
                    "finish": part.finish.name,
                    "net_ft2": part.area_ft2,
                    "layers": [one.as_dict() for one in part.layers],
                    "batches": [one.as_dict(units) for one in part.mixes],
                }
                for part in self.parts
            ],
            "materials": [one.as_dict() for one in self.materials],
            "hours": [one.as_dict() for one in self.hours],
            "working_days": dict(zip(("low", "likely", "high"), self.days, strict=True)),
            "schedule": self.schedule.as_dict(),
            "price": self.price.as_dict(),
            "floor_cover": [one.as_dict() for one in self.covers],
            "tools": list(self.tools),
            "cautions": [one.as_dict() for one in self.cautions],
            "open_points": list(self.open_points),
        }


@dataclass(frozen=True)
class JobEstimate:
    """A job's options, its walls as measured, and the corrections from earlier jobs that were used."""

    job: Job
    offers: tuple[OfferEstimate, ...]
    corrections: tuple[Correction, ...] = ()

    def as_dict(self) -> dict[str, Any]:
        """Return the estimate as plain data for JSON."""
        file = self.job.file
        return {
            "job": file.name,
            "currency": file.currency,
            "measure": file.measure,
            "measured_by": MEASURE_WORDS[file.measure],
            "waste": file.rates.waste,
            "bought_for": file.rates.buy,
            "walls": [wall_row(one) for one in self.job.offers[0].walls],
            "corrections": [one.as_dict() for one in self.corrections],
            "options": [one.as_dict() for one in self.offers],
        }

    def offer(self, name: str) -> OfferEstimate:
        """Return the estimate of an option by its name.

        Raises
        ------
        InputError
            If there is none of that name.
        """
        wanted = self.job.offer(name).option.name
        return next(one for one in self.offers if one.offer.option.name == wanted)


def wall_row(placed: Placed) -> dict[str, Any]:
    """Return a wall's measured areas as plain data."""
    wall, area = placed.wall, placed.area
    return {
        "room": placed.room.name,
        "wall": wall.name,
        "width_ft": wall.width / 12.0,
        "height_ft": wall.top / 12.0,
        "lowest_ft": wall.low / 12.0,
        "shape": wall.shape,
        "gross_ft2": area.gross,
        "deducted_ft2": area.deducted,
        "added_ft2": area.added,
        "net_ft2": area.net,
    }


def _part(job: Job, offer: Offer, finish: Finish) -> FinishPart:
    area = offer.area(finish)
    rates = job.file.rates
    mixes = batches.mixes(offer, finish, job.file.work.bucket, rates.waste)
    return FinishPart(finish, area, layer_lines(finish.layers, area), mixes)


def _sizes(lines: Sequence[MaterialLine], shelf: Mapping[str, Material]) -> list[tuple[MaterialLine, Material | None]]:
    return [(one, sold_as(one.name, shelf)) for one in lines]


def offer_estimate(job: Job, offer: Offer, run_off: protection.RunOff = protection.rendered_run_off) -> OfferEstimate:
    """Return everything about one option.

    Raises
    ------
    InputError
        If the working hours leave no time to work.
    """
    rates, crew = job.file.rates, job.file.work.crew
    parts = tuple(_part(job, offer, one) for one in offer.finishes)
    shelf = job.shelf_for(offer.finishes)
    sums = sum_materials(line for part in parts for line in part.layers)
    materials = material_lines(sums, shelf, rates.waste, rates.buy)
    plans = schedule.three(job, offer)
    hours = labour.layer_lines(offer, rates, job.file.units)
    hours += labour.other_lines(offer, rates, crew, schedule.day_range(plans))
    covers = protection.strips(job, offer, run_off)
    others = [protection.line(job, covers)] if job.file.protection.price_per_ft2 else []
    others += [price.consumable_line(one, offer.area(), job.file.currency) for one in job.file.consumable]
    cost = price.price(_sizes(materials, shelf), others, hours, rates, offer.area(), job.file.currency, job.file.units)
    return OfferEstimate(
        job, offer, parts, materials, tuple(hours), plans, cost,
        cautions.for_offer(job.file, offer), cautions.open_points(job.file, offer), covers, protection.tools(offer),
    )  # fmt: skip


def job_estimate(
    job: Job,
    run_off: protection.RunOff = protection.rendered_run_off,
    corrections: tuple[Correction, ...] = (),
) -> JobEstimate:
    """Return the estimate of every option of a job.

    Parameters
    ----------
    job
        The job, with corrected finishes if ``corrections`` were applied.
    run_off
        How much reaches the floor; by default the ledger of a draft rendering.
    corrections
        What was learnt from earlier jobs and used, to be shown.

    Raises
    ------
    InputError
        If the working hours leave no time to work.
    """
    return JobEstimate(job, tuple(offer_estimate(job, one, run_off) for one in job.offers), corrections)
