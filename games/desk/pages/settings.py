"""Settings for the therapist's eyes: the same choices as at home, on the desk."""

from __future__ import annotations

from musclewood.games.desk.base.office import Office
from musclewood.games.desk.base.page import DESK
from musclewood.games.screens.base.day import nothing_ordered
from musclewood.games.screens.base.page import Surroundings
from musclewood.games.screens.village.settings import SettingsPage


class DeskSettingsPage(SettingsPage):
    scene = DESK
    wren = False

    def __init__(self, around: Surroundings, office: Office) -> None:
        super().__init__(around, nothing_ordered(office.keep))
