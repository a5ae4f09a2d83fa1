"""Where files live."""

from __future__ import annotations

from pathlib import Path

import pytest
from musclewood.profiles.home.homes import VARIABLE, Home


def test_the_variable_chooses_the_folder(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setenv(VARIABLE, str(tmp_path / "mine"))
    assert Home.find().root == tmp_path / "mine"
    monkeypatch.setenv(VARIABLE, "  ")
    assert "musclewood" in str(Home.find().root)
    monkeypatch.delenv(VARIABLE)
    assert Home.find().root.is_absolute()


def test_everything_is_inside_and_made_on_demand(tmp_path: Path) -> None:
    home = Home(tmp_path / "home")
    assert not home.root.exists()
    home.create()
    home.create()
    paths = (home.prescription_path, home.journal_path("HB-0042"), home.outbox, home.recordings, home.settings_path,
             home.revision_path("HB-0042", 3))  # fmt: skip
    assert all(path.is_relative_to(home.root) and path.parent.is_dir() for path in paths)
    assert len(set(paths)) == len(paths)


@pytest.mark.parametrize("code", ["../../etc/passwd", "HB-0042/..", "", "hb-0042", "HB-0042\n"])
def test_a_code_never_leads_out_of_the_folder(code: str, tmp_path: Path) -> None:
    with pytest.raises(ValueError, match="clinic code"):
        Home(tmp_path).journal_path(code)
