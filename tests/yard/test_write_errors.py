"""A disk that fails at any one write: a sentence, nothing half-stored, and the next try succeeds."""

import errno
import sqlite3

import pytest

from grainlog.yard import NoSuchSlab, Yard, YardError, database, disk
from tests.yard.filings import filing

OPERATIONS = ((disk, "write"), (disk, "sync_file"), (disk, "rename"), (disk, "sync_folder"), (database, "commit"))


class FailingDisk:
    """Lets the first `fails_at` operations through, then fails: once, or from there on."""

    def __init__(self, monkeypatch, fails_at: int | None = None, for_good: bool = False, after_commit: bool = False):
        self.done = 0
        self.failed: str | None = None
        for module, name in OPERATIONS:
            watched = self._watched(name, getattr(module, name), fails_at, for_good, after_commit)
            monkeypatch.setattr(module, name, watched)

    def _watched(self, name, really, fails_at, for_good, after_commit):
        def operation(*arguments):
            now, self.done = self.done, self.done + 1
            if fails_at is not None and (now == fails_at or for_good and now > fails_at):
                self.failed = self.failed or name
                if name == "commit":
                    if after_commit:
                        really(*arguments)
                    raise sqlite3.OperationalError("disk I/O error")
                raise OSError(errno.ENOSPC if now % 2 else errno.EIO, "no luck")
            return really(*arguments)

        return operation


def operations_of_one_add(tmp_path, scratch) -> int:
    with Yard.start(tmp_path / "counted") as counted, pytest.MonkeyPatch.context() as patch:
        counted.add(filing(scratch, 0))
        watched = FailingDisk(patch)
        counted.add(filing(scratch, 1))
        return watched.done


@pytest.mark.parametrize("for_good", [False, True])
def test_every_write_of_an_add_may_fail(for_good, tmp_path, scratch, yard):
    yard.add(filing(scratch, 0))
    total = operations_of_one_add(tmp_path, scratch)
    assert total >= 12  # three files written, synced and renamed, their folders synced, one commit
    failed = set()
    for kth in range(total):
        before = yard.slabs()
        new = filing(scratch, 100 + kth)
        with pytest.MonkeyPatch.context() as patch:
            failing = FailingDisk(patch, kth, for_good)
            with pytest.raises(YardError) as told:
                yard.add(new)
        failed.add(failing.failed)
        sentence = str(told.value)
        assert "nothing was stored" in sentence and sentence.endswith(".") and "\n" not in sentence
        assert yard.slabs() == before
        left = yard.stocktake()
        if for_good:  # Even tidying up could fail; what is left may lie about but nothing may be wrong.
            assert [finding for finding in left if finding.severity == "wrong"] == []
            yard.tidy()
        else:
            assert left == []
        filed = yard.add(new)
        assert not filed.already and filed.order == len(before) + 1
        assert yard.stocktake() == []
    assert failed == {name for _, name in OPERATIONS}


def test_a_commit_that_fails_after_all_was_written_keeps_the_files(tmp_path, scratch, yard):
    total = operations_of_one_add(tmp_path, scratch)
    yard.add(filing(scratch, 0))
    new = filing(scratch, 1)
    with pytest.MonkeyPatch.context() as patch:
        FailingDisk(patch, total - 1, after_commit=True)
        with pytest.raises(YardError):
            yard.add(new)
    assert yard.stocktake() == []
    assert yard.add(new).already
    assert len(yard.slabs()) == 2


def test_every_write_of_a_removal_may_fail(scratch, yard):
    failed = []
    for kth in range(50):
        number = yard.add(filing(scratch, kth)).slab
        with pytest.MonkeyPatch.context() as patch:
            failing = FailingDisk(patch, kth)
            try:
                yard.remove(number)
            except YardError as told:
                failed.append(failing.failed)
                there = any(row.number == number for row in yard.slabs())
                assert ("was removed, but" in str(told)) is not there
        if failing.failed is None:  # It needed fewer writes than that: all of them have failed once.
            break
        assert [finding for finding in yard.stocktake() if finding.severity == "wrong"] == []
        yard.tidy()
        assert yard.stocktake() == []
        try:
            assert yard.slab(number).surveys[0].original.is_file()
        except NoSuchSlab:
            kept = [path.name for path in (yard.folder / "removed").rglob("*") if path.is_file()]
            sha256 = filing(scratch, kth).photo_sha256
            assert f"{sha256}.jpg" in kept and f"{sha256}-flat.png" in kept
    assert failing.failed is None and failed.count("commit") == 2 and failed.count("rename") == 4


def test_a_really_full_disk_is_one_sentence(worker, scratch, yard):
    """The system itself refuses to let a file grow: here the copy of the photo."""
    worker.ask("fork", "add_on_a_small_disk", yard.folder, scratch, 0, 2000)
    assert worker.hear_out() == ["refused The disk is full, so nothing was stored; make room and do it again."]
    assert yard.slabs() == [] and yard.stocktake() == []


def test_a_database_that_cannot_grow_is_one_sentence(worker, scratch, yard):
    size = (yard.folder / "yard.db").stat().st_size
    for seed in range(40):  # Until a page more is needed.
        worker.ask("fork", "add_on_a_small_disk", yard.folder, scratch, seed, size)
        (said,) = worker.hear_out()
        if said.startswith("refused"):
            break
    assert said.startswith("refused") and said.endswith(".")
    assert yard.stocktake() == []
    assert not yard.add(filing(scratch, seed)).already


def test_a_yard_that_may_not_be_written_says_so(scratch, yard, monkeypatch):
    def refuse(*_):
        raise PermissionError(errno.EACCES, "Permission denied")

    monkeypatch.setattr(disk, "write", refuse)
    with pytest.raises(YardError, match="could not be written to .Permission denied."):
        yard.add(filing(scratch, 0))
