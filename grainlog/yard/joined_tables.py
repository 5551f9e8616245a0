"""The yard's table of further photos: a slab longer than one photo is surveyed from two to four, joined in one survey.

The first of them stands in `surveys` as any photo does; the others stand here, each kept under its hash like the first.
"""

from sqlalchemy import CheckConstraint, Column, ForeignKey, Integer, Table, Text

from grainlog.yard.schema import metadata

further_photos = Table(
    "further_photos",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("survey_id", ForeignKey("surveys.id"), nullable=False, index=True),
    # Its place among the photos of the survey, from 2.
    Column("position", Integer, CheckConstraint("position >= 2"), nullable=False),
    Column("photo_name", Text, nullable=False),
    Column("photo_sha256", Text, nullable=False, unique=True),
    Column("original_path", Text, nullable=False),
    Column("seal", Text, nullable=False, server_default=""),
    sqlite_autoincrement=True,
)
