"""Moving a survey that was filed under the wrong slab: nothing is lost, both slabs' figures follow, both histories tell."""

from contextlib import nullcontext
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from sqlalchemy import Connection, Row, select, update

from grainlog.yard.database import Database
from grainlog.yard.entry import removed_folder
from grainlog.yard.errors import FilingRefused
from grainlog.yard.folder_lock import handling_files
from grainlog.yard.life_changes import record_change, require_slab
from grainlog.yard.registering import refresh_standing
from grainlog.yard.removal import take_out_rows
from grainlog.yard.schema import slabs, surveys
from grainlog.yard.seal import set_seal
from grainlog.yard.tables import tables_of_a_slab
from grainlog.yard.tags import tag_of

#: What the histories of both slabs call it.
MOVED = "survey moved"


@dataclass(frozen=True)
class Moved:
    """A survey that was moved: its id, the day of its photo, the slab it was under and the one it is under now.

    kept_in : where the entry of the slab it was under is kept, when that one was left without any survey and taken out; else None
    """

    survey: int
    surveyed_at: str
    was: int
    now: int
    kept_in: Path | None = None


def move_survey(database: Database, folder: Path, survey: int, to: int, note: str = "", take_out: bool = False) -> Moved:
    """File a survey under another slab, with all that was entered on it (outline, defects drawn on it).

    take_out : a slab that is left without any survey is taken out of the yard: its entry is kept, its number is never given
        again. Otherwise its only survey stays.

    Raises FilingRefused, RemovalRefused, NoSuchSlab, YardError; nothing is changed then.
    """
    with handling_files(folder) if take_out else nullcontext(), database.writing() as connection:
        row = connection.execute(select(surveys).where(surveys.c.id == survey)).first()
        if row is None:
            raise FilingRefused(f"There is no survey {survey} in this yard; see the slab's surveys (grainlog show SLAB --json).")
        require_slab(connection, to)
        emptied = _require_free(connection, row, to, take_out)
        _carry_over(connection, survey, to)
        was, day = row.slab_number, row.surveyed_at[:10]
        gone = f"survey {survey} of {day} was filed here by mistake and went to slab {tag_of(to)}"
        came = f"survey {survey} of {day} came from slab {tag_of(was)}, where it was filed by mistake"
        if emptied:
            gone += "; none was left here, so this slab was taken out"
            came += "; that slab had no other and was taken out"
        for number, said in ((was, gone), (to, came)):
            if not (emptied and number == was):
                refresh_standing(connection, number)
            record_change(connection, number, date.today(), MOVED, note=f"{said}; {note}" if note.strip() else said)
        if emptied:
            take_out_rows(connection, folder, was)
    return Moved(survey, row.surveyed_at, was, to, removed_folder(folder, was) if emptied else None)


def _require_free(connection: Connection, row: Row, to: int, take_out: bool) -> bool:
    """Whether its slab is left without any; raises FilingRefused for a survey that other entries hold where it is."""
    here = tag_of(row.slab_number)
    if row.slab_number == to:
        raise FilingRefused(
            f"Survey {row.id} is filed under slab {here} already; name another slab."
        )
    derived = connection.execute(
        select(surveys.c.id).where(surveys.c.cut_from == row.id)
    ).first()
    if row.before_cut or row.cut_from is not None or derived is not None:
        raise FilingRefused(
            f"Slab {here} was cut after survey {row.id}, and what is left was worked out from it, so it stays where it is; add the "
            "right photo to both slabs instead."
        )
    others = select(surveys.c.id).where(
        surveys.c.slab_number == row.slab_number,
        surveys.c.id != row.id,
        surveys.c.before_cut == 0,
    )
    emptied = connection.execute(others).first() is None
    if emptied and not take_out:
        raise FilingRefused(
            f"Survey {row.id} is the only one of slab {here}, which would be left without any: say --take-out as well, and slab {here} "
            "goes out of the yard (what was entered on it is kept, its number is never given again); or add the photo that shows "
            f"slab {here} first."
        )
    return emptied


def _carry_over(connection: Connection, survey: int, to: int) -> None:
    """The survey's row, and every row that points both at the survey and at its slab."""
    for table, _ in tables_of_a_slab():
        if table is slabs:
            continue
        of_slab = [
            key.parent for key in table.foreign_keys if key.column is slabs.c.number
        ]
        of_survey = [
            key.parent for key in table.foreign_keys if key.column is surveys.c.id
        ]
        if not of_slab or (table is not surveys and not of_survey):
            continue
        rows = surveys.c.id == survey if table is surveys else of_survey[0] == survey
        keys = [
            tuple(row)
            for row in connection.execute(select(*table.primary_key).where(rows))
        ]
        connection.execute(
            update(table).where(rows).values({column: to for column in of_slab})
        )
        for key in keys if "seal" in table.c else ():
            (column,) = table.primary_key
            set_seal(connection, table, column == key[0])
