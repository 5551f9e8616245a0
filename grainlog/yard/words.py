"""Full-text search: the words of each slab in one SQLite FTS5 table, and the slabs that hold what is looked for.

The table repeats the view `slab_text`, so stock-taking can hold the two against each other.
"""

from collections.abc import Iterable

from sqlalchemy import (
    ColumnElement,
    Connection,
    column,
    func,
    literal_column,
    select,
    table,
)

from grainlog.yard.filing import folded
from grainlog.yard.schema import slabs

_words = table("slab_words", column("rowid"), column("text"))
# The tokenizer's trigrams: a shorter word is looked for in the text itself.
_SHORTEST = 3


def refresh_words(connection: Connection, numbers: Iterable[int]) -> None:
    """Write anew what these slabs are found by, inside the caller's transaction; forgets those no longer there."""
    for number in numbers:
        connection.exec_driver_sql("DELETE FROM slab_words WHERE rowid = ?", (number,))
        connection.exec_driver_sql(
            "INSERT INTO slab_words (rowid, text) SELECT number, text FROM slab_text WHERE number = ?", (number,)
        )


def refresh_words_of_log(connection: Connection, log_id: int) -> None:
    """Write anew what the slabs of a log are found by."""
    refresh_words(connection, connection.execute(select(slabs.c.number).where(slabs.c.log_id == log_id)).scalars())


def stale_words(connection: Connection) -> list[int]:
    """Numbers of slabs whose words are not what their entries say."""
    different = connection.exec_driver_sql(
        "SELECT slab_text.number FROM slab_text LEFT JOIN slab_words ON slab_words.rowid = slab_text.number "
        "WHERE slab_words.text IS NOT slab_text.text"
    )
    left_over = connection.exec_driver_sql("SELECT rowid FROM slab_words WHERE rowid NOT IN (SELECT number FROM slabs)")
    return sorted(row[0] for rows in (different, left_over) for row in rows)


def holding_all(text: str) -> list[ColumnElement[bool]]:
    """Conditions on `slabs`: every word of `text` stands somewhere in the slab's words, as a word or part of one."""
    words = folded(text).split()
    long = [word for word in words if len(word) >= _SHORTEST]
    conditions: list[ColumnElement[bool]] = []
    if long:
        # In double quotes everything means itself.
        match = " AND ".join('"' + word.replace('"', '""') + '"' for word in long)
        found = select(_words.c.rowid).where(literal_column("slab_words").op("MATCH")(match))
        conditions.append(slabs.c.number.in_(found))
    for word in words:
        if len(word) < _SHORTEST:
            found = select(_words.c.rowid).where(func.instr(_words.c.text, word) > 0)
            conditions.append(slabs.c.number.in_(found))
    return conditions
