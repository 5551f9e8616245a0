"""What can go wrong when something is printed or exported."""

from grainlog.errors import GrainlogError


class SheetError(GrainlogError):
    """A sheet could not be written."""
