"""What goes wrong with lengths, areas and volumes that a person wrote."""

from grainlog.errors import WrongUse


class UnitsError(WrongUse):
    """A written size cannot be read; the message quotes it and says how to write it."""
