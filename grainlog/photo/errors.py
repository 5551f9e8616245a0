"""What can be wrong with a photo file."""

from grainlog.errors import GrainlogError


class PhotoError(GrainlogError):
    """A photo file cannot be used; the message names the file, says why and what to do."""
