"""The leaflet: all that a patient needs on paper, in both languages, and no place for a printed name."""

from __future__ import annotations

from xml.etree import ElementTree

import pytest
from musclewood.games.desk.base.leaflet import leaflet
from musclewood.profiles.orders.daily_dose import session_minutes
from musclewood.profiles.orders.templates import template, template_names
from musclewood.profiles.orders.unmeasured import measured_besides, unmeasured

WORDS = ("twig", "lantern", "kettle", "plank", "acorn", "river", "stone", "basket", "candle", "meadow")


@pytest.mark.parametrize("language", ["en", "de"])
@pytest.mark.parametrize("name", template_names())
def test_every_template_has_its_leaflet(name: str, language: str) -> None:
    order = template(name).model_copy(update={"language": language})
    page = leaflet(order, WORDS)
    root = ElementTree.fromstring(page.removeprefix("<!doctype html>").replace('<meta charset="utf-8">', ""))
    tags = [one.tag.rpartition("}")[2] for one in root.iter()]
    assert all(word in page for word in WORDS)
    assert page.count(f"{order.sessions_per_day} ×") == len(order.days)
    assert len(root.findall(".//ol/li")) == 5 and len(root.findall(".//*[@class='line']")) == 2
    assert str(order.stop.pain_stop) in page and ("svg" in tags) == ("circle" in tags)
    assert "http" not in page.replace("http://www.w3.org", "")  # it needs nothing from elsewhere


def test_what_no_exercise_uses_is_known() -> None:
    """The other side is measured all the same; anything else that no exercise uses is not."""
    order = template("weak-thigh-after-knee-operation")
    assert unmeasured(order) == measured_besides(order) == ()
    other = order.muscles[0].model_copy(update={"id": "other-thigh", "role": "uninvolved", "channel": 1})
    both = order.model_copy(update={"muscles": (*order.muscles, other)})
    assert measured_besides(both) == (other,) and unmeasured(both) == ()
    idle = other.model_copy(update={"role": "opposite"})
    assert unmeasured(order.model_copy(update={"muscles": (*order.muscles, idle)})) == (idle,)
    assert session_minutes(both) > session_minutes(order) + 1
