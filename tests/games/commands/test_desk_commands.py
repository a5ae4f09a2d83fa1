"""The desk on the command line: what is wrong is said in one line, and no secret is ever typed behind a command."""

from __future__ import annotations

import io
from collections.abc import Callable
from pathlib import Path

import pytest
from musclewood.games.__main__ import main, parser
from musclewood.games.commands import asking
from musclewood.profiles.clinic.clinic import Clinic
from musclewood.profiles.trust.key_file import LOWEST

KNEE = "weak-thigh-after-knee-operation"
Run = Callable[..., tuple[int, str]]


@pytest.fixture
def desk(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Run:
    monkeypatch.setattr(Clinic.make_key, "__defaults__", (LOWEST,))
    monkeypatch.setattr(Clinic.relock, "__defaults__", (LOWEST,))
    monkeypatch.delenv(asking.PASSPHRASE_VARIABLE, raising=False)

    def run(*arguments: str | Path) -> tuple[int, str]:
        try:
            code = main(["desk", "--desk", str(tmp_path / "desk"), *(str(argument) for argument in arguments)])
        except SystemExit as leaving:
            code = int(leaving.code or 0)
        told = capsys.readouterr()
        return code, told.out + told.err

    return run


@pytest.fixture
def keyed(desk: Run, tmp_path: Path) -> Path:
    path = tmp_path / "passphrase.txt"
    path.write_text("twig lantern kettle plank\n", encoding="utf-8")
    assert desk("key", "new", "--passphrase-file", path)[0] == 0
    return path


def test_a_key_is_made_shown_and_locked_anew(desk: Run, keyed: Path, tmp_path: Path) -> None:
    words = desk("key", "show")[1]
    assert len(words.removeprefix("words: ").split()) == 10
    other = tmp_path / "other.txt"
    other.write_text("four other plain words\n", encoding="utf-8")
    code, told = desk("key", "relock", "--passphrase-file", keyed, "--new-passphrase-file", other)
    assert code == 0 and "locked anew" in told
    assert desk("key", "show")[1] == words
    assert "already is a file" in desk("key", "new", "--passphrase-file", keyed)[1]
    order = (
        "prescribe",
        "--patient",
        "HB-0042",
        "--from",
        KNEE,
        "--set",
        "muscles.0.side=left",
        "--issue",
        "--passphrase-file",
    )
    assert "does not open this key file" in desk(*order, keyed)[1]
    code, told = desk(*order, other)
    assert code == 0 and "issued: revision 1" in told and "no exchange folder is set" in told


def test_no_option_takes_a_passphrase(capsys: pytest.CaptureFixture[str]) -> None:
    for command in (["desk", "key", "new"], ["desk", "prescribe"], ["desk", "collect"]):
        with pytest.raises(SystemExit):
            parser().parse_args([*command, "--help"])
        told = capsys.readouterr().out
        assert "--passphrase-file FILE" in told and "--passphrase " not in told


def test_a_passphrase_is_asked_for_twice_where_there_is_a_terminal(
    desk: Run, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    class Terminal(io.StringIO):
        def isatty(self) -> bool:
            return True

    monkeypatch.setattr("sys.stdin", Terminal())
    answers = iter(["twig lantern kettle plank", "twig lantern kettle blank", *["twig lantern kettle plank"] * 2])
    monkeypatch.setattr(asking.getpass, "getpass", lambda question: next(answers))
    assert "not the same; nothing was made" in desk("key", "new")[1]
    assert not (tmp_path / "desk" / "clinic-key.toml").exists()
    assert desk("key", "new")[0] == 0


@pytest.mark.parametrize(
    ("arguments", "code", "says"),
    [
        (["key", "show"], 1, "no key yet"),
        (["key", "new"], 1, "nobody to ask for the passphrase"),
        (["key", "new", "--passphrase-file", "missing.txt"], 1, "missing.txt: it cannot be read"),
        (["prescribe", "--patient", "HB-0042"], 1, "nothing was issued to HB-0042 yet; start from a template"),
        (["prescribe", "--patient", "HB-0042", "--from", "knees"], 2, "no such template"),
        (["prescribe", "--patient", "Anna", "--from", KNEE], 1, "looks like a name"),
        (["prescribe", "--patient", "AN-1984", "--from", KNEE], 1, "birth date"),
        (["prescribe", "--patient", "HB-0042", "--from", KNEE, "--set", "reps=8"], 2, "no such key"),
        (["prescribe", "--patient", "HB-0042", "--from", KNEE, "--set", "note=Anna"], 2, "no such key"),
        (["prescribe", "--patient", "HB-0042", "--from", KNEE, "--set", "exercises.0.reps"], 2, "KEY=VALUE"),
        (["prescribe", "--patient", "HB-0042", "--from", KNEE, "--set", "exercises.0.reps=900"], 1, "allowed 1 to 100"),
        (["prescribe", "--patient", "HB-0042", "--from", KNEE, "--without", "juggling"], 2, "none of that name"),
        (["difference", "HB-0042"], 1, "nothing was issued to HB-0042"),
        (["report", "HB-0042"], 1, "nothing is known of HB-0042"),
        (["settings", "--silent-days", "0"], 1, "--silent-days"),
        (["settings", "--exchange", "sftp://a:secret@b/c"], 1, "leave the password out"),
        (["settings", "--timezone", "Middle/Earth"], 1, "IANA"),
        (["deliver"], 1, "no exchange folder is set"),
    ],
)
def test_what_is_wrong_is_said_in_one_line(
    desk: Run, monkeypatch: pytest.MonkeyPatch, arguments: list[str], code: int, says: str
) -> None:
    monkeypatch.setattr("sys.stdin", io.StringIO())
    found, told = desk(*arguments)
    assert found == code and says in told and "secret" not in told.replace("secret@", "")
    assert "Traceback" not in told


def test_every_key_is_listed_with_its_range(desk: Run) -> None:
    code, told = desk("prescribe", "--patient", "HB-0042", "--from", KNEE, "--keys")
    assert code == 0
    assert "exercises.0.reps = 10  (1 to 100)" in told
    assert "days = mon tue thu fri sat  (any of mon tue wed thu fri sat sun)" in told
    assert "expires = -  (a date such as 2026-12-24, or empty)" in told
