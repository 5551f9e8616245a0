"""The slab's upper face: wood against background, outlines and measures."""

from .find import find_face, refine_outline
from .found import EdgeUncertainty, FaceNotFound, Features, FoundFace, Note

__all__ = ["EdgeUncertainty", "FaceNotFound", "Features", "FoundFace", "Note", "find_face", "refine_outline"]
