"""The one pipeline from a photo to a dated survey."""

from grainlog.survey.errors import SurveyError
from grainlog.survey.measure import measure_photo
from grainlog.survey.record import record_of
from grainlog.survey.request import HandOutline, Request
from grainlog.survey.several import measure_photos
from grainlog.survey.survey import Survey

__all__ = ["HandOutline", "Request", "Survey", "SurveyError", "measure_photo", "measure_photos", "record_of"]
