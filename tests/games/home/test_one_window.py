"""A second start is heard by the first, with its letter, and by nobody else's."""

from __future__ import annotations

import os
import subprocess
import sys
import time
from pathlib import Path

import pytest
from musclewood.games.__main__ import main
from musclewood.games.home.one_window import Door, claim, knock

# A start of its own: locks are held by programs.
SECOND = """
import sys
from pathlib import Path
from musclewood.games.home.one_window import claim, knock
root = Path(sys.argv[1])
print(claim(root) is None, knock(root, sys.argv[2] or None))
"""


def second_start(root: Path, letter: str = "") -> str:
    return subprocess.run(
        [sys.executable, "-c", SECOND, str(root), letter], capture_output=True, text=True, check=True, timeout=60
    ).stdout.strip()


def heard(door: Door, count: int) -> list[str]:
    limit_s, said = time.monotonic() + 20, []
    while len(said) < count and time.monotonic() < limit_s:
        said += door.knocks()
        time.sleep(0.01)
    return said


def open_door(root: Path) -> Door:
    door = claim(root)
    assert door is not None
    door.listen()
    limit_s = time.monotonic() + 20
    while not knock(root, None) and time.monotonic() < limit_s:
        time.sleep(0.05)
    door.knocks()
    return door


@pytest.mark.parametrize("name", ["home", "h" * 120])
def test_a_second_start_is_heard_with_its_letter(tmp_path: Path, name: str) -> None:
    """Also where the path is longer than a socket's may be."""
    root = tmp_path / name
    door = open_door(root)
    letter = tmp_path / "plan.toml"
    assert second_start(root, str(letter)) == "True True"
    assert second_start(root) == "True True"
    assert heard(door, 2) == [str(letter), ""]
    door.close()


def test_what_a_killed_program_left_is_no_window(tmp_path: Path) -> None:
    """The lock goes with the program; socket and key stay behind."""
    code = "import os, time, sys; from pathlib import Path; from musclewood.games.home.one_window import claim;"
    code += f"claim(Path({str(tmp_path / 'home')!r})).listen(); time.sleep(1.0); os._exit(9)"
    subprocess.run([sys.executable, "-c", code], check=False, timeout=60)
    door = open_door(tmp_path / "home")
    assert second_start(tmp_path / "home") == "True True"
    door.close()


def test_another_user_without_the_key_is_not_let_in(tmp_path: Path) -> None:
    door = open_door(tmp_path / "home")
    key = tmp_path / "home" / ".window.key"
    if os.name == "posix":
        assert key.stat().st_mode & 0o077 == 0
    right = key.read_bytes()
    key.write_bytes(bytes(32))
    assert not knock(tmp_path / "home", "letter.toml")
    assert door.knocks() == []
    key.write_bytes(right)
    assert knock(tmp_path / "home", None), "and the door still stands"
    door.close()


def test_a_display_that_cannot_be_opened_is_one_plain_sentence(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Never a program that runs unseen."""
    environment = {key: value for key, value in os.environ.items() if key not in ("SDL_VIDEODRIVER", "WAYLAND_DISPLAY")}
    environment |= {"DISPLAY": ":987", "MUSCLEWOOD_HOME": str(tmp_path / "home"), "SDL_AUDIODRIVER": "dummy"}
    environment["XDG_RUNTIME_DIR"] = str(tmp_path)  # without it a library beneath complains in a line of its own
    done = subprocess.run(
        [sys.executable, "-m", "musclewood.games"],
        env=environment,
        capture_output=True,
        text=True,
        check=False,
        timeout=60,
    )
    assert done.returncode == 1
    assert done.stderr.count("\n") == 1 and "no window can be opened" in done.stderr, done.stderr


def test_without_any_display_it_says_so(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    for name in ("DISPLAY", "WAYLAND_DISPLAY"):
        monkeypatch.delenv(name, raising=False)
    assert main([]) == 1
    assert "no display" in capsys.readouterr().err
