"""A test that the order repeats: ordered, done at home with one sensor that is moved, handed over, and beside the first
visit's."""

from __future__ import annotations

import io
import json
import re
import zipfile
from collections.abc import Callable
from datetime import datetime
from functools import partial
from pathlib import Path

import pytest
from musclewood.games.__main__ import main
from musclewood.games.running import retesting
from musclewood.profiles.clinic.clinic import Clinic
from musclewood.profiles.handover.reading import read_handover
from musclewood.profiles.orders.tables import Retest
from musclewood.profiles.trust.key_file import LOWEST

from tests.games.commands.test_bench_commands import KNEE, recording

CODE = "HB-0042"
Run = Callable[..., str]


@pytest.fixture
def run(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Run:
    """Run a command that must succeed; gives what it printed."""
    monkeypatch.setenv("MUSCLEWOOD_PASSPHRASE", "twig lantern kettle plank")
    monkeypatch.setattr(Clinic.make_key, "__defaults__", (LOWEST,))
    # Rests of a minute would make the recordings long; how long they are makes no difference to what is tried here.
    monkeypatch.setattr(retesting, "Choice", partial(retesting.Choice, rest_s=3.0))

    def command(*arguments: str | Path, fails: bool = False) -> str:
        code = main([str(argument) for argument in arguments])
        told = capsys.readouterr()
        assert (code != 0) == fails, told
        return told.out + told.err

    return command


def words_in(text: str) -> str:
    return re.search(r"words: (.*)", text)[1]  # type: ignore[index]


def test_ordered_done_at_home_handed_over_and_beside_the_first_visits(run: Run, tmp_path: Path) -> None:
    desk, home, stick = tmp_path / "desk", tmp_path / "home", tmp_path / "stick"
    stick.mkdir()
    on_desk: tuple[str | Path, ...] = ("desk", "--desk", desk)
    spans = ((8, 13.4), (19, 24.4), (30, 35.4)), ((11.5, 17), (22.5, 28), (33.5, 39))
    other = recording(tmp_path / "other.edf", 40, (200.0, spans[0]))
    weak = recording(tmp_path / "weak.edf", 44, (80.0, spans[1]))
    better = recording(tmp_path / "better.edf", 44, (120.0, spans[1]))
    run(*on_desk, "key", "new")
    run(*on_desk, "settings", "--clinic", "Hornbeam practice", "--exchange", stick)

    # The first visit: both sides, with one sensor that is moved.
    run(
        *on_desk, "test", CODE, "sides", "--from", KNEE, "--side", "left", "--rest", "3", "--unattended", "--fast",
        "--source", f"replay:{other}", "--then", f"replay:{weak}",
    )  # fmt: skip
    today = datetime.now().astimezone().date().isoformat()
    start = ("prescribe", "--patient", CODE, "--from", KNEE, "--set", "muscles.0.side=left")
    ordered = run(*on_desk, *start, "--set", "retest.test=both-sides", "--set", f"retest.first={today}")
    assert f"Test at home: test both-sides; weeks from one to the next 4; first on {today}." in ordered
    assert "maximal contractions" in ordered  # outside usual practice: whoever signs says that it is meant
    chosen = ("--set", "retest.test=both-sides", "--set", f"retest.first={today}", "--set", "calibration.rest_s=1")
    run(*on_desk, *start, *chosen, "--issue", "--acknowledge")
    words = words_in(run(*on_desk, "key", "show"))
    computer = words_in(run("exchange", stick, "--patient", CODE, "--home", home, "--words", words).splitlines()[-1])

    # At home it is due, done once, and then no more.
    play = ("play", home / "prescriptions" / f"{CODE}.toml", "--offscreen", "--fast", "--home", home, "--retest")
    told = run(*play, "--source", f"replay:{other}", "--then", f"replay:{better}")
    assert "test over: complete" in told and "hand-over: " in told
    assert "no test is due" in run(*play, "--source", f"replay:{other}", fails=True)

    # It comes back sealed, is read, and stands beside the first visit's.
    run("exchange", "--home", home)
    run(*on_desk, "collect", "--words", computer)
    page = Path(run(*on_desk, "report", CODE).removeprefix("report: ").strip()).read_text("utf-8")
    table = page[page.index("Tests, the first and the later ones") :]
    rows = re.findall(r"<tr><td class=\"day\">.*?</tr>", table)[:2]
    figures = [[int(one) for one in re.findall(r"([+-]?\d+)(?= \(| to|\)<)", row)] for row in rows]
    assert "clinic" in rows[0] and "home" in rows[1]
    # The involved side gave 80 and then 120 of the other's 200 µV: 60 and 40 % less; half as much again as at first.
    assert figures[0][0] == pytest.approx(60, abs=4) and figures[1][0] == pytest.approx(40, abs=5)
    assert figures[1][3] == pytest.approx(50, abs=8) and figures[1][4] < 50 < figures[1][5]
    assert "the involved side reaches" in page  # both tests together, weighed on the first page

    # What came back holds every trial, and a desk that does not know such tests reads all the rest.
    zipped = next((desk / "handovers").rglob("*.zip"))
    read = read_handover(zipped.read_bytes())
    assert isinstance(read.prescription.retest, Retest)
    assert [len(one.trials_uv) for session in read.ledger.sessions for one in session.tests] == [3, 3]
    with zipfile.ZipFile(io.BytesIO(zipped.read_bytes())) as archive:
        assert "[retest]" not in archive.read("prescription.toml").decode()
        assert list(json.loads(archive.read("datapackage.json"))["musclewood"]["retests"]) == ["1"]
