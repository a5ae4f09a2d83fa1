"""T8, T9: what lies about after a whole round: no passphrase, no secret key, no plain result outside the clinic's own
folder."""

from __future__ import annotations

import base64
import contextlib
import zlib
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from musclewood.profiles.errors import PassphraseError
from musclewood.profiles.exchange.folder import collect_handovers, fetch_prescription, issue, send_handovers
from musclewood.profiles.exchange.places import LocalPlace
from musclewood.profiles.trust.key_file import LOWEST, change_passphrase, create_key_file, open_key_file
from musclewood.profiles.trust.signature import sign

PASSPHRASE = "four quiet hornbeam mornings"
NEXT_PASSPHRASE = "five loud beaver evenings"
RESULT = b"17,thigh-hold,counted,5.61,35.5"


def forms(secret: bytes) -> Iterator[bytes]:
    """A secret as it might be written down."""
    yield from (secret, secret.hex().encode(), secret.hex().upper().encode())
    # A base64 text depends on where the secret begins in what was encoded; the inner letters of each case are searched.
    for shift in range(3):
        yield base64.b64encode(bytes(shift) + secret)[4 : -4 or None]


def unfolded(content: bytes) -> bytes:
    """The content and whatever deflated streams in it can be inflated, so that a plain zip cannot hide a result."""
    found = [content]
    start = content.find(b"PK\x03\x04")
    while start >= 0:
        begin = start + 30 + int.from_bytes(content[start + 26 : start + 28], "little")
        inflate = zlib.decompressobj(-15)
        with contextlib.suppress(zlib.error):
            found.append(inflate.decompress(content[begin:]))
        start = content.find(b"PK\x03\x04", start + 4)
    return b"\n".join(found)


def test_a_whole_round_leaves_no_secret_and_no_plain_result(
    tmp_path: Path, computer: Any, order: Callable[..., bytes], package: Callable[..., bytes], today: Any
) -> None:
    clinic, stick = tmp_path / "clinic", tmp_path / "stick"
    stick.mkdir()
    place = LocalPlace(stick)
    keys = create_key_file(clinic / "clinic.key", PASSPHRASE, LOWEST)
    with pytest.raises(PassphraseError):
        open_key_file(clinic / "clinic.key", "not the right passphrase")
    change_passphrase(clinic / "clinic.key", PASSPHRASE, NEXT_PASSPHRASE, LOWEST)
    issue(place, sign(order(), keys))
    fetch_prescription(place, "HB-0042", computer.prescription, computer.pins, today=today, confirm=lambda _: True)
    computer.put_out(package())
    send_handovers(computer.outbox, place)
    collected = collect_handovers(
        place, clinic / "received", clinic / "ledger.json", keys, today=today, confirm=lambda _: True
    )
    assert len(collected.received) == 1

    secrets = [PASSPHRASE.encode(), NEXT_PASSPHRASE.encode(), keys.root]
    secrets += [keys._derived(b"mw-signing"), keys._derived(b"mw-sealing")]
    sender_seed = bytes.fromhex(computer.senders.load("HB-0042").seed)
    everywhere = [path for path in tmp_path.rglob("*") if path.is_file()]
    assert len(everywhere) >= 8
    for path in everywhere:
        content = unfolded(path.read_bytes())
        for secret in secrets:
            assert not any(form in content for form in forms(secret)), path
        if path.suffix != ".zip":
            assert RESULT not in content, path
        if not path.name.endswith(".sender.json"):
            assert not any(form in content for form in forms(sender_seed)), path
    # The search is able to find what it looks for: the clinic's own opened zip does hold the result.
    assert RESULT in unfolded(collected.received[0][1].read_bytes())
    assert any(form in base64.b64encode(b"x" + keys.root + b"y") for form in forms(keys.root))


def test_a_sealed_file_does_not_name_the_patient(computer: Any, order: Any, package: Any, hornbeam: Any) -> None:
    computer.bring(sign(order(), hornbeam))
    assert b"HB-0042" not in computer.hand_over(package())
