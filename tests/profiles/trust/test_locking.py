"""Two programs on one file: each waits for the other, and nothing that one of them wrote is lost."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from datetime import date
from pathlib import Path
from typing import Any

import pytest
from musclewood.profiles.disk.locking import locked
from musclewood.profiles.errors import StorageError
from musclewood.profiles.exchange.received import load_ledger
from musclewood.profiles.exchange.reception import receive_into
from musclewood.profiles.trust.keys import ClinicKeys
from musclewood.profiles.trust.senders import SenderFolder

ADVANCE = """
import sys
from pathlib import Path
from musclewood.profiles.exchange.reception import receive_into
from musclewood.profiles.trust.senders import SenderFolder
for _ in range(25):
    print(SenderFolder(Path(sys.argv[1])).advance("HB-0042").sequence)
"""


def two_at_once(script: str, *arguments: list[str]) -> list[str]:
    """Run a script twice at the same time, each with its own arguments."""
    running = [
        subprocess.Popen(
            [sys.executable, "-c", script, *own], stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
        )
        for own in arguments
    ]
    told = [process.communicate(timeout=60) for process in running]
    assert all(process.returncode == 0 for process in running), told
    return [out for out, _ in told]


def test_a_number_is_never_used_twice(tmp_path: Path) -> None:
    SenderFolder(tmp_path).load("HB-0042")
    told = two_at_once(ADVANCE, [str(tmp_path)], [str(tmp_path)])
    numbers = [int(line) for out in told for line in out.split()]
    assert sorted(numbers) == list(range(1, 51))


def test_two_desks_lose_no_receipt(
    paired: Any, package: Callable[..., bytes], hornbeam: ClinicKeys, tmp_path: Path, today: date
) -> None:
    paths = [paired.put_out(package(rows=number)) for number in range(1, 13)]

    def receive_all(own: list[Path]) -> None:
        for path in own:
            receive_into(
                tmp_path / "in",
                tmp_path / "ledger.json",
                path.read_bytes(),
                hornbeam,
                today=today,
                confirm=lambda _: True,
            )

    with ThreadPoolExecutor(2) as desks:
        for done in [desks.submit(receive_all, paths[::2]), desks.submit(receive_all, paths[1::2])]:
            done.result()
    ledger = load_ledger(tmp_path / "ledger.json")
    assert sorted(receipt.sequence for receipt in ledger.receipts) == list(range(1, 13))


def test_a_program_that_does_not_let_go_is_said(tmp_path: Path) -> None:
    path = tmp_path / "ledger.json"
    with locked(path), pytest.raises(StorageError, match="in use by another program"), locked(path, patience_s=0.05):
        pass
    with locked(path, patience_s=0.05):
        pass


def test_a_folder_that_cannot_be_locked_is_said(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    with pytest.raises(StorageError, match="cannot be locked"), locked(tmp_path / "file" / "ledger.json"):
        pass
