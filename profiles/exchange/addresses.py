"""The exchange folder at an address: SFTP, WebDAV, S3 and whatever else fsspec knows.

A folder or bucket that is not there is said, never made and never taken for an empty one: an address with a slip in it
would otherwise say 'nothing new' for weeks. Every kind has its own way of replacing a file whole.
"""

from __future__ import annotations

import importlib
import ipaddress
import posixpath
import secrets
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from typing import Any
from urllib.parse import unquote, urlsplit

from musclewood.assets.saying import say
from musclewood.profiles.disk.files import PART_SUFFIX
from musclewood.profiles.errors import StorageError


def at_address(address: str) -> FsspecPlace:
    """Raises StorageError for a scheme that nobody knows, for one that needs a package, and for a slip in it."""
    scheme = address.partition("://")[0]
    try:
        fsspec = importlib.import_module("fsspec")
    except ImportError:
        problem = say("wrong.addresses-need-package-fsspec", scheme=scheme)
        raise StorageError(problem, say("mend.install-musclewood-fsspec-use")) from None
    _find_protocol(fsspec, scheme)
    with _foreign_failures(f"the {scheme}:// address cannot be opened"):
        if scheme in ("webdav", "dav"):
            return _web_place(fsspec, address)
        # asyncssh's own way with (): the keys in the user's known_hosts; sshfs alone would take any key in silence.
        options = {"known_hosts": ()} if scheme in ("sftp", "ssh") else {}
        system, root = fsspec.core.url_to_fs(address, **options)
    return _PLACES.get(scheme, FsspecPlace)(system, root)


class FsspecPlace:
    """A file system of fsspec on which a rename replaces a file, such as SFTP."""

    must_exist = True

    def __init__(self, system: Any, root: str) -> None:
        self._system = system
        self._root = root

    def sizes(self, folder: str) -> dict[str, int]:
        with _foreign_failures("the exchange folder cannot be read"):
            self._system.invalidate_cache()
            there = self._system.isdir(self._path(folder))
            entries = self._system.ls(self._path(folder), detail=True) if there else []
            self._refuse_missing(there)
        plain = (entry for entry in entries if entry["type"] == "file" and not entry.get("islink"))
        return {posixpath.basename(str(entry["name"]).rstrip("/")): int(entry["size"] or 0) for entry in plain}

    def read(self, folder: str, name: str, most_bytes: int) -> bytes:
        with _foreign_failures(f"{name!r} cannot be read"), self._system.open(self._path(folder, name), "rb") as file:
            content = bytes(file.read(most_bytes + 1))
        if len(content) > most_bytes:
            raise StorageError(say("wrong.too-large", name=name, most_bytes=most_bytes), say("mend.choose-right-file"))
        return content

    def write(self, folder: str, name: str, content: bytes) -> None:
        with _foreign_failures(f"{name!r} cannot be written"):
            self._refuse_missing(self._is_there())
            self._put(folder, name, content)

    def _put(self, folder: str, name: str, content: bytes) -> None:
        """First beside its place, then into it."""
        self._system.makedirs(self._path(folder), exist_ok=True)
        part = self._path(folder, f".{name}.{secrets.token_hex(4)}{PART_SUFFIX}")
        try:
            self._system.pipe_file(part, content)
            self._replace(part, self._path(folder, name))
        except Exception:
            with suppress(Exception):
                self._system.rm_file(part)
            raise

    def _replace(self, part: str, target: str) -> None:
        self._system.mv(part, target)

    def _is_there(self) -> bool:
        return bool(self._system.isdir(self._root or "/"))

    def _refuse_missing(self, known_to_be_there: bool) -> None:
        if self.must_exist and not known_to_be_there and not self._is_there():
            raise StorageError(say("wrong.no-such-folder-address"), say("mend.mend-address-make-folder"))

    def _path(self, *parts: str) -> str:
        return "/".join((self._root.rstrip("/"), *parts))


class MemoryPlace(FsspecPlace):
    """In memory, for trying things out: there is no folder before something lies in it."""

    must_exist = False


class BucketPlace(FsspecPlace):
    """S3: folders are only parts of names, the bucket is what must be there, and a file appears whole by itself."""

    def _put(self, folder: str, name: str, content: bytes) -> None:
        self._system.pipe_file(self._path(folder, name), content)

    def _is_there(self) -> bool:
        return bool(self._system.exists(self._root.partition("/")[0]))


class WebPlace(FsspecPlace):
    """WebDAV, whose rename leaves what is there alone unless it is told otherwise."""

    def _replace(self, part: str, target: str) -> None:
        self._system.client.move(part, target, overwrite=True)

    def _is_there(self) -> bool:
        return bool(self._system.isdir(self._root)) if self._root.strip("/") else bool(self._system.exists("/"))


_PLACES: dict[str, type[FsspecPlace]] = {"s3": BucketPlace, "s3a": BucketPlace, "memory": MemoryPlace}


def _web_place(fsspec: Any, address: str) -> WebPlace:
    """https, except to this machine itself."""
    parts = urlsplit(address)
    if not parts.hostname:
        raise StorageError(say("wrong.address-names-no-computer"), say("mend.write-webdav-host-folder"))
    host = f"[{parts.hostname}]" if ":" in parts.hostname else parts.hostname
    base = f"{'http' if _is_loopback(parts.hostname) else 'https'}://{host}{f':{parts.port}' if parts.port else ''}"
    auth = (unquote(parts.username), unquote(parts.password or "")) if parts.username else None
    system = fsspec.filesystem("webdav", base_url=base, auth=auth, skip_instance_cache=True)
    return WebPlace(system, unquote(parts.path).strip("/"))


def _is_loopback(host: str) -> bool:
    try:
        return ipaddress.ip_address(host).is_loopback
    except ValueError:
        return host == "localhost"


def _find_protocol(fsspec: Any, scheme: str) -> None:
    if scheme in ("http", "https", "ftp"):
        problem = say("wrong.addresses-can-only-read", scheme=scheme)
        raise StorageError(problem, say("mend.use-sftp-webdav-folder"))
    try:
        fsspec.get_filesystem_class("webdav" if scheme == "dav" else scheme)
    except ImportError:
        problem = say("wrong.addresses-need-one-package", scheme=scheme)
        raise StorageError(problem, say("mend.install-musclewood-fsspec-use")) from None
    except ValueError:
        problem = say("wrong.no-kind-address-called", scheme=scheme)
        raise StorageError(problem, say("mend.use-sftp-webdav-folder")) from None


@contextmanager
def _foreign_failures(problem: str) -> Iterator[None]:
    """Every file system fails with exceptions of its own, which nobody can list here.

    Their texts may quote an address with a password in it, so only the kind of the exception is repeated.
    """
    try:
        yield
    except StorageError:
        raise
    except Exception as error:  # noqa: BLE001
        kind = type(error).__name__
        if kind == "HostKeyNotVerifiable":
            remedy = say("mend.connect-once-ssh-compare")
            raise StorageError(say("wrong.computer-does-not-know"), remedy) from None
        raise StorageError(
            say("wrong.server", problem=problem, kind=kind), say("mend.check-address-connection-try")
        ) from None
