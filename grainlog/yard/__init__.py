"""The yard: a folder that keeps slabs, their surveys, photos and pictures, and answers searches."""

from grainlog.yard.catalogue import Yard
from grainlog.yard.entry import SlabEntry, SurveyEntry
from grainlog.yard.errors import (
    FilingRefused,
    NoSuchSlab,
    NotAYard,
    QueryRefused,
    SettingRefused,
    YardError,
    YardInTheWay,
    YardTooNew,
)
from grainlog.yard.filing import Filed, Filing, Picture, SlabFacts
from grainlog.yard.query import SORTS, SlabQuery, SlabRow, Span
from grainlog.yard.removal import Removed
from grainlog.yard.settings import PrintBars
from grainlog.yard.stocktaking import Finding

__all__ = [
    "SORTS",
    "Filed",
    "Filing",
    "FilingRefused",
    "Finding",
    "NoSuchSlab",
    "NotAYard",
    "Picture",
    "PrintBars",
    "QueryRefused",
    "Removed",
    "SettingRefused",
    "SlabEntry",
    "SlabFacts",
    "SlabQuery",
    "SlabRow",
    "Span",
    "SurveyEntry",
    "Yard",
    "YardError",
    "YardInTheWay",
    "YardTooNew",
]
