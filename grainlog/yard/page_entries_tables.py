"""The yard's table of what was sent to it under an id of the sender's: a phone in a shed sends until it hears an answer.

An id keeps for good what came of its first arrival, so that the same entry sent twice is one, and one that was taken back
before it arrived stays away.
"""

from sqlalchemy import Column, ForeignKey, Index, Integer, Table, Text

from grainlog.yard.schema import metadata

page_entries = Table(
    "page_entries",
    metadata,
    Column("id", Text, primary_key=True, nullable=False),
    # None for one that was taken back before it came.
    Column("slab_number", Integer, ForeignKey("slabs.number")),
    # JSON: names of the readings it became, as ["m12", "w3"].
    Column("readings", Text, nullable=False),
    Column("kept_at", Text, nullable=False),
    Column("taken_back_at", Text),
    Index("page_entries_by_slab", "slab_number"),
)
