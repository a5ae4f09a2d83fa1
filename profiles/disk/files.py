"""The one way in which files are read and written: bounded reading, and writing whole or not at all.

A file that is written goes through four steps: a temporary file beside it, fsync, rename, fsync of the folder. So a
reader sees the old content or the new, a power cut leaves one of the two, and after a return the new one is durable.
What a killed program leaves are temporary files; `sweep` removes them when a program starts.
"""

from __future__ import annotations

import contextlib
import errno
import os
import re
import secrets
import stat
import time
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import BinaryIO

from musclewood.assets.saying import say
from musclewood.profiles.disk.locking import take
from musclewood.profiles.errors import StorageError

PART_SUFFIX = ".part"
# Whoever else uses this computer has no business with what is about a patient. What is meant for others to read, such
# as a prescription in an exchange folder, says so.
PRIVATE, PUBLIC = 0o600, 0o644
PRIVATE_FOLDER = 0o700
_PART_NAME = re.compile(r"\..+\.[0-9a-f]{8}\.part")
# See `_held_part`: how many parts are begun at most, how often a lock is refused before files cannot be locked here,
# and how long a sweeper needs at most to remove what it has locked.
_PARTS, _REFUSED, _SWEPT_S = 50, 3, 0.002


def read_bounded(path: Path, most_bytes: int, *, follow: bool = True) -> bytes:
    """A file's content.

    Raises StorageError when it cannot be read, has more than `most_bytes`, is no plain file (a pipe or a device would
    never end), or is a link and `follow` is False.
    """
    try:
        with open(_opened(path, follow), "rb") as file:
            if not stat.S_ISREG(os.fstat(file.fileno()).st_mode):
                raise StorageError(say("wrong.no-plain-file", name=path.name), say("mend.choose-right-file"))
            content = file.read(most_bytes + 1)
    except FileNotFoundError:
        raise StorageError(say("wrong.no-file", name=path.name), say("mend.check-name-folder")) from None
    except (OSError, ValueError) as error:
        raise StorageError(
            say("wrong.cannot-read", name=path.name, reason=_reason(error)), say("mend.check-file-folder")
        ) from None
    if len(content) > most_bytes:
        raise StorageError(say("wrong.too-large", name=path.name, most_bytes=most_bytes), say("mend.choose-right-file"))
    return content


def write_whole(path: Path, content: bytes, *, mode: int = PRIVATE) -> None:
    """Put a file in place in one step, durable on return: readers see the old content or the new, never a part.

    The temporary file lies beside it, so that the rename stays within one file system, and its name ends in `.part`,
    which every reader of an exchange folder ignores. Folders that are missing are made, for this user alone unless the
    file is for others too. Raises StorageError, the old file being untouched.
    """
    try:
        make_folder(path.parent, PRIVATE_FOLDER if mode == PRIVATE else 0o755)
        with writing(path, mode) as file:
            file.write(content)
    except OSError as error:
        raise StorageError(
            say("wrong.file-cannot-be-written", name=path.name, reason=_reason(error)),
            say("mend.free-some-space-check"),
        ) from None


def make_folder(folder: Path, mode: int = PRIVATE_FOLDER) -> None:
    """Make a folder and those above it, each with `mode`; one that is there stays as it is. Raises OSError."""
    for missing in reversed([one for one in (folder, *folder.parents) if not one.exists()]):
        missing.mkdir(mode=mode, exist_ok=True)
        sync_folder(missing.parent)
    if not folder.is_dir():
        raise NotADirectoryError(20, "there is a file of that name", str(folder))


def close_to_others(folders: Iterable[Path], mode: int = PRIVATE_FOLDER) -> None:
    """Take away what other users may do in folders that an earlier version made; a disk without rights has none."""
    for folder in folders:
        with contextlib.suppress(OSError):
            if stat.S_IMODE(folder.stat().st_mode) & 0o077:
                folder.chmod(mode)


def close_files_to_others(files: Iterable[Path]) -> None:
    """The same for files that another library makes."""
    close_to_others(files, PRIVATE)


def sweep(folders: Iterable[Path]) -> None:
    """Remove what killed writes left in these folders. A file that is being written is held by a lock, and stays."""
    for folder in folders:
        with contextlib.suppress(OSError):
            for name in os.listdir(folder):
                if _PART_NAME.fullmatch(name):
                    _remove_if_left(folder / name)


def sync_folder(folder: Path) -> None:
    """Make names in a folder durable; systems that cannot open a folder (Windows) do so on their own."""
    with contextlib.suppress(OSError):
        descriptor = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(descriptor)
        finally:
            os.close(descriptor)


def sync_tree(folder: Path) -> None:
    """Make every file below a folder durable, and then their names. Raises OSError."""
    for root, _, names in os.walk(folder, topdown=False):
        for name in names:
            with open(Path(root) / name, "rb+") as file:
                os.fsync(file.fileno())
        sync_folder(Path(root))


def _opened(path: Path, follow: bool) -> int:
    """Never waits: a pipe that nobody writes into opens at once, and is refused afterwards."""
    flags = os.O_RDONLY | getattr(os, "O_BINARY", 0) | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_CLOEXEC", 0)
    if not follow:
        flags |= getattr(os, "O_NOFOLLOW", 0)
        if path.is_symlink():
            raise OSError(40, "it is a link to somewhere else")
    return os.open(path, flags)


@contextlib.contextmanager
def writing(path: Path, mode: int = PRIVATE) -> Iterator[BinaryIO]:
    """The same for what is too large to be held: written inside this block, in place and durable after it.

    Raises OSError, the old file being untouched.
    """
    part, descriptor = _held_part(path, mode)
    # Held until it is in place, or a sweeper would take it at the last moment; Windows renames nothing that is open.
    held = None if os.name == "nt" else os.dup(descriptor)
    try:
        with open(descriptor, "wb") as file:
            yield file
            file.flush()
            os.fsync(file.fileno())
        os.replace(part, path)
        sync_folder(path.parent)
    except BaseException:
        with contextlib.suppress(OSError):
            part.unlink(missing_ok=True)
        raise
    finally:
        if held is not None:
            os.close(held)


def _held_part(path: Path, mode: int) -> tuple[Path, int]:
    """A new temporary file beside `path`, open and locked until it is closed. Raises OSError.

    Between the two, another program's `sweep` may take it for a leftover: then another one is begun. Once it is locked
    and there, nobody sweeps it. Where files cannot be locked at all (some network drives), it goes without.
    """
    refused = 0
    for _ in range(_PARTS):
        part = path.with_name(f".{path.name}.{secrets.token_hex(4)}{PART_SUFFIX}")
        # Created with its final mode: a secret is never readable by others, not even for a moment.
        descriptor = os.open(part, os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0), mode)
        if take(descriptor):
            if part.exists():
                return part, descriptor
        else:
            time.sleep(_SWEPT_S)
            refused += part.exists()
            if refused == _REFUSED:
                return part, descriptor
        os.close(descriptor)
        with contextlib.suppress(OSError):
            part.unlink(missing_ok=True)
    raise OSError(errno.EBUSY, "something else removes what is written here", str(path.parent))


def _remove_if_left(part: Path) -> None:
    with contextlib.suppress(OSError):
        descriptor = os.open(part, os.O_RDWR | getattr(os, "O_NOFOLLOW", 0) | getattr(os, "O_NONBLOCK", 0))
        left = False
        try:
            left = take(descriptor)
            if left and os.name != "nt":  # while it is held: whoever gets the lock next sees that it is gone
                part.unlink()
        finally:
            os.close(descriptor)
        if left and os.name == "nt":  # where nothing is removed that is open, so no writer's file either
            part.unlink()


def _reason(error: Exception) -> str:
    return getattr(error, "strerror", None) or str(error)
