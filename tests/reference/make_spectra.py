"""Write render/data/spectra_5nm.csv: the tables that the package carries, 380 to 780 nm in steps of 5 nm.

Run by hand, with colour-science installed (test extra): python tests/reference/make_spectra.py
The tables are the published ones, copied without change:
  observer    CIE 1931 2 degree standard observer (ISO/CIE 11664-1)
  D65 D50 A   CIE standard illuminants (ISO/CIE 11664-2)
  LED-B1..B5  typical white LED lamps, CIE 015:2018 table 12
  basis       Mallett & Yuksel 2019, Spectral Primary Decomposition for Rendering with sRGB Reflectance,
              EGSR, doi 10.2312/SR.20191216
"""

from __future__ import annotations

from pathlib import Path

import colour
import numpy as np

ILLUMINANTS = ("D65", "D50", "A", "LED-B1", "LED-B2", "LED-B3", "LED-B4", "LED-B5")
TARGET = Path(__file__).parents[2] / "render" / "data" / "spectra_5nm.csv"
HEAD = """\
# CIE 1931 2 degree observer; CIE illuminants D65, D50, A and LED-B1..B5 (CIE 015:2018); sRGB reflectance
# basis of Mallett & Yuksel 2019 (doi 10.2312/SR.20191216). Made by tests/reference/make_spectra.py.
"""


def main() -> None:
    """Align every table to 380(5)780 nm and write one CSV."""
    shape = colour.SpectralShape(380, 780, 5)
    observer = colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"].copy().align(shape)
    basis = colour.recovery.MSDS_BASIS_FUNCTIONS_sRGB_MALLETT2019.copy().align(shape)
    lamps = [colour.SDS_ILLUMINANTS[name].copy().align(shape).values for name in ILLUMINANTS]
    table = np.column_stack([shape.wavelengths, observer.values, *lamps, basis.values])
    names = ["nm", "xbar", "ybar", "zbar", *ILLUMINANTS, "red", "green", "blue"]
    rows = [",".join(f"{value:.10g}" for value in row) for row in table]
    TARGET.write_text(HEAD + ",".join(names) + "\n" + "\n".join(rows) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
