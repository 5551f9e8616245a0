"""Taking a slab out of the yard without losing anything: its entry and files go to `removed/slab-N/`."""

import json
import secrets
from dataclasses import dataclass
from pathlib import Path

from sqlalchemy import Connection, delete, select

from grainlog.yard import disk
from grainlog.yard.database import Database
from grainlog.yard.entry import read_entry, removed_folder
from grainlog.yard.errors import YardError
from grainlog.yard.filing import now_text
from grainlog.yard.folder_lock import handling_files
from grainlog.yard.keeping import INCOMING, set_aside
from grainlog.yard.schema import logs, outlines, slabs, surveys

ENTRY = "slab.json"


@dataclass(frozen=True)
class Removed:
    """A slab that was taken out, and the folder that keeps its entry (`slab.json`), originals and pictures."""

    slab: int
    kept_in: Path


def remove_slab(database: Database, folder: Path, number: int) -> Removed:
    """Take a slab and its surveys out of the tables, then move its files aside.

    The entry is written out first. Cut short after that, the slab is still in the yard; cut short after the
    transaction, its files are strays that tidying moves aside. Raises NoSuchSlab, OSError, YardError.
    """
    kept = removed_folder(folder, number)
    with handling_files(folder):
        with database.writing() as connection:
            entry = read_entry(connection, folder, number)
            ids = [survey.id for survey in entry.surveys]
            _write_out(folder, kept, _rows(connection, number, ids))
            places = [
                path.relative_to(folder).as_posix()
                for survey in entry.surveys
                for path in (survey.original, survey.flat, survey.overlay)
                if path is not None
            ]
            connection.execute(delete(outlines).where(outlines.c.survey_id.in_(ids)))
            connection.execute(delete(surveys).where(surveys.c.slab_number == number))
            connection.execute(delete(slabs).where(slabs.c.number == number))
        # A second transaction: until the first is committed the files must stay where the tables say they are.
        try:
            with database.writing() as connection:
                set_aside(connection, folder, places, kept)
        except (OSError, YardError) as error:
            raise YardError(
                f"Slab {number} was removed, but its files could not all be moved to {kept}; "
                "nothing is lost, tidy the yard when the disk is well."
            ) from error
    return Removed(number, kept)


def _rows(connection: Connection, number: int, ids: list[int]) -> dict:
    slab = connection.execute(select(slabs).where(slabs.c.number == number)).one()
    queries = {
        "log": select(logs).where(logs.c.id == slab.log_id),
        "surveys": select(surveys).where(surveys.c.slab_number == number),
        "outlines": select(outlines).where(outlines.c.survey_id.in_(ids)),
    }
    tables = {name: [dict(row._mapping) for row in connection.execute(query)] for name, query in queries.items()}
    return {"removed_at": now_text(), "slab": dict(slab._mapping), **tables}


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
