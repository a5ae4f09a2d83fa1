"""Keys over years: changed in good order, two desks on one folder, a computer set back to a backup, all lost."""

from __future__ import annotations

from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

import pytest
from musclewood.games.home.handing_over import hand_over, send_anew
from musclewood.profiles.clinic import keyring as module
from musclewood.profiles.clinic.clinic import Clinic
from musclewood.profiles.clinic.settings import DeskSettings
from musclewood.profiles.errors import AnotherClinicError, BackupError, NotConfirmedError, RevisionConflictError
from musclewood.profiles.exchange.places import LocalPlace
from musclewood.profiles.home import exchange as home_exchange
from musclewood.profiles.home.homes import Home
from musclewood.profiles.journal.journal import Journal
from musclewood.profiles.journal.records import SessionStart
from musclewood.profiles.orders.prescription import parse, read_text
from musclewood.profiles.trust.backup import make_backup
from musclewood.profiles.trust.key_file import LOWEST
from musclewood.profiles.trust.keys import ClinicKeys
from musclewood.profiles.trust.signature import sign
from musclewood.profiles.trust.succession import vouched_for, vouching_line

TODAY = date(2026, 11, 25)
KNEE = "weak-thigh-after-knee-operation"
PASSPHRASE = "twig lantern kettle plank"


def a_desk(root: Path, exchange: Path) -> Clinic:
    exchange.mkdir(exist_ok=True)
    clinic = Clinic(root)
    clinic.save_settings(DeskSettings(clinic="Hornbeam practice", exchange=str(exchange)))
    return clinic


def issue(clinic: Clinic, keys: ClinicKeys, code: str = "HB-0042") -> int:
    orders = clinic.orders(code)
    draft = (
        clinic.draft_from_last(code, TODAY)
        if orders
        else clinic.draft_from_template(KNEE, code, TODAY).set("muscles.0.side", "left")
    )
    issued = clinic.issue(draft, keys)
    assert issued.delivered, issued.trouble
    return issued.prescription.revision


def visit(home: Home, exchange: Path, **changes: Any) -> Any:
    place = LocalPlace(exchange)
    return home_exchange.visit(home, place, today=TODAY, patient="HB-0042", **changes).fetched["HB-0042"]


def play(home: Home, hour: int) -> None:
    prescription = parse(read_text(home.prescription_of("HB-0042")))
    started = datetime(2026, 11, 25, hour, tzinfo=UTC).isoformat()
    with Journal.open(home.journal_path("HB-0042")) as journal:
        journal.begin_session(SessionStart("HB-0042", prescription.revision, "ble", started, "Europe/Prague"))
        hand_over(journal, prescription, home)


def test_a_key_that_is_changed_in_good_order_needs_no_visit(tmp_path: Path) -> None:
    exchange, home = tmp_path / "exchange", Home(tmp_path / "home")
    clinic = a_desk(tmp_path / "desk", exchange)
    old = clinic.make_key(PASSPHRASE, LOWEST)
    issue(clinic, old)
    visit(home, exchange, confirm=lambda _: True)
    play(home, 9)
    new = clinic.change_key(PASSPHRASE, LOWEST)
    assert new.identity != old.identity and clinic.unlock(PASSPHRASE).identity == new.identity
    assert issue(clinic, new) == 2
    # The new key's words are shown once, and nobody has to ask for another clinic.
    shown: list[Any] = []
    assert isinstance(visit(home, exchange).refused[0].reason, NotConfirmedError)
    fetched = visit(home, exchange, confirm=lambda introduction: shown.append(introduction) or True)
    assert fetched.admission.prescription.revision == 2 and not fetched.refused
    assert [one.words for one in shown] == [clinic.words()]
    assert issue(clinic, new) == 3
    assert visit(home, exchange).admission.prescription.revision == 3
    # What was sealed to the old key before the change opens, and so does what comes after it.
    visit(home, exchange)
    play(home, 12)
    visit(home, exchange)
    assert len(clinic.collect(clinic.unlock(PASSPHRASE), TODAY, confirm=lambda _: True).received) == 2
    clinic.relock(PASSPHRASE, "four other plain words", LOWEST)
    assert len(clinic.unlock("four other plain words").earlier) == 1


def test_nobody_but_the_old_key_can_vouch(tmp_path: Path) -> None:
    exchange, home = tmp_path / "exchange", Home(tmp_path / "home")
    clinic = a_desk(tmp_path / "desk", exchange)
    old = clinic.make_key(PASSPHRASE, LOWEST)
    issue(clinic, old)
    visit(home, exchange, confirm=lambda _: True)
    thief = ClinicKeys(bytes(range(32)))
    text = next((exchange / "to-home" / "HB-0042").iterdir()).read_bytes().replace(b"revision = 1", b"revision = 7")
    body = text[: text.index(b"# musclewood-signature")]
    lines = [vouching_line(thief, thief.identity), vouching_line(old, ClinicKeys.new().identity), b""]
    for number, line in enumerate(lines):
        signed = sign(body + line, thief)
        (exchange / "to-home" / "HB-0042" / f"HB-0042-000{number + 3}.prescription.toml").write_bytes(signed)
    fetched = visit(home, exchange, confirm=lambda _: True)
    assert fetched.admission.prescription.revision == 1
    assert [type(refusal.reason) for refusal in fetched.refused] == [AnotherClinicError] * 3
    assert not vouched_for(b"# musclewood-successor/1 " + b"=" * 88 + b" " + b"A" * 88, old.identity, thief.identity)


@pytest.mark.parametrize("step", range(3))
def test_a_change_of_keys_that_was_cut_off_is_begun_again(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, step: int
) -> None:
    clinic = a_desk(tmp_path / "desk", tmp_path / "exchange")
    old = clinic.make_key(PASSPHRASE, LOWEST)
    real, calls = module.write_whole, []

    def cut(path: Path, content: bytes, **options: Any) -> None:
        if len(calls) == step:
            raise KeyboardInterrupt
        calls.append(path)
        real(path, content, **options)

    with monkeypatch.context() as patch, pytest.raises(KeyboardInterrupt):
        patch.setattr(module, "write_whole", cut)
        clinic.change_key(PASSPHRASE, LOWEST)
    assert clinic.unlock(PASSPHRASE).identity == old.identity
    assert clinic.change_key(PASSPHRASE, LOWEST).earlier[0].identity == old.identity


def test_a_second_desk_takes_the_keys_from_a_backup(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Also one that has none yet; never older ones, nor another clinic's; and cut off in
    between, nothing has changed."""
    exchange, home, backup = tmp_path / "exchange", Home(tmp_path / "home"), tmp_path / "desk.backup"
    first, second = (a_desk(tmp_path / name, exchange) for name in ("first", "second"))
    old = first.make_key(PASSPHRASE, LOWEST)
    before = tmp_path / "before.backup"
    make_backup(first.root, before, "desk", PASSPHRASE, LOWEST)
    second.take_keys(before, PASSPHRASE)
    assert second.unlock(PASSPHRASE).identity == old.identity
    issue(first, old)
    visit(home, exchange, confirm=lambda _: True)
    play(home, 9)
    visit(home, exchange)
    first.change_key(PASSPHRASE, LOWEST)
    make_backup(first.root, backup, "desk", PASSPHRASE, LOWEST)
    real = module.write_whole
    with monkeypatch.context() as patch, pytest.raises(KeyboardInterrupt):
        patch.setattr(module, "write_whole", lambda path, content: stopped(path) or real(path, content))
        second.take_keys(backup, PASSPHRASE)
    assert second.unlock(PASSPHRASE).identity == old.identity
    second.take_keys(backup, PASSPHRASE)
    taken = second.unlock(PASSPHRASE)
    assert taken.identity == first.unlock(PASSPHRASE).identity and [one.identity for one in taken.earlier] == [
        old.identity
    ]
    assert len(second.collect(taken, TODAY, confirm=lambda _: True).received) == 1, "sealed to the key before"
    assert issue(second, taken) == 2
    assert visit(home, exchange, confirm=lambda _: True).admission.prescription.revision == 2
    with pytest.raises(BackupError, match="older than this desk's"):
        first.take_keys(before, PASSPHRASE)
    another = a_desk(tmp_path / "another", exchange)
    another.make_key(PASSPHRASE, LOWEST)
    with pytest.raises(BackupError, match="another clinic's"):
        another.take_keys(backup, PASSPHRASE)
    with pytest.raises(BackupError, match="passphrase"):
        second.take_keys(backup, "twig lantern kettle blank")


def stopped(path: Path) -> None:
    """As a power cut before the last write, that of the key which signs."""
    if path.name == module.KEY_NAME:
        raise KeyboardInterrupt


def test_two_desks_go_on_from_the_newest_of_either(tmp_path: Path) -> None:
    exchange = tmp_path / "exchange"
    first, second = (a_desk(tmp_path / name, exchange) for name in ("first", "second"))
    keys = first.make_key(PASSPHRASE, LOWEST)
    second.key_path.parent.mkdir(exist_ok=True)
    second.key_path.write_bytes(first.key_path.read_bytes())
    issue(first, keys)
    draft = second.draft_from_last("HB-0042", TODAY).set("exercises.0.reps", 8)
    assert second.issue(draft, keys).prescription.revision == 2
    later = first.draft_from_last("HB-0042", TODAY)
    assert later.value("exercises.0.reps") == 8
    # Both sign at the same time: one of them is asked to look again, and nothing is left that nobody saw.
    one, two = first.draft_from_last("HB-0042", TODAY), second.draft_from_last("HB-0042", TODAY)
    assert first.issue(one, keys).prescription.revision == 3
    with pytest.raises(RevisionConflictError, match="another desk"):
        second.issue(two, keys)
    assert issue(second, keys) == 4 and first.deliver() == [] and second.deliver() == []


def test_a_computer_that_was_set_back_sends_as_a_new_one(tmp_path: Path) -> None:
    exchange, home = tmp_path / "exchange", Home(tmp_path / "home")
    clinic = a_desk(tmp_path / "desk", exchange)
    keys = clinic.make_key(PASSPHRASE, LOWEST)
    issue(clinic, keys)
    visit(home, exchange, confirm=lambda _: True)
    sender = home.trust / "HB-0042.sender.json"
    play(home, 9)
    before = sender.read_bytes().replace(b'"sequence": 1', b'"sequence": 0')
    visit(home, exchange)
    assert len(clinic.collect(keys, TODAY, confirm=lambda _: True).received) == 1
    sender.write_bytes(before)  # the backup
    play(home, 12)
    visit(home, exchange)
    collected = clinic.collect(keys, TODAY, confirm=lambda _: True)
    assert not collected.received and "started as a new sender" in str(collected.refused[0].reason)
    words = send_anew(home, "HB-0042")
    visit(home, exchange)
    asked: list[Any] = []
    collected = clinic.collect(keys, TODAY, confirm=lambda new: asked.append(new) or True)
    assert len(collected.received) == 1 and asked[0].words == words and asked[0].further
    assert len(clinic.done("HB-0042").sessions) == 2
