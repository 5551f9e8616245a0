"""Photo files in: safe decoding, orientation, colour, and what the file says about camera and time."""

from grainlog.photo.errors import PhotoError
from grainlog.photo.focal import focal_px
from grainlog.photo.photo import Note, Photo
from grainlog.photo.reading import photo_suffix, read_photo

__all__ = ["Note", "Photo", "PhotoError", "focal_px", "photo_suffix", "read_photo"]
