"""Pictures of a survey as files."""

import io
import os
import tempfile
from pathlib import Path

import numpy as np
from PIL import Image

from grainlog.errors import WrongUse
from grainlog.survey.errors import SurveyError

#: JPEG quality of what is kept beside the originals.
QUALITY = 88
_FORMATS = {".jpg": "JPEG", ".jpeg": "JPEG", ".png": "PNG", ".webp": "WEBP"}


def encode(rgb: np.ndarray, suffix: str = ".jpg") -> bytes:
    """(h, w, 3) uint8 as the bytes of a picture file; raises WrongUse for a suffix that is no picture format."""
    if suffix.lower() not in _FORMATS:
        raise WrongUse(f"'{suffix}' is not a kind of picture that can be written; name the file .jpg, .png or .webp.")
    buffer = io.BytesIO()
    Image.fromarray(rgb).save(buffer, _FORMATS[suffix.lower()], quality=QUALITY)
    return buffer.getvalue()


def write_picture(path: Path, rgb: np.ndarray) -> None:
    """Write a picture whole or not at all; raises SurveyError where it cannot be written, WrongUse for its name."""
    data = encode(rgb, path.suffix)
    try:
        handle, temporary = tempfile.mkstemp(dir=path.parent, prefix=".grainlog-", suffix=path.suffix)
        try:
            with os.fdopen(handle, "wb") as file:
                file.write(data)
            os.chmod(temporary, 0o644)
            os.replace(temporary, path)
        except BaseException:
            os.unlink(temporary)
            raise
    except OSError as error:
        raise SurveyError(f"{path} cannot be written ({error.strerror}); choose another place for the picture.") from error
