"""What a session has time for: which passages to stop at, in order of importance."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from auditor.errors import InputError

# Getting settled and tuning; then each passage is played twice and talked about in between.
# Common practice, no source.
_SETTLING_S = 120.0
_PLAYS, _TALK_S = 2, 60.0
_LONGEST_MIN = 600.0


@dataclass(frozen=True, slots=True)
class Plan:
    """How the minutes go.

    Parameters
    ----------
    through
        True if there is time to play the whole once.
    stops
        Positions of the findings there is time for, most important first.
    left
        Positions of those there is no time for, likewise.
    spent_s
        What it comes to.
    """

    through: bool
    stops: tuple[int, ...]
    left: tuple[int, ...]
    spent_s: float


def check_minutes(minutes: float) -> None:
    """Refuse a session that cannot be.

    Raises
    ------
    InputError
        Outside 1 to 600 minutes.
    """
    if not 1.0 <= minutes <= _LONGEST_MIN:
        raise InputError(
            f"a session of {minutes:g} minutes; expected 1 to {_LONGEST_MIN:g} minutes"
        )


def plan_for(minutes: float, duration_s: float, findings: Sequence[Mapping[str, Any]]) -> Plan:
    """Plan a session.

    Parameters
    ----------
    minutes
        Its length.
    duration_s
        Of the whole piece.
    findings
        With ``weight``, ``start_s`` and ``end_s``.

    Raises
    ------
    InputError
        If there is no such session.
    """
    check_minutes(minutes)
    time = 60.0 * minutes - _SETTLING_S
    order = sorted(range(len(findings)), key=lambda k: (-float(findings[k]["weight"]), k))
    least = _cost(findings[order[0]]) if order else 0.0
    through = duration_s + least <= time
    spent = duration_s if through else 0.0
    stops: list[int] = []
    for k in order:
        cost = _cost(findings[k])
        if spent + cost <= time:
            stops.append(k)
            spent += cost
    left = tuple(k for k in order if k not in stops)
    return Plan(through, tuple(stops), left, spent + min(_SETTLING_S, 60.0 * minutes))


def _cost(finding: Mapping[str, Any]) -> float:
    start, end = finding.get("start_s"), finding.get("end_s")
    length = float(end) - float(start) if start is not None and end is not None else 10.0
    return _PLAYS * max(length, 5.0) + _TALK_S
