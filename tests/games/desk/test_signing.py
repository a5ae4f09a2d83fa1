"""Both of the clinic's ways show the same before signing, and neither signs what was not seen."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from musclewood.games.__main__ import main
from musclewood.games.desk.form import signing
from musclewood.games.desk.form.signing import SignPage
from musclewood.profiles.clinic.clinic import Clinic
from musclewood.profiles.errors import PrescriptionError

KNEE = "weak-thigh-after-knee-operation"
PASSPHRASE = "four quiet hornbeam leaves"


def at_signing(at: Any, **values: str) -> SignPage:
    """A new patient's order, with these values typed into the form, at the page of the signature."""
    at.press("new")
    at.press("code")
    at.type("HB0042")
    at.press(f"template:{KNEE}")
    at.choose_side()
    for path, text in values.items():
        at.app.top.model.set(path.replace("__", "."), text)
    at.press("sign")
    page = at.app.top
    assert isinstance(page, SignPage)
    return page


@pytest.fixture
def keyed(clinic: Clinic, tmp_path: Path) -> Clinic:
    clinic.save_settings(clinic.settings.model_copy(update={"exchange": str(tmp_path / "carried")}))
    clinic.make_key(PASSPHRASE)
    return clinic


def test_the_window_and_the_command_line_show_the_same_facts(
    hands: Callable[..., Any], keyed: Clinic, capsys: pytest.CaptureFixture[str]
) -> None:
    page = at_signing(hands(), stop__pain_stop="10", review="2026-12-20")
    change = ["--set", "review=2026-12-20", "--set", "muscles.0.side=left", "--set", "stop.pain_stop=10"]
    assert main(["desk", "--desk", str(keyed.root), "prescribe", "--patient", "HB-0042", "--from", KNEE, *change]) == 0
    printed = capsys.readouterr().out.splitlines()
    told = page.told()
    assert len(told) > 10 and [line for line in printed if line in told] == told
    for concern in page.model.draft.concerns():
        assert f"outside usual practice: {concern.sentence()}" in printed


def test_nothing_is_issued_before_every_line_was_in_sight(hands: Callable[..., Any], keyed: Clinic) -> None:
    at = hands()
    page = at_signing(at)
    at.press("passphrase")
    at.type(PASSPHRASE)
    seen: list[str] = []
    while any(widget.key == "on" for widget in page.choices()):
        shown = " ".join(" ".join(widget.lines) for widget in page.shown())
        seen += [line for line in page.told() if line[:40] in shown and line not in seen]
        page.acted("issue")  # an impatient hand, by whatever way: it only turns the page
        at.wait()
        assert not keyed.orders("HB-0042")
    shown = " ".join(" ".join(widget.lines) for widget in page.shown())
    seen += [line for line in page.told() if line[:40] in shown and line not in seen]
    assert seen == page.told()
    at.press("issue")
    at.wait()
    assert keyed.orders("HB-0042")[0].acknowledged is None


def test_what_is_unusual_is_asked_once_more_and_written_down(hands: Callable[..., Any], keyed: Clinic) -> None:
    at = hands()
    page = at_signing(at, stop__pain_stop="10")
    at.press("passphrase")
    at.type(PASSPHRASE)
    at.read_on()
    at.press("issue")
    at.wait()
    assert page.page == "unusual" and not keyed.orders("HB-0042")
    assert "Silbernagel" in page.told()[0]
    at.press("issue")
    at.wait()
    assert keyed.orders("HB-0042")[0].acknowledged == ("pain-stop",)


def test_no_way_of_the_clinic_signs_what_was_not_acknowledged(keyed: Clinic, hands: Callable[..., Any]) -> None:
    page = at_signing(hands(), stop__pain_stop="10")
    with pytest.raises(PrescriptionError, match="acknowledge"):
        keyed.issue(page.model.draft, keyed.unlock(PASSPHRASE))
    assert not keyed.orders("HB-0042")


def test_a_later_order_shows_what_changes_and_the_rest_on_a_second_page(
    hands: Callable[..., Any], keyed: Clinic
) -> None:
    at = hands()
    at_signing(at)
    at.press("passphrase")
    at.type(PASSPHRASE)
    at.read_on()
    at.press("issue")
    at.wait()
    at.press("done")
    at.press("HB-0042")
    at.wait()
    at.press("from-last")
    at.app.top.model.set("exercises.0.reps", "9")
    at.press("sign")
    page = at.app.top
    assert page.told() == page.model.draft.difference() and any("from 10 to 9" in line for line in page.told())
    at.press("rest")
    assert len(page.told()) > 10 and any("pain at which a session ends" in line for line in page.told())
    at.press("changed")
    assert page.told() == page.model.draft.difference()


def test_a_planted_gap_in_the_window_is_seen(
    hands: Callable[..., Any], keyed: Clinic, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    told = signing.facts_told
    monkeypatch.setattr(signing, "facts_told", lambda words, order: told(words, order)[1:])
    with pytest.raises(AssertionError):
        page = at_signing(hands())
        assert any("side left" in line for line in page.told())
