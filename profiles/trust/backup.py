"""A backup: everything that a clinic's or a home's folder needs, in one file that only its passphrase opens.

    musclewood-backup/1 desk passes 3 memory 268435456 salt 5e6f...        (in the clear)
    header of the stream, then chunks of a tar file, each sealed with its place in the order; the last one says so

XChaCha20-Poly1305 as a stream (libsodium's secretstream), the key from the passphrase as for the clinic's key file. A
chunk that is changed, missing, doubled or out of order shows, and so does an end that is cut off. A backup is unpacked
into a folder beside its place and appears there in one step.
"""

from __future__ import annotations

import glob
import io
import os
import re
import secrets
import shutil
import sqlite3
import tarfile
import tempfile
from collections.abc import Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO, Literal

from musclewood.assets.saying import say
from musclewood.profiles.disk.files import make_folder, sweep, sync_folder, sync_tree, writing
from musclewood.profiles.errors import BackupError, CopyAgainError, StorageError
from musclewood.profiles.trust.key_file import MODERATE, Hardness, stretched
from musclewood.profiles.trust.passphrases import refuse_weak
from nacl import bindings

Kind = Literal["desk", "home"]
CHUNK = 1 << 20
_FINAL = bindings.crypto_secretstream_xchacha20poly1305_TAG_FINAL
_MESSAGE = bindings.crypto_secretstream_xchacha20poly1305_TAG_MESSAGE
_EXTRA = bindings.crypto_secretstream_xchacha20poly1305_ABYTES
_HEADER = bindings.crypto_secretstream_xchacha20poly1305_HEADERBYTES
_LABEL = re.compile(rb"musclewood-backup/1 (desk|home) passes ([0-9]{1,2}) memory ([0-9]{4,10}) salt ([0-9a-f]{32})\n")
# Made again when they are missing, or of this computer alone: a restored home sends as a new computer, since its old
# numbers may have been used since.
_LEFT_OUT = {"summaries", "reports", "exchange", "recordings", "desk"}
_LEFT_OUT_ENDINGS = (".lock", ".part", ".sender.json", "-wal", "-shm")


@dataclass(frozen=True)
class Held:
    """What a backup holds."""

    kind: str
    files: int
    bytes: int


def make_backup(root: Path, target: Path, kind: Kind, passphrase: str, hardness: Hardness = MODERATE) -> Held:
    """Copy a desk's or a home's folder into one sealed file, which appears at once when it is whole.

    Raises PassphraseError, BackupError, StorageError.
    """
    refuse_weak(passphrase)
    names = _names(root)
    if not names:
        raise BackupError(say("wrong.nothing", root=root), say("mend.name-folder-copied"))
    salt = secrets.token_bytes(16)
    label = f"musclewood-backup/1 {kind} passes {hardness.passes} memory {hardness.memory_bytes} salt {salt.hex()}\n"
    with _storage(target):
        make_folder(target.parent)
        sweep([target.parent])
        with writing(target) as part:
            part.write(label.encode())
            with closing(_Sealing(part, stretched(passphrase, salt, hardness), label.encode())) as sealing:
                total = _pack(root, names, sealing)
    return Held(kind, len(names), total)


def verify_backup(path: Path, passphrase: str) -> Held:
    """Open all of a backup and check what it holds, keeping nothing. Raises PassphraseError,
    BackupError, StorageError."""
    with _storage(path), tempfile.TemporaryDirectory() as folder:
        return _unpack(path, Path(folder), passphrase)


@contextmanager
def opened_backup(path: Path, kind: Kind, passphrase: str) -> Iterator[Path]:
    """Its folder, for as long as somebody takes something out of it. Raises PassphraseError,
    BackupError, StorageError."""
    with _storage(path), tempfile.TemporaryDirectory() as folder:
        _refuse_other_kind(_unpack(path, Path(folder), passphrase), kind)
        yield Path(folder)


def restore_backup(path: Path, root: Path, kind: Kind, passphrase: str) -> Held:
    """Put a backup where there is nothing yet, in one step. Raises PassphraseError, BackupError, StorageError."""
    with _storage(root):
        if root.exists() and any(not entry.name.startswith(".") for entry in root.iterdir() if not _empty(entry)):
            raise BackupError(say("wrong.something-already", root=root), say("mend.name-new-folder-move"))
        make_folder(root.parent)
        for left in root.parent.glob(f".{glob.escape(root.name)}.*.part"):  # of a run that was killed
            shutil.rmtree(left, ignore_errors=True)
        with tempfile.TemporaryDirectory(prefix=f".{root.name}.", suffix=".part", dir=root.parent) as folder:
            fresh = Path(folder) / "restored"
            fresh.mkdir(mode=0o700)
            held = _unpack(path, fresh, passphrase)
            _refuse_other_kind(held, kind)
            sync_tree(fresh)
            if root.exists():
                shutil.rmtree(root)
            fresh.rename(root)
        sync_folder(root.parent)
    return held


def _refuse_other_kind(held: Held, kind: Kind) -> None:
    if held.kind != kind:
        raise BackupError(say("wrong.backup-not", kind=held.kind, kind2=kind), say("mend.restore-what"))


def _empty(entry: Path) -> bool:
    return entry.is_dir() and not any(path.is_file() for path in entry.rglob("*"))


def _names(root: Path) -> list[str]:
    """Files by their names in the folder, those at the top first: what was received is noted there, and a note without
    its file would be worse than a file without its note."""
    found = []
    for folder, folders, names in os.walk(root):
        inside = Path(folder).relative_to(root)
        if folder == str(root):
            folders[:] = [one for one in folders if one not in _LEFT_OUT]
        paths = [inside / name for name in names if not name.endswith(_LEFT_OUT_ENDINGS)]
        found += [path.as_posix() for path in paths if (root / path).is_file() and not (root / path).is_symlink()]
    return sorted(found, key=lambda name: (name.count("/"), name))


def _pack(root: Path, names: list[str], sealing: _Sealing) -> int:
    total = 0
    with tarfile.open(fileobj=sealing, mode="w|", bufsize=CHUNK, format=tarfile.PAX_FORMAT) as tar:
        for name in names:
            with _still(root / name) as path:
                entry = tarfile.TarInfo(name)
                entry.size, entry.mode = path.stat().st_size, 0o600
                total += entry.size
                with open(path, "rb") as file:
                    tar.addfile(entry, file)
    return total


@contextmanager
def _still(path: Path) -> Iterator[Path]:
    """A file that does not change meanwhile: a journal may be in use, and is copied by SQLite itself."""
    if path.suffix != ".sqlite":
        yield path
        return
    with tempfile.TemporaryDirectory() as folder:
        copy = Path(folder) / "journal.sqlite"
        try:
            there = f"{path.absolute().as_uri()}?mode=ro"
            with closing(sqlite3.connect(there, uri=True)) as source, closing(sqlite3.connect(copy)) as target:
                source.backup(target)
        except sqlite3.Error:
            problem = say("wrong.journal-use-damaged", name=path.name)
            raise BackupError(problem, say("mend.close-program-open-once")) from None
        yield copy


def _unpack(path: Path, into: Path, passphrase: str) -> Held:
    count = total = 0
    with open(path, "rb") as file:
        label = _LABEL.match(file.readline(200))
        if label is None:
            raise BackupError(say("wrong.no-backup-version", name=path.name), say("mend.choose-right-file"))
        hardness = Hardness(int(label[2]), int(label[3]))
        if not 1 <= hardness.passes <= 16 or not 8192 <= hardness.memory_bytes <= 1 << 30:
            raise BackupError(say("wrong.no-backup-version", name=path.name), say("mend.choose-right-file"))
        opening = _Opening(file, stretched(passphrase, bytes.fromhex(label[4].decode()), hardness), label[0])
        try:
            with tarfile.open(fileobj=opening, mode="r|", bufsize=CHUNK) as tar:
                for entry in tar:
                    _put(tar, entry, into)
                    count, total = count + 1, total + entry.size
        except tarfile.TarError:
            raise BackupError(say("wrong.file-damaged", name=path.name), say("mend.use-another-copy")) from None
        opening.refuse_unfinished()
    for journal in into.rglob("*.sqlite"):
        with closing(sqlite3.connect(journal)) as db:
            if db.execute("PRAGMA integrity_check(1)").fetchone()[0] != "ok":
                raise BackupError(say("wrong.journal-in-it-damaged", name=journal.name), say("mend.use-earlier-backup"))
    return Held(label[1].decode(), count, total)


def _put(tar: tarfile.TarFile, entry: tarfile.TarInfo, into: Path) -> None:
    """Only plain files in plain folders; a seal says who made it, not that their computer was sound."""
    parts = Path(entry.name).parts
    source = tar.extractfile(entry) if entry.isreg() else None
    if source is None or not parts or ".." in parts or Path(entry.name).is_absolute():
        raise BackupError(say("wrong.backup-something-no-plain"), say("mend.use-another-copy"))
    place = into.joinpath(*parts)
    make_folder(place.parent)
    with open(os.open(place, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "wb") as target:
        shutil.copyfileobj(source, target, CHUNK)


class _Sealing(io.RawIOBase):
    """Takes plain bytes and writes sealed chunks."""

    def __init__(self, file: BinaryIO, key: bytes, label: bytes) -> None:
        self._file, self._waiting, self._label = file, bytearray(), label
        self._state = bindings.crypto_secretstream_xchacha20poly1305_state()
        file.write(bindings.crypto_secretstream_xchacha20poly1305_init_push(self._state, key))

    def write(self, data: bytes) -> int:  # type: ignore[override]
        self._waiting += data
        while len(self._waiting) > CHUNK:
            self._push(bytes(self._waiting[:CHUNK]), _MESSAGE)
            del self._waiting[:CHUNK]
        return len(data)

    def close(self) -> None:
        if not self.closed:
            self._push(bytes(self._waiting), _FINAL)
        super().close()

    def _push(self, plain: bytes, tag: int) -> None:
        push = bindings.crypto_secretstream_xchacha20poly1305_push
        self._file.write(push(self._state, plain, self._label, tag))


class _Opening(io.RawIOBase):
    """Reads sealed chunks and gives plain bytes. Raises BackupError for whatever is not as it was sealed."""

    def __init__(self, file: BinaryIO, key: bytes, label: bytes) -> None:
        self._file, self._ready, self._done, self._label = file, b"", False, label
        self._state = bindings.crypto_secretstream_xchacha20poly1305_state()
        header = file.read(_HEADER)
        if len(header) < _HEADER:
            raise BackupError(say("wrong.backup-cut-off"), say("mend.use-another-copy"))
        bindings.crypto_secretstream_xchacha20poly1305_init_pull(self._state, header, key)

    def read(self, size: int = -1) -> bytes:
        while not self._done and (size < 0 or len(self._ready) < size):
            self._pull()
        taken, self._ready = (self._ready, b"") if size < 0 else (self._ready[:size], self._ready[size:])
        return taken

    def refuse_unfinished(self) -> None:
        while not self._done:
            self._pull()
        if self._file.read(1):
            raise BackupError(say("wrong.something-after-end-backup"), say("mend.use-another-copy"))

    def _pull(self) -> None:
        chunk = self._file.read(CHUNK + _EXTRA)
        if not chunk:
            raise BackupError(say("wrong.backup-cut-off"), say("mend.use-another-copy"))
        try:
            plain, tag = bindings.crypto_secretstream_xchacha20poly1305_pull(self._state, chunk, self._label)
        except Exception:  # noqa: BLE001 the bindings raise several kinds
            problem = say("wrong.passphrase-not-of-backup")
            raise BackupError(problem, say("mend.try-again-passphrase-surely")) from None
        self._ready, self._done = self._ready + plain, tag == _FINAL


@contextmanager
def _storage(path: Path) -> Iterator[None]:
    try:
        yield
    except CopyAgainError:
        raise
    except OSError as error:
        reason = error.strerror or str(error)
        raise StorageError(
            say("wrong.cannot-read-written", name=path.name, reason=reason), say("mend.check-disk-folder")
        ) from None
