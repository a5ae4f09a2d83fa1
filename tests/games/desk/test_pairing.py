"""The patient's computer is paired on the spot, by keyboard and by mouse: the order on a stick, both sides' words
compared, and later nothing is asked."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

import pygame
import pytest
from musclewood.games.desk.form.pairing import PairingPage
from musclewood.games.desk.pages.collecting import CollectPage
from musclewood.games.home.places import exchange_on_a_stick
from musclewood.games.home.post import Post
from musclewood.profiles.clinic.clinic import Clinic, Issued
from musclewood.profiles.errors import SetAsideError, UnknownHomeError
from musclewood.profiles.exchange.folder import send_handovers
from musclewood.profiles.exchange.places import LocalPlace
from musclewood.profiles.exchange.reception import NewSender
from musclewood.profiles.home.homes import Home
from musclewood.profiles.trust.pins import PinFolder
from musclewood.profiles.trust.senders import SenderFolder, sealer

PASSPHRASE, CODE = "four quiet hornbeam leaves", "HB-0042"
TODAY = date(2026, 11, 25)


@pytest.fixture
def stick(tmp_path: Path) -> Path:
    """A stick as udisks shows it: in a folder of the user's."""
    made = tmp_path / "media" / "tester" / "BLUE"
    made.mkdir(parents=True)
    return made


@pytest.fixture
def issued(clinic: Clinic) -> Issued:
    draft = clinic.draft_from_template("weak-thigh-after-knee-operation", CODE, TODAY).set("muscles.0.side", "left")
    return clinic.issue(draft, clinic.make_key(PASSPHRASE))


@pytest.mark.parametrize("by", ["keyboard", "mouse"])
def test_paired_in_the_room(
    by: str, hands: Callable[..., Any], clinic: Clinic, issued: Issued, stick: Path, tmp_path: Path
) -> None:
    at = hands()
    page = PairingPage(at.app.around, at.app.office, issued, [str(tmp_path / "media")])
    at.app.stack.append(page)
    choose = at.enter if by == "keyboard" else at.press
    choose("stick:0")
    assert page.step == "compare" and page.focus == ""  # Enter alone says nothing of the words
    assert clinic.settings.exchange == str(stick / "musclewood")
    home = Home(tmp_path / "home")
    home.create()
    post = Post(home, lambda: TODAY, show=lambda path: False, media=[str(tmp_path / "media")])
    (letter,) = stick.glob("*.prescription.toml")
    asked = post.receive(str(letter)).asks
    assert asked is not None and asked.words == clinic.words()
    own = post.receive(str(letter), asked.words).own_words
    choose("yes")
    if by == "mouse":
        choose("words")
    at.type(" ".join(word[:3] for word in own[:-1]))
    at.key(pygame.K_RETURN)
    assert page.step == "theirs" and "9" in page.trouble
    at.type(" zzz")
    at.key(pygame.K_RETURN)
    assert "zzz" in page.trouble
    for _ in range(3):
        at.key(pygame.K_BACKSPACE)
    at.type(own[-1])
    at.key(pygame.K_RETURN) if by == "keyboard" else choose("take")
    assert page.step == "done" and clinic.expected.knows(NewSender(CODE, own, False))
    choose("done")
    assert at.screen() == "PatientsPage"
    _comes_without_a_question(clinic, home, exchange_on_a_stick([str(tmp_path / "media")]))


def test_what_comes_back_on_the_stick_is_collected_beside_the_named_folder(
    hands: Callable[..., Any], clinic: Clinic, issued: Issued, stick: Path, tmp_path: Path
) -> None:
    (tmp_path / "shared").mkdir()
    clinic.save_settings(clinic.settings.model_copy(update={"exchange": str(tmp_path / "shared")}))
    clinic.carry(issued, stick)
    assert clinic.settings.exchange == str(tmp_path / "shared")
    home = Home(tmp_path / "home")
    own = _takes_the_letter(home, stick)
    _sent(home, stick / "musclewood")
    at = hands()
    page = CollectPage(at.app.around, at.app.office, [str(tmp_path / "media")])
    at.app.stack.append(page)
    at.type(PASSPHRASE)
    at.key(pygame.K_RETURN)
    at.wait()
    assert [one.words for one in page.asked] == [own]


def test_words_that_are_not_the_same_pair_nobody(
    hands: Callable[..., Any], clinic: Clinic, issued: Issued, stick: Path, tmp_path: Path
) -> None:
    at = hands()
    page = PairingPage(at.app.around, at.app.office, issued, [str(tmp_path / "media")])
    at.app.stack.append(page)
    at.press("stick:0")
    at.press("no")
    assert page.step == "way" and page.trouble and not (clinic.root / "expected.json").exists()
    stranger = Home(tmp_path / "stranger")
    _takes_the_letter(stranger, stick)
    (refusal,) = _collected(clinic, stranger, stick / "musclewood")
    assert isinstance(refusal, UnknownHomeError)


def _takes_the_letter(home: Home, stick: Path) -> str:
    """A new home opens the letter on the stick and says that the ten words are the same; its own words."""
    home.create()
    post = Post(home, lambda: TODAY, show=lambda path: False, media=[])
    (letter,) = stick.glob("*.prescription.toml")
    asked = post.receive(str(letter)).asks
    assert asked is not None
    return post.receive(str(letter), asked.words).own_words


def _comes_without_a_question(clinic: Clinic, home: Home, exchange: Path | None) -> None:
    assert exchange is not None
    (refusal,) = _collected(clinic, home, exchange)
    assert isinstance(refusal, SetAsideError)  # it was opened, and only then found to be no package


def _collected(clinic: Clinic, home: Home, exchange: Path) -> list[Exception]:
    """What becomes of a sealed parcel from this home, with nobody there to ask."""
    _sent(home, exchange)
    collected = clinic.collect(clinic.unlock(PASSPHRASE), TODAY)
    return [one.reason for one in collected.refused]


def _sent(home: Home, exchange: Path) -> None:
    seal = sealer(CODE, PinFolder(home.trust), SenderFolder(home.trust), made=datetime(2026, 11, 25, 12, tzinfo=UTC))
    (home.outbox / f"{CODE}-parcel.sealed").write_bytes(seal(b"no package"))
    assert send_handovers(home.outbox, LocalPlace(exchange))
