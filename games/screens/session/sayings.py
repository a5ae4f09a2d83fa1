"""What is said while somebody works: the one sentence that helps now, at a pace that can be read. Pure.

One place for all workshops: it looks at the muscles, at every one that is trained, and knows no workshop.
"""

from __future__ import annotations

from dataclasses import replace

from musclewood.games.engine.kinds import OF_KIND
from musclewood.games.engine.rep_events import RepView
from musclewood.games.kit.pacing import PacedWords, Words

BLIND_S = 0.2  # our choice: single packets that are lost must not make the words flicker
MISSED_S = 2.0  # how long an attempt without a signal is spoken of
LONG_HOLD_S, STRONG = 4.0, 0.5  # from here on people hold their breath; our choice, half a maximum and one slow breath
RESTS = ("rest", "set rest")
STOPS = ("frame.release", "frame.stirred")  # they ask a muscle to let go, and are never kept waiting


class Sayings:
    """What is said now, as keys of the catalogue."""

    def __init__(self) -> None:
        self._paced = PacedWords()
        self._blind_s, self._since_missed_s = 0.0, MISSED_S
        self._phase = ""

    def said(self, rep: RepView) -> Words:
        """What is said now; at the first look, what would be."""
        return self._paced.shown or self._wanted(rep)

    def step(self, dt_s: float, rep: RepView | None) -> Words:
        """Time went by in a workshop."""
        self._since_missed_s += dt_s
        self._blind_s = 0.0 if rep is None or rep.readable else self._blind_s + dt_s
        if rep is None:
            return self._paced.shown
        if self._phase == "effort" != rep.phase and rep.last_verdict not in (None, "counted"):
            self._since_missed_s = 0.0
        self._phase = rep.phase
        wanted = self._wanted(rep)
        return self._paced.step(dt_s, wanted, stop=wanted[0] in STOPS)

    def _wanted(self, rep: RepView) -> Words:
        """What would help now, at the pace of the muscle rather than of a reader."""
        missed = rep.phase in ("release", *RESTS) and self._since_missed_s < MISSED_S
        if missed and rep.last_verdict == "unreadable":
            return ("frame.unreadable",)
        if self._blind_s < BLIND_S:
            rep = replace(rep, readable=True)
        if rep.unseen and rep.readable and rep.phase in ("ready", "effort"):
            return ("frame.unseen-ready" if rep.phase == "ready" else "frame.unseen-effort", *breath(rep))
        return (sentence_of(rep), *breath(rep))


def stirred(rep: RepView) -> bool:
    """Whether a muscle tightens that should rest now, so that the moon waits."""
    return rep.phase in RESTS and rep.readable and not rep.quiet and not OF_KIND[rep.kind].traits.still


def sentence_of(rep: RepView) -> str:
    """The key of the one sentence that helps now."""
    if not rep.readable:
        return "frame.unreadable"
    if rep.note == "tired" and rep.phase in ("release", "rest", "set rest"):
        return "frame.tired"
    if rep.note == "easier" and rep.phase in ("rest", "ready"):
        return "frame.easier"
    match rep.phase:
        case "ready":
            return OF_KIND[rep.kind].ready
        case "effort" if OF_KIND[rep.kind].traits.still:
            return "frame.relax-stirred" if rep.over else OF_KIND[rep.kind].going
        case "effort":
            return _while_working(rep)
        case "rest" | "set rest" if stirred(rep):
            return "frame.stirred"
        case "set rest":
            return "frame.set-rest"
        case _:
            return f"frame.{rep.phase}"


def breathes(rep: RepView) -> bool:
    """Whether to breathe on is said, all through the effort: holds that are long or strong tempt to hold the breath."""
    kind = OF_KIND[rep.kind]
    held = rep.phase == "effort" and rep.readable and kind.pattern.steers and not kind.traits.still
    return held and (rep.hold_s >= LONG_HOLD_S or rep.target >= STRONG)


def _while_working(rep: RepView) -> str:
    """The muscle that must not join in is spoken of first: more effort would only bring more of it."""
    if rep.opposite is not None and rep.opposite_ceiling is not None and rep.opposite > rep.opposite_ceiling:
        return "frame.opposite"
    if rep.over:
        return "frame.less"
    if rep.difference is not None and rep.difference_limit is not None and abs(rep.difference) > rep.difference_limit:
        return "frame.alike"
    kind = OF_KIND[rep.kind]
    if not kind.pattern.steers:  # over before anybody could read another sentence
        return kind.ready if rep.held_s < rep.hold_s else "frame.release"
    if not rep.in_band:
        return "frame.more" if rep.pattern_target is None or max(rep.level) < rep.pattern_target else "frame.less"
    return "frame.at-least" if rep.at_least else kind.going


def breath(rep: RepView) -> Words:
    return ("frame.breathe",) if breathes(rep) else ()
