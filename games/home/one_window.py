"""One window for one home: a second start brings the first window to the front, and hands it the letter it was opened
with.

The first start holds a lock, which the system lets go of however the program ends, and listens at a door beside it: a
local socket (a named pipe on Windows) that opens to whoever can read the key in the home, so to this user alone.
"""

from __future__ import annotations

import hashlib
import os
import secrets
import sys
import tempfile
import threading
import time
from contextlib import suppress
from pathlib import Path

from musclewood.profiles.disk.files import make_folder, write_whole
from musclewood.profiles.disk.locking import take

LONGEST_SOCKET = 100  # bytes; systems allow 104 to 108 (sun_path in sys/un.h)
MOST_BYTES = 10_000  # of a message: a path
ANSWER_S, AGAIN_S = 5.0, 0.05


class Door:
    """`claim` gives it to the first start. `knocks` are what later starts were opened with since it was last asked; ''
    is nothing."""

    def __init__(self, root: Path, descriptor: int) -> None:
        self._root, self._descriptor = root, descriptor
        self._heard: list[str] = []
        self._lock = threading.Lock()
        write_whole(_key_path(root), secrets.token_bytes(32))

    def listen(self) -> None:
        """Open the door, once there is a window to bring to the front; whoever knocks earlier waits a little."""
        threading.Thread(target=self._listen, name="door", daemon=True).start()

    def knocks(self) -> list[str]:
        with self._lock:
            heard, self._heard = self._heard, []
        return heard

    def close(self) -> None:
        """Let another start be the first."""
        with suppress(OSError):
            os.close(self._descriptor)

    def _listen(self) -> None:
        from multiprocessing import AuthenticationError  # takes its time
        from multiprocessing.connection import Listener

        address = _address(self._root)
        with suppress(OSError):
            if sys.platform != "win32":
                Path(address).unlink(missing_ok=True)  # of a program that was killed: the lock is ours
            with Listener(address, authkey=_key_path(self._root).read_bytes()) as listener:
                while True:
                    with (
                        suppress(AuthenticationError, EOFError, OSError, UnicodeDecodeError),
                        listener.accept() as visitor,
                    ):
                        said = visitor.recv_bytes(MOST_BYTES).decode("utf-8")
                        with self._lock:
                            self._heard.append(said)
                        visitor.send_bytes(b"heard")


def claim(root: Path) -> Door | None:
    """The door of this home, if this is the first start; None where a window is open already. Raises OSError."""
    make_folder(root)
    descriptor = os.open(root / ".window.lock", os.O_RDWR | os.O_CREAT, 0o600)
    if take(descriptor):
        return Door(root, descriptor)
    os.close(descriptor)
    return None


def knock(root: Path, letter: str | None) -> bool:
    """Ask the window that is open to come to the front, and to take this letter in. Whether it heard."""
    from multiprocessing import AuthenticationError
    from multiprocessing.connection import Client

    said = str(Path(letter).resolve()) if letter else ""
    until_s = time.monotonic() + ANSWER_S
    while time.monotonic() < until_s:
        try:
            with Client(_address(root), authkey=_key_path(root).read_bytes()) as door:
                door.send_bytes(said.encode("utf-8"))
                return bool(door.poll(ANSWER_S)) and door.recv_bytes(100) == b"heard"
        except (FileNotFoundError, ConnectionRefusedError):
            time.sleep(AGAIN_S)  # it is just being opened
        except (OSError, EOFError, AuthenticationError):
            return False
    return False


def _key_path(root: Path) -> Path:
    return root / ".window.key"


def _address(root: Path) -> str:
    name = f"musclewood-{hashlib.sha256(str(root.resolve()).encode()).hexdigest()[:16]}"
    if sys.platform == "win32":
        return rf"\\.\pipe\{name}"
    beside = str(root / ".window.door")
    return beside if len(beside.encode()) <= LONGEST_SOCKET else str(Path(tempfile.gettempdir()) / name)
