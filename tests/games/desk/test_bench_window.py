"""From an empty desk to a filled order in the window, by keyboard and mouse, on a simulated muscle."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from typing import Any

import numpy as np
import pygame
from musclewood.games.desk.bench.page import BenchPage
from musclewood.games.desk.bench.sources import SourcePage
from musclewood.games.desk.form.model import FormModel
from musclewood.games.desk.form.page import FormPage
from musclewood.games.running.traces import SECONDS, Trace
from musclewood.profiles.clinic.clinic import Clinic
from musclewood.profiles.visits.entries import Examination, ReferenceTest
from musclewood.signal.stream.blocks import Block

CODE = "HB-0042"
STEP_S = 0.1


def through(page: BenchPage, until: str, longest_s: float = 120.0) -> None:
    """Time passes until something is shown, or the test is over."""
    for _ in range(round(longest_s / STEP_S)):
        if (page.asks and page.asks.doing == until) or (until == "found" and page.found):
            return
        page.update(STEP_S)
    raise AssertionError(f"{until} never came: {page.trouble}")


def test_a_test_is_led_rejected_kept_and_fills_the_order(hands: Callable[..., Any], clinic: Clinic) -> None:
    at = hands()
    form = FormPage(at.app.around, at.app.office, _model(clinic))
    at.app.stack.append(form)
    at.choose_side()
    unfilled = form.state()
    at.enter("bench")
    assert isinstance(at.app.top, SourcePage)
    at.press("simulated")
    at.wait(3)
    page = at.app.top
    assert isinstance(page, BenchPage)
    at.enter("test:reference")
    through(page, "place")
    at.press("go on")
    through(page, "pain")
    at.app.draw()
    assert page.focus == ""  # Enter alone answers nothing for the patient
    at.press("pain:1")
    through(page, "squeeze")
    at.key(pygame.K_ESCAPE)
    page.update(STEP_S)
    assert page.found is None and page.trouble and not clinic.visits.by_patient()
    at.enter("test:reference")
    at.press("go on")
    through(page, "pain")
    at.press("pain:0")
    through(page, "pain")
    at.press("pain:1")
    page.update(STEP_S)
    through(page, "found")
    at.app.draw()
    assert page.focus == "keep"
    before = page.found.result
    at.press("trial:only:1")
    assert page.found.result != before
    at.enter("keep")
    (entry,) = clinic.visits.entries(CODE)
    assert isinstance(entry.content, Examination) and isinstance(entry.content.result, ReferenceTest)
    assert entry.content.pain == (0, 1)
    assert entry.content.result.found.trials[0].set_aside == "not-maximal"
    at.enter("back")
    assert at.app.top is form
    assert form.model.filled["calibration.reference"].entry == entry
    assert form.state() != unfilled  # also where the test found what stood there already, it is said
    assert form._preview()[0] == form.theme.words("desk.bench.filled-now")
    ringed = [one.key for one in form.model.sections() if form.model.section_from_test(one)]
    assert ringed == ["calibration"]
    form._open("calibration")
    form.focus = "calibration.reference"
    told, _ = form._preview()
    assert entry.at.date().isoformat() in told


def test_enter_that_is_held_chooses_once(hands: Callable[..., Any], clinic: Clinic) -> None:
    """Repeats of a held key also come while a slow computer makes the next page, which nobody has read."""
    at = hands()
    form = FormPage(at.app.around, at.app.office, _model(clinic))
    at.app.stack.append(form)
    at.choose_side()
    at.tab_to("bench")
    down = pygame.event.Event(pygame.KEYDOWN, key=pygame.K_RETURN, mod=0, unicode="")
    for _ in range(3):
        at.app.step([down], 1 / 60)
        at.wait(1)
    assert isinstance(at.app.top, SourcePage) and not at.app.top.busy
    at.app.step([pygame.event.Event(pygame.KEYUP, key=pygame.K_RETURN, mod=0, unicode="")], 1 / 60)
    at.enter("simulated")
    at.wait(3)
    assert isinstance(at.app.top, BenchPage)


def test_the_bench_records_and_plays_again(hands: Callable[..., Any], clinic: Clinic) -> None:
    at = hands()
    form = FormPage(at.app.around, at.app.office, _model(clinic))
    at.app.stack.append(form)
    at.choose_side()
    at.enter("bench")
    at.press("simulated")
    at.wait(3)
    page = at.app.top
    at.enter("record")
    for _ in range(30):
        page.update(STEP_S)
    at.press("record")
    (kept,) = (clinic.root / "visits" / "recordings").glob("*.edf")
    assert kept.name in page.trouble and kept.stat().st_mode & 0o077 == 0
    at.enter("back")
    at.enter("bench")
    at.press(f"replay:{kept}")
    at.wait(3)
    assert isinstance(at.app.top, BenchPage) and at.app.top.bench.source.kind == "replay"
    at.key(pygame.K_ESCAPE)
    assert at.app.top is form


def test_the_scale_holds_still_and_only_grows() -> None:
    """What a column shows is what was measured: 80 µV peaks need the 100 µV paper, and a lower signal keeps it."""
    drawn, random = Trace(500.0, 1), np.random.default_rng(0)
    for level, scale in ((20.0, 50.0), (80.0, 100.0), (5.0, 100.0)):
        signal = level * np.sign(random.standard_normal((round(500 * SECONDS), 1)))
        drawn.take(Block(signal, 0.0))
        low, high, _ = drawn.columns(0)
        assert drawn.scale_uv(0) == scale
        settled = slice(100, None)  # the slow sway is learnt within two seconds
        assert np.nanmax(high[settled]) <= 1.2 * level and np.nanmin(low[settled]) >= -1.2 * level
        assert np.nanmedian(high) > 0.8 * level


def test_an_envelope_stays_where_it_is() -> None:
    """An effort that is held is a level that is held: 60 µV for four seconds are 60 µV from the first column to the
    last."""
    drawn = Trace(50.0, 1, envelope=True)
    drawn.take(Block(np.full((200, 1), 60.0), 0.0))
    low, high, _ = drawn.columns(0)
    known = np.isfinite(high)
    assert known.sum() > 150 and (high[known] == 60.0).all() and (low[known] == 0.0).all()


def _model(clinic: Clinic) -> Any:
    model = FormModel(clinic.draft_from_template("weak-thigh-after-knee-operation", CODE, date(2026, 11, 25)))
    for key, value in (("rest_s", "2"), ("trial_s", "2"), ("rest_between_s", "2")):
        model.set(f"calibration.{key}", value)
    return model
