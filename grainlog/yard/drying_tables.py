"""The yard's tables for drying: readings, weighings, warp, the shed's air, what is known of log and slab, own species.

Moistures, humidities and shrinkages are fractions, masses kg, temperatures C, days ISO 8601 text.
"""

from sqlalchemy import (
    CheckConstraint,
    Column,
    Float,
    ForeignKey,
    Integer,
    Table,
    Text,
)

from grainlog.yard.schema import metadata


def _seal() -> Column:
    return Column("seal", Text, nullable=False, server_default="")


def _of_a_slab(name: str, *columns: Column) -> Table:
    """A table of dated entries of one slab."""
    return Table(
        name,
        metadata,
        Column("id", Integer, primary_key=True),
        Column("slab_number", ForeignKey("slabs.number"), nullable=False, index=True),
        Column("day", Text, nullable=False),
        *columns,
        Column("note", Text, nullable=False, server_default=""),
        Column("entered_at", Text, nullable=False),
        # A slip of the pen is taken back, never deleted.
        Column("taken_back_at", Text),
        _seal(),
    )


moisture_readings = _of_a_slab(
    "moisture_readings",
    Column("moisture", Float, CheckConstraint("moisture >= 0 AND moisture <= 2.5"), nullable=False),
    Column("method", Text, nullable=False),
    Column("depth_mm", Float),
    Column("core", Integer),
    Column("corrected", Integer),
    Column("temperature_c", Float),
    Column("place", Text, nullable=False, server_default=""),
    # Of an oven-dried section only: its mass when cut and its constant mass in the oven.
    Column("wet_kg", Float),
    Column("dry_kg", Float),
)

weighings = _of_a_slab(
    "weighings",
    Column("mass_kg", Float, CheckConstraint("mass_kg > 0"), nullable=False),
)

warp_readings = _of_a_slab(
    "warp_readings",
    Column("cup_mm", Float),
    Column("bow_mm", Float),
    Column("twist_mm", Float),
)

slab_wood = Table(
    "slab_wood",
    metadata,
    Column("slab_number", ForeignKey("slabs.number"), primary_key=True),
    Column("rings", Text, CheckConstraint("rings IN ('flat', 'between', 'quarter')")),
    Column("pith_mm", Float),
    Column("set_at", Text, nullable=False),
    _seal(),
)

log_wood = Table(
    "log_wood",
    metadata,
    Column("log_id", ForeignKey("logs.id"), primary_key=True),
    Column("felled_on", Text),
    Column("sawn_on", Text),
    # The place within the log of the slab that holds the pith.
    Column("pith_order", Integer),
    Column("set_at", Text, nullable=False),
    _seal(),
)

shed_days = Table(
    "shed_days",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("day", Text, nullable=False, index=True),
    # "by hand" or "logger": a day of a logger gives way to a fuller one of the same day.
    Column("source", Text, nullable=False),
    Column("temperature_c", Float, nullable=False),
    Column("humidity", Float, nullable=False),
    Column("emc", Float),
    Column("count", Integer, nullable=False),
    Column("note", Text, nullable=False, server_default=""),
    Column("entered_at", Text, nullable=False),
    _seal(),
)

own_species = Table(
    "own_species",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("name", Text, nullable=False),
    Column("name_folded", Text, nullable=False, unique=True),
    # The species of the table whose values stand where no own one is given.
    Column("like_name", Text),
    # JSON: name of the value to [value, where the person has it from].
    Column("own_values", Text, nullable=False),
    Column("entered_at", Text, nullable=False),
    _seal(),
)

#: Every table of this module, in the order in which they can be filled.
DRYING_TABLES = (moisture_readings, weighings, warp_readings, slab_wood, log_wood, shed_days, own_species)
