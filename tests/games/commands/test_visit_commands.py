"""Absence, discharge and the log on the command line, from an order that was signed with initials."""

from __future__ import annotations

from pathlib import Path

import pytest
from musclewood.games.__main__ import main
from musclewood.games.commands import asking
from musclewood.profiles.clinic.clinic import Clinic
from musclewood.profiles.trust.key_file import LOWEST

KNEE = "weak-thigh-after-knee-operation"
CODE = "HB-0042"


def test_signed_away_discharged_and_back(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(Clinic.make_key, "__defaults__", (LOWEST,))
    monkeypatch.delenv(asking.PASSPHRASE_VARIABLE, raising=False)
    secret = tmp_path / "passphrase.txt"
    secret.write_text("twig lantern kettle plank\n", encoding="utf-8")

    def run(*arguments: str | Path) -> str:
        main(["desk", "--desk", str(tmp_path / "desk"), *map(str, arguments)])
        told = capsys.readouterr()
        return told.out + told.err

    run("key", "new", "--passphrase-file", secret)
    assert "initials" in run("settings", "--initials", "Anna Berg")
    run("settings", "--initials", "AB")
    order = ("prescribe", "--patient", CODE, "--from", KNEE, "--set", "muscles.0.side=left", "--acknowledge", "--issue")
    assert "issued: revision 1" in run(*order, "--passphrase-file", secret)
    assert "initials" in run(
        "prescribe", "--patient", CODE, "--issue", "--initials", "anna", "--passphrase-file", secret
    )
    assert "nothing is known" in run("away", "HB-0099", "--from", "2026-12-01", "--to", "2026-12-05")
    assert "away: HB-0042" in run("away", CODE, "--from", "2026-12-01", "--to", "2026-12-05", "--initials", "KL")
    run("discharge", CODE, "--why", "goal reached")
    assert CODE not in run("patients") and CODE in run("patients", "--discharged")
    run("back", CODE)
    assert CODE in run("patients")
    lines = run("log").splitlines()
    assert [line.split()[2] for line in lines] == ["AB", "KL", "AB", "AB"]
    assert "signed order 1" in lines[0] and "away from 2026-12-01" in lines[1] and "goal reached" in lines[2]
