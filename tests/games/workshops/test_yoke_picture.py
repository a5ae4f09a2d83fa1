"""What the yoke looks like: each end where its side's effort is, no two pails alike, a bridge that grows."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import date

import numpy as np
import pygame
import pytest
from musclewood.games.engine.rep_events import RepView
from musclewood.games.engine.shelf import Product
from musclewood.games.kit.canvas import Box, Canvas
from musclewood.games.kit.paper import PaperBox
from musclewood.games.workshops import PictureSetup, workshops
from musclewood.games.workshops.craft import Carried
from musclewood.games.workshops.yoke import pails
from musclewood.games.workshops.yoke.pails import draw_product, pail_image
from musclewood.games.workshops.yoke.picture import YokePicture
from musclewood.games.workshops.yoke.places import elbow_of, end_y, hooks
from musclewood.games.workshops.yoke.rules import YokeRules
from musclewood.profiles.plan.dose import PlannedExercise
from numpy.typing import NDArray

TODAY = date(2026, 11, 25)
EXERCISE = PlannedExercise(
    exercise_id="feet-together", kind="paired", title="Lift both feet alike", workshops=("yoke",), channels=(0, 1),
    sets=1, reps=6, hold_s=2.0, rest_s=4.0, set_rest_s=2.0, target_pct_mvc=35.0, tolerance_pct_mvc=10.0,
    ceiling_pct_mvc=75.0, quiet_pct_mvc=8.0, difference_pct_mvc=12.0,
)  # fmt: skip
VIEW = RepView(
    kind="paired", phase="effort", set_number=1, sets=1, rep_number=1, reps=6, made=0, hold_s=2.0, held_s=1.0,
    effort_s=1.5,
    left_s=0.0, activation=(0.35, 0.35), level=(0.35, 0.35), target=0.35, low=0.25, high=0.45, ceiling=0.75,
    in_band=True,
    over=False, quiet=False, readable=True, last_verdict=None, difference=0.0, difference_limit=0.12,
)  # fmt: skip


def pail(seed: int, steadiness: float = 0.95, late: float = 35.0) -> Product:
    figures = {"target_pct_mvc": 35.0, "steadiness": steadiness, "place": 99.0}
    return Product("yoke", seed, TODAY, figures, tuple(np.interp(range(44), (0, 5, 43), (0.0, 35.0, late)).tolist()))


def seen(product: Product, side: int) -> NDArray[np.int64]:
    ground = pygame.Surface(pail_image(product, 60).get_size(), 0, 32)
    ground.fill((90, 90, 90))
    ground.blit(pygame.transform.smoothscale(pail_image(product, side), ground.get_size()), (0, 0))
    return pygame.surfarray.array3d(ground).astype(int)


# --- pails
# --------------------------------------------------------------------------------------------------------------
def test_no_two_pails_are_alike_and_each_is_the_same_at_any_size() -> None:
    assert len({seen(pail(seed), 60).tobytes() for seed in range(12)}) == 12
    first = seen(pail(7), 60)
    pails._pail_image.cache_clear()
    assert (seen(pail(7), 60) == first).all()
    assert np.abs(first - seen(pail(7), 170)).mean() < 0.5 * np.abs(first - seen(pail(8), 60)).mean()


def test_new_paints_motifs_and_floating_things_come_with_what_was_made() -> None:
    for things in (pails.PAINTS, pails.MOTIFS, pails.FLOATS):
        counts = [len(pails.unlocked(things, place)) for place in (0, 20, 40, 300)]
        assert counts == sorted(set(counts)) and counts[-1] == len(things)


def test_the_painted_line_is_the_effort_and_an_unsteady_one_loosens_the_brush() -> None:
    level = seen(pail(3), 60)
    assert np.abs(level - seen(pail(3, late=45.0), 60)).mean() > 0.2
    assert np.abs(level - seen(pail(3, steadiness=0.7), 60)).mean() > 0.2


@pytest.mark.parametrize("side", [16, 44, 200])
def test_a_pail_stands_in_its_box_and_stays_near_it(side: int) -> None:
    ground = pygame.Surface((640, 360), 0, 32)
    ground.fill((1, 2, 3))
    canvas, box = Canvas(ground), Box(200, 100, side, side)
    for seed in range(4):
        draw_product(canvas, box, pail(seed))
    touched = (pygame.surfarray.array3d(ground) != (1, 2, 3)).any(axis=2)
    columns, rows = np.flatnonzero(touched.any(axis=1)), np.flatnonzero(touched.any(axis=0))
    area, room = canvas.area(box), canvas.length(side * 0.14) + 3
    assert area.left - room <= columns[0] and columns[-1] <= area.right + room
    assert area.top - room <= rows[0] and rows[-1] <= area.bottom + room
    assert rows[-1] - rows[0] > area.height * 0.8


# --- the stage
# ----------------------------------------------------------------------------------------------------------
def test_an_elbow_keeps_both_bones_their_length_and_stands_outwards() -> None:
    for hand in ((60.0, -20.0), (40.0, 30.0), (66.0, -70.0)):
        x, y = elbow_of((0.0, 0.0), hand, 50.0, 54.0, 1)
        assert np.hypot(x, y) == pytest.approx(50.0)
        assert np.hypot(hand[0] - x, hand[1] - y) == pytest.approx(54.0, abs=0.2)
        assert elbow_of((0.0, 0.0), (-hand[0], hand[1]), 50.0, 54.0, -1) == pytest.approx((-x, y))


@pytest.fixture(scope="module", params=[(320, 180), (480, 270)])
def canvas(request: pytest.FixtureRequest) -> Iterator[Canvas]:
    pygame.display.init()
    yield Canvas(pygame.display.set_mode(request.param))
    pygame.display.quit()


@pytest.fixture(scope="module")
def picture(canvas: Canvas) -> YokePicture:
    made = workshops()["yoke"].picture()(PictureSetup(PaperBox(canvas.scale), reduced_motion=True))
    assert isinstance(made, YokePicture)
    return made


def shown(canvas: Canvas, picture: YokePicture, rules: YokeRules, view: RepView = VIEW) -> NDArray[np.int64]:
    for _ in range(2):
        picture.draw(canvas, rules, view, 3.0)
        picture.settle()
    picture.draw(canvas, rules, view, 3.0)
    return pygame.surfarray.array3d(canvas.surface).astype(int)


def evening(shelf: int = 0, **changes: object) -> YokeRules:
    rules = YokeRules(EXERCISE, 5, [pail(n) for n in range(shelf)], TODAY)
    for name, value in {"errand": "crossing", "along": 0.4, "effort": (0.66, 0.66), **changes}.items():
        setattr(rules, name, value)
    return rules


def test_each_end_of_the_yoke_is_drawn_where_its_side_is(canvas: Canvas, picture: YokePicture) -> None:
    level = shown(canvas, picture, evening())
    for side, effort in enumerate(((0.45, 0.66), (0.66, 0.45))):
        tilted = evening(effort=effort)
        changed = (np.abs(shown(canvas, picture, tilted) - level) > 24).any(axis=2)
        spots = [canvas.at(hook) for hook in hooks(tilted.along, effort)]
        shares = [changed[x - 4 : x + 5, y - 4 : y + 5].mean() for x, y in spots]
        assert shares[side] > 0.4 and shares[side] > shares[1 - side]


def test_every_state_of_the_evening_looks_its_own(canvas: Canvas, picture: YokePicture) -> None:
    states = {
        "low": evening(effort=(0.0, 0.0)),
        "within": evening(within=(1.0, 1.0), glow=1.0),
        "half way": evening(within=(1.0, 1.0), glow=1.0, walked=0.5),
        "tilted": evening(effort=(0.75, 0.45), spilling=(0.0, 1.0)),
        "over": evening(effort=(0.95, 0.95), spilling=(1.0, 1.0), murk=1.0),
        "rest": evening(rest=1.0, rested=0.1, effort=(0.0, 0.0)),
        "rested": evening(rest=1.0, rested=1.0, effort=(0.0, 0.0)),
        "made": evening(carried=[Carried(pail(77), 0, age_s=9.0)], made=[pail(77)]),
        "weeks": evening(shelf=230),
    }
    drawn = {name: shown(canvas, picture, rules) for name, rules in states.items()}
    names = list(drawn)
    for number, one in enumerate(names):
        for other in names[number + 1 :]:
            assert (np.abs(drawn[one] - drawn[other]) > 12).any(axis=2).sum() > 12, (one, other)


def test_the_ropes_stand_where_the_band_is(canvas: Canvas, picture: YokePicture) -> None:
    """Found in the pixels as an eye would: two pale lines from post to post."""
    rules = evening(along=1.42)
    pixels = shown(canvas, picture, rules)
    column = pixels[canvas.at((400, 0))[0] : canvas.at((420, 0))[0]].mean(axis=0).sum(axis=1)
    for height in (rules.mark_low, rules.mark_high):
        at = canvas.at((0, end_y(height)))[1]
        assert column[at - 2 : at + 3].max() > column[at - 7 : at - 4].mean() + 60


def test_the_words_corner_is_quiet(canvas: Canvas, picture: YokePicture) -> None:
    area = canvas.area(workshops()["yoke"].words)
    corner = (slice(area.left, area.right), slice(area.top, area.bottom))
    calm = shown(canvas, picture, evening(230, along=0.0, effort=(0.0, 0.0)))[corner]
    busy = shown(canvas, picture, evening(230, along=0.0, within=(1.0, 1.0), glow=1.0))[corner]
    assert (np.abs(busy - calm) > 12).any(axis=2).mean() < 0.03


def test_reduced_motion_stills_all_but_the_effort(canvas: Canvas, picture: YokePicture) -> None:
    rules = evening(230, spilling=(0.0, 1.0), rest=0.5)
    first = shown(canvas, picture, rules)
    picture.draw(canvas, rules, VIEW, 7.7)
    assert (pygame.surfarray.array3d(canvas.surface) == first).all()
    rules.effort = (0.5, 0.66)
    picture.draw(canvas, rules, replace(VIEW, activation=(0.3, 0.35)), 7.7)
    assert (pygame.surfarray.array3d(canvas.surface) != first).any()
