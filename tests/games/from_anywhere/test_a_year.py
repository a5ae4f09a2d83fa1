"""Two desks and three homes on one folder for a year: lost sticks, conflicting copies, a
changed key, a new computer."""

from __future__ import annotations

import random
import shutil
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from musclewood.games.home.handing_over import send_anew
from musclewood.profiles.clinic.clinic import Clinic
from musclewood.profiles.errors import StorageError
from musclewood.profiles.handover.package import write_handover
from musclewood.profiles.home import exchange as home_exchange
from musclewood.profiles.home.homes import Home
from musclewood.profiles.journal.journal import Journal
from musclewood.profiles.journal.records import RatingRecord, SessionEnd, SessionStart
from musclewood.profiles.orders.prescription import parse, read_text
from musclewood.profiles.trust.backup import make_backup, restore_backup
from musclewood.profiles.trust.key_file import LOWEST
from musclewood.profiles.trust.pins import PinFolder
from musclewood.profiles.trust.senders import SenderFolder, sealer
from musclewood.profiles.trust.signature import verify
from watched_clinic import KNEE, PASSPHRASE

START = datetime(2026, 1, 5, 9, tzinfo=UTC)


class Year:
    def __init__(self, bed: Any, tmp_path: Path) -> None:
        self.bed, self.folder, self.now = bed, tmp_path, START
        self.desks = [bed.clinic, Clinic(tmp_path / "second-desk")]
        make_backup(bed.clinic.root, tmp_path / "desk.backup", "desk", PASSPHRASE, LOWEST)
        restore_backup(tmp_path / "desk.backup", self.desks[1].root, "desk", PASSPHRASE)
        self.keys = [bed.keys, bed.keys]
        self.homes = {f"HB-{700 + number}": Home(tmp_path / f"home-{number}") for number in range(3)}
        self.played = dict.fromkeys(self.homes, 0)
        self.issued = dict.fromkeys(self.homes, 0)

    def issue(self, desk: int, code: str) -> None:
        clinic = self.desks[desk]
        today = self.now.date()
        draft = (
            clinic.draft_from_last(code, today)
            if self.issued[code]
            else clinic.draft_from_template(KNEE, code, today).set("muscles.0.side", "left")
        )
        issued = clinic.issue(draft, self.keys[desk])
        assert issued.prescription.revision == self.issued[code] + 1
        self.issued[code] += 1

    def visit(self, code: str) -> None:
        home_exchange.visit(
            self.homes[code], self.bed.place, today=self.now.date(), patient=code, confirm=lambda _: True
        )

    def play(self, code: str) -> None:
        home = self.homes[code]
        order = parse(read_text(home.prescription_of(code)))
        self.now += timedelta(minutes=1)
        with Journal.open(home.journal_path(code)) as journal:
            session = journal.begin_session(
                SessionStart(code, order.revision, "ble", self.now.isoformat(), "Europe/Prague")
            )
            journal.add(session, RatingRecord(5.0, "pain", 1, "before"))
            journal.end_session(session, SessionEnd((self.now + timedelta(minutes=9)).isoformat(), "complete"))
            seal = sealer(code, PinFolder(home.trust), SenderFolder(home.trust), made=self.now)
            write_handover(journal, order, home.outbox, None, seal=seal, now=self.now)
        self.played[code] += 1

    def collect(self, desk: int) -> None:
        clinic = self.desks[desk]
        collected = clinic.collect(self.keys[desk], self.now.date(), confirm=lambda _: True)
        assert not collected.refused, collected.refused
        with clinic.naming():
            pass


@pytest.mark.full_size
def test_a_year_in_which_nobody_needs_a_developer(bed: Any, tmp_path: Path, full: bool) -> None:
    chance, year = random.Random(1), Year(bed, tmp_path)
    weeks = 52 if full else 6
    for week in range(weeks):
        year.now = START + timedelta(weeks=week)
        for code in year.homes:
            if week == 0 or chance.random() < 0.2:
                year.issue(chance.randrange(2) if week else 0, code)
            year.visit(code)
            for _ in range(chance.randint(1, 3)):
                year.play(code)
            if chance.random() < 0.7:
                year.visit(code)
        happening = ("lost stick", "conflicting copies", "changed key", "new computer", "set back", "")[week % 6]
        if happening == "lost stick":
            shutil.rmtree(bed.exchange)
            with pytest.raises(StorageError):
                year.visit("HB-700")
            bed.exchange.mkdir()
            for desk in year.desks:
                desk.deliver()
        elif happening == "conflicting copies":
            for path in [one for one in bed.exchange.rglob("*") if one.is_file()]:
                first, dot, rest = path.name.partition(".")
                shutil.copy(path, path.with_name(f"{first} (conflicted copy){dot}{rest}"))
                path.with_name(f"{first} (half){dot}{rest}").write_bytes(path.read_bytes()[:200])
        elif happening == "changed key":
            changed = year.desks[0].change_key(PASSPHRASE, LOWEST)
            make_backup(year.desks[0].root, tmp_path / "desk.backup", "desk", PASSPHRASE, LOWEST)
            year.desks[1].take_keys(tmp_path / "desk.backup", PASSPHRASE)
            year.keys = [changed, year.desks[1].unlock(PASSPHRASE)]
            for code in year.homes:
                year.issue(1, code)
        elif happening == "new computer":
            old = year.homes["HB-701"]
            make_backup(old.root, tmp_path / "home.backup", "home", PASSPHRASE, LOWEST)
            year.homes["HB-701"] = Home(tmp_path / f"new-computer-{week}")
            restore_backup(tmp_path / "home.backup", year.homes["HB-701"].root, "home", PASSPHRASE)
        elif happening == "set back":
            send_anew(year.homes["HB-702"], "HB-702")
        for desk in (0, 1):
            if chance.random() < 0.8:
                year.collect(desk)
    for code in year.homes:
        year.visit(code)
        year.play(code)
        year.visit(code)
    for desk in (0, 1):
        year.collect(desk)
        for code in year.homes:
            assert len(year.desks[desk].done(code).sessions) == year.played[code]
    for code, home in year.homes.items():
        assert parse(read_text(home.prescription_of(code))).revision == year.issued[code]
        assert verify(home.prescription_of(code).read_bytes()).clinic == year.keys[0].identity
