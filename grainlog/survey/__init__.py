"""The one pipeline from a photo to a dated survey."""

from grainlog.survey.errors import SurveyError
from grainlog.survey.measure import measure_photo
from grainlog.survey.record import record_of
from grainlog.survey.request import HandOutline, Request
from grainlog.survey.survey import Notice, Survey

__all__ = ["HandOutline", "Notice", "Request", "Survey", "SurveyError", "measure_photo", "record_of"]
