"""T7, T8: files are written in one way, whole or not at all, durable on return, for this user alone; leftovers are
swept."""

from __future__ import annotations

import ast
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
from musclewood.profiles.disk import files, locking
from musclewood.profiles.disk.files import read_bounded, sweep, write_whole
from musclewood.profiles.errors import StorageError
from musclewood.profiles.home.homes import Home
from musclewood.profiles.journal.journal import Journal

HOUSE = Path(__file__).resolve().parents[3]


def mode(path: Path) -> int:
    return path.stat().st_mode & 0o777


@pytest.mark.parametrize("name", ["os.replace", "os.fsync"])
def test_a_write_that_fails_leaves_the_old_file_and_nothing_else(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, name: str
) -> None:
    path = tmp_path / "handover.zip"
    write_whole(path, b"first")
    with monkeypatch.context() as patch:
        patch.setattr(name, lambda *_: (_ for _ in ()).throw(OSError(28, "disk full")))
        with pytest.raises(StorageError, match="disk full"):
            write_whole(path, b"second")
    assert path.read_bytes() == b"first"
    assert [entry.name for entry in tmp_path.iterdir()] == ["handover.zip"]


@pytest.mark.skipif(os.name == "nt", reason="Windows has no such rights")
def test_what_is_about_a_patient_is_for_this_user_alone(tmp_path: Path) -> None:
    previous = os.umask(0)
    try:
        home = Home(tmp_path / "deep" / "home")
        home.create()
        write_whole(home.root / "new" / "report.html", b"page")
        with Journal.open(home.journal_path("HB-0042")):
            held = {mode(path) for path in home.journal_path("HB-0042").parent.iterdir()}
    finally:
        os.umask(previous)
    assert mode(home.root / "new" / "report.html") == 0o600
    assert {mode(folder) for folder in home.root.rglob("*") if folder.is_dir()} == {0o700}
    assert mode(home.root) == mode(home.root.parent) == 0o700
    assert held == {0o600}


@pytest.mark.skipif(os.name == "nt", reason="Windows has no such rights")
def test_folders_of_an_earlier_version_are_closed_to_others(tmp_path: Path) -> None:
    (tmp_path / "journals").mkdir(mode=0o755)
    Home(tmp_path).create()
    assert mode(tmp_path / "journals") == 0o700


WRITER = """
import sys, pathlib
from musclewood.profiles.disk.files import write_whole
path, number = pathlib.Path(sys.argv[1]), 0
while True:
    number += 1
    write_whole(path, b"%d" % (number % 10) * 3_000_000)
    print(number, flush=True)
"""


def test_killed_writes_leave_a_whole_file_and_leftovers_are_swept(tmp_path: Path) -> None:
    path = tmp_path / "file"
    for turn in range(6):
        writer = subprocess.Popen([sys.executable, "-c", WRITER, str(path)], stdout=subprocess.PIPE)
        assert writer.stdout is not None
        writer.stdout.readline()
        time.sleep(0.003 * turn)
        writer.send_signal(signal.SIGKILL)
        writer.communicate()
        content = path.read_bytes()
        assert len(content) == 3_000_000 and content == content[:1] * 3_000_000
    (tmp_path / ".file.0a1b2c3d.part").write_bytes(b"half")
    sweep([tmp_path])
    assert [entry.name for entry in tmp_path.iterdir()] == ["file"]


@pytest.mark.skipif(os.name == "nt", reason="Windows removes nothing that is open")
@pytest.mark.parametrize("swept", [1, 2])
def test_a_write_that_was_swept_before_it_was_held_is_begun_anew(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, swept: int
) -> None:
    """Another program sweeps in the moment between the creation of a part and its lock, or has the lock just then."""
    taken = []

    def take(descriptor: int) -> bool:
        taken.append(descriptor)
        monkeypatch.setattr(files, "take", locking.take)
        if len(taken) <= swept:
            sweep([tmp_path])
        monkeypatch.setattr(files, "take", take)
        return locking.take(descriptor)

    monkeypatch.setattr(files, "take", take)
    write_whole(tmp_path / "file", b"whole")
    assert len(taken) == swept + 1
    assert [(entry.name, entry.read_bytes()) for entry in tmp_path.iterdir()] == [("file", b"whole")]


def test_a_part_whose_lock_a_sweeper_has_is_given_up(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    refused = iter((False, True))
    monkeypatch.setattr(files, "take", lambda _: next(refused))
    write_whole(tmp_path / "file", b"whole")
    assert [entry.name for entry in tmp_path.iterdir()] == ["file"] and next(refused, None) is None


def test_where_files_cannot_be_locked_they_are_written_all_the_same(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(files, "take", lambda _: False)
    write_whole(tmp_path / "file", b"whole")
    assert [(entry.name, entry.read_bytes()) for entry in tmp_path.iterdir()] == [("file", b"whole")]


def test_a_file_that_is_being_written_is_not_swept(tmp_path: Path) -> None:
    writer = subprocess.Popen([sys.executable, "-c", WRITER, str(tmp_path / "file")], stdout=subprocess.PIPE)
    try:
        assert writer.stdout is not None
        writer.stdout.readline()
        until = time.monotonic() + 0.5
        while time.monotonic() < until:
            sweep([tmp_path])
        assert writer.poll() is None
    finally:
        writer.kill()
        writer.communicate()


@pytest.mark.skipif(os.name == "nt", reason="Windows has no such files")
def test_pipes_and_devices_are_refused_at_once(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe")
    for path in (tmp_path / "pipe", Path("/dev/zero")):
        began = time.monotonic()
        with pytest.raises(StorageError, match="no plain file"):
            read_bounded(path, 1000)
        assert time.monotonic() - began < 1


def test_a_link_is_not_followed_where_that_is_asked_for(tmp_path: Path) -> None:
    (tmp_path / "real").write_bytes(b"1")
    (tmp_path / "link").symlink_to(tmp_path / "real")
    assert read_bounded(tmp_path / "link", 10) == b"1"
    with pytest.raises(StorageError, match="link"):
        read_bounded(tmp_path / "link", 10, follow=False)


# Who else opens a file for writing: what grows over hours, and tables of a folder that is put in place as a whole.
STREAMS = {
    "signal/recordings/recording_file.py",
    "profiles/caseload/parquet.py",
    "profiles/caseload/schema.py",
    "profiles/trust/backup.py",
}


def test_nobody_else_writes_files() -> None:
    found = set()
    for room in ("signal", "profiles", "games"):
        for path in (HOUSE / room).rglob("*.py"):
            for node in ast.walk(ast.parse(path.read_text("utf-8"))):
                if isinstance(node, ast.Call) and _writes(node):
                    found.add(path.relative_to(HOUSE).as_posix())
    assert found - STREAMS == {"profiles/disk/files.py"}


def _writes(call: ast.Call) -> bool:
    name = call.func.attr if isinstance(call.func, ast.Attribute) else getattr(call.func, "id", "")
    if name in ("write_text", "write_bytes", "mkstemp", "NamedTemporaryFile"):
        return True
    modes = [one.value for one in call.args[1:2] if isinstance(one, ast.Constant) and isinstance(one.value, str)]
    return name == "open" and any(set(mode) & set("wax") for mode in modes)
