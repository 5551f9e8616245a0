"""Older and newer yards."""

import hashlib
import json
import re
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from grainlog.yard import NotAYard, SlabQuery, Yard, YardError, YardTooNew, disk
from grainlog.yard.filing import outline_parts
from grainlog.yard.migrations import bring_up_to_date
from grainlog.yard.schema import APPLICATION_ID, SCHEMA_VERSION
from tests.yard.filings import filing

# What a released version 1 wrote for an empty yard, frozen: a yard with these tables must open for ever.
VERSION_1 = (Path(__file__).parent / "version_1.sql").read_text()
# Figures that the frozen row's surveys follow from are those of `tests.yard.filings.record`.
V1_FIGURES = {"length_mm": (2700.0, 2.0), "width_min_mm": (550.0, 1.0), "width_mean_mm": (600.0, 1.0),
              "width_max_mm": (650.0, 1.0), "thickness_mm": (63.5, 1.0), "area_mm2": (1620000.0, 4000.0),
              "volume_mm3": (102870000.0, 1700000.0),
              "board_feet": (2700.0 * 600.0 * 63.5 / (144 * 25.4**3), 0.7)}  # fmt: skip


def sealed(row: dict) -> dict:
    """The row with the seal of version 1: SHA-256 over its JSON with sorted names."""
    return row | {"seal": hashlib.sha256(json.dumps(row, sort_keys=True).encode()).hexdigest()}


def insert(connection: sqlite3.Connection, table: str, row: dict) -> None:
    marks = ", ".join(f":{name}" for name in row)
    connection.execute(f"INSERT INTO {table} ({', '.join(row)}) VALUES ({marks})", row)


def version_1_yard(folder: Path, scratch: Path) -> Path:
    """A yard as version 1 wrote it, with one log and slabs 1 and 2; slab 3 was there and was removed."""
    folder.mkdir()
    for name in ("incoming", "originals", "pictures"):
        (folder / name).mkdir()
    path = folder / "yard.db"
    with closing(sqlite3.connect(path)) as connection, connection:
        connection.executescript(VERSION_1)
        connection.execute(f"PRAGMA application_id = {APPLICATION_ID}")
        connection.execute("PRAGMA user_version = 1")
        insert(connection, "logs", sealed({
            "id": 1, "name": "Storm Oak", "name_folded": "storm oak", "species": "White Oak",
            "species_folded": "white oak", "started_at": "2025-03-04T12:00:00+00:00"}))  # fmt: skip
        for number in (1, 2):
            made = filing(scratch, 70 + number, side="bark")
            place = folder / "originals" / f"{made.photo_sha256}.jpg"
            place.write_bytes(made.photo.read_bytes())
            row = {"number": number, "log_id": 1, "order_in_log": number, "surveyed_at": "2025-03-04T10:20:30",
                   "faces": "bark", "one_face_only": 1}  # fmt: skip
            for name, (value, u) in V1_FIGURES.items():
                row |= {name: value, f"{name}_u": u}
            insert(connection, "slabs", sealed(row))
            insert(connection, "surveys", sealed({
                "id": number, "slab_number": number, "side": "bark", "surveyed_at": "2025-03-04T10:20:30",
                "filed_at": "2025-03-05T08:00:00+00:00", "photo_name": f"photo-7{number}.jpg",
                "photo_sha256": made.photo_sha256, "original_path": f"originals/{place.name}", "flat_path": None,
                "flat_sha256": None, "overlay_path": None, "overlay_sha256": None, "thickness_readings_mm": "[63.5]",
                "note": "knot", "words_folded": f"knot photo-7{number}.jpg",
                "record": json.dumps(made.record)}))  # fmt: skip
            for (kind, part), points in outline_parts(made.record).items():
                insert(connection, "outlines", {"survey_id": number, "kind": kind, "part": part,
                                                "points_mm": json.dumps(points)})  # fmt: skip
        connection.execute("UPDATE sqlite_sequence SET seq = 3 WHERE name = 'slabs'")
        insert(connection, "settings", {"name": "print_bars", "value": '{"across_mm": 99.8, "down_mm": 100.1}',
                                        "set_at": "2025-03-01T08:00:00+00:00"})  # fmt: skip
    return path


def shape_of(path: Path) -> dict:
    """Everything that a yard's tables are made of, however their SQL was written."""
    shape: dict = {}
    with closing(sqlite3.connect(path)) as connection:
        for kind, name, sql in connection.execute("SELECT type, name, sql FROM sqlite_master").fetchall():
            if kind in ("view", "trigger") or (sql or "").startswith("CREATE VIRTUAL"):
                shape[kind, name] = " ".join(sql.split())
            elif kind == "table":
                indexes = connection.execute(f"PRAGMA index_list({name})").fetchall()
                shape[kind, name] = {
                    "columns": connection.execute(f"PRAGMA table_xinfo({name})").fetchall(),
                    "keys": sorted(row[2:] for row in connection.execute(f"PRAGMA foreign_key_list({name})")),
                    "indexes": sorted(
                        (*row[2:], *connection.execute(f"PRAGMA index_xinfo({row[1]})").fetchall()) for row in indexes
                    ),
                    "checks": sorted(re.findall(r"CHECK \(.*\)", sql or "")),
                    "numbered for good": "AUTOINCREMENT" in (sql or ""),
                }
            else:
                shape[kind, name] = " ".join((sql or "").split())
    return shape


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
def first_version(tmp_path, scratch):
    """yard.db of a yard at version 1 with two slabs."""
    return version_1_yard(tmp_path / "old", scratch)


def test_a_version_1_yard_becomes_what_a_new_yard_is(first_version, yard):
    assert version_of(first_version) == 1
    bring_up_to_date(first_version)
    assert version_of(first_version) == SCHEMA_VERSION == version_of(yard.folder / "yard.db")
    migrated, new = shape_of(first_version), shape_of(yard.folder / "yard.db")
    assert migrated.keys() == new.keys()
    for part, shape in new.items():
        assert migrated[part] == shape, part


def test_what_a_version_1_yard_held_is_all_there_and_sealed(first_version, scratch):
    with Yard.open(first_version.parent) as yard:
        assert yard.stocktake() == []
        assert [(row.tag, row.log, row.order) for row in yard.slabs()] == [("1", "Storm Oak", 1), ("2", "Storm Oak", 2)]
        assert yard.slab(2).surveys[0].note == "knot" and yard.slab(2).figures["length_mm"].value == 2700.0
        assert [row.number for row in yard.slabs(SlabQuery(text="KNOT oak photo-72"))] == [2]
        assert yard.settings.print_bars.across_mm == 99.8
        # Number 3 was given once; it is never given again.
        assert yard.add(filing(scratch, 5)).slab == 4
        assert yard.remove(4).slab == 4 and yard.stocktake() == []
    assert (first_version.parent / "yard.db.before-v2").is_file()


def test_a_row_changed_behind_version_1s_back_is_still_seen(first_version):
    with closing(sqlite3.connect(first_version)) as connection, connection:
        connection.execute("UPDATE surveys SET note = 'sold' WHERE id = 2")
        connection.execute("UPDATE slabs SET order_in_log = 9 WHERE number = 1")
    with Yard.open(first_version.parent) as yard:
        assert {finding.slab for finding in yard.stocktake() if finding.severity == "wrong"} == {1, 2}


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
    bring_up_to_date(first_version)
    (first_version.parent / "yard.db.before-v2").replace(first_version)
    with Yard.open(first_version.parent) as yard:
        assert [row.number for row in yard.slabs()] == [1, 2] and yard.stocktake() == []
        assert yard.add(filing(scratch, 2)).slab == 4


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
        connection.execute(f"PRAGMA user_version = {SCHEMA_VERSION + 1}")
    before = first_version.read_bytes()
    with pytest.raises(
        YardTooNew, match=f"later grainlog .yard version {SCHEMA_VERSION + 1}, this one knows {SCHEMA_VERSION}."
    ):
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
