"""Settings come back as they were kept; a broken file never keeps anybody from exercising."""

from __future__ import annotations

from pathlib import Path

import pytest
from musclewood.games.kit.settings import Settings, first_choices, load, save


def test_there_and_back(tmp_path: Path) -> None:
    chosen = Settings(1.4, True, 2, "on", True, "de", "left", True, one_switch=True)
    save(chosen, tmp_path / "deep" / "settings.toml")
    assert load(tmp_path / "deep" / "settings.toml") == chosen
    assert [path.name for path in (tmp_path / "deep").iterdir()] == ["settings.toml"]


def test_nothing_there(tmp_path: Path) -> None:
    assert load(tmp_path / "none.toml") == Settings()


@pytest.mark.parametrize("text", ["", "text_scale = ", "\x00\xff", "[sound]\nx = 1"])
def test_a_broken_file_reads_as_usual(tmp_path: Path, text: str) -> None:
    path = tmp_path / "settings.toml"
    path.write_text(text, "utf-8")
    assert load(path) == Settings()


def test_a_broken_entry_costs_only_itself(tmp_path: Path) -> None:
    path = tmp_path / "settings.toml"
    path.write_text('text_scale = 9.0\nlanguage = "xx"\nsound = "loud"\nhand = "left"\nextra = 1\n', "utf-8")
    assert load(path) == Settings(hand="left")


@pytest.mark.parametrize(("sound", "volume"), [("false", 0), ("true", Settings().volume)])
def test_an_earlier_version_knew_sound_on_or_off(sound: str, volume: int, tmp_path: Path) -> None:
    path = tmp_path / "settings.toml"
    path.write_text(f'sound = {sound}\nlanguage = "de"\n', "utf-8")
    assert load(path) == Settings(volume=volume, language="de")


@pytest.mark.parametrize("volume", ["6", "-1", "true", "2.5", '"3"'])
def test_a_volume_that_is_no_step_reads_as_usual(volume: str, tmp_path: Path) -> None:
    (tmp_path / "settings.toml").write_text(f"volume = {volume}\n", "utf-8")
    assert load(tmp_path / "settings.toml") == Settings()


@pytest.mark.parametrize(
    ("given", "language"),
    [
        ({"LANG": "de_AT.UTF-8"}, "de"),
        ({"LANG": "de_DE.UTF-8", "LC_ALL": "en_IE.UTF-8"}, "en"),
        ({"LANG": "C.UTF-8"}, "en"),
    ],
)
def test_a_home_begins_in_the_language_of_its_system(
    given: dict[str, str], language: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """LC_ALL before LC_MESSAGES before LANG (POSIX.1-2017, Base Definitions, 8.2)."""
    for name in ("LC_ALL", "LC_MESSAGES", "LANG"):
        monkeypatch.delenv(name, raising=False)
    for name, value in given.items():
        monkeypatch.setenv(name, value)
    assert first_choices() == Settings(language=language)
