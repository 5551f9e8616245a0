"""The yard's table of earlier versions: what a survey said before a person mended its outline, its checks or its scale.

The newest version stands in `surveys`, so that everything that reads a survey reads that one.
"""

from sqlalchemy import (
    CheckConstraint,
    Column,
    ForeignKey,
    Integer,
    Table,
    Text,
    UniqueConstraint,
)

from grainlog.yard.schema import metadata

survey_versions = Table(
    "survey_versions",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("survey_id", ForeignKey("surveys.id"), nullable=False, index=True),
    # 1 is what was filed; the newest has no row here.
    Column("version", Integer, CheckConstraint("version >= 1"), nullable=False),
    Column("record", Text, nullable=False),
    Column("flat_path", Text),
    Column("flat_sha256", Text),
    Column("overlay_path", Text),
    Column("overlay_sha256", Text),
    Column("replaced_at", Text, nullable=False),
    # Why it was replaced.
    Column("why", Text, nullable=False),
    Column("seal", Text, nullable=False, server_default=""),
    UniqueConstraint("survey_id", "version"),
    sqlite_autoincrement=True,
)
