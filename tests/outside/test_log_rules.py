"""Log rules against printed values, each with its source; the plan itself only against the geometry of a circle."""

import math

import pytest

from grainlog.fit.log_rules import doyle, international_quarter, scribner, to_nearest_5
from grainlog.fit.sawing_plan import Log, Mill, plan
from grainlog.units.factors import MM3_PER_BOARD_FOOT

INCH, FOOT = 25.4, 304.8


@pytest.mark.parametrize(
    "diameter, length, printed",
    # A printed Doyle table, read; it rounds halves up.
    [(10, length, feet) for length, feet in zip((8, 10, 12, 14, 16, 18, 20), (18, 23, 27, 32, 36, 41, 45), strict=True)]
    + [
        (12, 16, 64),
        (16, 16, 144),
        (20, 16, 256),
        (24, 16, 400),
        (30, 16, 676),
        (36, 16, 1024),
        (8, 16, 16),
        (20, 8, 128),
    ],
)
def test_doyle_is_the_printed_table(diameter, length, printed):
    assert math.floor(doyle(diameter * INCH, length * FOOT) + 0.5 + 1e-9) == printed


@pytest.mark.parametrize(
    "diameter, exact, rounded",
    # Worked from the formula of Michigan Compiled Laws 290.401 as transcribed with 0.905, 16 ft, and rounded to 5.
    [(10, 64.65, 65), (12, 96.94, 95), (16, 180.64, 180), (20, 289.82, 290), (24, 424.48, 425)],
)
def test_international_quarter_inch(diameter, exact, rounded):
    feet = international_quarter(diameter * INCH, 16 * FOOT)
    assert feet == pytest.approx(exact, abs=0.005) and to_nearest_5(feet) == rounded
    # The closed form for 16 ft, by algebra: 0.905 (0.88 D^2 - 1.52 D - 1.36).
    assert feet == pytest.approx(0.905 * (0.88 * diameter**2 - 1.52 * diameter - 1.36))
    # The law prints 0.904762 for 0.905: less than a board foot apart on a log of any such size.
    assert feet * 0.904762 / 0.905 == pytest.approx(feet, abs=0.2)


@pytest.mark.parametrize(
    "diameter, table",
    # Scribner Decimal C, 16 ft, in board feet: an old printed table (30 in), and values from the Forest Service volume
    # routine's factors as ported in a public transcription (the rest). The formula only approximates the table.
    [(12, 80), (14, 110), (16, 160), (18, 210), (20, 280), (24, 400), (28, 580), (30, 660)],
)
def test_the_scribner_formula_keeps_near_the_table(diameter, table):
    feet = scribner(diameter * INCH, 16 * FOOT)
    # 12.8 apart at the most on small logs, 3.6 % on large ones.
    assert abs(feet - table) <= max(13, 0.036 * table)


@pytest.mark.parametrize("diameter, feet", [(12, 85.8), (16, 166.2), (20, 272.0), (24, 403.0)])
def test_the_scribner_formula_itself(diameter, feet):
    """University of Missouri page code, worked by hand for 16 ft."""
    assert scribner(diameter * INCH, 16 * FOOT) == pytest.approx(feet, abs=0.05)


def test_logs_too_small_for_a_rule_have_no_value():
    assert doyle(4 * INCH, 8 * FOOT) is None and scribner(3 * INCH, 8 * FOOT) is None
    assert international_quarter(2 * INCH, 8 * FOOT) is None


def test_slabs_without_kerf_fill_a_cylinder():
    """Area between chords of a circle, summed: all of it, less two caps r^2 (acos(c) - c sqrt(1 - c^2)), c = h / r."""
    made = plan(Log(600, 600, 3000), Mill(50, 0.0), first_cut_mm=25.0, least_face_mm=1.0)
    top, bottom = made.slabs[0].top_mm, made.slabs[-1].bottom_mm
    cap = lambda c: 300.0**2 * (math.acos(c) - c * math.sqrt(1 - c * c))  # noqa: E731
    area = math.pi * 300.0**2 - cap(top / 300) - cap(-bottom / 300)
    assert made.board_feet.value == pytest.approx(area * 3000 / MM3_PER_BOARD_FOOT, rel=2e-4)
    for before, after in zip(made.slabs, made.slabs[1:], strict=False):
        assert before.bottom_mm == pytest.approx(after.top_mm)


def test_a_slab_through_the_middle_of_a_cone():
    """A thin slab through the axis of a cone is a trapezoid: mean width is the mean of the two diameters."""
    made = plan(Log(500, 700, 2400), Mill(2, 5.0), first_cut_mm=249.0)
    middle = next(slab for slab in made.slabs if slab.holds_pith)
    assert middle.width_mm.value == pytest.approx(600, rel=1e-4)
    assert middle.narrow_mm == pytest.approx(500, rel=1e-4) and middle.wide_mm == pytest.approx(700, rel=1e-4)
    assert middle.board_feet.value == pytest.approx(600 * 2400 * 2 / MM3_PER_BOARD_FOOT, rel=1e-4)


def test_a_chord_from_the_schoolbook():
    """3-4-5: a chord 3 from the middle of a circle of radius 5 is 8 long."""
    made = plan(Log(500, 500, 1000), Mill(300, 0.0, greatest_mm=300.0), first_cut_mm=100.0)
    (slab,) = made.slabs
    assert (slab.top_mm, slab.bottom_mm) == (150.0, -150.0)
    assert [cut.width_mm for cut in made.cuts] == pytest.approx([400.0, 400.0])
    assert [cut.excess_mm for cut in made.cuts] == pytest.approx([100.0, 100.0])


def test_nine_slabs_of_two_and_a_half_inches():
    """Common practice, no source: one yard log gave nine such slabs. 28 in at the small end does, by plain geometry."""
    assert len(plan(Log(28 * INCH, 30 * INCH, 9 * FOOT), Mill(63.5, 9.0)).slabs) == 9
