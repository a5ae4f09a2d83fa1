"""Twelve weeks in the village, for every template of three or more sessions a week, with its wishes and as plain
evenings.

    python tests/bench/twelve_weeks.py [--list TEMPLATE]

The pages of before and after each session are built as the program builds them, from the shelf of somebody who makes
something in every session. Prints for each template how many of the twelve weeks differ from all others (what stands,
who visits, the season, the things on the table), with wishes and plain; in how many sessions nothing was new; and by
how much reading what the village says makes a session longer than a plain one (aim: less than 2 % in each). `--list`
prints what was new in each session.
"""

from __future__ import annotations

import argparse
import os
import random
from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import date, timedelta
from types import SimpleNamespace
from typing import Any, cast

os.environ.setdefault("SDL_VIDEODRIVER", "dummy")
os.environ.setdefault("PYGAME_HIDE_SUPPORT_PROMPT", "1")

import pygame
from musclewood.games.engine.endings import Outcome
from musclewood.games.engine.shelf import Product, product_of
from musclewood.games.engine.wishes import on_the_table
from musclewood.games.gallery.gallery import a_day
from musclewood.games.gallery.made_up import PLAN, judged
from musclewood.games.kit.canvas import Canvas
from musclewood.games.kit.deliberate import reading_s
from musclewood.games.kit.settings import Settings
from musclewood.games.kit.theme import Theme
from musclewood.games.screens.base.page import Page, Surroundings
from musclewood.games.screens.base.scenery import Backdrops
from musclewood.games.screens.session.wrap_up import WrapUpPage
from musclewood.games.screens.village.today import TodayPage
from musclewood.profiles.orders.daily_dose import session_minutes
from musclewood.profiles.orders.prescription import Prescription
from musclewood.profiles.orders.tables import DAYS
from musclewood.profiles.orders.templates import template, template_names

MONDAY, WEEKS, MADE = date(2026, 3, 2), 12, (3, 8)
STAGE = (640, 360)


@dataclass(frozen=True)
class Visit:
    """One session: what is seen in the village afterwards, and the words of the pages before and after it."""

    week: int
    scene: frozenset[str]
    table: tuple[int, ...]
    words: tuple[str, ...]


def visits(order: Prescription, *, plain: bool) -> Iterator[Visit]:
    """All sessions of twelve weeks, in their order."""
    places = [exercise.workshops[0] for exercise in order.exercises]
    around = Surroundings(Theme(Settings(plain_evening=plain)), Backdrops((32, 18), at_once=True))
    shelf: list[Product] = []
    chance = random.Random(3)
    for week in range(WEEKS):
        for day in (DAYS.index(name) for name in order.days):
            today = MONDAY + timedelta(days=7 * week + day)
            made = [_thing(today, n, places[n % len(places)]) for n in range(chance.randint(*MADE))]
            before = _page_before(around, shelf, week)
            shelf = [*shelf, *made]
            after = _page_after(around, shelf, made, week)
            scene = frozenset(str(layer) for layer in after.scene.layers) | {str(after.scene.season)}
            table = () if plain else tuple(one.seed for one in on_the_table(shelf))
            yield Visit(week, scene, table, (*_said(before), *_said(after)))


def _thing(day: date, number: int, place: str) -> Product:
    product = product_of(judged(number + day.toordinal() % 97), place, day, number)
    return replace(product, seed=product.seed + day.toordinal())


def _page_before(around: Surroundings, shelf: list[Product], week: int) -> Page:
    return TodayPage(around, replace(a_day(PLAN), shelf=list(shelf), weeks=week))


def _page_after(around: Surroundings, shelf: list[Product], made: list[Product], week: int) -> Page:
    view = SimpleNamespace(ending="complete", outcome=Outcome("done"), made=len(made), ordered=len(made))
    play = SimpleNamespace(view=view, made=made, practice=False, tried=True, battery_low=False)
    day = replace(a_day(PLAN), shelf=[one for one in shelf if one not in made], weeks=week)
    return WrapUpPage(around, day, cast(Any, play))


def _said(page: Page) -> tuple[str, ...]:
    canvas = Canvas(pygame.Surface(STAGE))
    return tuple(" ".join(widget.lines) for widget in page.build(canvas) if widget.lines)


def weeks_apart(seen: list[Visit]) -> int:
    """How many weeks end in a village that no other week ends in."""
    last = {visit.week: (visit.scene, visit.table) for visit in seen}
    return len(set(last.values()))


def news(seen: list[Visit]) -> list[list[str]]:
    """What was new in each session."""
    told: list[list[str]] = []
    before = Visit(-1, frozenset(), (), ())
    for visit in seen:
        new = (
            sorted(one.removeprefix("village/") for one in visit.scene - before.scene)
            if before.week >= 0
            else ["village"]
        )
        new += ["things on the table"] if visit.table != before.table else []
        new += [f"'{line}'" for line in visit.words[-2:] if line not in before.words and not line[0].isdigit()]
        told.append(new)
        before = visit
    return told


def longer_pct(with_wishes: Visit, plain: Visit, minutes: float) -> float:
    """By how much reading what a plain evening does not say makes the session longer, %."""
    more = [line for line in with_wishes.words if line not in plain.words]
    return 100 * sum(reading_s(len(line.split())) for line in more) / (60 * minutes)


def main() -> None:
    options = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    options.add_argument("--list", metavar="TEMPLATE", choices=template_names())
    listed = options.parse_args().list
    pygame.display.init()
    pygame.font.init()
    print(
        f"{'template':28}{'a week':>7}{'weeks apart':>13}{'plain':>7}{'nothing new':>13}{'minutes':>9}{'longer, %':>11}"
    )
    for name in template_names():
        order = template(name)
        if len(order.days) * order.sessions_per_day < 3:
            continue
        minutes = session_minutes(order)
        seen, plain = list(visits(order, plain=False)), list(visits(order, plain=True))
        idle = sum(not new for new in news(seen))
        longer = max(longer_pct(one, other, minutes) for one, other in zip(seen, plain, strict=True))
        print(
            f"{name:28}{len(order.days):>7}{weeks_apart(seen):>13}{weeks_apart(plain):>7}{idle:>13}{minutes:>9.0f}{longer:>11.2f}"
        )
        if name == listed:
            for number, (visit, new) in enumerate(zip(seen, news(seen), strict=True), start=1):
                print(f"  week {visit.week + 1:2}, session {number:2}: " + "; ".join(new))


if __name__ == "__main__":
    main()
