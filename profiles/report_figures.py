"""The report's figures as inline SVG. Drawn on paper, in ink, with the same few colours everywhere.

Colours are from the Okabe-Ito set; shape and place say the same as colour does, so a copy in grey loses nothing.
"""

from __future__ import annotations

import html
import io
import math
import re
from collections.abc import Sequence
from datetime import date, timedelta
from functools import cache
from importlib.resources import files
from typing import Any

import matplotlib
from matplotlib import font_manager
from matplotlib.figure import Figure
from musclewood.profiles.adherence import DayDone
from musclewood.profiles.recent_mvc import RecentMvc
from musclewood.profiles.records import RepRecord

INK, SOFT_INK, HAIR, PAPER = "#1E1D38", "#5A5872", "#D9CFB8", "#FFFDF7"
AMBER, WATER, LEAF, RUST, PLUM = "#E69F00", "#0072B2", "#009E73", "#D55E00", "#CC79A7"
WIDTH_IN = 7.0
MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")

# Marker and word for each verdict; a filled disc is a rep that counts, everything else is open.
MARKS: dict[str, tuple[str, str]] = {
    "counted": ("o", LEAF),
    "short": ("s", SOFT_INK),
    "weak": ("v", WATER),
    "over": ("^", RUST),
    "not relaxed": ("D", PLUM),
    "compensated": ("P", AMBER),
    "unreadable": ("x", SOFT_INK),
}


@cache
def _typeface() -> str:
    folder = files("fontpkg_atkinson_hyperlegible") / "files"
    for weight in ("Regular", "Bold"):
        font_manager.fontManager.addfont(str(folder / f"AtkinsonHyperlegible-{weight}.ttf"))
    return "Atkinson Hyperlegible"


def _style() -> Any:
    return {
        "font.family": _typeface(),
        "font.size": 9.5,
        "text.color": INK,
        "axes.labelcolor": SOFT_INK,
        "axes.edgecolor": HAIR,
        "axes.linewidth": 0.8,
        "axes.facecolor": "none",
        "axes.spines.top": False,
        "axes.spines.right": False,
        "axes.spines.left": False,
        "axes.grid": True,
        "axes.grid.axis": "y",
        "axes.axisbelow": True,
        "grid.color": HAIR,
        "grid.linewidth": 0.6,
        "xtick.color": SOFT_INK,
        "ytick.color": SOFT_INK,
        "xtick.major.size": 0,
        "ytick.major.size": 0,
        "legend.frameon": False,
        "svg.fonttype": "none",
        "svg.hashsalt": "musclewood",
    }


def _drawn(draw: Any, height_in: float, label: str) -> str:
    """Let `draw(axes)` draw and return the SVG element, described for those who cannot see it."""
    with matplotlib.rc_context(_style()):
        figure = Figure(figsize=(WIDTH_IN, height_in), layout="constrained")
        axes = figure.subplots()
        draw(axes)
        buffer = io.StringIO()
        figure.savefig(buffer, format="svg", transparent=True, metadata={"Date": None, "Creator": None})
    svg = buffer.getvalue()
    svg = svg[svg.index("<svg") :]
    prefix = re.sub(r"[^a-z0-9]+", "-", label.lower())[:40]
    svg = re.sub(r'(id="|url\(#|href="#)', rf"\g<1>{prefix}-", svg)  # several figures share one page
    svg = re.sub(r"\s*<metadata>.*?</metadata>", "", svg, flags=re.DOTALL)
    return svg.replace("<svg ", f'<svg role="img" aria-label="{html.escape(label)}" ', 1)


def _short_dates(axes: Any, days: Sequence[date]) -> None:
    step = max(1, -(-len(days) // 11))
    axes.set_xticks(range(0, len(days), step))
    axes.set_xticklabels([f"{day.day} {MONTHS[day.month - 1]}" for day in days[::step]])


def by_day(days: Sequence[DayDone]) -> str:
    """Ordered reps as an open outline, counted reps as a filled bar in front; rest days are a small dash."""

    def draw(axes: Any) -> None:
        places = range(len(days))
        ordered = [day.reps_ordered for day in days]
        axes.bar(places, ordered, 0.78, facecolor="none", edgecolor=INK, linewidth=1.0, label="ordered")
        made = [day.reps_counted for day in days]
        axes.bar(places, made, 0.5, color=LEAF, edgecolor="none", label="done")
        rest = [place for place, day in enumerate(days) if day.rest_day and not day.reps_counted]
        axes.plot(rest, [0] * len(rest), "_", color=SOFT_INK, markersize=7, label="rest day", clip_on=False)
        axes.set_ylabel("repetitions")
        axes.set_ylim(0, max([*ordered, *made, 1]) * 1.12)
        axes.set_xlim(-0.7, max(6, len(days)) - 0.3)
        _short_dates(axes, [day.day for day in days])
        axes.legend(loc="lower left", bbox_to_anchor=(0, 1.0), ncols=3, borderaxespad=0, handlelength=1.2)

    return _drawn(draw, 2.5, "Repetitions ordered and done by day")


def effort_by_rep(reps: Sequence[RepRecord], ceiling_pct_mvc: float, title: str, relax: bool = False) -> str:
    """Every rep's mean effort against the band that was asked for at the time."""

    def draw(axes: Any) -> None:
        places = list(range(1, len(reps) + 1))
        low = [0.0 if relax else rep.target_pct_mvc - rep.tolerance_pct_mvc for rep in reps]
        high = [rep.target_pct_mvc if relax else rep.target_pct_mvc + rep.tolerance_pct_mvc for rep in reps]
        edges = [place - 0.5 for place in places] + [len(places) + 0.5]
        axes.stairs(high, edges, baseline=low, fill=True, color=AMBER, alpha=0.22, linewidth=0, label="band asked for")
        if not relax:
            axes.axhline(ceiling_pct_mvc, color=RUST, linewidth=1.0, linestyle=(0, (6, 3)), label="ceiling")
        for verdict, (marker, colour) in MARKS.items():
            where = [place for place, rep in zip(places, reps, strict=True) if rep.verdict == verdict]
            what = [rep.mean_pct_mvc for rep in reps if rep.verdict == verdict]
            if where:
                face = colour if verdict in ("counted", "unreadable") else "none"
                axes.scatter(
                    where, what, s=14, marker=marker, facecolor=face, edgecolor=colour, linewidth=0.9, label=verdict
                )
        shown = [rep.mean_pct_mvc for rep in reps if not math.isnan(rep.mean_pct_mvc)]
        top = max([*high, *shown, 1.0]) if relax else max([*high, *shown, ceiling_pct_mvc])
        axes.set_ylim(0, top * 1.08)
        axes.set_xlim(0.2, len(reps) + 0.8)
        axes.set_ylabel("mean effort, %MVC")
        axes.set_xlabel("repetition, the oldest first")
        axes.legend(
            loc="lower left", bbox_to_anchor=(0, 1.0), ncols=7, borderaxespad=0, handlelength=1.0, columnspacing=1.0
        )

    return _drawn(draw, 2.5, f"Effort of each repetition, {title}")


def recent_mvc(track: Sequence[RecentMvc], muscle: str) -> str:
    """Each day's measurement as an open diamond, the estimate as a line in its 95 % interval."""

    def draw(axes: Any) -> None:
        first = track[0].at.date()
        where = [(point.at.date() - first).days for point in track]
        low, high = [point.low_uv for point in track], [point.high_uv for point in track]
        axes.fill_between(where, low, high, color=WATER, alpha=0.16, linewidth=0, label="95 % interval")
        axes.plot(where, [point.estimate_uv for point in track], color=WATER, linewidth=1.8, label="estimate")
        measured = [point.measured_uv for point in track]
        axes.plot(where, measured, "D", markersize=4.5, color=INK, markerfacecolor=PAPER, label="measured that day")
        days = [first + timedelta(days=offset) for offset in range(max(where) + 1)]
        _short_dates(axes, days)
        axes.set_ylim(0, max(*high, *measured) * 1.08)
        axes.set_xlim(-0.5, max(where) + 0.5)
        axes.set_ylabel("µV")
        axes.legend(loc="lower left", bbox_to_anchor=(0, 1.0), ncols=3, borderaxespad=0, handlelength=1.4)

    return _drawn(draw, 2.4, f"Recent maximum, {muscle}")


def ratings(points: Sequence[tuple[date, dict[str, int]]], pain_stop: int, pain_lighten: int) -> str:
    """The highest pain and effort that were answered in each session, 0 to 10, with the therapist's two levels."""

    def draw(axes: Any) -> None:
        places = range(len(points))
        looks = {
            "pain": ("o-", RUST, RUST),
            "effort": ("s--", WATER, PAPER),
            "tiredness": ("^:", SOFT_INK, PAPER),
            "ease": ("D:", LEAF, PAPER),
        }
        for what, (style, colour, face) in looks.items():
            known = [(place, values[what]) for place, (_, values) in zip(places, points, strict=True) if what in values]
            if known:
                where, value = zip(*known, strict=True)
                axes.plot(
                    where, value, style, color=colour, markerfacecolor=face, linewidth=1.2, markersize=4.5, label=what
                )
        for level, word in ((pain_stop, "pain: stop"), (pain_lighten, "pain: easier")):
            axes.axhline(level, color=INK, linewidth=0.8, linestyle=(0, (2, 3)))
            axes.annotate(word, (1.0, level), xycoords=("axes fraction", "data"), xytext=(4, 0),
                          textcoords="offset points", va="center", fontsize=8.5, color=SOFT_INK, annotation_clip=False)  # fmt: skip
        axes.set_ylim(-0.4, 10.4)
        axes.set_yticks([0, 2, 4, 6, 8, 10])
        axes.set_xlim(-0.5, max(4, len(points)) - 0.5)
        _short_dates(axes, [day for day, _ in points])
        axes.set_ylabel("0 to 10")
        axes.legend(loc="lower left", bbox_to_anchor=(0, 1.0), ncols=4, borderaxespad=0, handlelength=2.0)

    return _drawn(draw, 2.2, "Pain and effort as answered")
