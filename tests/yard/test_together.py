"""Several processes in one yard at once."""

import sqlite3
from contextlib import closing

import pytest

from grainlog.yard import Yard, YardError, database
from tests.yard.filings import filing


def test_four_processes_add_at_once_and_all_succeed(workers, scratch, yard):
    each = 8
    for index, worker in enumerate(workers):
        worker.ask("do", "add_anew", yard.folder, scratch, 100 * index, each)
    said = [line.split()[1:] for worker in workers for line in worker.hear_out()]
    assert len(said) == 4 * each
    assert sorted(int(number) for number, _, _ in said) == list(range(1, 4 * each + 1))
    assert sorted(int(order) for _, order, _ in said) == list(range(1, 4 * each + 1))
    assert {row.number for row in yard.slabs()} == set(range(1, 4 * each + 1))
    assert yard.stocktake() == []


def test_four_processes_with_the_same_photos_file_each_once(workers, scratch, yard):
    for index, worker in enumerate(workers):
        copies = scratch / f"copies-{index}"  # Each has its own copy of the same photos.
        copies.mkdir()
        worker.ask("do", "add_anew", yard.folder, copies, 0, 6)
    said = [line.split()[1:] for worker in workers for line in worker.hear_out()]
    assert len(said) == 4 * 6
    assert [already for _, _, already in said].count("False") == 6
    assert len({number for number, _, _ in said}) == 6
    assert len(yard.slabs()) == 6
    assert yard.stocktake() == []


def test_stock_is_taken_and_the_yard_tidied_while_others_add(workers, scratch, yard):
    for index, worker in enumerate(workers[:2]):
        worker.ask("do", "add_anew", yard.folder, scratch, 100 * index, 12)
    looks = 0
    while len(yard.slabs()) < 24:
        assert yard.stocktake() == []
        assert yard.tidy() == []
        looks += 1
    assert looks >= 1
    assert all(len(worker.hear_out()) == 12 for worker in workers[:2])
    assert yard.stocktake() == []


def test_two_open_yards_in_one_process_see_each_other(scratch, yard):
    with Yard.open(yard.folder) as other:
        filed = yard.add(filing(scratch, 0))
        assert other.slab(filed.slab).log == "storm oak"
        other.remove(filed.slab)
        assert yard.slabs() == []


def test_a_yard_kept_busy_for_too_long_is_one_sentence(scratch, yard, monkeypatch):
    monkeypatch.setattr(database, "BUSY_SECONDS", 0.05)
    with closing(sqlite3.connect(yard.folder / "yard.db", isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        with pytest.raises(YardError, match="Another program has kept the yard busy .* nothing was stored"):
            yard.add(filing(scratch, 0))
        assert yard.slabs() == []  # readers are not kept out
    assert yard.stocktake() == []
    assert yard.add(filing(scratch, 0)).slab == 1
