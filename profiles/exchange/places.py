"""Where an exchange folder lies: in a local folder, or at an address that fsspec understands.

A place knows flat folders of small whole files, and nothing else: list, read, write. It never deletes and never
follows a link out of itself.
"""

from __future__ import annotations

import os
import re
from dataclasses import dataclass
from pathlib import Path
from typing import Protocol

from musclewood.assets.saying import say
from musclewood.profiles.disk.files import PUBLIC, read_bounded, sweep, write_whole
from musclewood.profiles.errors import StorageError


class Place(Protocol):
    """What an exchange needs. Folders are relative, with '/' between parts. All raise StorageError."""

    def sizes(self, folder: str) -> dict[str, int]:
        """The plain files in a folder by name, with their bytes; none when there is no such folder."""
        ...

    def read(self, folder: str, name: str, most_bytes: int) -> bytes:
        """A file's content; refused when it is larger than `most_bytes`."""
        ...

    def write(self, folder: str, name: str, content: bytes) -> None:
        """Put a file in place whole, making the folder when needed."""
        ...


def open_place(address: str) -> Place:
    """A local path, or an address with a scheme such as 'sftp://'. Raises StorageError."""
    if "://" not in address:
        return LocalPlace(Path(address).expanduser())
    from musclewood.profiles.exchange.addresses import at_address  # fsspec takes its time, and may not be there

    return at_address(address)


def whole_address(address: str) -> str:
    """An address that means the same from any folder, so that it can be kept; '' stays ''."""
    return address if "://" in address or not address else str(Path(address).expanduser().absolute())


def has_password(address: str) -> bool:
    """Whether an address may carry a secret, which must not be written down in the clear.

    Told by what may be kept, not by what secrets look like: a scheme, a host, a path, and for sftp a plain user name.
    """
    scheme, sign, rest = address.partition("://")
    if not sign:
        return False
    if re.search(r"[?#]|::|%(?![2][0])", rest) or not re.fullmatch(r"[a-z0-9+.-]+", scheme):
        return True
    user, at, _ = rest.rpartition("@")
    return bool(at) and not (scheme in ("sftp", "ssh") and re.fullmatch(r"[A-Za-z0-9._-]{1,32}", user))


@dataclass(frozen=True)
class LocalPlace:
    """A folder on this computer, a memory stick, or whatever a sync tool carries."""

    root: Path

    def sizes(self, folder: str) -> dict[str, int]:
        try:
            with os.scandir(self._within(folder)) as entries:
                plain = [entry for entry in entries if entry.is_file(follow_symlinks=False)]
                return {entry.name: entry.stat(follow_symlinks=False).st_size for entry in plain}
        except FileNotFoundError:
            self._refuse_missing()
            return {}
        except OSError as error:
            raise StorageError(
                say("wrong.exchange-folder-cannot-read", reason=error.strerror), say("mend.check")
            ) from None

    def read(self, folder: str, name: str, most_bytes: int) -> bytes:
        return read_bounded(self._within(folder) / name, most_bytes, follow=False)

    def write(self, folder: str, name: str, content: bytes) -> None:
        """For every user to read: what lies here is signed or sealed, and a sync tool may be somebody else."""
        self._refuse_missing()
        inside = self._within(folder)
        sweep([inside])
        write_whole(inside / name, content, mode=PUBLIC)

    def _within(self, folder: str) -> Path:
        """A folder of the exchange, itself or not there at all, but never a link to somewhere else."""
        inside = self.root
        for part in folder.split("/"):
            inside = inside / part
            if inside.is_symlink():
                raise StorageError(say("wrong.exchange-folder-link", part=part), say("mend.put-folder-place"))
        return inside

    def _refuse_missing(self) -> None:
        """A memory stick that was pulled out must not come back as an empty folder on the disk."""
        if not self.root.is_dir():
            raise StorageError(say("wrong.no-exchange-folder", name=self.root.name), say("mend.put-memory-stick-make"))
