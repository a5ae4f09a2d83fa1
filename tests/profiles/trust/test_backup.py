"""T7, T9: a backup of a desk and of a home: everything comes back elsewhere, and whatever is wrong with it shows."""

from __future__ import annotations

import random
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from musclewood.profiles.clinic.clinic import Clinic
from musclewood.profiles.clinic.settings import DeskSettings
from musclewood.profiles.errors import BackupError, PassphraseError, StorageError
from musclewood.profiles.home.homes import Home
from musclewood.profiles.journal.journal import Journal
from musclewood.profiles.trust.backup import make_backup, restore_backup, verify_backup
from musclewood.profiles.trust.key_file import LOWEST

PASSPHRASE = "twig lantern kettle plank"
TODAY = date(2026, 11, 25)
KNEE = "weak-thigh-after-knee-operation"


@pytest.fixture
def desk(tmp_path: Path) -> Clinic:
    (tmp_path / "exchange").mkdir()
    clinic = Clinic(tmp_path / "desk")
    clinic.save_settings(DeskSettings(clinic="Hornbeam practice", exchange=str(tmp_path / "exchange")))
    keys = clinic.make_key(PASSPHRASE, LOWEST)
    for number in range(5):
        clinic.issue(clinic.draft_from_template(KNEE, f"HB-{300 + number}", TODAY).set("muscles.0.side", "left"), keys)
    (clinic.root / "handovers").mkdir()
    (clinic.root / "handovers" / "HB-300-0a1b2c3d-000001.zip").write_bytes(random.Random(1).randbytes(3_500_000))
    return clinic


def contents(root: Path, *without: str) -> dict[str, bytes]:
    files = (path for path in root.rglob("*") if path.is_file() and not path.name.endswith((".lock", *without)))
    return {path.relative_to(root).as_posix(): path.read_bytes() for path in files}


def test_a_desk_comes_back_whole_on_another_computer(desk: Clinic, tmp_path: Path) -> None:
    backup, elsewhere = tmp_path / "stick" / "desk.backup", tmp_path / "new" / "desk"
    held = make_backup(desk.root, backup, "desk", PASSPHRASE, LOWEST)
    assert verify_backup(backup, PASSPHRASE) == held
    assert b"HB-300" not in backup.read_bytes() and backup.stat().st_mode & 0o077 == 0
    assert restore_backup(backup, elsewhere, "desk", PASSPHRASE) == held
    assert contents(elsewhere) == contents(desk.root)
    again = Clinic(elsewhere)
    assert again.unlock(PASSPHRASE).identity == desk.unlock(PASSPHRASE).identity
    assert again.orders("HB-304") == desk.orders("HB-304")
    with pytest.raises(BackupError, match="there is something"):
        restore_backup(backup, elsewhere, "desk", PASSPHRASE)
    with pytest.raises(BackupError, match="not of a home"):
        restore_backup(backup, tmp_path / "third", "home", PASSPHRASE)
    assert not (tmp_path / "third").exists() and not list(tmp_path.rglob("*.part"))


def test_a_home_with_two_years_comes_back_and_sends_as_a_new_computer(tmp_path: Path, play: Any) -> None:
    home = Home(tmp_path / "home")
    home.create()
    with Journal.open(home.journal_path("HB-0042")) as journal:
        for day in range(0, 730, 14):
            play(journal, datetime(2024, 11, 25, 9, tzinfo=UTC) + timedelta(days=day))
        before = journal.last_hash()
    (home.trust / "HB-0042.sender.json").write_text("{}")
    make_backup(home.root, tmp_path / "home.backup", "home", PASSPHRASE, LOWEST)
    restored = Home(tmp_path / "restored")
    restore_backup(tmp_path / "home.backup", restored.root, "home", PASSPHRASE)
    with Journal.open(restored.journal_path("HB-0042")) as journal:
        assert journal.last_hash() == before and not list(journal.verify()) and len(list(journal.sessions())) == 53
    assert not list(restored.root.rglob("*.sender.json"))


def test_every_change_of_a_backup_shows(desk: Clinic, tmp_path: Path) -> None:
    backup, changed = tmp_path / "desk.backup", tmp_path / "changed"
    make_backup(desk.root, backup, "desk", PASSPHRASE, LOWEST)
    sound, chance = backup.read_bytes(), random.Random(2)
    start = sound.index(b"\n") + 25
    chunk = (1 << 20) + 17
    damaged = [sound[: len(sound) // 2], sound[:start], sound[:20], b"", sound + b"x", sound[: start + chunk]]
    damaged.append(sound[: start + chunk] + sound[start + 2 * chunk :])  # a chunk is missing
    damaged.append(sound[:start] + sound[start + chunk : start + 2 * chunk] + sound[start : start + chunk])
    damaged.append(sound.replace(b"desk passes", b"home passes", 1))
    for _ in range(20):
        at = chance.randrange(len(sound))
        damaged.append(sound[:at] + bytes([sound[at] ^ 1 << chance.randrange(8)]) + sound[at + 1 :])
    for content in damaged:
        changed.write_bytes(content)
        with pytest.raises(BackupError):
            restore_backup(changed, tmp_path / "restored", "desk", PASSPHRASE)
        assert not (tmp_path / "restored").exists()
    with pytest.raises(BackupError, match="passphrase"):
        verify_backup(backup, "twig lantern kettle blank")


def test_what_cannot_be_copied_or_kept_is_said(desk: Clinic, tmp_path: Path) -> None:
    with pytest.raises(PassphraseError):
        make_backup(desk.root, tmp_path / "b", "desk", "aaaaaaaaaaaaaa", LOWEST)
    with pytest.raises(BackupError, match="nothing in"):
        make_backup(tmp_path / "nowhere", tmp_path / "b", "desk", PASSPHRASE, LOWEST)
    with pytest.raises(StorageError):
        make_backup(desk.root, desk.key_path / "b", "desk", PASSPHRASE, LOWEST)
    with pytest.raises(StorageError):
        verify_backup(tmp_path / "missing", PASSPHRASE)
