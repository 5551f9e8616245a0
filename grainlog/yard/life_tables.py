"""The yard's tables for what happens after the survey: changes of slabs, logs and pieces, hauls, and words to find.

`changes` only ever grows: one row for each thing that somebody said or did, with its day. `slab_life` is where a slab
stands now; it follows from the slab's changes and is kept so that a search needs one join. Days are ISO 8601 text,
lengths mm, prices and costs in the yard's own money.
"""

from sqlalchemy import (
    CheckConstraint,
    Column,
    Float,
    ForeignKey,
    Index,
    Integer,
    Table,
    Text,
    UniqueConstraint,
)

from grainlog.yard.schema import metadata


def _seal() -> Column:
    return Column("seal", Text, nullable=False, server_default="")


def _words() -> Column:
    # What full-text search finds the row by, folded.
    return Column("words_folded", Text, nullable=False, server_default="")


other_pieces = Table(
    "other_pieces",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("kind", Text, nullable=False),
    Column("log_id", ForeignKey("logs.id"), index=True),
    Column("length_mm", Float),
    Column("width_mm", Float),
    Column("thickness_mm", Float),
    Column("count", Integer, nullable=False),
    Column("note", Text, nullable=False, server_default=""),
    Column("entered_at", Text, nullable=False),
    _words(),
    _seal(),
    CheckConstraint("count >= 1"),
    sqlite_autoincrement=True,
)

changes = Table(
    "changes",
    metadata,
    Column("id", Integer, primary_key=True),
    # Exactly one of the three says what changed.
    Column("slab_number", ForeignKey("slabs.number"), index=True),
    Column("log_id", ForeignKey("logs.id"), index=True),
    Column("piece_id", ForeignKey("other_pieces.id"), index=True),
    Column("day", Text, nullable=False),
    Column("what", Text, nullable=False),
    # JSON: the fields that it sets, and their values from then on.
    Column("value", Text, nullable=False, server_default="{}"),
    Column("note", Text, nullable=False, server_default=""),
    Column("entered_at", Text, nullable=False),
    _words(),
    _seal(),
    CheckConstraint("(slab_number IS NOT NULL) + (log_id IS NOT NULL) + (piece_id IS NOT NULL) = 1"),
    sqlite_autoincrement=True,
)

slab_life = Table(
    "slab_life",
    metadata,
    Column("slab_number", ForeignKey("slabs.number"), primary_key=True),
    Column("status", Text, index=True),
    Column("until", Text),
    Column("for_whom", Text),
    # 0 once the slab is gone or was cut up: it lies nowhere and fits nothing.
    Column("present", Integer, nullable=False, server_default="1"),
    Column("shed", Text),
    Column("stack", Text),
    # Counted from the bottom, 1 is the lowest.
    Column("layer", Integer),
    Column("place_folded", Text, nullable=False, server_default=""),
    Column("face_up", Text),
    Column("owner", Text),
    Column("owner_folded", Text, nullable=False, server_default=""),
    Column("price", Float),
    Column("figure", Text),
    _words(),
    _seal(),
    CheckConstraint("layer >= 1"),
)
Index("slab_life_by_place", slab_life.c.place_folded, slab_life.c.layer)

hauls = Table(
    "hauls",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("name", Text, nullable=False),
    Column("name_folded", Text, nullable=False, unique=True),
    Column("day", Text),
    Column("note", Text, nullable=False, server_default=""),
    Column("entered_at", Text, nullable=False),
    _seal(),
)

haul_people = Table(
    "haul_people",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("haul_id", ForeignKey("hauls.id"), nullable=False, index=True),
    Column("name", Text, nullable=False),
    Column("name_folded", Text, nullable=False),
    # Hours of one entry; a person's hours are the sum of theirs.
    Column("hours", Float),
    Column("entered_at", Text, nullable=False),
    _seal(),
)

haul_costs = Table(
    "haul_costs",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("haul_id", ForeignKey("hauls.id"), nullable=False, index=True),
    Column("what", Text, nullable=False),
    Column("amount", Float, nullable=False),
    Column("entered_at", Text, nullable=False),
    _seal(),
)

haul_logs = Table(
    "haul_logs",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("haul_id", ForeignKey("hauls.id"), nullable=False, index=True),
    Column("log_id", ForeignKey("logs.id"), nullable=False),
    _seal(),
    UniqueConstraint("log_id"),
)

# What a slab is found by, as one text; `words.refresh_words` copies it into the full-text table. Trigrams, so that part
# of a word finds it as it always did; the text is folded before it comes here.
SLAB_TEXT = """CREATE VIEW slab_text AS
SELECT slabs.number AS number,
    CASE WHEN slabs.number > 0 THEN CAST(slabs.number AS TEXT)
        ELSE CAST(-slabs.number % 1000000 AS TEXT) || lower(slabs.letter) END
    || char(10) || logs.name_folded || char(10) || logs.species_folded
    || char(10) || coalesce((SELECT group_concat(words_folded, char(10)) FROM (
        SELECT words_folded FROM surveys WHERE slab_number = slabs.number ORDER BY id)), '')
    || char(10) || coalesce((SELECT words_folded FROM slab_life WHERE slab_number = slabs.number), '')
    || char(10) || coalesce((SELECT group_concat(words_folded, char(10)) FROM (
        SELECT words_folded FROM changes
        WHERE slab_number = slabs.number AND words_folded <> '' ORDER BY id)), '')
    || char(10) || coalesce((SELECT group_concat(words_folded, char(10)) FROM (
        SELECT words_folded FROM changes WHERE log_id = slabs.log_id AND words_folded <> '' ORDER BY id)), '')
    || char(10) || coalesce((SELECT hauls.name_folded || char(10) || coalesce((
        SELECT group_concat(name_folded, char(10)) FROM (
            SELECT name_folded FROM haul_people WHERE haul_id = hauls.id ORDER BY id)), '')
        FROM haul_logs JOIN hauls ON hauls.id = haul_logs.haul_id WHERE haul_logs.log_id = slabs.log_id), '')
    AS text
FROM slabs JOIN logs ON logs.id = slabs.log_id"""

SLAB_WORDS = "CREATE VIRTUAL TABLE slab_words USING fts5(text, tokenize = 'trigram case_sensitive 1')"

FURTHER_SQL = (SLAB_TEXT, SLAB_WORDS)
