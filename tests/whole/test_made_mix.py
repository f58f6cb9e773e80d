"""A mix made of plain tones whose answer is known: what is lowered is heard less.

Three players, eight bars; every tone is a row of harmonics made here, so mix and stems are
exact. The whole program runs on the page and the sound, as a user would run it.
"""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest
import soundfile

from auditor.auditing import Audit, audit
from auditor.case import Case
from auditor.hearing.audibility import listen
from auditor.hearing.measures import Limits, NoteWindows
from auditor.sound.level import calibration_db
from auditor.spectra.stems import stem_spectra

RATE_HZ, TEMPO, BARS = 44_100, 96, 8
ORDER = {"covered": 0, "silent": 0, "faint": 1, "undecided": 1, "blended": 1, "clear": 2}

# Name, pitches of one bar (quarters or a whole note), fall of the harmonics in dB a octave.
PLAYERS = (
    ("Oboe", (76, 74, 72, 79), 5.0),
    ("Viola", (60, 62, 64, 62), 9.0),
    ("Violoncello", (48,), 7.0),
)
_STEPS = ("C", "C", "D", "D", "E", "F", "F", "G", "G", "A", "A", "B")


def _move(bar: int) -> int:
    return (0, 2, -1, 4, 2, 0, 5, 0)[bar]


def _page() -> str:
    heads, bodies = "", ""
    for k, (name, pitches, _) in enumerate(PLAYERS, 1):
        heads += f'<score-part id="P{k}"><part-name>{name}</part-name></score-part>'
        bars = ""
        for bar in range(BARS):
            start = ""
            if bar == 0:
                start = (
                    "<attributes><divisions>1</divisions><time><beats>4</beats>"
                    "<beat-type>4</beat-type></time></attributes><direction><direction-type>"
                    "<dynamics><mf/></dynamics></direction-type>"
                    f'<sound tempo="{TEMPO}"/></direction>'
                )
            notes = ""
            for pitch in (p + _move(bar) for p in pitches):
                step = _STEPS[pitch % 12]
                sharp = pitch % 12 in (1, 3, 6, 8, 10)
                notes += (
                    f"<note><pitch><step>{step}</step>{'<alter>1</alter>' * sharp}"
                    f"<octave>{pitch // 12 - 1}</octave></pitch>"
                    f"<duration>{4 // len(pitches)}</duration></note>"
                )
            bars += f'<measure number="{bar + 1}">{start}{notes}</measure>'
        bodies += f'<part id="P{k}">{bars}</part>'
    return (
        '<?xml version="1.0" encoding="UTF-8"?><score-partwise version="4.0">'
        f"<part-list>{heads}</part-list>{bodies}</score-partwise>"
    )


def _tone(pitch: int, seconds: float, fall_db: float) -> np.ndarray:
    time = np.arange(int(seconds * RATE_HZ)) / RATE_HZ
    hz = 440.0 * 2 ** ((pitch - 69) / 12)
    count = min(24, int(12_000 / hz))
    tone = sum(
        10 ** (-fall_db * np.log2(k) / 20) * np.sin(2 * np.pi * k * hz * time + k * k)
        for k in range(1, count + 1)
    )
    ramp = np.minimum(1.0, np.minimum(time, time[::-1]) / 0.02)
    return np.asarray(tone * ramp)


@cache
def stems() -> np.ndarray:
    """Stems of equal power, shape (3, samples)."""
    quarter = 60 / TEMPO
    out = np.zeros((len(PLAYERS), int((BARS * 4 * quarter + 1.0) * RATE_HZ)))
    for k, (_, pitches, fall) in enumerate(PLAYERS):
        length = 4 * quarter / len(pitches)
        for bar in range(BARS):
            for j, pitch in enumerate(pitches):
                start = int((0.5 + 4 * quarter * bar + j * length) * RATE_HZ)
                tone = _tone(pitch + _move(bar), 0.94 * length, fall)
                out[k, start : start + tone.size] += tone
        out[k] *= 0.05 / np.sqrt(np.mean(out[k] ** 2))
    return out.astype(np.float32)


def audited(folder, gains_db, *, with_stems=False) -> Audit:
    """Audit the passage with each line's fader moved."""
    made = stems() * (10 ** (np.array(gains_db, np.float32) / 20))[:, None]
    (folder / "stems").mkdir(exist_ok=True)
    (folder / "score.musicxml").write_text(_page(), encoding="utf-8")
    soundfile.write(folder / "mix.wav", made.sum(axis=0), RATE_HZ, subtype="FLOAT")
    for (name, _, _), samples in zip(PLAYERS, made, strict=True):
        soundfile.write(folder / "stems" / f"{name}.wav", samples, RATE_HZ, subtype="FLOAT")
    return audit(
        Case(
            folder / "score.musicxml",
            folder / "mix.wav",
            folder / "stems" if with_stems else None,
        )
    )


@pytest.fixture(scope="module", params=["mix", "stems"])
def ladder(request, tmp_path_factory):
    """Audits with the viola at its level, 12 dB down, and off."""
    where = tmp_path_factory.mktemp(request.param)
    given = request.param == "stems"
    return [audited(where, (0, gain, 0), with_stems=given) for gain in (0, -12, -200)]


VIOLA = 1


def test_lowered_line_loses_margin_and_loudness(ladder):
    margins = [float(a.heard.lines.margin_db[VIOLA]) for a in ladder[:2]]
    ratios = [float(a.heard.lines.distinct_ratio[VIOLA]) for a in ladder[:2]]
    assert margins[1] < margins[0]
    assert ratios[1] < ratios[0]


def test_lowered_line_gets_a_worse_state(ladder):
    states = [ORDER[a.heard.line_state[VIOLA]] for a in ladder[:2]]
    assert states[1] < states[0]


def test_muted_line_is_neither_clear_nor_faint(ladder):
    assert ladder[2].heard.line_state[VIOLA] not in ("clear", "faint")
    margins = [float(a.heard.lines.margin_db[VIOLA]) for a in ladder]
    assert margins[2] < margins[1]


def test_what_is_left_untouched_is_heard_no_worse(ladder):
    for line in (0, 2):
        before, after = (float(a.heard.lines.distinct_ratio[line]) for a in ladder[:2])
        assert after > before - 0.02


def test_stems_route_is_hearing_the_stems(tmp_path):
    found = audited(tmp_path, (0, -6, 0), with_stems=True)
    made = stems() * (10 ** (np.array([0, -6, 0], np.float32) / 20))[:, None]
    quarter = 60 / TEMPO
    onset = 0.5 + quarter * np.array([note.onset for note in found.score.notes])
    length = 0.94 * quarter * np.array([note.duration for note in found.score.notes])
    windows = NoteWindows(
        line=np.array([note.line - 1 for note in found.score.notes]),
        onset_s=onset,
        offset_s=onset + length,
        pitch=np.array([note.pitch for note in found.score.notes]),
        sustained=np.ones(onset.size, bool),
        instrument=("oboe", "viola", "cello"),
    )
    spectra = stem_spectra(made, calibration_db(made.sum(axis=0)))
    true = listen(spectra, windows, (), Limits())
    assert found.source == "stems"
    assert found.heard.line_state == true.line_state
    # Only the alignment differs; its windows may move by a frame or two.
    np.testing.assert_allclose(
        found.heard.lines.distinct_ratio, true.lines.distinct_ratio, atol=0.03
    )
    np.testing.assert_allclose(found.heard.lines.level_db, true.lines.level_db, atol=1.0)


def test_timeline_finds_the_tones(tmp_path):
    found = audited(tmp_path, (0, 0, 0))
    onset = 0.5 + 60 / TEMPO * np.array([note.onset for note in found.score.notes])
    error = np.abs(found.windows.onset_s - onset)
    # Proposed for renderings: median 20 ms, 95 of 100 within 50 ms.
    assert np.median(error) <= 0.020
    assert np.percentile(error, 95) <= 0.050
