"""Sensors of one name: all are listened to, and the one that is worn shows itself by a squeeze."""

from __future__ import annotations

from collections.abc import Hashable, Sequence
from threading import Thread

from musclewood.games.kit.canvas import Box, Canvas
from musclewood.games.kit.theme import Theme
from musclewood.games.kit.typeface import BODY, LARGE
from musclewood.games.kit.widgets import Drawing, Look, Widget, bottom_of, button, sentence, stacked
from musclewood.games.screens.base import icons
from musclewood.games.screens.base.day import Day
from musclewood.games.screens.base.pace import LIVELY, Pace
from musclewood.games.screens.base.page import WREN_ROOM, Page, Push, Surroundings, Transition
from musclewood.games.screens.base.scenes import BENCH
from musclewood.games.screens.setup.pads import PadsPage
from musclewood.games.screens.setup.starting import begin
from musclewood.signal.sensors.scanning import FoundSensor
from musclewood.signal.sensors.telling_apart import RISEN, Liveliness, TellingApart
from musclewood.signal.sources.ble import BleSource

STRIPS = 3  # of paper in the picture of a squeeze


def onward(around: Surroundings, day: Day) -> Transition:
    """From a sensor that was chosen to the pads, or to the session where nothing is known of them."""
    pads_first = day.muscles and not day.testing  # a test asks for its pads itself
    return Push(PadsPage(around, day)) if pads_first else begin(around, day, "ble")


class AlikePage(Page):
    """Which of these is yours?  The one that moves is proposed; a press decides."""

    scene = BENCH
    eager = False  # nothing is proposed before one has moved

    def __init__(self, around: Surroundings, day: Day, alike: Sequence[FoundSensor]) -> None:
        super().__init__(around)
        assert day.sensors is not None
        self.day, self.sensors, self.alike = day, day.sensors, tuple(alike)
        self._sources: dict[str, BleSource] = {}
        self.telling = TellingApart({one.address: _liveliness(one) for one in self.alike})

    @property
    def pace(self) -> Pace:
        return LIVELY

    def state(self) -> Hashable:
        return (self.telling.moved, tuple(self._height(one) for one in self.alike))

    def update(self, dt_s: float) -> Transition | None:
        if not self._sources:
            self._listen()
        moved = self.telling.moved
        for address, source in self._sources.items():
            self.telling.sensors[address].hear(source.poll(dt_s))
        self.telling.step()
        if self.telling.moved != moved:
            self.focus = self.telling.moved or ""
        return super().update(dt_s)

    def _listen(self) -> None:
        self._sources = {one.address: self.sensors.source_of(one) for one in self.alike}
        for source in self._sources.values():
            source.start()

    def close(self) -> None:
        """Let all sensors go, each in a thread: parting takes its time, and all of them part at once."""
        parting = [Thread(target=source.stop, name="parting") for source in self._sources.values()]
        self._sources = {}
        for thread in parting:
            thread.start()
        for thread in parting:
            thread.join()

    def build(self, canvas: Canvas) -> list[Widget]:
        theme, words = self.theme, self.theme.words
        head = sentence(canvas, theme, words("sensors.alike"), (40, 34), 800, Look(size=LARGE, bold=True))
        told = words("sensors.alike-moved" if self.telling.moved else "sensors.alike-squeeze")
        slips = [head, sentence(canvas, theme, told, (56, head.box.bottom + 16), 760, Look(size=BODY))]
        tags = stacked([self._tag(canvas, one) for one in self.alike], 56, bottom_of(slips) + WREN_ROOM, 22, alike=True)
        back = button(canvas, theme, "back", words("common.back"), icon=icons.leaf_turn)
        back = back.moved(56, 700 - back.box.height)
        if bottom_of(tags) > back.box.top:
            back = back.moved(max(tag.box.left + tag.box.width for tag in tags) + 24, back.box.top)
        return [*tags, back, *slips]

    def _tag(self, canvas: Canvas, sensor: FoundSensor) -> Widget:
        moved = sensor.address == self.telling.moved
        end = sensor.address.replace(":", "")[-4:]  # what may be printed on it
        text = f"{sensor.name}  · {end}" + (f"\n{self.theme.words('sensors.alike-this')}" if moved else "")
        return button(
            canvas, self.theme, sensor.address, text, first=moved, icon=strips(self._height(sensor)), width=720
        )

    def _height(self, sensor: FoundSensor) -> int:
        """0 to STRIPS: how far above its rest it is."""
        above = (self.telling.sensors[sensor.address].times_rest - 1.0) / (RISEN - 1.0)
        return max(0, min(STRIPS, round(above * STRIPS)))

    def back(self) -> Transition | None:
        self.close()
        return super().back()

    def chosen(self, key: str) -> Transition | None:
        if key == "back":
            return self.back()
        sensor = next((one for one in self.alike if one.address == key), None)
        if sensor is None:
            return None
        self.close()
        self.sensors.choose(sensor)
        return onward(self.around, self.day)


def _liveliness(sensor: FoundSensor) -> Liveliness:
    return Liveliness(sensor.description.rate_hz, sensor.description.envelope)


def strips(high: int) -> Drawing:
    """As many strips of paper, laid one upon the other, as the muscle lifts; those that are not lifted are outlines."""

    def draw(canvas: Canvas, theme: Theme, box: Box) -> None:
        height = (box.height - 8) / STRIPS
        for number in range(STRIPS):
            inset = box.width * 0.06 * number
            strip = Box(box.left + inset, box.bottom - 4 - (number + 1) * height, box.width - 2 * inset, height - 3)
            canvas.surface.fill(theme.ink, canvas.area(strip))
            if number >= high:
                canvas.surface.fill(
                    theme.slip, canvas.area(Box(strip.left + 2, strip.top + 2, strip.width - 4, strip.height - 4))
                )

    return draw
