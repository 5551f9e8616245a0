"""Drawings of a survey: the photo with what was measured on it."""

from grainlog.picture.overlay import draw_overlay

__all__ = ["draw_overlay"]
