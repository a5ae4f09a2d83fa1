"""The report's figures as inline SVG. Drawn on paper, in ink, with the same few colours everywhere.

Colours are from the Okabe-Ito set; shape and place say the same as colour does, so a copy in grey loses nothing.
"""

from __future__ import annotations

import html
import io
import math
import re
from collections.abc import Sequence
from dataclasses import replace
from datetime import date, timedelta
from functools import cache
from importlib.resources import files
from typing import Any

import matplotlib
from matplotlib import font_manager
from matplotlib.collections import PolyCollection
from matplotlib.figure import Figure
from musclewood.profiles.journal.records import RepRecord
from musclewood.profiles.plan.adherence import WHOLE_SESSION, DayDone
from musclewood.profiles.plan.recent_mvc import RecentMvc
from musclewood.profiles.report.courses import Course
from musclewood.profiles.report.courses import by_week as weekly
from musclewood.profiles.report.days import Week
from musclewood.profiles.report.words import Words

INK, SOFT_INK, HAIR, PAPER = "#1E1D38", "#5A5872", "#D9CFB8", "#FFFDF7"
AMBER, WATER, LEAF, RUST, PLUM = "#E69F00", "#0072B2", "#009E73", "#D55E00", "#CC79A7"
WIDTH_IN = 4.8

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
        "xtick.major.pad": 6,
        "legend.frameon": False,
        "legend.fontsize": 8.5,
        "svg.fonttype": "none",
        "svg.hashsalt": "musclewood",
    }


def _drawn(draw: Any, height_in: float, label: str, head_in: float = 0.0) -> str:
    """Let `draw(axes)` draw and return the SVG element, described for those who cannot see it.

    `head_in` is room above for a legend of more than one row.
    """
    with matplotlib.rc_context(_style()):
        figure = Figure(figsize=(WIDTH_IN, height_in))
        # Room for labels and legend by hand: letting matplotlib find it would draw every figure three times.
        axes = figure.add_axes((0.105, 0.46 / height_in, 0.795, 1 - (0.86 + head_in) / height_in))
        draw(axes)
        buffer = io.StringIO()
        figure.savefig(buffer, format="svg", transparent=True, metadata={"Date": None, "Creator": None})
    svg = buffer.getvalue()
    svg = svg[svg.index("<svg") :]
    prefix = re.sub(r"[^a-z0-9]+", "-", label.lower())[:40]
    svg = re.sub(r'(id="|url\(#|href="#)', rf"\g<1>{prefix}-", svg)  # several figures share one page
    svg = re.sub(r"\s*<metadata>.*?</metadata>", "", svg, flags=re.DOTALL)
    return svg.replace("<svg ", f'<svg role="img" aria-label="{html.escape(label)}" ', 1)


def _short_dates(axes: Any, days: Sequence[date], words: Words) -> None:
    step = max(1, -(-len(days) // 6))  # more would run into each other where a figure is small
    axes.set_xticks(range(0, len(days), step))
    axes.set_xticklabels([words.short_day(day) for day in days[::step]])


def by_week(weeks: Sequence[Week], words: Words) -> str:
    """Ordered reps of each week as an open outline, counted reps as a filled bar in front."""

    def draw(axes: Any) -> None:
        places = [float(place) for place in range(len(weeks))]
        ordered, made = [week.reps_ordered for week in weeks], [week.reps_counted for week in weeks]
        _bars(
            axes, places, ordered, 0.74, facecolor="none", edgecolor=INK, linewidth=0.9, label=words("figure.ordered")
        )
        _bars(axes, places, made, 0.46, facecolor=LEAF, edgecolor="none", label=words("figure.done"))
        axes.set_ylabel(words("figure.reps_a_week"))
        axes.set_ylim(0, max([*ordered, *made, 1]) * 1.12)
        axes.set_xlim(-0.7, max(6, len(weeks)) - 0.3)
        _short_dates(axes, [week.monday for week in weeks], words)
        axes.legend(loc="lower left", bbox_to_anchor=(0, 1.0), ncols=2, borderaxespad=0, handlelength=1.2)

    return _drawn(draw, 2.3, words("figure.by_week"))


def calendar_of(days: Sequence[DayDone], words: Words) -> str:
    """A column a week, a row a weekday: a full disc for a whole day, a half one for a part, a ring for none, a dash for
    rest."""
    first = days[0].day - timedelta(days=days[0].day.weekday())
    columns = (days[-1].day - first).days // 7 + 1
    side = min(0.16, 0.795 * WIDTH_IN / max(columns, 20))

    def draw(axes: Any) -> None:
        looks = {
            "whole_day": ("o", LEAF, LEAF), "a_part": ("o", AMBER, PAPER), "nothing": ("o", INK, PAPER),
            "rest_day": ("_", SOFT_INK, SOFT_INK), "on_rest": ("d", LEAF, LEAF),
        }  # fmt: skip
        kinds = [_kind_of_day(day) for day in days]
        for kind, (marker, edge, face) in looks.items():
            chosen = [day.day for day, of_day in zip(days, kinds, strict=True) if of_day == kind]
            if chosen:
                across = [(day - first).days // 7 for day in chosen]
                size = (side * 72 * (0.42 if marker in "_d" else 0.62)) ** 2
                down = [day.weekday() for day in chosen]
                edges = {} if marker == "_" else {"edgecolor": edge}
                axes.scatter(
                    across,
                    down,
                    s=size,
                    marker=marker,
                    facecolor=face,
                    linewidth=1.1,
                    label=words(f"figure.{kind}"),
                    **edges,
                )
                if kind == "a_part":
                    axes.scatter(across, down, s=size * 0.3, marker="o", facecolor=AMBER, edgecolor="none")
        axes.set_ylim(6.6, -0.6)
        axes.set_yticks(range(7), words.get("form.weekdays"))
        axes.set_xlim(-0.7, max(19, columns) - 0.3)
        axes.grid(visible=False)
        _short_dates(axes, [first + timedelta(days=7 * number) for number in range(columns)], words)
        legend = axes.legend(
            loc="lower left", bbox_to_anchor=(0, 1.0), ncols=3, borderaxespad=0, handletextpad=0.3, columnspacing=1.2
        )
        for handle in legend.legend_handles:
            handle.set_sizes([34])

    return _drawn(draw, 7 * 0.165 + 0.95 + 0.17, words("figure.calendar"), 0.17)


def _kind_of_day(day: DayDone) -> str:
    if day.rest_day:
        return "on_rest" if day.reps_counted else "rest_day"
    if day.reps_capped >= WHOLE_SESSION * day.reps_ordered:
        return "whole_day"
    return "a_part" if day.reps_attempted else "nothing"


def _bars(axes: Any, places: Sequence[float], heights: Sequence[float], width: float, **look: Any) -> None:
    """All bars as one collection; matplotlib's own are an object each, which takes a second for a year of days."""
    corners = [
        [(place - width / 2, 0), (place - width / 2, high), (place + width / 2, high), (place + width / 2, 0)]
        for place, high in zip(places, heights, strict=True)
    ]
    axes.add_collection(PolyCollection(corners, **look))


def by_day(days: Sequence[DayDone], words: Words) -> str:
    """Ordered reps as an open outline, counted reps as a filled bar in front; rest days are a small dash."""

    def draw(axes: Any) -> None:
        places = [float(place) for place in range(len(days))]
        ordered = [day.reps_ordered for day in days]
        _bars(
            axes, places, ordered, 0.78, facecolor="none", edgecolor=INK, linewidth=1.0, label=words("figure.ordered")
        )
        made = [day.reps_counted for day in days]
        _bars(axes, places, made, 0.5, facecolor=LEAF, edgecolor="none", label=words("figure.done"))
        rest = [place for place, day in enumerate(days) if day.rest_day and not day.reps_counted]
        axes.plot(
            rest, [0] * len(rest), "_", color=SOFT_INK, markersize=7, label=words("figure.rest_day"), clip_on=False
        )
        axes.set_ylabel(words("figure.reps"))
        axes.set_ylim(0, max([*ordered, *made, 1]) * 1.12)
        axes.set_xlim(-0.7, max(6, len(days)) - 0.3)
        _short_dates(axes, [day.day for day in days], words)
        axes.legend(loc="lower left", bbox_to_anchor=(0, 1.0), ncols=3, borderaxespad=0, handlelength=1.2)

    return _drawn(draw, 2.3, words("figure.by_day"), 0.17)


def effort_by_rep(
    reps: Sequence[RepRecord], ceiling_pct_mvc: float, title: str, words: Words, relax: bool = False
) -> str:
    """Every rep's mean effort against the band that was asked for at the time."""

    def draw(axes: Any) -> None:
        places = list(range(1, len(reps) + 1))
        low = [0.0 if relax else rep.target_pct_mvc - rep.tolerance_pct_mvc for rep in reps]
        high = [rep.target_pct_mvc if relax else _upper_edge(rep, ceiling_pct_mvc) for rep in reps]
        edges = [place - 0.5 for place in places] + [len(places) + 0.5]
        axes.stairs(
            high, edges, baseline=low, fill=True, color=AMBER, alpha=0.22, linewidth=0, label=words("figure.band")
        )
        if not relax:
            axes.axhline(
                ceiling_pct_mvc, color=RUST, linewidth=1.0, linestyle=(0, (6, 3)), label=words("figure.ceiling")
            )
        for verdict, (marker, colour) in MARKS.items():
            where = [place for place, rep in zip(places, reps, strict=True) if rep.verdict == verdict]
            what = [rep.mean_pct_mvc for rep in reps if rep.verdict == verdict]
            if where:
                face = colour if verdict in ("counted", "unreadable") else "none"
                edges_too = {} if marker == "x" else {"edgecolor": colour}  # a cross has no inside
                axes.scatter(
                    where,
                    what,
                    s=14,
                    marker=marker,
                    facecolor=face,
                    linewidth=0.9,
                    label=words.known("verdict", verdict),
                    **edges_too,
                )
        shown = [rep.mean_pct_mvc for rep in reps if not math.isnan(rep.mean_pct_mvc)]
        top = max([*high, *shown, 1.0]) if relax else max([*high, *shown, ceiling_pct_mvc])
        axes.set_ylim(0, top * 1.08)
        axes.set_xlim(0.2, len(reps) + 0.8)
        axes.set_ylabel(words("figure.mean_effort"))
        axes.set_xlabel(words("figure.oldest_first"))
        axes.legend(
            loc="lower left", bbox_to_anchor=(0, 1.0), ncols=4, borderaxespad=0, handlelength=1.0, columnspacing=0.8
        )

    return _drawn(draw, 2.3, words("figure.effort_of", title=title), 0.17)


def _upper_edge(rep: RepRecord, ceiling_pct_mvc: float) -> float:
    """Of what was asked for: where it was at least the target, as far as the ceiling."""
    return rep.target_pct_mvc + rep.tolerance_pct_mvc if rep.tolerance_pct_mvc else ceiling_pct_mvc


def recent_mvc(track: Sequence[RecentMvc], muscle: str, words: Words, since: date | None = None) -> str:
    """Each day's measurement as a diamond, the estimate as a line in its 95 % interval.

    A diamond is filled from the day `since` on which a change was shown to be more than chance.
    """

    def draw(axes: Any) -> None:
        first = track[0].at.date()
        where = [(point.at.date() - first).days for point in track]
        low, high = [point.low_uv for point in track], [point.high_uv for point in track]
        axes.fill_between(where, low, high, color=WATER, alpha=0.16, linewidth=0, label=words("figure.interval"))
        axes.plot(
            where,
            [point.estimate_uv for point in track],
            color=WATER,
            linewidth=1.8,
            label=words("figure.estimate"),
            zorder=3,
        )
        measured = [point.measured_uv for point in track]
        marks = [since is not None and point.at.date() >= since for point in track]
        size = 4.2 if len(track) < 60 else 2.3
        for beyond, face, word in ((False, PAPER, words("figure.measured")), (True, LEAF, words("figure.shown"))):
            chosen = [number for number, mark in enumerate(marks) if mark == beyond]
            if chosen:
                across, up = [where[number] for number in chosen], [measured[number] for number in chosen]
                axes.plot(
                    across, up, "D", markersize=size, color=INK, markeredgewidth=0.8, markerfacecolor=face, label=word
                )
        days = [first + timedelta(days=offset) for offset in range(max(where) + 1)]
        _short_dates(axes, days, words)
        axes.set_ylim(0, max(*high, *measured) * 1.08)
        axes.set_xlim(-0.5, max(where) + 0.5)
        axes.set_ylabel("µV")
        axes.legend(loc="lower left", bbox_to_anchor=(0, 1.0), ncols=2, borderaxespad=0, handlelength=1.4)

    return _drawn(draw, 2.3, words("figure.maximum_of", muscle=muscle), 0.17)


def by_session(
    courses: Sequence[Course], unit: str, label: str, words: Words, limit: tuple[float, str] | None = None
) -> str:
    """One figure of each session, a mark and a line an exercise, with a limit if there is one."""
    courses = [replace(course, points=weekly(course.points)) for course in courses]
    looks = (("o-", WATER, WATER), ("s--", RUST, PAPER), ("^:", LEAF, PAPER), ("D-.", PLUM, PAPER), ("v:", INK, PAPER))

    def draw(axes: Any) -> None:
        first = min(day for course in courses for day, _ in course.points)
        for number, course in enumerate(courses):
            style, colour, face = looks[number % len(looks)]
            where = [(day - first).days for day, _ in course.points]
            size = 3.6 if len(where) < 60 else 2.4
            values = [value for _, value in course.points]
            axes.plot(
                where,
                values,
                style,
                color=colour,
                markerfacecolor=face,
                linewidth=0.7,
                markersize=size,
                label=course.title,
            )
        if limit is not None:
            axes.axhline(limit[0], color=INK, linewidth=0.8, linestyle=(0, (2, 3)))
            axes.annotate(limit[1], (1.0, limit[0]), xycoords=("axes fraction", "data"), xytext=(4, 0),
                          textcoords="offset "
                              "points", va="center", fontsize=8.5, color=SOFT_INK, annotation_clip=False)  # fmt: skip
        last = max(day for course in courses for day, _ in course.points)
        _short_dates(axes, [first + timedelta(days=offset) for offset in range((last - first).days + 1)], words)
        top = max(value for course in courses for _, value in course.points)
        axes.set_ylim(0, max(top, limit[0] if limit else 0.0) * 1.12 or 1.0)
        axes.set_xlim(-0.5, max(4, (last - first).days) + 0.5)
        axes.set_ylabel(unit)
        axes.legend(
            loc="lower left", bbox_to_anchor=(0, 1.0), ncols=_columns(courses), borderaxespad=0, handlelength=1.8
        )

    rows = -(-len(courses) // _columns(courses))
    return _drawn(draw, 2.1 + 0.17 * (rows - 1), label, 0.17 * (rows - 1))


def _columns(courses: Sequence[Course]) -> int:
    """As many titles beside each other as fit over a figure."""
    return max(1, min(3, int(64 // (6 + max(len(course.title) for course in courses)))))


def ratings(points: Sequence[tuple[date, dict[str, int]]], pain_stop: int, pain_lighten: int, words: Words) -> str:
    """The highest pain and effort that were answered in each session, 0 to 10, with the therapist's two levels."""

    def draw(axes: Any) -> None:
        places = range(len(points))
        thin, size = (1.2, 4.5) if len(points) < 60 else (0.7, 2.4)
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
                    where,
                    value,
                    style,
                    color=colour,
                    markerfacecolor=face,
                    linewidth=thin,
                    markersize=size,
                    label=words(f"figure.{what}"),
                )
        for level, word in ((pain_stop, words("figure.pain_stop")), (pain_lighten, words("figure.pain_easier"))):
            axes.axhline(level, color=INK, linewidth=0.8, linestyle=(0, (2, 3)))
            axes.annotate(word, (1.0, level), xycoords=("axes fraction", "data"), xytext=(4, 0),
                          textcoords="offset "
                              "points", va="center", fontsize=8.5, color=SOFT_INK, annotation_clip=False)  # fmt: skip
        axes.set_ylim(-0.4, 10.4)
        axes.set_yticks([0, 2, 4, 6, 8, 10])
        axes.set_xlim(-0.5, max(4, len(points)) - 0.5)
        _short_dates(axes, [day for day, _ in points], words)
        axes.set_ylabel(words("figure.scale"))
        axes.legend(loc="lower left", bbox_to_anchor=(0, 1.0), ncols=4, borderaxespad=0, handlelength=2.0)

    return _drawn(draw, 2.2, words("figure.ratings"))
