"""Pieces that are no slabs: quarter-sawn offcuts, turning blanks, beams. They live beside the slabs, without a survey.

Their sizes are what the person says, with no uncertainty of ours; what happens to them is kept like a slab's.
"""

from dataclasses import dataclass
from datetime import date

from sqlalchemy import Connection, Row, insert, select

from grainlog.units import board_feet
from grainlog.yard.database import Database
from grainlog.yard.errors import LifeRefused
from grainlog.yard.filing import folded, now_text, tidy_text
from grainlog.yard.life import GIVEN
from grainlog.yard.life_changes import Change, add_change, read_changes
from grainlog.yard.life_state import Life, life_after, life_columns
from grainlog.yard.life_tables import changes, other_pieces
from grainlog.yard.schema import logs
from grainlog.yard.seal import set_seal


@dataclass(frozen=True)
class OtherPiece:
    """One piece, or `count` of them alike. kind : in the person's words. Sizes in mm, None where nobody said."""

    id: int
    kind: str
    log: str | None
    length_mm: float | None
    width_mm: float | None
    thickness_mm: float | None
    count: int
    note: str
    life: Life

    @property
    def board_feet(self) -> float | None:
        """Of all `count` together, by the sizes as said; None while one is missing."""
        sizes = (self.length_mm, self.width_mm, self.thickness_mm)
        if None in sizes:
            return None
        return self.count * board_feet(self.length_mm * self.width_mm * self.thickness_mm)


class OtherPieces:
    """The pieces of one yard that are no slabs."""

    def __init__(self, database: Database):
        self._database = database

    def all(self, gone_too: bool = False, text: str | None = None) -> list[OtherPiece]:
        """Every piece that is still there, or was ever.

        text : words or parts of words, each to be found in what the piece is, its log and species, a note, or anything else
            that was said of it.
        """
        words = folded(text or "").split()
        with self._database.reading() as connection:
            rows = connection.execute(select(other_pieces).order_by(other_pieces.c.id)).fetchall()
            rows = [row for row in rows if not words or all(word in _words(connection, row) for word in words)]
            pieces = [_piece(connection, row) for row in rows]
        return [piece for piece in pieces if gone_too or piece.life.present]

    def add(
        self, kind: str, log: str | None = None, length_mm: float | None = None, width_mm: float | None = None,
        thickness_mm: float | None = None, count: int = 1, note: str = "",
    ) -> OtherPiece:  # fmt: skip
        """Keep a new piece. Raises LifeRefused for a log that the yard does not know or a size that is none."""
        named = tidy_text(kind)
        if named is None or count < 1:
            raise LifeRefused("Say what the piece is, such as 'turning blank', and how many there are, at least one.")
        if any(size is not None and not 0 < size < 1e6 for size in (length_mm, width_mm, thickness_mm)):
            raise LifeRefused("A size has to be greater than zero.")
        with self._database.writing() as connection:
            log_id = None
            if log is not None:
                log_id = connection.execute(select(logs.c.id).where(logs.c.name_folded == folded(log))).scalar()
                if log_id is None:
                    raise LifeRefused(f"There is no log {log} in this yard; leave the log out, or add its slabs first.")
            key = connection.execute(
                insert(other_pieces).values(
                    kind=named, log_id=log_id, length_mm=length_mm, width_mm=width_mm, thickness_mm=thickness_mm,
                    count=count, note=note, entered_at=now_text(), words_folded=folded(f"{named} {note}"),
                )
            ).inserted_primary_key[0]  # fmt: skip
            set_seal(connection, other_pieces, other_pieces.c.id == key)
            return _piece(connection, _found(connection, key))

    def tell(
        self, key: int, status: str | None = None, shed: str | None = None, stack: str | None = None,
        owner: str | None = None, note: str = "", day: date | None = None,
    ) -> OtherPiece:  # fmt: skip
        """Say what became of a piece: status (as a slab's), place, owner, a note. Raises LifeRefused."""
        given = {"status": status, "shed": shed, "stack": stack, "owner": owner}
        value = {name: tidy_text(text) for name, text in given.items() if text is not None}
        if status is not None and status not in GIVEN:
            raise LifeRefused(f"'{status}' is not a status here; use one of {', '.join(GIVEN)}.")
        if not value and not note.strip():
            raise LifeRefused("Nothing was said; give a status, a place, an owner or a note.")
        with self._database.writing() as connection:
            row = _found(connection, key)
            add_change(connection, {"piece_id": row.id}, day or date.today(), status or "noted", value, note)
            return _piece(connection, row)

    def history(self, key: int) -> tuple[Change, ...]:
        """Everything that was said of a piece, oldest day first. Raises LifeRefused."""
        with self._database.reading() as connection:
            _found(connection, key)
            return read_changes(connection, {"piece_id": key})


def _found(connection: Connection, key: int) -> Row:
    row = connection.execute(select(other_pieces).where(other_pieces.c.id == key)).first()
    if row is None:
        raise LifeRefused(f"There is no other piece {key} in this yard; list them to see which there are.")
    return row


def _words(connection: Connection, row: Row) -> str:
    """All that a piece is found by, folded. There are few such pieces, so nothing of it is kept."""
    log = connection.execute(select(logs.c.name_folded, logs.c.species_folded).where(logs.c.id == row.log_id)).first() or ()
    said = connection.execute(select(changes).where(changes.c.piece_id == row.id)).fetchall()
    stands = life_columns(life_after(said))["words_folded"]
    return "\n".join([row.words_folded, *(part or "" for part in log), *(one.words_folded for one in said), stands])


def _piece(connection: Connection, row: Row) -> OtherPiece:
    life = life_after(connection.execute(select(changes).where(changes.c.piece_id == row.id)))
    log = connection.execute(select(logs.c.name).where(logs.c.id == row.log_id)).scalar() if row.log_id else None
    return OtherPiece(
        row.id, row.kind, log, row.length_mm, row.width_mm, row.thickness_mm, row.count, row.note, life
    )  # fmt: skip
