"""The clinic's letters in their states, for the gallery. Clinic and words are invented."""

from collections.abc import Callable
from datetime import date
from pathlib import Path

from musclewood.games.home.post import Post, PostResult, Told
from musclewood.games.screens.base.page import Page, Surroundings
from musclewood.games.screens.village.letters import LettersPage
from musclewood.profiles.exchange.admission import Introduction
from musclewood.profiles.home.homes import Home

SPOKEN = ("anchor", "barley", "candle", "dolphin", "ember", "forest", "garden", "hazel", "island", "juniper")


def letter_states() -> dict[str, Callable[[Surroundings], Page]]:
    """How to make the page before and after a letter."""
    asks = Introduction("HB-0104", "Hornbeam Clinic", SPOKEN, None, b"")
    refused: tuple[Told, ...] = (("another-clinic", {}), ("nothing-to-send", {}))
    return {
        "letters": _after(None),
        "letters-new": _after(PostResult(asks=asks)),
        "letters-let-in": _after(PostResult((("let-in", {"clinic": "Hornbeam Clinic"}),), own_words=SPOKEN[::-1])),
        "letters-refused": _after(PostResult(refused, another_clinic=True)),
    }


def _after(answer: PostResult | None) -> Callable[[Surroundings], Page]:
    def make(around: Surroundings) -> Page:
        page = LettersPage(around, Post(Home(Path("nowhere")), date.today))
        page.answer = answer
        return page

    return make
