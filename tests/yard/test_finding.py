"""Finding the slab for a piece in a yard."""

import json
from dataclasses import replace
from datetime import date

import numpy as np
import pytest

from grainlog.drying.reading import Reading
from grainlog.fit import piece as pieces
from grainlog.fit.defects import NO_WISHES, wishes_from
from grainlog.fit.errors import PieceRefused
from grainlog.fit.laying import lay
from grainlog.survey import measure_photo, record_of
from grainlog.units import Quantity
from grainlog.yard import NoSuchSlab, QueryRefused, SlabFacts, Yard, YardError
from grainlog.yard.fit_curves import enter_missing
from grainlog.yard.fit_pairs import PairRequest
from grainlog.yard.fit_request import NEAR_MM, NO_DRY_SIZE, NOBODY_LOOKED, FindRequest
from grainlog.yard.fit_slab import read_wood
from grainlog.yard.fit_tables import outline_curves
from grainlog.yard.fit_words import missed_text, pair_remarks, remarks
from grainlog.yard.readings import MoistureEntry
from tests.accuracy import SAMPLES, samples
from tests.fit.made import slab_outline
from tests.yard.filings import filing

SURFACE = {"path_mm": [[900, 0], [1300, 10]], "kind": "surface", "length_mm": 400, "max_width_mm": 2}


def add(yard, scratch, seed, ring=None, facts=None, holes=(), **more) -> int:
    """File a slab with an outline of its own; a rectangle where none is given."""
    made = filing(
        scratch,
        seed,
        facts,
        **{
            name: more.pop(name)
            for name in list(more)
            if name in ("length_mm", "width_mm", "thickness_mm", "side", "taken")
        },
    )
    record = dict(made.record)
    if ring is not None:
        record["outline"] = {
            "wood_mm": np.asarray(ring).tolist(),
            "wood_holes_mm": [list(map(list, hole)) for hole in holes],
        }
    else:
        record["outline"] = record["outline"] | {"wood_holes_mm": [list(map(list, hole)) for hole in holes]}
    return yard.add(replace(made, record=record | more)).slab


@pytest.fixture
def stocked(yard, scratch):
    """Four boards: 2700 x 600, 2000 x 500, 2700 x 800, and 1500 x 900 of unknown thickness."""
    for seed, (length, width, thick) in enumerate(
        [(2700, 600, 63.5), (2000, 500, 40.0), (2700, 800, 63.5), (1500, 900, None)]
    ):
        facts = SlabFacts(log=f"log {seed}", species=["white oak", "elm", "white oak", "walnut"][seed])
        add(yard, scratch, seed, facts=facts, length_mm=float(length), width_mm=float(width), thickness_mm=thick)
    return yard


def found(yard, *wanted, **asked) -> list[int]:
    return [one.candidate.number for one in yard.fits.find(FindRequest(wanted, **asked)).answers]


def test_least_waste_comes_first(stocked):
    assert found(stocked, pieces.straight(1400, 450)) == [2, 4, 1, 3]
    assert found(stocked, pieces.straight(1900, 550)) == [1, 3]
    assert found(stocked, pieces.straight(3000, 100)) == []
    answer = stocked.fits.find(FindRequest((pieces.straight(1900, 450),), limit=1)).answers[0]
    assert answer.waste_mm2 == pytest.approx(2000 * 500 - 1900 * 450) and answer.laid[0].spare.value == pytest.approx(
        50
    )


def test_filters(stocked):
    top = pieces.straight(1000, 400)
    assert found(stocked, top, species="OAK") == [1, 3]
    assert found(stocked, top, log="log 1") == [2]
    assert found(stocked, top, slabs=(3, 4)) == [4, 3]
    assert found(stocked, top, thickness=38.0) == [2, 1, 3]
    assert found(stocked, top, thickness=38.0, flattening=5.0) == [1, 3]
    assert found(stocked, top, status="ready") == []
    stocked.lives.set_status([3], "ready")
    assert found(stocked, top, status="ready") == [3]
    stocked.lives.set_status([1], "gone")
    assert 1 not in found(stocked, top)
    stocked.places.lay([2], "barn", "left")
    assert found(stocked, top, place="Barn") == [2]


def test_near_misses_say_by_how_much(stocked):
    search = stocked.fits.find(FindRequest((pieces.straight(1900, 640),)))
    assert [one.candidate.number for one in search.answers] == [3]
    assert [(one.candidate.number, round(one.laid[0].spare.value)) for one in search.misses] == [(1, -40)]
    short = stocked.fits.find(FindRequest((pieces.straight(2050, 480),), slabs=(2,)))
    assert not short.answers
    assert [round(one.laid[0].short) for one in short.misses] in ([50], [49], [51], [52])


def test_voids_are_avoided_filled_or_left(yard, scratch):
    hole = [(900, 200), (1100, 200), (1100, 400), (900, 400)]
    add(yard, scratch, 1, ring=[[0, 0], [2000, 0], [2000, 600], [0, 600]], holes=[hole])
    top = pieces.straight(1500, 500)
    assert found(yard, top) == []
    filled = yard.fits.find(FindRequest((top,), wishes=wishes_from({"fill": ["void"]}, 0.0))).answers
    assert filled[0].laid[0].met == (("void", "fill"),)
    assert found(yard, pieces.straight(880, 500)) == [1]
    assert found(yard, pieces.straight(890, 500), wishes=wishes_from({}, 20.0)) == []


def test_drawn_defects(stocked):
    drawn = stocked.fits.defects.draw(1, "knots", [[1350, 300]], size_mm=60.0, note="big one")
    assert (drawn.slab, drawn.defect.kind, drawn.note) == (1, "knot", "big one")
    avoid = wishes_from({"avoid": ["knot"]}, 10.0)
    top = pieces.straight(2500, 500)
    assert found(stocked, top, slabs=(1,)) == [1]
    assert found(stocked, top, slabs=(1,), wishes=avoid) == []
    assert found(
        stocked, top, slabs=(1,), wishes=wishes_from({"avoid": ["knot"], "leave": [str(drawn.number)]}, 10.0)
    ) == [1]
    stocked.fits.defects.take_back(drawn.number)
    assert stocked.fits.defects.of(1) == [] and found(stocked, top, slabs=(1,), wishes=avoid) == [1]
    assert stocked.stocktake() == []
    with pytest.raises(PieceRefused, match="There is no mark"):
        stocked.fits.defects.take_back(drawn.number)
    with pytest.raises(PieceRefused, match="beside the slab"):
        stocked.fits.defects.draw(1, "knot", [[5000, 0]])
    with pytest.raises(NoSuchSlab):
        stocked.fits.defects.draw(99, "knot", [[50, 0]])


def test_defects_drawn_on_one_face_are_kept_clear_of_on_the_other(yard, scratch):
    """Turned over about its long axis, a slab shows its outline mirrored: what lay at (x, y) lies at (x, -y)."""
    ring = np.array([[0, -300], [1400, -300], [2000, 0], [2000, 300], [0, 300]], float)
    number = add(yard, scratch, 1, ring=ring, side="bark")
    yard.fits.defects.draw(number, "rot", [[500, 200]], size_mm=100.0)
    add(
        yard, scratch, 2, ring=ring * [1, -1], side="heart", facts=SlabFacts(number=number), taken="2025-09-04T10:20:30"
    )
    answer = yard.fits.find(FindRequest((pieces.straight(1300, 300),))).answers[0]
    assert answer.candidate.side == "heart" and answer.wood.lost_defects == 0
    rot = next(defect for defect in answer.wood.defects if defect.kind == "rot")
    assert rot.points[0] == pytest.approx([500, -200], abs=1)
    assert (
        yard.fits.find(FindRequest((pieces.straight(1300, 300),), show_face="bark")).answers[0].candidate.side == "bark"
    )


def test_checks_in_the_record(yard, scratch):
    end = {"path_mm": [[0, 0], [200, 10]], "kind": "end", "length_mm": 200, "max_width_mm": 4}
    board = [[0, -300], [2000, -300], [2000, 300], [0, 300]]
    for seed, checks in enumerate(([], [end], [end, SURFACE])):
        add(
            yard,
            scratch,
            seed,
            ring=board,
            facts=SlabFacts(log=f"l{seed}"),
            checks=checks,
            **({"check_summary": {}} if not checks else {}),
        )
    add(yard, scratch, 9, ring=board, facts=SlabFacts(log="never looked"))
    top = pieces.straight(1700, 500)
    assert sorted(found(yard, top)) == [1, 2, 3, 4]
    search = yard.fits.find(FindRequest((top,), checks="none"))
    assert [one.candidate.number for one in search.answers] == [1]
    assert search.left_out == {"nobody looked for checks on it yet": 1}
    trimmed = yard.fits.find(FindRequest((top,), checks="trim-ends")).answers
    assert sorted(one.candidate.number for one in trimmed) == [1, 2]
    assert next(one for one in trimmed if one.candidate.number == 2).laid[0].shape.bounds[0] > 199
    assert found(yard, pieces.straight(1850, 500), checks="trim-ends") == [1]


def test_dry_sizes(yard, scratch):
    """8 % is what tables are made at: an oak slab sawn green loses some of its width, so a tight top no longer fits."""
    board = [[0, -300], [2000, -300], [2000, 300], [0, 300]]
    add(yard, scratch, 1, ring=board, facts=SlabFacts(log="wet", species="white oak"), taken="2025-03-04T10:20:30")
    tight = pieces.straight(1900, 585)
    unknown = yard.fits.find(FindRequest((tight,), moisture=0.08))
    assert not unknown.answers and sum(unknown.left_out.values()) == 1 and "moisture" in unknown.why_no_dry_size
    yard.drying.wood.set_log("wet", date(2025, 3, 5), sawn_on=date(2025, 3, 3), felled_on=date(2025, 3, 1))
    assert found(yard, tight) == [1] and found(yard, tight, moisture=0.08) == []
    answer = yard.fits.find(FindRequest((pieces.straight(1900, 520),), moisture=0.08)).answers[0]
    factor = answer.dried.across
    assert answer.laid[0].spare.value == pytest.approx(600 * factor.value - 520, abs=1)
    assert answer.laid[0].spare.u >= 520 * factor.u
    for moisture in (0.0, 1.2):
        with pytest.raises(PieceRefused):
            found(yard, tight, moisture=moisture)


def test_checks_in_a_record_of_the_pipeline(yard, scratch):
    """A rendered slab with end and surface checks, one without any, and one on which nobody looked, as `record_of` tells them."""
    checked = next(one for one in samples([SAMPLES / "checks"]) if one.photo.stem == "checks-605")
    survey = measure_photo(checked.photo, checked.request)
    kinds = [check.kind for check in survey.checks.checks]
    ends_only = tuple(check for check in survey.checks.checks if check.kind == "end")
    told = [
        survey,
        replace(survey, checks=replace(survey.checks, checks=ends_only)),
        replace(survey, checks=replace(survey.checks, checks=())),
        replace(survey, checks=None),
    ]
    for seed, one in enumerate(told):
        made = filing(scratch, seed, SlabFacts(log=f"log {seed}"))
        record = json.loads(json.dumps(record_of(one)))
        yard.add(replace(made, record=record | {"photo": made.record["photo"]}))
    assert {"end", "surface"} == set(kinds)
    top = pieces.straight(300, 100)
    seen = {one.candidate.number: one.wood.checks for one in yard.fits.find(FindRequest((top,))).answers}
    assert seen == {1: (kinds.count("end"), kinds.count("surface")), 2: (kinds.count("end"), 0), 3: (0, 0), 4: None}
    none, trimmed = (yard.fits.find(FindRequest((top,), checks=wish)) for wish in ("none", "trim-ends"))
    assert [one.candidate.number for one in none.answers] == [3] and none.left_out == {NOBODY_LOOKED: 1}
    assert sorted(one.candidate.number for one in trimmed.answers) == [2, 3] and trimmed.left_out == none.left_out
    piece = next(one for one in trimmed.answers if one.candidate.number == 2)
    assert all(not piece.laid[0].shape.intersects(defect.shape) for defect in piece.wood.defects if defect.kind == "check")


@pytest.fixture
def drying_yard(yard, scratch):
    """Twelve slabs of four woods: surveyed green, green with upright rings, with a reading, after a year, and with nothing known."""
    today = date(2025, 5, 5)
    for seed in range(12):
        wood = ["white oak", "elm", "beech, american", "no such wood"][seed // 3]
        facts = SlabFacts(log=f"log {seed}", species=wood)
        add(yard, scratch, seed, ring=slab_outline(seed), facts=facts, taken="2025-03-04T10:20:30")
        if seed % 3 == 0:
            yard.drying.wood.set_log(f"log {seed}", today, sawn_on=date(2025, 3, 1))
        if seed in (3, 6):
            yard.drying.wood.set_slab(seed + 1, rings="quarter")
        if seed % 3 == 1:
            reading = Reading(date(2025, 3, 10), [0.22, 0.07, 0.35, 0.1][seed // 3], "pin")
            yard.drying.readings.add([MoistureEntry(seed + 1, reading)], today)
    return yard


def test_dry_answers_are_those_of_laying_on_every_dry_outline(drying_yard):
    """Bounds and curves lose nothing and add nothing: against each slab's own factors on its own outline."""
    for moisture, *wanted in (
        (0.06, pieces.straight(1500, 600), pieces.with_live_edges(1600, 560, 2), pieces.round_top(620)),
        (0.2, pieces.straight(700, 640), pieces.with_live_edges(1600, 550, 1), pieces.oval(1300, 610)),
    ):
        for piece in wanted:
            every, unknown = {}, 0
            with drying_yard._database.reading() as connection:
                for number in range(1, 13):
                    dry = drying_yard.drying.factors(number, moisture).factors
                    if dry is None:
                        unknown += 1
                        continue
                    wood = read_wood(connection, number, number, NO_WISHES, False, dry)
                    laid = lay(wood.region, piece, wood.sureness)
                    if laid.fits:
                        every[number] = wood.wood_mm2 - laid.shape.area
            search = drying_yard.fits.find(FindRequest((piece,), moisture=moisture, limit=100))
            assert unknown == 6 and every, (piece.kind, moisture)
            assert {one.candidate.number: one.waste_mm2 for one in search.answers} == pytest.approx(every), piece.kind
            first = drying_yard.fits.find(FindRequest((piece,), moisture=moisture, limit=1)).answers[0]
            if piece.kind in ("straight", "round", "oval"):
                assert first.waste_mm2 == pytest.approx(min(every.values()))
            assert (
                set(search.left_out) <= {"the size at that moisture is not known"}
                and sum(search.left_out.values()) <= 6
            )


def test_dry_near_misses_and_several_pieces(drying_yard):
    spares = {}
    piece = pieces.straight(1900, 700)
    with drying_yard._database.reading() as connection:
        for number in range(1, 13):
            dry = drying_yard.drying.factors(number, 0.08).factors
            if dry is not None:
                wood = read_wood(connection, number, number, NO_WISHES, False, dry)
                spares[number] = lay(wood.region, piece, wood.sureness).spare.value
    missed = {number: -spare for number, spare in spares.items() if -NEAR_MM < spare < 0}
    told = drying_yard.fits.find(FindRequest((piece,), moisture=0.08, limit=100, misses=10)).misses
    assert missed and missed.keys() <= {one.candidate.number for one in told}, spares
    wanted = (pieces.straight(1200, 300), pieces.round_top(300))
    search = drying_yard.fits.find(FindRequest(wanted, moisture=0.08, thickness=55.0, limit=50))
    assert search.answers and all(one.fits and one.dried is not None for one in search.answers)
    assert all(one.thickness_spare.value < 63.5 - 55 + 0.5 for one in search.answers)


def test_several_pieces_from_one_slab(stocked):
    wanted = (pieces.straight(1500, 400), pieces.straight(1000, 300))
    assert found(stocked, *wanted) == [4, 1, 3]
    first = stocked.fits.find(FindRequest(wanted, slabs=(1,))).answers[0]
    assert not first.laid[0].shape.intersects(first.laid[1].shape) and all(laid.sure for laid in first.laid)


def test_the_shortcut_loses_no_answer(yard, scratch):
    """What the curves rule out does not fit, and what is not ruled out is looked at: against laying on every slab."""
    from grainlog.fit.laying import Sureness, lay
    from grainlog.fit.region import region_of

    rings = {
        add(yard, scratch, seed, ring=slab_outline(seed), facts=SlabFacts(log=f"log {seed}")): slab_outline(seed)
        for seed in range(12)
    }
    sure = Sureness(np.zeros(1), np.zeros(1), 0.0)
    for piece in (
        pieces.straight(1500, 620), pieces.with_live_edges(1600, 600, 2),
        pieces.with_live_edges(1600, 550, 1), pieces.round_top(640), pieces.oval(1400, 640),
    ):  # fmt: skip
        every = {number for number, ring in rings.items() if lay(region_of(ring), piece, sure).fits}
        assert every and set(found(yard, piece, limit=100, misses=0)) == every, piece.kind


def test_curves_are_made_when_filed_and_for_older_surveys_when_searched(stocked):
    with stocked._database.writing() as connection:
        assert len(connection.execute(outline_curves.select()).all()) == 4
        connection.execute(outline_curves.delete())
    assert enter_missing(stocked._database) == 4 and enter_missing(stocked._database) == 0
    with stocked._database.writing() as connection:
        connection.execute(outline_curves.update().values(version=0))
    assert found(stocked, pieces.straight(1900, 450)) == [2, 1, 3]
    assert stocked.stocktake() == []


def test_a_removed_slab_takes_its_curve_and_defects_along(stocked):
    stocked.fits.defects.draw(2, "pith", [[0, 250], [2000, 250]])
    stocked.remove(2)
    assert found(stocked, pieces.straight(1400, 450)) == [4, 1, 3]
    assert stocked.stocktake() == []


def test_pieces_that_do_not_all_find_a_place_are_told_with_what_no_layout_exceeds(stocked):
    search = stocked.fits.find(FindRequest((pieces.straight(1340, 400),) * 3, kerf=10.0))
    told = [(one.candidate.number, len(one.laid), one.at_most) for one in search.partly]
    assert not search.answers and told == [(1, 2, 2), (3, 2, 3)]
    said = remarks(search)
    assert "On slab 1 2 of 3 pieces found a place; by its sizes no layout holds more." in said
    assert "On slab 3 2 of 3 pieces found a place; a better layout is not ruled out." in said


@pytest.mark.parametrize(
    ("mm", "u", "units", "said"),
    [
        (1e-6, 0.0, "mm", "under 0.1 mm"),
        (0.3, 0.8, "in", "under 1/16 in"),
        (1e-6, 3.0, "in", "under 1/4 in"),
        (11.0, 2.0, "mm", "11 ± 4 mm"),
        (12.7, 0.1, "in", "1/2 in ± 1/32 in"),
        (0.4, 0.1, "mm", "0.4 ± 0.2 mm"),
    ],
)
def test_a_near_miss_is_never_said_to_be_nothing(mm, u, units, said):
    assert missed_text(Quantity(-mm, u), units) == said


def test_pairs(yard, scratch):
    ring = slab_outline(3)
    for seed, mirrored in enumerate((1, -1, 1)):
        add(yard, scratch, seed, ring=ring * [1, mirrored], facts=SlabFacts(log="walnut", order=seed + 1))
    alone = FindRequest((pieces.straight(1, 1),))
    books = yard.fits.pairs(PairRequest("book", 1500, 900, alone))
    assert {(one.first.number, one.second.number) for one in books.answers} == {(1, 2), (2, 3)}
    assert books.answers[0].pair.overlap > 0.99 and not books.answers[0].faces_known
    gaps = yard.fits.pairs(PairRequest("gap", 1500, 1000, alone, gap=50.0))
    assert gaps.answers and gaps.answers[0].pair.gap == 50.0
    with pytest.raises(QueryRefused):
        yard.fits.pairs(PairRequest("stack", 1500, 900, alone))
    with pytest.raises(PieceRefused):
        yard.fits.pairs(PairRequest("book", 0, 900, alone))


def test_pairs_at_a_moisture_with_thickness_and_checks(yard, scratch):
    board = [[0, -300], [2000, -300], [2000, 300], [0, 300]]
    told = {"checks": [], "check_summary": {}}
    for order, more in enumerate((told, told, {}, {"checks": [SURFACE], "check_summary": {}}), start=1):
        facts = SlabFacts(log="oak", order=order, species="white oak")
        add(yard, scratch, order, ring=board, facts=facts, thickness_mm=60.0 - order, **more)
    alone = FindRequest((pieces.straight(1, 1),))

    def couples(width, **asked):
        search = yard.fits.pairs(PairRequest("book", 1500, width, replace(alone, limit=9, **asked)))
        return [(one.first.number, one.second.number) for one in search.answers], search

    assert sorted(couples(1150)[0]) == [(1, 2), (2, 3), (3, 4)]
    assert couples(1150, thickness=57.5)[0] == [(1, 2)]
    thick = couples(1150, thickness=50.0, flattening=3.0)[1].answers
    assert {round(one.thickness_spare.value, 6) for one in thick} == {5.0, 4.0, 3.0}
    none, search = couples(1150, checks="none")
    assert none == [(1, 2)] and search.left_out == {NOBODY_LOOKED: 1}
    unknown = couples(1000, moisture=0.08)[1]
    assert not unknown.answers and unknown.left_out[NO_DRY_SIZE] >= 3 and "slab" in unknown.why_no_dry_size
    yard.drying.wood.set_log("oak", date(2025, 3, 5), sawn_on=date(2025, 3, 3))
    assert couples(1150, moisture=0.08)[0] == []
    dry = couples(1000, moisture=0.08, thickness=50.0)[1].answers
    across = yard.drying.factors(1, 0.08).factors.across
    assert len(dry) == 3 and all(one.spare.value == pytest.approx(1200 * across.value - 1000, abs=3) for one in dry)
    assert all(one.spare.u > 500 * across.u and one.dried[0].across.value == across.value for one in dry)
    assert pair_remarks(unknown)[0].startswith("Left out, ")


def test_what_cannot_be_meant_is_refused(stocked, scratch):
    top = pieces.straight(1000, 400)
    with pytest.raises(NoSuchSlab):
        found(stocked, top, slabs=(77,))
    for asked in ({"trim": -1.0}, {"thickness": 0.0}, {"kerf": -3.0}):
        with pytest.raises(PieceRefused):
            found(stocked, top, **asked)
    with pytest.raises(PieceRefused):
        found(stocked)
    with pytest.raises(QueryRefused):
        found(stocked, top, checks="some")
    bare = filing(scratch, 50, SlabFacts(log="bare"))
    number = stocked.add(replace(bare, record={**bare.record, "outline": {}})).slab
    with pytest.raises(YardError, match="no outline"):
        found(stocked, top, slabs=(number,))
    assert number not in found(stocked, top, limit=50)


def test_a_new_yard_finds_nothing(tmp_path):
    with Yard.start(tmp_path / "new") as yard:
        search = yard.fits.find(FindRequest((pieces.straight(10, 10),)))
        assert search.answers == () and not search.anything
