"""What the pond looks like: the hand is where the effort is, no two prints alike, water that lies still at rest."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pygame
import pytest
from musclewood.games.engine.rep_events import RepView
from musclewood.games.engine.shelf import Product
from musclewood.games.kit.canvas import Box, Canvas
from musclewood.games.kit.paper import PaperBox
from musclewood.games.workshops import PictureSetup, workshops
from musclewood.games.workshops.craft import Carried
from musclewood.games.workshops.skimming_pond import prints
from musclewood.games.workshops.skimming_pond.guests import present
from musclewood.games.workshops.skimming_pond.picture import PondPicture
from musclewood.games.workshops.skimming_pond.places import SHOULDER, hand_at, water_at
from musclewood.games.workshops.skimming_pond.prints import draw_product, print_image
from musclewood.games.workshops.skimming_pond.rules import PondRules, Ring, Stone
from musclewood.games.workshops.skimming_pond.skips import longest_of_days
from musclewood.profiles.plan.dose import PlannedExercise
from numpy.typing import NDArray

TODAY = date(2026, 11, 25)
EXERCISE = PlannedExercise(
    exercise_id="foot-quick", kind="quick", title="Lift the foot briskly", workshops=("skimming_pond",), channels=(0,),
    sets=1, reps=6, hold_s=0.4, rest_s=4.0, set_rest_s=2.0, target_pct_mvc=50.0, tolerance_pct_mvc=15.0,
    ceiling_pct_mvc=85.0, quiet_pct_mvc=8.0, rise_s=0.5,
)  # fmt: skip
VIEW = RepView(
    kind="quick", phase="effort", set_number=1, sets=1, rep_number=1, reps=6, made=0, hold_s=0.4, held_s=0.2,
    effort_s=0.5,
    left_s=0.0, activation=(0.5,), level=(0.5,), target=0.5, low=0.35, high=0.65, ceiling=0.85, in_band=True,
    over=False,
    quiet=False, readable=True, last_verdict=None,
)  # fmt: skip


def ripples(seed: int, rise: float = 300.0, steadiness: float = 0.95, days: int = 0) -> Product:
    figures = {"rise_pct_mvc_per_s": rise, "target_pct_mvc": 50.0, "steadiness": steadiness, "place": 99.0}
    profile = tuple(50.0 * min(1.0, n / 6) * (1.0 if n < 30 else (44 - n) / 14) for n in range(44))
    return Product("skimming_pond", seed, TODAY - timedelta(days=days), figures, profile)


def seen(product: Product, height: int) -> NDArray[np.int64]:
    ground = pygame.Surface(print_image(product, 60).get_size(), 0, 32)
    ground.fill((90, 90, 90))
    ground.blit(pygame.transform.smoothscale(print_image(product, height), ground.get_size()), (0, 0))
    return pygame.surfarray.array3d(ground).astype(int)


# --- prints
# -------------------------------------------------------------------------------------------------------------
def test_no_two_prints_are_alike_and_each_is_the_same_at_any_size() -> None:
    assert len({seen(ripples(seed), 60).tobytes() for seed in range(8)}) == 8
    first = seen(ripples(7), 60)
    prints._print_image.cache_clear()
    assert (seen(ripples(7), 60) == first).all()
    assert np.abs(first - seen(ripples(7), 150)).mean() < 0.5 * np.abs(first - seen(ripples(8), 60)).mean()


def test_new_inks_come_with_what_was_made() -> None:
    counts = [len(prints.unlocked(place)) for place in (0, 20, 40, 300)]
    assert counts == sorted(set(counts)) and counts[-1] == len(prints.INKS)


def test_a_print_shows_how_brisk_and_how_steady_the_effort_was() -> None:
    water = seen(ripples(3), 60)
    assert np.abs(water - seen(ripples(3, rise=70.0), 60)).mean() > 1.0
    assert np.abs(water - seen(ripples(3, steadiness=0.7), 60)).mean() > 0.5


@pytest.mark.parametrize("side", [16, 44, 200])
def test_a_print_fills_its_box_and_stays_near_it(side: int) -> None:
    ground = pygame.Surface((640, 360), 0, 32)
    ground.fill((1, 2, 3))
    canvas, box = Canvas(ground), Box(200, 100, side, side)
    draw_product(canvas, box, ripples(5))
    touched = (pygame.surfarray.array3d(ground) != (1, 2, 3)).any(axis=2)
    columns, rows = np.flatnonzero(touched.any(axis=1)), np.flatnonzero(touched.any(axis=0))
    area, room = canvas.area(box), canvas.length(side * 0.12) + 3
    assert area.left - room <= columns[0] and columns[-1] <= area.right + room
    assert area.top - room <= rows[0] and rows[-1] <= area.bottom + room
    assert columns[-1] - columns[0] > area.width * 0.8


def test_the_line_behind_keeps_the_longest_skip_of_each_day() -> None:
    before = [ripples(n, rise=100.0 + 37 * (n % 5), days=9 - n // 5) for n in range(15)]
    assert [product.seed for product in longest_of_days(before)] == [4, 9, 14]


def test_the_pond_grows_richer_with_what_is_made_and_with_nothing_else() -> None:
    counts = [len(present(count)) for count in (0, 20, 60, 120, 250)]
    assert counts == sorted(set(counts))


# --- the stage
# ----------------------------------------------------------------------------------------------------------
def test_the_hand_goes_round_the_shoulder_and_stones_go_away_from_the_landing() -> None:
    way = np.asarray([hand_at(swing) for swing in np.linspace(0, 1, 20)])
    assert (np.diff(np.arctan2(-(way[:, 0] - SHOULDER[0]), way[:, 1] - SHOULDER[1])) > 0).all()
    over = np.asarray([water_at(share) for share in np.linspace(0, 1, 20)])
    assert (np.diff(over[:, 0]) > 0).all() and (np.diff(over[:, 1:], axis=0) < 0).all()


@pytest.fixture(scope="module", params=[(320, 180), (480, 270)])
def canvas(request: pytest.FixtureRequest) -> Iterator[Canvas]:
    pygame.display.init()
    yield Canvas(pygame.display.set_mode(request.param))
    pygame.display.quit()


@pytest.fixture(scope="module")
def picture(canvas: Canvas) -> PondPicture:
    made = workshops()["skimming_pond"].picture()(PictureSetup(PaperBox(canvas.scale), reduced_motion=True))
    assert isinstance(made, PondPicture)
    return made


def shown(canvas: Canvas, picture: PondPicture, rules: PondRules, view: RepView = VIEW) -> NDArray[np.int64]:
    for _ in range(2):
        picture.draw(canvas, rules, view, 3.0)
        picture.settle()
    picture.draw(canvas, rules, view, 3.0)
    return pygame.surfarray.array3d(canvas.surface).astype(int)


def evening(shelf: int = 0) -> PondRules:
    return PondRules(EXERCISE, 5, [ripples(n, days=1 + n // 8) for n in range(shelf)], TODAY)


def test_effort_moves_the_hand_and_nothing_far_from_it(canvas: Canvas, picture: PondPicture) -> None:
    rules, pictures = evening(), []
    for effort in (0.1, 0.5, 0.8):
        rules.swing = rules.trail = rules.gauge.height(effort)
        pictures.append(shown(canvas, picture, rules))
    for first, second, effort in ((0, 1, 0.5), (1, 2, 0.8), (0, 2, 0.1)):
        changed = (np.abs(pictures[first] - pictures[second]) > 24).any(axis=2)
        hand = canvas.at(hand_at(rules.gauge.height(effort)))
        near = changed[hand[0] - 6 : hand[0] + 7, hand[1] - 6 : hand[1] + 7]
        assert near.mean() > 0.2
        assert not changed[: canvas.at((380, 0))[0]].any() and not changed[canvas.at((800, 0))[0] :].any()


def test_every_state_of_the_evening_looks_its_own(canvas: Canvas, picture: PondPicture) -> None:
    def state(**changes: object) -> NDArray[np.int64]:
        rules = evening(24)
        for name, value in changes.items():
            setattr(rules, name, value)
        return shown(canvas, picture, rules)

    states = {
        "plain": state(),
        "held": state(held=0.65, glow=1.0),
        "let go": state(held=1.0, glow=1.0),
        "over": state(murk=1.0, swing=0.95),
        "stirred": state(stir=1.0),
        "rest": state(rest=1.0, rested=0.2),
        "rested": state(rest=1.0, rested=1.0),
        "rings": state(rings=[Ring(0.3, 1.0, -0.5)]),
        "quick": state(swing=0.6, trail=0.2),
        "flying": state(in_hand=False, stone=Stone(1, "skips", 6, 0.75, 1)),
        "made": state(carried=[Carried(ripples(77), 0, 0.0, 9.0)], made=[ripples(77)]),
    }
    names = list(states)
    for number, one in enumerate(names):
        for other in names[number + 1 :]:
            assert (np.abs(states[one] - states[other]) > 12).any(axis=2).sum() > 12, (one, other)


def test_the_words_corner_is_quiet(canvas: Canvas, picture: PondPicture) -> None:
    area = canvas.area(workshops()["skimming_pond"].words)
    corner = (slice(area.left, area.right), slice(area.top, area.bottom))
    rules = evening(40)
    calm = shown(canvas, picture, rules)[corner]
    rules.swing, rules.glow, rules.stir, rules.held = 0.66, 1.0, 1.0, 0.9
    assert (np.abs(shown(canvas, picture, rules)[corner] - calm) > 12).any(axis=2).mean() < 0.01


def test_reduced_motion_stills_all_but_the_effort(canvas: Canvas, picture: PondPicture) -> None:
    rules = evening(230)
    rules.stir = rules.rest = 0.8
    first = shown(canvas, picture, rules)
    picture.draw(canvas, rules, VIEW, 7.7)
    assert (pygame.surfarray.array3d(canvas.surface) == first).all()
    rules.swing = 0.5
    picture.draw(canvas, rules, replace(VIEW, activation=(0.3,)), 7.7)
    assert (pygame.surfarray.array3d(canvas.surface) != first).any()
