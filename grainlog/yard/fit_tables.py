"""The yard's tables for finding the slab for a piece: what each outline holds at the most, and defects that people drew.

Lengths are mm in the slab frame of the survey named beside them.
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
)

from grainlog.fit.defects import KINDS
from grainlog.yard.schema import metadata


def _seal() -> Column:
    return Column("seal", Text, nullable=False, server_default="")


# One row for each survey with an outline; follows from the outline and can be made again from it.
outline_curves = Table(
    "outline_curves",
    metadata,
    Column("survey_id", ForeignKey("surveys.id"), primary_key=True),
    Column("slab_number", ForeignKey("slabs.number"), nullable=False, index=True),
    Column("version", Integer, nullable=False),
    # See `grainlog.fit.curve`: widths by length, as text that compares like the widths.
    Column("straight", Text, nullable=False),
    Column("live", Text, nullable=False),
    Column("round_mm", Float, nullable=False),
    # The outline with its voids filled.
    Column("area_mm2", Float, nullable=False),
    _seal(),
)
Index("outline_curves_by_area", outline_curves.c.area_mm2)
Index("outline_curves_by_version", outline_curves.c.version)

defects = Table(
    "defects",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("slab_number", ForeignKey("slabs.number"), nullable=False, index=True),
    # Whose frame the points are in.
    Column("survey_id", ForeignKey("surveys.id"), nullable=False, index=True),
    Column("kind", Text, CheckConstraint("kind IN (" + ", ".join(f"'{kind}'" for kind in KINDS) + ")"), nullable=False),
    Column("is_area", Integer, nullable=False),
    Column("points_mm", Text, nullable=False),
    # Across a point, or the width along a line.
    Column("size_mm", Float, nullable=False),
    Column("note", Text, nullable=False, server_default=""),
    Column("entered_at", Text, nullable=False),
    # A slip of the pen is taken back, never deleted.
    Column("taken_back_at", Text),
    _seal(),
    sqlite_autoincrement=True,
)
