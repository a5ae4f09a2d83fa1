"""Settings for the therapist's eyes: the same choices as at home, on the desk."""

from __future__ import annotations

from musclewood.games.desk.office import Office
from musclewood.games.desk.page import DESK
from musclewood.games.screens.day import nothing_ordered
from musclewood.games.screens.page import Surroundings
from musclewood.games.screens.settings import SettingsPage


class DeskSettingsPage(SettingsPage):
    scene = DESK
    wren = False

    def __init__(self, around: Surroundings, office: Office) -> None:
        super().__init__(around, nothing_ordered(office.keep))
