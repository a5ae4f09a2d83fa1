"""Which sensor is on the patient: the ones known by radio, one of the network, a recording of this patient, or a
simulated one."""

from __future__ import annotations

from collections.abc import Hashable

from musclewood.games.desk.base.office import Office, as_sentence
from musclewood.games.desk.base.page import DeskPage
from musclewood.games.desk.base.pieces import DENSE, Tool, foot, sheet, tag, words_at
from musclewood.games.desk.bench.page import BenchPage, Leaving
from musclewood.games.kit.canvas import Box, Canvas
from musclewood.games.kit.typeface import LARGE
from musclewood.games.kit.widgets import Look, Widget, sentence
from musclewood.games.running.bench import Bench
from musclewood.games.running.errors import CommandError
from musclewood.games.running.sources_by_name import source_by_name
from musclewood.games.screens.base import icons
from musclewood.games.screens.base.page import Back, Replace, Surroundings, Transition
from musclewood.profiles.orders.prescription import Prescription
from musclewood.signal.errors import RecordingError, SensorError
from musclewood.signal.sensors.catalogue import known_sensors

MOST_RECORDINGS = 2


class SourcePage(DeskPage):
    """Chooses, opens the source, and goes on to the bench."""

    def __init__(self, around: Surroundings, office: Office, order: Prescription, left: Leaving = lambda: None) -> None:
        super().__init__(around)
        self.office, self.order, self._left = office, order, left
        self.trouble = ""

    def state(self) -> Hashable:
        return (self.trouble, self.busy)

    def offered(self) -> list[tuple[str, str]]:
        """What may be chosen: its name as a source, and in words."""
        words = self.theme.words
        sensors = [
            (f"ble:{one.id}", words("desk.bench.by-radio", name=one.name)) for one in known_sensors(None).sensors
        ]
        folder = self.office.clinic.root / "visits" / "recordings"
        kept = sorted(folder.glob(f"{self.order.patient}-*.edf"), reverse=True)[:MOST_RECORDINGS]
        recordings = [(f"replay:{path}", words("desk.bench.recording", name=path.stem)) for path in kept]
        return [
            *sensors,
            ("lsl", words("desk.bench.by-network")),
            *recordings,
            ("simulated", words("desk.bench.simulated")),
        ]

    def build(self, canvas: Canvas) -> list[Widget]:
        theme, words = self.theme, self.theme.words
        head = sentence(
            canvas, theme, words("desk.bench.which"), (24, 22), 1200, Look(size=LARGE, bold=True, margin=18)
        )
        told = self.trouble or (words("desk.bench.opening") if self.busy else words("desk.bench.which-hint"))
        hint = words_at(canvas, theme, told, (64, head.box.bottom + 26), 1140, size=DENSE)
        top = hint.box.bottom + 20
        placed: list[Widget] = []
        for key, text in self.offered():
            made = tag(canvas, theme, key, text, width=1100)
            placed.append(made.moved(64, top))
            top += made.box.height + 12
        paper = sheet(Box(24, head.box.bottom + 10, 1232, 628 - head.box.bottom - 10))
        return [head, paper, hint, *placed, *foot(canvas, theme, [Tool("back", words("common.back"), icons.leaf_turn)])]

    def chosen(self, key: str) -> Transition | None:
        if key == "back":
            return Back()
        if not self.busy:
            self.soon(lambda: self._open(key))
        return None

    def _open(self, name: str) -> Transition | None:
        needed = max(2, 1 + max(one.channel for one in self.order.muscles))
        try:
            bench = Bench(source_by_name(name, channels=needed))
            bench.source.start()
        except (CommandError, RecordingError, SensorError) as error:
            self.trouble = as_sentence(self.theme.words, error)
            return None
        self.office.worn = ("", "") if bench.source.kind == "simulated" else (self.order.patient, name)
        return Replace(BenchPage(self.around, self.office, self.order, bench, self._left))
