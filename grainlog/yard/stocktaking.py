"""Taking stock: reading everything the yard keeps once more, and saying what is wrong or lies about.

Stored rows carry a seal (`seal`), files are stored under or with their SHA-256, and what one table repeats from
another can be worked out again; so a changed byte in any of them is seen. Other processes may add and remove
meanwhile: what looks amiss is looked at again before it is told.
"""

import json
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, select

from grainlog.yard.database import Database
from grainlog.yard.entry import removed_folder
from grainlog.yard.errors import YardError
from grainlog.yard.filing import folded, outline_parts
from grainlog.yard.folder_lock import LOCK_NAME, alone
from grainlog.yard.joined import further_files
from grainlog.yard.keeping import (
    DATABASE,
    FILE_MANAGER_LITTER,
    INBOX,
    INCOMING,
    ORIGINALS,
    PAGE_CACHE,
    PAGE_KEY,
    PICTURES,
    REMOVED,
    STRAYS,
    is_registered,
    is_whole,
    set_aside,
)
from grainlog.yard.life_state import stale_life
from grainlog.yard.registering import standing_columns
from grainlog.yard.removal import ENTRY
from grainlog.yard.schema import logs, outlines, slabs, surveys
from grainlog.yard.seal import seal_of
from grainlog.yard.tables import all_tables
from grainlog.yard.tags import tag_of
from grainlog.yard.version_tables import survey_versions
from grainlog.yard.words import stale_words

ADD_AGAIN = "Add the same photo again; the yard then puts its files back."
RESTORE = "Restore yard.db from a backup of the yard folder, or remove the slab and add its photos again."
MEND_AGAIN = "Mend the survey once more, as little as you like; that draws its pictures anew."
KEPT_ONLY = "Restore it from a backup of the yard folder; the survey as it stands now is whole."
TIDY = "Nothing is lost; tidy the yard."


@dataclass(frozen=True)
class Finding:
    """One thing that stock-taking found.

    severity : "wrong" when something stored is lost or changed, "untidy" when something only lies about.
    what, to_do : a sentence each. path : the file, where it is about one. slab : its number, where it is about one.
    """

    severity: str
    what: str
    path: Path | None
    to_do: str
    slab: int | None = None


def take_stock(database: Database, folder: Path) -> list[Finding]:
    """Everything wrong or untidy in a yard; changes nothing. Raises OSError, YardError."""
    # Files are listed before the tables are read, so that a file added in between is not taken for a stray.
    lying = _stored_places(folder)
    try:
        with database.reading() as connection:
            findings = list(_database_findings(connection, folder))
            if findings:
                return findings
            tables = _read_tables(connection)
            other, repeated = list(_other_findings(connection)), list(_repeated_findings(connection))
        findings = [*_log_findings(tables), *_slab_findings(tables), *_survey_findings(tables, folder), *other]
        # What repeats a changed row differs from it too; once is enough to tell.
        told = {finding.slab for finding in findings}
        findings += [finding for finding in repeated if finding.slab not in told]
        with database.reading() as connection:
            # A slab that was removed while stock was taken is no longer of concern.
            present = set(connection.execute(select(slabs.c.number)).scalars())
        findings = [finding for finding in findings if finding.slab is None or finding.slab in present]
        return [*findings, *_stray_findings(database, folder, lying, tables), *_untidy_findings(folder, present)]
    except YardError as error:
        return [Finding("wrong", str(error), folder / DATABASE, RESTORE)]


def tidy(database: Database, folder: Path) -> list[str]:
    """Delete unfinished temporary files and move strays to `removed/strays/`. Raises OSError, YardError."""
    done = []
    with alone(folder) as nobody_else:
        for path in _files_below(folder / INCOMING) if nobody_else else ():
            path.unlink()
            done.append(f"Deleted the unfinished file {path.name}.")
    with database.writing() as connection:
        present = set(connection.execute(select(slabs.c.number)).scalars())
        for path in _unfinished_removals(folder, present):
            path.unlink()
            done.append(f"Deleted {path.parent.name}/{path.name} of a removal that was cut short.")
        strays = set_aside(connection, folder, _stored_places(folder), folder / REMOVED / STRAYS)
    return done + [f"Moved {path.name} to {REMOVED}/{STRAYS}; no slab points at it." for path in strays]


def _database_findings(connection: Connection, folder: Path) -> Iterator[Finding]:
    path = folder / DATABASE
    for (said,) in connection.exec_driver_sql("PRAGMA integrity_check").fetchall():
        if said != "ok":
            yield Finding("wrong", f"yard.db is damaged: {said}.", path, RESTORE)
    for table, _, parent, _ in connection.exec_driver_sql("PRAGMA foreign_key_check").fetchall():
        yield Finding("wrong", f"An entry of {table} points at one of {parent} that is not there.", path, RESTORE)


@dataclass(frozen=True)
class _Tables:
    logs: list[Any]
    slabs: list[Any]
    surveys: list[Any]
    outlines: dict[int, dict[tuple[str, int], str]]
    # By survey: place and SHA-256 of its further photos.
    further: dict[int, list[tuple[str, str]]]
    # By survey that was mended: place and SHA-256 of the pictures of its earlier versions.
    earlier: dict[int, list[tuple[str, str]]]


def _read_tables(connection: Connection) -> _Tables:
    drawn: dict[int, dict[tuple[str, int], str]] = {}
    for row in connection.execute(select(outlines)):
        drawn.setdefault(row.survey_id, {})[row.kind, row.part] = row.points_mm
    rows = (list(connection.execute(select(table).order_by(*table.primary_key))) for table in (logs, slabs, surveys))
    further: dict[int, list[tuple[str, str]]] = {}
    for survey, _, place, sha256 in further_files(connection):
        further.setdefault(survey, []).append((place, sha256))
    earlier: dict[int, list[tuple[str, str]]] = {}
    for row in connection.execute(select(survey_versions)):
        pictures = ((row.flat_path, row.flat_sha256), (row.overlay_path, row.overlay_sha256))
        earlier.setdefault(row.survey_id, []).extend(picture for picture in pictures if picture[0] is not None)
    return _Tables(*rows, outlines=drawn, further=further, earlier=earlier)


def _log_findings(tables: _Tables) -> Iterator[Finding]:
    for row in tables.logs:
        whole = folded(row.name) == row.name_folded and folded(row.species or "") == row.species_folded
        if not (whole and seal_of(row._mapping) == row.seal):
            yield Finding("wrong", f"The entry of log {row.name} was changed outside grainlog.", None, RESTORE)


def _slab_findings(tables: _Tables) -> Iterator[Finding]:
    surveys_of: dict[int, list[Any]] = {}
    for row in tables.surveys:
        surveys_of.setdefault(row.slab_number, []).append(row)
    for row in tables.slabs:
        if row.number not in surveys_of:
            yield Finding("wrong", f"Slab {tag_of(row.number)} has no survey.", None, RESTORE, row.number)
            continue
        if not _readable(surveys_of[row.number]):
            continue  # Told with the survey.
        follows = standing_columns(surveys_of[row.number])
        if any(row._mapping[name] != value for name, value in follows.items()) or seal_of(row._mapping) != row.seal:
            yield Finding(
                "wrong", f"The entry of slab {tag_of(row.number)} was changed outside grainlog.", None, RESTORE, row.number
            )


def _survey_findings(tables: _Tables, folder: Path) -> Iterator[Finding]:
    for row in tables.surveys:
        of = f"slab {tag_of(row.slab_number)} (photo {row.photo_name})"
        if not _readable([row]) or seal_of(row._mapping) != row.seal or not _agrees(row):
            yield Finding("wrong", f"A survey of {of} was changed outside grainlog.", None, RESTORE, row.slab_number)
        elif tables.outlines.get(row.id, {}) != _drawn(row):
            yield Finding("wrong", f"An outline of {of} is not the one surveyed.", None, RESTORE, row.slab_number)
        # Adding the photo again draws it as it was first found.
        redrawn = MEND_AGAIN if row.id in tables.earlier else ADD_AGAIN
        files = (
            ("original photo", row.original_path, row.photo_sha256, ADD_AGAIN),
            ("flat view", row.flat_path, row.flat_sha256, redrawn),
            ("overlay", row.overlay_path, row.overlay_sha256, redrawn),
            *(("further photo", *one, ADD_AGAIN) for one in tables.further.get(row.id, ())),
            *(("earlier picture", *one, KEPT_ONLY) for one in tables.earlier.get(row.id, ())),
        )
        for what, place, sha256, to_do in files:
            if place is not None and not is_whole(folder / place, sha256):
                trouble = "has changed" if (folder / place).exists() else "is missing"
                yield Finding("wrong", f"The {what} of {of} {trouble}.", folder / place, to_do, row.slab_number)


def _other_findings(connection: Connection) -> Iterator[Finding]:
    """Rows of all other sealed tables."""
    for table in all_tables():
        if "seal" not in table.c or table in (logs, slabs, surveys):
            continue
        of_a_slab = next((key.parent.name for key in table.foreign_keys if key.column is slabs.c.number), None)
        for row in connection.execute(select(table).order_by(*table.primary_key)):
            if seal_of(row._mapping) == row.seal:
                continue
            number = None if of_a_slab is None else row._mapping[of_a_slab]
            of = "" if number is None else f" of slab {tag_of(number)}"
            what = f"An entry{of} in {table.name.replace('_', ' ')} was changed outside grainlog."
            yield Finding("wrong", what, None, RESTORE, number)


def _repeated_findings(connection: Connection) -> Iterator[Finding]:
    """What is kept a second time so that a search is quick."""
    for number in stale_life(connection):
        what = f"Where slab {tag_of(number)} stands does not follow from what happened to it."
        yield Finding("wrong", what, None, RESTORE, number)
    for number in stale_words(connection):
        yield Finding("wrong", f"The words that find slab {tag_of(number)} are not its own.", None, RESTORE, number)


def _readable(rows: list[Any]) -> bool:
    try:
        return all(isinstance(json.loads(row.record)["face"], dict) for row in rows)
    except (ValueError, KeyError, TypeError):
        return False


def _agrees(row: Any) -> bool:
    record = json.loads(row.record)
    return record["photo"]["sha256"] == row.photo_sha256 and record["face"].get("side") == row.side


def _drawn(row: Any) -> dict[tuple[str, int], str]:
    return {key: json.dumps(points) for key, points in outline_parts(json.loads(row.record)).items()}


def _stray_findings(database: Database, folder: Path, lying: list[str], tables: _Tables) -> list[Finding]:
    known = {place for row in tables.surveys for place in (row.original_path, row.flat_path, row.overlay_path)}
    known |= {place for some in tables.further.values() for place, _ in some}
    suspects = [place for place in lying if place not in known]
    if not suspects:
        return []
    # Files are put in place inside a write transaction: with the pen in hand, what is unregistered is a stray.
    with database.writing() as connection:
        strays = [place for place in suspects if (folder / place).exists() and not is_registered(connection, place)]
    return [Finding("untidy", f"No slab points at {Path(place).name}.", folder / place, TIDY) for place in strays]


_OURS = {LOCK_NAME, INCOMING, ORIGINALS, PICTURES, REMOVED, PAGE_KEY, INBOX, PAGE_CACHE}


def _untidy_findings(folder: Path, present: set[int]) -> Iterator[Finding]:
    with alone(folder) as nobody_else:
        for path in _files_below(folder / INCOMING) if nobody_else else ():
            yield Finding("untidy", f"{path.name} was left by work that was cut short.", path, TIDY)
    for path in _unfinished_removals(folder, present):
        yield Finding("untidy", f"A removal of {path.parent.name.replace('-', ' ')} was cut short.", path, TIDY)
    for path in sorted(folder.iterdir()):
        ours = path.name.startswith(DATABASE) or path.name in _OURS
        if not ours and path.name not in FILE_MANAGER_LITTER:
            to_do = "Move it elsewhere; the yard folder is best left to the yard."
            yield Finding("untidy", f"{path.name} is not of the yard.", path, to_do)


def _unfinished_removals(folder: Path, present: set[int]) -> list[Path]:
    written = (removed_folder(folder, number) / ENTRY for number in sorted(present))
    return [path for path in written if path.is_file()]


def _stored_places(folder: Path) -> list[str]:
    stored = [*_files_below(folder / ORIGINALS), *_files_below(folder / PICTURES)]
    return [path.relative_to(folder).as_posix() for path in stored]


def _files_below(folder: Path) -> list[Path]:
    return sorted(path for path in folder.rglob("*") if path.is_file() and path.name not in FILE_MANAGER_LITTER)
