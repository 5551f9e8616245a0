"""The checks step of the pipeline: in the record with its sums, left out when asked, also within a drawn outline."""

from dataclasses import replace

import numpy as np
import pytest

from grainlog.scale.plane import FacePlane
from grainlog.scale.priors import HARD
from grainlog.scale.solve import solve
from grainlog.survey import HandOutline, measure_photo, record_of
from grainlog.survey.measure import STEPS
from grainlog.survey.uncertainty import CUP_MM, EdgeDoubt, measure_face
from tests.accuracy import SAMPLES, samples
from tests.scale.simulate import scene


@pytest.fixture(scope="module")
def sample():
    return next(one for one in samples([SAMPLES / "checks"]) if one.photo.stem == "checks-605")


@pytest.fixture(scope="module")
def survey(sample):
    steps = []
    made = measure_photo(sample.photo, sample.request, steps.append)
    assert tuple(steps) == STEPS
    return made


def test_the_record_lists_each_check_and_what_they_come_to(survey, sample):
    record = record_of(survey)
    assert len(record["checks"]) >= 5
    length = record["face"]["length_mm"]["value"]
    for check in record["checks"]:
        path, px, width = np.array(check["path_mm"]), np.array(check["path_px"]), np.array(check["width_mm"])
        assert len(path) == len(px) == len(width)
        assert np.abs(survey.plane.to_px(survey.frame.to_plane(path)) - px).max() < 0.05
        assert np.linalg.norm(np.diff(path, axis=0), axis=1).sum() == pytest.approx(check["length_mm"], rel=0.03)
        assert check["length_u_mm"] > 0 and check["max_width_u_mm"] > 0 and 0.5 < check["confidence"] <= 1
        assert (check["kind"] == "end") == (check["end"] is not None)
        assert check["from_butt_mm"] + np.ptp(path[:, 0]) + check["from_top_mm"] == pytest.approx(length, abs=3)
    sums = record["check_summary"]
    assert sums["number"] == {kind: sum(c["kind"] == kind for c in record["checks"]) for kind in ("end", "surface")}
    whole, one, both = sums["sound_length"]
    assert whole["value"] == length and whole["u"] == record["face"]["length_mm"]["u"]
    assert whole["value"] > one["value"] > both["value"] and both["u"] > whole["u"]
    # The published smallest size at this distance: a pixel is 0.79 mm here.
    assert 0.7 <= sums["smallest_claimed_mm"] < 1.0 and sums["mm_per_px"] == pytest.approx(0.79, abs=0.02)


def test_most_of_the_true_check_length_is_in_the_record(survey, sample):
    """The truth of a rendered photo, in its own pixels."""
    found = np.vstack([check["path_px"] for check in record_of(survey)["checks"]])
    wide = [np.array(c["path_px"])[np.array(c["width_mm"]) > 1.5] for c in sample.truth["checks"]]
    true = np.vstack([path for path in wide if len(path)])
    away = np.linalg.norm(true[:, None] - found[None], axis=2).min(1)
    assert np.mean(away < 6) > 0.8


def test_left_out_when_asked(sample):
    record = record_of(measure_photo(sample.photo, replace(sample.request, checks=False)))
    assert record["checks"] == [] and not any(name.startswith("check_") for name in record)


def test_a_drawn_outline_gets_checks_too(sample, survey):
    drawn = HandOutline(np.array(sample.truth["outline"]["wood_px"]), as_drawn=True)
    made = measure_photo(sample.photo, replace(sample.request, outline=drawn))
    assert made.checks is not None
    assert abs(len(made.checks.checks) - len(survey.checks.checks)) <= 2


@pytest.mark.parametrize("rise", [5.0, 15.0])
def test_edges_that_stand_higher_look_wider_and_the_cup_allows_for_it(rise):
    """A pinhole camera 2.3 m up: a width whose both ends are 15 mm higher looks 0.65 % wider (similar triangles)."""
    height, half = 2300.0, 300.0
    looks = half * height / (height - rise) - half
    assert looks / half == pytest.approx(rise / height, rel=0.01)
    if rise == 15.0:
        assert looks / half == pytest.approx(0.0065, abs=0.0001)
    simulated = scene(31, 4, "floor", HARD, imperfect=0.0)
    plane = FacePlane(solve([simulated.view], simulated.setup))
    wood = plane.to_mm(simulated.outline_px)
    doubt = EdgeDoubt(0.5, 1.0, 0.5, 1.0)
    flat, cupped = (measure_face(plane, wood, (), None, doubt, None, cup).quantities for cup in (None, rise))
    true_error = rise / plane.camera_mm[2]
    for name in ("width_min_mm", "width_mean_mm", "width_max_mm", "area_mm2"):
        value = cupped[name].value
        assert cupped[name].budget["tilt and cup"] >= true_error * value
        assert cupped[name].u > flat[name].u and value == flat[name].value
    assert cupped["length_mm"].u == flat["length_mm"].u
    # A cup that was read and is small makes a width surer than one that nobody read.
    sure = measure_face(plane, wood, (), None, doubt, None, 0.0).quantities
    assert sure["width_mean_mm"].u < flat["width_mean_mm"].u and CUP_MM == 2.0
