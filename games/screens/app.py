"""The window, the loop and the stack of screens.

    events -> intents -> the screen on top -> time -> drawing

`step` and `draw` do one frame each and need no window of their own, so that tests play without one.
"""

import time
from collections.abc import Callable, Sequence
from contextlib import suppress
from pathlib import Path

import pygame
from musclewood.games.home.one_window import Door
from musclewood.games.kit import settings as kept
from musclewood.games.kit.canvas import HEIGHT, WIDTH, Canvas
from musclewood.games.kit.controls import Act, Controls, Intent
from musclewood.games.kit.kept import sweep
from musclewood.games.kit.one_switch import TURN_ON_S, OneSwitch
from musclewood.games.kit.settings import LOUDEST, VOLUMES, Settings
from musclewood.games.kit.theme import Theme
from musclewood.games.kit.typeface import BODY
from musclewood.games.kit.widgets import Look, sentence
from musclewood.games.screens.aloud import Aloud
from musclewood.games.screens.base.pace import LIVELY, Pace, Pacing
from musclewood.games.screens.base.page import Back, Home, Leave, Page, Push, Replace, Surroundings, Transition
from musclewood.games.screens.base.scenery import Backdrops
from musclewood.games.screens.session.leading import MuscleLead
from musclewood.games.screens.village.hearing import HearingPage
from musclewood.games.screens.village.keys import KeysPage
from musclewood.games.screens.village.opening import BARS, bring_to_front, open_full_screen, open_window
from musclewood.games.screens.village.today import TodayPage
from musclewood.games.sound import engines
from musclewood.games.sound.speaker import Speaker, gain_of
from musclewood.games.sound.speech import Reader
from musclewood.games.workshops import SoundCue
from musclewood.profiles.errors import StorageError

LOOKS_PER_S = 60  # for what somebody does
HIDDEN_PER_S = 5  # looks, while nobody sees the window; a session that is under way goes on meanwhile
LIVELY_S = 0.7  # after an answer, and at the beginning of a page: rings, hops and fades
LONGEST_FRAME_S = 1.0  # a computer that slept does not make up for it
NOTE_S = 2.5  # how long it is said what a key has changed
SETTLE_S = 0.2  # a window that is being dragged is baked anew only once it rests

FirstPage = Callable[["App"], Page]


class App:
    """Owns the window. own_keys: whether letters and signs are keys here, and not text. `first` makes the page that
    everything returns to.

    at_home: whether the setting for the full screen holds; elsewhere the window begins as one, of the `size` given.
    """

    own_keys = True

    def __init__(
        self, first: FirstPage, settings_path: Path, *, size: tuple[int, int] = (WIDTH, HEIGHT), at_home: bool = False
    ) -> None:
        sweep()  # the pictures of an earlier window, which name one another
        self._path = settings_path
        self._window_size, self._at_home = size, at_home
        theme = Theme(kept.load(settings_path) if settings_path.exists() or not at_home else kept.first_choices())
        self.screen = open_full_screen() if at_home and theme.settings.full_screen else open_window(size)
        self.canvas = Canvas(self.screen)
        speaker = Speaker(gain_of(theme.settings.volume, LOUDEST))
        self.around = Surroundings(theme, Backdrops(self.canvas.size), speaker=speaker)
        self.around.can_read = lambda: self.reader.works
        self.around.speaking = lambda: self._reader is not None and self._reader.busy
        self._reader: Reader | None = None
        self._aloud = Aloud()
        self._note, self._note_s = "", 0.0
        self.controls = Controls()
        self.controls.one_switch = theme.settings.one_switch
        self._switch = OneSwitch()
        self._lead = MuscleLead()
        self.around.let_go = self._lead.let_go
        self.stack: list[Page] = [first(self)]
        self.leaving = False
        self._resized_s = 0.0
        self.door: Door | None = None  # where later starts of the program knock
        self.once_shown: Callable[[], object] | None = None  # what waits until there is something to see
        self._pacing = Pacing()
        self._lively_s = 0.0

    @property
    def top(self) -> Page:
        return self.stack[-1]

    def keep(self, settings: Settings) -> None:
        """Take changed settings at once; a disk that refuses them costs only that they are forgotten."""
        before = self.around.theme.settings
        if settings.volume != before.volume:
            self.around.speaker.set_gain(gain_of(settings.volume, LOUDEST))
        if (settings.read_aloud, settings.language) != (before.read_aloud, before.language):
            self._aloud.forget()
            if settings.read_aloud != "on" and self._reader:
                self._reader.hush()
        if settings.one_switch != before.one_switch:
            self.controls.one_switch = settings.one_switch
            self._switch.forget()
        if self._at_home and settings.full_screen != self.around.theme.settings.full_screen:
            self._show(full_screen=settings.full_screen)
        self.around.theme = Theme(settings)
        with suppress(StorageError):
            kept.save(settings, self._path)

    # -- the loop
    def run(self) -> None:
        """Until somebody leaves."""
        clock, waited_s = pygame.time.Clock(), 0.0
        try:
            while not self.leaving:
                self.around.seen = seen = pygame.display.get_active()
                waited_s += clock.tick(LOOKS_PER_S if seen else HIDDEN_PER_S) / 1000
                events = pygame.event.get()
                if events or waited_s + 0.5 / LOOKS_PER_S >= self._pacing.wait_s(self.pace):
                    self._frame(events, min(waited_s, LONGEST_FRAME_S), seen=seen)
                    waited_s = 0.0
        finally:
            self.close()

    @property
    def pace(self) -> Pace:
        """How often the screen on top wants to be drawn now."""
        lively = self._lively_s > 0 or self._resized_s > 0 or self.around.held_share > 0
        return LIVELY if lively or self.top.time_s < LIVELY_S else self.top.pace

    def _frame(self, events: Sequence[pygame.event.Event], dt_s: float, *, seen: bool) -> None:
        self.step(events, dt_s)
        if seen:
            begun_s = time.thread_time()  # of the picture alone: what samples cost is the same however many are drawn
            self.draw()
            pygame.display.flip()
            self._pacing.spent(time.thread_time() - begun_s)
            if self.once_shown is not None:
                self.once_shown()
                self.once_shown = None

    def step(self, events: Sequence[pygame.event.Event], dt_s: float) -> None:
        """Everything that happens in one frame but drawing."""
        self.controls.effort_wanted = self.top.wants_effort
        self._lively_s = max(0.0, self._lively_s - dt_s)
        for event in events:
            if event.type == pygame.DROPFILE:
                self.take_in(event.file)
            if event.type in (pygame.VIDEORESIZE, pygame.WINDOWSIZECHANGED):
                self._resized()
            self._watch_for_a_switch(event)
            for intent in self.controls.read(event, self.canvas):
                self.answer(intent)
        for letter in self.door.knocks() if self.door is not None else ():
            bring_to_front()
            if letter:
                self.take_in(letter)
        self._settle(dt_s)
        self._be_led(dt_s)
        self._be_switched(dt_s)
        if not self.leaving:
            self._go(self.top.update(dt_s))
        spoken = self._reader is not None and self._reader.busy
        if not spoken and (len(self.stack) == 1 or self._put_away):
            self.around.speaker.rest()
        if self.controls.one_switch:
            self.around.held_share = max(self.around.held_share, self._switch.held_share)
        self._note_s = max(0.0, self._note_s - dt_s)
        self._read_aloud()

    def answer(self, intent: Intent) -> None:
        """One intent of whatever device."""
        self._lively_s = LIVELY_S
        if intent.act is Act.QUIT:
            self.leaving = True
        elif intent.act is Act.FULL_SCREEN:
            self._full_screen()
        elif intent.act is Act.KEYS:
            self._explain_keys()
        elif intent.act is Act.SWITCH:
            self._switch.press(intent.level > 0)
        elif intent.act in (Act.LOUDER, Act.SOFTER):
            self._sound_louder(1 if intent.act is Act.LOUDER else -1)
        elif intent.act is Act.READ:
            self._read_or_not()
        elif not self.leaving:
            self._go(self.top.handle(intent))

    def draw(self) -> None:
        """One picture."""
        self.top.draw(self.canvas)
        self.around.backdrops.begin()  # what takes long, once there is something to see
        if self._note_s > 0:
            note = sentence(self.canvas, self.around.theme, self._note, (0, 0), 700, Look(size=BODY, bold=True))
            note.moved(640 - note.box.width / 2, 8).draw(self.canvas, self.around.theme)

    def close(self) -> None:
        """End a session that is still open, then the window."""
        for page in self.stack:
            page.close()
        self._lead.let_go()
        if self._reader:
            self._reader.close()
        self.around.backdrops.close()
        self.around.speaker.close()
        pygame.display.quit()

    def take_in(self, path: str) -> None:
        """A file or folder that somebody opened, or let fall on the window, is a letter from the clinic, unless a
        session is on."""
        post = self.stack[0].day.post if isinstance(self.stack[0], TodayPage) else None
        if post is None or self.top.under_way:
            return
        from musclewood.games.screens.village.letters import LettersPage

        if not isinstance(self.top, LettersPage):
            self.stack.append(LettersPage(self.around, post))
        if isinstance(self.top, LettersPage):
            self.top.drop(path)

    def go_in(self) -> None:
        """As if somebody had chosen Today's large button, where it calls to play."""
        first = self.stack[0]
        if isinstance(first, TodayPage) and first.calls:
            self._go(first.chosen("begin"))

    def _be_led(self, dt_s: float) -> None:
        """Let the muscle choose outside sessions, for those who asked for it; a session listens by itself."""
        if self.top.under_way:
            return
        first = self.stack[0]
        hear = first.day.ear if isinstance(first, TodayPage) and self.around.theme.settings.muscle_leads else None
        intents = self._lead.listen(hear, self.top.question(), dt_s) if hear else None
        if hear is None:
            self._lead.let_go()
        self.around.muscle_steers, self.around.held_share = intents is not None, self._lead.held_share
        self.around.muscle_ready = self._lead.read
        for intent in intents or ():
            self.answer(intent)

    def _go(self, transition: Transition | None) -> None:
        match transition:
            case Push(page):
                self.stack.append(page)
            case Replace(page):
                worked, self.stack[-1] = self.top.under_way, page
                if worked:
                    sweep()  # the pictures of its workshops
            case Back() if len(self.stack) > 1:
                self.stack.pop()
            case Home():
                del self.stack[1:]
            case Leave():
                self.leaving = True

    # -- what is heard
    @property
    def reader(self) -> Reader:
        """Reads aloud; the system's speech is looked for when it is first needed."""
        if self._reader is None:
            self._reader = Reader(engines.of_this_system(), self.around.speaker)
        return self._reader

    def ask_for_hearing(self) -> None:
        """Ask once whether to read aloud, on top of whatever is there."""
        settings = self.around.theme.settings
        if settings.read_aloud == "unasked":
            self.stack.append(HearingPage(self.around, self.reader.works, self.keep))

    def _hear(self, aloud: bool) -> None:
        self.keep(self.around.theme.settings.changed(read_aloud="on" if aloud else "off"))

    def _read_aloud(self) -> None:
        """Say what is new on the page in sight; a window that was put away is silent, but for a session in it."""
        page = self.top.spoken_page
        theme = self.around.theme
        if self._put_away:
            if self._reader and self._reader.busy:
                self._reader.hush()
            self._aloud.forget()
        elif theme.settings.read_aloud != "on" and not page.spoken:
            self._aloud.forget()
        elif (asked := page.question()).words is not None:
            for said in self._aloud.step(asked.what, page.shown(), page.focus):
                self.reader.say(said.text, theme.words.language, said.manner)

    @property
    def _put_away(self) -> bool:
        return not (self.around.seen or self.top.under_way)

    def _sound_louder(self, by: int) -> None:
        if not self.own_keys:
            return
        settings = self.around.theme.settings
        self.keep(settings.changed(volume=min(max(settings.volume + by, VOLUMES[0]), LOUDEST)))
        self.around.speaker.play(SoundCue("bell", 2))
        self._tell(volume_said(self.around.theme))

    def _read_or_not(self) -> None:
        if not self.own_keys:
            return
        on = self.around.theme.settings.read_aloud == "on"
        if not on and not self.reader.works:
            self._tell(self.around.theme.words("hearing.no-voice"))
            return
        self._hear(not on)
        self._tell(self.around.theme.words("hearing.stops" if on else "hearing.begins"))

    def _tell(self, note: str) -> None:
        """Say for a moment what a key has changed."""
        self._note, self._note_s = note, NOTE_S
        if self.around.theme.settings.read_aloud == "on":
            self.reader.say(note, self.around.theme.words.language, "next")

    # -- one switch
    def _watch_for_a_switch(self, event: pygame.event.Event) -> None:
        """Whoever has but one switch turns it into one by holding it down; at work nothing is turned on by accident."""
        if event.type == pygame.WINDOWFOCUSLOST:
            self._switch.forget()
        elif not self.controls.one_switch and self.own_keys:
            held = self.controls.held(event)
            if held is not None and not (held and self.top.under_way):
                self._switch.press(held)

    def _be_switched(self, dt_s: float) -> None:
        meant = self._switch.step(dt_s)
        if self.controls.one_switch:
            for intent in meant:
                self.answer(intent)
        elif self.top.under_way:
            self._switch.forget()
        elif self._switch.held_s >= TURN_ON_S:
            self.keep(self.around.theme.settings.changed(one_switch=True))
            self._tell(self.around.theme.words("common.switch-hint"))

    # -- the window
    def _full_screen(self) -> None:
        """The other way from now on, at home also at the next start."""
        if self._at_home:
            settings = self.around.theme.settings
            self.keep(settings.changed(full_screen=not settings.full_screen))
        else:
            self._show(full_screen=not self.screen.get_flags() & pygame.FULLSCREEN)

    def _show(self, *, full_screen: bool) -> None:
        self.screen = open_full_screen() if full_screen else open_window(self._window_size)
        self._resized()

    def _explain_keys(self) -> None:
        """A session is never covered: its controls say their keys themselves."""
        covered = self.top.under_way or isinstance(self.top, KeysPage)
        if isinstance(self.stack[0], TodayPage) and not covered:
            self.stack.append(KeysPage(self.around))

    def _resized(self) -> None:
        self.screen = pygame.display.get_surface() or self.screen
        self.screen.fill(BARS)
        self.canvas = Canvas(self.screen)
        self._resized_s = SETTLE_S

    def _settle(self, dt_s: float) -> None:
        if self._resized_s <= 0:
            return
        self._resized_s -= dt_s
        if self._resized_s <= 0 and self.around.backdrops.size != self.canvas.size:
            self.around.backdrops.close()
            self.around.backdrops = Backdrops(self.canvas.size)


def volume_said(theme: Theme) -> str:
    """How loud sounds are, in words."""
    volume = theme.settings.volume
    value = theme.words("settings.of", number=volume, total=LOUDEST) if volume else theme.words("settings.off")
    return theme.words("settings.sound", value=value)
