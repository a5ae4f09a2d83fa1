"""Sessions as graphs of what was asked and done, two beside each other; and what the clinic wrote down."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from typing import Any

import numpy as np
import pygame
from musclewood.games.desk.pages.review import ReviewPage
from musclewood.games.desk.pages.review_pictures import draw_reps
from musclewood.games.desk.pages.visits import VisitsPage
from musclewood.games.gallery import desk_made_up as made_up
from musclewood.games.kit.canvas import Box, Canvas
from musclewood.games.kit.palette import palette
from musclewood.games.screens.base.page import Surroundings
from musclewood.profiles.clinic.clinic import Clinic
from musclewood.profiles.visits.entries import Away, Discharge, Return
from musclewood.profiles.visits.standing import standing_of

CODE = "HB-0104"
Pages = Callable[..., Surroundings]


def reviewed(around: Pages) -> ReviewPage:
    page = ReviewPage(around(), made_up.office(), CODE)
    page._read()
    return page


def test_one_session_then_two_the_older_above(around: Pages) -> None:
    page = reviewed(around)
    assert [one.session_id for one in page.chosen_sessions] == [8]
    page.chosen("session:2")
    assert [one.session_id for one in page.chosen_sessions] == [2, 8]
    page.chosen("session:5")  # a third takes the place of the first that was chosen
    assert [one.session_id for one in page.chosen_sessions] == [2, 5]
    page.chosen("session:5")
    assert [one.session_id for one in page.chosen_sessions] == [2]
    assert len(page.exercises()) > 1


def test_the_picture_shows_what_was_done_where_it_was_done(around: Pages) -> None:
    """The blue ink of each repetition lies at its mean, and where the band is above it the green lies above the ink."""
    session = made_up.office().clinic.done(CODE, efforts=True).sessions[-1]
    reps = [rep for rep in session.reps if rep.exercise_id == session.reps[0].exercise_id]
    surface = pygame.Surface((1280, 720))
    theme = around().theme
    surface.fill(theme.slip)
    box = Box(0, 0, 1280, 720)
    draw_reps(Canvas(surface), theme, box, reps, over_time=False)
    pixels = pygame.surfarray.array3d(surface).astype(int)
    blue = np.array(palette().accent["blue"])
    ink = np.argwhere(np.abs(pixels - blue).sum(axis=2) < 12)
    plot_top, plot_bottom = 16, 720 - 34
    most = max(max(rep.target_pct_mvc + rep.tolerance_pct_mvc, *rep.effort_profile) for rep in reps)
    top = 10 * np.ceil(1.08 * most / 10)
    each = (1280 - 70 - 12) / max(6, len(reps))
    for number, rep in enumerate(reps):
        left = 70 + each * (number + 0.3)
        own = ink[(ink[:, 0] > left) & (ink[:, 0] < left + 0.4 * each)]
        middle = float(np.median(rep.effort_profile[15:35]))
        wanted = plot_bottom - (plot_bottom - plot_top) * middle / top
        assert abs(np.median(own[:, 1]) - wanted) < 20, number


def test_by_mouse_from_the_patients_page(hands: Callable[..., Any], clinic: Clinic) -> None:
    at = hands()
    page = VisitsPage(at.app.around, at.app.office, CODE)
    at.app.stack.append(page)
    at.press("weeks")
    at.press("away")
    today = at.app.office.today
    (entry,) = clinic.visits.entries(CODE)
    assert isinstance(entry.content, Away) and (entry.content.last - today).days == 21
    assert standing_of([entry.content]).away[0][0] == today
    at.press("discharge")
    assert len(clinic.visits.entries(CODE)) == 1  # once is no discharge
    at.press("weeks")
    at.press("discharge")
    assert len(clinic.visits.entries(CODE)) == 1  # nor is once and once again later
    at.key(pygame.K_ESCAPE)
    assert at.app.top is not page


def test_a_discharge_is_pressed_twice_and_taken_back(
    hands: Callable[..., Any], clinic: Clinic, monkeypatch: Any
) -> None:
    at = hands()
    row = made_up.patients(1)[0]
    monkeypatch.setattr(type(at.app.office), "patients", lambda office: [row])
    page = VisitsPage(at.app.around, at.app.office, row.patient)
    at.app.stack.append(page)
    at.press("why")
    at.press("discharge")
    at.press("discharge")
    content = clinic.visits.entries(row.patient)[-1].content
    assert isinstance(content, Discharge) and content.why == "patient's wish" and content.summary
    assert content.on == at.app.office.today >= date(2026, 1, 1) and page.discharged
    at.press("return")
    assert isinstance(clinic.visits.entries(row.patient)[-1].content, Return) and not page.discharged
