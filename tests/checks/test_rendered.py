"""The committed path-traced scenes, measured as a user would: from the photo to named checks."""

from functools import cache

import pytest

from grainlog.checks.follow import IDENTITY, CheckLook, follow
from grainlog.checks.record import record_of_checks
from grainlog.checks.register import register
from grainlog.survey import measure_photo
from tests.accuracy import samples
from tests.check_accuracy import COMMITTED, found_in, look_in, truths_of
from tests.checks.scoring import score


@cache
def measured(name):
    sample = next(one for one in samples([COMMITTED]) if one.photo.stem == name)
    survey = measure_photo(sample.photo, sample.request)
    return sample, survey, found_in(survey), look_in(survey)


def test_checks_of_a_photo():
    sample, survey, found, _ = measured("checks-605")
    result = score(found, truths_of(sample, survey.plane, survey.frame))
    assert result.recall >= 0.85 and result.precision >= 0.85
    assert all(truth.kind == check.kind for truth, check in result.pairs)
    record = record_of_checks(found, survey.frame.length, lambda mm: survey.plane.to_px(survey.frame.to_plane(mm)))
    for check in record:
        assert all(0 <= x < survey.photo.width and 0 <= y < survey.photo.height for x, y in check["path_px"])
        assert check["from_butt_mm"] + check["from_top_mm"] <= survey.frame.length


def test_a_slab_without_checks_has_hardly_a_long_one():
    """At most one: where its heartwood meets the sapwood, a line that looks like a check."""
    _, _, found, _ = measured("plain-621")
    assert sum(check.length > 40 for check in found.checks) <= 1


def test_a_slab_is_followed_through_its_first_and_last_day():
    looks, numbers, first = [], [], None
    for name in ("series-a-1", "series-a-4"):
        sample, survey, found, look = measured(name)
        matrix = IDENTITY
        if first is None:
            first = look
        else:
            laid = register(first, look)
            assert laid.shrinkage == pytest.approx(sample.truth["shrunk"], abs=0.003)
            matrix = laid.matrix
        pairs = score(found, truths_of(sample, survey.plane, survey.frame)).pairs
        looks.append(CheckLook(sample.truth["days"], found.checks, matrix))
        numbers.append({id(check): truth for truth, check in pairs})
    before, after = follow(looks)
    named = {numbers[0][id(s.check)].number: s for s in before if id(s.check) in numbers[0]}
    again = {numbers[1][id(s.check)].number: s for s in after if id(s.check) in numbers[1]}
    both = named.keys() & again.keys()
    assert len(both) >= 2
    assert all(named[number].name == again[number].name for number in both)
    assert all(again[number].change.state in ("grown", "unchanged") for number in both)
