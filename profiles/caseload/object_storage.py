"""A caseload in object storage, where a network of clinics can read it: any address that fsspec knows."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from musclewood.assets.saying import say
from musclewood.profiles.caseload.schema import MARK
from musclewood.profiles.errors import HandoverError

DESCRIPTOR, UNFINISHED = "datapackage.json", "unfinished.txt"


def put_caseload(folder: Path, address: str) -> None:
    """Copy a gathered caseload to an address such as s3://bucket/folder, which holds nothing or an earlier one.

    While it is copied, a note beside it says so, so that nobody takes half a caseload for a whole one. Raises
    HandoverError.
    """
    system, root = _opened(address)
    try:
        _refuse_foreign(system, root, address)
        before = set(system.find(root))
        system.pipe_file(f"{root}/{UNFINISHED}", f"{MARK}: this is being written".encode())
        files = sorted(path.relative_to(folder).as_posix() for path in folder.rglob("*") if path.is_file())
        for name in sorted(files, key=lambda name: name == DESCRIPTOR):
            system.pipe_file(f"{root}/{name}", (folder / name).read_bytes())
        for gone in (before - {f"{root}/{name}" for name in files}) | {f"{root}/{UNFINISHED}"}:
            system.rm_file(gone)
    except (OSError, ValueError) as error:
        reason = " ".join(str(error).split())[:160]
        raise HandoverError(
            say("wrong.cannot-written", address=address, reason=reason), say("mend.check-address-keys")
        ) from None


def _opened(address: str) -> tuple[Any, str]:
    try:
        from fsspec.core import url_to_fs

        system, root = url_to_fs(address, use_listings_cache=False)
    except ImportError:
        raise HandoverError(say("wrong.address-needs-further-package"), say("mend.install-musclewood-fsspec")) from None
    except (OSError, ValueError) as error:
        raise HandoverError(
            say("wrong.cannot-opened", address=address, error=error), say("mend.check-address")
        ) from None
    return system, str(root).rstrip("/")


def _refuse_foreign(system: Any, root: str, address: str) -> None:
    there = set(system.find(root))
    marks = there & {f"{root}/{DESCRIPTOR}", f"{root}/{UNFINISHED}"}
    if there and not any(MARK.encode() in system.cat_file(mark) for mark in marks):
        raise HandoverError(say("wrong.holds-something-else", address=address), say("mend.name-new-folder-into"))
