"""Text that is typed can be pasted and edited: caret, what is chosen, clipboard."""

from __future__ import annotations

import shutil
import subprocess
import sys
import warnings
from collections.abc import Callable
from typing import Any

import pygame
import pytest
from hypothesis import given
from hypothesis import strategies as st
from musclewood.games.desk.base.editing import Clipboard, edit_of, part_in_sight
from musclewood.games.desk.base.entry import CODE, MOVES, PASSPHRASE, VALUE, Edit, Entry
from musclewood.games.desk.base.keymaking import KeyPage
from musclewood.games.desk.form.page import FormPage
from musclewood.games.gallery import desk_made_up as made_up
from musclewood.games.gallery.desk import model
from musclewood.games.kit.canvas import Box, Canvas
from musclewood.games.kit.settings import Settings
from musclewood.games.kit.theme import Theme

CTRL, SHIFT, RIGHT_ALT = pygame.KMOD_CTRL, pygame.KMOD_SHIFT, pygame.KMOD_ALT | pygame.KMOD_CTRL
ACTS = [*MOVES, "erase", "delete", "all", "cut"]


def line(text: str, takes: str = PASSPHRASE, **more: Any) -> Entry:
    return Entry(takes, 60, text=text, **more)


def edited(entry: Entry, *edits: Edit) -> str:
    for edit in edits:
        entry.do(edit)
    return entry.text


def test_letters_go_in_at_the_caret_and_in_place_of_what_is_chosen() -> None:
    one = line("hornbeam")
    edited(one, Edit("home"))
    one.type("old ")
    assert (one.text, one.caret) == ("old hornbeam", 4)
    edited(one, Edit("home"), Edit("right", choose=True, word=True))
    assert one.chosen == "old"
    one.type("new")
    assert one.text == "new hornbeam"


def test_arrows_leave_what_is_chosen_at_its_end() -> None:
    one = line("hornbeam")
    edited(one, Edit("left", choose=True), Edit("left", choose=True), Edit("left"))
    assert one.caret == one.anchor == 6
    edited(one, Edit("all"), Edit("right"))
    assert one.caret == one.anchor == 8


def test_erasing_and_deleting() -> None:
    assert edited(line("four leaves"), Edit("erase", word=True)) == "four "
    assert edited(line("four leaves"), Edit("home"), Edit("delete")) == "our leaves"
    assert edited(line("four leaves"), Edit("home"), Edit("delete", word=True)) == " leaves"
    assert edited(line("four leaves"), Edit("all"), Edit("erase")) == ""
    assert edited(line("four leaves"), Edit("cut")) == "four leaves"  # nothing is chosen


def test_a_paste_is_the_first_line_of_it_and_only_what_the_line_takes() -> None:
    one = line("")
    assert one.paste("\r\n  sftp://host/folder  \r\nand more") and one.text == "sftp://host/folder"
    code = Entry(CODE, 9)
    assert not code.paste("Anna Novak") and code.paste("hb-0042\n") and code.text == "hb-0042"
    assert not code.paste("   \n")
    assert not Entry(VALUE, 5).paste("123456")


@given(st.text(max_size=20), st.lists(st.tuples(st.sampled_from(ACTS), st.booleans(), st.booleans()), max_size=30))
def test_no_edit_leaves_the_caret_outside_or_invents_a_letter(text: str, edits: list[tuple[Any, bool, bool]]) -> None:
    one = Entry(r"(?s:.*)", 60, text=text)
    for act, choose, word in edits:
        before = one.text
        one.do(Edit(act, choose, word))
        assert 0 <= one.caret <= len(one.text) and 0 <= one.anchor <= len(one.text)
        left = iter(before)
        assert all(letter in left for letter in one.text)  # what is left stands in the same order


def test_keys_of_common_practice() -> None:
    """Common practice on every desktop, no source."""
    assert edit_of(pygame.K_HOME, 0) == Edit("home")
    assert edit_of(pygame.K_END, SHIFT) == Edit("end", choose=True)
    assert edit_of(pygame.K_LEFT, CTRL | SHIFT) == Edit("left", choose=True, word=True)
    for key, act in ((pygame.K_a, "all"), (pygame.K_c, "copy"), (pygame.K_x, "cut"), (pygame.K_v, "paste")):
        assert edit_of(key, CTRL) == edit_of(key, pygame.KMOD_META) == Edit(act)  # type: ignore[arg-type]
        assert edit_of(key, 0) is None and edit_of(key, RIGHT_ALT) is None
    assert edit_of(pygame.K_INSERT, SHIFT) == Edit("paste")


def test_a_passphrase_is_pasted_but_never_leaves_by_the_clipboard(hands: Callable[..., Any]) -> None:
    at = hands()
    at.app.stack.append(KeyPage(at.app.around, made_up.office(0, has_key=False)))
    at.wait()
    at.tab_to("passphrase")
    at.app.clipboard.put("four quiet leaves")
    at.key(pygame.K_v, mod=CTRL)
    entry = at.app.top.entries["passphrase"]
    assert entry.text == "four quiet leaves"
    at.app.clipboard.put("kept")
    for key in (pygame.K_a, pygame.K_c, pygame.K_x):
        at.key(key, mod=CTRL)
    assert at.app.clipboard.get() == "kept" and entry.text == "four quiet leaves"
    at.key(pygame.K_LEFT, mod=CTRL)  # nobody sees where its words end
    assert entry.caret == 0


def test_a_line_is_edited_in_its_middle_by_keys_and_by_the_mouse(hands: Callable[..., Any]) -> None:
    at = hands()
    at.app.stack.append(KeyPage(at.app.around, made_up.office(0, has_key=False)))
    at.wait()
    at.tab_to("clinic")
    entry = at.app.top.entries["clinic"]
    at.key(pygame.K_a, mod=CTRL)
    at.type("Hornbeam practice")
    at.key(pygame.K_HOME)
    at.key(*[pygame.K_RIGHT] * 8)
    at.type("s")
    assert entry.text == "Hornbeams practice" and at.app.top.focus == "clinic"
    at.key(pygame.K_LEFT, mod=SHIFT)
    at.key(pygame.K_x, mod=CTRL)
    assert entry.text == "Hornbeam practice" and at.app.clipboard.get() == "s"
    at.press("clinic", across=0.01, down=0.7)
    assert entry.caret == 0
    at.press("clinic", across=0.99, down=0.7)
    assert entry.caret == len(entry.text)


def test_a_field_of_the_order_is_copied_pasted_and_edited(hands: Callable[..., Any]) -> None:
    at = hands()
    at.app.stack.append(FormPage(at.app.around, made_up.office(), model(False)))
    at.wait()
    page = at.app.top
    page.focus = "review"
    day = page.model.text("review")
    at.key(pygame.K_c, mod=CTRL)
    assert at.app.clipboard.get() == day
    at.key(pygame.K_LEFT)
    at.key(*[pygame.K_DELETE] * 4)
    at.type("2027")
    assert page.model.text("review") == f"2027{day[4:]}"
    at.app.clipboard.put("2027-02-03")
    at.key(pygame.K_a, mod=CTRL)
    at.key(pygame.K_v, mod=CTRL)
    at.key(pygame.K_RETURN)
    assert page.model.text("review") == "2027-02-03" and page.typed is None
    at.key(pygame.K_RIGHT)  # nothing is typed now: a step
    assert page.model.text("review") == "2027-02-04"


@pytest.mark.parametrize("caret", [0, 7, 40, 80])
def test_the_caret_is_always_in_sight(caret: int) -> None:
    pygame.font.init()
    canvas, theme, place = Canvas(pygame.Surface((640, 360))), Theme(Settings()), Box(0, 0, 200, 48)
    one = line("sftp://exchange.hornbeam.example/folder/" * 2)
    one.put(caret)
    first, last = part_in_sight(canvas, theme, one.seen, place.width, 24)
    assert first <= caret <= last and last - first >= 8
    assert theme.letters.measure(canvas, [one.text[first:last]], 24)[0] <= place.width


@pytest.mark.skipif(
    not (shutil.which("Xvfb") and shutil.which("xvfb-run") and shutil.which("xclip")), reason="no X here"
)
def test_the_clipboard_of_the_computer_takes_and_gives_every_letter() -> None:
    code = (
        "import pygame, subprocess, time; from musclewood.games.desk.base.editing import Clipboard\n"
        "pygame.display.init(); pygame.display.set_mode((60, 40)); board = Clipboard(); board.put('Gruß ж')\n"
        "run = subprocess.Popen(['xclip', '-o', '-selection', 'clipboard'], stdout=subprocess.PIPE)\n"
        "while run.poll() is None: pygame.event.pump(); time.sleep(0.01)\n"
        "assert run.stdout.read().decode() == 'Gruß ж'\n"
        "subprocess.run(['xclip', '-i', '-selection', 'clipboard'], input='Öl ü'.encode(), check=True)\n"
        "time.sleep(0.2); pygame.event.pump(); got = board.get(); assert got == 'Öl ü', got\n"
    )
    environment = {"SDL_VIDEODRIVER": "x11", "PATH": "/usr/bin:/bin", "SDL_AUDIODRIVER": "dummy"}
    ran = subprocess.run(
        ["xvfb-run", "-a", sys.executable, "-c", code],
        check=False,
        env=environment,
        capture_output=True,
        text=True,
        timeout=60,
    )
    assert ran.returncode == 0, ran.stderr


def test_without_a_display_a_copy_stays_in_the_window() -> None:
    board = Clipboard()
    board.put("hornbeam")
    assert board.get() == "hornbeam"


class WithoutItsLibrary:
    """What stands for a part of pygame whose shared library is not on the computer (pygame/__init__.py)."""

    def __getattr__(self, name: str) -> None:
        warnings.warn("use scrap: libX11.so.6: cannot open shared object file", RuntimeWarning, stacklevel=2)
        raise NotImplementedError("scrap module not available")


def test_without_the_library_of_the_clipboard_nothing_is_said_and_a_copy_stays(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(pygame, "scrap", WithoutItsLibrary())
    board = Clipboard()
    board.put("hornbeam")
    assert board.get() == "hornbeam"
