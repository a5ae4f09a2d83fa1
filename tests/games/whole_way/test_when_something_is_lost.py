"""What the README says to do when something is lost, row by row, by the commands that it names and no others."""

from __future__ import annotations

import re
import shutil
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from musclewood.games.__main__ import main
from musclewood.games.home.handing_over import hand_over
from musclewood.profiles.clinic.clinic import Clinic
from musclewood.profiles.home.homes import Home
from musclewood.profiles.journal.journal import Journal
from musclewood.profiles.journal.records import RatingRecord, SessionEnd, SessionStart
from musclewood.profiles.orders.prescription import parse, read_text
from musclewood.profiles.report import page
from musclewood.profiles.trust import backup
from musclewood.profiles.trust.key_file import LOWEST

README = (Path(__file__).resolve().parents[3] / "README.md").read_text("utf-8")
SECTION = README[README.index("## When something is lost") :].split("\n| command |")[0]
CODE, KNEE = "HB-0042", "weak-thigh-after-knee-operation"
PASSPHRASE = "twig lantern kettle plank"
NOW = datetime.now(UTC).replace(microsecond=0)
ran: set[str] = set()  # every command of this module, as the README writes it
begun: set[str] = set()  # its tests that ran in this process


class Bed:
    """A practice, a patient at home, a folder between them, and hands that only run commands."""

    def __init__(self, root: Path, told: Callable[[], str]) -> None:
        self.root, self._told = root, told
        self.desk, self.home, self.between = root / "desk", root / "home", root / "between"
        self.played = 0
        self.between.mkdir()
        self.at_desk("key", "new")
        self.at_desk("settings", "--clinic", "Hornbeam practice", "--exchange", self.between)
        self.order()
        self.visit(self.between, "--patient", CODE, "--words", self.words())
        self.play()
        self.visit()
        self.accept()

    def run(self, *arguments: object, code: int = 0) -> str:
        assert main([str(one) for one in arguments]) == code, self._told()
        return self._told()

    def at_desk(self, *arguments: object, code: int = 0) -> str:
        ran.add(" ".join(["desk", *map(str, arguments[:2])]))
        return self.run("desk", "--desk", self.desk, *arguments, code=code)

    def at_home(self, *arguments: object, code: int = 0) -> str:
        names = [str(one) for one in arguments if str(one) in ("backup", "make", "verify", "restore", "exchange")]
        ran.update(" ".join([*names, flag]) for flag in ("--new-sender", "--new-clinic") if flag in arguments)
        ran.add(" ".join(names))
        return self.run(arguments[0], "--home", self.home, *arguments[1:], code=code)

    def visit(self, *arguments: object, code: int = 0) -> str:
        return self.at_home("exchange", *arguments, code=code)

    def words(self) -> str:
        return self.at_desk("key", "show").removeprefix("words: ").strip()

    def order(self) -> None:
        first = [] if Clinic(self.desk).orders(CODE) else ["--from", KNEE, "--set", "muscles.0.side=left"]
        self.at_desk("prescribe", "--patient", CODE, *first, "--issue", "--acknowledge")

    def play(self) -> None:
        """One session more, and its hand-over into the outbox."""
        home = Home(self.home)
        order = parse(read_text(home.prescription_of(CODE)))
        self.played += 1
        at = NOW + timedelta(minutes=self.played)
        with Journal.open(home.journal_path(CODE)) as journal:
            session = journal.begin_session(SessionStart(CODE, order.revision, "ble", at.isoformat(), "Europe/Prague"))
            journal.add(session, RatingRecord(5.0, "pain", 1, "before"))
            journal.end_session(session, SessionEnd((at + timedelta(seconds=9)).isoformat(), "complete"))
            hand_over(journal, order, home)

    def accept(self, code: int = 0) -> str:
        """Collect; a new computer's words are read out by the patient."""
        asked = self.at_desk("collect", code=1)
        spoken = re.search(r"Its words: (.+)", asked)
        assert spoken is not None, asked
        return self.at_desk("collect", "--words", spoken[1], code=code)

    def clear_refused(self) -> None:
        """What is refused for good is deleted from the folder, and then nothing is refused."""
        for name in re.findall(r"refused: ([^:]+):", self.at_desk("collect", code=1)):
            (self.between / "to-clinic" / name).unlink()
        self.at_desk("collect")

    def arrived(self) -> int:
        return len(Clinic(self.desk).done(CODE).sessions)

    def revision(self) -> int:
        return parse(read_text(Home(self.home).prescription_of(CODE))).revision


@pytest.fixture
def bed(
    request: pytest.FixtureRequest, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> Bed:
    begun.add(request.node.name)
    monkeypatch.setenv("MUSCLEWOOD_PASSPHRASE", PASSPHRASE)
    for made in (Clinic.make_key, Clinic.change_key, backup.make_backup):  # how hard a lock is has tests of its own
        monkeypatch.setattr(made, "__defaults__", (LOWEST,))
    monkeypatch.setattr(page, "render_report", lambda *_, **__: "<!DOCTYPE html>")  # it takes the time of all the rest

    def told() -> str:
        said = capsys.readouterr()
        return said.out + said.err

    return Bed(tmp_path, told)


def test_the_clinics_computer_broke(bed: Bed) -> None:
    file = bed.root / "elsewhere" / "desk.backup"
    bed.at_desk("backup", "make", file)
    assert "fine, a desk" in bed.at_desk("backup", "verify", file)
    bed.play()
    bed.visit()
    shutil.rmtree(bed.desk)
    bed.at_desk("backup", "restore", file)
    bed.at_desk("collect")  # nobody is asked for words again
    assert bed.arrived() == bed.played == 2
    bed.order()
    bed.visit()
    assert bed.revision() == 2


def test_a_patients_computer_broke(bed: Bed) -> None:
    file = bed.root / "elsewhere" / "home.backup"
    bed.at_home("backup", "make", file)
    assert "fine, a home" in bed.at_home("backup", "verify", file)
    shutil.rmtree(bed.home)
    assert "sends as a new one" in bed.at_home("backup", "restore", file)
    bed.play()
    bed.visit()
    bed.accept()
    assert bed.arrived() == bed.played == 2


def test_a_home_was_set_back(bed: Bed) -> None:
    older = bed.root / "older"
    shutil.copytree(bed.home, older)
    bed.play()
    bed.visit()
    bed.at_desk("collect")
    shutil.rmtree(bed.home)
    shutil.copytree(older, bed.home)
    bed.play()
    bed.visit()
    assert "started as a new sender" in bed.at_desk("collect", code=1)
    assert "new words" in bed.visit("--new-sender")
    bed.accept(code=1)
    bed.clear_refused()
    assert bed.arrived() == bed.played == 3


def test_the_key_is_changed_in_good_order_at_two_desks(bed: Bed) -> None:
    file, first = bed.root / "desk.backup", bed.desk
    bed.at_desk("backup", "make", file)
    bed.desk = bed.root / "second"
    bed.at_desk("backup", "restore", file)
    bed.desk, old = first, bed.words()
    bed.play()
    bed.visit()  # sealed to the old key
    assert old not in bed.at_desk("key", "change")
    bed.at_desk("backup", "make", file)
    bed.desk = bed.root / "second"
    assert bed.words() == old
    bed.at_desk("key", "take", file)
    assert bed.words() != old
    bed.order()
    bed.visit("--words", bed.words())  # asked once, and not for another clinic
    assert bed.revision() == 2
    bed.play()
    bed.visit()
    bed.at_desk("collect")
    assert bed.arrived() == bed.played == 3


@pytest.mark.parametrize("stolen", [False, True])
def test_the_key_is_lost_or_the_clinics_computer_stolen(bed: Bed, stolen: bool) -> None:
    thief = bed.root / "thief"
    if stolen:
        shutil.copytree(bed.desk, thief)
    Clinic(bed.desk).key_path.rename(bed.root / "aside.toml")
    bed.at_desk("key", "new")
    bed.order()
    bed.play()
    bed.visit("--words", bed.words(), code=1)  # a new key is another clinic to the home
    assert "sent" in bed.visit("--new-clinic", "--words", bed.words())
    revision = bed.revision()
    bed.clear_refused()
    assert bed.arrived() == bed.played == 2, "the journal is whole, and sealed to the new key"
    if stolen:  # what the thief signs counts no more, nor what the old key would vouch for
        own, bed.desk = bed.desk, thief
        bed.order()
        bed.at_desk("key", "change")
        bed.order()
        bed.visit(code=1)
        assert bed.revision() == revision
        bed.desk = own
        bed.order()
        assert "now in force" in bed.visit(code=1)


def test_a_patients_computer_was_stolen(bed: Bed) -> None:
    shutil.copytree(bed.home, bed.root / "thief")
    own, bed.home = bed.home, bed.root / "new-computer"
    bed.visit(bed.between, "--patient", CODE, "--words", bed.words())
    bed.played = 40  # its journal begins anew
    bed.play()
    bed.visit()
    assert "Its words" in bed.at_desk("collect", code=1) and bed.arrived() == 1, "nothing without words"
    assert "Its words" in bed.at_desk("collect", "--words", "ten words that nobody read out to anyone here", code=1)
    bed.accept()
    assert bed.arrived() == 2 and own.exists()


def test_the_folder_between_is_lost(bed: Bed) -> None:
    bed.play()
    bed.order()
    shutil.rmtree(bed.between)
    bed.visit(code=1)
    bed.between.mkdir()
    bed.at_desk("deliver")
    bed.visit()
    bed.at_desk("collect")
    assert bed.arrived() == bed.played == 2 and bed.revision() == 2


def test_the_clinic_closes(bed: Bed) -> None:
    bed.at_desk("backup", "make", bed.root / "kept.backup")
    pytest.importorskip("duckdb", reason="the extra 'caseload' is not installed")
    ran.add("report --caseload")
    bed.run("report", "--caseload", bed.desk / "handovers", "--into", bed.root / "records")
    assert CODE in (bed.root / "records" / "patients.csv").read_text("utf-8")
    bed.desk, bed.between = bed.root / "next-desk", bed.root / "next-folder"
    bed.between.mkdir()
    bed.at_desk("key", "new")
    bed.at_desk("settings", "--clinic", "Oak practice", "--exchange", bed.between)
    bed.order()
    bed.visit(bed.between, "--new-clinic", "--words", bed.words())
    bed.accept()
    assert bed.arrived() == bed.played == 1, "the next clinic gets the whole journal, and nothing that it cannot open"


def test_every_command_of_the_page_was_tried(request: pytest.FixtureRequest) -> None:
    """Of this module's tests, so it stands last; it has nothing to look at where some of them ran elsewhere."""
    others = {item.name for item in request.session.items if item.path == request.path} - {request.node.name}
    if not others or not others <= begun:
        pytest.skip("the others did not run in this process")
    named = {one.removeprefix("musclewood ") for one in re.findall(r"`((?:musclewood |desk |key |--)[^`]*)`", SECTION)}
    named = {re.sub(r"( (FILE|BACKUP|FOLDER))+$", "", one) for one in named} - {"key change", "desk backup make"}
    named = {f"exchange {one}" if one.startswith("--") else one for one in named}
    assert len(named) > 9 and sorted(named - ran) == []
