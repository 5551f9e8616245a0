"""What is known of a log besides its slabs: where it stood, metal found in it, sides trimmed off; dated and kept.

The days of felling and sawing are kept with the wood (`drying_wood`), as drying starts from them.
"""

from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING

from sqlalchemy import Connection, Row, select, update

from grainlog.yard.database import Database
from grainlog.yard.drying_tables import log_wood
from grainlog.yard.errors import LifeRefused
from grainlog.yard.filing import folded, tidy_text
from grainlog.yard.life_changes import Change, add_change, read_changes
from grainlog.yard.neighbours import Neighbours, neighbours
from grainlog.yard.query import SlabRow, slabs_of_logs
from grainlog.yard.schema import logs, slabs
from grainlog.yard.seal import set_seal
from grainlog.yard.words import refresh_words_of_log

if TYPE_CHECKING:
    from grainlog.yard.fit_book import OpenBook

FACTS = ("stood_at", "metal", "trimmed_sides")


@dataclass(frozen=True)
class LogFacts:
    """One log; None where nobody said. history : every change, oldest day first. slabs : how many the yard holds."""

    name: str
    species: str | None
    felled_on: date | None
    sawn_on: date | None
    stood_at: str | None
    metal: str | None
    trimmed_sides: str | None
    slabs: int
    history: tuple[Change, ...]


class Logs:
    """The logs of one yard."""

    def __init__(self, database: Database):
        self._database = database

    def log(self, name: str) -> LogFacts:
        """One log by its name, whatever the case. Raises LifeRefused."""
        with self._database.reading() as connection:
            return _facts(connection, _found(connection, name))

    def all(self) -> list[LogFacts]:
        """Every log, in the order in which they came."""
        with self._database.reading() as connection:
            return [_facts(connection, row) for row in connection.execute(select(logs).order_by(logs.c.id)).fetchall()]

    def species(self) -> list[str]:
        """The species of the yard's logs, each once, by name."""
        query = select(logs.c.species).where(logs.c.species.is_not(None)).group_by(logs.c.species_folded)
        with self._database.reading() as connection:
            return list(connection.execute(query.order_by(logs.c.species_folded)).scalars())

    def slabs(self, name: str) -> list[SlabRow]:
        """The slabs of a log as they came off the mill, in their order, gone or not. Raises LifeRefused."""
        with self._database.reading() as connection:
            key = _found(connection, name).id
            return slabs_of_logs(connection, [key])

    def neighbours(self, number: int) -> Neighbours:
        """The slabs that lay next to one in its log, what it was cut from, and its pieces."""
        return neighbours(self._database, number)

    def open_book(self, first: int, second: int) -> "OpenBook | None":
        """Two slabs that lay on each other in the log, lower order first, opened like a book; None where that cannot be."""
        # Loads numpy and shapely, which a search of the yard does without.
        from grainlog.yard.fit_book import open_book

        return open_book(self._database, first, second)

    def name_species(self, name: str, species: str, day: date | None = None) -> LogFacts:
        """Say which species a log is; what was said before stays in its history. Raises LifeRefused."""
        said = tidy_text(species)
        if said is None:
            raise LifeRefused("Say the species, such as white oak.")
        with self._database.writing() as connection:
            row = _found(connection, name)
            if said != row.species:
                named = {"species": said, "species_folded": folded(said)}
                connection.execute(update(logs).where(logs.c.id == row.id).values(named))
                set_seal(connection, logs, logs.c.id == row.id)
                before = f", before: {row.species}" if row.species else ""
                add_change(connection, {"log_id": row.id}, day or date.today(), "species said", {}, f"{said}{before}")
                refresh_words_of_log(connection, row.id)
            return _facts(connection, _found(connection, name))

    def tell(
        self, name: str, stood_at: str | None = None, metal: str | None = None, trimmed_sides: str | None = None,
        note: str = "", day: date | None = None,
    ) -> LogFacts:  # fmt: skip
        """Say where a log stood, what metal was found in it, which sides were trimmed, or anything else as a note.

        An empty text takes back what was said. Raises LifeRefused.
        """
        given = {"stood_at": stood_at, "metal": metal, "trimmed_sides": trimmed_sides}
        value = {fact: tidy_text(text) for fact, text in given.items() if text is not None}
        if not value and not note.strip():
            raise LifeRefused("Nothing was said; give where it stood, metal, trimmed sides or a note.")
        with self._database.writing() as connection:
            row = _found(connection, name)
            words = " ".join(text for text in value.values() if text)
            add_change(connection, {"log_id": row.id}, day or date.today(), "noted", value, note, words)
            refresh_words_of_log(connection, row.id)
            return _facts(connection, row)


def _found(connection: Connection, name: str) -> Row:
    row = connection.execute(select(logs).where(logs.c.name_folded == folded(name))).first()
    if row is None:
        names = ", ".join(connection.execute(select(logs.c.name).order_by(logs.c.id).limit(8)).scalars())
        raise LifeRefused(
            f"There is no log {name}; " + (f"there are {names}." if names else "the yard holds none yet.")
        )
    return row


def _facts(connection: Connection, row: Row) -> LogFacts:
    history = read_changes(connection, {"log_id": row.id})
    told = dict.fromkeys(FACTS) | {fact: text for change in history for fact, text in change.value.items()}
    wood = connection.execute(select(log_wood).where(log_wood.c.log_id == row.id)).first()
    felled, sawn = (None, None) if wood is None else (wood.felled_on, wood.sawn_on)
    count = len(
        connection.execute(
            select(slabs.c.number).where(slabs.c.log_id == row.id, slabs.c.piece_of.is_(None))
        ).fetchall()
    )
    return LogFacts(
        row.name, row.species, felled and date.fromisoformat(felled), sawn and date.fromisoformat(sawn),
        told["stood_at"], told["metal"], told["trimmed_sides"], count, history,
    )  # fmt: skip
