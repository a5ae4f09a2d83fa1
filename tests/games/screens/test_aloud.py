"""What is read aloud: all that is to be read, once, in the order it is read in; and by any device one can say so."""

from __future__ import annotations

import tomllib
from collections.abc import Callable, Iterator
from dataclasses import replace
from typing import Any

import pygame
import pytest
from musclewood.games.kit.canvas import Box
from musclewood.games.kit.settings import LOUDEST
from musclewood.games.kit.widgets import Widget
from musclewood.games.screens.aloud import Aloud, Said
from musclewood.games.screens.village.hearing import MOVES_ON_S, HearingPage
from musclewood.games.screens.village.today import TodayPage
from musclewood.games.sound import engines
from musclewood.games.sound.engines import Engine
from musclewood.games.sound.speech import Reader


def slip(text: str, top: float = 0.0, left: float = 0.0, **changes: Any) -> Widget:
    return Widget(Box(left, top, 100, 40), tuple(text.split("\n")), **changes)


def test_a_page_is_read_as_one_reads_and_then_what_is_about_to_be_chosen() -> None:
    widgets = [slip("Go on", 300, key="go"), slip("Beside it", 105, 400), slip("Below\nof it.", 100), slip("Title", 10)]
    assert Aloud().step("page", widgets, "go") == [
        Said("Title. Below of it. Beside it.", "now"),
        Said("Go on", "after"),
    ]


def test_only_what_is_new_is_said_and_what_moves_is_said_at_once() -> None:
    aloud, first = Aloud(), [slip("Hold.", aloud="next"), slip("1 of 5 made"), slip("8 s", running=True)]
    aloud.step("page", first, "")
    assert aloud.step("page", first, "") == []
    later = [slip("Let go.", aloud="now"), slip("2 of 5 made"), slip("7 s", running=True)]
    assert aloud.step("page", later, "") == [Said("Let go.", "now"), Said("2 of 5 made", "after")]
    tags = [*later, slip("Stop", 600, key="stop"), slip("", 600, 300, key="3", label="three")]
    assert aloud.step("page", tags, "stop") == [Said("Stop", "now")]
    assert aloud.step("page", tags, "3") == [Said("three", "now")]
    changed = [replace(tag, label="four") if tag.key == "3" else tag for tag in tags]
    assert aloud.step("page", changed, "3") == [Said("four", "now")], "a choice whose words change is read anew"
    assert aloud.step("another", changed, "3")[0].manner == "now"


def test_a_rest_says_its_seconds_once() -> None:
    aloud = Aloud()
    aloud.step("page", [slip("Hold.", aloud="next")], "")
    said = [aloud.step("page", [slip(f"{left} s", running=True)], "") for left in (30, 29, 28)]
    assert said == [[Said("30 s", "after")], [], []]


class Heard(Reader):
    """A voice that keeps what it was to say."""

    def __init__(self) -> None:
        super().__init__(Engine("keeps", lambda language: []), None)  # type: ignore[arg-type]
        self.said: list[tuple[str, str, str]] = []

    def say(self, text: str, language: str, manner: str = "after") -> None:
        self.said.append((text, language, manner))

    def hush(self) -> None:
        self.said.append(("", "", "hush"))

    def close(self) -> None: ...


@pytest.fixture
def asked(launcher: Callable[..., Any]) -> Iterator[Any]:
    """The launcher at its first start, with a voice that can be looked at."""
    village = launcher()
    village.app._reader = village.voice = Heard()
    village.app.ask_for_hearing()
    village.app.draw()
    yield village


def seen(village: Any, seconds: float = 1.0) -> None:
    village.app.draw()
    village.run(seconds)
    village.app.draw()


def key(village: Any, code: int) -> None:
    village.app.step([pygame.event.Event(pygame.KEYDOWN, key=code, mod=0)], 0.0)
    village.app.step([pygame.event.Event(pygame.KEYUP, key=code, mod=0)], 0.0)


def test_the_first_question_is_spoken_with_nothing_chosen_and_asked_once(asked: Any) -> None:
    app = asked.app
    assert isinstance(app.top, HearingPage) and app.top.focus == ""
    seen(asked, 0.8)
    assert asked.voice.said[0] == (
        "Shall I read everything aloud? You can change this in the settings.", "en", "now"
    )  # fmt: skip
    key(asked, pygame.K_RETURN)
    assert isinstance(app.top, HearingPage), "nothing was chosen yet"
    key(asked, pygame.K_TAB)
    seen(asked)
    assert asked.voice.said[-1] == ("Yes, read aloud", "en", "now")
    key(asked, pygame.K_RETURN)
    assert isinstance(app.top, TodayPage)
    assert tomllib.loads(app._path.read_text())["read_aloud"] == "on"
    seen(asked)
    assert any("awaits you today" in text for text, _, _ in asked.voice.said)
    app.ask_for_hearing()
    assert isinstance(app.top, TodayPage)


def test_one_key_is_enough_for_the_first_question(asked: Any) -> None:
    """Its answers are offered one after the other while nobody moves."""
    seen(asked, MOVES_ON_S + 0.2)
    assert asked.app.top.focus == "yes"
    seen(asked, MOVES_ON_S)
    assert asked.app.top.focus == "no"
    seen(asked, MOVES_ON_S)
    key(asked, pygame.K_SPACE)
    assert asked.app.around.theme.words.language == "de", "the other language is offered too"
    key(asked, pygame.K_SPACE)
    seen(asked, 2 * MOVES_ON_S + 0.3)
    assert asked.app.top.focus == "no"
    key(asked, pygame.K_SPACE)
    assert asked.app.around.theme.settings.read_aloud == "off"
    said = len(asked.voice.said)
    seen(asked)
    assert len(asked.voice.said) == said, "nothing is read to those who read"


def test_without_a_voice_it_says_so_once(launcher: Callable[..., Any], monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(engines, "of_this_system", lambda: None)
    village = launcher()
    village.app.ask_for_hearing()
    seen(village)
    page = village.app.top
    assert isinstance(page, HearingPage) and [widget.key for widget in page.choices()] == ["go-on", "language"]
    key(village, pygame.K_TAB)
    key(village, pygame.K_RETURN)
    assert village.app.around.theme.settings.read_aloud == "off"
    key(village, pygame.K_r)
    assert village.app.around.theme.settings.read_aloud == "off"
    village.app.ask_for_hearing()
    assert isinstance(village.app.top, TodayPage)


def test_keys_make_it_louder_softer_and_read_aloud_anywhere(launcher: Callable[..., Any]) -> None:
    village = launcher()
    app = village.app
    app._reader = voice = Heard()
    app.draw()
    for _ in range(LOUDEST + 2):
        key(village, pygame.K_MINUS)
    assert app.around.theme.settings.volume == 0 and app.around.speaker.silent
    assert app._note == "Sound (+ −): off"
    key(village, pygame.K_PLUS)
    assert tomllib.loads(app._path.read_text())["volume"] == 1
    key(village, pygame.K_r)
    assert app.around.theme.settings.read_aloud == "on" and voice.said
    key(village, pygame.K_r)
    assert app.around.theme.settings.read_aloud == "off" and voice.said[-1][2] == "hush"


def test_a_window_that_was_put_away_says_nothing_and_begins_anew_when_it_is_back(asked: Any) -> None:
    seen(asked, 0.8)
    asked.app.around.seen = False
    said = len(asked.voice.said)
    asked.run(2.5 * MOVES_ON_S)
    assert len(asked.voice.said) == said
    asked.app.around.seen = True
    seen(asked)
    assert asked.voice.said[said][0].startswith("Shall I read everything aloud?")
