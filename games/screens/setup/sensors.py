"""Which sensor is yours: those near, with their strength; what is in the way; and how a new kind gets its file."""

from __future__ import annotations

import sys
from collections.abc import Callable, Hashable
from concurrent.futures import Future
from pathlib import Path

from musclewood.games.kit.canvas import Box, Canvas
from musclewood.games.kit.controls import Intent
from musclewood.games.kit.theme import Theme
from musclewood.games.kit.typeface import BODY, LARGE, SMALL
from musclewood.games.kit.widgets import Drawing, Look, Widget, bottom_of, button, in_rows, sentence, stacked
from musclewood.games.screens.base import icons
from musclewood.games.screens.base.day import Day
from musclewood.games.screens.base.goes_on import GoesOn, stay
from musclewood.games.screens.base.page import WREN_ROOM, Page, Push, Replace, Surroundings, Transition
from musclewood.games.screens.base.scenes import BENCH
from musclewood.games.screens.setup.alike import AlikePage, onward
from musclewood.signal.sensors.scanning import FoundSensor, ScanResult
from musclewood.signal.sensors.troubles import Trouble

# Our choice, common practice without a source: on the lap, across the room, behind a wall.
NEAR_DBM, MIDDLING_DBM = -60, -78
MOST_SHOWN = 3  # a fourth sensor of the patient's own would be a clinic, not a home
CARD = (278.0, 196.0)  # with the drawing of a worn sensor
AGAIN_S = 1.0  # between two scans
BY_ITSELF_S = 4.0  # our choice: time to read that it goes on, and to want another
ONLY_ONE_S = 7.0  # the same before any was ever chosen: two more scans, in which another would be heard; our choice


def sensor_page(around: Surroundings, day: Day) -> Page:
    """The page to choose on; without any description, the one that says how to get it."""
    assert day.sensors is not None
    return SensorsPage(around, day) if day.sensors.usable else SensorFilePage(around, day)


class SensorsPage(Page):
    """Scans again and again, and lists what is heard, the one worn last first.

    The sensor of last time is chosen by itself, and the first evening the only one that is heard, unless it is far
    away. `other` makes the page for whoever wants to practise without one.
    """

    scene = BENCH

    def __init__(self, around: Surroundings, day: Day, other: Callable[[], Page] | None = None) -> None:
        super().__init__(around)
        assert day.sensors is not None
        self.day, self.sensors = day, day.sensors
        self.found: tuple[FoundSensor, ...] = ()
        self.trouble: Trouble | None = None
        self._scan: Future[ScanResult] | None = None
        self._idle_s = AGAIN_S  # so that the first scan begins at once
        self._other = other
        self.goes_on = GoesOn(BY_ITSELF_S if sensors_worn(day) else ONLY_ONE_S)
        self._going = ""  # the address that it goes on with

    def state(self) -> Hashable:
        return (self.trouble, self._goes_on, tuple((sensor.address, strength_of(sensor)) for sensor in self._shown()))

    def update(self, dt_s: float) -> Transition | None:
        self._idle_s += dt_s
        if self._scan is not None and self._scan.done():
            result = self._scan.result()
            if result.found and not self.found:
                self.focus = ""  # the first sensor heard is what to choose next, not the way back
            self.found, self.trouble = result.found, result.trouble
            self._scan, self._idle_s = None, 0.0
        if self._scan is None and self._idle_s >= AGAIN_S:
            self._scan = self.sensors.look_around()
        before, self._going = self._going, self._goes_on or ""
        if self.goes_on.step(dt_s, bool(self._going) and self._going == before):
            return self.chosen(self._going)
        return super().update(dt_s)

    @property
    def _goes_on(self) -> str | None:
        """The address of the sensor that is surely meant, while it is heard and nobody wants another."""
        if self.goes_on.held:
            return None
        if sensors_worn(self.day):
            return next((sensor.address for sensor in self.found if self.sensors.is_worn(sensor)), None)
        only = self.found[0] if len(self.found) == 1 else None
        return only.address if only and strength_of(only) > 1 else None

    def handle(self, intent: Intent) -> Transition | None:
        under = self._under(intent.at) if intent.at else None
        self.goes_on.hear(intent, under, self.focus, self._goes_on or "")
        return super().handle(intent)

    def build(self, canvas: Canvas) -> list[Widget]:
        theme, words = self.theme, self.theme.words
        shown = self._shown()
        self.eager = bool(shown)  # while it looks, no key pressed too early leads back
        ways = [button(canvas, theme, "back", words("common.back"), icon=icons.leaf_turn)]
        if self._other is not None:
            ways.append(button(canvas, theme, "other", words("sensors.other")))
        if not shown:
            ways = _low(in_rows(ways, 56, 0, 1168, 24))
            return [*ways, *self._nothing(canvas, min(tag.box.top for tag in ways))]
        head = sentence(canvas, theme, words("sensors.title"), (40, 34), 800, Look(size=LARGE, bold=True))
        tags = [self._tag(canvas, sensor) for sensor in shown]
        slips = [head]
        if self._goes_on is not None:
            told = words("sensors.by-itself")
            slips.append(sentence(canvas, theme, told, (56, head.box.bottom + 14), 760, Look(size=SMALL)))
            ways.insert(0, stay(canvas, theme))
        tags = stacked(tags, 56, bottom_of(slips) + WREN_ROOM, 22, alike=True)
        placed = _low(in_rows(ways, 56, 0, 1168, 24))
        if bottom_of(tags) > min(tag.box.top for tag in placed):  # large letters: beside the last sensor
            beside = max(tag.box.left + tag.box.width for tag in tags) + 24
            placed = _low(stacked(ways, beside, 0, 16))
        return [*tags, *placed, *slips]

    def _nothing(self, canvas: Canvas, room: float) -> list[Widget]:
        """Nothing is heard yet, or something is in the way: what, and what to do about it."""
        theme, words, trouble = self.theme, self.theme.words, self.trouble
        told = words(f"trouble.{trouble.value}" if trouble else "sensors.looking")
        hint = words(_advice(trouble or Trouble.NOT_FOUND))
        slips = [sentence(canvas, theme, told, (40, 34), 800, Look(size=LARGE, bold=True))]
        slips.append(sentence(canvas, theme, hint, (56, bottom_of(slips) + 16), 760, Look(size=BODY)))
        card = Box(56, bottom_of(slips) + 26, CARD[0], CARD[1])
        if trouble is not None:
            again = sentence(canvas, theme, words("sensors.again"), (0, 0), 420, Look(size=SMALL))
            slips.append(again.moved(card.right + 26, card.top + (card.height - again.box.height) / 2))
        if card.bottom + 40 < room:
            slips.append(Widget(card, look=Look(shape="panel"), picture=icons.of_source("ble")))
        return slips

    def _tag(self, canvas: Canvas, sensor: FoundSensor) -> Widget:
        words, worn = self.theme.words, self.sensors.is_worn(sensor)
        strength = words("sensors." + ("far", "middling", "near")[strength_of(sensor) - 1])
        text = f"{sensor.name}\n{strength}" + (f", {words('sensors.worn')}" if worn else "")
        return button(canvas, self.theme, sensor.address, text, first=worn, icon=bars(strength_of(sensor)), width=720)

    def _shown(self) -> list[FoundSensor]:
        return self.sensors.in_order(self.found)[:MOST_SHOWN]

    def chosen(self, key: str) -> Transition | None:
        if key == "back":
            return self.back()
        if key == "other" and self._other is not None:
            return Push(self._other())
        sensor = next((sensor for sensor in self.found if sensor.address == key), None)
        if sensor is None:
            return None
        self.goes_on.held = True
        alike = [one for one in self._shown() if one.name == sensor.name]
        if len(alike) > 1 and not self.sensors.is_worn(sensor):
            return Push(AlikePage(self.around, self.day, alike))
        self.sensors.choose(sensor)
        return onward(self.around, self.day)


class SensorFilePage(Page):
    """Without a description nothing can be understood that a sensor sends: where to get it, where to put it."""

    scene = BENCH

    def __init__(self, around: Surroundings, day: Day) -> None:
        super().__init__(around)
        assert day.sensors is not None
        self.day, self.sensors = day, day.sensors
        self.looked = False

    def state(self) -> Hashable:
        return (self.looked, self.sensors.refused, self.sensors.too_few)

    def build(self, canvas: Canvas) -> list[Widget]:
        theme, words = self.theme, self.theme.words
        slips = [sentence(canvas, theme, words("sensor-file.title"), (40, 34), 900, Look(size=LARGE, bold=True))]
        told = [words("sensor-file.what") + " " + words("sensor-file.ask")]
        told.append(words("sensor-file.put") + "\n" + _path_lines(self.sensors.folder))
        told += self._in_the_way()
        notes = [sentence(canvas, theme, text, (0, 0), 900, Look(size=SMALL)) for text in told]
        slips += stacked(notes, 56, bottom_of(slips) + 14, 12)
        tags = [
            button(canvas, theme, "look", words("sensor-file.look"), first=True, icon=icons.arrow),
            button(canvas, theme, "back", words("common.back"), icon=icons.leaf_turn),
        ]
        height = max(tag.box.height for tag in tags)
        placed = [tags[0].moved(56, 700 - height), tags[1].moved(56 + tags[0].box.width + 26, 700 - height)]
        return [*placed, *slips]

    def _in_the_way(self) -> list[str]:
        words, sensors = self.theme.words, self.sensors
        if sensors.refused:
            return [words("sensor-file.wrong", file=sensors.refused[0])]
        if sensors.too_few:
            return [words("sensor-file.few")]
        return [words("sensor-file.missing")] if self.looked else []

    def chosen(self, key: str) -> Transition | None:
        if key == "back":
            return self.back()
        self.sensors.refresh()
        self.looked = True
        return Replace(SensorsPage(self.around, self.day)) if self.sensors.usable else None


def _low(tags: list[Widget]) -> list[Widget]:
    """The same tags as far down as the page allows."""
    return [tag.moved(tag.box.left, tag.box.top + 700 - bottom_of(tags)) for tag in tags]


def sensors_worn(day: Day) -> bool:
    """Whether a sensor is known from last time."""
    return day.sensors is not None and day.sensors.worn is not None


def _advice(trouble: Trouble) -> str:
    """What to do.  Who may use Bluetooth is decided on Linux by the group (BlueZ's D-Bus policy, bluetooth.conf),
    elsewhere
    in the settings, worded from Apple's and Microsoft's public help; those two were never seen on their own systems."""
    if trouble is Trouble.NO_PERMISSION and sys.platform in ("linux", "darwin", "win32"):
        return f"trouble-advice.no_permission-{sys.platform}"
    return f"trouble-advice.{trouble.value}"


def strength_of(sensor: FoundSensor) -> int:
    """1 to 3, from hardly heard to close by."""
    return 1 + (sensor.strength_dbm >= MIDDLING_DBM) + (sensor.strength_dbm >= NEAR_DBM)


def bars(strength: int) -> Drawing:
    """Three strips of paper, the taller the stronger; what is not heard is only an outline."""

    def draw(canvas: Canvas, theme: Theme, box: Box) -> None:
        width = box.width * 0.22
        for number in range(3):
            height = box.height * (0.34 + 0.28 * number)
            left, top = box.left + number * width * 1.55, box.bottom - 4 - height
            canvas.surface.fill(theme.ink, canvas.area(Box(left, top, width, height)))
            if number >= strength:
                inner = Box(left + 3, top + 3, width - 6, height - 6)
                canvas.surface.fill(theme.slip, canvas.area(inner))

    return draw


def _path_lines(folder: Path) -> str:
    """A path in lines that fit on a slip, broken where folders end."""
    lines, most = [""], 48
    for part in str(folder).replace("\\", "/").split("/"):
        piece = f"{part}/" if part != folder.name else part
        if lines[-1] and len(lines[-1]) + len(piece) > most:
            lines.append("")
        lines[-1] += piece
    return "\n".join(lines)
