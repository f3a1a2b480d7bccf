"""Published spread-rate cases, met by the estimate's own volumes.

A coating with volume solids VS leaves a wet film of DFT / VS for a dry film DFT, so 1604.1667 x VS / DFT ft² come from
a gallon (DFT in mil; NIST Handbook 44, Appendix C for the gallon).
"""

from __future__ import annotations

import pytest

from render import units
from render.estimate.quantities import layer_line
from render.layers.base import Coat
from render.materials import Material


class Paint(Coat):
    """A coat for tests."""

    kind: str = "test_paint"


def paint(spread: str, **keys: str) -> Paint:
    """Return a coat at a spread."""
    return Paint.model_validate(
        {"name": "paint", "material": Material(name="m", **{"class": "paint"}), "spread": spread, **keys}
    )


@pytest.mark.parametrize(
    ("solids", "dry_mil", "ft2_per_gal"),
    [(0.65, 5.0, 208.5), (0.35, 2.0, 281.0), (0.50, 1.0, 802.0)],
    ids=["65 % at 5 mil", "35 % at 2 mil", "50 % at 1 mil"],
)
def test_theoretical_coverage_coatings_bulletins(solids: float, dry_mil: float, ft2_per_gal: float) -> None:
    """Coatings bulletins: 208.5, 281 and 802 ft²/gal; a gallon at that spread lies DFT / VS thick, to half a digit."""
    wet = units.film_mil(1.0, ft2_per_gal)
    assert 1604.1667 * solids / dry_mil == pytest.approx(ft2_per_gal, abs=0.5)
    assert wet * solids == pytest.approx(dry_mil, rel=0.5 / ft2_per_gal)


def test_transfer_efficiency_joseph_2003() -> None:
    """Joseph 2003: 52 % solids, 30 % transferred, 1.5 mil: 167 ft² from a gallon."""
    spread = units.MIL_FT2_PER_GAL * 0.52 * 0.30 / 1.5
    assert spread == pytest.approx(167, abs=0.5)


def test_metric_coverage_coatings_bulletin() -> None:
    """65 % at 125 um cover 5.2 m²/L: that spread on 5.2 m² takes one litre, 192.3 um wet."""
    line = layer_line(paint("5.2 m2/L"), units.value("5.2 m2", "area"))
    assert line.product.likely == pytest.approx(units.value("1 L", "volume"), rel=1e-9)
    wet = units.film_mil(line.product.likely, line.area_ft2)
    assert wet * 25.4 * 0.65 == pytest.approx(125.0, rel=1e-6)


def test_wet_film_of_400_ft2_per_gal() -> None:
    """400 ft²/gal lie 4.010 mil (101.9 um) wet; thinned by a tenth of its volume a tenth more."""
    plain, thinned = (layer_line(paint("400 ft2/gal", thin=thin), 400.0) for thin in ("0 %", "10 %"))
    assert units.film_mil(plain.mixed.likely, 400.0) == pytest.approx(4.010, abs=5e-4)
    assert units.film_mil(plain.mixed.likely, 400.0) * 25.4 == pytest.approx(101.9, abs=0.05)
    assert units.film_mil(thinned.mixed.likely, 400.0) == pytest.approx(1.1 * 1604.1667 / 400, rel=1e-7)


def test_gallons_of_two_countries() -> None:
    """A bare "gal" is the US one; an imperial gallon is 1.20095 of it (160 against 128 fl oz of different size)."""
    assert units.value("1 gal", "volume") == 1.0
    assert units.value("1 imp gal", "volume") == pytest.approx(4546.09 / 3785.411784, rel=1e-12)


@pytest.mark.parametrize(
    ("spread", "thin", "coverage", "area", "mil"),
    [("180 ft2/gal", "0 %", "100 %", 180.0, 8.91), ("75 ft2/gal", "0 %", "100 %", 75.0, 21.39)],
    ids=["sanded base", "crackling plaster"],
)
def test_common_practice_films(spread: str, thin: str, coverage: str, area: float, mil: float) -> None:
    """Common practice, no source: a sanded base at 180 ft²/gal is 8.9 mil, a crackling plaster at 75 is 21.4 mil."""
    line = layer_line(paint(spread, thin=thin, coverage=coverage), area)
    assert line.product.likely == pytest.approx(1.0)
    assert units.film_mil(line.product.likely, area) == pytest.approx(mil, abs=0.005)


def test_a_thick_top_plaster_by_common_practice() -> None:
    """Common practice, no source: 60-70 ft²/gal over 80 %, thinned 10-30 %: 80 ft² take 1.14-1.33 gal and water."""
    line = layer_line(paint("60-70 ft2/gal", thin="10-30 %", coverage="80 %"), 80.0)
    assert (line.product.low, line.product.high) == pytest.approx((80 / 70, 80 / 60))
    assert (line.mixed.low, line.mixed.high) == pytest.approx((1.1 * 80 / 70, 1.3 * 80 / 60))
