"""The templates a therapist starts from."""

from __future__ import annotations

import pytest
from musclewood.profiles.orders.daily_dose import daily_dose, dose_in_words
from musclewood.profiles.orders.exercises import KINDS
from musclewood.profiles.orders.templates import template, template_names, template_text

# Every line of the Consensus on Exercise Reporting Template (Slade 2016, BJSM 50:1428) and the keys that answer it.
CERT = {
    "1 equipment": ["description.equipment"],
    "2 provider": ["description.provider"],
    "3 individual or group": ["description.delivery"],
    "4 supervision": ["description.supervision"],
    "5 adherence": ["description.adherence"],
    "6 motivation": ["description.motivation"],
    "7a progression rule": ["description.progression", "exercises[].scaling.success_target"],
    "7b progression": ["exercises[].scaling.step_pct_mvc", "exercises[].effort.max_pct_mvc"],
    "8 each exercise": ["exercises[].title", "exercises[].kind", "exercises[].muscles", "muscles[].placement"],
    "9 home part": ["days", "sessions_per_day", "hours_between_sessions"],
    "10 other parts": ["description.other_parts"],
    "11 adverse events": ["description.adverse_events", "stop.pain_stop"],
    "12 setting": ["description.setting"],
    "13 dose": [
        "exercises[].sets",
        "exercises[].reps",
        "exercises[].hold_s",
        "exercises[].rest_s",
        "exercises[].set_rest_s",
        "exercises[].effort.target_pct_mvc",
        "exercises[].effort.tolerance_pct_mvc",
        "sessions_per_day",
        "days",
        "issued",
        "review",
        "description.dose_in_words",
    ],
    "14a tailored": ["description.tailoring"],
    "14b how tailored": ["calibration.trials", "exercises[].effort.min_pct_mvc", "exercises[].effort.max_pct_mvc"],
    "15 starting level": ["description.starting_level", "exercises[].effort.target_pct_mvc"],
    "16a fidelity measured": ["description.fidelity"],
    "16b as planned": ["ceilings.reps_per_day", "description.fidelity"],
}


def test_there_are_eight_and_they_use_every_kind() -> None:
    assert len(template_names()) == 8
    used = {exercise.kind for name in template_names() for exercise in template(name).exercises}
    assert {"hold", "quick", "track", "relax", "selective", "paired"} <= used <= set(KINDS)


@pytest.mark.parametrize("name", template_names())
def test_a_template_is_marked_to_be_adjusted(name: str) -> None:
    assert "adjust for your patient" in template_text(name).splitlines()[0]
    assert "adjust for your patient" in (template(name).note or "")


@pytest.mark.parametrize("name", template_names())
def test_the_dose_said_is_the_dose_ordered(name: str) -> None:
    prescription = template(name)
    assert prescription.description.dose_in_words == dose_in_words(prescription)
    reps = sum(exercise.sets * exercise.reps for exercise in prescription.exercises) * prescription.sessions_per_day
    assert daily_dose(prescription)[0] == reps
    assert f"{reps} repetitions" in dose_in_words(prescription)


@pytest.mark.parametrize("name", template_names())
@pytest.mark.parametrize("line", CERT)
def test_every_line_of_the_reporting_template_has_its_field(name: str, line: str) -> None:
    plain = template(name).model_dump()
    for path in CERT[line]:
        for value in _values(plain, path.split(".")):
            assert value not in (None, "", ()), path


def _values(table: object, steps: list[str]) -> list[object]:
    if not steps:
        return [table]
    assert isinstance(table, dict)
    key = steps[0].removesuffix("[]")
    assert key in table, key
    inner = table[key]
    if steps[0].endswith("[]"):
        return [value for entry in inner for value in _values(entry, steps[1:])]
    return _values(inner, steps[1:])


def test_there_are_nineteen_lines() -> None:
    assert len(CERT) == 19


def test_an_unknown_template_is_a_key_error() -> None:
    with pytest.raises(KeyError):
        template_text("../secrets")
