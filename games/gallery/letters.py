"""The clinic's letters in their states, for the gallery. Clinic and words are invented."""

from collections.abc import Callable
from datetime import date
from pathlib import Path

from musclewood.games.home.places import Entry
from musclewood.games.home.post import Post, PostResult, Told
from musclewood.games.screens.base.page import Page, Surroundings
from musclewood.games.screens.village.letters import LettersPage
from musclewood.games.screens.village.picking import PickPage
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
        "letters-waiting": _with_all_ways,
        "pick": _places,
        "pick-folder": _folder,
        "letters-refused": _after(PostResult(refused, another_clinic=True)),
    }


class KnownPost(Post):
    """Something waits, a stick is in, and the clinic's folder is known."""

    address = "/home/hornbeam/exchange"
    readable = True

    def __init__(self, stick: bool = True) -> None:
        super().__init__(Home(Path("nowhere")), date.today)
        self.waiting, self.stick = 1, Path("/media/hornbeam/STICK") if stick else None

    def look(self) -> None:
        """Nothing to look at."""


def _with_all_ways(around: Surroundings) -> Page:
    return LettersPage(around, KnownPost())


PLACES = (
    Entry(Path("/media/hornbeam/STICK/exchange"), "exchange", "exchange"),
    Entry(Path("/media/hornbeam/STICK"), "folder", "STICK"),
    Entry(Path("/home/hornbeam/Downloads"), "folder", "pick.downloads", usual=True),
    Entry(Path("/home/hornbeam"), "folder", "pick.home", usual=True),
)
LYING = (
    Entry(Path("/home/hornbeam/Downloads/HB-0104-0003.prescription.toml"), "letter", "HB-0104-0003.prescription.toml"),
    *(
        Entry(Path(f"/home/hornbeam/Downloads/{name}"), "folder", name)
        for name in ("Garden", "Music", "Pictures", "Walks")
    ),
)


def _places(around: Surroundings) -> Page:
    page = PickPage(around, lambda path: None, lambda: PLACES)
    page.entries, page._going = PLACES, None
    return page


def _folder(around: Surroundings) -> Page:
    page = PickPage(around, lambda path: None, lambda: LYING)
    page.folder, page.entries, page._going = Path("/home/hornbeam/Downloads"), LYING, None
    return page


def _after(answer: PostResult | None) -> Callable[[Surroundings], Page]:
    def make(around: Surroundings) -> Page:
        page = LettersPage(around, Post(Home(Path("nowhere")), date.today))
        page.answer = answer
        return page

    return make
