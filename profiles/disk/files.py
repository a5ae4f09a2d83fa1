"""Whole files or none: bounded reading, and writing in one step."""

from __future__ import annotations

import contextlib
import os
import secrets
from pathlib import Path

from musclewood.profiles.errors import StorageError

PART_SUFFIX = ".part"


def read_bounded(path: Path, most_bytes: int) -> bytes:
    """A file's content. Raises StorageError when it cannot be read or has more than `most_bytes`."""
    try:
        with open(path, "rb") as file:
            content = file.read(most_bytes + 1)
    except FileNotFoundError:
        raise StorageError(f"there is no file {path.name!r}", "check the name and the folder") from None
    except (OSError, ValueError) as error:
        raise StorageError(
            f"{path.name!r} cannot be read ({_reason(error)})", "check the file and its folder"
        ) from None
    if len(content) > most_bytes:
        raise StorageError(f"{path.name!r} has more than {most_bytes} bytes", "choose the right file")
    return content


def write_whole(path: Path, content: bytes, *, mode: int = 0o600) -> None:
    """Put a file in place in one step, durable on return: readers see the old content or the new, never a part.

    The temporary file lies beside it, so that the final rename stays within one file system, and its name ends in
    `.part`, which every reader of an exchange folder ignores. Raises StorageError, the old file being untouched.
    """
    part = path.with_name(f".{path.name}.{secrets.token_hex(4)}{PART_SUFFIX}")
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        # Created with its final mode: a secret is never readable by others, not even for a moment.
        descriptor = os.open(part, os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0), mode)
        with open(descriptor, "wb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        os.replace(part, path)
        _sync_folder(path.parent)
    except OSError as error:
        with contextlib.suppress(OSError):
            part.unlink(missing_ok=True)
        raise StorageError(
            f"{path.name!r} cannot be written ({_reason(error)})", "free some space or check the folder"
        ) from None


def _sync_folder(folder: Path) -> None:
    """Make the rename itself durable; systems that cannot open a folder (Windows) do so on their own."""
    with contextlib.suppress(OSError):
        descriptor = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(descriptor)
        finally:
            os.close(descriptor)


def _reason(error: Exception) -> str:
    return getattr(error, "strerror", None) or str(error)
