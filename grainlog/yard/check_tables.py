"""The yard's tables for checks: how photos lie on each other, which check is which, and looks by hand.

Checks themselves stand in the records of surveys. Lengths are mm, days ISO 8601 text.
"""

from sqlalchemy import (
    CheckConstraint,
    Column,
    Float,
    ForeignKey,
    Integer,
    Table,
    Text,
    UniqueConstraint,
)

from grainlog.yard.schema import metadata


def _seal() -> Column:
    return Column("seal", Text, nullable=False, server_default="")


#: How a later photo of a face lies on an earlier one, or why it does not: slow to find out, so it is kept.
check_pairs = Table(
    "check_pairs",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("earlier_id", ForeignKey("surveys.id"), nullable=False, index=True),
    Column("later_id", ForeignKey("surveys.id"), nullable=False, index=True),
    # What was compared, and in which way: where an outline was mended since, or the way is a newer one, it is asked again.
    Column("compared", Text, nullable=False),
    # Empty where the two lie on each other, else the code and the sentence of the refusal.
    Column("code", Text, nullable=False, server_default=""),
    Column("why", Text, nullable=False, server_default=""),
    # JSON: matrix (later to earlier slab frame), across, along, shrinkage, shrinkage_u, residual_mm, points, overlap, notes.
    Column("laid", Text),
    Column("found_at", Text, nullable=False),
    _seal(),
    UniqueConstraint("earlier_id", "later_id"),
)

#: Every name that a check of a slab was ever given; none is given twice.
check_names = Table(
    "check_names",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("slab_number", ForeignKey("slabs.number"), nullable=False, index=True),
    Column("name", Text, nullable=False),
    Column("given_at", Text, nullable=False),
    _seal(),
    UniqueConstraint("slab_number", "name"),
)

#: What the checks of a survey are called, by their place in its record.
check_sightings = Table(
    "check_sightings",
    metadata,
    Column("survey_id", ForeignKey("surveys.id"), primary_key=True),
    Column("place", Integer, primary_key=True),
    # The slab that the survey was filed under when the name was given: moved to another slab, it has no name there.
    Column("slab_number", Integer, nullable=False),
    Column("name", Text, nullable=False),
    # Where the photo shows its two tips, px: by these it is known again when the survey's outline is mended.
    Column("tips_px", Text, nullable=False),
    _seal(),
)

hand_looks = Table(
    "hand_looks",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("slab_number", ForeignKey("slabs.number"), nullable=False, index=True),
    Column("day", Text, nullable=False),
    # "butt" or "top"; NULL where it is of both or of neither.
    Column("end_met", Text, CheckConstraint("end_met IN ('butt', 'top')")),
    Column("check_name", Text),
    Column("length_mm", Float, CheckConstraint("length_mm >= 0")),
    Column("wax", Integer),
    Column("bark_left", Text),
    Column("bark_right", Text),
    Column("note", Text, nullable=False, server_default=""),
    Column("entered_at", Text, nullable=False),
    # A slip of the pen is taken back, never deleted.
    Column("taken_back_at", Text),
    _seal(),
)
