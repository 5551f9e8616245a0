"""The yard's table of what was said of hauls and when: hours, costs, logs, notes; it only ever grows."""

from sqlalchemy import Column, ForeignKey, Integer, Table, Text

from grainlog.yard.schema import metadata

haul_changes = Table(
    "haul_changes",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("haul_id", ForeignKey("hauls.id"), nullable=False, index=True),
    # ISO 8601: the day that the person gives, else that of the entry.
    Column("day", Text, nullable=False),
    Column("what", Text, nullable=False),
    Column("note", Text, nullable=False, server_default=""),
    Column("entered_at", Text, nullable=False),
    Column("seal", Text, nullable=False, server_default=""),
    sqlite_autoincrement=True,
)
