"""Where an exchange folder lies: in a local folder, or at an address that fsspec understands.

A place knows flat folders of small whole files, and nothing else: list, read, write. It never deletes and never
follows a link out of itself.
"""

from __future__ import annotations

import importlib
import os
import posixpath
import re
import secrets
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Protocol

from musclewood.profiles.disk.files import PART_SUFFIX, read_bounded, write_whole
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
    """A local path, or an address with a scheme such as 'sftp://', for which fsspec must be installed.

    Raises StorageError.
    """
    return FsspecPlace.at(address) if "://" in address else LocalPlace(Path(address).expanduser())


def whole_address(address: str) -> str:
    """An address that means the same from any folder, so that it can be kept; '' stays ''."""
    return address if "://" in address or not address else str(Path(address).expanduser().absolute())


def has_password(address: str) -> bool:
    """Whether an address carries a password, which must not be written down in the clear."""
    return re.match(r"[^/]*://[^/@]*:[^/@]+@", address) is not None


@dataclass(frozen=True)
class LocalPlace:
    """A folder on this computer, a memory stick, or whatever a sync tool carries."""

    root: Path

    def sizes(self, folder: str) -> dict[str, int]:
        try:
            with os.scandir(self.root / folder) as entries:
                plain = [entry for entry in entries if entry.is_file(follow_symlinks=False)]
                return {entry.name: entry.stat().st_size for entry in plain}
        except FileNotFoundError:
            self._refuse_missing()
            return {}
        except OSError as error:
            raise StorageError(
                f"the exchange folder cannot be read ({error.strerror})", "check that it is there"
            ) from None

    def read(self, folder: str, name: str, most_bytes: int) -> bytes:
        return read_bounded(self.root / folder / name, most_bytes)

    def write(self, folder: str, name: str, content: bytes) -> None:
        self._refuse_missing()
        write_whole(self.root / folder / name, content, mode=0o644)

    def _refuse_missing(self) -> None:
        """A memory stick that was pulled out must not come back as an empty folder on the disk."""
        if not self.root.is_dir():
            raise StorageError(
                f"there is no exchange folder {self.root.name!r}", "put the memory stick in, or make the folder"
            )


class FsspecPlace:
    """Any file system that fsspec knows."""

    def __init__(self, system: Any, root: str) -> None:
        self._system = system
        self._root = root

    @classmethod
    def at(cls, address: str) -> FsspecPlace:
        scheme = address.partition("://")[0]
        try:
            fsspec = importlib.import_module("fsspec")
        except ImportError:
            problem = f"{scheme}:// addresses need the package fsspec"
            raise StorageError(problem, 'install "musclewood[fsspec]", or use a folder') from None
        _find_protocol(fsspec, scheme)
        with _foreign_failures(f"the {scheme}:// address cannot be opened"):
            system, root = fsspec.core.url_to_fs(address)
        return cls(system, root)

    def sizes(self, folder: str) -> dict[str, int]:
        with _foreign_failures("the exchange folder cannot be read"):
            self._system.invalidate_cache()
            there = self._system.isdir(self._path(folder))
            entries = self._system.ls(self._path(folder), detail=True) if there else []
        plain = (entry for entry in entries if entry["type"] == "file" and not entry.get("islink"))
        return {posixpath.basename(str(entry["name"])): int(entry["size"]) for entry in plain}

    def read(self, folder: str, name: str, most_bytes: int) -> bytes:
        with _foreign_failures(f"{name!r} cannot be read"), self._system.open(self._path(folder, name), "rb") as file:
            content = bytes(file.read(most_bytes + 1))
        if len(content) > most_bytes:
            raise StorageError(f"{name!r} has more than {most_bytes} bytes", "choose the right file")
        return content

    def write(self, folder: str, name: str, content: bytes) -> None:
        part = self._path(folder, f".{name}.{secrets.token_hex(4)}{PART_SUFFIX}")
        with _foreign_failures(f"{name!r} cannot be written"):
            self._system.makedirs(self._path(folder), exist_ok=True)
            self._system.pipe_file(part, content)
            self._system.mv(part, self._path(folder, name))

    def _path(self, *parts: str) -> str:
        return "/".join((self._root.rstrip("/"), *parts))


def _find_protocol(fsspec: Any, scheme: str) -> None:
    """Raises StorageError for a scheme that nobody knows, or one that needs a package which is not here."""
    try:
        fsspec.get_filesystem_class(scheme)
    except ImportError:
        problem = f"{scheme}:// addresses need one more package"
        raise StorageError(problem, 'install "musclewood[fsspec]", or use a folder') from None
    except ValueError:
        problem = f"no kind of address is called {scheme}://"
        raise StorageError(problem, "use sftp://, s3://, webdav:// or a folder") from None


@contextmanager
def _foreign_failures(problem: str) -> Iterator[None]:
    """Every file system fails with exceptions of its own, which nobody can list here.

    Their texts may quote an address with a password in it, so only the kind of the exception is repeated.
    """
    try:
        yield
    except Exception as error:  # noqa: BLE001
        kind = type(error).__name__
        raise StorageError(f"{problem} ({kind})", "check the address and the connection, and try again") from None
