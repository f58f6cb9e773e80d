"""The audit of a case: every stage once, in order; knows no output."""

from __future__ import annotations

import hashlib
import logging
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from auditor.alignment.aligning import timeline_of
from auditor.alignment.timeline import Timeline
from auditor.case import AUDIO_SUFFIXES, Case
from auditor.craft.remark import Remark
from auditor.errors import InputError
from auditor.findings.finding import CAUTION, Finding
from auditor.hearing.audibility import listen
from auditor.hearing.measures import Heard, Limits, NoteWindows
from auditor.hearing.salience import pitch_salience
from auditor.intent.brief import read_brief
from auditor.intent.groups import groups_of
from auditor.intent.reliance import read_intent
from auditor.intent.roles import Intent
from auditor.judging.judge import judge
from auditor.score.notes import Score
from auditor.score.reading import read_score
from auditor.sound import features
from auditor.sound.level import PLAYBACK_DB, calibration_db, integrated_lufs
from auditor.sound.reading import Sound, read_sound
from auditor.sound.spectrum import POOL_HZ, RATE_HZ, frame_times, pooled_power
from auditor.spectra.line_spectra import LineSpectra
from auditor.spectra.mixture import mix_spectra
from auditor.spectra.playing import is_sustained, line_timbres, note_times, played_notes
from auditor.spectra.sharing import handed_on
from auditor.spectra.stems import match_stems, stem_spectra
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


def audit(
    case: Case,
    score: Score | None = None,
    *,
    playback_db: float = PLAYBACK_DB,
    limits: Limits | None = None,
    sources: Sequence[str] = SOURCES,
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
    brief = None if case.brief is None else read_brief(case.brief, score)
    told("reading the sound")
    files = () if case.stems is None else _stem_files(case.stems, score)
    mix, stems = _sounds(case, files)
    gain_db = calibration_db(mix.samples, RATE_HZ, playback_db=playback_db)
    told("finding the score in the sound")
    heard_features = features.listen(mix.samples)
    timeline = timeline_of(score, heard_features)
    onset_s, offset_s = note_times(score, timeline)
    told("separating the lines")
    if stems is not None:
        stems = _apart(stems, score, onset_s, offset_s)
    spectra = (
        stem_spectra(stems, gain_db)
        if stems is not None
        else mix_spectra(
            mix.samples,
            played_notes(score, onset_s, offset_s),
            line_timbres(score),
            gain_db,
            tuning=heard_features.tuning,
            sources=sources,
        )
    )
    told("listening")
    windows = _windows(score, onset_s, offset_s)
    intent = read_intent(score, brief)
    heard = _heard(score, intent, mix, spectra, windows, limits)
    told("judging")
    findings = judge(score, timeline, windows, intent, heard, limits)
    return Audit(
        score=score,
        sounding=_sounding(mix, playback_db),
        timeline=timeline,
        windows=windows,
        intent=intent,
        heard=heard,
        limits=limits,
        findings=findings,
        cautions=CAUTIONS,
        samples=mix.samples,
        hashes=_hashes(case),
        source=spectra.source,
        spectra=spectra,
        stems=files if _add_up(stems, mix) else (),
    )


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


def _windows(
    score: Score, onset_s: NDArray[np.float64], offset_s: NDArray[np.float64]
) -> NoteWindows:
    row = {line.number: k for k, line in enumerate(score.lines)}
    rows = [row[n.line] for n in score.notes]
    return NoteWindows(
        line=np.array(rows, dtype=np.int64),
        onset_s=onset_s,
        offset_s=offset_s,
        pitch=np.array([0 if n.unpitched else n.pitch for n in score.notes], dtype=np.int64),
        sustained=np.array(
            [
                is_sustained(n, score.lines[k].instrument)
                for n, k in zip(score.notes, rows, strict=True)
            ]
        ),
        instrument=tuple(line.instrument.key for line in score.lines),
    )


def _sounds(
    case: Case, files: Sequence[Path | None]
) -> tuple[Sound, NDArray[np.float32] | None]:
    """The mix, and the stems in line order if there are any."""
    if case.stems is None:
        if case.mix is None:
            raise InputError("there is neither a mix nor stems; name a sound file")
        return read_sound(case.mix), None
    stems = _stems(files)
    if case.mix is None:
        # Lines of one part have one file; it counts once.
        first = [k for k, path in enumerate(files) if path and path not in files[:k]]
        whole = Sound(
            stems[first].sum(axis=0), RATE_HZ, 1, stems.shape[1] / RATE_HZ, case.stems.name,
            ("the stems were added up, as no mix was given",),
        )  # fmt: skip
        return whole, stems
    mix = read_sound(case.mix)
    size = mix.samples.size
    fitted = np.zeros((len(stems), size), np.float32)
    fitted[:, : min(size, stems.shape[1])] = stems[:, :size]
    return mix, fitted


def _stem_files(folder: Path, score: Score) -> tuple[Path | None, ...]:
    """Sound file of each line; None for lines of parts without notes."""
    files = sorted(p for p in folder.iterdir() if p.suffix.lower() in AUDIO_SUFFIXES)
    if not files:
        raise InputError(f"{folder} holds no sound files; put one for each part there")
    playing = {n.part for n in score.notes}
    found = match_stems(files, [p for p in score.parts if p.number in playing])
    return tuple(found.get(line.part) for line in score.lines)


def _stems(files: Sequence[Path | None]) -> NDArray[np.float32]:
    """Stems at 44.1 kHz in line order, shape (lines, samples); lines without one are 0."""
    sounds = {
        path: read_sound(path, may_be_silent=True).samples for path in files if path is not None
    }
    out = np.zeros((len(files), max(s.size for s in sounds.values())), np.float32)
    for k, path in enumerate(files):
        if path is not None:
            out[k, : sounds[path].size] = sounds[path]
    return out


def _apart(
    stems: NDArray[np.float32],
    score: Score,
    onset_s: NDArray[np.float64],
    offset_s: NDArray[np.float64],
) -> NDArray[np.float32]:
    """Stems in line order, each line of a part with the time its instrument plays."""
    row = {line.number: k for k, line in enumerate(score.lines)}
    return handed_on(
        stems,
        [line.part for line in score.lines],
        np.array([row[n.line] for n in score.notes], dtype=np.int64),
        onset_s,
        offset_s,
        RATE_HZ,
    )


def _add_up(stems: NDArray[np.float32] | None, mix: Sound) -> bool:
    """Tell whether the mix is the sum of its stems: less than -20 dB of it is left over."""
    if stems is None:
        return False
    left = mix.samples - stems.sum(axis=0)
    return float(np.square(left).sum()) < 0.01 * float(np.square(mix.samples).sum())


def _sounding(mix: Sound, playback_db: float) -> Sounding:
    return Sounding(
        name=mix.name,
        duration_s=mix.duration_s,
        rate_hz=mix.rate_hz,
        channels=mix.channels,
        loudness_lufs=integrated_lufs(mix.samples, RATE_HZ),
        playback_db=playback_db,
        remarks=mix.remarks,
    )


def _hashes(case: Case) -> tuple[tuple[str, str], ...]:
    paths = [p for p in (case.score, case.mix, case.brief) if p is not None]
    return tuple((p.name, hashlib.sha256(p.read_bytes()).hexdigest()) for p in paths)
