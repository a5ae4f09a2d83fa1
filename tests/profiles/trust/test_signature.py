"""T2: the signature at the end of a prescription file."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Callable

import pytest
from musclewood.profiles.errors import DamagedFileError, IncompleteFileError, PrescriptionError
from musclewood.profiles.orders.prescription import parse
from musclewood.profiles.trust import signature
from musclewood.profiles.trust.keys import ClinicKeys
from musclewood.profiles.trust.signature import LARGEST_BYTES, looks_complete, sign, verify


def test_a_signed_file_stays_readable_toml(order: Callable[..., bytes], signed: Callable[..., bytes]) -> None:
    content = signed()
    assert tomllib.loads(content.decode()) == tomllib.loads(order().decode())
    assert parse(content.decode()) == parse(order().decode())


def test_a_signed_file_tells_its_signer_and_its_exact_bytes(order: Callable[..., bytes], hornbeam: ClinicKeys) -> None:
    verified = verify(sign(order(), hornbeam))
    assert verified.body == order()
    assert verified.clinic == hornbeam.identity


def test_comments_and_spaces_are_signed_too(hornbeam: ClinicKeys) -> None:
    content = sign(b"a = 1 # as written\n", hornbeam)
    for old, new in ((b"as written", b"as changed"), (b"a = 1", b"a =  1"), (b"a = 1", b"a = 1\r")):
        with pytest.raises(DamagedFileError):
            verify(content.replace(old, new))


def test_an_unsigned_file_has_no_signer(order: Callable[..., bytes]) -> None:
    assert verify(order()).clinic is None
    assert verify(b"").clinic is None


def test_signing_again_replaces_the_signature(
    order: Callable[..., bytes], hornbeam: ClinicKeys, stranger: ClinicKeys
) -> None:
    twice = sign(sign(order(), stranger), hornbeam)
    assert twice == sign(order(), hornbeam)


def test_a_last_line_without_its_end_gets_one(hornbeam: ClinicKeys) -> None:
    assert verify(sign(b"a = 1", hornbeam)).body == b"a = 1\n"


@pytest.mark.parametrize("line", [0, 1, 2])
def test_a_signature_that_lost_a_line_is_no_unsigned_file(signed: Callable[..., bytes], line: int) -> None:
    lines = signed().splitlines(keepends=True)
    del lines[len(lines) - 3 + line]
    for text in (lines, lines[1:]):  # an earlier version signed without a first line
        with pytest.raises(DamagedFileError, match="not whole"):
            verify(b"".join(text))


def test_no_part_of_a_signed_file_is_taken_for_an_unsigned_order(signed: Callable[..., bytes]) -> None:
    """Wherever a copy stopped; the first line alone, cut in the middle, orders nothing."""
    whole = signed()
    assert int(re.search(rb"([0-9]{7}) bytes in all", whole)[1]) == len(whole)  # type: ignore[index]
    for end in range(len(whole)):
        with pytest.raises((IncompleteFileError, DamagedFileError, PrescriptionError)):
            parse(verify(whole[:end]).body.decode())
    behind = whole[whole.index(b"\n") + 1 :]
    with pytest.raises(DamagedFileError):
        verify(behind)


def test_files_that_an_earlier_version_signed_keep_working(order: Callable[..., bytes], hornbeam: ClinicKeys) -> None:
    body = order()
    lines = (
        f"# musclewood-signature/1 over {len(body)} bytes\n# clinic {hornbeam.identity.joined.hex()}\n"
        f"# signature {hornbeam.sign(signature._message(body, hornbeam.identity)).hex()}\n"
    )
    verified = verify(body + lines.encode())
    assert verified == verify(sign(body, hornbeam))  # and the same order has the same digest


def test_text_after_the_signature_is_not_let_through(signed: Callable[..., bytes]) -> None:
    for extra in (b"\n", b" ", b"[stop]\npain_stop = 10\n"):
        with pytest.raises(DamagedFileError):
            verify(signed() + extra)


def test_a_signature_does_not_fit_another_file(signed: Callable[..., bytes]) -> None:
    one, other = signed(revision=1), signed(revision=2)
    block = one[one.index(b"# musclewood-signature") :]
    with pytest.raises(DamagedFileError, match="changed after"):
        verify(other[: other.index(b"# musclewood-signature")] + block)


def test_a_stranger_cannot_put_the_clinics_key_over_their_own_signature(
    signed: Callable[..., bytes], hornbeam: ClinicKeys, stranger: ClinicKeys
) -> None:
    forged = signed(by=stranger).replace(
        stranger.identity.joined.hex().encode(), hornbeam.identity.joined.hex().encode()
    )
    with pytest.raises(DamagedFileError):
        verify(forged)


def test_a_stranger_cannot_put_their_sealing_key_under_the_clinics_signature(
    signed: Callable[..., bytes], hornbeam: ClinicKeys, stranger: ClinicKeys
) -> None:
    swapped = signed().replace(hornbeam.identity.sealing.hex().encode(), stranger.identity.sealing.hex().encode())
    with pytest.raises(DamagedFileError):
        verify(swapped)


def test_only_a_whole_signed_file_looks_complete(order: Callable[..., bytes], signed: Callable[..., bytes]) -> None:
    content = signed()
    assert looks_complete(content)
    assert not looks_complete(order())
    assert not any(looks_complete(content[:length]) for length in range(0, len(content), 7))
    assert not looks_complete(content[1:])


def test_no_truncated_signed_file_verifies_as_signed(signed: Callable[..., bytes]) -> None:
    content = signed()
    for length in range(len(content)):
        try:
            assert verify(content[:length]).clinic is None
        except (DamagedFileError, IncompleteFileError):
            continue


def test_what_cannot_be_signed_is_said(hornbeam: ClinicKeys) -> None:
    with pytest.raises(ValueError, match="parts of a signature"):
        sign(b"# musclewood-signature/1 over 3 bytes\na = 1\n", hornbeam)
    with pytest.raises(ValueError, match="too large"):
        sign(b"#" * LARGEST_BYTES, hornbeam)
