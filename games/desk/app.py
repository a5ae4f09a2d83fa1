"""The desk's window: as at home, but letters are letters here, and a folder can be dropped on it."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

import pygame
from musclewood.games.desk.base.editing import Clipboard, edit_of
from musclewood.games.desk.base.keymaking import KeyPage
from musclewood.games.desk.base.office import Clock, Office
from musclewood.games.desk.base.page import DeskPage
from musclewood.games.desk.form.tryout import TryOut
from musclewood.games.desk.pages.patients import PatientsPage
from musclewood.games.desk.pages.settings import DeskSettingsPage
from musclewood.games.kit.canvas import HEIGHT, WIDTH
from musclewood.games.running.browser import show_in_browser
from musclewood.games.screens.app import App
from musclewood.games.screens.base.page import Page
from musclewood.profiles.clinic.clinic import Clinic

REPEAT_AFTER_MS, REPEAT_EVERY_MS = 350, 45  # a stepper that is held goes on
# Enter and Escape count once however long they are held. Repeats come from a clock of their own: they would also come
# while a slow computer makes the next page, which nobody has read yet.
ONCE = (pygame.K_RETURN, pygame.K_KP_ENTER, pygame.K_ESCAPE)
LEAPS = {pygame.K_PAGEUP: -1, pygame.K_PAGEDOWN: 1}


class DeskApp(App):
    """`office` is what all pages share."""

    own_keys = False

    def __init__(
        self,
        clinic: Clinic,
        *,
        clock: Clock | None = None,
        show: object = None,
        size: tuple[int, int] = (WIDTH, HEIGHT),
    ) -> None:
        self.clinic, self.clipboard = clinic, Clipboard()
        self._held: set[int] = set()
        opened = show if callable(show) else show_in_browser
        self.office: Office

        def first(app: App) -> Page:
            self.office = Office(clinic, clock or _now, app.keep, opened)
            return PatientsPage(app.around, self.office)

        super().__init__(first, clinic.root / "settings.toml", size=size)
        pygame.key.set_repeat(REPEAT_AFTER_MS, REPEAT_EVERY_MS)
        pygame.display.set_caption("Musclewood")

    def step(self, events: Sequence[pygame.event.Event], dt_s: float) -> None:
        """Letters, wheel and pages go to the page on top; everything else is an intent as at home."""
        rest = [event for event in events if not self._repeated(event) and not self._taken(event)]
        super().step(rest, dt_s)

    def _repeated(self, event: pygame.event.Event) -> bool:
        """Whether a key that counts once is only still held."""
        if event.type == pygame.WINDOWFOCUSLOST:
            self._held.clear()
        if event.type not in (pygame.KEYDOWN, pygame.KEYUP) or event.key not in ONCE:
            return False
        if event.type == pygame.KEYUP:
            self._held.discard(event.key)
            return False
        again = event.key in self._held
        self._held.add(event.key)
        return again

    def _taken(self, event: pygame.event.Event) -> bool:
        page = self.top
        if isinstance(page, DeskSettingsPage):
            return _is_letter(event) and event.key != pygame.K_SPACE
        if not isinstance(page, DeskPage):
            return False
        if event.type == pygame.TEXTINPUT:
            self._go(page.type(event.text) if page.typing else None)
            return True
        if event.type == pygame.MOUSEWHEEL:
            page.scroll(event.y)
            return True
        if event.type == pygame.DROPFILE and isinstance(page, KeyPage):
            page.drop(event.file)
            return True
        if event.type != pygame.KEYDOWN:
            return False
        edit = edit_of(event.key, event.mod)
        if edit is not None and page.edit(edit, self.clipboard):
            return True
        if event.key in LEAPS:
            page.leap(LEAPS[event.key])
        else:
            return _is_letter(event) and (page.typing or event.key != pygame.K_SPACE)
        return True

    def close(self) -> None:
        for page in self.stack:
            if isinstance(page, TryOut):
                page.close()
            elif isinstance(page, DeskPage):
                page.finish()
        pygame.key.set_repeat()
        super().close()


def _is_letter(event: pygame.event.Event) -> bool:
    """Whether a key brings a letter with it, which arrives as text by itself."""
    return (
        event.type == pygame.KEYDOWN and 32 <= event.key < 127 and not event.mod & (pygame.KMOD_CTRL | pygame.KMOD_ALT)
    )


def _now() -> datetime:
    return datetime.now().astimezone()


def run_desk(clinic: Clinic) -> None:
    """Until somebody leaves."""
    DeskApp(clinic).run()
