"""Sawing plans: what trimming does, what stays within the log, and how sure the widths are."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from grainlog.fit.sawing_plan import Log, Mill, PlanRefused, plan

SIZES = {
    "small": st.floats(200, 1200), "taper": st.floats(0, 200), "thickness": st.floats(20, 120), "kerf": st.floats(0, 12)
}  # fmt: skip


@settings(max_examples=80, deadline=None)
@given(**SIZES)
def test_every_slab_lies_in_the_log_one_kerf_apart(small, taper, thickness, kerf):
    log, mill = Log(small, small + taper, 2500.0), Mill(thickness, kerf)
    made = plan(log, mill)
    for slab in made.slabs:
        assert slab.top_mm - slab.bottom_mm == pytest.approx(thickness)
        assert max(abs(slab.top_mm), abs(slab.bottom_mm)) < small / 2
        assert 100.0 <= slab.narrow_mm <= slab.width_mm.value + 1e-6 and slab.width_mm.value <= slab.wide_mm + 1e-6
        assert slab.width_mm.u > 0 and slab.board_feet.u > 0
    for before, after in zip(made.slabs, made.slabs[1:], strict=False):
        assert before.bottom_mm - after.top_mm == pytest.approx(kerf)
    assert len(made.cuts) == (len(made.slabs) + 1 if made.slabs else 0)
    cone = math.pi / 12 * 2500 * (small**2 + small * (small + taper) + (small + taper) ** 2)
    assert made.board_feet.value * 144 * 25.4**3 <= cone * (1 + 1e-9)
    # Both ways about the pith are symmetric.
    assert [slab.width_mm.value for slab in made.slabs] == pytest.approx([s.width_mm.value for s in made.slabs[::-1]])


@settings(max_examples=60, deadline=None)
@given(**SIZES, share=st.floats(0.55, 0.98), sides=st.sampled_from([1, 2]), bark=st.floats(0, 30))
def test_trimmed_as_told_every_cut_fits_the_mill(small, taper, thickness, kerf, share, sides, bark):
    log = Log(small, small + taper, 2500.0, bark)
    greatest = share * (log.large_mm + 2 * bark)
    made = plan(log, Mill(thickness, kerf, greatest, sides))
    outer = log.large_mm / 2 + bark
    for cut in made.cuts:
        half = math.sqrt(max(outer**2 - cut.at_mm**2, 0.0))
        assert cut.width_mm == pytest.approx(2 * half)
        right = half if made.right_mm is None else min(half, made.right_mm)
        left = half if made.left_mm is None else min(half, -made.left_mm)
        assert right + left <= greatest + 1e-6
        assert (cut.excess_mm > 0) == (cut.width_mm > greatest)
    assert (made.trim_mm > 0) == any(cut.excess_mm > 0 for cut in made.cuts)
    untrimmed = plan(log, Mill(thickness, kerf))
    if made.trim_mm == 0:
        assert made.board_feet == untrimmed.board_feet
    else:
        assert made.board_feet.value <= untrimmed.board_feet.value + 1e-9


def test_trimming_both_sides_takes_less_from_each():
    one = plan(Log(800, 800, 2500), Mill(60, 8, 740.0, 1))
    two = plan(Log(800, 800, 2500), Mill(60, 8, 740.0, 2))
    assert one.sides == 1 and two.sides == 2 and two.trim_mm < one.trim_mm
    assert two.trim_mm == pytest.approx(400 - 370)
    # The widest cut is a kerf's half and half a slab off the middle, or a kerf through it.
    widest = max(cut.width_mm for cut in one.cuts)
    assert one.trim_mm == pytest.approx(400 - (740 - widest / 2))
    assert max(slab.wide_mm for slab in two.slabs) == pytest.approx(740, abs=1e-9)


def test_the_uncertainty_covers_a_log_that_is_oval():
    """Three logs in a hundred of ovality: widths differ by no more than is said, in the middle less, outside more."""
    made = plan(Log(600, 600, 2500), Mill(60, 8))
    wider = plan(Log(618, 618, 2500), Mill(60, 8), first_cut_mm=309.0 - made.slabs[0].top_mm)
    for slab, other in zip(made.slabs, wider.slabs, strict=False):
        assert abs(other.width_mm.value - slab.width_mm.value) <= slab.width_mm.u * 1.001
    us = [slab.width_mm.u for slab in made.slabs]
    assert us[0] == max(us) and us[len(us) // 2] == min(us)


def test_volume_against_a_crowd_of_points():
    """Counted points of a grid, in a trimmed cone."""
    made = plan(Log(500, 640, 2000), Mill(70, 6, 560.0, 1))
    x, y = np.meshgrid(np.linspace(-319.5, 319.5, 640), np.linspace(-319.5, 319.5, 640))
    for slab in made.slabs:
        areas = []
        for share in (np.arange(20) + 0.5) / 20:
            inside = (x**2 + y**2 <= made.log.radius(share) ** 2) & (y <= slab.top_mm) & (y >= slab.bottom_mm)
            inside &= x <= (made.right_mm if made.right_mm is not None else 1e9)
            areas.append(inside.sum())
        assert slab.board_feet.value == pytest.approx(np.mean(areas) * 2000 / (144 * 25.4**3), rel=0.01)


@pytest.mark.parametrize(
    "log, mill, first, says",
    [
        (Log(0, 500, 2000), Mill(60, 8), None, "greater than zero"),
        (Log(500, 500, -1), Mill(60, 8), None, "greater than zero"),
        (Log(float("nan"), 500, 2000), Mill(60, 8), None, "greater than zero"),
        (Log(600, 500, 2000), Mill(60, 8), None, "change the two over"),
        (Log(500, 500, 2000, -1), Mill(60, 8), None, "or nothing"),
        (Log(500, 500, 2000), Mill(60, -8), None, "or nothing"),
        (Log(500, 500, 2000), Mill(600, 8), None, "thicker than the log"),
        (Log(500, 500, 2000), Mill(60, 8, 0.0), None, "greatest cut"),
        (Log(500, 500, 2000), Mill(60, 8, 200.0), None, "less than half"),
        (Log(500, 500, 2000), Mill(60, 8, 450.0, 3), None, "one side or two"),
        (Log(500, 500, 2000), Mill(60, 8), 600.0, "within the small end"),
        (Log(9000, 9000, 2000), Mill(60, 8), None, "No log is that big"),
    ],
)
def test_what_cannot_be_sawn_is_a_sentence(log, mill, first, says):
    with pytest.raises(PlanRefused, match=says) as told:
        plan(log, mill, first)
    assert str(told.value).endswith(".")
