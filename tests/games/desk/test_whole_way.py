"""From an empty clinic to a signed order in the exchange folder, by events alone: once by keys, once by the mouse."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pygame
from musclewood.profiles.clinic.clinic import Clinic
from musclewood.profiles.trust.signature import verify

PASSPHRASE = "four quiet hornbeam leaves"


def _signed(folder: Path, patient: str, revision: int) -> Path:
    return folder / "to-home" / patient / f"{patient}-{revision:04d}.prescription.toml"


def test_by_keyboard_alone(hands: Callable[..., Any], clinic: Clinic, tmp_path: Path) -> None:
    at = hands()
    assert at.screen() == "PatientsPage"
    at.enter("new")
    assert at.screen() == "KeyPage"
    at.tab_to("exchange")
    at.key(pygame.K_a, mod=pygame.KMOD_CTRL)
    at.app.clipboard.put(f"{tmp_path / 'carried'}\n")
    at.key(pygame.K_v, mod=pygame.KMOD_CTRL)
    at.tab_to("passphrase")
    at.type(PASSPHRASE)
    at.key(pygame.K_RETURN)  # on to the second line
    at.type(PASSPHRASE)
    at.enter("make")
    at.wait()
    assert at.screen() == "WordsPage"
    assert clinic.has_key and len(clinic.words()) == 10
    at.key(pygame.K_RETURN)
    at.enter("new")
    assert at.screen() == "NewPatientPage"
    at.tab_to("code")
    at.type("hb0042")
    at.enter("template:weak-thigh-after-knee-operation")
    assert at.screen() == "FormPage"
    form = at.app.top
    at.choose_side()
    at.enter("tab:exercise:0")
    at.tab_to("exercises.0.reps")
    reps = form.model.value("exercises.0.reps")
    at.key(pygame.K_RIGHT)
    assert form.model.value("exercises.0.reps") == reps + 1
    at.key(pygame.K_LEFT)
    at.tab_to("exercises.0.hold_s")
    at.type("4.5")
    at.key(pygame.K_RETURN)
    at.tab_to("exercises.0.scaling.success_target")  # further down than the paper shows at first
    at.enter("sign")
    assert at.screen() == "SignPage"
    at.tab_to("passphrase")
    at.type(PASSPHRASE)
    at.key(pygame.K_RETURN)  # too early: nothing is signed before it was seen
    at.wait()
    assert at.screen() == "SignPage" and not clinic.orders("HB-0042")
    assert at.read_on() > 1
    at.enter("issue")
    at.wait()
    assert at.screen() == "IssuedPage"
    at.key(pygame.K_RETURN)
    assert at.screen() == "PatientsPage"
    assert [one.patient for one in at.app.top.found()] == ["HB-0042"]
    path = _signed(tmp_path / "carried", "HB-0042", 1)
    assert verify(path.read_bytes()).clinic is not None
    assert clinic.orders("HB-0042")[0].exercises[0].hold_s == 4.5


def test_by_mouse_with_letters_only_for_what_must_be_typed(
    hands: Callable[..., Any], clinic: Clinic, tmp_path: Path
) -> None:
    at = hands()
    at.press("new")
    at.app.step([pygame.event.Event(pygame.DROPFILE, file=str(tmp_path / "carried"))], 1 / 60)
    at.press("passphrase")
    at.type(PASSPHRASE)
    at.press("again")
    at.type(PASSPHRASE)
    at.press("make")
    at.wait()
    assert at.screen() == "WordsPage"
    at.press("done")
    at.press("new")
    at.press("code")
    at.type("AB-123")
    at.press("template:wrist-after-stroke")
    form = at.app.top
    at.choose_side()
    at.press("tab:order")
    at.press("day:sat")
    assert "sat" in form.model.value("days")
    at.press("day:sat")
    at.press("sessions_per_day", across=0.05)
    assert form.model.value("sessions_per_day") == 1
    at.press("tab:exercise:0")
    target = form.model.value("exercises.0.effort.target_pct_mvc")
    at.scroll_to("exercises.0.effort.target_pct_mvc")
    at.press("exercises.0.effort.target_pct_mvc", across=0.95)
    assert form.model.value("exercises.0.effort.target_pct_mvc") == target + 1
    at.press("sign")
    at.press("passphrase")
    at.type(PASSPHRASE)
    at.read_on()
    at.press("issue")
    at.wait()
    at.press("done")
    assert at.screen() == "PatientsPage"
    order = clinic.orders("AB-123")[0]
    assert order.sessions_per_day == 1
    assert _signed(tmp_path / "carried", "AB-123", 1).exists()
    # From the list to the next revision.
    at.press("AB-123")
    assert at.screen() == "PatientPage"
    at.wait()
    at.press("from-last")
    assert at.app.top.model.draft.difference() == []
    at.press("back")
    assert at.screen() == "PatientPage"


def test_the_passphrase_and_the_plain_key_are_nowhere(
    hands: Callable[..., Any], clinic: Clinic, tmp_path: Path
) -> None:
    at = hands()
    at.press("new")
    page = at.app.top
    page.drop(str(tmp_path / "carried"))
    for line in ("passphrase", "again"):
        at.press(line)
        at.type(PASSPHRASE)
        assert PASSPHRASE not in page.entries[line].shown
        assert PASSPHRASE not in repr(page.entries)
    at.press("make")
    at.wait()
    assert not any(entry.masked and entry.text for entry in page.entries.values())
    root = clinic.unlock(PASSPHRASE).root
    for path in tmp_path.rglob("*"):
        if path.is_file():
            content = path.read_bytes()
            assert PASSPHRASE.encode() not in content and root not in content
            assert root.hex().encode() not in content


def test_a_wrong_passphrase_changes_nothing_and_says_so(
    hands: Callable[..., Any], clinic: Clinic, tmp_path: Path
) -> None:
    clinic.save_settings(clinic.settings.model_copy(update={"exchange": str(tmp_path)}))
    clinic.make_key(PASSPHRASE)
    at = hands()
    at.press("new")
    at.press("code")
    at.type("HB0042")
    at.press("template:ankle-after-sprain")
    at.choose_side()
    at.press("sign")
    at.read_on()
    page = at.app.top
    at.press("passphrase")
    at.type("a different passphrase")
    at.press("issue")
    at.wait()
    assert page.trouble == page.theme.words("desk.sign.wrong")
    assert page.entries["passphrase"].text == ""
    assert clinic.orders("HB-0042") == ()
    at.press("issue")
    assert page.trouble == page.theme.words("desk.sign.no-passphrase")


def test_an_unreachable_folder_keeps_the_order_and_says_where_it_is(
    hands: Callable[..., Any], clinic: Clinic, tmp_path: Path
) -> None:
    clinic.save_settings(clinic.settings.model_copy(update={"exchange": str(tmp_path / "pulled-out-stick")}))
    clinic.make_key(PASSPHRASE)
    at = hands()
    at.press("new")
    at.press("code")
    at.type("HB0042")
    at.press("template:ankle-after-sprain")
    at.choose_side()
    at.press("sign")
    at.read_on()
    at.press("passphrase")
    at.type(PASSPHRASE)
    at.press("issue")
    at.wait()
    page = at.app.top
    assert at.screen() == "IssuedPage"
    assert not page.issued.delivered and page.issued.trouble
    assert len(clinic.orders("HB-0042")) == 1
