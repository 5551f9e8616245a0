"""Checks followed in the yard, on a rendered slab of four days whose truth is known exactly."""

import json
import shutil
import sqlite3
from contextlib import closing
from datetime import date, timedelta
from pathlib import Path

import numpy as np
import pytest
import shapely
from PIL import Image

from grainlog.checks.history import HandLook
from grainlog.errors import WrongUse
from grainlog.fit import piece as pieces
from grainlog.yard import NoSuchSlab, SlabFacts, Yard
from grainlog.yard.check_hand import LookRefused
from grainlog.yard.check_view import look_at_survey, mapped, view_of
from grainlog.yard.fit_request import FindRequest
from tests.accuracy import SAMPLES
from tests.checks.dated_series import (
    FIRST,
    dated_series,
    filing_of,
    fill_with_series,
    measured,
)
from tests.checks.scoring import Truth
from tests.yard import filings

TRUTHS = [json.loads((SAMPLES / "checks" / f"series-a-{day}.json").read_text()) for day in (1, 2, 3, 4)]


@pytest.fixture(scope="module")
def filled(tmp_path_factory) -> Path:
    """The series filed in order, followed once."""
    folder = tmp_path_factory.mktemp("followed") / "yard"
    with Yard.start(folder) as yard:
        fill_with_series(yard, tmp_path_factory.mktemp("photos"))
        yard.checks.slab(1)
    return folder


@pytest.fixture
def series(tmp_path) -> list[Path]:
    folder = tmp_path / "series"
    folder.mkdir()
    return [photo for photo, _ in dated_series(folder)]


def names_in(history) -> list[dict[str, tuple]]:
    """Per photo that counts: name to where the check lies in its own frame."""
    return [
        {one.name: tuple(np.round(one.check.path[0], 1)) for one in look.sightings if one.check is not None}
        for look in history.looks
        if look.counts
    ]


def states_of(history, name: str) -> list[str]:
    return [one.change.state for look in history.looks for one in look.sightings if one.name == name]


def test_the_record_alone_tells_how_photo_and_face_hang_together(filled_yard):
    """The way back from pixels, against the solution that the record came from and against the true checks."""
    for survey, truth in zip(reversed(filled_yard.slab(1).surveys), TRUTHS):
        way = mapped(survey.record)
        for check in survey.record["checks"]:
            assert np.abs(way.to_px(np.array(check["path_mm"])) - check["path_px"]).max() < 0.05
            assert np.abs(way.to_mm(np.array(check["path_px"])) - check["path_mm"]).max() < 0.05
        longest = max(truth["checks"], key=lambda one: one["length_mm"])
        told = Truth(way.to_mm(np.array(longest["path_px"])), np.array(longest["width_mm"]), longest["kind"], 0)
        assert np.ptp(told.path[:, 0]) == pytest.approx(longest["length_mm"], rel=0.02)


def test_shrinkage_seen_is_the_true_one(filled_yard):
    looks = filled_yard.checks.slab(1).looks
    assert [look.standing for look in looks] == ["first", "laid", "laid", "laid"]
    for look, truth in zip(looks[1:], TRUTHS[1:]):
        assert look.shrinkage.value == pytest.approx(truth["shrunk"], abs=0.003)
        assert abs(look.shrinkage.value - truth["shrunk"]) < 2 * look.shrinkage.u and look.residual_mm < 2


def test_checks_keep_their_names(filled_yard):
    """Each true check that is found on several days is called the same on all of them."""
    history = filled_yard.checks.slab(1)
    entry = {survey.id: survey.record for survey in filled_yard.slab(1).surveys}
    called: dict[int, list[str]] = {}
    for look, truth in zip(history.looks, TRUTHS):
        way = mapped(entry[look.survey])
        for number, check in ((one["number"], one) for one in truth["checks"]):
            line = shapely.LineString(way.to_mm(np.array(check["path_px"]))).buffer(4)
            for one in look.sightings:
                if one.check is not None and shapely.LineString(one.check.path).intersection(line).length > 0.6 * one.check.length:
                    called.setdefault(number, []).append(one.name)
    often = {number: names for number, names in called.items() if len(names) > 1}
    assert len(often) >= 5
    kept = sum(max(names.count(name) for name in set(names)) for names in often.values())
    assert kept / sum(map(len, often.values())) >= 0.95


def test_growth_follows_the_truth(filled_yard):
    history = filled_yard.checks.slab(1)
    grown = [one for look in history.looks for one in look.sightings if one.change.state == "grown"]
    assert grown and history.running and history.advice
    for one in grown:
        assert one.change.growth_mm > 2 * one.change.growth_u_mm
    assert all("Common practice, no source" in sentence for sentence in history.advice)
    for one in (one for look in history.looks for one in look.sightings):
        assert one.check is None or one.widest_mm >= one.check.max_width


def test_asked_again_nothing_is_laid_anew(filled_yard, monkeypatch):
    before = filled_yard.checks.slab(1)
    monkeypatch.setattr("grainlog.yard.check_pairs.look_at_survey", lambda survey: pytest.fail("looked again"))
    again = filled_yard.checks.slab(1)
    assert names_in(again) == names_in(before) and again.notices == before.notices


def test_a_photo_filed_late_takes_its_place_and_renames_nothing(yard, series, tmp_path):
    fill_with_series(yard, tmp_path / "series", (0, 2, 3))
    before = names_in(yard.checks.slab(1))
    yard.add(filing_of(series[1]))
    history = yard.checks.slab(1)
    assert [look.day for look in history.looks] == [FIRST.date() + timedelta(days=truth["days"]) for truth in TRUTHS]
    after = names_in(history)
    for old, new in zip(before, (after[0], after[2], after[3])):
        assert old == new
    assert [note.code for note in history.looks[1].notes] == ["photo-order"]
    assert any(note.code == "photo-order" and "taken before it" in note.message for note in history.notices)


def test_another_slab_under_this_number_is_refused_and_said(filled_yard, tmp_path):
    photo = shutil.copy(SAMPLES / "checks" / "checks-607.jpg", tmp_path)
    before = names_in(filled_yard.checks.slab(1))
    filed = filled_yard.add(filing_of(Path(photo)))
    history = filled_yard.checks.slab(1)
    (refused,) = [look for look in history.looks if look.standing == "refused"]
    assert refused.survey == filed.survey and refused.code == "another-slab" and not refused.sightings
    assert history.notices[0].code == "not-matched" and "which slab" in history.notices[0].message
    assert names_in(history) == before
    # Filed where it belongs, it is the first photo of its own slab.
    own = filled_yard.add(filings.filing(tmp_path, 5, SlabFacts(log="other"))).slab
    filled_yard.move_survey(filed.survey, own)
    moved = filled_yard.checks.slab(own)
    assert [look.standing for look in moved.looks if look.survey == filed.survey] == ["first"]
    assert [look.standing for look in filled_yard.checks.slab(1).looks] == ["first", "laid", "laid", "laid"]
    assert names_in(filled_yard.checks.slab(1)) == before


def test_the_other_face_is_not_matched_whatever_it_was_called(filled_yard, series, tmp_path):
    """The photo mirrored: what the other face's outline would be, and a figure that no turn brings back."""
    photo = tmp_path / "mirrored.jpg"
    image = Image.open(series[3])
    image.transpose(Image.Transpose.FLIP_LEFT_RIGHT).save(photo, quality=92, exif=image.getexif())
    record = json.loads(json.dumps(measured(series[3].name)))
    width = record["photo"]["width_px"]
    def flip(points):
        return [[width - 1 - x, y] for x, y in points]

    for name in ("wood", "bark", "silhouette"):
        record["outline"][f"{name}_px"] = flip(record["outline"][f"{name}_px"])
        record["outline"][f"{name}_mm"] = [[x, -y] for x, y in record["outline"][f"{name}_mm"]]
    record["scale"]["camera"]["centre_px"][0] = width - 1 - record["scale"]["camera"]["centre_px"][0]
    record["scale"]["cards_px"] = {card: flip(points) for card, points in record["scale"]["cards_px"].items()}
    for check in record["checks"]:
        check["path_px"], check["path_mm"] = flip(check["path_px"]), [[x, -y] for x, y in check["path_mm"]]
    filed = filled_yard.add(filing_of(photo, record))
    history = filled_yard.checks.slab(1)
    (look,) = [look for look in history.looks if look.survey == filed.survey]
    assert look.standing == "refused" and look.code == "turned-over" and "other face" in look.why and not look.sightings


def shortened(record: dict, cut_mm: float) -> dict:
    """The record of the same photo with the top end cut off: outlines and checks clipped."""
    record = json.loads(json.dumps(record))
    way = mapped(record)
    wood = shapely.Polygon(record["outline"]["wood_mm"])
    end = wood.bounds[2] - cut_mm
    left = shapely.box(-1e4, -1e4, end, 1e4)
    for name in ("wood", "bark"):
        ring = np.array(shapely.Polygon(record["outline"][f"{name}_mm"]).buffer(0).intersection(left).exterior.coords)[:-1]
        record["outline"][f"{name}_mm"] = ring.tolist()
        record["outline"][f"{name}_px"] = way.to_px(ring).tolist()
    record["checks"] = [check for check in record["checks"] if np.array(check["path_mm"])[:, 0].max() < end]
    return record


def test_a_slab_cut_shorter_since_is_noticed(filled_yard, series, tmp_path):
    photo = tmp_path / "cut.jpg"
    photo.write_bytes(series[3].read_bytes().replace(b"2026:07:25", b"2026:08:20"))
    filed = filled_yard.add(filing_of(photo, shortened(measured(series[3].name), 150.0)))
    history = filled_yard.checks.slab(1)
    look = history.looks[-1]
    assert look.survey == filed.survey and look.standing == "laid"
    assert [note.code for note in look.notes] == ["cut-shorter"] and "top end" in look.notes[0].message
    gone = [one for one in look.sightings if one.change.state == "cut off"]
    assert gone and all(one.check is None for one in gone)
    assert not any(one.change.state == "shorter" for one in look.sightings)
    assert any(note.code == "cut-shorter" for note in history.notices)


def test_a_slab_ripped_since_is_noticed_and_what_went_with_the_strip_is_cut_off(filled_yard, series, tmp_path):
    photo = tmp_path / "ripped.jpg"
    photo.write_bytes(series[3].read_bytes().replace(b"2026:07:25", b"2026:08:20"))
    record = json.loads(json.dumps(measured(series[3].name)))
    way = mapped(record)
    low = float(np.median([y for _, y in record["outline"]["wood_mm"] if y < 0])) + 50.0
    for name in ("wood", "bark"):
        ring = shapely.Polygon(record["outline"][f"{name}_mm"]).buffer(0).intersection(shapely.box(-1e4, low, 1e4, 1e4)).exterior
        left = np.array(ring.coords)[:-1]
        record["outline"][f"{name}_mm"], record["outline"][f"{name}_px"] = left.tolist(), way.to_px(left).tolist()
    record["checks"] = [check for check in record["checks"] if np.array(check["path_mm"])[:, 1].min() > low]
    filed = filled_yard.add(filing_of(photo, record))
    look = filled_yard.checks.slab(1).looks[-1]
    assert look.survey == filed.survey and look.standing == "laid"
    assert [note.code for note in look.notes] == ["ripped"] and "right edge" in look.notes[0].message
    assert look.shrinkage.value == pytest.approx(TRUTHS[3]["shrunk"], abs=0.006)
    gone = [one for one in look.sightings if one.change.state == "cut off"]
    assert gone and all(one.check is None for one in gone)


def test_wax_is_told_from_gone(filled_yard, series, tmp_path):
    photo = tmp_path / "waxed.jpg"
    photo.write_bytes(series[3].read_bytes().replace(b"2026:07:25", b"2026:08:20"))
    record = json.loads(json.dumps(measured(series[3].name)))
    record["checks"] = [check for check in record["checks"] if check["end"] != "top"]
    filled_yard.add(filing_of(photo, record))
    name = next(one.name for one in filled_yard.checks.slab(1).looks[3].sightings if one.check is not None and one.check.end == "top")
    assert states_of(filled_yard.checks.slab(1), name)[-1] == "not visible"
    filled_yard.checks.hand.add([HandLook(1, date(2026, 8, 1), "top", wax=True)])
    history = filled_yard.checks.slab(1)
    assert states_of(history, name)[-1] == "hidden by end wax"
    assert any(note.code == "end-wax" and name in note.message for note in history.notices)


def test_a_mended_outline_keeps_the_names(filled_yard):
    """Another outline moves the slab frame; the checks are known again by where the photo shows them."""
    before = names_in(filled_yard.checks.slab(1))
    path = filled_yard.folder / "yard.db"
    with closing(sqlite3.connect(path)) as connection, connection:
        (text,) = connection.execute("SELECT record FROM surveys WHERE id = 3").fetchone()
        record = json.loads(text)
        for name in ("wood", "bark", "silhouette"):
            record["outline"][f"{name}_mm"] = [[x + 3.0, y] for x, y in record["outline"][f"{name}_mm"]]
        for check in record["checks"]:
            check["path_mm"] = [[x + 3.0, y] for x, y in check["path_mm"]]
        record["checks"].reverse()
        connection.execute("UPDATE surveys SET record = ? WHERE id = 3", (json.dumps(record),))
    after = names_in(filled_yard.checks.slab(1))
    assert set(after[2]) == set(before[2])
    for name, (x, y) in after[2].items():
        assert (x - 3.0, y) == pytest.approx(before[2][name], abs=0.2)
    assert after[3] == before[3]


def test_a_lost_photo_is_said_and_asked_again_when_it_is_back(yard, series, tmp_path):
    fill_with_series(yard, tmp_path / "series", (0, 1))
    original = yard.slab(1).surveys[0].original
    kept = original.read_bytes()
    original.unlink()
    look = yard.checks.slab(1).looks[1]
    assert look.standing == "refused" and look.code == "no-view"
    original.write_bytes(kept)
    assert yard.checks.slab(1).looks[1].standing == "laid"


def test_surveys_without_checks_and_made_up_ones_are_no_looks(yard, scratch):
    yard.add(filings.filing(scratch, 1))
    yard.add(filings.filing(scratch, 2, SlabFacts(number=1), taken="2025-05-04T10:20:30"))
    history = yard.checks.slab(1)
    assert [look.standing for look in history.looks] == ["not looked for"] * 2 and not history.notices
    assert yard.checks.running() == []
    for draw in (yard.checks.growth_plot, yard.checks.side_by_side):
        with pytest.raises(WrongUse):
            draw(1)
    with pytest.raises(NoSuchSlab):
        yard.checks.slab(9)


def test_looks_by_hand_are_kept_taken_back_and_refused(filled_yard):
    hand = filled_yard.checks.hand
    names = hand.add([
        HandLook(1, date(2026, 6, 1), "butt", length_mm=180.0), HandLook(1, date(2026, 7, 1), "butt", length_mm=222.0),
        HandLook(1, date(2026, 7, 1), bark={"left": "off"}),
    ])  # fmt: skip
    assert names == ("k1", "k2", "k3")
    history = filled_yard.checks.slab(1, "mm")
    assert [look.length_mm for look in history.hand] == [180.0, 222.0, None]
    (tape,) = [note.message for note in history.notices if note.code == "grown-by-tape"]
    assert "butt end grew 42 ± 8 mm by tape in 30 days" in tape
    assert hand.take_back("k2").length_mm == 222.0 and len(hand.of(1)) == 2
    for wrong in (
        HandLook(1, date.today() + timedelta(1), "butt", length_mm=9.0), HandLook(1, date(2026, 6, 1)),
        HandLook(1, date(2026, 6, 1), length_mm=9.0), HandLook(1, date(2026, 6, 1), "butt", length_mm=-1.0),
        HandLook(1, date(2026, 6, 1), bark={"left": "gone"}), HandLook(1, date(2026, 6, 1), "middle", length_mm=5.0),
    ):  # fmt: skip
        with pytest.raises(LookRefused):
            hand.add([wrong])
    with pytest.raises(NoSuchSlab):
        hand.add([HandLook(7, date(2026, 6, 1), "butt", wax=True)])
    for name in ("k2", "k9", "m1", ""):
        with pytest.raises(LookRefused):
            hand.take_back(name)


def test_running_slabs_worst_first(filled_yard):
    (history,) = filled_yard.checks.running(units="mm")
    rates = [one.change.per_week_mm for one in history.running]
    assert history.number == 1 and rates == sorted(rates, reverse=True) and rates[0] > 0


def test_the_drying_check_gets_the_shrinkage_seen(filled_yard):
    across = filled_yard.drying._seen_across(filled_yard.slab(1))
    for survey, truth in zip(reversed(filled_yard.slab(1).surveys), TRUTHS):
        assert across[survey.id][1].value == pytest.approx(1 - truth["shrunk"], abs=0.003)


def test_checks_of_the_pipeline_count_in_a_search(filled_yard):
    top = pieces.straight(150, 60)
    found = filled_yard.fits.find(FindRequest((top,), checks="any")).answers
    assert [one.candidate.number for one in found] == [1]
    newest = filled_yard.slab(1).surveys[0].record["checks"]
    ends = sum(check["kind"] == "end" for check in newest)
    assert found[0].wood.checks == (ends, len(newest) - ends) and ends and len(newest) > ends
    without = filled_yard.fits.find(FindRequest((top,), checks="none"))
    assert not without.answers and not without.left_out, "looked for, and there are some"


def test_everything_is_in_stock_and_goes_with_the_slab(filled_yard):
    filled_yard.checks.hand.add([HandLook(1, date(2026, 6, 1), "butt", wax=True)])
    assert filled_yard.stocktake() == []
    removed = filled_yard.remove(1)
    kept = json.loads((removed.kept_in / "slab.json").read_text())
    assert {"check_pairs", "check_names", "check_sightings", "hand_looks"} <= set(kept)
    assert filled_yard.stocktake() == []


def test_pictures_are_pictures(filled_yard):
    plot, sheet = filled_yard.checks.growth_plot(1, "mm", "svg"), filled_yard.checks.side_by_side(1, units="mm")
    assert plot.startswith(b"<?xml") and sheet.startswith(b"\x89PNG")
    with pytest.raises(WrongUse):
        filled_yard.checks.growth_plot(1, kind="gif")
    with pytest.raises(WrongUse):
        filled_yard.checks.side_by_side(1, face="heart")


def test_the_view_shows_the_face_and_its_cards(filled_yard):
    survey = filled_yard.slab(1).surveys[-1]
    view = view_of(survey)
    wood = np.array(survey.record["outline"]["wood_mm"])
    assert view.to_mm(np.array([[0.0, 0.0]]))[0] == pytest.approx([wood[:, 0].min() - 11.6, wood[:, 1].max() + 11.6], abs=0.1)
    assert len(view.cards) == len(survey.record["scale"]["cards"]) and view.seen.mean() > 0.9
    assert look_at_survey(survey).outline == pytest.approx(wood)
