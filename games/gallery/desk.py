"""The desk's pages in their states, as pictures. Everything they show is invented."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from musclewood.games.desk.base import marks
from musclewood.games.desk.base.keymaking import ChangeKeyPage, KeyPage, WordsPage
from musclewood.games.desk.base.notes import NotePage
from musclewood.games.desk.form.model import FormModel
from musclewood.games.desk.form.page import FormPage
from musclewood.games.desk.form.pairing import PairingPage, Step
from musclewood.games.desk.form.picking import KindPage, MusclePage
from musclewood.games.desk.form.signing import IssuedPage, SignPage
from musclewood.games.desk.pages.clinic import ClinicSettingsPage
from musclewood.games.desk.pages.collecting import CollectPage
from musclewood.games.desk.pages.patient import PatientPage
from musclewood.games.desk.pages.patients import PatientsPage
from musclewood.games.desk.pages.review import ReviewPage
from musclewood.games.desk.pages.settings import DeskSettingsPage
from musclewood.games.desk.pages.starting import NewPatientPage
from musclewood.games.desk.pages.visits import VisitsPage
from musclewood.games.gallery import desk_made_up as made_up
from musclewood.games.gallery.desk_bench import bench_states
from musclewood.games.screens.base.page import Page, Surroundings
from musclewood.profiles.clinic.clinic import Issued
from musclewood.profiles.exchange.reception import NewSender

Make = Callable[[Surroundings], Page]
CODE = "HB-0104"


def desk_states() -> dict[str, Make]:
    """How to make each page of the desk in each state that is worth seeing."""
    return {**_lists(), **_forms(), **_trust(), **bench_states(CODE)}


def _lists() -> dict[str, Make]:
    def searched(around: Surroundings) -> Page:
        page = PatientsPage(around, made_up.office())
        page.type("07")
        return page

    def nobody(around: Surroundings) -> Page:
        page = PatientsPage(around, made_up.office())
        page.type("ZZ")
        return page

    def scrolled(around: Surroundings) -> Page:
        page = PatientsPage(around, made_up.office(200))
        page.leap(9)
        return page

    def much(around: Surroundings) -> Page:
        office = made_up.office()
        listed = office.patients()
        reasons = [reason for one in listed[::5] for reason in one.attention[:1]][:4]
        listed[0] = made_up.with_reasons(listed[0], *reasons)
        return _counted(PatientPage(around, office, listed[0].patient))

    def wrong(around: Surroundings) -> Page:
        page = ClinicSettingsPage(around, made_up.office())
        page.entries["silent_days"].write("ten")
        page.acted("keep")
        return page

    def review(name: str) -> Make:
        def make(around: Surroundings) -> Page:
            page = ReviewPage(around, made_up.office(language=around.theme.settings.language), CODE)
            page._read()
            page._job = None
            page.over_time = name == "-time"
            if name == "-two":
                page.chosen("session:2")
            return page

        return make

    def visits(around: Surroundings) -> Page:
        page = VisitsPage(around, made_up.office(), CODE)
        page.entries = made_up.entries(CODE)
        return page

    return {
        "desk-first-day": lambda around: PatientsPage(around, made_up.office(0, has_key=False)),
        "desk-patients": lambda around: PatientsPage(around, made_up.office(12)),
        "desk-patients-far-down": scrolled,
        "desk-patients-searched": searched,
        "desk-patients-not-found": nobody,
        "desk-patient": lambda around: _counted(PatientPage(around, made_up.office(), CODE)),
        "desk-patient-much": much,
        "desk-patient-silent": lambda around: _counted(PatientPage(around, made_up.office(), "HB-0178"), none=True),
        **{f"desk-review{name}": review(name) for name in ("", "-time", "-two")},
        "desk-visits": visits,
        "desk-new-patient": lambda around: NewPatientPage(around, made_up.office()),
        "desk-template": lambda around: NewPatientPage(around, made_up.office(), CODE),
        "desk-clinic-settings": lambda around: ClinicSettingsPage(around, made_up.office()),
        "desk-clinic-settings-wrong": wrong,
        "desk-settings": lambda around: DeskSettingsPage(around, made_up.office()),
    }


def _forms() -> dict[str, Make]:
    def form(section: str, *, faulty: bool = False, typing: str = "", focus: str = "") -> Make:
        def make(around: Surroundings) -> Page:
            page = FormPage(around, made_up.office(), model(faulty, spoken(around)))
            page.section, page.focus = section, focus
            for letter in typing:
                page.type(letter)
            return page

        return make

    def low_ceiling(around: Surroundings) -> Page:
        tight = model(False, spoken(around))
        tight.set("ceilings.reps_per_day", "12")
        page = FormPage(around, made_up.office(), tight)
        page.section, page.focus = "ceilings", "ceilings.reps_per_day"
        return page

    return {
        "desk-form-plan": form("order"),
        "desk-form-stop": form("stop", focus="stop.pain_stop"),
        "desk-form-ceilings": low_ceiling,
        "desk-form-calibration": form("calibration"),
        "desk-form-muscles": form("muscles"),
        "desk-form-exercise": form("exercise:0", focus="exercises.0.reps"),
        "desk-form-exercise-typing": form("exercise:0", focus="exercises.0.hold_s", typing="7.5"),
        "desk-form-exercise-faulty": form("exercise:0", faulty=True, focus="exercises.0.effort.target_pct_mvc"),
        "desk-form-pattern": form("exercise:2"),
        "desk-kinds": lambda around: KindPage(around, model(False, spoken(around)), lambda key: None),
        "desk-muscles": lambda around: MusclePage(around, model(False, spoken(around))),
        "desk-sign": lambda around: SignPage(around, made_up.office(), changed(spoken(around))),
        "desk-sign-faulty": lambda around: SignPage(around, made_up.office(), model(True, spoken(around))),
        "desk-sign-without-key": lambda around: SignPage(
            around, made_up.office(has_key=False), changed(spoken(around))
        ),
        "desk-issued": lambda around: IssuedPage(around, made_up.office(), issued(True, spoken(around))),
        "desk-issued-waiting": lambda around: IssuedPage(around, made_up.office(), issued(False, spoken(around))),
        "desk-pair": lambda around: pairing(around, "way"),
        "desk-pair-compare": lambda around: pairing(around, "compare"),
        "desk-pair-theirs": lambda around: pairing(around, "theirs"),
        "desk-pair-done": lambda around: pairing(around, "done"),
        "desk-note": lambda around: NotePage(
            around, around.theme.words("desk.try.missing", workshop=around.theme.words("desk.workshop.yoke"))
        ),
    }


def _trust() -> dict[str, Make]:
    def asked(around: Surroundings) -> Page:
        page = CollectPage(around, made_up.office())
        page.entries, page.asked = {}, [NewSender(CODE, made_up.WORDS, False)]
        return page

    def collected(around: Surroundings) -> Page:
        page, words = CollectPage(around, made_up.office()), around.theme.words
        page.entries, page.done = {}, True
        page.lines = [(marks.leaf, words("desk.collect.one", code=code)) for code in (CODE, "HB-0141", "HB-0215")]
        page.lines.append((marks.warning, words("desk.collect.not-taken", code="HB-0252")))
        return page

    return {
        "desk-key": lambda around: KeyPage(around, made_up.office(0, has_key=False)),
        "desk-words": lambda around: WordsPage(around, made_up.office(), new=True),
        "desk-key-words": lambda around: WordsPage(around, made_up.office(), new=False),
        "desk-change-key": lambda around: ChangeKeyPage(around, made_up.office()),
        "desk-collect": lambda around: CollectPage(around, made_up.office()),
        "desk-collect-new-computer": asked,
        "desk-collected": collected,
    }


def spoken(around: Surroundings) -> str:
    """An invented patient speaks what the desk does."""
    return around.theme.settings.language


def model(faulty: bool, language: str = "en") -> FormModel:
    """An order that follows an invented last one; `faulty` with slips of the pen in it."""
    made = FormModel(made_up.office(language=language).clinic.draft_from_last(CODE, made_up.TODAY))
    if faulty:
        made.set("exercises.0.effort.target_pct_mvc", "250")
        made.set("exercises.0.effort.tolerance_pct_mvc", "wide")
        made.set("exercises.1.reps", "300")
        made.set("review", "2026-11-01")
    return made


def changed(language: str = "en") -> FormModel:
    """An order with a few changes, ready to be signed."""
    made = model(False, language)
    made.step("exercises.0.effort.target_pct_mvc", 3)
    made.step("exercises.0.rest_s", 2)
    made.toggle_day("sat")
    return made


def pairing(around: Surroundings, step: Step) -> Page:
    """The patient's computer in the room, at one of its steps."""
    page = PairingPage(around, made_up.office(), issued(True, spoken(around)), media=[])
    page.offer([Path("BLUE")])
    page.turn_to(step)
    return page


def issued(delivered: bool, language: str = "en") -> Issued:
    order = made_up.office(language=language).clinic.orders(CODE)[0]
    trouble = None if delivered else "there is no exchange folder 'stick'; put the memory stick in, or make the folder"
    return Issued(order, Path("order.toml"), delivered, trouble)


def _counted(page: PatientPage, *, none: bool = False) -> Page:
    """With adherence by week as if it had been looked up."""
    page.weeks = [] if none else [None, 72.0, 88.0, 95.0, 61.0, 84.0, 92.0, 97.0]
    page._job = None
    return page
