"""Settings for the therapist's eyes: the same choices as at home, on the desk; and the way to the clinic's own."""

from __future__ import annotations

from musclewood.games.desk.base.notes import NotePage
from musclewood.games.desk.base.office import Office, as_sentence
from musclewood.games.desk.base.page import DESK
from musclewood.games.desk.pages.clinic import ClinicSettingsPage
from musclewood.games.screens.base.day import nothing_ordered
from musclewood.games.screens.base.page import Push, Surroundings, Transition
from musclewood.games.screens.village.settings import SettingsPage
from musclewood.profiles.errors import TrustError


class DeskSettingsPage(SettingsPage):
    scene = DESK
    wren = False

    def __init__(self, around: Surroundings, office: Office) -> None:
        super().__init__(around, nothing_ordered(office.keep))
        self.office = office

    def more(self) -> list[tuple[str, str]]:
        return [("clinic", self.theme.words("desk.clinic.open"))]

    def chosen(self, key: str) -> Transition | None:
        if key != "clinic":
            return super().chosen(key)
        try:
            return Push(ClinicSettingsPage(self.around, self.office))
        except TrustError as error:
            return Push(NotePage(self.around, as_sentence(self.theme.words, error)))
