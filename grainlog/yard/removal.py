"""Taking a slab out of the yard without losing anything: its entry and files go to `removed/slab-N/`.

The entry is every row of every table that belongs to the slab (`tables.tables_of_a_slab`), so a new table needs no
word here.
"""

import json
import secrets
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from sqlalchemy import ColumnElement, Connection, Table, and_, delete, or_, select

from grainlog.yard import disk
from grainlog.yard.database import Database
from grainlog.yard.entry import read_entry, removed_folder
from grainlog.yard.errors import RemovalRefused, YardError
from grainlog.yard.filing import now_text
from grainlog.yard.folder_lock import handling_files
from grainlog.yard.joined_tables import further_photos
from grainlog.yard.keeping import INCOMING, set_aside
from grainlog.yard.schema import logs, slabs
from grainlog.yard.tables import tables_of_a_slab
from grainlog.yard.tags import tag_of
from grainlog.yard.version_tables import survey_versions
from grainlog.yard.words import refresh_words

ENTRY = "slab.json"


@dataclass(frozen=True)
class Removed:
    """A slab that was taken out, and the folder that keeps its entry (`slab.json`), originals and pictures."""

    slab: int
    kept_in: Path


def remove_slab(database: Database, folder: Path, number: int) -> Removed:
    """Take a slab and all that belongs to it out of the tables, then move its files aside.

    The entry is written out first. Cut short after that, the slab is still in the yard; cut short after the
    transaction, its files are strays that tidying moves aside. Raises NoSuchSlab, RemovalRefused, OSError,
    YardError.
    """
    kept = removed_folder(folder, number)
    with handling_files(folder):
        with database.writing() as connection:
            entry = read_entry(connection, folder, number)
            rows = take_out_rows(connection, folder, number)
            places = [
                path.relative_to(folder).as_posix()
                for survey in entry.surveys
                for path in (survey.original, survey.flat, survey.overlay)
                if path is not None
            ]
            places += [row.original_path for row in rows[further_photos.name]]
            versions = rows[survey_versions.name]
            places += [place for row in versions for place in (row.flat_path, row.overlay_path) if place is not None]
        # A second transaction: until the first is committed the files must stay where the tables say they are.
        try:
            with database.writing() as connection:
                set_aside(connection, folder, places, kept)
        except (OSError, YardError) as error:
            raise YardError(
                f"Slab {tag_of(number)} was removed, but its files could not all be moved to {kept}; "
                "nothing is lost, tidy the yard when the disk is well."
            ) from error
    return Removed(number, kept)


def take_out_rows(connection: Connection, folder: Path, number: int) -> dict[str, list[Any]]:
    """Write a slab's entry out to where it is kept and take every row of it out; returns the rows by their table's name.

    The caller holds `handling_files`. Raises RemovalRefused, OSError, YardError.
    """
    _refuse_with_pieces(connection, number)
    rows = _rows(connection, number)
    log = connection.execute(select(logs).where(logs.c.id == rows[slabs.name][0].log_id)).one()
    _write_out(folder, removed_folder(folder, number), _as_plain_data(rows, log))
    for table, _ in reversed(tables_of_a_slab()):
        keys = [tuple(row._mapping[column.name] for column in table.primary_key) for row in rows[table.name]]
        # The newest first: a survey worked out after a cut points at an older one.
        for key in reversed(keys):
            connection.execute(delete(table).where(_is(table, key)))
    refresh_words(connection, [number])
    return rows


def _refuse_with_pieces(connection: Connection, number: int) -> None:
    pieces = connection.execute(select(slabs.c.number).where(slabs.c.piece_of == number)).scalars().all()
    if pieces:
        raise RemovalRefused(
            f"Slab {tag_of(number)} lives on in {' and '.join(map(tag_of, sorted(pieces, reverse=True)))}, which were cut "
            "from it; remove those first."
        )


def _rows(connection: Connection, number: int) -> dict[str, list[Any]]:
    """The rows of every table that belong to a slab, by the table's name."""
    found: dict[str, list[Any]] = {}
    for table, links in tables_of_a_slab():
        if table is slabs:
            condition = slabs.c.number == number
        else:
            condition = or_(
                *(
                    table.c[column].in_([row._mapping[key] for row in found[parent]])
                    for column, parent, key in links
                )
            )
        found[table.name] = list(connection.execute(select(table).where(condition).order_by(*table.primary_key)))
    return found


def _is(table: Table, key: tuple[Any, ...]) -> ColumnElement[bool]:
    return and_(*(column == value for column, value in zip(table.primary_key, key, strict=True)))


def _as_plain_data(rows: dict[str, list[Any]], log: Any) -> dict[str, Any]:
    tables = {name: [_plain(row) for row in some] for name, some in rows.items() if some}
    (slab,) = tables.pop(slabs.name)
    return {"removed_at": now_text(), "slab": slab, "log": [_plain(log)], **tables}


def _plain(row: Any) -> dict[str, Any]:
    # Bytes are written in hexadecimal, which JSON can hold.
    return {name: value.hex() if isinstance(value, bytes) else value for name, value in row._mapping.items()}


def _write_out(folder: Path, kept: Path, rows: dict) -> None:
    waiting = folder / INCOMING / f"{secrets.token_hex(8)}-{ENTRY}.part"
    disk.make_folder(waiting.parent)
    disk.make_folder(kept)
    try:
        disk.write_file(waiting, json.dumps(rows, indent=1).encode())
        disk.rename(waiting, kept / ENTRY)
    finally:
        waiting.unlink(missing_ok=True)
    disk.sync_folder(kept)
