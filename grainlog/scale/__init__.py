"""From scale cards to millimetres: cards seen, the joint solution, the face seen square-on."""

from grainlog.scale.detect import CardsSeen, RejectedCard, SeenCard, find_cards
from grainlog.scale.errors import NoCardError, ObliqueError, ScaleError
from grainlog.scale.flat import FlatView, Viewer
from grainlog.scale.model import View
from grainlog.scale.plane import FacePlane, FaceViewer
from grainlog.scale.priors import HARD, SOFT, Ground, Lens, Print, Setup
from grainlog.scale.solve import Solution, solve

__all__ = [
    "CardsSeen", "FacePlane", "FaceViewer", "FlatView", "Ground", "HARD", "Lens", "NoCardError", "ObliqueError", "Print",
    "RejectedCard", "SOFT", "ScaleError", "SeenCard", "Setup", "Solution", "View", "Viewer", "find_cards", "solve",
]  # fmt: skip
