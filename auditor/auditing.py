"""The audit of a case: every stage once, in order; knows no output."""

from __future__ import annotations

import hashlib
import logging
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from auditor.alignment.aligning import timeline_of
from auditor.alignment.timeline import Timeline
from auditor.case import AUDIO_SUFFIXES, Case
from auditor.craft.checking import remarks_on
from auditor.craft.limits import CraftLimits, limits_beside, read_limits
from auditor.craft.remark import Remark
from auditor.findings.finding import CAUTION, Finding
from auditor.hearing.audibility import listen
from auditor.hearing.measures import Heard, Limits, NoteWindows
from auditor.hearing.placed import windows_of
from auditor.hearing.salience import pitch_salience
from auditor.intent.brief import read_brief
from auditor.intent.groups import groups_of
from auditor.intent.reliance import read_intent
from auditor.intent.roles import Intent
from auditor.judging.certainty import better_known
from auditor.judging.conformity import unverified_sentence
from auditor.judging.foretold import Forecast, foretell
from auditor.judging.judge import judge
from auditor.judging.live import Beside, set_beside
from auditor.judging.remedy import heard_again
from auditor.judging.scene import scene
from auditor.score.notes import Score
from auditor.score.reading import read_score
from auditor.score.string_bodies import READ_WITH, players_given, with_body
from auditor.sound import features
from auditor.sound.level import PLAYBACK_DB, calibration_db, integrated_lufs
from auditor.sound.reading import Sound
from auditor.sound.spectrum import POOL_HZ, RATE_HZ, frame_times, pooled_power
from auditor.spectra.forecast import ROOM_GAIN_DB
from auditor.spectra.line_spectra import LineSpectra
from auditor.spectra.playing import line_timbres, note_times, played_notes
from auditor.spectra.retiming import settled
from auditor.spectra.separating import Templates, open_sounds, separate
from auditor.spectra.stem_checks import stem_suspicions
from auditor.spectra.suspicions import Suspicions, suspicions
from auditor.timbre.library import Library
from auditor.timbre.templates import SOURCES

_log = logging.getLogger(__name__)

CAUTIONS = (
    CAUTION,
    "The limits between clear, faint and covered are those of a model of hearing, not of a "
    "listening test; numbers near a limit can fall either way.",
    "The playback level is an assumption of the model. Keep your own monitoring at a "
    "comfortable level and take breaks.",
)


@dataclass(frozen=True, slots=True)
class Sounding:
    """What is said about the sound at the head of a report.

    Parameters
    ----------
    name
        File name.
    duration_s, rate_hz, channels
        As in the file.
    loudness_lufs
        Integrated loudness after ITU-R BS.1770.
    playback_db
        Assumed level of the music at the listener, dB SPL.
    remarks
        One sentence for each thing noticed: clipping, DC, truncation ...
    """

    name: str
    duration_s: float
    rate_hz: int
    channels: int
    loudness_lufs: float
    playback_db: float
    remarks: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Audit:
    """The frozen whole of one audit.

    Parameters
    ----------
    score, sounding, timeline, windows, intent, heard, limits
        What each stage found.
    findings
        Heaviest first.
    cautions
        Said with every result.
    samples : ndarray, shape (samples,), float32
        The mix in mono at 44.1 kHz, for clips.
    hashes
        SHA-256 of each input file, by name.
    source
        ``mix`` or ``stems``.
    spectra
        Power per line, for pictures and for hearing lines apart; None where it was not kept.
    stems
        Sound file of each line, in their order, None for a line without one; empty without
        stems, and where they do not add up to the mix.
    craft
        Remarks on the page itself, in the order of the music.
    forecast
        What the page alone lets one expect in a hall, on the sound's own timeline; None where
        it was not asked for.
    beside
        What the sound and the forecast say together.
    """

    score: Score
    sounding: Sounding
    timeline: Timeline
    windows: NoteWindows
    intent: Intent
    heard: Heard
    limits: Limits
    findings: tuple[Finding, ...]
    cautions: tuple[str, ...]
    samples: NDArray[np.float32]
    hashes: tuple[tuple[str, str], ...]
    source: str = "mix"
    spectra: LineSpectra | None = None
    stems: tuple[Path | None, ...] = ()
    craft: tuple[Remark, ...] = ()
    forecast: Forecast | None = None
    beside: Beside | None = None


def audit(
    case: Case,
    score: Score | None = None,
    *,
    playback_db: float = PLAYBACK_DB,
    limits: Limits | None = None,
    sources: Sequence[str] = SOURCES,
    library: Library | None = None,
    body: str = READ_WITH,
    room_gain_db: float | None = ROOM_GAIN_DB,
    told: Callable[[str], None] = _log.info,
) -> Audit:
    """Read, align, decompose, hear and judge a case.

    Parameters
    ----------
    case
        What to work on.
    score
        The case's score if it has been read already.
    playback_db
        Assumed level of the music at the listener, dB SPL.
    limits
        Where the states part.
    sources
        Timbre template sources to draw on.
    library
        The user's own templates, which come before those of `sources`.
    body
        Strings that will sit there: ``full``, ``medium`` or ``small``; players given in
        `score.toml` stay. They change the forecast and what the result says of the players,
        not what is heard in the sound.
    room_gain_db
        Strength G of the hall that is forecast beside the sound; None for no forecast.
    told
        Called with the name of each stage as it begins.

    Raises
    ------
    ScoreError, AudioError, InputError
        If a file cannot be used.
    AlignmentError
        If the sound does not follow the score.
    """
    limits = limits or Limits()
    if score is None:
        told("reading the score")
        score = read_score(case.score)
    seated = with_body(score, body, players_given(case.score, score))
    brief = None if case.brief is None else read_brief(case.brief, score)
    thresholds = limits_beside(case.score)
    craft = CraftLimits() if thresholds is None else read_limits(thresholds)
    told("reading the sound")
    sounds = open_sounds(case, score)
    mix = sounds.mix
    gain_db = calibration_db(mix.samples, RATE_HZ, playback_db=playback_db)
    told("finding the score in the sound")
    heard_features = features.listen(mix.samples)
    timeline = timeline_of(score, heard_features)
    onset_s, offset_s = settled(mix.samples, score, *note_times(score, timeline))
    told("separating the lines")
    templates = Templates(sources, library, dict(timeline.fit)["tuning_semitones"])
    tried: list[Suspicions] = []
    spectra, said = separate(
        sounds, score, onset_s, offset_s, gain_db, templates,
        watch=lambda found: tried.append(suspicions(found)),
    )  # fmt: skip
    suspected = tried[0] if tried else None
    if sounds.desk is not None:
        told("checking the stems")
        learned = () if library is None else library.voices
        played = played_notes(score, onset_s, offset_s, learned)
        timbres = line_timbres(score)
        suspected = stem_suspicions(
            sounds.desk, mix.samples, played, timbres, gain_db, templates
        )
    told("listening")
    windows = windows_of(score, onset_s, offset_s)
    intent = read_intent(score, brief)
    # The forecast hears no sound: it is made while the sound is heard and judged.
    with ThreadPoolExecutor(1) as second:
        foretold = second.submit(_foretold, seated, intent, timeline, limits, room_gain_db)
        heard = _heard(score, intent, mix, spectra, windows, limits)
        told("judging")
        s = scene(score, timeline, windows, intent, heard, limits)
        told("trying remedies")
        findings = heard_again(
            s, spectra, judge(score, timeline, windows, intent, heard, limits, suspected)
        )
        if room_gain_db is not None:
            told("forecasting a hall")
        forecast = foretold.result()
    beside = None if forecast is None else set_beside(s, forecast, findings)
    return Audit(
        score=seated,
        sounding=_sounding(mix, playback_db, said),
        timeline=timeline,
        windows=windows,
        intent=intent,
        heard=heard,
        limits=limits,
        findings=findings,
        cautions=(
            *_cautions(score, intent, heard, spectra, library),
            *filter(None, [unverified_sentence(score, tried[0] if tried else None)]),
        ),
        samples=mix.samples,
        hashes=_hashes(case, library),
        source=spectra.source,
        spectra=spectra,
        stems=sounds.files(len(score.lines)),
        craft=remarks_on(score, craft),
        forecast=forecast,
        beside=beside,
    )


def _foretold(
    score: Score,
    intent: Intent,
    timeline: Timeline,
    limits: Limits,
    room_gain_db: float | None,
) -> Forecast | None:
    if room_gain_db is None:
        return None
    forecast = foretell(
        score, intent, timeline, limits, room_gain_db=room_gain_db, remedies=False
    )
    return replace(forecast, spectra=None)  # as large as those of the sound


def _heard(
    score: Score,
    intent: Intent,
    mix: Sound,
    spectra: LineSpectra,
    windows: NoteWindows,
    limits: Limits,
) -> Heard:
    power = pooled_power(mix.samples)
    salience = pitch_salience(power, POOL_HZ, frame_times(len(power)), windows)
    return listen(spectra, windows, groups_of(intent, score), limits, salience=salience)


def _cautions(
    score: Score, intent: Intent, heard: Heard, spectra: LineSpectra, library: Library | None
) -> tuple[str, ...]:
    if spectra.source == "stems":
        return CAUTIONS
    exact = np.flatnonzero((spectra.confidence == 1.0).all(axis=1))
    more = better_known(score, intent, heard, learned=library is not None, exact=exact.tolist())
    return (*CAUTIONS, more) if more else CAUTIONS


def _sounding(mix: Sound, playback_db: float, said: tuple[str, ...]) -> Sounding:
    return Sounding(
        name=mix.name,
        duration_s=mix.duration_s,
        rate_hz=mix.rate_hz,
        channels=mix.channels,
        loudness_lufs=integrated_lufs(mix.samples, RATE_HZ),
        playback_db=playback_db,
        remarks=(*mix.remarks, *said),
    )


def _hashes(case: Case, library: Library | None) -> tuple[tuple[str, str], ...]:
    named = (case.score, case.mix, case.brief, limits_beside(case.score))
    paths = [p for p in named if p is not None]
    if case.stems is not None:
        paths += sorted(p for p in case.stems.iterdir() if p.suffix.lower() in AUDIO_SUFFIXES)
    found = tuple((p.name, hashlib.sha256(p.read_bytes()).hexdigest()) for p in paths)
    if library is None:
        return found
    return (*found, (f"library {library.name}", library.digest))
