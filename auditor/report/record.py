"""The whole audit as one JSON record, ``audit.json``: nothing rounded away that matters."""

from __future__ import annotations

import dataclasses
import json
import math
import os
from datetime import UTC, datetime
from importlib import metadata

import numpy as np

from auditor.auditing import Audit
from auditor.findings.finding import Finding
from auditor.hearing.measures import REGISTER_EDGES_HZ, REGISTERS, STATES
from auditor.report.craft_list import craft_record
from auditor.report.tables import (
    all_tables,
    evidence_table,
    measured_rows,
    parts_of,
    rounded,
)

SCHEMA_VERSION = 1

_UNITS = {
    "quarters": "quarter notes from the first barline, repeats in the order played",
    "s": "seconds from the start of the sound file",
    "db": "dB; level_db is dB SPL at the assumed playback level",
    "sone": "loudness",
    "pitch": "sounding MIDI number, 60 is middle C",
    "ratio": "0 to 1",
}


def tool_version() -> str:
    """Version of the installed package; ``unknown`` when it runs from bare files."""
    try:
        return metadata.version("auditor")
    except metadata.PackageNotFoundError:
        return "unknown"


def made_at() -> str | None:
    """Date for the record, only if SOURCE_DATE_EPOCH asks for one: no clock otherwise."""
    epoch = os.environ.get("SOURCE_DATE_EPOCH", "")
    if not epoch.isdigit():
        return None
    return datetime.fromtimestamp(int(epoch), UTC).isoformat()


def _plain(value: object) -> object:
    """Record, array or number as JSON has it; None for what is not a finite number."""
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        return {f.name: _plain(getattr(value, f.name)) for f in dataclasses.fields(value)}
    if isinstance(value, np.ndarray | np.generic):
        return _plain(value.tolist())
    if isinstance(value, tuple | list):
        return [_plain(v) for v in value]
    if isinstance(value, dict):
        return {str(k): _plain(v) for k, v in value.items()}
    if isinstance(value, float):
        return rounded(value, 6) if math.isfinite(value) else None
    return value


def _finding(audit: Audit, finding: Finding) -> dict[str, object]:
    bars = audit.score.bars
    covers = [
        {"line": c.line, "part": parts_of(audit, (c.line,))[0], "share": rounded(c.share, 4)}
        for c in finding.covers
    ]
    printed = {
        "bar_first": bars[finding.first_bar].number,
        "bar_last": bars[finding.last_bar].number,
        "pass": bars[finding.first_bar].pass_number,
    }
    whole = _plain(finding)
    assert isinstance(whole, dict)
    return whole | printed | {"covers": covers}


def as_record(audit: Audit) -> dict[str, object]:
    """Audit as plain dictionaries, lists, texts and numbers, ready for JSON.

    Returns
    -------
    dict
        Tables (notes, lines, strands, bars) are ``{"columns": [...], "rows": [...]}`` with
        the columns of the CSV files; `notes_more`, such a table too, and `lines_more` and
        `strands_more`, row by row, hold what has no column. Bar indices run from 0 on the
        played axis.
    """
    tables = {
        table.name: {"columns": list(table.columns), "rows": [list(r) for r in table.rows]}
        for table in all_tables(audit)
        if table.name != "findings"
    }
    record: dict[str, object] = {
        "schema_version": SCHEMA_VERSION,
        "tool": {"name": "auditor", "version": tool_version()},
        "made_at": made_at(),
        "inputs": [{"name": n, "sha256": h} for n, h in sorted(audit.hashes)],
        "settings": {
            "source": audit.source,
            "playback_db_spl": rounded(audit.sounding.playback_db, 2),
            "limits_distinct_ratio": _plain(audit.limits),
        },
        "units": _UNITS,
        "states": list(STATES),
        "registers": {"names": list(REGISTERS), "edges_hz": list(REGISTER_EDGES_HZ)},
        "sound": _plain(audit.sounding),
        "score": {
            "title": audit.score.title,
            "written_bars": audit.score.written_bars,
            "parts": _plain(audit.score.parts),
            "line_names": [line.name for line in audit.score.lines],
            "played_bars": _plain(audit.score.bars),
            "remarks": list(audit.score.remarks),
            "rehearsal": [
                {"bar": d.bar, "text": d.text}
                for d in audit.score.directions
                if d.kind == "rehearsal"
            ],
        },
        "forecast": _forecast(audit),
        "timeline": {
            "stretches": _plain(audit.timeline.stretches),
            "order": list(audit.timeline.order),
            "surprises": list(audit.timeline.surprises),
            "fit": _plain(dict(audit.timeline.fit)),
        },
        "intent": {
            "strands": _plain(audit.intent.strands),
            "doublings": _plain(audit.intent.doublings),
            "role": _plain(audit.intent.role),
            "reliance": _plain(audit.intent.reliance),
            "reasons": [
                {"line": line, "first_bar": first, "last_bar": last, "words": words}
                for (line, first, last), words in audit.intent.reasons
            ],
        },
        "notes_more": evidence_table(audit),
        "lines_more": measured_rows(audit.heard.lines),
        "strands_more": measured_rows(audit.heard.groups),
        "findings": [_finding(audit, f) for f in audit.findings],
        "craft": craft_record(audit.score, audit.craft)["remarks"],
        "cautions": list(audit.cautions),
    }
    return record | tables


def _forecast(audit: Audit) -> dict[str, object] | None:
    """What the page alone lets one expect beside this sound; None where it was not asked."""
    forecast, beside = audit.forecast, audit.beside
    if forecast is None or beside is None:
        return None
    heard = forecast.heard
    return {
        "room_gain_db": forecast.room_gain_db,
        "remarks": list(forecast.remarks),
        "lines": [
            {"line": line.number, "state": state, "confidence": rounded(float(sure), 3)}
            for line, state, sure in zip(
                audit.score.lines, heard.line_state, heard.line_confidence, strict=True
            )
        ],
        "findings": [_finding(audit, f) for f in forecast.findings],
        "beside": [_finding(audit, f) for f in beside.findings],
        "agreement": [
            {"id": name, "word": word, "chance_covered": rounded(chance, 3)}
            for name, word, chance in beside.agreement
        ],
    }


def to_json(audit: Audit) -> str:
    """Audit as JSON text: sorted keys, one top-level key a line, never NaN."""
    record = as_record(audit)
    lines = (
        f"{json.dumps(key)}: "
        + json.dumps(record[key], sort_keys=True, ensure_ascii=False, allow_nan=False)
        for key in sorted(record)
    )
    return "{\n" + ",\n".join(lines) + "\n}\n"
