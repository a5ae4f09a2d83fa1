"""The bench in its states, on a simulated muscle. Everything it shows is invented."""

from __future__ import annotations

from collections.abc import Callable
from functools import cache

from musclewood.games.desk.bench.found import Found
from musclewood.games.desk.bench.page import BenchPage
from musclewood.games.desk.bench.sources import SourcePage
from musclewood.games.gallery import desk_made_up as made_up
from musclewood.games.kit.settings import Settings
from musclewood.games.kit.theme import Theme
from musclewood.games.running.bench import Bench
from musclewood.games.running.sources_by_name import Supply
from musclewood.games.screens.base.page import Page, Surroundings
from musclewood.games.screens.base.scenery import Backdrops
from musclewood.profiles.orders.prescription import Prescription
from musclewood.profiles.visits.entries import Examination, ReferenceTest
from musclewood.signal.sources.simulated import SimulatedSource

Make = Callable[[Surroundings], Page]
STEP_S = 0.2
LONGEST_S = 240.0


def bench_states(code: str) -> dict[str, Make]:
    """How to make each state that is worth seeing."""

    def page(around: Surroundings, kind: str = "", until: str = "", channels: int = 2) -> BenchPage:
        there = _led(code, kind, until, channels)
        made = BenchPage(around, there.office, there.order, there.bench)
        made.trouble, made.found, made.eager = there.trouble, there.found, there.eager
        made.focus, made.time_s = there.focus, there.time_s
        return made

    def found_sides(around: Surroundings) -> Page:
        made = page(around)
        result = next(one.content.result for one in made_up.entries(code) if isinstance(one.content, Examination))
        made.found, made.focus = Found(result, (0, 2)), "keep"
        return made

    return {
        "desk-bench-sources": lambda around: SourcePage(around, made_up.office(), _order(code)),
        "desk-bench": page,
        "desk-bench-one-channel": lambda around: page(around, channels=1),
        "desk-bench-pads": lambda around: page(around, "sides", "place"),
        "desk-bench-pain": lambda around: page(around, "reference", "pain"),
        "desk-bench-squeeze": lambda around: page(around, "reference", "squeeze"),
        "desk-bench-hold": lambda around: page(around, "ladder", "keep"),
        "desk-bench-found-sides": found_sides,
        "desk-bench-found": lambda around: page(around, "reference", "found"),
    }


def _order(code: str) -> Prescription:
    return made_up.office().clinic.orders(code)[-1]


@cache
def _led(code: str, kind: str, until: str, channels: int) -> BenchPage:
    """Led to its state once; in pages of every size and language the same bench then stands still."""
    around = Surroundings(Theme(Settings()), Backdrops((320, 180), at_once=True))
    bench = Bench(Supply(SimulatedSource(channels=channels, seed=4)))
    made = BenchPage(around, made_up.office(), _order(code), bench)
    _run(made, 4.0)
    if kind == "ladder":
        _run_reference(made)
    if kind:
        made.chosen(f"test:{kind}")
        _run(made, LONGEST_S, until)
    return made


def _run_reference(page: BenchPage) -> None:
    """The effort is looked for against a reference that is known."""
    page.chosen("test:reference")
    _run(page, LONGEST_S, "found")
    assert page.found is not None and isinstance(page.found.result, ReferenceTest)
    tested = page.found.result.found
    page.bench.refer({tested.channel: (tested.rest_uv, page.found.result.reference_uv)})
    page.found = None


def _run(page: BenchPage, longest_s: float, until: str = "") -> None:
    """Let a willing person do what is shown."""
    passed_s = 0.0
    while passed_s < longest_s:
        shown = page.asks
        if until and ((shown and shown.doing == until) or (until == "found" and page.found)):
            if until in ("squeeze", "keep"):
                for _ in range(6):
                    page.bench.advance(STEP_S)
            return
        if shown and shown.doing in ("place", "pain"):
            page.chosen("go on" if shown.doing == "place" else "pain:1")
        page.update(STEP_S)
        passed_s += STEP_S
