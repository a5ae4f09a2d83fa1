"""What stands on the screen is true and complete: cautions, endings, and to breathe."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import Any, cast

import pygame
import pytest
from musclewood.assets.saying import catalogue
from musclewood.games.engine.endings import KEPT, Outcome
from musclewood.games.gallery.evenings import evening
from musclewood.games.gallery.gallery import StillPlay, _still, a_day, states
from musclewood.games.kit.canvas import Canvas
from musclewood.games.kit.controls import Act, Intent
from musclewood.games.kit.settings import Settings, load, save
from musclewood.games.kit.words import LANGUAGES, Words
from musclewood.games.screens.base.day import name_of
from musclewood.games.screens.base.page import Back, Page, Surroundings
from musclewood.games.screens.session.sayings import breathes
from musclewood.games.screens.session.wrap_up import WrapUpPage
from musclewood.games.screens.village.cautions import PAGES, CautionsPage
from musclewood.profiles.orders.prescription import Prescription

ORDER = "HB-0042 2 2026-11-01"
README = Path(__file__).resolve().parents[3] / "README.md"
# What each caution of the README is about, and the word that says it there and on the screen.
CAUTIONS = (
    "not a medical device", "conformity with no standard", "licensed professional", "your therapist", "Local rules",
    "licensed practice", "dizziness", "chest pain", "skin reaction", "tell your therapist", "implanted device",
    "pacemaker", "pregnan", "surgery", "broken", "irritated", "infected", "adhesive", "Breathe on", "strong holds",
    "hold your breath", "battery", "charges",
)  # fmt: skip


def seen(page: Page) -> str:
    page.lay_out(Canvas(pygame.Surface((320, 180))))
    return " ".join(line for widget in page.shown() for line in widget.lines)


def test_every_caution_of_the_readme_is_on_the_screen() -> None:
    """All of them in both; whoever adds one to the README has to add it to the list above."""
    told = README.read_text("utf-8").split("## Cautions")[1].split("## At home")[0]
    screen = " ".join(Words()(f"cautions.{key}") for page in PAGES for key in page)
    for word in CAUTIONS:
        assert word.lower() in " ".join(told.lower().split()), f"{word}: not in the README"
        assert word.lower() in screen.lower(), f"{word}: not on the screen"
    assert told.count("\n- ") == 5, "a caution was added or taken away"


def test_three_quick_presses_do_not_pass_the_cautions(around: Callable[..., Surroundings]) -> None:
    kept: list[Settings] = []
    day = a_day()
    day.order_name, day.keep = ORDER, kept.append
    page = CautionsPage(around(), day)
    for _ in range(30):  # ten a second for three seconds, by key and by finger
        seen(page)
        page.handle(Intent(Act.CHOOSE))
        page.handle(Intent(Act.PRESS, "pointer", (300.0, 640.0)))
        page.update(0.1)
    assert page.number == 0 and not kept


def test_each_page_is_shown_for_a_slow_reader_and_a_new_order_asks_again(around: Callable[..., Surroundings]) -> None:
    """175 words a minute, the slow end of what most adults read (Brysbaert 2019)."""
    kept: list[Settings] = []
    day = a_day()
    day.order_name, day.keep = ORDER, kept.append
    page, spent_s = CautionsPage(around(), day), 0.0
    for number in range(len(PAGES)):
        words = sum(len(Words()(f"cautions.{key}").split()) for key in PAGES[number])
        assert page.number == number and page.needed_s >= 60 * words / 175
        seen(page)
        while not page.readable:
            page.update(0.1)
            spent_s += 0.1
        seen(page)
        assert page.focus == "next"
        done = page.handle(Intent(Act.CHOOSE))
    assert isinstance(done, Back) and spent_s > 30
    settings = kept[-1]
    assert settings.cautions_for == (ORDER,)
    assert CautionsPage(around(settings), day).readable
    day.order_name = "HB-0042 3 2026-12-01"
    assert not CautionsPage(around(settings), day).readable
    both = settings.confirmed("HB-0104 1 2026-11-02").confirmed(day.order_name)
    assert both.cautions_for == ("HB-0104 1 2026-11-02", day.order_name)


def read_to_the_end(launcher: Any) -> None:
    """Watch the cautions until nothing but an answer is missing."""
    page = launcher.app.top
    assert isinstance(page, CautionsPage)
    for _ in range(300):
        launcher.app.draw()
        launcher.run(0.25)
        if page.last and page.readable:
            return
    raise AssertionError(f"page {page.number} does not turn")


def watched(page: CautionsPage, seconds: float) -> list[int]:
    """Which page was in sight, ten times a second."""
    numbers = []
    for _ in range(round(10 * seconds)):
        seen(page)
        numbers.append(page.number)
        page.update(0.1)
    return numbers


def test_the_pages_turn_by_themselves_in_no_less_time_and_nothing_is_confirmed(
    around: Callable[..., Surroundings],
) -> None:
    kept: list[Settings] = []
    day = a_day()
    day.order_name, day.keep = ORDER, kept.append
    page = CautionsPage(around(), day)
    numbers = watched(page, 120.0)
    assert list(dict.fromkeys(numbers)) == list(range(len(PAGES))), "one after the other, and no further than the last"
    for number in range(len(PAGES)):
        words = sum(len(Words()(f"cautions.{key}").split()) for key in PAGES[number])
        assert numbers.count(number) / 10 >= 60 * words / 175, "as long as a slow reader needs"
    assert not kept and page.focus == "next"
    assert isinstance(page.handle(Intent(Act.CHOOSE)), Back) and kept[-1].cautions_for == (ORDER,)


def test_whoever_stays_or_turns_back_turns_the_pages_from_there(around: Callable[..., Surroundings]) -> None:
    page = CautionsPage(around(), a_day())
    assert page.chosen("stay") is None
    assert set(watched(page, 40.0)) == {0} and page.readable
    page.chosen("next")
    assert set(watched(page, 40.0)) == {1}
    other = CautionsPage(around(), a_day())
    while other.number < 2:
        watched(other, 0.5)
    watched(other, 0.7)
    other.handle(Intent(Act.BACK))
    assert other.number == 1 and other.readable and set(watched(other, 40.0)) == {1}


def test_no_page_turns_before_it_was_read_aloud_or_while_nobody_sees_it(around: Callable[..., Surroundings]) -> None:
    place = around()
    place.speaking = lambda: True
    page = CautionsPage(place, a_day())
    assert set(watched(page, 60.0)) == {0}
    place.speaking = lambda: False
    assert page.number == 0 and 1 in watched(page, 1.0)
    hidden = around()
    hidden.seen = False
    put_away = CautionsPage(hidden, a_day())
    assert set(watched(put_away, 60.0)) == {0} and not put_away.readable


def test_an_earlier_home_reads_the_cautions_once_more(tmp_path: Path, order: Callable[..., Prescription]) -> None:
    path = tmp_path / "settings.toml"
    path.write_text('text_scale = 1.2\ncautions_read = true\nlanguage = "de"\n')
    settings = load(path)
    assert (settings.text_scale, settings.language, settings.cautions_for) == (1.2, "de", ())
    save(settings.confirmed(name_of(order())), path)
    assert load(path).cautions_for == ("HB-0042 1 2026-01-01",)
    path.write_text("cautions_for = 3")
    assert load(path).cautions_for == ()


@pytest.mark.parametrize(("workshop", "hold_s", "target", "said"), [
    ("kiln", 10.0, 0.3, True), ("kiln", 1.0, 0.8, True), ("kiln", 1.0, 0.3, False), ("loom", 12.0, 0.3, True),
    ("skimming_pond", 0.3, 0.9, False), ("hide", 20.0, 0.05, False), ("millrace", 5.0, 0.2, True), ("yoke", 5.0, 0.2,
    True),
])  # fmt: skip
def test_breathe_is_said_in_long_and_in_strong_holds(workshop: str, hold_s: float, target: float, said: bool) -> None:
    view = replace(evening(workshop, "good").view, hold_s=hold_s, target=target, phase="effort", readable=True)
    assert breathes(view) is said
    assert not breathes(replace(view, phase="rest"))


@pytest.mark.parametrize("moment", ["good", "over"])
def test_the_hold_on_screen_says_so(moment: str, around: Callable[..., Surroundings]) -> None:
    assert Words()("frame.breathe") in seen(states()[f"work-kiln-{moment}"](around()))


def test_nobody_is_told_to_breathe_out_for_a_whole_hold() -> None:
    assert [key for key, text in catalogue("en").items() if "breathe out" in text.lower()] == []
    assert [
        key
        for key, text in catalogue("de").items()
        if "ausatmen" in text.lower() or ("atme" in text.lower() and " aus." in text)
    ] == []


ENDS = [Outcome(cast(Any, why)) for why, (ending, _) in KEPT.items() if ending != "pain"]
ENDS += [
    Outcome(cast(Any, why), 6, 2, 3, cast(Any, moment))
    for why in ("pain-level", "pain-rise") for moment in ("before", "during", "after")
]  # fmt: skip


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize("outcome", ENDS, ids=lambda one: f"{one.why}-{one.moment}")
def test_each_ending_is_told_by_its_own_name(
    outcome: Outcome, language: str, around: Callable[..., Surroundings]
) -> None:
    play = cast(StillPlay, _still("finished", ending=outcome.ending, outcome=outcome))
    play.view = replace(play.view, made=30, ordered=44)
    told = seen(WrapUpPage(around(Settings(language=language)), a_day(), cast(Any, play)))
    words = Words(language)
    assert words("wrap.counted", made=30, total=44) in told
    if outcome.ending != "pain":
        assert words(f"wrap.{outcome.why}") in told
        return
    assert "6" in told and words("wrap.pain-tell") in told
    assert words(f"wrap.{outcome.why}-rule", limit=3) in told
    ended = words(f"wrap.{outcome.why}", pain=6, before=2)
    assert (ended in told) == (outcome.moment == "during"), "only pain amid the exercises ended them"
    assert (words("wrap.done") in told) is False


def test_dates_of_orders_tell_them_apart(order: Callable[..., Prescription]) -> None:
    again = order().model_copy(update={"issued": date(2026, 2, 1)})
    assert name_of(order()) != name_of(again)
