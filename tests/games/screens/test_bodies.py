"""Pads are drawn where published sites lie."""

from __future__ import annotations

import pygame
import pytest
from musclewood.games.kit.paper import art_text, bake
from musclewood.games.screens.base.bodies import MIDDLE, known_muscles, site_of
from musclewood.profiles.orders.templates import template, template_names


@pytest.mark.parametrize("name", ["Vastus medialis", "vastus_medialis_left", "M. vastus medialis", "vastus-medialis"])
def test_usual_ways_of_naming(name: str) -> None:
    assert site_of(name, "left") is not None


def test_a_muscle_that_nobody_drew_has_none() -> None:
    assert site_of("Popliteus", "right") is None


@pytest.mark.parametrize("name", template_names())
def test_every_muscle_of_a_template_has_its_dot(name: str) -> None:
    for muscle in template(name).muscles:
        assert site_of(muscle.name, muscle.side), muscle.name


def test_wrist_extensors_lie_behind_and_flexors_in_front_a_third_below_the_elbow() -> None:
    """Where an atlas of surface EMG has them (Cram; Perotto; value from memory)."""
    extensors, flexors = site_of("Wrist extensors", "right"), site_of("Wrist flexors", "right")
    assert extensors and flexors
    assert (extensors.view, flexors.view) == ("back", "front")
    for site in (extensors, flexors):
        assert 244 < site.at[1] < 290, "between the elbow and the middle of the forearm, on the drawing"


def test_sides_mirror() -> None:
    left, right = site_of("rectus femoris", "left"), site_of("rectus femoris", "right")
    assert left and right
    assert left.at[0] - MIDDLE == pytest.approx(MIDDLE - right.at[0])
    assert left.at[0] > MIDDLE  # from the front, the body's left is on the right
    behind = site_of("biceps femoris", "left")
    assert behind and behind.view == "back" and behind.at[0] < MIDDLE


@pytest.mark.parametrize("name", known_muscles())
@pytest.mark.parametrize("side", ["left", "right"])
def test_every_site_lies_on_the_body(name: str, side: str) -> None:
    site = site_of(name, side)
    assert site
    sheet = bake(art_text(f"body/{site.view}.svg"), 1.0)
    assert isinstance(sheet.surface, pygame.Surface)
    pixel = (round(site.at[0] - sheet.x), round(site.at[1] - sheet.y))
    assert sheet.surface.get_at(pixel).a > 250, f"{name} lies beside the drawn body"


def test_medial_lies_inward_of_lateral() -> None:
    for inner, outer in (("vastus medialis", "vastus lateralis"), ("semitendinosus", "biceps femoris")):
        one, other = site_of(inner, "left"), site_of(outer, "left")
        assert one and other
        assert abs(one.at[0] - MIDDLE) < abs(other.at[0] - MIDDLE)
