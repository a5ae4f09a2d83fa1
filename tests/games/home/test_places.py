"""Letters and exchange folders are found where people put them, and nothing else is offered."""

from __future__ import annotations

import os
from pathlib import Path

import pytest
from musclewood.games.home.places import exchange_besides, exchange_on_a_stick, look_into, sticks, usual_places
from musclewood.profiles.exchange.folder import issue
from musclewood.profiles.exchange.places import LocalPlace
from musclewood.profiles.orders.prescription import dump
from musclewood.profiles.orders.templates import template
from musclewood.profiles.trust.keys import ClinicKeys
from musclewood.profiles.trust.signature import sign


@pytest.fixture
def media(tmp_path: Path) -> Path:
    """As udisks has it (its manual page, udisks(8)): a folder for the user, and in it one for
    each stick by its label."""
    (tmp_path / "run" / "ada" / "HOLIDAYS").mkdir(parents=True)
    stick = tmp_path / "run" / "ada" / "CLINIC" / "exchange"
    stick.mkdir(parents=True)
    order = template("weak-thigh-after-knee-operation")
    issue(LocalPlace(stick), sign(dump(order).encode(), ClinicKeys(bytes(range(32)))))
    return tmp_path / "run"


def test_a_stick_with_an_exchange_folder_is_noticed(media: Path, tmp_path: Path) -> None:
    assert [stick.name for stick in sticks([str(media)])] == ["CLINIC", "HOLIDAYS"]
    assert exchange_on_a_stick([str(media)]) == media / "ada" / "CLINIC" / "exchange"
    assert exchange_on_a_stick([str(tmp_path / "nothing")]) is None
    exchange = media / "ada" / "CLINIC" / "exchange"
    assert exchange_besides("https://clinic.example/post", [str(media)]) == [exchange]
    assert exchange_besides(str(exchange), [str(media)]) == []  # it is looked into already
    first = usual_places(tmp_path, [str(media)])[0]
    assert (first.kind, first.path) == ("exchange", media / "ada" / "CLINIC" / "exchange")


def test_letters_come_newest_first_and_hidden_files_not_at_all(tmp_path: Path) -> None:
    for age, name in enumerate(("new.toml", "old.prescription.toml")):
        path = tmp_path / name
        path.write_text("x")
        os.utime(path, (1e9 - age, 1e9 - age))
    (tmp_path / ".hidden.toml").write_text("x")
    (tmp_path / "picture.png").write_text("x")
    (tmp_path / "huge.toml").write_bytes(b"x" * 1_000_001)
    (tmp_path / "Garden").mkdir()
    (tmp_path / "gone").symlink_to(tmp_path / "nowhere")
    assert [(entry.kind, entry.name) for entry in look_into(tmp_path)] == [
        ("letter", "new.toml"), ("letter", "old.prescription.toml"), ("folder", "Garden"),
    ]  # fmt: skip
    assert look_into(tmp_path / "nowhere") == []


def test_the_desktops_own_names_for_folders_count(tmp_path: Path) -> None:
    """user-dirs.dirs, as xdg-user-dirs writes it (freedesktop.org)."""
    (tmp_path / ".config").mkdir()
    (tmp_path / "Heruntergeladen").mkdir()
    (tmp_path / ".config" / "user-dirs.dirs").write_text('XDG_DOWNLOAD_DIR="$HOME/Heruntergeladen"\n')
    assert [entry.path.name for entry in usual_places(tmp_path, [])] == ["Heruntergeladen", tmp_path.name]


def test_no_more_is_read_than_anybody_would(tmp_path: Path) -> None:
    for number in range(2100):
        (tmp_path / f"{number:04d}.toml").touch()
    assert len(look_into(tmp_path)) == 2000
