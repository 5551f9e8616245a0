"""Killing the yard at work: what was acknowledged stays, nothing is half there, work goes on."""

import os
import random
import signal
import time
from contextlib import suppress

import pytest

from grainlog.yard import NoSuchSlab, NotAYard, Yard
from tests.yard.filings import filing

KILLS_OF_ADD = 110
KILLS_A_YARD = 10  # A fresh yard after so many, or re-reading all of it each time takes most of the test.


def kill_at_random(worker, chance: random.Random, *job, seconds: float, after: int = 0) -> list[str]:
    """Set a job going, kill it within `seconds` of its `after`th word, and return what it had said by then."""
    process = worker.ask("fork", *job)
    said = [worker.hear() for _ in range(after)]
    time.sleep(chance.uniform(0, seconds))
    with suppress(ProcessLookupError):  # it was done already
        os.kill(process, signal.SIGKILL)
    return said + worker.hear_out()


def seconds_of(job) -> float:
    """How long a job takes on this disk, now: the middle one of five tries."""
    taken = []
    for number in range(5):
        begun = time.perf_counter()
        job(number)
        taken.append(time.perf_counter() - begun)
    return sorted(taken)[2]


def test_killed_adds_lose_nothing_and_leave_nothing_half_registered(worker, tmp_path, scratch):
    chance = random.Random(20)
    leftovers, journals, acknowledged_in_all = 0, 0, 0
    for kill in range(KILLS_OF_ADD):
        if kill % KILLS_A_YARD == 0:
            folder = tmp_path / f"yard-{kill}"
            with Yard.start(folder) as yard:
                seconds = 1.2 * seconds_of(lambda number: yard.add(filing(scratch, 1000 * kill + 990 + number)))
            acknowledged = set(range(1, 6))
        job = ("add", folder, scratch, 1000 * kill, 900)
        said = kill_at_random(worker, chance, *job, seconds=seconds, after=chance.randrange(3))
        acknowledged |= {int(line.split()[1]) for line in said}
        journals += (folder / "yard.db-journal").exists()
        with Yard.open(folder) as yard:
            findings = yard.stocktake()
            assert [finding for finding in findings if finding.severity == "wrong"] == []
            leftovers += bool(findings)
            numbers = {row.number for row in yard.slabs()}
            assert acknowledged <= numbers
            # At most the one add that was cut down between its commit and its word may be there without it.
            assert len(numbers - acknowledged) <= 1
            for number in numbers:
                assert yard.slab(number).surveys[0].original.is_file()
            yard.tidy()
            assert yard.stocktake() == []
            acknowledged = numbers | {yard.add(filing(scratch, 1000 * kill + 999)).slab}
        acknowledged_in_all += len(said)
    # The kills did fall into the midst of adds, and adds did succeed in between.
    print(f"{leftovers} left files, {journals} an open transaction; {acknowledged_in_all} slabs were acknowledged")
    assert leftovers >= KILLS_OF_ADD // 10
    assert journals >= 1
    assert acknowledged_in_all >= KILLS_OF_ADD // 2


def test_killed_removals_leave_the_slab_whole_or_removed(worker, yard, scratch):
    chance = random.Random(21)
    for seed in range(45):
        yard.add(filing(scratch, seed))
    seconds = 1.2 * seconds_of(lambda number: yard.remove(41 + number))
    removed = set(range(41, 46))
    cut_short = 0
    for _ in range(15):
        job = ("remove", yard.folder, scratch, 0, 9)
        said = kill_at_random(worker, chance, *job, seconds=seconds, after=1 + chance.randrange(2))
        removed |= {int(line.split()[1]) for line in said if line.startswith("removed")}
        cut_short += bool(said) and said[-1].startswith("removing")
        assert [finding for finding in yard.stocktake() if finding.severity == "wrong"] == []
        yard.tidy()
        assert yard.stocktake() == []
        present = {row.number for row in yard.slabs()}
        assert not removed & present
        for number in {*range(1, 46)} - present:
            assert (yard.folder / "removed" / f"slab-{number}" / "slab.json").is_file()
            with pytest.raises(NoSuchSlab, match="was removed"):
                yard.slab(number)
    kept = list((yard.folder / "removed").rglob("*.jpg"))
    present = len(yard.slabs())
    # Original and overlay of every slab, in the yard or among the removed, are all still there.
    assert len(kept) + len(list((yard.folder / "originals").rglob("*.jpg"))) * 2 == 2 * 45
    assert cut_short >= 1 and present < 40


def test_a_killed_start_can_be_started_again(worker, tmp_path, scratch):
    chance = random.Random(22)
    seconds = 1.2 * seconds_of(lambda number: Yard.start(tmp_path / f"timed-{number}").close())
    finished = 0
    for kill in range(12):
        folder = tmp_path / f"yard-{kill}"
        said = kill_at_random(worker, chance, "start", folder, scratch, 0, 0, seconds=seconds)
        try:
            opened = Yard.open(folder)
        except NotAYard:
            assert said == []
            opened = Yard.start(folder)
        finished += said == ["started"]
        with opened:
            assert opened.add(filing(scratch, kill)).slab == 1
            assert opened.stocktake() == []
    assert finished < 12
