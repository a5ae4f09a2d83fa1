"""One flipped bit anywhere: refused, in one line, with nothing changed. 300 places by default,
10,000 in the long form."""

from __future__ import annotations

import random
from collections.abc import Callable, Iterator
from datetime import date
from pathlib import Path
from typing import Any

import pytest
from musclewood.profiles.errors import AnotherKeyError, DamagedFileError, IncompleteFileError, TrustError
from musclewood.profiles.exchange.folder import collect_handovers
from musclewood.profiles.exchange.places import LocalPlace
from musclewood.profiles.exchange.reception import receive_into
from musclewood.profiles.trust.keys import ClinicKeys

Bytes = Callable[..., bytes]
Look = Callable[[Path], dict[str, tuple[bytes, int]]]


def flips(content: bytes, full: bool, seed: int) -> Iterator[bytes]:
    """Random single-bit flips; a fifth of them in the first and last 400 bytes, where the labels are."""
    chance = random.Random(seed)
    bits = len(content) * 8
    for number in range(10_000 if full else 300):
        edge = chance.randrange(3200)
        place = (edge if edge % 2 else bits - 1 - edge) if number % 5 == 0 else chance.randrange(bits)
        flipped = bytearray(content)
        flipped[place // 8] ^= 1 << place % 8
        yield bytes(flipped)


@pytest.mark.full_size
def test_no_flipped_hand_over_is_received(
    paired: Any, package: Bytes, hornbeam: ClinicKeys, tmp_path: Path, full: bool
) -> None:
    ledger, today = tmp_path / "received.json", date(2026, 7, 31)
    for flipped in flips(paired.hand_over(package(rows=4000)), full, 1):
        with pytest.raises((DamagedFileError, AnotherKeyError, IncompleteFileError)) as raised:
            receive_into(tmp_path, ledger, flipped, hornbeam, today=today, confirm=lambda _: True)
        assert "\n" not in str(raised.value)
    assert not ledger.exists() and not list(tmp_path.glob("*.zip"))


@pytest.mark.full_size
def test_no_flipped_prescription_is_let_in(paired: Any, signed: Bytes, look: Look, full: bool) -> None:
    before = look(paired.root)
    for flipped in flips(signed(revision=2), full, 2):
        with pytest.raises(TrustError) as raised:
            paired.bring(flipped, new_clinic=True)
        assert "\n" not in str(raised.value)
    assert look(paired.root) == before


@pytest.mark.full_size
def test_no_flipped_prescription_passes_for_an_unsigned_one(computer: Any, signed: Bytes, full: bool) -> None:
    for flipped in flips(signed(), full, 3):
        with pytest.raises(DamagedFileError):
            computer.bring(flipped)
    assert not computer.root.exists()


def test_flipped_files_in_the_exchange_leave_the_clinic_as_it_was(
    paired: Any, package: Bytes, hornbeam: ClinicKeys, tmp_path: Path, today: Any
) -> None:
    folder = tmp_path / "stick" / "to-clinic"
    folder.mkdir(parents=True)
    for number, flipped in enumerate(flips(paired.hand_over(package()), False, 4)):
        (folder / f"{number}.sealed").write_bytes(flipped)
    clinic = tmp_path / "clinic"
    place = LocalPlace(tmp_path / "stick")
    collected = collect_handovers(place, clinic, clinic / "ledger.json", hornbeam, today=today, confirm=lambda _: True)
    assert collected.received == () and len(collected.refused) > 200
    assert not clinic.exists()
