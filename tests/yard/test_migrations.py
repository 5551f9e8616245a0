"""Older and newer yards."""

import sqlite3
from contextlib import closing

import pytest

from grainlog.yard import NotAYard, Yard, YardError, YardTooNew, disk
from grainlog.yard.migrations import APPLICATION_ID, _table_statements, bring_up_to_date
from tests.yard.filings import filing

# The tables as version 1 made them, frozen here: a yard with these must open for ever.
VERSION_1 = {
    "logs": "id name name_folded species species_folded started_at seal",
    "slabs": "number log_id order_in_log surveyed_at "
    "length_mm length_mm_u width_min_mm width_min_mm_u width_mean_mm width_mean_mm_u width_max_mm width_max_mm_u "
    "thickness_mm thickness_mm_u area_mm2 area_mm2_u volume_mm3 volume_mm3_u board_feet board_feet_u "
    "faces one_face_only seal",
    "surveys": "id slab_number side surveyed_at filed_at photo_name photo_sha256 original_path flat_path flat_sha256 "
    "overlay_path overlay_sha256 thickness_readings_mm note words_folded record seal",
    "outlines": "id survey_id kind part points_mm",
    "settings": "name value set_at",
}


def version_of(yard) -> int:
    with closing(sqlite3.connect(yard)) as connection:
        return connection.execute("PRAGMA user_version").fetchone()[0]


def slab_count(path) -> int:
    with closing(sqlite3.connect(path)) as connection:
        return connection.execute("SELECT count(*) FROM slabs").fetchone()[0]


def add_places(connection: sqlite3.Connection) -> None:
    """A pretend next version: a new table, and a column moved by rebuilding a table that others point at."""
    connection.execute("CREATE TABLE pretend_places (id INTEGER PRIMARY KEY, slab REFERENCES slabs(number))")
    connection.execute("CREATE TABLE logs_new (id INTEGER PRIMARY KEY, name TEXT NOT NULL, felled TEXT)")
    connection.execute("INSERT INTO logs_new SELECT id, name, NULL FROM logs")
    connection.execute("DROP TABLE logs")
    connection.execute("ALTER TABLE logs_new RENAME TO logs")


def add_a_note(connection: sqlite3.Connection) -> None:
    connection.execute("ALTER TABLE pretend_places ADD COLUMN note TEXT")


def fail_half_way(connection: sqlite3.Connection) -> None:
    connection.execute("CREATE TABLE half (id INTEGER PRIMARY KEY)")
    connection.execute("SELECT * FROM a_table_that_is_not_there")


def leave_something_dangling(connection: sqlite3.Connection) -> None:
    connection.execute("DELETE FROM logs")


@pytest.fixture
def first_version(yard, scratch):
    """yard.db of a yard at version 1 with two slabs."""
    for seed in range(2):
        yard.add(filing(scratch, seed))
    return yard.folder / "yard.db"


def test_version_1_is_what_a_new_yard_has(first_version):
    with closing(sqlite3.connect(first_version)) as connection:
        columns = {
            table: " ".join(row[1] for row in connection.execute(f"PRAGMA table_info({table})")) for table in VERSION_1
        }
        tables = {row[0] for row in connection.execute("SELECT name FROM sqlite_master WHERE type = 'table'")}
        assert connection.execute("PRAGMA journal_mode").fetchone() == ("delete",)
    assert columns == VERSION_1
    assert tables == {*VERSION_1, "sqlite_sequence"}
    assert version_of(first_version) == 1
    assert any("AUTOINCREMENT" in statement for statement in _table_statements())


def test_two_versions_forward_each_with_its_backup(first_version):
    bring_up_to_date(first_version, {1: add_places, 2: add_a_note}, newest=3)
    assert version_of(first_version) == 3
    with closing(sqlite3.connect(first_version)) as connection:
        assert connection.execute("SELECT count(*) FROM slabs JOIN logs ON log_id = logs.id").fetchone() == (2,)
        assert [row[1] for row in connection.execute("PRAGMA table_info(pretend_places)")] == ["id", "slab", "note"]
        assert connection.execute("PRAGMA integrity_check").fetchone() == ("ok",)
        assert connection.execute("PRAGMA foreign_key_check").fetchall() == []
    backups = {path.name: path for path in first_version.parent.glob("yard.db.before-*")}
    assert set(backups) == {"yard.db.before-v2", "yard.db.before-v3"}
    assert version_of(backups["yard.db.before-v2"]) == 1 and version_of(backups["yard.db.before-v3"]) == 2
    assert slab_count(backups["yard.db.before-v2"]) == 2
    bring_up_to_date(first_version, {1: add_places, 2: add_a_note}, newest=3)  # nothing more to do
    assert version_of(first_version) == 3


def test_a_backup_is_a_whole_yard(first_version, scratch, tmp_path):
    bring_up_to_date(first_version, {1: add_places}, newest=2)
    (first_version.parent / "yard.db.before-v2").replace(first_version)
    with Yard.open(first_version.parent) as yard:
        assert [row.number for row in yard.slabs()] == [1, 2] and yard.stocktake() == []
        assert yard.add(filing(scratch, 2)).slab == 3


@pytest.mark.parametrize("migration, error", [(fail_half_way, YardError), (leave_something_dangling, YardError)])
def test_a_migration_that_fails_leaves_the_yard_as_it_was(first_version, migration, error):
    with pytest.raises(error) as told:
        bring_up_to_date(first_version, {1: migration}, newest=2)
    assert str(told.value).endswith(".") and "\n" not in str(told.value)
    assert version_of(first_version) == 1
    with Yard.open(first_version.parent) as yard:
        assert len(yard.slabs()) == 2 and yard.stocktake() == []


def test_no_backup_no_migration(first_version, monkeypatch):
    def full(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(disk, "rename", full)
    with pytest.raises(YardError, match="backup .* could not be written .No space left on device."):
        bring_up_to_date(first_version, {1: add_places}, newest=2)
    assert version_of(first_version) == 1 and slab_count(first_version) == 2


def test_a_newer_yard_is_refused_untouched(first_version):
    with closing(sqlite3.connect(first_version)) as connection:
        connection.execute("PRAGMA user_version = 2")
    before = first_version.read_bytes()
    with pytest.raises(YardTooNew, match="later grainlog .yard version 2, this one knows 1."):
        Yard.open(first_version.parent)
    assert first_version.read_bytes() == before


def test_another_programs_database_is_not_a_yard(tmp_path):
    with closing(sqlite3.connect(tmp_path / "yard.db")) as connection:
        connection.execute("CREATE TABLE recipes (name TEXT)")
        connection.execute(f"PRAGMA application_id = {APPLICATION_ID + 1}")
    with pytest.raises(NotAYard, match="not a yard's database"):
        Yard.open(tmp_path)


def test_a_yard_switched_to_another_journal_is_switched_back(first_version):
    with closing(sqlite3.connect(first_version)) as connection:
        assert connection.execute("PRAGMA journal_mode = WAL").fetchone() == ("wal",)
    with Yard.open(first_version.parent) as yard:
        assert len(yard.slabs()) == 2
    with closing(sqlite3.connect(first_version)) as connection:
        assert connection.execute("PRAGMA journal_mode").fetchone() == ("delete",)
