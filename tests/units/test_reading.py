"""What people write, and what must be refused."""

from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from grainlog.errors import WrongUse
from grainlog.units import (
    UnitsError,
    format_length,
    format_size,
    parse_area,
    parse_board_feet,
    parse_length,
    parse_size,
    parse_thickness,
    parse_volume,
)

# A busy machine is no failure: the clock has no say in these tests.
UNHURRIED = settings(deadline=None)

INCH = 25.4


@pytest.mark.parametrize(
    ("text", "mm"),
    [
        ("63.5mm", 63.5),
        ("63,5 mm", 63.5),
        ("0,800m", 800.0),
        (".5in", 12.7),
        ("2 1/2in", 63.5),
        ("2-1/2\"", 63.5),
        ("2½ in", 63.5),
        ("2 1⁄2″", 63.5),
        ("½in", 12.7),
        ("10 Inches", 254.0),
        ("2''", 50.8),
        ("6' 4 1/2\"", 76.5 * INCH),
        ("6’ 4 1/2”", 76.5 * INCH),
        ("6'-4 1/2\"", 76.5 * INCH),
        ("6ft 4in", 76 * INCH),
        ("6'4", 76 * INCH),
        ("6'", 1828.8),
        ("7 1/2 ft", 2286.0),
        ("0.8m", 800.0),
        ("80 cm", 800.0),
        ("3 metres", 3000.0),
    ],
)
def test_a_length_is_read_exactly(text, mm):
    assert parse_length(text) == pytest.approx(mm, rel=1e-15)


@pytest.mark.parametrize(
    ("text", "reason"),
    [
        ("72", "no unit"),
        ("8/4", "no unit"),
        ("", "not a length"),
        ("nan", "not a length"),
        ("nan mm", "not a length"),
        ("inf mm", "not a length"),
        ("1e3mm", "not a length"),
        ("٣mm", "not a length"),
        ("1.2.3mm", "not a length"),
        ("-3mm", "negative"),
        ("−3 mm", "negative"),
        ("0mm", "nothing"),
        ("0", "no unit"),
        ("1/0in", "divides by zero"),
        ("2 5/2in", "fraction of one or more"),
        ("6' 14\"", "foot or more"),
        ("1,200mm", "1200 or as 1.200"),
        ("3 stone", "unit that is not known"),
        ("99999999mm", "larger"),
        ("9" * 500 + "mm", "too long"),
    ],
)
def test_what_cannot_be_meant_is_refused_in_one_sentence(text, reason):
    with pytest.raises(UnitsError, match=reason) as refusal:
        parse_length(text)
    assert isinstance(refusal.value, WrongUse)
    assert str(refusal.value).count(". ") == 0 and str(refusal.value).endswith(".")


def test_a_default_unit_serves_bare_numbers_only():
    assert parse_length("30", default_unit="in") == 762.0
    assert parse_length("30mm", default_unit="in") == 30.0
    assert parse_length("2 1/2", default_unit="in") == 63.5


def test_nothing_is_allowed_where_it_can_be_meant():
    assert parse_length("0mm", allow_zero=True) == 0.0
    assert parse_length("0", allow_zero=True) == 0.0


def test_quarters_are_a_thickness_from_four_up():
    assert parse_thickness("8/4") == 50.8
    assert parse_thickness("5/4") == 31.75
    assert parse_thickness("2 1/2in") == 63.5
    with pytest.raises(UnitsError):
        parse_thickness("3/4")


@pytest.mark.parametrize(
    ("text", "size"),
    [
        ("72x32in", (1828.8, 812.8)),
        ("72 in × 32", (1828.8, 812.8)),
        ("6' x 32\"", (1828.8, 812.8)),
        ("6' 4\" by 32 1/2in", (76 * INCH, 32.5 * INCH)),
        ("1800 X 800 mm", (1800.0, 800.0)),
        ("1.8m*80cm", (1800.0, 800.0)),
    ],
)
def test_a_size_is_two_lengths(text, size):
    assert parse_size(text) == pytest.approx(size, rel=1e-15)


@pytest.mark.parametrize("text", ["72in", "72x32", "5x", "x5in", "1x2x3in", "6 x 2' 4\"", "0x5in", "-2x5in"])
def test_half_a_size_is_refused(text):
    with pytest.raises(UnitsError):
        parse_size(text)
    assert parse_size("72x32", default_unit="in") == pytest.approx((1828.8, 812.8))


def test_areas_and_volumes():
    for text in ("12 sq ft", "12ft2", "12 ft²", "12 sqft", "12 square feet", "1728 sq in"):
        assert parse_area(text) == pytest.approx(12 * 304.8**2, rel=1e-15)
    assert parse_area("0.8m2") == 800_000.0
    assert parse_area("5", default_unit="m2") == 5e6
    assert parse_volume("0.1 m3") == 1e8
    assert parse_volume("1 board foot") == pytest.approx(144 * INCH**3, rel=1e-15)
    assert parse_board_feet("40") == parse_board_feet("40 bf") == parse_board_feet("40 board feet") == 40.0
    assert parse_board_feet("3 cu ft") == 36.0
    for text in ("12", "12 ft", "0 sq ft", "12 sq stone", "x"):
        with pytest.raises(UnitsError):
            parse_area(text)
    for text in ("12", "12 ft2", "0 BF", "-1 BF"):
        with pytest.raises(UnitsError):
            parse_volume(text)


sixteenths = st.integers(min_value=1, max_value=16 * 600)


@UNHURRIED
@given(sixteenths)
def test_inches_go_out_and_come_back(count):
    mm = float(Fraction(count, 16) * Fraction(254, 10))
    assert parse_length(format_length(mm, "in")) == mm


@UNHURRIED
@given(st.integers(min_value=1, max_value=200_000))
def test_tenths_of_a_millimetre_go_out_and_come_back(tenths):
    assert parse_length(format_length(tenths / 10, "mm")) == tenths / 10


@UNHURRIED
@given(sixteenths, sixteenths)
def test_sizes_go_out_and_come_back(long, wide):
    size = tuple(float(Fraction(count, 16) * Fraction(254, 10)) for count in (long, wide))
    assert parse_size(format_size(*size, "in", denominator=16)) == size


@UNHURRIED
@given(st.decimals(min_value="0.001", max_value="3000", places=3), st.sampled_from(["mm", "cm", "in", "ft"]))
def test_a_decimal_comma_is_a_decimal_point(number, unit):
    point = f"{number}1{unit}"
    assert parse_length(point.replace(".", ",")) == parse_length(point)


@UNHURRIED
@given(st.text(alphabet="0123456789 .,/-'\"xinmft", max_size=14))
def test_any_text_is_a_size_or_a_refusal(text):
    try:
        mm = parse_length(text)
    except UnitsError:
        return
    assert 0 < mm <= 1_000_000
