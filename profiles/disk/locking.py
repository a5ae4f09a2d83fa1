"""One program at a time: a lock on a file beside the one that is read, changed and written again.

The operating system lets go of it when a program ends, however it ends, so no stale lock is ever left.
"""

from __future__ import annotations

import os
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from musclewood.assets.saying import say
from musclewood.profiles.errors import StorageError

PATIENCE_S = 10.0
_EVERY_S = 0.02


@contextmanager
def locked(path: Path, patience_s: float = PATIENCE_S) -> Iterator[None]:
    """Hold the lock that belongs to `path`. Raises StorageError when another program keeps it or it cannot be made.

    Not to be taken twice in one thread: the second would wait for the first.
    """
    lock = path.with_name(f".{path.name}.lock")
    try:
        lock.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        descriptor = os.open(lock, os.O_RDWR | os.O_CREAT, 0o600)
    except OSError as error:
        raise StorageError(
            say("wrong.cannot-locked", name=path.name, reason=error.strerror), say("mend.free-some-space-check")
        ) from None
    try:
        _wait(descriptor, path, time.monotonic() + patience_s)
        yield
    finally:
        os.close(descriptor)  # which lets go of the lock


def _wait(descriptor: int, path: Path, until_s: float) -> None:
    while not take(descriptor):
        if time.monotonic() > until_s:
            raise StorageError(say("wrong.use-another-program", name=path.name), say("mend.close-other-window-try"))
        time.sleep(_EVERY_S)


if os.name == "nt":
    import msvcrt

    def take(descriptor: int) -> bool:
        """Take the lock on an open file, if nobody else holds it."""
        try:
            msvcrt.locking(descriptor, msvcrt.LK_NBLCK, 1)  # type: ignore[attr-defined]
        except OSError:
            return False
        return True

else:
    import fcntl

    def take(descriptor: int) -> bool:
        """Take the lock on an open file, if nobody else holds it."""
        try:
            fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError:
            return False
        return True
