"""Settings come back as they were kept; a broken file never keeps anybody from exercising."""

from __future__ import annotations

from pathlib import Path

import pytest
from musclewood.games.kit.settings import Settings, load, save


def test_there_and_back(tmp_path: Path) -> None:
    chosen = Settings(1.4, True, False, True, "de", "left", True)
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
