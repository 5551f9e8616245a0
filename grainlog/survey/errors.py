"""What can go wrong between a scale and a survey."""

from grainlog.errors import GrainlogError


class SurveyError(GrainlogError):
    """The photo cannot be measured; the message says why and what to do."""
