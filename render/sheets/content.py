"""What the client sheet and the site sheet say, in plain data: the HTML and the PDF are both set from it."""

from __future__ import annotations

import io
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from PIL import Image

from render import colour
from render.estimate import words
from render.estimate.batches import Units, measure
from render.estimate.job_estimate import FinishPart, JobEstimate, OfferEstimate
from render.estimate.quantities import total as span_total
from render.estimate.schedule import Schedule, grouped, sessions
from render.finish import Finish
from render.job import MEASURE_WORDS, Placed
from render.layers.base import Laid, Layer, Liquid
from render.picture import DEFAULT_LIGHT, Preview
from render.picture import preview as render_preview
from render.pipeline import Cache
from render.sheets.lettering import PROMISE
from render.sheets.preview_sheet import own_words, swatch
from render.sheets.step_board import step_pictures
from render.units import Span

Told = Callable[[int, int, str], None]

_QUALITY = 88
_FEWEST_POINTS = 0.015  # a layer that shows less than this of the wall is summed under "and traces"
_MOST_SHARES = 6
_MOST_IN_LINE = 2  # things of a recipe
_MOST_SPREAD = 2000.0  # ft²/gal: what goes farther is drops and streaks, and nobody checks how far it went
_MOST_WALLS = 8  # of one batch that are named one by one

LRV_NOTE = (
    "Under each colour is its share of the wall. LRV is the light reflectance value, approximate: 0 is black, "
    "100 is white."
)
PROMISED = (
    "Your walls are finished step by step as the sample you approved was made, in its colour, texture and coverage.",
    "The areas, the price and its range are for the walls listed here.",
    "Floors and everything beside the walls are covered, and the rooms are left clean.",
    "Before anything changes the price or the dates, you hear from us.",
)
NOT_PROMISED = (
    "That your wall repeats this picture: it is made by hand, and no two walls are alike.",
    "Exact colours on a screen or on paper. They shift with the light of your room, by day and in the evening.",
    "The last day to the hour: a coat is covered only once it is dry, and damp or cold weather slows that.",
    "What lies hidden in the wall, such as damp, loose ground or old paint. If we find it, we talk first.",
)


@dataclass(frozen=True)
class Swatch:
    """A colour with its light reflectance value (0-100), and its share or what it belongs to."""

    code: str
    lrv: str
    words: str


@dataclass(frozen=True)
class Share:
    """How much of the wall shows a layer."""

    words: str
    share: float
    code: str

    @property
    def points(self) -> str:
        """The share in per cent."""
        return "under 1 %" if self.share < 0.01 else f"{100 * self.share:.0f} %"


@dataclass(frozen=True)
class Shown:
    """A rendered sample: the picture (JPEG), its size in inches of wall, its colours and shares."""

    finish: str
    summary: str
    picture: bytes
    height_in: float
    width_in: float
    light: str
    shares: tuple[Share, ...]
    colours: tuple[Swatch, ...]
    units: Units = "imperial"

    @property
    def size(self) -> str:
        """The size in words."""
        scale, unit = (0.0254, "m") if self.units == "metric" else (1 / 12, "ft")
        return f"{self.width_in * scale:.3g} × {self.height_in * scale:.3g} {unit} of wall"

    @property
    def bar_share(self) -> float:
        """How much of the picture's width the scale bar takes: a foot, or 30 cm; less of a narrow wall."""
        return min(1.0, (300 / 25.4 if self.units == "metric" else 12.0) / self.width_in)

    @property
    def bar_words(self) -> str:
        """How long the scale bar is on the wall."""
        if self.bar_share >= 1.0:
            return words.length(self.width_in, self.units)
        return "0.30 m" if self.units == "metric" else "1 ft (0.30 m)"


@dataclass(frozen=True)
class Card:
    """An option as the client sees it."""

    letter: str
    title: str
    note: str
    shown: tuple[Shown, ...]
    price: str
    price_range: str
    per_area: str
    time: str
    cautions: tuple[tuple[str, str, str], ...]
    made: str

    @property
    def of_first(self) -> str:
        """Whose colours and shares are told, where the option has several finishes."""
        return f" of {self.shown[0].finish}" if len(self.shown) > 1 else ""


@dataclass(frozen=True)
class ClientSheet:
    """Everything on the client sheet."""

    title: str
    client: tuple[str, ...]
    maker: tuple[str, ...]
    site: tuple[str, ...]
    note: str
    today: str
    promise: str
    cards: tuple[Card, ...]
    rooms: tuple[tuple[str, ...], ...]
    room_total: str
    measured: str
    promised: tuple[str, ...]
    not_promised: tuple[str, ...]
    priced: str


@dataclass(frozen=True)
class Step:
    """One layer as the crew does it."""

    number: int
    name: str
    kind: str
    picture: bytes
    facts: tuple[tuple[str, str], ...]
    mixes: tuple[tuple[str, ...], ...]
    after: str
    note: str
    warn: tuple[str, ...]


@dataclass(frozen=True)
class Part:
    """A finish of the option, with its walls and steps."""

    finish: str
    watch: str
    area: str
    walls: str
    steps: tuple[Step, ...]


@dataclass(frozen=True)
class SiteSheet:
    """Everything on the site sheet."""

    title: str
    option: str
    site: tuple[str, ...]
    facts: tuple[tuple[str, str], ...]
    notes: tuple[str, ...]
    today: str
    walls: tuple[tuple[str, ...], ...]
    measured: str
    parts: tuple[Part, ...]
    bucket: str
    materials: tuple[tuple[str, ...], ...]
    days: tuple[tuple[str, str, str, str], ...]
    tools: tuple[str, ...]
    consumables: tuple[str, ...]
    covers: tuple[tuple[str, ...], ...]
    cautions: tuple[tuple[str, str, str], ...]
    open_points: tuple[str, ...]
    gallons: str


def jpeg(image: Image.Image, longest: int) -> bytes:
    """Return a picture as JPEG, scaled down where it is longer than so many pixels."""
    scale = min(1.0, longest / max(image.size))
    if scale < 1.0:
        size = (max(1, round(image.width * scale)), max(1, round(image.height * scale)))
        image = image.resize(size, Image.Resampling.LANCZOS)
    out = io.BytesIO()
    image.convert("RGB").save(out, "JPEG", quality=_QUALITY, subsampling=0)
    return out.getvalue()


def paragraphs(*texts: str) -> tuple[str, ...]:
    """Return the texts that say something, split at line breaks."""
    return tuple(line.strip() for text in texts for line in text.splitlines() if line.strip())


# --- the client sheet ----------------------------------------------------------------------------------------------


def _shares(got: Preview) -> tuple[Share, ...]:
    """Return what one sees of each layer, most first; small ones are summed."""
    layers = {one.name: one for one in got.built.finish.layers}
    films = {line.name: line.wet_mil for line in got.layers}
    bare = got.built.finish.wall_colour
    found = []
    for name, share in sorted(got.seen.shares.items(), key=lambda item: -item[1]):
        code = swatch(layers[name], films[name]) if name else colour.hex_code(
            colour.to_linear_rgb(colour.parse_colour(bare))
        )  # fmt: skip
        found.append(Share(name or "the wall beneath", share, code or "#cccccc"))
    kept = [one for one in found if one.share >= _FEWEST_POINTS][:_MOST_SHARES]
    rest = sum(one.share for one in found) - sum(one.share for one in kept)
    return (*kept, Share("traces of the others", rest, "#cfc6ba")) if rest >= 0.005 else tuple(kept)


def _colours(got: Preview) -> tuple[Swatch, ...]:
    """Return mean, dominant and extreme colours of the sample, with approximate LRV (D65, 2 degree)."""
    summary = colour.summary(got.seen.rgb, 4)
    named = [("on average", summary["mean"])]
    named += [(f"{100 * one['share']:.0f} %", one) for one in summary["dominant"]]
    return tuple(Swatch(one["srgb"], f"{one['lrv']:.0f}", text) for text, one in named)


def _shown(
    finish: Finish, sample: str, ppi: float, pour: int, light: str, cache: Cache, longest: int, units: Units
) -> Shown:
    got = render_preview(finish, sample, ppi, pour, light or DEFAULT_LIGHT, cache=cache)
    site = got.built.site
    return Shown(
        finish.name, finish.summary, jpeg(got.image, longest), site.height_in, site.width_in,
        got.light, _shares(got), _colours(got), units,
    )  # fmt: skip


def day_words(plan: Schedule, days: tuple[int, int, int]) -> str:
    """Return the time an option takes: "8 working days (6 to 11), Mon 1 Mar to Wed 10 Mar 2027"."""
    low, likely, high = days
    text = words.count(likely, "working day")
    text += f" ({low} to {high})" if low != high else ""
    if plan.dated and plan.first and plan.last:
        year = f" {plan.first.year}"
        first = plan.day_name(plan.first).removesuffix(year if plan.first.year == plan.last.year else "")
        text += f", {first} to {plan.day_name(plan.last)}" if plan.first != plan.last else f", {first}{year}"
    return text


def _made(one: OfferEstimate) -> str:
    """Return how much handwork an option is: "20 steps by hand"."""
    steps = sum(len(part.finish.layers) for part in one.parts)
    return f"{words.count(steps, 'step')} by hand" if steps else ""


def _card(one: OfferEstimate, shown: tuple[Shown, ...]) -> Card:
    currency, price, units = one.job.file.currency, one.price, one.job.file.units
    low, high = (words.round_money(value, currency) for value in (price.total.low, price.total.high))
    return Card(
        letter=one.offer.option.name,
        title=one.offer.title,
        note=one.offer.option.note,
        shown=shown,
        price=words.round_money(price.total.likely, currency),
        price_range=f"between {low} and {high}" if low != high else "",
        per_area=f"{words.money(price.per_area(units).likely, currency)} per {words.area_unit(units)}",
        time=day_words(one.schedule, one.days),
        cautions=tuple((c.title, c.client, c.source) for c in one.cautions),
        made=_made(one),
    )


def _other_finish(got: JobEstimate, placed: Placed) -> str:
    """Return in brackets the finish of a wall that is not the main one of its option: " (B: River clay)"."""
    found = []
    for offer in got.job.offers:
        main = offer.finishes[0]
        for one in offer.walls:
            if one.label == placed.label and one.finish is not main:
                letter = f"{offer.option.name}: " if len(got.job.offers) > 1 else ""
                found.append(f"{letter}{one.finish.name}")
    return f" ({', '.join(found)})" if found else ""


def _room_rows(got: JobEstimate, units: Units) -> tuple[tuple[str, ...], ...]:
    """Return each room with its walls, a finish of their own where an option gives them one, and its net area."""
    walls = got.job.offers[0].walls
    rows = []
    for room in dict.fromkeys(one.room.name for one in walls):
        own = [one for one in walls if one.room.name == room]
        names = ", ".join(f"{one.wall.name}{_other_finish(got, one)}" for one in own)
        rows.append((room, names, words.area(sum(one.area.net for one in own), units)))
    return tuple(rows)


def _priced(got: JobEstimate) -> str:
    rates = got.job.file.rates
    tax = f"tax of {words.per_cent(rates.tax)} on {rates.tax_on}" if rates.tax else "no tax"
    unpriced = sorted({name for one in got.offers for name in one.price.unpriced})
    missing = f" Not priced yet: {', '.join(unpriced)}." if unpriced else ""
    return f"Prices include materials, work and {tax}; the range follows from what a wall can take.{missing}"


def client_sheet(
    got: JobEstimate, sample: str, ppi: float, told: Told, cache: Cache, longest: int = 1200, today: date | None = None
) -> ClientSheet:
    """Return what the client sheet says, rendering a sample of every finish of every option.

    Parameters
    ----------
    got
        The job's estimate.
    sample, ppi
        The piece of wall shown, "width x height", and its resolution.
    told
        Called before each picture: number, how many, name.
    cache
        Walls kept between pictures.
    longest
        Pixels of a picture's longer side in the sheet.
    today
        The date on the sheet; today's unless given.
    """
    file = got.job.file
    jobs = [(one, finish) for one in got.offers for finish in one.offer.finishes]
    shown: dict[str, list[Shown]] = {}
    for number, (one, finish) in enumerate(jobs):
        told(number, len(jobs), f"{one.offer.option.name}: {finish.name}")
        picture = _shown(finish, sample, ppi, one.offer.option.pour, file.light, cache, longest, file.units)
        shown.setdefault(one.offer.option.name, []).append(picture)
    return ClientSheet(
        title=file.name,
        client=paragraphs(file.client.name, file.client.address),
        maker=paragraphs(file.maker.name, file.maker.address, file.maker.phone, file.maker.email),
        site=paragraphs(file.site.address),
        note=file.note,
        today=_date(today or date.today()),
        promise=PROMISE,
        cards=tuple(_card(one, tuple(shown[one.offer.option.name])) for one in got.offers),
        rooms=_room_rows(got, file.units),
        room_total=words.area(got.job.offers[0].area(), file.units),
        measured=f"Measured: {MEASURE_WORDS[file.measure]}.",
        promised=PROMISED,
        not_promised=NOT_PROMISED,
        priced=_priced(got),
    )


def _date(day: date) -> str:
    return f"{day.day} {day:%B %Y}"


# --- the site sheet ------------------------------------------------------------------------------------------------


def _facts(layer: Layer, part: FinishPart, number: int, mil: float, units: Units) -> list[tuple[str, str]]:
    """Return the figures of a step, those that apply."""
    line = part.layers[number]
    facts = [("Tool", words.in_units(line.tool, units))] if line.tool else []
    if isinstance(layer, Laid | Liquid):
        facts.append(("Material", layer.material.name))
    if isinstance(layer, Laid) and layer.thin.high > 0:
        low, high = layer.thin.low, layer.thin.high
        thin = words.per_cent(low) if low == high else f"{100 * low:.3g}–{words.per_cent(high)}"
        facts.append(("Thin", f"{thin} water"))
    if layer.asked is not None:
        facts.append(("Cover", f"{words.per_cent(layer.asked)} of the wall"))
    if isinstance(layer, Laid) and layer.spread_used.low < _MOST_SPREAD:
        facts.append(("Spread", words.spread(layer.spread_used, units)))
    if film := words.film(mil, units):
        facts.append(("Wet film, mean", film))
    if line.mixed.high > 0:
        facts.append(("Takes", words.volumes(line.mixed, units)))
    return facts


def _walls(places: Sequence[Placed]) -> str:
    """Return walls by room; a long run by its first and last, for they are in order."""
    if len(places) <= _MOST_WALLS:
        return words.walls((one.room.name, one.wall.name) for one in places)
    return f"{words.count(len(places), 'wall')}, from {places[0].label} to {places[-1].label}"


def _recipe(recipe: Mapping[str, float], buckets: int, units: Units) -> str:
    """Return what goes into a batch; more than two things stand beneath each other, to be ticked off at the bucket."""
    parts = [f"{measure(gallons, units)} {name}" for name, gallons in recipe.items()]
    boxed = f"in {buckets} buckets poured into each other" if buckets > 1 else ""
    if len(parts) > _MOST_IN_LINE:
        return "\n".join(filter(None, (*parts, boxed)))
    return ", ".join(filter(None, (" + ".join(parts), boxed)))


def _mix_rows(part: FinishPart, layer: Layer, walls: Sequence[Placed], units: Units) -> tuple[tuple[str, ...], ...]:
    """Return the batches of a layer: which, walls, area, recipe."""
    rows, places = [], {one.label: one for one in walls}
    for mix in part.mixes:
        if mix.layer != layer.name:
            continue
        for number, batch in enumerate(mix.batches, 1):
            area = words.area(batch.area_ft2, units)
            where = _walls([places[one] for one in batch.walls]) if len(mix.batches) > 1 else "all walls"
            rows.append((f"{number}/{len(mix.batches)}", where, area, _recipe(batch.recipe, batch.buckets, units)))
    return tuple(rows)


def _after(finish: Finish) -> list[str]:
    """Return what comes after each layer: go on while it is wet, or let it dry for how long."""
    found = []
    parts = sessions(finish)
    for session in parts:
        found += [f"Go straight on while it is wet: {one.name}." for one in session.layers[1:]]
        low, _, high = session.dries
        until = "the next step" if session is not parts[-1] else "the room is used"
        found.append(f"Let it dry {words.time(low, high)} before {until}." if high > 0 else "")
    return found


def _part(
    one: OfferEstimate, part: FinishPart, told: Told, cache: Cache, sample: str, ppi: float, longest: int
) -> Part:
    """Return a finish's steps with a picture of the wall after each."""
    from render.picture import site_for
    from render.pipeline import build

    file, finish = one.job.file, part.finish
    site = site_for(sample, ppi, one.offer.option.pour)
    built = build(finish, site, cache=cache, progress=told, keep_walls=True)
    pictures = step_pictures(built, file.light or DEFAULT_LIGHT)
    dangers: dict[str, list[str]] = {}
    for caution in one.cautions:
        for name in caution.causes:
            dangers.setdefault(name, []).append(caution.title)
    after = _after(finish)
    steps = []
    for number, layer in enumerate(finish.layers):
        facts = _facts(layer, part, number, built.done[number].mean_wet_mil, file.units)
        steps.append(
            Step(
                number + 1, layer.name, own_words(layer, file.units), jpeg(pictures[number], longest), tuple(facts),
                _mix_rows(part, layer, one.offer.walls, file.units), after[number], layer.note,
                tuple(dangers.get(layer.name, ())),
            )
        )  # fmt: skip
    walls = words.walls((w.room.name, w.wall.name) for w in one.offer.walls if w.finish is finish)
    return Part(finish.name, finish.watch, words.area(part.area_ft2, file.units), walls, tuple(steps))


def _wall_rows(one: OfferEstimate, units: Units) -> tuple[tuple[str, ...], ...]:
    rows = []
    for place in one.offer.walls:
        a = place.area
        areas = (words.some_area(x, units) for x in (a.gross, a.deducted, a.added, a.net))
        size = f"{words.length(place.wall.width, units)} × {words.height(place.wall, units)}"
        rows.append((place.room.name, place.wall.name, size, *areas))
    return tuple(rows)


def _material_rows(one: OfferEstimate, units: Units) -> tuple[tuple[str, ...], ...]:
    rows = []
    for line in one.materials:
        buy = "from the tap" if line.is_water else words.bought(line.purchase, units)
        left = words.left_over(line.purchase.leftover, units) if line.purchase and line.purchase.items else "—"
        rows.append((line.name, words.volumes(line.with_waste, units), buy, left))
    return tuple(rows)


def _consumables(one: OfferEstimate) -> tuple[str, ...]:
    return tuple(
        f"{line.detail.partition(' at ')[0]} × {line.what}" for line in one.price.lines if line.group == "consumables"
    )


def _cover_rows(one: OfferEstimate, units: Units) -> tuple[tuple[str, ...], ...]:
    rows = []
    for cover in one.covers:
        run = words.volume(cover.run_off_floz / 128.0, units) if cover.run_off_floz > 0.05 else "none"
        size = f"{words.length(cover.length_ft * 12, units)} × {words.length(cover.width_ft * 12, units)}"
        rows.append((cover.wall, run, size))
    return tuple(rows)


def _site_facts(one: OfferEstimate) -> tuple[tuple[str, str], ...]:
    work, units = one.job.file.work, one.job.file.units
    low, likely, high = one.labour_hours
    hours = words.hours(Span(low, likely, high))
    people = "1 person" if work.crew == 1 else f"{work.crew} people"
    crew = f"{people}, {words.count(work.teams, 'team')}, {work.hours:g} h a day"
    return (
        ("Net area", words.area(one.offer.area(), units)),
        ("Time", day_words(one.schedule, one.days)),
        ("Direct labour", f"{hours} person-hours"),
        ("Crew", crew),
        ("Drying reckoned", work.drying),
        ("Mixed in all", words.volumes(span_total(line.mixed for part in one.parts for line in part.layers), units)),
    )


def _bucket_words(one: OfferEstimate) -> str:
    """Return how batches are cut, and what is done where one wall takes more than a bucket."""
    file = one.job.file
    bucket = measure(file.work.bucket, file.units)
    waste = words.per_cent(file.rates.waste)
    text = f"Buckets hold {bucket}. A batch ends where a wall ends and has {waste} for waste."
    if any(batch.buckets > 1 for part in one.parts for mix in part.mixes for batch in mix.batches):
        text += " A wall that takes more than a bucket gets several, poured into each other before it is begun."
    return text


def _room_notes(got: JobEstimate) -> list[str]:
    """Return what the job file says about its rooms."""
    seen = {one.room.name: one.room.note for one in got.job.offers[0].walls if one.room.note}
    return [f"{name}: {note}" for name, note in seen.items()]


def site_sheet(
    got: JobEstimate,
    one: OfferEstimate,
    told: Told,
    cache: Cache,
    sample: str = "4 ft x 4 ft",
    ppi: float = 12.5,
    longest: int = 420,
    today: date | None = None,
) -> SiteSheet:
    """Return what the site sheet of one option says, rendering the wall after each step.

    Parameters
    ----------
    got, one
        The job's estimate, and the option that is carried out.
    told
        Called before each layer: number, how many, name.
    cache
        Walls kept between pictures.
    sample, ppi, longest
        The piece of wall shown after each step, its resolution, and the pixels of a picture's longer side.
    today
        The date on the sheet; today's unless given.
    """
    file, units = got.job.file, got.job.file.units
    parts = tuple(_part(one, part, told, cache, sample, ppi, longest) for part in one.parts)
    option = f"Option {one.offer.option.name}, {one.offer.title}"
    return SiteSheet(
        title=file.name,
        option=option,
        site=paragraphs(file.site.address, file.site.note),
        facts=_site_facts(one),
        notes=paragraphs(file.note, *_room_notes(got)),
        today=_date(today or date.today()),
        walls=_wall_rows(one, units),
        measured=f"Measured: {MEASURE_WORDS[file.measure]}.",
        parts=parts,
        bucket=_bucket_words(one),
        materials=_material_rows(one, units),
        days=grouped(one.schedule),
        tools=tuple(words.in_units(tool, units) for tool in one.tools),
        consumables=_consumables(one),
        covers=_cover_rows(one, units),
        cautions=tuple((c.title, "; ".join(c.causes), c.full) for c in one.cautions),
        open_points=one.open_points,
        gallons=words.US_GALLONS if units == "imperial" else "",
    )
