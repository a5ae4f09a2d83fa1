"""A leaflet to take home: pads, five steps to begin, the plan by day, the clinic's words, cautions, whom to call.

One HTML page that holds all it needs and prints on A4 and Letter. Names are for a pen: it has lines to fill by hand.
"""

from __future__ import annotations

from collections.abc import Sequence
from html import escape

from musclewood.games.kit.paper import art_text
from musclewood.games.kit.words import Words
from musclewood.games.screens.base.bodies import Site, lay_place, site_of
from musclewood.profiles.orders.daily_dose import daily_dose
from musclewood.profiles.orders.prescription import Prescription
from musclewood.profiles.orders.tables import DAYS, Muscle

STEPS = ("pads", "start", "quiet", "squeeze", "play")
# Narrow enough for Letter (216 x 279 mm) and short enough for it; A4 has room to spare.
STYLE = """
@page { margin: 12mm }
body { font: 12.5pt/1.35 "Atkinson Hyperlegible", Verdana,
sans-serif; color: #1E1D38; background: #FFF; max-width: 186mm;
  margin: 6mm auto }
h1 { font-size: 20pt; margin: 0 0 3mm } h2 { font-size: 14pt; margin: 4mm 0 1.5mm }
.pads { display: flex; gap: 6mm } .pads svg { height: 48mm; width: auto; flex: none }
ol, ul { margin: 0; padding-left: 7mm } li { margin: 0.6mm 0 }
table { border-collapse: collapse; width: 100% } td,
th { border: 1px solid #1E1D38; padding: 1.5mm 2mm; text-align: center }
.words { font-weight: bold; word-spacing: 2mm; border: 2px solid #1E1D38; padding: 2mm 3mm; margin: 0 }
.line { border-bottom: 1px solid #1E1D38; height: 9mm }
section { break-inside: avoid } .beside { display: grid; grid-template-columns: 1fr 1fr; gap: 0 10mm }
@media print { body { margin: 0 auto } }
"""


def leaflet(order: Prescription, clinic_words: Sequence[str]) -> str:
    """The page in the order's language; `clinic_words` are the ten words that the patient compares."""
    words = Words(order.language[:2])
    parts = [
        f"<h1>{escape(words('leaflet.title', code=order.patient))}</h1>",
        _section(words("leaflet.pads"), _pads(order.muscles, words)),
        _beside(
            _section(words("leaflet.begin"), _list("ol", [words(f"leaflet.step-{step}") for step in STEPS])),
            _section(words("cautions.title"), _list("ul", _cautions(order, words))),
        ),
        _section(words("leaflet.plan"), _plan(order, words)),
        _beside(
            _section(words("leaflet.call"), '<div class="line"></div><div class="line"></div>'),
            _section(words("leaflet.words"), f'<p class="words">{escape(" ".join(clinic_words))}</p>')
            if clinic_words
            else "",
        ),
    ]
    head = f'<meta charset="utf-8"><title>{escape(order.patient)}</title><style>{STYLE}</style>'
    return (
        "<!doctype html><html "
        f'lang="{escape(words.language)}"><head>{head}</head><body>{"".join(parts)}</body></html>\n'
    )


def _section(title: str, inside: str) -> str:
    return f"<section><h2>{escape(title)}</h2>{inside}</section>"


def _beside(*sections: str) -> str:
    """Side by side, so that all of it stays on one page."""
    return f'<div class="beside">{"".join(sections)}</div>'


def _list(kind: str, lines: Sequence[str]) -> str:
    return f"<{kind}>{''.join(f'<li>{escape(line)}</li>' for line in lines)}</{kind}>"


def _pads(muscles: Sequence[Muscle], words: Words) -> str:
    """The body once for each view that is needed, with a dot a muscle, and each place in words."""
    sites = [(muscle, site_of(muscle.name, muscle.side)) for muscle in muscles]
    views = dict.fromkeys(site.view for _, site in sites if site is not None)
    drawn = "".join(
        _body(view, [site for _, site in sites if site is not None and site.view == view]) for view in views
    )
    told = [
        f"{muscle.name}, {words(f'pads.side-{muscle.side}')}: "
        f"{lay_place(muscle.placement, words.language) or muscle.placement}"
        for muscle in muscles
    ]
    return f'<div class="pads">{drawn}{_list("ul", [*told, words("pads.clean")])}</div>'


def _body(view: str, sites: Sequence[Site]) -> str:
    dots = "".join(
        f'<circle cx="{site.at[0]:.1f}" cy="{site.at[1]:.1f}" r="9" fill="#FFD27A" stroke="#1E1D38" stroke-width="4"/>'
        for site in sites
    )
    return art_text(f"body/{view}.svg", "dawn").replace("</svg>", f"{dots}</svg>")


def _plan(order: Prescription, words: Words) -> str:
    """A column a day: sessions, or rest."""
    reps, minutes = daily_dose(order)
    heads = "".join(f"<th>{escape(words(f'desk.day.{day}'))}</th>" for day in DAYS)
    cells = "".join(f"<td>{f'{order.sessions_per_day} ×' if day in order.days else '–'}</td>" for day in DAYS)
    told = words("leaflet.day", reps=reps, minutes=max(1, round(minutes)))
    return f"<table><tr>{heads}</tr><tr>{cells}</tr></table><p>{escape(told)}</p>"


def _cautions(order: Prescription, words: Words) -> list[str]:
    """As at every start at home, with the level of pain that this order ends at."""
    known = ("stop", "tell", "implant", "guided", "follow", "law", "not-device")
    return [words("leaflet.pain", level=order.stop.pain_stop), *(words(f"cautions.{one}") for one in known)]
