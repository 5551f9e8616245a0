"""Taking back the last thing that was said of a slab: a further change that restores the values before it."""

from collections.abc import Collection
from datetime import date

from sqlalchemy import Connection, select

from grainlog.yard.errors import LifeRefused
from grainlog.yard.life_changes import record_change
from grainlog.yard.life_state import STATUSES, life_after, life_columns
from grainlog.yard.life_tables import changes
from grainlog.yard.tags import tag_of

TAKEN_BACK = "taken back"
#: What a change may have set that can be set again as it was; places are not among it, because other slabs moved too.
_FIELDS = ("status", "until", "for_whom", "face_up", "owner", "price", "figure")


def take_back_last(connection: Connection, number: int, day: date, note: str, unsaid: Collection[str]) -> None:
    """Add the change that takes back what was entered last, inside the caller's transaction.

    unsaid : the names of changes that can be taken back. Raises LifeRefused.
    """
    rows = connection.execute(select(changes).where(changes.c.slab_number == number).order_by(changes.c.id)).fetchall()
    if not rows:
        raise LifeRefused(f"Nothing was said of slab {tag_of(number)} yet, so there is nothing to take back.")
    last = rows[-1]
    if last.what == TAKEN_BACK:
        raise LifeRefused(f"The last change of slab {tag_of(number)} was taken back already; say anew what holds.")
    if last.what not in unsaid:
        raise LifeRefused(
            f"The last entry of slab {tag_of(number)} is '{last.what}', which happened to the wood, a photo or a stack and cannot be "
            "unsaid; say anew how it is now."
        )
    newest = max(row.day for row in rows)
    if day.isoformat() < newest:
        raise LifeRefused(f"Something was said of slab {tag_of(number)} for {newest}; take back on that day or a later one.")
    now, before = (life_columns(life_after(some)) for some in (rows, rows[:-1]))
    value = {name: before[name] for name in _FIELDS if before[name] != now[name]}
    said = f"{last.what} of {last.day}"
    if not STATUSES.get(last.what, True):
        said += "; where it lies has to be said again"
    record_change(connection, number, day, TAKEN_BACK, value, f"{said}; {note}" if note else said)
