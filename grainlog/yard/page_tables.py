"""The yard's tables for its page: which devices may use it, and which links show the yard to somebody read-only.

Neither keeps a secret: of what a device or a link shows, only the SHA-256 stands here (`grainlog.web` makes and reads it).
"""

from sqlalchemy import Column, Integer, Table, Text

from grainlog.yard.schema import metadata

page_devices = Table(
    "page_devices",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("name", Text, nullable=False),
    Column("token_sha256", Text, nullable=False, unique=True),
    Column("paired_at", Text, nullable=False),
    Column("seen_at", Text, nullable=False),
    Column("revoked_at", Text),
    sqlite_autoincrement=True,
)

page_links = Table(
    "page_links",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("note", Text, nullable=False),
    Column("token_sha256", Text, nullable=False, unique=True),
    Column("made_at", Text, nullable=False),
    Column("until", Text, nullable=False),
    Column("revoked_at", Text),
    sqlite_autoincrement=True,
)
