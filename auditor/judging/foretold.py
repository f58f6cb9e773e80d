"""What a hall would hear, as far as published powers go, and how sure that is.

The spectra of `auditor.spectra.forecast` are heard once as they stand, and again with the
lines' levels drawn within their spread: what instruments of one kind share moves together,
what one player does moves alone. Draws come in pairs of opposite sign, and on every third
frame only; what counts is how far the figures move.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

from auditor.alignment.timeline import Timeline
from auditor.alignment.written import UNMARKED, written_tempo
from auditor.findings.finding import Finding
from auditor.hearing.audibility import listen
from auditor.hearing.drawn import ratios_when_moved
from auditor.hearing.measures import Group, Heard, Limits, NoteWindows
from auditor.hearing.placed import windows_of
from auditor.intent.groups import groups_of
from auditor.intent.roles import Intent
from auditor.judging.judge import judge
from auditor.judging.remedy import heard_again
from auditor.judging.scene import scene
from auditor.score.notes import Score
from auditor.score.sections import body_of
from auditor.spectra.forecast import ROOM_GAIN_DB, forecast_spectra, line_sd_db
from auditor.spectra.line_spectra import LineSpectra
from auditor.spectra.playing import note_times
from auditor.timbre.power import figure_of

FORECAST_CAUTION = (
    "A forecast from the page alone: published powers of single players, a stated hall and "
    "written marks, with no sound heard. Each line's level is uncertain by several dB; "
    "seats, players and the hall's own ringing are left out. Only players in a room decide."
)
# The model of hearing itself is no surer than this, however far a line is from a limit.
MOST_SURE = 0.95
# Surer than this of heard against covered, or no state is given; a finding asks for more.
SURE, FOUND = 0.6, 0.7
# Kinds of finding that are about a rendering, which a forecast has not.
_OF_RENDERINGS = ("silent", "dynamic", "tempo", "climax")
_STRIDE = 3
_PAIRS = 3
# A ratio's spread is never less; ratios this small are all alike.
_LEAST_SD, _NOTHING = 0.05, 1e-4

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Forecast:
    """What the page alone lets one expect.

    Parameters
    ----------
    spectra
        Power per line; None where it was not kept.
    windows, timeline, heard
        As of a sound; confidences are those of the spread.
    spread : ndarray, shape (notes,)
        Standard deviation of the common logarithm of each note's distinct ratio.
    chance : ndarray, shape (notes, 3)
        Probability of covered, faint, clear; NaN where nothing was judged.
    findings
        Judged from the forecast, heaviest first.
    room_gain_db
        Strength G of the hall.
    remarks
        What was assumed, a sentence each.
    """

    spectra: LineSpectra | None
    windows: NoteWindows
    timeline: Timeline
    heard: Heard
    spread: Floats
    chance: Floats
    findings: tuple[Finding, ...]
    room_gain_db: float
    remarks: tuple[str, ...]


def foretell(
    score: Score,
    intent: Intent,
    timeline: Timeline,
    limits: Limits,
    *,
    room_gain_db: float = ROOM_GAIN_DB,
    remedies: bool = True,
    seed: int = 1,
) -> Forecast:
    """Forecast a score in a hall and judge it.

    Parameters
    ----------
    score, intent
        The page and what it leans on.
    timeline
        From the tempo marks, or from a mix it is set beside.
    limits
        Where the states part.
    room_gain_db
        Strength G of the hall.
    remedies
        Whether changes are heard again for its findings; beside a sound they are for the
        sound's.
    seed
        Of the draws; the same seed gives the same forecast.

    Raises
    ------
    InputError
        If the room gain is no hall's.
    """
    onset_s, offset_s = note_times(score, timeline)
    spectra = forecast_spectra(score, onset_s, offset_s, room_gain_db=room_gain_db)
    windows = windows_of(score, onset_s, offset_s)
    groups = groups_of(intent, score)
    nominal = listen(spectra, windows, groups, limits)
    spread = _spread(score, spectra, windows, groups, np.random.default_rng(seed))
    heard = _sure(nominal, spread, limits)
    found = [f for f in judge(score, timeline, windows, intent, heard, limits) if _holds(f)]
    if remedies:
        s = scene(score, timeline, windows, intent, heard, limits)
        found = list(heard_again(s, spectra, found))
    return Forecast(
        spectra=spectra,
        windows=windows,
        timeline=timeline,
        heard=heard,
        spread=spread[0],
        chance=chances(nominal.notes.distinct_ratio, spread[0], limits),
        findings=tuple(_told(f) for f in found),
        room_gain_db=room_gain_db,
        remarks=assumptions(score, room_gain_db),
    )


def _spread(
    score: Score,
    spectra: LineSpectra,
    windows: NoteWindows,
    groups: Sequence[Group],
    rng: np.random.Generator,
) -> tuple[Floats, Floats, Floats]:
    """Standard deviations of log ratios of notes, lines and groups over the draws."""
    figure, players = line_sd_db(score)
    keys = [figure_of(line.instrument.key).key for line in score.lines]
    names = sorted(set(keys))
    kind = np.array([names.index(key) for key in keys], dtype=np.int64)
    by_db = np.zeros((2 * _PAIRS, len(keys)))
    for pair in range(_PAIRS):
        shared, own = rng.normal(size=len(names)), rng.normal(size=len(keys))
        moved = figure * shared[kind] + players * own if keys else np.zeros(0)
        by_db[2 * pair : 2 * pair + 2] = moved, -moved
    drawn = ratios_when_moved(spectra, windows, groups, by_db, stride=_STRIDE)
    return _sd(drawn.notes), _sd(drawn.lines), _sd(drawn.groups)


def _sd(ratio: Floats) -> Floats:
    """Spread of the common logarithm; a pair's half difference is free of what both share."""
    log = np.log10(np.maximum(ratio, 0.0) + _NOTHING)
    half = (log[0::2] - log[1::2]) / 2
    out: Floats = np.maximum(np.sqrt((half**2).mean(axis=0)), _LEAST_SD)
    return out


def chances(ratio: Floats, sd: Floats, limits: Limits) -> Floats:
    """Probability of covered, faint and clear, shape (n, 3).

    Parameters
    ----------
    ratio : ndarray, shape (n,)
        Distinct ratios.
    sd : ndarray, shape (n,)
        Standard deviations of their common logarithms.
    """
    log = np.log10(np.maximum(ratio, 0.0) + _NOTHING)
    heard = ndtr((log - np.log10(limits.covered)) / sd)
    clear = ndtr((log - np.log10(limits.clear)) / sd)
    out: Floats = np.stack([1.0 - heard, heard - clear, clear], axis=-1)
    return out


def _sure(heard: Heard, spread: tuple[Floats, Floats, Floats], limits: Limits) -> Heard:
    """Heard with the confidences of the spread, and no state where they are low."""
    states, sure = [], []
    for measures, words, sd in (
        (heard.notes, heard.note_state, spread[0]),
        (heard.lines, heard.line_state, spread[1]),
        (heard.groups, heard.group_state, spread[2]),
    ):
        covered = chances(measures.distinct_ratio, sd, limits)[:, 0]
        best = np.minimum(np.nan_to_num(np.maximum(covered, 1.0 - covered)), MOST_SURE)
        sure.append(best)
        states.append(
            tuple(
                "undecided" if w in ("covered", "faint", "clear") and p < SURE else w
                for w, p in zip(words, best, strict=True)
            )
        )
    return replace(
        heard,
        note_state=states[0], line_state=states[1], group_state=states[2],
        note_confidence=sure[0], line_confidence=sure[1], group_confidence=sure[2],
    )  # fmt: skip


def _holds(finding: Finding) -> bool:
    return finding.kind not in _OF_RENDERINGS and finding.confidence >= FOUND


def _told(finding: Finding) -> Finding:
    """A finding said as a forecast."""
    place, between, rest = finding.sentence.partition(": ")
    said = f"{place}: by the forecast, {rest}" if between else f"By the forecast: {place}"
    return replace(
        finding,
        sentence=said,
        caution=FORECAST_CAUTION,
    )


def assumptions(score: Score, room_gain_db: float) -> tuple[str, ...]:
    """What a forecast of a score rests on, a sentence each."""
    out = [
        f"The hall is given a strength G of {room_gain_db:g} dB; level at the listener is "
        f"sound power plus G minus 31 dB."
    ]
    strings = [p for p in score.parts if p.instrument.family == "strings" and p.players > 1]
    if strings:
        bodies = {body_of(p.instrument.key, p.name): p for p in reversed(strings)}
        said = ", ".join(
            f"{p.name.strip() or p.instrument.name} {p.players:g}"
            for p in reversed(bodies.values())
        )
        out.append(f"Players assumed in the strings: {said}.")
    if written_tempo(score)[1]:
        out.append(
            f"Where the page gives no number for the tempo, one was taken from its words, or "
            f"{UNMARKED:g} quarters a minute."
        )
    if any(not n.dynamic_written for n in score.notes):
        out.append("Where the page gives no dynamic, mf was assumed.")
    return (*out, *_known_to(score), *_borrowed(score))


def _known_to(score: Score) -> list[str]:
    """Say within what the levels are known."""
    if not score.lines:
        return []
    sd = np.hypot(*line_sd_db(score))
    low, high = round(float(sd.min())), round(float(sd.max()))
    span = f"{low} dB" if low == high else f"{low} dB (published power, loud) to {high} dB"
    return [
        f"Each line's level is taken as known to {span}, one standard deviation; a state is "
        f"given only where it holds within that."
    ]


def _borrowed(score: Score) -> list[str]:
    """Say whose figure stands for instruments that have none."""
    out: dict[str, str] = {}
    for line in score.lines:
        instrument, figure = line.instrument, figure_of(line.instrument.key)
        if figure.source == "guessed":
            out[instrument.key] = (
                f"{instrument.name}: no measured power was at hand; a figure by kinship, from "
                f"memory, stands for it, give or take {figure.sd_db:g} dB."
            )
        elif figure.source == "relative":
            name = figure.key.replace("-", " ")
            out[instrument.key] = (
                f"{instrument.name}: no published power; that of the {name} stands for it, "
                f"give or take {figure.sd_db:g} dB."
            )
        elif figure.source == "family":
            out[instrument.key] = (
                f"{instrument.name}: no published power; what is usual in its family "
                f"stands for it, give or take {figure.sd_db:g} dB."
            )
    return list(out.values())
