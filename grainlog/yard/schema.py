"""The yard's tables as they are now (version 3).

Lengths are mm, areas mm2, volumes mm3. What else is known of a slab (readings, places, what fits) stands in tables of
modules `*_tables` (see `tables`), each pointing at `slabs.number`, `surveys.id` or `logs.id`.
"""

from sqlalchemy import (
    CheckConstraint,
    Column,
    Float,
    ForeignKey,
    Index,
    Integer,
    MetaData,
    Table,
    Text,
    UniqueConstraint,
    text,
)

SCHEMA_VERSION = 3
# "grlg" in ASCII, written to the header of yard.db so that another program's database is never taken for a yard.
APPLICATION_ID = int.from_bytes(b"grlg", "big")

# The figures a slab is searched by; each has a column `<name>` and its standard uncertainty `<name>_u`.
FIGURES = (
    "length_mm",
    "width_min_mm",
    "width_mean_mm",
    "width_max_mm",
    "thickness_mm",
    "area_mm2",
    "volume_mm3",
    "board_feet",
)

metadata = MetaData()


def _figure_columns() -> list[Column]:
    return [Column(name + suffix, Float) for name in FIGURES for suffix in ("", "_u")]


def _seal() -> Column:
    # A hash over the rest of the row, by which stock-taking sees an entry that was changed behind the yard's back.
    return Column("seal", Text, nullable=False, server_default="")


logs = Table(
    "logs",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("name", Text, nullable=False),
    # Folded copies: SQLite itself compares only ASCII letters without regard to case.
    Column("name_folded", Text, nullable=False, unique=True),
    Column("species", Text),
    Column("species_folded", Text, nullable=False, server_default="", index=True),
    Column("started_at", Text, nullable=False),
    _seal(),
)

slabs = Table(
    "slabs",
    metadata,
    Column("number", Integer, primary_key=True),
    Column("log_id", ForeignKey("logs.id"), nullable=False),
    Column("order_in_log", Integer, nullable=False),
    Column("surveyed_at", Text, nullable=False, index=True),
    # What `standing.standing` makes of the slab's surveys; kept here so that a search needs no second look.
    *_figure_columns(),
    Column("faces", Text, nullable=False),
    Column("one_face_only", Integer, nullable=False),
    _seal(),
    # A piece that was cut from a slab: which one, and its letter, as in 12A (see `tags`). It keeps its slab's order.
    Column("piece_of", ForeignKey("slabs.number"), index=True),
    Column("letter", Text),
    CheckConstraint("order_in_log >= 1"),
    CheckConstraint("(piece_of IS NULL) = (letter IS NULL)"),
    # AUTOINCREMENT: a number is a tag on the wood, never given to another slab after a removal.
    sqlite_autoincrement=True,
)
Index("slabs_by_order", slabs.c.log_id, slabs.c.order_in_log, unique=True, sqlite_where=text("piece_of IS NULL"))
for _name in FIGURES:
    Index(f"slabs_by_{_name}", slabs.c[_name])

surveys = Table(
    "surveys",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("slab_number", ForeignKey("slabs.number"), nullable=False, index=True),
    Column("side", Text),
    Column("surveyed_at", Text, nullable=False),
    Column("filed_at", Text, nullable=False),
    Column("photo_name", Text, nullable=False),
    Column("photo_sha256", Text, nullable=False),
    Column("original_path", Text, nullable=False),
    Column("flat_path", Text),
    Column("flat_sha256", Text),
    Column("overlay_path", Text),
    Column("overlay_sha256", Text),
    Column("thickness_readings_mm", Text, nullable=False),
    Column("note", Text, nullable=False),
    Column("words_folded", Text, nullable=False),
    Column("record", Text, nullable=False),
    _seal(),
    # A survey that was worked out from another one after a cut, and has that one's photo; NULL for a photo's own.
    Column("cut_from", ForeignKey("surveys.id"), index=True),
    # 1 for a survey that shows the slab as it was before its last cut: history, on which nothing rests any more.
    Column("before_cut", Integer, nullable=False, server_default="0"),
    CheckConstraint("side IN ('bark', 'heart')"),
    sqlite_autoincrement=True,
)

Index("surveys_by_photo", surveys.c.photo_sha256, unique=True, sqlite_where=text("cut_from IS NULL"))

outlines = Table(
    "outlines",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("survey_id", ForeignKey("surveys.id"), nullable=False),
    Column("kind", Text, nullable=False),
    Column("part", Integer, nullable=False),
    Column("points_mm", Text, nullable=False),
    UniqueConstraint("survey_id", "kind", "part"),
    CheckConstraint("kind IN ('wood', 'bark', 'hole')"),
)

settings = Table(
    "settings",
    metadata,
    Column("name", Text, primary_key=True),
    Column("value", Text, nullable=False),
    Column("set_at", Text, nullable=False),
)
