"""The list, the form and the try-out at work: looking for a code, scrolling, taking back,
trying at the ordered effort."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import Any

import pygame
import pytest
from musclewood.games.__main__ import main
from musclewood.games.commands.visits import WHY
from musclewood.games.desk.base import office
from musclewood.games.desk.base.editing import Clipboard
from musclewood.games.desk.base.entry import Edit
from musclewood.games.desk.base.notes import NotePage
from musclewood.games.desk.form import tryout
from musclewood.games.desk.form.model import FormModel
from musclewood.games.desk.form.page import FormPage
from musclewood.games.desk.form.tryout import TryOut, alone, try_out
from musclewood.games.desk.pages.patients import PatientsPage
from musclewood.games.gallery import desk_made_up as made_up
from musclewood.games.kit.canvas import Canvas
from musclewood.games.kit.controls import Act, Intent
from musclewood.games.kit.settings import Settings
from musclewood.games.screens.base.page import Back, Surroundings
from musclewood.profiles.clinic.clinic import Clinic
from musclewood.profiles.orders.templates import template
from musclewood.profiles.visits.entries import Entry, Examination, MuscleTrials, ReferenceTest, Trial

from tests.games.commands.test_bench_commands import recording

DAY = date(2026, 11, 25)
Pages = Callable[..., Surroundings]


def model() -> FormModel:
    return FormModel(made_up.office().clinic.draft_from_template("ankle-after-sprain", "HB-0104", DAY))


def listed(around: Pages, canvas: Callable[[int, int], Canvas], count: int) -> PatientsPage:
    page = PatientsPage(around(size=(640, 360)), made_up.office(count))
    page.lay_out(canvas(640, 360))
    return page


# -- the list


def test_the_most_urgent_is_on_top_and_in_focus(around: Pages, canvas: Callable[[int, int], Canvas]) -> None:
    page = listed(around, canvas, 60)
    urgent = [one.urgency for one in page.found()]
    assert urgent == sorted(urgent)
    assert page.focus == page.found()[0].patient


def test_down_goes_through_all_of_them(around: Pages, canvas: Callable[[int, int], Canvas]) -> None:
    page, target = listed(around, canvas, 25), canvas(640, 360)
    seen = []
    for _ in range(25):
        page.lay_out(target)
        assert page.focus in {widget.key for widget in page.choices()}
        seen.append(page.focus)
        page.handle(Intent(Act.DOWN))
    assert seen == [one.patient for one in page.found()]


def test_pages_and_wheel_keep_within_the_list(around: Pages, canvas: Callable[[int, int], Canvas]) -> None:
    page, target = listed(around, canvas, 25), canvas(640, 360)
    for _ in range(9):
        page.leap(1)
    page.lay_out(target)
    assert page.focus == page.found()[-1].patient
    page.scroll(99)
    page.lay_out(target)
    assert page.found()[0].patient in {widget.key for widget in page.choices()}
    page.scroll(-99)
    page.lay_out(target)
    assert page.found()[-1].patient in {widget.key for widget in page.choices()}


def test_only_what_is_seen_is_laid_out(around: Pages, canvas: Callable[[int, int], Canvas]) -> None:
    many = listed(around, canvas, 200)
    few = listed(around, canvas, many.rows_shown())
    assert len(few.found()) < len(many.found())
    assert len(many.lay_out(canvas(640, 360))) <= len(few.lay_out(canvas(640, 360))) + 1


def test_typing_looks_for_a_code_and_backspace_takes_back(around: Pages, canvas: Callable[[int, int], Canvas]) -> None:
    page = listed(around, canvas, 60)
    wanted = page.found()[7].patient
    for letter in wanted.replace("-", "").lower():
        page.type(letter)
    assert [one.patient for one in page.found()] == [wanted]
    page.edit(Edit("erase"), Clipboard())
    assert len(page.found()) >= 1
    page.handle(Intent(Act.BACK))
    assert len(page.found()) == 60 and page.focus != "leave"
    page.handle(Intent(Act.BACK))
    assert page.focus == "leave"


# -- the form


def test_letters_are_letters_and_never_stop_anything(hands: Callable[..., Any]) -> None:
    """The keys that stop a session at home are letters of a code here."""
    at = hands()
    at.app.stack.append(FormPage(at.app.around, made_up.office(), model()))
    at.wait()
    at.app.top.focus = "review"
    at.type("shp 2027")
    assert at.screen() == "FormPage"
    assert at.app.top.model.text("review") == "shp 2027"
    at.key(pygame.K_ESCAPE)  # takes back what was typed
    assert at.app.top.model.fault_of("review") is None
    assert not at.app.top.model.touched


def test_an_order_that_was_worked_on_is_left_only_after_a_question(
    around: Pages, canvas: Callable[[int, int], Canvas]
) -> None:
    page = FormPage(around(size=(640, 360)), made_up.office(), model())
    page.lay_out(canvas(640, 360))
    assert page.handle(Intent(Act.BACK)) == Back()
    page.model.step("exercises.0.reps", 1)
    assert page.handle(Intent(Act.BACK)) is None
    assert page.handle(Intent(Act.BACK)) == Back()


def test_up_and_down_reach_every_field_of_a_long_leaf(around: Pages, canvas: Callable[[int, int], Canvas]) -> None:
    page, target = FormPage(around(size=(640, 360)), made_up.office(), model()), canvas(640, 360)
    page.section, page.focus = "exercise:0", "exercises.0.sets"
    seen = set()
    for _ in range(20):
        page.lay_out(target)
        seen.add(page.focus)
        page.handle(Intent(Act.DOWN))
    assert {"exercises.0.effort.target_pct_mvc", "exercises.0.scaling.on"} & seen
    assert any(".scaling." in key for key in seen)


def test_a_removed_exercise_leaves_the_one_before_open(around: Pages, canvas: Callable[[int, int], Canvas]) -> None:
    page, target = FormPage(around(size=(640, 360)), made_up.office(), model()), canvas(640, 360)
    count = len(page.model.exercises)
    page.section = f"exercise:{count - 1}"
    page.lay_out(target)
    page.chosen("remove")
    page.lay_out(target)
    assert page.leaf.number == count - 2
    for _ in range(count - 2):
        page.chosen("remove")
    page.lay_out(target)
    assert "remove" not in {widget.key for widget in page.choices()}  # one must stay


# -- the try-out


def test_a_try_out_plays_the_ordered_exercise_and_leaves_nothing(
    around: Pages, canvas: Callable[[int, int], Canvas]
) -> None:
    made = model()
    made.step("exercises.0.effort.target_pct_mvc", 5)
    page = try_out(around(size=(640, 360)), made, 0, lambda: made_up.NOON)
    assert isinstance(page, TryOut)
    view = page.play.view
    assert view.stage == "exercise" and view.exercise and view.rep
    assert view.exercise.exercise_id == made.exercises[0]["id"]
    assert view.rep.target == pytest.approx(made.value("exercises.0.effort.target_pct_mvc") / 100)
    assert page.play.practice
    folder = page._folder.name
    for _ in range(400):
        page.play.advance(0.05)
        page._follow()
    assert page.play.view.rep and page.play.view.rep.made >= 1
    assert page.handle(Intent(Act.BACK)) == Back()
    assert not Path(folder).exists()


def test_a_try_out_on_the_patient_asks_them_and_takes_what_the_bench_measured(around: Pages, tmp_path: Path) -> None:
    """The muscle that was at the bench plays: pain is asked, and what is 100 % is known since today's test."""
    made = model()
    file = recording(tmp_path / "muscle.edf", 30, (200.0, ((14.0, 24.0),)), (5.0, ()))
    muscle = made.muscles[0]
    trials = (Trial(value_uv=400.0), Trial(value_uv=400.0))
    found = MuscleTrials(muscle=muscle["id"], name=muscle["name"], side="left", channel=0, rest_uv=3.0, trials=trials)
    test = ReferenceTest(reference="maximum", found=found, reference_uv=400.0, low_uv=380.0, high_uv=420.0)
    other = test.model_copy(update={"found": found.model_copy(update={"muscle": made.muscles[1]["id"], "channel": 1})})
    entries = [
        Entry(patient=made.patient, number=1, at=made_up.NOON, before="0" * 64, content=Examination(result=one))
        for one in (test, other)
    ]
    page = try_out(around(size=(640, 360)), made, 0, lambda: made_up.NOON, f"replay:{file}", entries)
    assert isinstance(page, TryOut), page
    for _ in range(20):
        page.update(0.05)
    assert page.play.view.stage == "comfort" and not page.play.practice  # nobody answers for the patient
    page.play.answer(0)
    for _ in range(400):
        if page.play.view.stage == "exercise":
            break
        if page.play.view.signal and page.play.view.signal.may_go_on:
            page.play.answer("go on")
        if page.play.view.stage == "choose":
            page.play.answer(made.exercises[0]["workshops"][0])
        page.update(0.05)
        assert page.play.view.stage != "calibration"
    assert page.play.view.stage == "exercise"
    most = 0.0
    for _ in range(400):
        page.update(0.05)
        most = max(most, page.play.rep.activation[0] if page.play.rep else 0.0)
    page.close()
    assert most == pytest.approx(0.5, abs=0.2)  # half of 400 µV, from the recording


def test_a_try_out_that_comes_to_its_end_comes_back_by_itself(around: Pages) -> None:
    made = model()
    for name, text in (("sets", "1"), ("reps", "1"), ("hold_s", "1"), ("rest_s", "1")):
        made.set(f"exercises.0.{name}", text)
    page = try_out(around(size=(640, 360)), made, 0, lambda: made_up.NOON)
    assert isinstance(page, TryOut)
    page.inner._picture = object()  # type: ignore[attr-defined]
    for _ in range(2000):
        if (back := page.update(0.05)) is not None:
            assert back == Back()
            return
    raise AssertionError("it never ends")


def test_pressing_the_way_back_ends_it(hands: Callable[..., Any]) -> None:
    at = hands()
    form = FormPage(at.app.around, made_up.office(), model())
    at.app.stack.append(form)
    form.section = "exercise:0"
    at.wait()
    at.press("try")
    assert at.screen() == "TryOut"
    page = at.app.top
    at.wait()
    box = page._way_back
    at.press_at((box.left + box.width / 2, box.top + box.height / 2))
    assert at.app.top is form
    at.press("try")
    at.key(pygame.K_ESCAPE)
    assert at.app.top is form


def test_a_kind_without_a_workshop_says_so(around: Pages, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(tryout, "workshops", dict)
    page = try_out(around(), model(), 0, lambda: made_up.NOON)
    assert isinstance(page, NotePage) and "not built yet" in page.text


def test_a_faulty_order_is_not_tried(around: Pages) -> None:
    made = model()
    made.set("exercises.0.reps", "0")
    assert isinstance(try_out(around(), made, 0, lambda: made_up.NOON), NotePage)


def test_a_try_out_is_practice_of_one_exercise_alone() -> None:
    order = template("co-contracting-hamstring").model_copy(update={"record_samples": True})
    one = alone(order, 1)
    assert [exercise.id for exercise in one.exercises] == [order.exercises[1].id]
    assert one.practice.allowed and not one.record_samples


def test_the_window_can_take_any_shape(hands: Callable[..., Any]) -> None:
    at = hands(size=(700, 500))
    pygame.display.set_mode((900, 400), pygame.RESIZABLE)
    at.app.step([pygame.event.Event(pygame.VIDEORESIZE, size=(900, 400), w=900, h=400)], 0.5)
    at.wait()
    at.press("settings")
    assert at.screen() == "DeskSettingsPage"
    at.press("language")
    assert at.app.around.theme.words.language == "de"
    at.press("back")
    assert at.screen() == "PatientsPage"


def test_settings_that_cannot_be_read_are_a_sentence_and_no_crash(hands: Callable[..., Any], clinic: Clinic) -> None:
    clinic.root.mkdir(parents=True)
    (clinic.root / "desk.toml").write_text("exchange = ", "utf-8")
    at = hands()
    assert "desk.toml" in at.app.top.trouble
    at.press("new")
    assert at.screen() == "NotePage"
    at.press("back")


def test_initials_with_a_year_of_birth_are_no_code(hands: Callable[..., Any], clinic: Clinic) -> None:
    clinic.make_key("four quiet hornbeam leaves")
    at = hands()
    at.press("new")
    at.type("HB1987")
    at.press("template:ankle-after-sprain")
    assert at.screen() == "NewPatientPage"
    assert "year of birth" in at.app.top.trouble


def test_the_window_sees_what_commands_did_beside_it(
    hands: Callable[..., Any], clinic: Clinic, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """The list and the card, while they are open: an order, an absence, a setting."""
    monkeypatch.setattr(office, "GLANCE_S", 0.0)
    monkeypatch.setenv("MUSCLEWOOD_PASSPHRASE", "four quiet hornbeam leaves")
    clinic.make_key("four quiet hornbeam leaves")
    at = hands()

    def command(*words: str) -> None:
        assert main(["desk", "--desk", str(clinic.root), *words]) == 0, capsys.readouterr()
        at.wait(3)

    order = ("prescribe", "--patient", "HB-0042", "--issue")
    command(*order, "--from", "ankle-after-sprain", "--set", "muscles.0.side=left")
    assert [one.patient for one in at.app.top.found()] == ["HB-0042"] and at.widget("HB-0042")
    at.press("HB-0042")
    assert at.screen() == "PatientPage" and at.app.top.summary.revision == 1
    command(*order, "--set", "exercises.0.reps=7")
    assert at.app.top.summary.revision == 2
    assert any("rder 2" in line for line in lines_of(at)), lines_of(at)
    command("settings", "--silent-days", "1")
    assert clinic.settings.silent_days == 1 and not at.app.office.stale
    command("discharge", "HB-0042", "--why", WHY[0])
    assert at.app.top.summary is None  # nobody of the daily list any more
    at.key(pygame.K_ESCAPE)
    assert at.app.top.found() == []


def lines_of(at: Any) -> list[str]:
    at.app.draw()
    return [line for widget in at.app.top.shown() for line in widget.lines]


def test_more_than_six_patients_are_seen_at_once(around: Pages, canvas: Callable[[int, int], Canvas]) -> None:
    for scale, least in ((1.0, 9), (1.2, 7)):
        page = PatientsPage(around(Settings().changed(text_scale=scale)), made_up.office(60))
        page.lay_out(canvas(1280, 720))
        assert page.rows_shown() >= least


def test_the_window_sets_what_the_command_sets(hands: Callable[..., Any], clinic: Clinic) -> None:
    at = hands()
    at.press("settings")
    at.press("clinic")
    page = at.app.top
    assert set(page.entries) == set(clinic.settings.model_dump(exclude={"format"}))
    for key, text in (("clinic", "Beech practice"), ("timezone", "Europe/Prague"), ("silent_days", "200")):
        at.tab_to(key)
        at.key(pygame.K_a, mod=pygame.KMOD_CTRL)
        at.type(text)
    at.press("keep")
    assert at.app.top is page and page.focus == "silent_days" and "1 to 90" in page.trouble
    assert clinic.settings.clinic == "Clinic"  # nothing is kept before all of it can be
    at.key(pygame.K_a, mod=pygame.KMOD_CTRL)
    at.type("10")
    at.press("keep")
    kept = clinic.settings
    assert (kept.clinic, kept.timezone, kept.silent_days) == ("Beech practice", "Europe/Prague", 10)
    assert at.screen() == "DeskSettingsPage"
