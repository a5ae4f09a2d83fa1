"""Settings for eyes, ears and hands. Choosing one moves it to its next value; it holds at once."""

from collections.abc import Hashable
from typing import TypeVar

from musclewood.games.kit.canvas import Canvas
from musclewood.games.kit.settings import LOUDEST, TEXT_SCALES, VOLUMES, Settings
from musclewood.games.kit.typeface import BODY, LARGE, SMALL
from musclewood.games.kit.widgets import Look, Widget, button, sentence
from musclewood.games.kit.words import LANGUAGES
from musclewood.games.screens.base import icons
from musclewood.games.screens.base.day import Day
from musclewood.games.screens.base.page import Back, Page, Push, Surroundings, Transition
from musclewood.games.screens.base.scenes import BENCH
from musclewood.games.screens.village.cautions import CautionsPage
from musclewood.games.screens.village.keys import KeysPage
from musclewood.games.screens.village.letters import LettersPage

Value = TypeVar("Value")
ROWS = 7


class SettingsPage(Page):
    """Two columns of choices, then the cautions and the way back."""

    scene = BENCH

    def __init__(self, around: Surroundings, day: Day) -> None:
        super().__init__(around)
        self.day = day
        self._voice = around.can_read()

    def state(self) -> Hashable:
        return self.theme.settings

    def build(self, canvas: Canvas) -> list[Widget]:
        theme, words = self.theme, self.theme.words
        head = sentence(canvas, theme, words("settings.title"), (40, 18), 700, Look(size=LARGE, bold=True))
        texts = [(key, words(f"settings.{key}", value=value)) for key, value in self._values().items()]
        texts += [("cautions", words("settings.cautions")), ("keys", words("keys.title")), *self.more()]
        if self.day.post is not None:
            texts.append(("letters", words("letters.title")))
        size = BODY if theme.settings.text_scale < TEXT_SCALES[-1] else SMALL
        tags = [button(canvas, theme, key, text, width=590, size=size) for key, text in texts]
        tall = max(60.0, max(tag.box.height for tag in tags))
        placed = []
        for number, tag in enumerate(tags):
            column, row = divmod(number, ROWS)
            box = tag.box._replace(left=60 + column * 596, top=112 + row * (tall + 8), width=556, height=tall)
            placed.append(Widget(box, tag.lines, tag.key, tag.look))
        back = button(canvas, theme, "back", words("common.back"), icon=icons.leaf_turn, first=True)
        return [*placed, head, back.moved(656, 700 - back.box.height)]

    def more(self) -> list[tuple[str, str]]:
        """What else there is to choose, with its words."""
        return []

    def _values(self) -> dict[str, str]:
        words, chosen = self.theme.words, self.theme.settings
        aloud = chosen.read_aloud == "on"
        size = ("normal", "large", "largest")[TEXT_SCALES.index(chosen.text_scale)]
        return {
            "text": words(f"settings.text-{size}"),
            "language": LANGUAGES[chosen.language],
            "contrast": words(f"settings.contrast-{'high' if chosen.high_contrast else 'usual'}"),
            "motion": words(f"settings.motion-{'less' if chosen.reduced_motion else 'full'}"),
            "sound": words("settings.of", number=chosen.volume, total=LOUDEST)
            if chosen.volume
            else words("settings.off"),
            "aloud": words("settings.no-voice" if not self._voice else f"settings.{'on' if aloud else 'off'}"),
            "screen": words(f"settings.{'on' if chosen.full_screen else 'off'}"),
            "hand": words(f"settings.hand-{chosen.hand}"),
            "village": words(f"settings.{'off' if chosen.plain_evening else 'on'}"),
            "muscle": words(f"settings.{'on' if chosen.muscle_leads else 'off'}"),
            "switch": words(f"settings.{'on' if chosen.one_switch else 'off'}"),
        }

    def chosen(self, key: str) -> Transition | None:
        if key == "back":
            return Back()
        if key == "letters" and self.day.post is not None:
            return Push(LettersPage(self.around, self.day.post))
        if key == "keys":
            return Push(KeysPage(self.around))
        if key == "cautions":
            return Push(CautionsPage(self.around, self.day))
        if key != "aloud" or self._voice:
            self.day.keep(changed(self.theme.settings, key))
        return None


def changed(settings: Settings, key: str) -> Settings:
    """The settings with one of them moved to its next value."""
    languages = tuple(LANGUAGES)
    match key:
        case "text":
            return settings.changed(text_scale=_after(TEXT_SCALES, settings.text_scale))
        case "language":
            return settings.changed(language=_after(languages, settings.language))
        case "contrast":
            return settings.changed(high_contrast=not settings.high_contrast)
        case "motion":
            return settings.changed(reduced_motion=not settings.reduced_motion)
        case "sound":
            return settings.changed(volume=_after(VOLUMES, settings.volume))
        case "aloud":
            return settings.changed(read_aloud="off" if settings.read_aloud == "on" else "on")
        case "screen":
            return settings.changed(full_screen=not settings.full_screen)
        case "village":
            return settings.changed(plain_evening=not settings.plain_evening)
        case "muscle":
            return settings.changed(muscle_leads=not settings.muscle_leads)
        case "switch":
            return settings.changed(one_switch=not settings.one_switch)
        case _:
            return settings.changed(hand="left" if settings.hand == "right" else "right")


def _after(values: tuple[Value, ...], value: Value) -> Value:
    return values[(values.index(value) + 1) % len(values)]
