"""The outline that stands for each slab, and the sieve of slabs that may hold a piece."""

import json

import numpy as np
import pytest

from grainlog.fit import piece
from grainlog.yard import SlabFacts, Yard
from grainlog.yard.fit_request import FindRequest
from tests.yard.filings import filing


@pytest.fixture
def yard(tmp_path):
    (tmp_path / "photos").mkdir()
    with Yard.start(tmp_path / "yard") as opened:
        for seed, (length, width) in enumerate(((2000, 500), (2400, 700), (1500, 650))):
            opened.add(filing(tmp_path / "photos", seed, length_mm=float(length), width_mm=float(width)))
        yield opened


def test_outlines_come_back_as_they_were_filed(yard):
    newest = yard.outlines.newest([1, 2, 3, 99])
    assert sorted(newest) == [1, 2, 3]
    for survey, drawn in yard.outlines.of(list(newest.values())):
        record = next(s.record for n in newest for s in yard.slab(n).surveys if s.id == survey)
        assert np.array_equal(drawn.wood, np.array(record["outline"]["wood_mm"]))
        assert np.array_equal(drawn.bark, np.array(record["outline"]["bark_mm"]))
        assert json.dumps([hole.tolist() for hole in drawn.holes]) == json.dumps(
            [[[float(v) for v in point] for point in hole] for hole in record["outline"]["wood_holes_mm"]]
        )


def test_the_newest_survey_counts(yard, tmp_path):
    before = yard.outlines.newest([1])[1]
    again = filing(
        tmp_path / "photos", 50, SlabFacts(number=1), taken="2026-03-04T10:20:30", length_mm=1990.0, width_mm=480.0
    )
    yard.add(again)
    assert yard.outlines.newest([1])[1] != before
    ((_, drawn),) = yard.outlines.of([yard.outlines.newest([1])[1]])
    assert np.ptp(drawn.wood[:, 1]) == 480.0


@pytest.mark.parametrize("size", [(1900, 450), (1400, 600), (2300, 690), (2390, 640), (2500, 700), (1450, 640)])
def test_the_sieve_lets_everything_through_that_is_found(yard, size):
    request = FindRequest((piece.straight(*size),), limit=50, misses=50)
    found = yard.fits.find(request)
    may_hold, nearly = yard.fits.may_hold(request)
    assert {one.candidate.number for one in found.answers} <= set(may_hold)
    assert {one.candidate.number for one in found.misses} <= {*may_hold, *nearly}
    assert not {*may_hold} & {*nearly}


def test_an_older_outline_of_a_slab_is_not_sieved(yard, tmp_path):
    request = FindRequest((piece.straight(2300.0, 650.0),))
    assert yard.fits.may_hold(request)[0] == [2]
    yard.add(
        filing(
            tmp_path / "photos", 51, SlabFacts(number=2), taken="2026-03-04T10:20:30", length_mm=900.0, width_mm=300.0
        )
    )
    assert yard.fits.may_hold(request) == ([], [])
