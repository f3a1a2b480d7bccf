"""Lines of hours, price and protection, and the numbers on them: each by hand."""

from __future__ import annotations

from dataclasses import FrozenInstanceError
from decimal import Decimal
from typing import Any, ClassVar, Literal

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from render.estimate import labour, price, protection, words
from render.estimate.labour import LabourLine
from render.estimate.price import Line, Money, cents
from render.estimate.purchase import cheapest
from render.estimate.quantities import material_line
from render.finish import Finish
from render.job import Consumable, Job, JobFile, Offer, Option, Placed, Rates, measured
from render.layers import kinds
from render.layers.base import Coat, Layer, Liquid, Wash
from render.materials import Container, Material
from render.units import Span

PASTE = Material.model_validate(
    {
        "name": "paste",
        "class": "plaster",
        "containers": [{"size": "1 gal", "price": 40}, {"size": "1 qt", "price": 12.5}],
    }
)
FREE = Material.model_validate({"name": "free", "class": "paint", "containers": [{"size": "1 gal"}]})
WATER = Material.model_validate({"name": "water", "class": "water"})
SHELF = {one.name: one for one in (PASTE, FREE, WATER)}


class Trowelled(Coat):
    """A coat that has an example rate of its own kind."""

    kind: str = "plaster_coat"
    tools: ClassVar[tuple[str, ...]] = ("trowel", "hawk")


class Odd(Coat):
    """A coat that has none."""

    kind: str = "test_odd"
    tools: ClassVar[tuple[str, ...]] = ("hawk", "brush")


class OddWash(Wash):
    """A glaze that has none."""

    kind: str = "test_wash"


class OddLiquid(Liquid):
    """A liquid that has none."""

    kind: str = "test_liquid"


class OddAct(Layer):
    """An act that has none."""

    kind: Literal["test_act"] = "test_act"


def coat(**keys: Any) -> Trowelled:
    """Return a coat of paste."""
    return Trowelled.model_validate({"name": "top", "material": PASTE, **keys})


def offer(
    layers: tuple[Layer, ...], *rooms: str, size: tuple[str, str] = ("10 ft", "8 ft"), **file: Any
) -> tuple[Job, Offer]:
    """Return a job with a wall in each room, 80 ft²: 10 ft long and 8 ft high, unless of another size."""
    walls = [{"name": "n", "width": size[0], "height": size[1]}]
    got = JobFile.model_validate({"room": [{"name": one, "wall": walls} for one in rooms], **file})
    finish = Finish("any", layers)
    placed = tuple(Placed(r, w, measured(w, "drawn"), finish) for r in got.room for w in r.wall)
    one = Offer(Option(name="A", finish="any"), placed)
    return Job(got, (one,)), one


def ends(span: Span) -> tuple[float, float, float]:
    """Return a range as three numbers."""
    return span.low, span.likely, span.high


# --- hours -----------------------------------------------------------------------------------------------------------


def test_whose_rate_it_is() -> None:
    """The job's rate for the name, then for the kind, then the layer's own, then the example, said in this order."""
    own = coat(labour="77 ft2/h")
    both = Rates.model_validate({"layer": {"top": "10 ft2/h", "plaster_coat": "20 ft2/h"}, "source": "last year"})
    kind = Rates.model_validate({"layer": {"plaster_coat": "20 ft2/h", "other": "5 ft2/h"}})
    assert labour.pace(own, both) == labour.Paced(Span.exactly(10.0), "last year")
    assert labour.pace(own, kind) == labour.Paced(Span.exactly(20.0), "own rate")
    assert labour.pace(own, Rates()) == labour.Paced(Span.exactly(77.0), "rate in the finish file")
    assert labour.pace(coat(), Rates()) == labour.Paced(Span(35.0, 45.0, 55.0), labour.NOTE)


def test_a_kind_without_an_example_takes_its_class() -> None:
    """Coats are slower than glazes, glazes than liquids; other acts have their own."""
    wash = OddWash.model_validate({"name": "w", "material": PASTE, "colourants": {"raw umber": "1 tsp"}})
    liquid = OddLiquid.model_validate({"name": "l", "material": WATER, "dose": "0.1 fl oz/ft2"})
    odd = Odd.model_validate({"name": "o", "material": PASTE})
    got = [ends(labour.pace(one, Rates()).rate) for one in (odd, wash, liquid, OddAct(name="a"))]
    assert got == [(60.0, 80.0, 100.0), (100.0, 130.0, 160.0), (300.0, 400.0, 500.0), (120.0, 160.0, 200.0)]


def test_hours_of_an_area() -> None:
    """300 ft² at 50, 75 and 100 ft²/h take 3, 4 and 6 h; hours are charged to the tenth, halves up."""
    assert ends(labour.hours(300.0, Span(50.0, 75.0, 100.0))) == (3.0, 4.0, 6.0)
    assert ends(labour.tenth(Span(0.05, 0.24, 0.25))) == (0.1, 0.2, 0.3)
    _, one = offer((coat(labour="40-80 ft2/h"),), "hall")
    assert ends(labour.wall_hours(one.walls[0], one.finishes[0].layers[0], Rates())) == pytest.approx((1, 80 / 60, 2))


def test_lines_of_hours() -> None:
    """Two rooms of 80 ft² at 40 ft²/h are 4.0 h, and the line says how; a line as data keeps its four parts."""
    _, one = offer((coat(labour="40 ft2/h"),), "hall", "study")
    (line,) = labour.layer_lines(one, Rates())
    assert (line.what, line.detail, ends(line.hours)) == ("top", "160.0 ft² at 40 ft²/h", (4.0, 4.0, 4.0))
    assert labour.layer_lines(one, Rates(), "metric")[0].detail == "14.9 m² at 3.72 m²/h"
    assert line.as_dict() == {
        "what": "top",
        "detail": "160.0 ft² at 40 ft²/h",
        "hours": {"low": 4.0, "likely": 4.0, "high": 4.0},
        "source": "rate in the finish file",
    }


def test_what_is_done_besides() -> None:
    """Two rooms at 1 and .5 h, and .5 h a day for each of two people on 2 to 4 days; nothing for what takes none."""
    _, one = offer((coat(),), "hall", "study")
    rates = Rates.model_validate({"setup": "1 h", "masking": "0.5 h", "daily": "0.5 h"})
    got = labour.other_lines(one, rates, 2, (2, 3, 4))
    assert [(line.what, line.detail, ends(line.hours)) for line in got] == [
        ("set up", "2 rooms at 1 h", (2.0, 2.0, 2.0)),
        ("masking", "2 rooms at 0.5 h", (1.0, 1.0, 1.0)),
        ("start and clean up", "2–4 days, 2 people, 0.5 h a day", (2.0, 3.0, 4.0)),
    ]
    assert {line.source for line in got} == {"the job's figure"}
    none = Rates.model_validate({"setup": "0 h", "masking": "0 h", "daily": "0.5 h", "source": "mine"})
    (only,) = labour.other_lines(one, none, 1, (1, 1, 1))
    assert (only.detail, only.source) == ("1 day, 1 person, 0.5 h a day", "mine")
    assert ends(only.hours) == (0.5, 0.5, 0.5)


@given(st.floats(0.5, 5000.0), st.floats(1.0, 20.0), st.tuples(st.floats(1, 900), st.floats(1, 900)))
def test_hours_are_in_proportion_to_the_area(area: float, times: float, ends_of: tuple[float, float]) -> None:
    """A wall so many times as large takes so many times as long, a hand twice as quick half; rate by hours is area."""
    rate = Span.between(min(ends_of), max(ends_of))
    taken = np.array(ends(labour.hours(area, rate)))
    assert taken * ends(rate)[::-1] == pytest.approx([area] * 3, rel=1e-12)
    assert ends(labour.hours(times * area, rate)) == pytest.approx(times * taken, rel=1e-12)
    assert ends(labour.hours(area, Span(*(2 * one for one in ends(rate))))) == pytest.approx(taken / 2, rel=1e-12)


@pytest.mark.parametrize(
    ("rate", "of_unit", "unit_ft2"),
    [("50 ft2/h", (50, 50, 50), 1.0), ("5 m2/h", (5, 5, 5), 1 / 0.09290304), ("2-4 m2/h", (2, 3, 4), 1 / 0.09290304)],
)
@pytest.mark.parametrize("width_ft", [5.0, 7.5, 40.0])
def test_a_rate_in_any_unit(rate: str, of_unit: tuple[float, ...], unit_ft2: float, width_ft: float) -> None:
    """Hours are the area over the rate in the rate's own unit, a foot being .3048 m; the quickest rate takes least."""
    _, one = offer((coat(labour=rate),), "hall", size=(f"{width_ft} ft", "8 ft"))
    got = ends(labour.wall_hours(one.walls[0], one.finishes[0].layers[0], Rates()))
    assert got == pytest.approx([width_ft * 8 / unit_ft2 / each for each in reversed(of_unit)], rel=1e-9)


def test_each_layer_of_each_room_is_counted() -> None:
    """Three coats on 1, 2 and 3 rooms of 80 ft² have a line each, in their order, each in proportion to the rooms."""
    layers = tuple(coat(name=name, labour=f"{rate} ft2/h") for name, rate in (("one", 10), ("two", 20), ("three", 40)))
    for count in (1, 2, 3):
        _, got = offer(layers, *("hall", "study", "attic")[:count])
        lines = labour.layer_lines(got, Rates())
        assert [(line.what, ends(line.hours)[1]) for line in lines] == [
            ("one", 8.0 * count),
            ("two", 4.0 * count),
            ("three", 2.0 * count),
        ]
        assert sum(ends(labour.wall_hours(wall, layers[0], Rates()))[0] for wall in got.walls) == 8.0 * count


@given(st.integers(1, 9), st.integers(0, 30), st.integers(0, 9), st.integers(0, 9), st.sampled_from([0.25, 0.5, 1.5]))
@settings(max_examples=40, deadline=None)
def test_start_and_clean_up_by_the_day_and_head(crew: int, least: int, more: int, most: int, each: float) -> None:
    """Daily hours are days times people times the hours of a day, set-up and masking are by the room alone."""
    _, one = offer((coat(),), "hall", "study", "attic")
    days = (least + 1, least + 1 + more, least + 1 + more + most)
    rates = Rates.model_validate({"setup": "1.5 h", "masking": "2 h", "daily": f"{each} h"})
    setup, masking, daily = labour.other_lines(one, rates, crew, days)
    assert (ends(setup.hours), ends(masking.hours)) == ((4.5,) * 3, (6.0,) * 3)
    assert ends(daily.hours) == pytest.approx([day * crew * each for day in days], abs=0.051)
    assert daily.detail.startswith(f"{days[0]}–{days[2]} days" if more + most else words.count(days[0], "day"))


@pytest.mark.parametrize("record", [labour.pace(coat(), Rates()), LabourLine("any", "", Span.exactly(1.0))])
def test_hours_once_written_stand(record: Any) -> None:
    """Neither a rate nor a line of hours can be changed afterwards."""
    with pytest.raises(FrozenInstanceError):
        record.source = "another"


def test_every_example_is_a_range() -> None:
    """Each example is of a kind that there is, a slower and a quicker rate, both round for they are no more exact than
    that, and its pace has likely in the middle."""
    for kind, (slow, quick) in labour.EXAMPLES.items():
        assert kind in kinds() and 0 < slow < quick
        assert slow % 5 == quick % 5 == 0
        assert labour.pace(coat(kind=kind), Rates()).rate == Span(slow, (slow + quick) / 2, quick)


# --- price -----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("value", "told"),
    [
        (0.005, "0.01"),
        (1.005, "1.01"),
        (2.675, "2.68"),
        (2.6749, "2.67"),
        (1.004996, "1.00"),
        (0.1 + 0.2, "0.30"),
        (-1.005, "-1.01"),
    ],
)
def test_cents_are_rounded_halves_up(value: float, told: str) -> None:
    """Half a cent goes away from zero, whatever the binary fraction is."""
    assert cents(value) == Decimal(told) == cents(Decimal(str(value)))


def test_sums_of_money() -> None:
    """Sums go end by end, shares to the cent; nothing divided by nothing is nothing."""
    one, two = Money.of(1, 2.5, 10), Money.exactly(0.125)
    assert one + two == Money(Decimal("1.13"), Decimal("2.63"), Decimal("10.13"))
    assert price.total([one, one, two]) == Money.of(2.13, 5.13, 20.13) and price.total([]) == price.NOTHING
    assert one.share(0.333) == Money.of(0.33, 0.83, 3.33)
    assert one.over(4) == Money.of(0.25, 0.63, 2.5) and one.over(0) == price.NOTHING
    assert one.as_dict() == {"low": 1.0, "likely": 2.5, "high": 10.0}


def test_a_material_s_money() -> None:
    """0.9 to 2.2 gal without waste: a gallon, 40, or two and a quart, 92.50; likely is what is bought."""
    line = material_line("paste", Span(0.9, 1.5, 2.2), SHELF, 0.0, "high")
    assert price.material_money(line, PASTE) == Money.of(40, 92.5, 92.5)
    likely = material_line("paste", Span(0.9, 1.5, 2.2), SHELF, 0.0, "likely")
    assert price.material_money(likely, PASTE) == Money.of(40, 65, 92.5)
    assert price.material_money(line, None) == price.NOTHING
    unpriced = material_line("free", Span(1, 1, 1), SHELF, 0.0, "high")
    assert price.material_money(unpriced, FREE) == price.NOTHING
    assert price.material_money(material_line("water", Span(1, 1, 1), SHELF, 0.0, "high"), WATER) == price.NOTHING


@pytest.mark.parametrize(
    ("keys", "area", "detail", "sum_"),
    [
        ({"count": 3}, 1000.0, "3 at $2.50", 7.5),
        ({"one_per": "100 ft2"}, 100.0, "1 at $2.50", 2.5),
        ({"one_per": "100 ft2"}, 100.5, "2 at $2.50", 5.0),
        ({"one_per": "100 ft2", "count": 2}, 250.0, "6 at $2.50", 15.0),
        ({"one_per": "100 ft2"}, 0.0, "0 at $2.50", 0.0),
    ],
)
def test_what_is_used_up(keys: dict[str, Any], area: float, detail: str, sum_: float) -> None:
    """A number for the job, or whole ones for every so much wall."""
    line = price.consumable_line(Consumable.model_validate({"name": "tape", "price": 2.5, **keys}), area)
    assert (line.group, line.what, line.detail, line.money) == ("consumables", "tape", detail, Money.exactly(sum_))


def parts() -> tuple[list[Any], list[Line], list[LabourLine]]:
    """A material at 40, water, an unpriced one, tape at 5 and ten hours."""
    spans = {"paste": Span(1, 1, 1), "water": Span(1, 1, 1), "free": Span(1, 1, 1), "none": Span(0, 0, 0)}
    materials = [(material_line(name, one, SHELF, 0.0, "high"), SHELF.get(name)) for name, one in spans.items()]
    tape = Line("consumables", "tape", "1 at $5.00", Money.exactly(5))
    return materials, [tape], [LabourLine("top", "80 ft²", Span(9, 10, 12))]


def test_a_price_on_materials_and_on_all() -> None:
    """40 + 5 + 10 h at 20 + 50 % of labour = 345; profit 10 % is 34.50; tax 8 % on 45 is 3.60, on all 379.50 30.36."""
    keys = {"hour": 20, "overhead": "50 %", "profit": "10 %", "tax": "8 %"}
    got = price.price(*parts(), Rates.model_validate(keys), 80.0)
    assert [(one.what, one.detail, one.money.likely) for one in got.lines] == [
        ("paste", "1 × 1 gal", Decimal("40.00")),
        ("free", "1 × 1 gal", Decimal("0.00")),
        ("tape", "1 at $5.00", Decimal("5.00")),
        ("top", "10.0 (9.0–12.0) h at $20.00", Decimal("200.00")),
        ("overhead", "50 % of direct labour", Decimal("100.00")),
        ("profit", "10 %", Decimal("34.50")),
        ("tax", "8 % on materials", Decimal("3.60")),
    ]
    assert got.unpriced == ("free",)
    assert got.total == Money.of(315 + 31.5 + 3.6, 345 + 34.5 + 3.6, 405 + 40.5 + 3.6)
    assert got.per_ft2.likely == Decimal("4.79") and got.per_area("metric").likely == Decimal("51.55")
    on_all = price.price(*parts(), Rates.model_validate({**keys, "tax_on": "all"}), 80.0)
    assert on_all.lines[-1].money.likely == Decimal("30.36") and on_all.lines[-1].detail == "8 % on all"


def test_no_profit_and_no_tax_no_line() -> None:
    """Overhead stands even at none, for it is asked after; profit and tax do not."""
    plain = price.price(*parts(), Rates.model_validate({"hour": 20, "overhead": "0 %"}), 0.0)
    assert [one.group for one in plain.lines][-1] == "overhead" and plain.lines[-1].money == price.NOTHING
    assert plain.per_ft2 == price.NOTHING and plain.total.likely == Decimal("245.00")
    told = plain.as_dict()
    assert (told["net_ft2"], told["unpriced"], told["total"]["likely"]) == (0.0, ["free"], 245.0)
    assert told["lines"][0] == plain.lines[0].as_dict() and told["lines"][0]["group"] == "materials"
    euro = price.price(*parts(), Rates.model_validate({"hour": 20}), 80.0, "EUR")
    assert euro.lines[3].detail.endswith("h at 20.00 EUR")


# --- protection ------------------------------------------------------------------------------------------------------


def test_the_line_of_floor_cover() -> None:
    """10 ft of wall at the least 3 ft are 30 ft², at .50 15.00; in metres 2.8 m² at 5.38."""
    job, one = offer((coat(),), "hall", protection={"price_per_ft2": 0.5, "least_width": "3 ft"})
    (strip,) = protection.strips(job, one, lambda *_: 0.0)
    assert (strip.length_ft, strip.width_ft, strip.area_ft2, strip.run_off_floz) == (10.0, 3.0, 30.0, 0.0)
    assert strip.as_dict() == {
        "wall": "hall, n", "length_ft": 10.0, "run_off_floz": 0.0, "width_ft": 3.0, "ft2": 30.0
    }  # fmt: skip
    line = protection.line(job, (strip,))
    assert (line.group, line.what, line.money) == ("protection", "floor cover", Money.exactly(15))
    assert line.detail == "30.0 ft² at $0.50 per ft²"
    abroad, _ = offer((coat(),), "hall", protection={"price_per_ft2": 0.5}, units="metric", currency="EUR")
    assert protection.line(abroad, (strip,)).detail == "2.8 m² at 5.38 EUR per m²"


def test_tools_once_in_order_of_use() -> None:
    """A tool that two layers use is named where it is first used."""
    layers = (coat(), Odd.model_validate({"name": "second", "material": PASTE}))
    assert protection.tools(offer(layers, "hall", "study")[1]) == ("trowel", "hawk", "brush")


def test_only_water_that_is_poured_reaches_the_floor() -> None:
    """.5 fl oz/ft² on 4 ft of height are 2 fl oz for each foot of wall: of water, and not of another liquid."""
    spirit = Material.model_validate({"name": "spirit", "class": "alcohol"})
    for material, told in ((WATER, 2 / 128), (spirit, 0.0)):
        wet = OddLiquid.model_validate({"name": "l", "material": material, "dose": "0.25-0.5 fl oz/ft2"})
        assert protection.rinsing(Finish("any", (wet,)), 48.0) == pytest.approx(told)
        assert protection.can_run(Finish("any", (wet,)))
    assert not protection.can_run(Finish("any", (coat(), OddAct(name="a"))))


# --- numbers in words ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("gallons", "imperial", "metric"),
    [
        (2.0, "2.00 gal", "7.57 L"),
        (0.25, "0.25 gal", "946 ml"),
        (0.2499, "32.0 fl oz", "946 ml"),
        (0.5 / 128, "0.5 fl oz", "14.8 ml"),
        (0.49 / 128, "2.9 tsp", "14.5 ml"),
        (0.26417, "0.26 gal", "1.00 L"),
        (0.03, "3.8 fl oz", "114 ml"),
    ],
)
def test_volumes_in_words(gallons: float, imperial: str, metric: str) -> None:
    """Gallons from a quart on, ounces from half an ounce on, teaspoons below; litres from one on."""
    assert words.volume(gallons) == imperial
    assert words.volume(gallons, "metric") == metric


def test_little_left_over_is_a_dash() -> None:
    """A twentieth of a teaspoon is told, less is not."""
    assert words.left_over(0.051 / 768) == "0.1 tsp" and words.left_over(0.049 / 768) == "—"


@pytest.mark.parametrize(
    ("inches", "imperial", "metric"),
    [(96.0, "8 ft", "2.44 m"), (99.0, "8 ft 3 in", "2.51 m"), (6.5, "6.5 in", "0.17 m"), (12.1, "1 ft", "0.31 m")],
)
def test_lengths_in_words(inches: float, imperial: str, metric: str) -> None:
    """Feet and inches to the quarter, or metres to the centimetre."""
    assert (words.length(inches), words.length(inches, "metric")) == (imperial, metric)


def test_areas_films_and_rates_in_words() -> None:
    """Thousands have a comma; thin films two digits; a metre squared is 10.7639 ft²."""
    assert (words.area(1234.5), words.area(1234.5, "metric")) == ("1,234.5 ft²", "114.7 m²")
    assert (words.some_area(0.0), words.some_area(0.04)) == ("—", "0.0 ft²")
    assert (words.area_unit(), words.area_unit("metric")) == ("ft²", "m²")
    assert words.per_area() == 1.0 and words.per_area("metric") == pytest.approx(10.7639, abs=1e-4)
    assert [words.film(mil) for mil in (0.49, 0.5, 9.94, 9.96, 123.4)] == [
        "",
        "0.5 mil",
        "9.9 mil",
        "10 mil",
        "123 mil",
    ]
    assert words.rate(Span(99.4, 100, 1200)) == "99.4–1,200 ft²/h"


def test_money_in_words() -> None:
    """A sign stands before the number, letters after it; a range only where there is one."""
    assert words.money(Decimal("1234.5"), "$") == "$1,234.50" and words.money(Decimal(3), "CHF") == "3.00 CHF"
    assert words.round_money(Decimal("1234.5"), "£") == "£1,234" and words.round_money(Decimal(99), "SEK") == "99 SEK"
    assert words.money_range(Money.of(1, 2, 3), "$") == "$2.00 ($1.00–$3.00)"
    assert words.money_range(Money.exactly(2), "$") == "$2.00"


def test_times_counts_and_shares_in_words() -> None:
    """Minutes below an hour, days from 72 h on; "1 room" and "2 rooms"; three digits of a share."""
    got = [words.time(*one) for one in ((1 / 6, 0.5), (0.5, 1.0), (3, 5), (24, 71), (48, 72), (6, 6))]
    assert got == ["10–30 min", "0.5–1 h", "3–5 h", "24–71 h", "2–3 days", "6 h"]
    assert (words.hours(Span(1, 2, 3)), words.hours(Span.exactly(2.04))) == ("2.0 (1.0–3.0)", "2.0")
    assert [words.count(n, "room") for n in (0, 1, 2)] == ["0 rooms", "1 room", "2 rooms"]
    assert [words.per_cent(one) for one in (0.5, 0.1234, 1.0)] == ["50 %", "12.3 %", "100 %"]


@pytest.mark.parametrize(
    ("text", "told"),
    [("1 in", "25 mm"), ("2 in", "50 mm"), ("0.1 in", "2.5 mm"), ("3/16 in", "4.8 mm"), ("1/5 in", "5 mm")],
)
def test_inches_on_a_metric_sheet(text: str, told: str) -> None:
    """To the 5 mm from 50 on, to the millimetre from 5 on, else two digits."""
    assert words.in_units(text, "metric") == told


def test_cans_below_a_litre_tell_millilitres() -> None:
    """A US pint is 473.176 ml."""
    pint = cheapest(0.1, [Container.model_validate({"size": "1 pt"})])
    assert words.bought(pint, "metric") == "1 × 1 pt (473 ml)"
