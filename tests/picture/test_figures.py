"""The words of the strip say what the record says, no more."""

import pytest

from grainlog.errors import WrongUse
from grainlog.picture.figures import Trust, summarise, trust, value_and_interval
from tests.picture.example import example


@pytest.fixture(scope="module")
def record():
    return example(width=400, height=300)[1]


def said(record, units):
    return {figure.name: (figure.value, figure.interval) for figure in summarise(record, units).figures}


def test_millimetres(record):
    words = said(record, "mm")
    assert words["length"] == ("2364 mm", "± 3 mm")
    assert words["thickness"] == ("64 mm", "± 2 mm")
    assert words["wood area"][1].endswith("m²")


def test_inches(record):
    words = said(record, "in")
    # 2364 mm / 25.4 = 93.07 in = 7 ft 9.07 in; 2u = 2.8 mm = 0.11 in
    assert words["length"] == ("7 ft 9 1/16 in", "± 1/8 in")
    assert words["board feet"] == ("38.0 BF", "± 1.3 BF")
    assert words["scale cards"] == ("0, 1, 2, 3", "fit 0.08 px")


def test_what_is_not_known_is_not_made_up(record):
    bare = record | {"face": {"thickness_mm": None, "thickness": None, "board_feet": None}, "scale": {}}
    words = said(bare, "in")
    assert words["board feet"] == ("needs thickness", "")
    assert words["thickness"] == ("not given", "")
    assert words["length"] == ("not known", "")
    assert words["scale cards"] == ("none", "")
    assert summarise({}, "in").trust is Trust.LOOK
    assert "not known" in summarise({}, "in").confidence


@pytest.mark.parametrize(
    ("confidence", "warned", "verdict"),
    [
        (0.95, False, Trust.SOUND),
        (0.8, False, Trust.SOUND),
        (0.79, False, Trust.LOOK),
        (0.95, True, Trust.LOOK),
        (0.5, True, Trust.LOOK),
        (0.49, False, Trust.DOUBT),
        (0.0, True, Trust.DOUBT),
        (None, False, Trust.LOOK),
    ],
)
def test_verdict(confidence, warned, verdict):
    assert trust(confidence, warned) is verdict


def test_every_warning_and_every_card_left_out_is_told(record):
    record = record | {
        "warnings": [{"code": "a", "message": "One."}, {"code": "b", "message": "Two."}],
        "scale": record["scale"] | {"left_out": [{"card": 3, "reason": "it is bent"}]},
    }
    assert summarise(record, "in").warnings == ("One.", "Two.", "Card 3 was not used: it is bent.")


def test_a_card_left_out_is_told_once(record):
    told = {"code": "card-not-used", "message": "Card 3 was not used: it is bent."}
    both = record | {"warnings": [told], "scale": record["scale"] | {"left_out": [{"card": 3, "reason": "it is bent"}]}}
    assert summarise(both, "in").warnings == (told["message"],)


def test_a_reminder_is_told_and_casts_no_doubt(record):
    reminded = summarise(record | {"warnings": [{"code": "print-not-measured", "message": "Measure."}]}, "in")
    assert reminded.trust is Trust.SOUND
    assert reminded.reminders == ("Measure.",) and reminded.warnings == ()


def test_no_interval_where_there_is_no_uncertainty():
    assert value_and_interval(63.5, 0.0, "in") == ("2 1/2 in", "")


def test_unknown_units_are_wrong_use(record):
    with pytest.raises(WrongUse):
        summarise(record, "cubits")
