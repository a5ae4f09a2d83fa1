"""Reading a zip that may be hostile: everything is checked before anything is kept.

Also a hand-over that came well sealed is read this way: the seal says who made it, not that their computer was sound.
"""

from __future__ import annotations

import io
import re
import stat
import zipfile
import zlib
from collections.abc import Collection
from dataclasses import dataclass

from musclewood.assets.saying import say
from musclewood.profiles.errors import ArchiveError

_ASK = "mend.ask-and-do-not-open"
_PLAIN_METHODS = (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED)
_SAFE_PART = re.compile(r"[A-Za-z0-9_][A-Za-z0-9_. +-]{0,119}")
_DEVICE = re.compile(r"(con|prn|aux|nul|com[0-9]|lpt[0-9])(\.|$)", re.IGNORECASE)  # reserved names on Windows
_ENCRYPTED = 0x1


@dataclass(frozen=True)
class Limits:
    """How much a hand-over may unfold to; our choice. Measured: two years of daily sessions unfold to 8.6 MB."""

    files: int = 1000
    total_bytes: int = 64 << 20
    # Measured with deflate: tables of varied numbers shrink 4 times, of identical rows 90 times; a bomb 1000 times.
    # Small files may shrink as they like, since their size cannot hurt.
    ratio: int = 250
    ratio_free_bytes: int = 1 << 20


def read_archive(
    content: bytes, limits: Limits | None = None, *, only: Collection[str] | None = None
) -> dict[str, bytes]:
    """Every file of a zip by its name, or those of `only`; all are checked. Raises
    ArchiveError, having kept nothing."""
    limits = limits or Limits()
    try:
        with zipfile.ZipFile(io.BytesIO(content)) as archive:
            entries = archive.infolist()
            _check_entries(entries, limits)
            wanted = [entry for entry in entries if only is None or entry.filename in only]
            return _unfolded(archive, wanted, limits)
    except (zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError, RuntimeError, ValueError, OverflowError):
        raise ArchiveError(say("wrong.hand-over-zip-damaged"), say(_ASK)) from None


def _check_entries(entries: list[zipfile.ZipInfo], limits: Limits) -> None:
    if len(entries) > limits.files:
        raise ArchiveError(say("wrong.zip-files-allowed", count=len(entries), files=limits.files), say(_ASK))
    seen: set[str] = set()
    for entry in entries:
        name = entry.orig_filename
        if not _is_safe(name):
            raise ArchiveError(say("wrong.zip-file-would-land", name=name[:60]), say(_ASK))
        if name.lower() in seen:
            raise ArchiveError(say("wrong.zip-two-files-name", name=name[:60]), say(_ASK))
        seen.add(name.lower())
        kind = stat.S_IFMT(entry.external_attr >> 16)
        if entry.is_dir() or kind not in (0, stat.S_IFREG):
            raise ArchiveError(say("wrong.zip-something-no-plain", name=name[:60]), say(_ASK))
        if entry.flag_bits & _ENCRYPTED or entry.compress_type not in _PLAIN_METHODS:
            raise ArchiveError(say("wrong.zip-file-packed-unusual", name=name[:60]), say(_ASK))
        _check_size(entry.file_size, entry.compress_size, limits)
    _check_total(sum(entry.file_size for entry in entries), limits)


def _is_safe(name: str) -> bool:
    """Plain names in plain folders: no way up, no root, no drive, no backslash, no device, no trailing dot or space."""
    parts = name.split("/")
    return len(parts) <= 4 and all(
        _SAFE_PART.fullmatch(part) and not _DEVICE.match(part) and part == part.rstrip(". ") for part in parts
    )


def _unfolded(archive: zipfile.ZipFile, entries: list[zipfile.ZipInfo], limits: Limits) -> dict[str, bytes]:
    """The contents. What an entry says about its size is not believed: reading stops at the limit."""
    files: dict[str, bytes] = {}
    left = limits.total_bytes
    for entry in entries:
        with archive.open(entry) as file:
            content = file.read(min(left, entry.file_size) + 1)
        left -= len(content)
        if left < 0 or len(content) > entry.file_size:
            _check_total(limits.total_bytes + 1, limits)
        files[entry.filename] = content
    return files


def _check_size(size: int, packed: int, limits: Limits) -> None:
    if size > limits.ratio_free_bytes and size > limits.ratio * max(1, packed):
        raise ArchiveError(say("wrong.zip-unfolds-times-size", ratio=limits.ratio), say(_ASK))


def _check_total(size: int, limits: Limits) -> None:
    if size > limits.total_bytes:
        raise ArchiveError(say("wrong.zip-unfolds-mb", value=limits.total_bytes >> 20), say(_ASK))
