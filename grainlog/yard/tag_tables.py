"""The yard's table for tags: numbers that were given away on printed tags before their slab is in the yard.

A row goes when its slab is entered. log and order_in_log : what is printed on the tag, NULL for a blank one.
"""

from sqlalchemy import CheckConstraint, Column, Integer, Table, Text

from grainlog.yard.schema import metadata

reserved_numbers = Table(
    "reserved_numbers",
    metadata,
    Column("number", Integer, primary_key=True),
    Column("log", Text),
    Column("order_in_log", Integer),
    Column("reserved_at", Text, nullable=False),
    Column("seal", Text, nullable=False, server_default=""),
    CheckConstraint("number >= 1"),
    CheckConstraint("order_in_log >= 1"),
)
