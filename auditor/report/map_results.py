"""The folder of an alignment alone: the map as CSV and JSON, and as a picture and table."""

from __future__ import annotations

import json
from collections.abc import Iterable
from html import escape
from pathlib import Path

import numpy as np

from auditor.alignment.timeline import Timeline
from auditor.report.map_picture import map_svg, outside_spans
from auditor.report.record import tool_version
from auditor.report.results import check_place, fill_folder
from auditor.report.tables import Row, Table, bar_times_table, rounded, to_csv
from auditor.score.notes import Score

MARK = "alignment.json"
FILES = (MARK, "alignment.csv", "bars.csv", "alignment.svg", "alignment.html")
SCHEMA_VERSION = 1
COLUMNS = ("bar", "pass", "beat", "onset_quarters", "onset_s", "confidence")

_PAGE = """<!doctype html>
<html lang="en"><head><meta charset="utf-8"><title>{title}</title><style>
body {{ font: 15px/1.5 sans-serif; max-width: 62rem; margin: 2rem auto; padding: 0 1rem }}
svg {{ max-width: 100%; height: auto }}
table {{ border-collapse: collapse }}
th, td {{ text-align: right; padding: .1rem .8rem; border-bottom: 1px solid #999 }}
th:last-child, td:last-child {{ text-align: left }}
</style></head><body>
<h1>{title}</h1>
{remarks}
{svg}
<table><caption>When each bar sounds, and how sure that is</caption>
<thead><tr>{head}</tr></thead>
<tbody>
{rows}
</tbody></table>
</body></html>
"""


def check_map_place(folder: Path, *, force: bool) -> None:
    """Refuse a place where the map cannot go, before any work is done."""
    check_place(folder, force=force, mark=MARK, what="an alignment")


def write_map(
    score: Score,
    timeline: Timeline,
    folder: Path,
    *,
    sound: str,
    duration_s: float,
    force: bool = False,
) -> None:
    """Write the map of a score and a sound, every file or none.

    Parameters
    ----------
    score, timeline
        As aligned.
    folder
        Where; made if it is missing.
    sound, duration_s
        Name and length of the sound.
    force
        Replace the map that `folder` holds. Files that are not ours stay.

    Raises
    ------
    InputError
        If `folder` cannot take it.
    """
    check_map_place(folder, force=force)
    title = f"{score.title or 'Score'}: bars against {sound}"
    svg = map_svg(score, timeline, duration_s, title)
    bars = bar_times_table(score, timeline)
    texts = {
        MARK: map_json(score, timeline, sound, duration_s),
        "alignment.csv": to_csv(onsets_table(score, timeline)),
        "bars.csv": to_csv(bars),
        "alignment.svg": svg,
        "alignment.html": _page(title, svg, bars, timeline.surprises),
    }

    def fill(fresh: Path) -> None:
        for name, text in texts.items():
            (fresh / name).write_text(text, encoding="utf-8", newline="\n")

    fill_folder(folder, fill, ours=FILES)


def onsets_table(score: Score, timeline: Timeline) -> Table:
    """One row for each place of the played axis where a note starts or a bar begins."""
    places = {bar.onset for bar in score.bars} | {n.onset for n in score.notes if not n.grace}
    edges = np.array([bar.onset for bar in score.bars])
    rows: list[Row] = []
    quarters = np.array(sorted(places))
    for place, at in zip(quarters, timeline.seconds(quarters), strict=True):
        bar = score.bars[int(np.searchsorted(edges, place + 1e-6, side="right")) - 1]
        sure = timeline.bars[bar.index].confidence
        beat = round(float(place) - bar.onset + 1.0, 6)
        rows.append(
            (bar.number, bar.pass_number, beat, round(float(place), 6),
             rounded(float(at), 4), round(float(sure), 3))
        )  # fmt: skip
    return Table("alignment", COLUMNS, tuple(rows))


def map_json(score: Score, timeline: Timeline, sound: str, duration_s: float) -> str:
    """Write the map as one JSON object; knots of every stretch, so nothing is lost."""
    record = {
        "schema_version": SCHEMA_VERSION,
        "tool": f"auditor {tool_version()}",
        "score": score.title,
        "sound": sound,
        "duration_s": round(duration_s, 4),
        "units": {
            "quarters": "quarter notes from the first barline, repeats written out",
            "seconds": "from the beginning of the sound",
            "confidence": "0 to 1: that the onsets of the bar lie within 150 ms",
        },
        "fit": {name: round(value, 4) for name, value in timeline.fit},
        "surprises": list(timeline.surprises),
        "outside_s": [
            [round(a, 3), round(b, 3)] for a, b in outside_spans(timeline, duration_s)
        ],
        "order": [score.bars[k].number for k in timeline.order],
        "stretches": [
            {
                "quarters": [round(float(q), 6) for q in run.quarters],
                "seconds": [round(float(s), 4) for s in run.seconds],
            }
            for run in timeline.stretches
        ],
        "bars": [
            {
                "bar": score.bars[time.bar].number,
                "pass": score.bars[time.bar].pass_number,
                "start_s": rounded(float(time.start_s), 4),
                "end_s": rounded(float(time.end_s), 4),
                "confidence": round(float(time.confidence), 3),
                "reason": time.reason,
            }
            for time in timeline.bars
        ],
    }
    return json.dumps(record, indent=1, ensure_ascii=False, allow_nan=False) + "\n"


def _page(title: str, svg: str, bars: Table, surprises: Iterable[str]) -> str:
    rows = [
        "<tr>" + "".join(f"<td>{_told(value)}</td>" for value in row) + "</tr>"
        for row in bars.rows
    ]
    remarks = "".join(f"<p>{escape(text[:1].upper() + text[1:])}.</p>" for text in surprises)
    head = "".join(f"<th>{escape(name)}</th>" for name in bars.columns)
    return _PAGE.format(
        title=escape(title), remarks=remarks, svg=svg, head=head, rows="\n".join(rows)
    )


def _told(value: object) -> str:
    if value is None:
        return "–"
    return f"{value:.2f}" if isinstance(value, float) else escape(str(value))
