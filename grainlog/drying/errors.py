"""What goes wrong with wood, moisture and readings as a person gives them."""

from grainlog.errors import WrongUse


class DryingError(WrongUse):
    """A moisture, a climate, a species or a reading cannot be meant as given; the message says what to do."""


class SpeciesUnknown(DryingError):
    """The name is not in the table, or stands for more than one species."""
