"""What the page refuses, in a sentence."""

from grainlog.errors import GrainlogError, WrongUse


class PageRefused(WrongUse):
    """What was sent to the page cannot be meant; nothing was done."""


class PageError(GrainlogError):
    """The page could not be served."""
