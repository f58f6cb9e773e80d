"""The reading sheet: one or two pages on paper for the session with players.

It is made from the record of an audit or a forecast (``audit.json``, ``forecast.json``), so
a result folder is enough to make one again for another length of session.
"""

from __future__ import annotations

import json
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from auditor.errors import InputError
from auditor.report.places import TIMES, listed
from auditor.report.session import plan_for
from auditor.report.templating import environment
from auditor.score.sections import body_of
from auditor.units import clock

RECORDS = ("audit.json", "forecast.json")
# Rows that fit on two pages.
MOST_ROWS = 12
# What anybody expects in an orchestra; the rest is worth ordering in time.
_USUAL = frozenset((
    "flute", "oboe", "clarinet", "bassoon", "horn", "trumpet", "trombone", "tuba", "timpani",
    "violin", "viola", "cello", "double-bass",
))  # fmt: skip
_FAMILIES = (
    ("woodwind", "Woodwind"), ("saxophone", "Saxophones"), ("brass", "Brass"),
    ("percussion", "Percussion"), ("plucked", "Harp and plucked"), ("keyboard", "Keyboards"),
    ("voice", "Voices"), ("strings", "Strings"), ("other", "Others"),
)  # fmt: skip
# What can be asked for without new parts.
_ON_THE_SPOT = ("softer", "louder", "both", "rest", "shorter")
_SURE = 0.7
# Reasons given for a line; the report has them all.
_REASONS = 2
# What is added to names of lines that are called alike, and of players on one staff.
_PART_NUMBER = re.compile(r" \((?:part )?\d+\)$")
# Lines to write on: more where there are fewer rows.
_RULES, _MOST_RULES = 2, 10
_UNHEARD = ("silent", "tempo", "dynamic", "works")


@dataclass(frozen=True, slots=True)
class Row:
    """One place to listen to.

    Parameters
    ----------
    rank
        1 for the most important.
    mark, bars, time
        Where it is.
    listen
        What to listen for, and why.
    under
        Who covers, most first.
    spot, parts
        What to try on the spot, and what needs new parts.
    planned
        True if the session has time for it.
    """

    rank: int
    mark: str
    bars: str
    time: str
    listen: str
    under: str
    spot: tuple[str, ...]
    parts: tuple[str, ...]
    planned: bool


def read_record(folder: Path) -> dict[str, Any]:
    """Record of a result folder.

    Raises
    ------
    InputError
        If it holds none, or one that cannot be read.
    """
    path = next((folder / name for name in RECORDS if (folder / name).is_file()), None)
    if path is None:
        raise InputError(f"{folder} holds no result ({' or '.join(RECORDS)}); audit it first")
    try:
        record = json.loads(path.read_text(encoding="utf-8"))
        record["score"]["played_bars"], record["findings"], record["sound"]["duration_s"]
    except (OSError, ValueError, KeyError, TypeError) as err:
        raise InputError(f"{path} is no record of a result; audit the case again") from err
    return dict(record)


def compose_sheet(record: Mapping[str, Any], *, minutes: float = 30.0) -> str:
    """Write the reading sheet.

    Parameters
    ----------
    record
        As `auditor.report.record.as_record` gives it, or read from a result folder.
    minutes
        Length of the session.

    Returns
    -------
    str
        HTML without scripts, ready to print on A4 or Letter.

    Raises
    ------
    InputError
        If there is no such session.
    """
    asks = [f for f in record["findings"] if f["kind"] not in _UNHEARD]
    # Where a rendering flatters nobody else would look: it has its row among the stops.
    asks += [f for f in _beside(record) if f["kind"] == "flattered"]
    chosen = sorted(asks, key=lambda f: -f["weight"])[:MOST_ROWS]
    duration = float(record["sound"]["duration_s"] or 0.0)
    plan = plan_for(minutes, duration, chosen)
    ranked = [*plan.stops, *plan.left]
    rows = [_row(record, chosen[k], n, k in plan.stops) for n, k in enumerate(ranked, start=1)]
    order = sorted(range(len(rows)), key=lambda n: (chosen[ranked[n]]["first_bar"], n))
    forecast = record["settings"]["source"] == "forecast"
    return (
        environment()
        .get_template("sheet.html.j2")
        .render(
            title=str(record["score"]["title"]).strip() or record["sound"]["name"],
            forecast=forecast,
            duration=clock(duration),
            bars=len(record["score"]["played_bars"]),
            minutes=f"{minutes:g}",
            players=_players(record["score"]["parts"]),
            total=f"{sum(p['players'] for p in _seated(record['score']['parts'])):.0f}",
            unusual=_unusual(record["score"]["parts"]),
            doublers=_doublers(record["score"]),
            rows=[rows[n] for n in order],
            plan=[rows[n] for n in range(len(plan.stops))],
            left=[rows[n] for n in range(len(plan.stops), len(rows))],
            through=plan.through,
            rules=min(_RULES + MOST_ROWS - len(rows), _MOST_RULES),
            more=len(asks) - len(chosen),
            room=_for_the_room(record, asks),
            leave=[f["sentence"] for f in record["findings"] if f["kind"] == "works"][:2],
            cautions=record["cautions"][:1],
        )
    )


def _beside(record: Mapping[str, Any]) -> Sequence[Mapping[str, Any]]:
    """Where rendering and forecast part; nothing without both."""
    beside: Sequence[Mapping[str, Any]] = (record.get("forecast") or {}).get("beside", ())
    return beside


def _row(record: Mapping[str, Any], f: Mapping[str, Any], rank: int, planned: bool) -> Row:
    names = record["score"]["line_names"]
    spot, parts = _ideas(f)
    return Row(
        rank=rank,
        mark=_after_mark(record["score"], f["first_bar"]),
        bars=_bars(record["score"]["played_bars"], f["first_bar"], f["last_bar"]),
        time=clock(f["start_s"] if f["start_s"] is not None else float("nan")),
        listen=_listen(f, listed([names[n - 1] for n in f["lines"]])),
        under=listed([names[c["line"] - 1] for c in f["covers"]]),
        spot=spot[:2],
        parts=parts[:1],
        planned=planned,
    )


def _listen(f: Mapping[str, Any], names: str) -> str:
    if f["kind"] == "flattered":
        return f"{names}: clear in the rendering, probably covered in a hall"
    if f["kind"] in ("covered", "faint"):
        why = "; ".join(str(f["why"]).split("; ")[:_REASONS])
        return f"{names}; {why}" if why else names
    said = str(f["sentence"]).partition(": ")[2] or str(f["sentence"])
    said = said.removeprefix("by the forecast, ")
    return said[:1].upper() + said[1:]


def _ideas(f: Mapping[str, Any]) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """What can be tried on the spot, and what needs new parts."""
    tried = f.get("tried") or ()
    if not tried:
        return tuple(f["remedies"]), ()
    spot = tuple(_change(t) for t in tried if t["kind"] in _ON_THE_SPOT)
    return spot, tuple(_change(t) for t in tried if t["kind"] not in _ON_THE_SPOT)


def _change(tried: Mapping[str, Any]) -> str:
    """A change in words, and whether it will do by itself."""
    words = str(tried["words"])
    return f"{words} (not enough by itself)" if tried.get("state") == "covered" else words


def _bars(bars: Sequence[Mapping[str, Any]], first: int, last: int) -> str:
    a, b = bars[first], bars[last]
    words = str(a["number"]) if first == last else f"{a['number']}–{b['number']}"
    if a["pass_number"] == 1:
        return words
    number = int(a["pass_number"])
    return f"{words}, {TIMES[number - 1] if number <= len(TIMES) else number} time"


def _after_mark(score: Mapping[str, Any], bar: int) -> str:
    """``C``, or ``4 after C``; empty before the first rehearsal mark."""
    marks = [m for m in score.get("rehearsal", ()) if m["bar"] <= bar]
    if not marks:
        return ""
    nearest = max(marks, key=lambda m: m["bar"])
    after = bar - int(nearest["bar"])
    return f"{after} after {nearest['text']}" if after else str(nearest["text"])


def _players(parts: Sequence[Mapping[str, Any]]) -> list[tuple[str, str]]:
    rows = []
    seated = _seated(parts)
    for key, name in _FAMILIES:
        own = [p for p in seated if p["instrument"]["family"] == key]
        if own:
            said = [_seat(p) for p in own]
            rows.append((name, ", ".join(said)))
    return rows


def _seated(parts: Sequence[Mapping[str, Any]]) -> list[Mapping[str, Any]]:
    """Parts with their own players: a section on several staves sits there once."""
    out: list[Mapping[str, Any]] = []
    bodies = set()
    for part in parts:
        instrument = part["instrument"]
        body = body_of(instrument["key"], str(part["name"]))
        if instrument["family"] == "strings" and part["players"] > 1:
            if body in bodies:
                continue
            bodies.add(body)
        out.append(part)
    return out


def _seat(part: Mapping[str, Any]) -> str:
    name = str(part["name"]).strip() or part["instrument"]["name"]
    return f"{name} ({part['players']:.3g})" if part["players"] > 1 else name


def _unusual(parts: Sequence[Mapping[str, Any]]) -> list[str]:
    keys = {p["instrument"]["key"]: p["instrument"]["name"] for p in parts}
    return [name for key, name in keys.items() if key not in _USUAL]


def _doublers(score: Mapping[str, Any]) -> list[str]:
    """Lines that a part's players take on a second instrument."""
    names = {str(p["name"]).strip() for p in score["parts"]}
    lines = [_PART_NUMBER.sub("", str(n).strip()) for n in score["line_names"]]
    return list(dict.fromkeys(n for n in lines if n not in names and n.endswith(")")))


def _for_the_room(record: Mapping[str, Any], asks: Sequence[Mapping[str, Any]]) -> list[str]:
    """Findings that neither a rendering nor a forecast can settle."""
    beside = {a["id"]: a["word"] for a in (record.get("forecast") or {}).get("agreement", ())}
    names = record["score"]["line_names"]
    out = []
    for f in asks:
        why = _unsettled(f, beside.get(f["id"], ""))
        if why:
            who = listed([names[n - 1] for n in f["lines"]])
            bars = _bars(record["score"]["played_bars"], f["first_bar"], f["last_bar"])
            out.append(f"{who}, bars {bars}: {why}")
    out += [str(f["sentence"]) for f in _beside(record) if f["kind"] == "wronged"]
    return out[:5]


def _unsettled(f: Mapping[str, Any], word: str) -> str:
    """Why figures cannot settle a finding; empty where they do."""
    if f["kind"] == "flattered" or word == "differs":
        return "rendering and forecast part"
    if word == "cannot tell":
        return "the forecast cannot tell whether it is so in a hall"
    unsure = f["confidence"] is not None and f["confidence"] < _SURE
    return "the figures are not sure" if unsure else ""
