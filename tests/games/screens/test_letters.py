"""A patient lets the clinic's file in by dropping it on the window, and compares the words by telephone."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from datetime import date
from pathlib import Path

import musclewood.games.__main__ as program
import pygame
import pytest
from musclewood.games.commands import launcher
from musclewood.games.home.post import Post
from musclewood.games.home.prescribed import agreed
from musclewood.games.kit.settings import Settings, save
from musclewood.games.screens.app import App
from musclewood.games.screens.base.day import nothing_ordered
from musclewood.games.screens.village.letters import LettersPage
from musclewood.games.screens.village.today import TodayPage
from musclewood.profiles.home.homes import Home
from musclewood.profiles.orders.prescription import dump
from musclewood.profiles.orders.templates import template
from musclewood.profiles.trust.keys import ClinicKeys
from musclewood.profiles.trust.pins import PinFolder
from musclewood.profiles.trust.signature import sign
from musclewood.profiles.trust.words import to_words

TODAY = date(2026, 11, 25)
HORNBEAM, STRANGER = ClinicKeys(bytes(range(32))), ClinicKeys(bytes(range(1, 33)))


def letter(path: Path, keys: ClinicKeys | None = HORNBEAM, revision: int = 1) -> Path:
    order = template("weak-thigh-after-knee-operation").model_copy(
        update={"revision": revision, "issued": TODAY, "review": date(2027, 1, 11), "expires": None}
    )
    content = dump(order).encode()
    path.write_bytes(sign(content, keys) if keys else content)
    return path


@pytest.fixture
def home(tmp_path: Path) -> Home:
    home = Home(tmp_path / "home")
    home.create()
    return home


@pytest.fixture
def window(home: Home) -> Iterator[Callable[[], App]]:
    opened: list[App] = []

    def build() -> App:
        def first(app: App) -> TodayPage:
            day = nothing_ordered(app.keep)
            day.post = Post(home, lambda: TODAY)
            return TodayPage(app.around, day)

        opened.append(App(first, home.settings_path, size=(640, 360)))
        return opened[-1]

    yield build
    for app in opened:
        app.close()


def drop(app: App, path: Path) -> LettersPage:
    app.step([pygame.event.Event(pygame.DROPFILE, file=str(path))], 0.0)
    return settled(app)


def settled(app: App) -> LettersPage:
    page = app.top
    assert isinstance(page, LettersPage)
    for _ in range(400):
        app.step([], 0.01)
        app.draw()
        if page.answer is not None and not page.state()[1]:  # type: ignore[index]
            return page
        time.sleep(0.01)
    raise AssertionError("the letter was never read")


def press(app: App, key: str) -> None:
    app.draw()
    box = next(widget.box for widget in app.top.choices() if widget.key == key)
    at = tuple(value * app.canvas.scale + shift for value, shift in zip(box.centre, app.canvas.offset, strict=True))
    app.step([pygame.event.Event(pygame.MOUSEBUTTONDOWN, button=1, pos=at)], 0.0)


def read_on(page: LettersPage) -> str:
    return " ".join(line for widget in page.shown() for line in widget.lines)


def test_words_are_compared_before_a_clinic_is_trusted(window: Callable[[], App], home: Home, tmp_path: Path) -> None:
    app = window()
    page = drop(app, letter(tmp_path / "plan.toml"))
    shown = read_on(page)
    assert all(word in shown for word in to_words(HORNBEAM.identity.fingerprint))
    assert not home.patients()
    press(app, "same")
    assert len(settled(app).answer.own_words) == 10  # type: ignore[union-attr]
    assert home.patients()
    press(app, "begin")
    assert app.leaving and page.post.changed


def test_an_unsigned_plan_needs_a_yes_that_enter_does_not_give(
    window: Callable[[], App], home: Home, tmp_path: Path
) -> None:
    app = window()
    page = drop(app, letter(tmp_path / "plan.toml", None))
    shown = read_on(page)
    assert "Nobody signed this plan" in shown and "not whole" in shown
    assert all(one.title in shown for one in template("weak-thigh-after-knee-operation").exercises)
    app.step([pygame.event.Event(pygame.KEYDOWN, key=pygame.K_RETURN, mod=0, unicode="\r")], 0.0)
    assert not home.patients() and not page.post.changed
    press(app, "not-unsigned")
    assert "Nobody signed this plan" in read_on(settled(app)) and not home.patients()
    drop(app, letter(tmp_path / "plan.toml", None))
    press(app, "although")
    settled(app)
    assert home.patients() and page.post.changed


def test_half_of_a_signed_plan_is_not_asked_about(window: Callable[[], App], home: Home, tmp_path: Path) -> None:
    app = window()
    path = letter(tmp_path / "plan.toml")
    path.write_bytes(path.read_bytes()[: path.read_bytes().rindex(b"[[exercises]]")])
    assert "not whole" in read_on(drop(app, path)) and not home.patients()


def test_other_words_change_nothing(window: Callable[[], App], home: Home, tmp_path: Path) -> None:
    app = window()
    page = drop(app, letter(tmp_path / "plan.toml"))
    press(app, "not-same")
    assert "Nothing was changed" in read_on(settled(app))
    assert not home.patients() and not page.post.changed and not PinFolder(home.trust).ever_paired()


def test_another_clinic_is_refused_until_the_patient_says_so(
    window: Callable[[], App], home: Home, tmp_path: Path
) -> None:
    app = window()
    drop(app, letter(tmp_path / "plan.toml"))
    press(app, "same")
    settled(app)
    page = drop(app, letter(tmp_path / "other.toml", STRANGER, revision=5))
    assert "not from your clinic" in read_on(page)
    press(app, "new-clinic")
    assert all(word in read_on(settled(app)) for word in to_words(STRANGER.identity.fingerprint))


@pytest.mark.parametrize(
    ("spoil", "sentence"),
    [
        (lambda path: letter(path, None), "Nobody signed this plan"),
        (lambda path: path.write_bytes(letter(path, revision=3).read_bytes()[:-40]), "not whole"),
        (lambda path: letter(path, revision=1), "newer plan is already here"),
    ],
    ids=["unsigned", "half", "older"],
)
def test_what_cannot_be_taken_in_is_said(
    window: Callable[[], App], home: Home, tmp_path: Path, spoil: Callable[[Path], object], sentence: str
) -> None:
    app = window()
    drop(app, letter(tmp_path / "plan.toml", revision=2))
    press(app, "same")
    settled(app)
    before = home.prescription_of(home.patients()[0]).read_bytes()
    path = tmp_path / "next.toml"
    spoil(path)
    assert sentence in read_on(drop(app, path))
    assert home.prescription_of(home.patients()[0]).read_bytes() == before


def test_a_folder_is_visited_once_somebody_is_paired(window: Callable[[], App], home: Home, tmp_path: Path) -> None:
    app = window()
    folder = tmp_path / "exchange"
    folder.mkdir()
    assert "First drop the file" in read_on(drop(app, folder))
    drop(app, letter(tmp_path / "plan.toml"))
    press(app, "same")
    settled(app)
    assert "nothing new" in read_on(drop(app, folder))
    assert Post(home, lambda: TODAY).address == str(folder)


def test_a_file_that_is_opened_with_the_program_is_a_letter(
    home: Home, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The way of a double click: the file's name is all that the program is given."""
    seen: list[str] = []

    def run(app: App) -> None:
        seen.append(read_on(settled(app)))
        app.close()

    monkeypatch.setattr(App, "run", run)
    monkeypatch.setattr(launcher, "has_display", lambda: True)
    monkeypatch.setattr(program, "has_display", lambda: False)  # the dummy driver shows no evening
    save(Settings(read_aloud="off"), home.settings_path)  # asked and answered
    monkeypatch.setenv("MUSCLEWOOD_HOME", str(home.root))
    assert program.main([str(letter(tmp_path / "plan.prescription.toml"))]) == 0
    assert all(word in seen[0] for word in to_words(HORNBEAM.identity.fingerprint))
    assert not home.patients()


def test_an_order_put_there_by_hand_waits_for_a_yes(home: Home, monkeypatch: pytest.MonkeyPatch) -> None:
    """The launcher asks about it as about a letter, and plays it from the yes on, also at the next start."""
    letter(home.prescription_of("HB-0042"), None)
    said: list[str] = []
    answer = "not-unsigned"

    def run(app: App) -> None:
        app.draw()
        if isinstance(app.top, LettersPage):
            settled(app)
            press(app, answer)
            assert settled(app).answer.unsigned is None
        said.append(type(app.top).__name__)

    monkeypatch.setattr(App, "run", run)
    monkeypatch.setattr(launcher, "has_display", lambda: True)
    monkeypatch.setattr(program, "has_display", lambda: False)
    save(Settings(read_aloud="off"), home.settings_path)  # asked and answered
    monkeypatch.setenv("MUSCLEWOOD_HOME", str(home.root))
    assert program.main([]) == 0 and said == ["LettersPage"]
    assert not agreed(home.prescription_of("HB-0042"), home)
    answer = "although"
    assert program.main([]) == 0 and said[1:] == ["LettersPage", "TodayPage"], "asked, then opened on it"
    assert program.main([]) == 0 and said[3:] == ["TodayPage"]
    letter(home.prescription_of("HB-0042"), None, revision=2)
    assert not agreed(home.prescription_of("HB-0042"), home), "a yes is to one file, not to whatever comes after it"


def test_what_was_done_is_packed_before_it_is_said_that_nothing_waits(home: Home, tmp_path: Path) -> None:
    """A session of this evening goes with the visit; what no key seals waits, and is said to."""
    (place := tmp_path / "exchange").mkdir()
    packed: list[str] = []

    def pack() -> None:
        packed.append("evening")
        (home.outbox / "musclewood-HB-0042-1.zip").write_bytes(b"not sealed")

    post = Post(home, lambda: TODAY, pack)
    post.receive(str(letter(tmp_path / "b.toml")), to_words(HORNBEAM.identity.fingerprint))
    assert home.patients() and packed == []  # a letter alone sends nothing
    told = [key for key, _ in post.receive(str(place)).told]
    assert packed == ["evening"] and told[-1] == "waits-unsealed"


def test_nothing_is_said_to_be_sent_that_could_not_be_packed(home: Home, tmp_path: Path) -> None:
    (place := tmp_path / "exchange").mkdir()

    def pack() -> None:
        raise OSError("the disk is full")

    post = Post(home, lambda: TODAY, pack)
    post.receive(str(letter(tmp_path / "b.toml")), to_words(HORNBEAM.identity.fingerprint))
    assert [key for key, _ in post.receive(str(place)).told][-1] == "not-packed"
