"""What this room refuses, in sentences a sawyer understands."""

from grainlog.errors import GrainlogError, WrongUse


class PieceRefused(WrongUse):
    """A piece that cannot be meant: no size, a shape that crosses itself, a file that cannot be read."""


class OutlineRefused(GrainlogError):
    """A slab's outline that nothing can be laid on."""
