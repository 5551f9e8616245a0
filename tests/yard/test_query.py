"""Searching: each filter by itself, all together against plain Python, and ten thousand slabs."""

import string
import time
from datetime import date, datetime

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from sqlalchemy import insert

from grainlog.yard import SORTS, QueryRefused, SlabFacts, SlabQuery, Span, Yard
from grainlog.yard.filing import folded
from grainlog.yard.schema import FIGURES, logs, slabs
from tests.yard.filings import filing


def numbers(yard: Yard, **query) -> list[int]:
    return [row.number for row in yard.slabs(SlabQuery(**query))]


@pytest.fixture
def stocked(yard, scratch) -> Yard:
    """Four slabs, told apart by everything that can be asked for."""
    oak = SlabFacts(log="Storm Oak 50%", species="White Oak", note="crotch, big_knot")
    elm = SlabFacts(log="Älteste Ulme", species="Elm", note="spalted")
    yard.add(filing(scratch, 0, oak, taken="2025-01-01T08:00:00"))
    yard.add(filing(scratch, 1, oak, length_mm=3000.0, width_mm=500.0, taken="2025-01-02T23:59:59"))
    yard.add(filing(scratch, 2, elm, length_mm=1500.0, thickness_mm=50.8, taken="2025-01-03T00:00:00"))
    yard.add(filing(scratch, 3, elm, width_mm=800.0, thickness_mm=None, taken="2025-02-01T12:00:00"))
    return yard


def test_each_filter(stocked):
    assert numbers(stocked) == [1, 2, 3, 4]
    assert numbers(stocked, log="storm") == [1, 2]
    assert numbers(stocked, log="ÄLTESTE") == [3, 4]
    assert numbers(stocked, species="oak") == [1, 2]
    assert numbers(stocked, length_mm=Span(least=2700.0)) == [1, 2, 4]
    assert numbers(stocked, length_mm=Span(most=2699.9)) == [3]
    assert numbers(stocked, length_mm=Span(1500.0, 2700.0)) == [1, 3, 4]
    assert numbers(stocked, width_mm=Span(least=600.0)) == [1, 3, 4]
    assert numbers(stocked, width_least_mm=Span(least=600.0)) == [4]
    assert numbers(stocked, thickness_mm=Span(most=60.0)) == [3]
    assert numbers(stocked, thickness_mm=Span(least=0.0)) == [1, 2, 3]  # unknown is not found
    assert numbers(stocked, area_mm2=Span(least=2e6)) == [4]
    assert numbers(stocked, board_feet=Span(least=41.0)) == [1]
    assert numbers(stocked, surveyed_since=date(2025, 1, 2), surveyed_until=date(2025, 1, 2)) == [2]
    assert numbers(stocked, surveyed_until=date(2025, 1, 1)) == [1]
    assert numbers(stocked, limit=2) == [1, 2]


def test_text_finds_every_word_somewhere_and_takes_signs_as_they_are(stocked):
    assert numbers(stocked, text="KNOT oak") == [1, 2]
    assert numbers(stocked, text="knot elm") == []
    assert numbers(stocked, text="photo-2.jpg") == [3]
    assert numbers(stocked, text="4") == [4]
    assert numbers(stocked, text="älteste spalted") == [3, 4]
    assert numbers(stocked, text="50%") == [1, 2]
    assert numbers(stocked, text="%") == [1, 2]
    assert numbers(stocked, text="g_k") == [1, 2]
    assert numbers(stocked, text="_") == [1, 2]
    assert numbers(stocked, text="c_otch") == []
    assert numbers(stocked, text="   ") == [1, 2, 3, 4]


def test_sorting_puts_the_unknown_last(stocked):
    assert numbers(stocked, sort="length") == [3, 1, 4, 2]
    assert numbers(stocked, sort="length", descending=True) == [2, 1, 4, 3]
    assert numbers(stocked, sort="board-feet") == [3, 2, 1, 4]
    assert numbers(stocked, sort="board-feet", descending=True) == [1, 2, 3, 4]
    assert numbers(stocked, sort="date", descending=True, limit=1) == [4]
    for sort in SORTS:
        assert sorted(numbers(stocked, sort=sort)) == [1, 2, 3, 4]


def test_what_cannot_be_meant_is_refused(stocked):
    with pytest.raises(QueryRefused, match="cannot be sorted by 'weight'; sort by one of number, log"):
        stocked.slabs(SlabQuery(sort="weight"))
    with pytest.raises(QueryRefused, match="at least one slab"):
        stocked.slabs(SlabQuery(limit=0))


def fill(yard: Yard, count: int) -> list[dict]:
    """Slabs written straight into the tables: adding ten thousand photos would test the disk."""
    names = [(f"Log {letter}", species) for letter, species in zip(string.ascii_uppercase, ["Oak", "Elm", "Ash"] * 9)]
    rows = []
    for index in range(count):
        figures = {name: float((index * 7919 + place * 131) % 1000) for place, name in enumerate(FIGURES)}
        if index % 10 == 0:
            figures |= {"thickness_mm": None, "volume_mm3": None, "board_feet": None}
        rows.append(
            {
                "log_id": index % 26 + 1, "order_in_log": index // 26 + 1, "faces": "bark", "one_face_only": 1,
                "surveyed_at": datetime(2025, 1, 1 + index % 28, index % 24).isoformat(),
                **figures, **{f"{name}_u": 1.0 for name in FIGURES},
            }
        )
    with yard._database.writing() as connection:
        told = [
            {"name": name, "name_folded": folded(name), "species": species, "species_folded": folded(species),
             "started_at": "2025-01-01T00:00:00+00:00"}
            for name, species in names
        ]
        connection.execute(insert(logs), told)
        connection.execute(insert(slabs), rows)
    return [row | {"number": number, **dict(zip(("log", "species"), names[row["log_id"] - 1]))}
            for number, row in enumerate(rows, 1)]


@pytest.fixture(scope="module")
def many(tmp_path_factory):
    with Yard.start(tmp_path_factory.mktemp("many") / "yard") as yard:
        yield yard, fill(yard, 10_000)


def test_ten_thousand_slabs_are_listed_and_searched(many):
    yard, rows = many
    begun = time.perf_counter()
    listed = yard.slabs()
    all_of_them = time.perf_counter() - begun
    assert [row.number for row in listed] == list(range(1, 10_001))
    begun = time.perf_counter()
    found = yard.slabs(SlabQuery(species="oak", length_mm=Span(least=900.0), sort="board-feet", limit=50))
    searched = time.perf_counter() - begun
    assert len(found) == 50
    print(f"10,000 slabs: listed in {all_of_them:.3f} s, a search in {searched:.3f} s")


spans = st.builds(Span, st.none() | st.floats(0, 1000), st.none() | st.floats(0, 1000))


@settings(max_examples=20, deadline=None)
@given(
    species=st.none() | st.sampled_from(["oak", "ELM", "a", "yew"]), length_mm=spans, board_feet=spans,
    since=st.none() | st.dates(date(2025, 1, 1), date(2025, 1, 28)),
    until=st.none() | st.dates(date(2025, 1, 1), date(2025, 1, 28)),
)
def test_a_search_finds_what_plain_python_finds(many, species, length_mm, board_feet, since, until):
    yard, rows = many

    def within(value, span):
        if value is None:
            return span == Span()
        return (span.least is None or value >= span.least) and (span.most is None or value <= span.most)

    expected = [
        row["number"]
        for row in rows
        if (species is None or species.casefold() in row["species"].casefold())
        and within(row["length_mm"], length_mm)
        and within(row["board_feet"], board_feet)
        and (since is None or datetime.fromisoformat(row["surveyed_at"]).date() >= since)
        and (until is None or datetime.fromisoformat(row["surveyed_at"]).date() <= until)
    ]
    asked = SlabQuery(
        species=species, length_mm=length_mm, board_feet=board_feet, surveyed_since=since, surveyed_until=until
    )
    assert [row.number for row in yard.slabs(asked)] == expected
