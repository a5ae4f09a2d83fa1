"""A command may set what the form sets, says what the form says, and takes nothing that the form would not offer."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import Any

import pytest
from musclewood.games.__main__ import main
from musclewood.games.desk.form.model import FormModel
from musclewood.profiles.clinic.clinic import Clinic

Prescribe = Callable[..., tuple[int, str]]
PASSPHRASE = "four quiet hornbeam leaves"
ANKLE = ("--from", "ankle-after-sprain", "--set", "muscles.0.side=left")


@pytest.fixture
def clinic(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Clinic:
    from musclewood.profiles.trust.key_file import LOWEST

    monkeypatch.setenv("MUSCLEWOOD_PASSPHRASE", PASSPHRASE)
    made = Clinic(tmp_path / "desk")
    made.make_key(PASSPHRASE, LOWEST)
    return made


@pytest.fixture
def prescribe(clinic: Clinic, capsys: pytest.CaptureFixture[str]) -> Prescribe:
    def run(*words: str) -> tuple[int, str]:
        try:
            code = main(["desk", "--desk", str(clinic.root), "prescribe", "--patient", "HB-0042", *words])
        except SystemExit as leaving:
            code = int(leaving.code or 0)
        told = capsys.readouterr()
        return code, told.out + told.err

    return run


def form(clinic: Clinic) -> FormModel:
    return FormModel(clinic.draft_from_template("ankle-after-sprain", "HB-0042", date(2026, 11, 25)))


def test_every_field_of_the_form_is_a_key_of_the_command(prescribe: Prescribe, clinic: Clinic) -> None:
    _, told = prescribe("--from", "ankle-after-sprain", "--keys")
    keys = {line.partition(" = ")[0] for line in told.splitlines()}
    assert keys == {field.key_path for field in form(clinic).fields()}


def test_titles_and_places_follow_the_language(prescribe: Prescribe, clinic: Clinic) -> None:
    code, told = prescribe(*ANKLE, "--set", "language=de", "--issue")
    assert code == 0, told
    (order,) = clinic.orders("HB-0042")
    model = form(clinic)
    model.set("language", "de")
    assert [one.title for one in order.exercises] == [one["title"] for one in model.exercises]
    assert [one.placement for one in order.muscles] == [one["placement"] for one in model.muscles]
    assert order.exercises[0].title != form(clinic).exercises[0]["title"]


def test_a_language_that_nothing_is_said_in_is_not_signed(prescribe: Prescribe, clinic: Clinic) -> None:
    code, told = prescribe(*ANKLE, "--set", "language=fr", "--issue")
    assert code == 1 and "choose one of en, de" in told and not clinic.orders("HB-0042")
    model = form(clinic)
    model.set("muscles.0.side", "left")
    assert model.prescription is not None
    model.set("language", "fr")
    assert model.prescription is None
    assert model.fault_of("language") is not None


def test_muscles_and_exercises_come_and_go(prescribe: Prescribe, clinic: Clinic) -> None:
    more = ("--with-muscle", "rectus-femoris", "--with", "hold", "--without", form(clinic).exercises[-1]["id"])
    number = len(form(clinic).exercises) - 1
    code, told = prescribe(*ANKLE, *more, "--set", f"exercises.{number}.muscles.0=rectus-femoris", "--issue")
    assert code == 0, told
    (order,) = clinic.orders("HB-0042")
    assert order.exercises[-1].kind == "hold" and order.exercises[-1].muscles == ("rectus-femoris",)
    assert [one.id for one in order.muscles][-1] == "rectus-femoris"
    code, told = prescribe("--without-muscle", "rectus-femoris")
    assert code == 1 and "rectus-femoris" in told  # an exercise trains it


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (("--with-muscle", "heart"), "vastus-medialis"),
        (("--with", "dance"), "hold"),
        (("--without-muscle", "heart"), "there is none of that name"),
        (("--set", "exercises.0.title=Anna Novak, 12 May 1961"), "choose one of"),
        (("--set", "exercises.0.muscles.0=heart"), "choose one of"),
        (("--set", "patient.name=Anna"), "no such key"),
        (("--set", "reps"), "KEY=VALUE"),
    ],
)
def test_what_the_form_does_not_offer_is_wrong_usage(prescribe: Prescribe, change: Any, said: str) -> None:
    code, told = prescribe(*ANKLE, *change)
    assert code == 2 and said in told and told.count("\n") == 1
