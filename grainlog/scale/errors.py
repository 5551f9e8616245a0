"""What can go wrong between a photo and its millimetres."""

from grainlog.errors import GrainlogError


class ScaleError(GrainlogError):
    """The photo gives no trustworthy scale; the message says why and what to do."""


class NoCardError(ScaleError):
    """No usable scale card is in the photo."""


class ObliqueError(ScaleError):
    """The camera looks at the face too much from the side."""
