"""Writing a file so that it is either whole or not there, and never over somebody else's work."""

import os
import tempfile
from contextlib import suppress
from pathlib import Path

from grainlog.sheets.errors import SheetError

#: Every scale card file carries these bytes, so that an older one of ours may be replaced and nothing else is.
OUR_MARK = b"grainlog scale card"


def make_folder(folder: Path) -> None:
    """Make `folder` with its parents; fine if it is there. Raises SheetError where that cannot be."""
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except (FileExistsError, NotADirectoryError):
        raise SheetError(f"{folder} cannot be a folder, a file is in its place; choose another one.") from None
    except OSError as why:
        raise SheetError(f"The folder {folder} cannot be made ({_reason(why)}); choose another one.") from None


def refuse_foreign(path: Path, mark: bytes = OUR_MARK) -> None:
    """Raise SheetError if `path` exists and does not carry `mark`, so that it is not ours to replace."""
    try:
        ours = not path.exists() or (path.is_file() and mark in path.read_bytes())
    except OSError as why:
        raise SheetError(f"{path} cannot be read ({_reason(why)}); choose another folder.") from None
    if not ours:
        raise SheetError(f"{path} is there already and was not written by grainlog; move it or choose another folder.")


def write_whole(path: Path, content: bytes) -> None:
    """Write `content` under a temporary name beside `path`, sync it, then rename. Raises SheetError."""
    temporary = None
    try:
        with tempfile.NamedTemporaryFile(dir=path.parent, prefix=f".{path.name}.", delete=False) as file:
            temporary = file.name
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        # The temporary file is private to its maker; a sheet is for everybody who may read the folder.
        os.chmod(temporary, 0o644)
        os.replace(temporary, path)
    except OSError as why:
        if temporary:
            with suppress(OSError):
                os.unlink(temporary)
        what_to_do = "free some space or choose another folder"
        raise SheetError(f"{path} cannot be written ({_reason(why)}); {what_to_do}.") from None


def _reason(why: OSError) -> str:
    return (why.strerror or str(why)).lower()
