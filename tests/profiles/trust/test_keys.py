"""T3, T9: the clinic's keys and the file that locks them."""

from __future__ import annotations

import base64
import os
import random
import stat
import tomllib
from pathlib import Path

import pytest
from musclewood.profiles.disk import files
from musclewood.profiles.errors import KeyFileError, PassphraseError, StorageError
from musclewood.profiles.trust.key_file import (
    LOWEST,
    MODERATE,
    Hardness,
    change_passphrase,
    create_key_file,
    lock,
    open_key_file,
    public_identity,
    unlock,
)
from musclewood.profiles.trust.keys import ClinicKeys

PASSPHRASE = "four quiet hornbeam mornings"


@pytest.fixture
def key_path(tmp_path: Path) -> Path:
    return tmp_path / "clinic.key"


def test_signing_and_sealing_keys_are_different_and_follow_from_the_root(hornbeam: ClinicKeys) -> None:
    again = ClinicKeys(hornbeam.root)
    assert again.identity == hornbeam.identity
    assert len({hornbeam.root, hornbeam.identity.signing, hornbeam.identity.sealing}) == 3
    assert ClinicKeys.new().identity != ClinicKeys.new().identity


def test_what_is_sealed_opens_only_with_the_right_key(hornbeam: ClinicKeys, stranger: ClinicKeys) -> None:
    sealed = hornbeam.identity.seal(b"results")
    assert b"results" not in sealed
    assert hornbeam.unseal(sealed) == b"results"
    assert stranger.unseal(sealed) is None
    assert hornbeam.unseal(b"") is None


def test_a_key_that_would_give_the_seal_away_is_refused(hornbeam: ClinicKeys) -> None:
    weak = type(hornbeam.identity)(hornbeam.identity.signing, bytes(32))
    with pytest.raises(ValueError, match="sealing key"):
        weak.seal(b"results")


def test_keys_never_show_their_root(hornbeam: ClinicKeys) -> None:
    shown = repr(hornbeam) + str(hornbeam) + f"{[hornbeam]}"
    assert hornbeam.root.hex() not in shown and repr(hornbeam.root) not in shown


def test_a_key_file_gives_the_keys_back(key_path: Path) -> None:
    keys = create_key_file(key_path, PASSPHRASE, LOWEST)
    assert open_key_file(key_path, PASSPHRASE) == keys
    assert public_identity(key_path.read_text()) == keys.identity


def test_the_file_says_what_it_is_and_holds_neither_root_nor_passphrase(key_path: Path) -> None:
    keys = create_key_file(key_path, PASSPHRASE, LOWEST)
    content = key_path.read_bytes()
    assert tomllib.loads(content.decode())["format"] == "musclewood-clinic-key/1"
    derived = keys._derived(b"mw-signing"), keys._derived(b"mw-sealing")
    for secret in (keys.root, *derived, PASSPHRASE.encode()):
        for form in (secret, secret.hex().encode(), base64.b64encode(secret)):
            assert form not in content


@pytest.mark.skipif(os.name == "nt", reason="file modes are a matter of POSIX systems")
def test_only_the_owner_may_read_the_file_even_while_it_is_written(
    key_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    modes: list[int] = []

    def note(descriptor: int) -> None:
        mode = os.fstat(descriptor).st_mode
        if stat.S_ISREG(mode):
            modes.append(stat.S_IMODE(mode))

    monkeypatch.setattr(files.os, "fsync", note)
    create_key_file(key_path, PASSPHRASE, LOWEST)
    assert modes == [0o600]
    assert stat.S_IMODE(key_path.stat().st_mode) == 0o600


@pytest.mark.parametrize("wrong", ["four quiet hornbeam morning", "Four quiet hornbeam mornings", "", "x" * 10_000])
def test_a_wrong_passphrase_is_said_in_one_line(key_path: Path, wrong: str) -> None:
    create_key_file(key_path, PASSPHRASE, LOWEST)
    with pytest.raises(PassphraseError, match="does not open") as raised:
        open_key_file(key_path, wrong)
    assert "\n" not in str(raised.value)
    assert not wrong or wrong not in str(raised.value)


def test_the_same_letters_from_another_keyboard_are_the_same_passphrase() -> None:
    keys = ClinicKeys.new()
    assert unlock(lock(keys, "cafe\u0301 im Hainbuchenwald", LOWEST), "caf\u00e9 im Hainbuchenwald ") == keys


def test_a_short_passphrase_locks_nothing(key_path: Path) -> None:
    with pytest.raises(PassphraseError, match="too short"):
        create_key_file(key_path, "hornbeam   ", LOWEST)
    assert not key_path.exists()


def test_a_key_is_never_overwritten(key_path: Path) -> None:
    create_key_file(key_path, PASSPHRASE, LOWEST)
    before = key_path.read_bytes()
    with pytest.raises(KeyFileError, match="already is a file"):
        create_key_file(key_path, PASSPHRASE, LOWEST)
    assert key_path.read_bytes() == before


def test_the_passphrase_changes_and_the_keys_stay(key_path: Path) -> None:
    keys = create_key_file(key_path, PASSPHRASE, LOWEST)
    change_passphrase(key_path, PASSPHRASE, "another four long words", LOWEST)
    assert open_key_file(key_path, "another four long words") == keys
    with pytest.raises(PassphraseError):
        open_key_file(key_path, PASSPHRASE)


def test_a_full_disk_leaves_the_old_key_file(key_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    keys = create_key_file(key_path, PASSPHRASE, LOWEST)

    def full(_: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(files.os, "fsync", full)
    with pytest.raises(StorageError, match="No space left"):
        change_passphrase(key_path, PASSPHRASE, "another four long words", LOWEST)
    assert open_key_file(key_path, PASSPHRASE) == keys
    assert [path.name for path in key_path.parent.iterdir() if path.is_file()] == [key_path.name]


@pytest.mark.parametrize("content", [b"", b"\xff\xfe", b"format = 1", b"[lock]\n", b"a = " + b"[" * 5000])
def test_a_file_that_is_no_key_file_is_refused(key_path: Path, content: bytes) -> None:
    key_path.write_bytes(content)
    with pytest.raises(KeyFileError):
        open_key_file(key_path, PASSPHRASE)


def test_a_missing_or_huge_file_is_refused(key_path: Path) -> None:
    with pytest.raises(StorageError, match="no file"):
        open_key_file(key_path, PASSPHRASE)
    key_path.write_bytes(b"#" * 20_000)
    with pytest.raises(StorageError, match="more than"):
        open_key_file(key_path, PASSPHRASE)


def test_a_tampered_file_cannot_ask_for_all_memory_or_time() -> None:
    text = lock(ClinicKeys.new(), PASSPHRASE, LOWEST)
    for old, new in (("memory_bytes = 8192", f"memory_bytes = {1 << 40}"), ("passes = 1", "passes = 4000000000")):
        assert old in text
        with pytest.raises(KeyFileError):
            unlock(text.replace(old, new), PASSPHRASE)


def test_another_clinics_public_keys_in_the_file_are_noticed(stranger: ClinicKeys) -> None:
    keys = ClinicKeys.new()
    text = lock(keys, PASSPHRASE, LOWEST).replace(keys.identity.joined.hex(), stranger.identity.joined.hex())
    with pytest.raises(KeyFileError, match="not the ones it locks"):
        unlock(text, PASSPHRASE)


def test_a_flipped_bit_never_gives_another_key(full: bool) -> None:
    keys = ClinicKeys.new()
    content = lock(keys, PASSPHRASE, LOWEST).encode()
    comment = content.index(b"format =")
    chance = random.Random(5)
    for _ in range(10_000 if full else 300):
        place = chance.randrange(comment * 8, len(content) * 8)
        flipped = bytearray(content)
        flipped[place // 8] ^= 1 << place % 8
        try:
            unlocked = unlock(flipped.decode(), PASSPHRASE)
        except (KeyFileError, PassphraseError, UnicodeDecodeError):
            continue
        # Some flips change nothing that is read, such as a space that becomes another kind of blank.
        assert unlocked == keys


def test_what_the_desk_uses_is_hard_to_guess() -> None:
    # RFC 9106, section 4: its second recommended option has 3 passes over 64 MiB.
    assert Hardness(3, 256 << 20) == MODERATE
    text = lock(ClinicKeys.new(), PASSPHRASE)
    assert tomllib.loads(text)["lock"]["memory_bytes"] == MODERATE.memory_bytes
