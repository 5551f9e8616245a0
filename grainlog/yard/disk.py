"""The few operations that touch the disk, each made to last before it returns.

They are kept together so that a test can make any one of them fail, and so that nothing else in the yard writes. The
order that survives a power cut is the usual one: write under a temporary name, sync the file, rename, sync the folder
(POSIX.1-2017, `fsync` and `rename`).
"""

import hashlib
import os
from pathlib import Path
from typing import BinaryIO

CHUNK = 1 << 20


def write(handle: BinaryIO, data: bytes) -> None:
    """Write all of `data`. Raises OSError."""
    handle.write(data)


def sync_file(handle: BinaryIO) -> None:
    """Push what was written down to the disk. Raises OSError."""
    handle.flush()
    os.fsync(handle.fileno())


def rename(source: Path, target: Path) -> None:
    """Give a file its final name at one stroke, replacing a file of that name. Raises OSError."""
    os.replace(source, target)


def sync_folder(folder: Path) -> None:
    """Push a folder's own list of names down to the disk. Raises OSError."""
    if os.name == "nt":  # Windows cannot open a folder; its file system journals the rename itself.
        return
    descriptor = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(descriptor)
    finally:
        os.close(descriptor)


def make_folder(folder: Path) -> None:
    """Make a folder and those above it, each one's name synced. Raises OSError."""
    if folder.is_dir():
        return
    make_folder(folder.parent)
    folder.mkdir(exist_ok=True)
    sync_folder(folder.parent)


def write_file(path: Path, data: bytes) -> None:
    """Write a new file and sync it, but not yet its folder. Raises OSError."""
    with open(path, "wb") as handle:
        write(handle, data)
        sync_file(handle)


def copy_hashed(source: Path, target: Path) -> str:
    """Copy a file, sync the copy and return its SHA-256 (FIPS 180-4) in hexadecimal. Raises OSError."""
    digest = hashlib.sha256()
    with open(source, "rb") as reader, open(target, "wb") as writer:
        while chunk := reader.read(CHUNK):
            digest.update(chunk)
            write(writer, chunk)
        sync_file(writer)
    return digest.hexdigest()


def sha256_of(path: Path) -> str:
    """SHA-256 of a file's bytes, in hexadecimal. Raises OSError."""
    with open(path, "rb") as handle:
        return hashlib.file_digest(handle, "sha256").hexdigest()
