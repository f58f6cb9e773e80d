"""An invented audit for the report's tests: 13 lines, 24 bars, made-up figures.

Nothing here was heard or measured; it only has the shape of a real audit.
"""

from __future__ import annotations

import numpy as np
from music21 import clef, meter, note, stream
from music21.musicxml.m21ToXml import GeneralObjectExporter

from auditor.alignment.timeline import BarTime, Stretch, Timeline
from auditor.auditing import Audit, Sounding
from auditor.findings.finding import Cover, Finding
from auditor.hearing.measures import Evidence, Heard, Limits, Measures, NoteWindows
from auditor.intent.roles import Doubling, Intent, Strand
from auditor.score.notes import Bar, Instrument, Line, Note, Part, Score
from auditor.sound.spectrum import HOP, RATE_HZ
from auditor.spectra.line_spectra import BAND_CAM, LineSpectra

# name, instrument key, family, kind, lines, lowest pitch used
PARTS = (
    ("Flute", "flute", "woodwind", "sustained", 1, 79),
    ("Oboe", "oboe", "woodwind", "sustained", 1, 69),
    ("Clarinet in B♭", "clarinet", "woodwind", "sustained", 1, 62),
    ("Bassoon 1.2.", "bassoon", "woodwind", "sustained", 2, 46),
    ("Horn in F", "horn", "brass", "sustained", 1, 53),
    ("Trumpet in C", "trumpet", "brass", "sustained", 1, 65),
    ("Trombone", "trombone", "brass", "sustained", 1, 48),
    ("Timpani", "timpani", "percussion", "struck", 1, 43),
    ("Violin I", "violin", "strings", "sustained", 1, 76),
    ("Violin II", "violin", "strings", "sustained", 1, 67),
    ("Viola", "viola", "strings", "sustained", 1, 57),
    ("Violoncello", "cello", "strings", "sustained", 1, 43),
)
SECONDS_A_QUARTER = 0.6
QUARTERS_A_BAR = 4.0
FLOATS = (
    "level_db", "alone_sone", "partial_sone", "loudness_ratio", "distinct_ratio",
    "margin_db", "covered_share",
)  # fmt: skip


def _parts(names: dict[int, str]) -> tuple[list[Part], list[Line]]:
    parts, lines = [], []
    for number, (name, key, family, kind, players, low) in enumerate(PARTS, start=1):
        name = names.get(number, name)
        instrument = Instrument(key, name, family, kind, low - 12, low + 24)
        parts.append(Part(number, f"P{number}", name, instrument, float(players)))
        for desk in range(players):
            called = f"{name} ({desk + 1})" if players > 1 else name
            lines.append(Line(len(lines) + 1, number, called, instrument))
    return parts, lines


def _rests(line: int, bar: int) -> bool:
    return (line + bar // 4) % 5 == 0 or (line == 9 and bar % 2 == 1)


def _notes(lines: list[Line], bars: int) -> list[Note]:
    notes = []
    scale = (0, 2, 4, 5, 7, 9, 11, 12)
    for line in lines:
        for bar in range(bars):
            if _rests(line.number, bar):
                continue
            for beat in range(4 if line.number % 3 else 2):
                length = 1.0 if line.number % 3 else 2.0
                low = PARTS[line.part - 1][5]
                pitch = low + scale[(beat * 2 + bar + line.number) % 8]
                onset = QUARTERS_A_BAR * bar + beat * length
                name = f"n{line.number}-{bar}-{beat}"
                notes.append(
                    Note(
                        name,
                        name,
                        line.part,
                        line.number,
                        bar,
                        1.0 + beat * length,
                        onset,
                        length,
                        pitch,
                        pitch,
                        3.0,
                        True,
                        voice=str(line.number),
                    )
                )
    return sorted(notes, key=lambda n: (n.onset, n.line, n.pitch))


def _measures(rng: np.random.Generator, n: int, lines: int, badness: np.ndarray) -> Measures:
    ratio = np.clip(np.exp(-3.5 * badness) * rng.uniform(0.6, 1.0, n), 0.001, 1.0)
    alone = rng.uniform(2, 12, n)
    share = rng.dirichlet(np.full(lines, 0.3), n)
    return Measures(
        level_db=rng.uniform(48, 78, n),
        alone_sone=alone,
        partial_sone=alone * ratio,
        loudness_ratio=ratio,
        distinct_ratio=ratio * 0.8,
        margin_db=20 * np.log10(ratio) + 18,
        covered_share=np.clip(badness, 0, 1),
        covered_by=np.argmax(share, axis=1),
        cover_share=share,
        register_share=rng.dirichlet(np.ones(5), n),
        ownership=rng.uniform(0.4, 1, n),
    )


def _states(of: Measures, rng: np.random.Generator) -> tuple[str, ...]:
    states = np.where(
        of.distinct_ratio < 0.05,
        "covered",
        np.where(of.distinct_ratio < 0.15, "faint", "clear"),
    ).astype(object)
    odd = rng.random(len(of))
    states[(odd < 0.10) & (states != "clear")] = "blended"
    states[(odd > 0.97)] = "undecided"
    return tuple(str(s) for s in states)


def _spectra(rng: np.random.Generator, lines: int, bars: int) -> LineSpectra:
    frames = round(bars * QUARTERS_A_BAR * SECONDS_A_QUARTER * RATE_HZ / HOP)
    level = np.empty((lines, frames, BAND_CAM.size), np.float32)
    for k in range(lines):
        level[k] = rng.uniform(20, 60, BAND_CAM.size)
    return LineSpectra(
        level, np.arange(frames) * HOP / RATE_HZ, BAND_CAM, np.ones((lines, frames), np.float32)
    )


def _heard(rng: np.random.Generator, score: Score, groups: int, frames: int) -> Heard:
    line_badness = np.array(
        [(0.25, 0.9, 0.4, 0.6, 0.8, 0.3, 0.1, 0.1, 0.3, 0.1, 0.5, 0.7, 0.3)]
    )
    of_line = np.resize(line_badness, len(score.lines))
    of_note = np.array(
        [of_line[n.line - 1] + 0.5 * np.sin(n.bar / 3 + n.line) for n in score.notes]
    )
    notes = _measures(rng, len(score.notes), len(score.lines), np.clip(of_note, 0, 1.3))
    lines = _measures(rng, len(score.lines), len(score.lines), of_line)
    heard_groups = _measures(rng, groups, len(score.lines), rng.uniform(0, 0.8, groups))
    state = list(_states(notes, rng))
    for i, note_ in enumerate(score.notes):
        if note_.bar == 20 and note_.line == 5:
            state[i] = "silent"
        if note_.bar == 13:
            state[i] = "not judged"
            for name in FLOATS:
                getattr(notes, name)[i] = np.nan
    return Heard(
        notes, lines, heard_groups, tuple(state), _states(lines, rng),
        _states(heard_groups, rng), rng.uniform(0.4, 1, len(notes)),
        rng.uniform(0.4, 1, len(lines)), rng.uniform(0.4, 1, groups),
        np.zeros((len(score.lines), 4), np.float32), np.linspace(4, 40, frames),
        Evidence(*rng.uniform(0, 1, (5, len(notes)))),
    )  # fmt: skip


def _intent(score: Score) -> Intent:
    def notes_of(*lines: int) -> tuple[int, ...]:
        return tuple(i for i, n in enumerate(score.notes) if n.line in lines)

    bars, count = len(score.bars), len(score.lines)
    last = bars - 1
    strands = (
        Strand("S1", "strand", "leading", (2,), notes_of(2), 0, last),
        Strand("S2", "strand", "leading", (1, 10), notes_of(1, 10), 0, last,
               ("Flute in unison with Violin I",)),
        Strand("S3", "strand", "answer", (5,), notes_of(5), 0, last),
        Strand("L-bass", "layer", "bass", (4, 8, 13), notes_of(4, 8, 13), 0, last),
        Strand("L-harmony", "layer", "harmony", (6, 11, 12), notes_of(6, 11, 12), 0, last),
    )  # fmt: skip
    by_line = {2: "leading", 1: "answer", 10: "leading", 4: "bass", 8: "bass", 13: "bass",
               9: "rhythm", 3: "figuration"}  # fmt: skip
    role = tuple(
        tuple("" if _rests(n, b) else by_line.get(n, "harmony") for b in range(bars))
        for n in range(1, count + 1)
    )
    reliance = np.array(
        [[0.8 if r == "leading" else 0.3 if r else 0 for r in row] for row in role]
    )
    reasons = (((2, 0, 7), "it alone has the tune"),)
    doublings = (Doubling(1, 10, 0, 0, 3, notes_of(1)[:8]),)
    return Intent(strands, doublings, role, reliance, reasons)


def _finding(
    number: int, kind: str, line: int, first: int, last: int, weight: float, *words: str
) -> Finding:
    per_bar = SECONDS_A_QUARTER * QUARTERS_A_BAR
    concern = kind != "works"
    sentence, why, cause, *remedies = words
    part = {1: 1, 2: 2, 3: 3, 4: 4, 5: 4}.get(line, line - 1)
    return Finding(
        f"{kind}-{number:04x}", kind, weight, (line,), (part,), "S1" if line == 2 else "",
        first, last, first * per_bar, (last + 1) * per_bar,
        {"covered": "covered", "faint": "faint", "works": "clear"}.get(kind, "blended"),
        0.02 if concern else 0.5, -3.1 if concern else 14.0,
        (Cover(8, 0.62), Cover(6, 0.21), Cover(13, 0.09)) if concern else (),
        (0.05, 0.2, 0.55, 0.2, 0.0), 0.8, why, cause, tuple(remedies), 0.72, sentence,
    )  # fmt: skip


def _findings(bars: int) -> tuple[Finding, ...]:
    made = [
        _finding(1, "covered", 2, 4, 7, 0.74,
                 "The oboe has the tune in bars 5–8 and is lost under the trombone.",
                 "it alone has the tune here, and nothing doubles it",
                 "the trombone holds the same octave one dynamic louder",
                 "let the trombone play p instead of mf", "put the oboe an octave higher",
                 "give the clarinet the tune as well"),
        _finding(2, "faint", 5, 8, 11, 0.52,
                 "The second bassoon answers the oboe in bars 9–12 and stays behind.",
                 "it answers the tune", "violoncello and horn move in the same register",
                 "mark it solo", "thin out the violoncello"),
        _finding(3, "idle-doubling", 12, 0, 3, 0.31,
                 "The viola doubles the second violin in bars 1–4 and adds nothing heard.",
                 "written as a doubling", "the second violin is stronger in this octave",
                 "let the viola rest or take the third below"),
        _finding(4, "works", 10, 16, min(22, bars - 1), 0.66,
                 "The first violins carry the tune in bars 17–23 and stand free of everything.",
                 "they have the tune", ""),
    ]  # fmt: skip
    return tuple(sorted(made, key=lambda f: -f.weight))


def made_audit(
    *, names: dict[int, str] | None = None, title: str = "Study in Grey and Gold",
    bars: int = 24, seed: int = 7, remark: str = "",
) -> Audit:  # fmt: skip
    """Build the audit; `names` replaces part names by part number."""
    rng = np.random.default_rng(seed)
    parts, lines = _parts(names or {})
    grid = tuple(
        Bar(i, str(i + 1), i, 1, QUARTERS_A_BAR * i, QUARTERS_A_BAR) for i in range(bars)
    )
    notes = tuple(_notes(lines, bars))
    remarks = ("Part 4 has two voices and was read as two players.",) + (
        (remark,) if remark else ()
    )
    score = Score(title, tuple(parts), tuple(lines), grid, notes, bars, remarks)
    length = bars * QUARTERS_A_BAR * SECONDS_A_QUARTER
    onset = np.array([n.onset for n in notes]) * SECONDS_A_QUARTER
    windows = NoteWindows(
        np.array([n.line - 1 for n in notes]), onset,
        onset + np.array([n.duration for n in notes]) * SECONDS_A_QUARTER,
        np.array([n.pitch for n in notes]), np.array([n.line != 9 for n in notes]),
        tuple(line.instrument.key for line in lines),
    )  # fmt: skip
    per_bar = QUARTERS_A_BAR * SECONDS_A_QUARTER
    times = tuple(
        BarTime(i, i * per_bar, (i + 1) * per_bar, 0.31 if i in (12, 13) else 0.9,
                "held chords, no onset to hold on to" if i in (12, 13) else "")
        for i in range(bars)
    )  # fmt: skip
    timeline = Timeline(
        (Stretch(np.array([0.0, bars * QUARTERS_A_BAR]), np.array([0.0, length])),), times,
        tuple(range(bars)), ("The repeat of bars 1–8 is not played.",), (("agreement", 0.83),),
    )  # fmt: skip
    spectra = _spectra(rng, len(lines), bars)
    t = np.arange(round(length * RATE_HZ)) / RATE_HZ
    samples = (0.1 * np.sin(2 * np.pi * 440 * t) * (1 + 0.5 * np.sin(t))).astype(np.float32)
    return Audit(
        score, Sounding("study.wav", length, 48000, 2, -23.4, 78.0, ("Two samples clip.",)),
        timeline, windows, _intent(score), _heard(rng, score, 5, len(spectra.frame_s)),
        Limits(), _findings(bars),
        ("A mock-up is not a room: only players in a room decide.",), samples,
        (("study.musicxml", "0" * 64), ("study.wav", "a" * 64)), spectra=spectra,
    )  # fmt: skip


def made_excerpt(audit: Audit, first: int, last: int, parts: tuple[int, ...]) -> str:
    """MusicXML of some bars (indices) and parts (numbers), notes keeping their elements."""
    page = stream.Score()
    for number in parts:
        staff = stream.Part()
        staff.partName = audit.score.parts[number - 1].name
        for bar in range(first, last + 1):
            staff.append(_measure(audit, number, bar, first))
        page.append(staff)
    return GeneralObjectExporter(page).parse().decode()


def _measure(audit: Audit, part: int, bar: int, first: int) -> stream.Measure:
    measure = stream.Measure(number=bar + 1)
    if bar == first:
        low = PARTS[part - 1][5]
        measure.append(clef.BassClef() if low < 57 else clef.TrebleClef())
        measure.append(meter.TimeSignature("4/4"))
    lines = sorted({n.line for n in audit.score.notes if n.part == part and n.bar == bar})
    for line in lines:
        voice = stream.Voice(id=str(line)) if len(lines) > 1 else measure
        for written in audit.score.notes:
            if written.line == line and written.bar == bar:
                head = note.Note(written.written_pitch, quarterLength=written.duration)
                head.id = written.element
                voice.append(head)
        if voice is not measure:
            measure.insert(0, voice)
    if not lines:
        measure.append(note.Rest(quarterLength=QUARTERS_A_BAR))
    return measure
