"""Settings without the window: shown, changed, kept where the window finds them; what is wrong changes nothing."""

from __future__ import annotations

from pathlib import Path

import pytest
from musclewood.games.__main__ import main
from musclewood.games.kit.settings import Settings, load
from musclewood.games.running.errors import USAGE_WRONG


def test_changed_and_kept(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    home = ["--home", str(tmp_path)]
    changes = ["volume=2", "read_aloud=on", "one_switch=on", "text_scale=1.4", "language=de"]
    assert main(["settings", *home, *(part for change in changes for part in ("--set", change))]) == 0
    kept = load(tmp_path / "settings.toml")
    assert kept == Settings(text_scale=1.4, volume=2, read_aloud="on", one_switch=True, language="de")
    told = capsys.readouterr().out
    assert "volume = 2  (0, 1, 2, 3, 4, 5)" in told and "one_switch = on  (on, off)" in told
    assert "voice to read aloud: " in told
    assert main(["settings", *home]) == 0
    assert capsys.readouterr().out == told


@pytest.mark.parametrize(
    "change", ["volume=9", "volume", "volume=True", "loudness=3", "cautions_for=x", "=", "hand=both"]
)
def test_what_is_no_setting_changes_nothing(change: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["settings", "--home", str(tmp_path), "--set", "volume=1", "--set", change]) == USAGE_WRONG
    assert change.split("=")[0] in capsys.readouterr().err
    assert not (tmp_path / "settings.toml").exists()
