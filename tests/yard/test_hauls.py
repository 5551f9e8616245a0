"""Hauls, facts of logs, and pieces that are no slabs."""

from datetime import date, timedelta
from pathlib import Path

import pytest

from grainlog.yard import SlabFacts, SlabQuery, Yard
from grainlog.yard.errors import LifeRefused
from tests.yard.filings import filing

FEET = 2700.0 * 600.0 * 63.5 / (144 * 25.4**3)  # 1 board foot = 144 cubic inches


def fill(yard: Yard, photos: Path) -> None:
    for seed in range(3):
        yard.add(filing(photos, seed))
    yard.add(filing(photos, 3, SlabFacts(log="Elm", species="elm"), thickness_mm=None))


def test_a_haul_costs_so_much_a_board_foot(filled_yard):
    told = filled_yard.hauls.keep("April weekend", date(2025, 4, 5), [("Ann", 6.0), ("Bob", None)],
                              [("fuel", 45.0), ("chain", 30.0)], ["STORM oak"])  # fmt: skip
    filled_yard.hauls.keep("april  WEEKEND", people=[("ann", 1.5)], costs=[("fuel, wrong", -15.0)])
    told = filled_yard.hauls.haul("april weekend")
    assert told.name == "April weekend" and told.hours == {"Ann": 7.5, "Bob": None} and told.cost == 60.0
    assert [row.number for row in told.slabs] == [1, 2, 3] and told.logs == ("storm oak",)
    assert told.board_feet.value == pytest.approx(3 * FEET) and told.board_feet.u == pytest.approx(3 * 0.7)
    assert told.cost_per_board_foot.value == pytest.approx(60.0 / (3 * FEET))
    assert told.cost_per_board_foot.u == pytest.approx(60.0 / (3 * FEET) * 0.7 / FEET)
    assert filled_yard.stocktake() == []


def test_what_is_said_of_a_haul_is_dated_and_kept(filled_yard):
    keep = filled_yard.hauls.keep
    keep("april", date(2025, 4, 5), [("Ann", 6.0), ("Bob", None)], [("fuel", 45.0)], ["elm"], said_on=date(2025, 4, 6))
    keep("april", costs=[("chain", 30.0)], note="the  bill came late", said_on=date(2025, 5, 2))
    told = keep("april", costs=[("fuel, wrong", -15.0)])
    assert [(change.day, change.what, change.note) for change in told.history] == [
        (date(2025, 4, 6), "day of sawing", "2025-04-05"),
        (date(2025, 4, 6), "hours", "Ann 6 h"),
        (date(2025, 4, 6), "hours", "Bob"),
        (date(2025, 4, 6), "cost", "fuel 45.00"),
        (date(2025, 4, 6), "log", "elm"),
        (date(2025, 5, 2), "cost", "chain 30.00"),
        (date(2025, 5, 2), "note", "the bill came late"),
        (date.today(), "cost", "fuel, wrong -15.00"),
    ]
    assert told.cost == 60.0 and filled_yard.stocktake() == []
    with pytest.raises(LifeRefused, match="still to come"):
        keep("april", costs=[("x", 1.0)], said_on=date.today() + timedelta(days=1))


def test_other_pieces_are_found_by_what_was_said_of_them(filled_yard):
    add = filled_yard.pieces.add
    add("Turning blank", log="elm", note="spalted, from the crotch")
    add("beam", length_mm=2000.0)
    filled_yard.pieces.tell(2, owner="Annabel", note="cracked at one end")
    found = {text: [piece.id for piece in filled_yard.pieces.all(text=text)] for text in (
        "BLANK", "elm", "spalt crotch", "cracked end", "annab", "spalt beam", "100%", " "
    )}  # fmt: skip
    assert found == {"BLANK": [1], "elm": [1], "spalt crotch": [1], "cracked end": [2], "annab": [2],
                     "spalt beam": [], "100%": [], " ": [1, 2]}  # fmt: skip
    filled_yard.pieces.tell(1, status="gone")
    assert filled_yard.pieces.all(text="elm") == []
    assert [piece.id for piece in filled_yard.pieces.all(True, "elm")] == [1]


def test_an_unknown_thickness_leaves_the_cost_of_a_board_foot_open(filled_yard):
    told = filled_yard.hauls.keep("both", costs=[("fuel", 45.0)], log_names=["storm oak", "elm"])
    assert (
        told.unknown == ("4",) and told.cost_per_board_foot is None and told.board_feet.value == pytest.approx(3 * FEET)
    )
    assert filled_yard.hauls.keep("empty").board_feet is None
    assert [haul.name for haul in filled_yard.hauls.all()] == ["both", "empty"]


def test_the_haul_and_its_people_find_the_slabs(filled_yard):
    filled_yard.hauls.keep("April weekend", people=[("Annabel", 6.0)], log_names=["elm"])
    assert [row.number for row in filled_yard.slabs(SlabQuery(text="annabel april"))] == [4]


def test_a_slab_that_was_cut_up_still_counts_once_in_its_haul(filled_yard):
    from grainlog.yard.life_cut_shape import Cut

    filled_yard.cuts.cut(1, Cut("across", 1000.0, 3.0))
    assert filled_yard.hauls.keep("april", log_names=["storm oak"]).board_feet.value == pytest.approx(3 * FEET)


def test_what_is_known_of_a_log_is_dated_and_kept(filled_yard):
    filled_yard.logs.tell("storm OAK", stood_at="Mill Lane 4", metal="two nails at 3 ft", day=date(2025, 3, 1))
    told = filled_yard.logs.tell("storm oak", trimmed_sides="one side, 4 in", metal="")
    assert (told.stood_at, told.metal, told.trimmed_sides, told.slabs) == ("Mill Lane 4", None, "one side, 4 in", 3)
    assert [dict(change.value) for change in told.history][0]["metal"] == "two nails at 3 ft"
    assert [row.number for row in filled_yard.slabs(SlabQuery(text="nails lane"))] == [1, 2, 3]
    assert [log.name for log in filled_yard.logs.all()] == ["storm oak", "Elm"] and filled_yard.stocktake() == []


def test_other_pieces_live_beside_the_slabs(filled_yard):
    piece = filled_yard.pieces.add("turning blank", "elm", 304.8, 304.8, 76.2, 4, "from the crotch")
    assert piece.board_feet == pytest.approx(4 * 12 * 12 * 3 / 144)
    assert filled_yard.pieces.add("beam").board_feet is None
    filled_yard.pieces.tell(piece.id, status="ready", shed="attic", owner="Ann")
    told = filled_yard.pieces.tell(piece.id, status="gone", note="bowls")
    assert told.life.owner == "Ann" and [other.kind for other in filled_yard.pieces.all()] == ["beam"]
    assert len(filled_yard.pieces.all(gone_too=True)) == 2
    assert [change.what for change in filled_yard.pieces.history(piece.id)] == ["ready", "gone"]
    assert filled_yard.stocktake() == []


@pytest.mark.parametrize(
    "act, says",
    [
        (lambda yard: yard.hauls.haul("may"), "There is no haul may; none is kept yet"),
        (lambda yard: yard.hauls.keep("  "), "needs a name"),
        (lambda yard: yard.hauls.keep("x", date.today() + timedelta(days=1)), "still to come"),
        (lambda yard: yard.hauls.keep("x", people=[("ann", 1e9)]), "cannot be"),
        (lambda yard: yard.hauls.keep("x", costs=[("fuel", float("inf"))]), "how much"),
        (lambda yard: yard.hauls.keep("x", log_names=["yew"]), "There is no log yew"),
        (lambda yard: yard.logs.log("yew"), "There is no log yew; there are storm oak, Elm"),
        (lambda yard: yard.logs.tell("elm"), "Nothing was said"),
        (lambda yard: yard.pieces.add(" "), "Say what the piece is"),
        (lambda yard: yard.pieces.add("beam", length_mm=-1), "greater than zero"),
        (lambda yard: yard.pieces.add("beam", "yew"), "There is no log yew"),
        (lambda yard: yard.pieces.tell(7, status="gone"), "no other piece 7"),
    ],
)
def test_bad_input_is_a_sentence_and_keeps_nothing(filled_yard, act, says):
    with pytest.raises(LifeRefused, match=says) as told:
        act(filled_yard)
    assert str(told.value).endswith(".")
    assert filled_yard.hauls.all() == [] and filled_yard.pieces.all() == []


def test_a_log_is_sawn_once(filled_yard):
    filled_yard.hauls.keep("april", log_names=["elm"])
    with pytest.raises(LifeRefused, match="Log Elm belongs to the haul april"):
        filled_yard.hauls.keep("may", log_names=["elm"])
    assert [haul.name for haul in filled_yard.hauls.all()] == ["april"]
