"""Equilibrium moisture content against what others computed and printed.

Sources:

- Wood Handbook Table 4-2 (FPL-GTR-190), all 361 cells, FROM MEMORY (`emc_table.csv`; no stored copy of the printed table was
  found). The handbook says that it was calculated from the same equation, so equation and table must agree to the
  rounding of the table, 0.05, and a little for its own arithmetic.
- Documentation of an R package on CRAN, function calcEMC_wood: 20 C and 50 % give 9.271141, 21.8 C and 36.8 % give 7.20
  (verified in a public transcription).
- An encyclopaedia's text: 140 F and 55 % give 8.4 by the equation (verified).
- Rule of thumb in print: 30, 50, 65 and 80 % humidity give 6, 9, 12 and 16 % (verified as a rule; taken at 70 F).
- A newer equation of the handbook (FPL-GTR-282 Eq. 4-6, Glass and others 2014), of another form and other data, verified in a
  public transcription; written out here, independent of ours.
"""

import csv
import math
from pathlib import Path

import pytest

from grainlog.drying.emc import emc, emc_fahrenheit

TABLE = list(csv.DictReader((Path(__file__).parent / "emc_table.csv").read_text().splitlines()))
CELLS = [
    (float(row["temp_f"]), int(name[3:]) / 100, float(cell))
    for row in TABLE for name, cell in row.items() if name.startswith("rh_")
]  # fmt: skip


def test_every_cell_of_the_table():
    """The Fahrenheit coefficients reach 0.067 at 150 F and 95 %, the Celsius ones 0.056 in the same cell."""
    assert len(CELLS) == 361
    by_f = {cell: abs(100 * emc_fahrenheit(*cell[:2]) - cell[2]) for cell in CELLS}
    by_c = {cell: abs(100 * emc((cell[0] - 32) / 1.8, cell[1]) - cell[2]) for cell in CELLS}
    assert max(by_f.values()) <= 0.068 and max(by_c.values()) <= 0.057
    # Where the two differ after rounding, they differ by one in the last digit, in few cells.
    assert sum(round(off + 1e-9, 4) > 0.05 for off in by_f.values()) <= 28
    assert sum(round(off + 1e-9, 4) > 0.05 for off in by_c.values()) <= 10
    assert max(by_c, key=by_c.get)[:2] == (150.0, 0.95)


def test_the_table_is_not_so_coarse_that_a_wrong_digit_would_pass():
    """One digit of one coefficient wrong, as seen in a public copy (K2's -2.73e-7 for -2.73e-6), fails above."""
    off = [abs(100 * emc(((f - 32) / 1.8) * 1.02, h) - cell) for f, h, cell in CELLS if 100 < f < 200]
    assert max(off) > 0.1


def test_both_scales_agree():
    for f, h, _ in CELLS:
        assert emc((f - 32) / 1.8, h) == pytest.approx(emc_fahrenheit(f, h), abs=0.00015)


@pytest.mark.parametrize(
    ("celsius", "humidity", "printed", "rounding"),
    [(20, 0.50, 9.271141, 5e-7), (21.8, 0.368, 7.20, 0.005), (60, 0.55, 8.4, 0.05), ((70 - 32) / 1.8, 0.65, 12.0, 0.05)],
)
def test_values_others_printed(celsius, humidity, printed, rounding):
    assert 100 * emc(celsius, humidity) == pytest.approx(printed, abs=rounding)


@pytest.mark.parametrize(("humidity", "rule"), [(0.30, 6), (0.50, 9), (0.65, 12), (0.80, 16)])
def test_rule_of_thumb(humidity, rule):
    assert round(100 * emc((70 - 32) / 1.8, humidity)) == rule


def glass_2014(celsius: float, humidity: float) -> float:
    kelvin, critical = celsius + 273.15, 647.1
    inner = -0.000612 * kelvin * (1 - kelvin / critical) ** 2.43 * math.log(1 - humidity)
    return inner ** (0.0577 * kelvin**0.430)


def test_a_newer_equation_from_other_data_is_within_our_doubt():
    """Over the temperatures and humidities of a shed the two differ by no more than two of our standard uncertainties."""
    for celsius in (5, 10, 15, 20, 25, 30):
        for percent in range(30, 86, 5):
            assert emc(celsius, percent / 100) == pytest.approx(glass_2014(celsius, percent / 100), abs=0.02)
