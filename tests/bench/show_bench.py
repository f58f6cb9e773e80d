"""A whole movement, plain and made worse in ten listed places: what is found, what is false.

    show_bench.py make FOLDER OUT [--font fluid] [--seed 1] [--bars FIRST COUNT]
    show_bench.py count OUT ... [--plain] [--stems]

FOLDER holds score.mxl and annotations.csv as for repertory_bench.py. `make` renders the
movement at natural levels in a room and a second time with ten places spoilt, which
`show_made.py` chooses by the seed alone. `count` audits the spoilt mix (with --plain the plain
one) from the mix, or with --stems with the stem of every part beside it, and prints what it
says, how many of the ten are found in the whole list and among the first twenty, and which of
the first twenty are false: neither about a planted fault nor, by the true stems, about a line
that is not clear there, nor told of the same lines and bars by the audit with stems. A remark
that names several places is found if one of them is planted, and false if one of them is.
"""

from __future__ import annotations

import argparse
import json
from collections.abc import Sequence
from dataclasses import asdict, dataclass, replace
from pathlib import Path

import fonts
import numpy as np
import soundfile
from audibility_estimate import OTHER_SOURCES
from numpy.typing import NDArray
from repertory_excerpt import blocks, cut, measure_starts
from repertory_heard import by_part, windows_of
from repertory_sound import Clock, clock, play_score
from show_made import Movement, Planted, listed, plan, spoilt

from auditor.auditing import audit
from auditor.case import Case
from auditor.findings.finding import Finding
from auditor.hearing.audibility import listen
from auditor.hearing.measures import Group, Limits, NoteWindows
from auditor.score.notes import Part, Score
from auditor.score.reading import read_score
from auditor.sound.level import calibration_db
from auditor.spectra.line_spectra import BAND_CAM, LineSpectra
from auditor.spectra.stem_names import MAPPING
from auditor.spectra.stems import stem_spectra

F32 = NDArray[np.float32]
TOP = 20
FALSE = "FALSE"
# Kinds that say a line is too weak, and kinds that name who is too strong.
WEAK = ("covered", "faint", "dynamic", "silent", "accompaniment", "weak-answer", "hairpin")
# Kinds that are about hearing, and can be held against the true stems.
HEARING = ("covered", "faint", "accompaniment", "weak-answer")
# Kinds that accuse the rendering of not doing what is written.
FAULTS = (
    "technique",
    "short",
    "hairpin",
    "dynamic",
    "transposed",
    "silent",
    "entry",
    "unwritten",
)
# Kinds of remark that answer each fault, if they name one of its parts.
ANSWERS: dict[str, tuple[str, ...]] = {
    # Plucked for bowed: held notes that die away are the same fault in other words.
    "way": ("technique", "short", "dynamic"),
    "hairpin": ("hairpin", "dynamic"),
    "octave": ("transposed",),
    "doubling": ("silent", "dynamic", "hairpin"),
    "main": WEAK,
    "missing": ("silent", "dynamic", "hairpin"),
    "late": ("entry",),
    "coverer": ("dynamic", "hairpin", "accompaniment"),
    "accompaniment": ("dynamic", "hairpin", "accompaniment"),
    "layer": ("unwritten",),
}


def movement(given: argparse.Namespace, out: Path) -> tuple[Movement, LineSpectra]:
    """Cut, read, play and hear a movement."""
    page, source = out / "score.musicxml", given.folder / "score.mxl"
    starts = measure_starts(source, out)
    first, count = given.bars
    cut(source, page, first, count)
    score = read_score(page)
    parts, stems = play_score(score, given.font)
    marked = blocks(given.folder / "annotations.csv", score, float(starts[first]))
    when, numbers = clock(score), [p.number for p in parts]
    true = by_part(score, numbers, windows_of(score, when))
    spectra = stem_spectra(stems, calibration_db(stems.sum(axis=0)))
    left = listen(spectra, true, (), Limits()).notes.distinct_ratio
    return Movement(score, given.font, parts, stems, when, marked, left), spectra


def make(given: argparse.Namespace) -> None:
    """Write page, both mixes, the list, and what the true stems hold."""
    given.out.mkdir(parents=True, exist_ok=True)
    m, spectra = movement(given, given.out)
    rng = np.random.default_rng(given.seed)
    plants = plan(m, rng)
    print(f"{given.folder.name}, {given.font}, {len(m.score.bars)} bars, {len(m.parts)} parts")
    print("\n".join(listed(m, plants)), flush=True)
    worse, layer = spoilt(m, plants, rng)
    _write(given.out / "plain", m.parts, m.stems, m.stems.sum(axis=0))
    _write(given.out / "worse", m.parts, worse, worse.sum(axis=0) + layer)
    then = stem_spectra(worse, calibration_db(worse.sum(axis=0)))
    np.savez(given.out / "heard.npz", plain=spectra.level_db.astype(np.float16),
             worse=then.level_db.astype(np.float16), frame_s=spectra.frame_s)  # fmt: skip
    told = {"font": given.font, "parts": [p.number for p in m.parts],
            "planted": [asdict(p) for p in plants]}  # fmt: skip
    (given.out / "planted.json").write_text(json.dumps(told), encoding="utf-8")


def _write(path: Path, parts: list[Part], stems: F32, mix: F32) -> None:
    gain = 0.8 / np.abs(mix).max()
    soundfile.write(path.with_suffix(".flac"), mix * gain, fonts.RATE_HZ, subtype="PCM_24")
    path.mkdir(exist_ok=True)
    whose = [f'"{part.number:02d}.flac" = {part.number}' for part in parts]
    (path / MAPPING).write_text("\n".join(whose), encoding="utf-8")
    for part, stem in zip(parts, stems, strict=True):
        file = path / f"{part.number:02d}.flac"
        soundfile.write(file, stem * gain, fonts.RATE_HZ, subtype="PCM_24")


@dataclass(frozen=True, slots=True)
class Made:
    """A made movement, read again; `spectra` are those of the true stems of one version."""

    score: Score
    parts: list[int]
    when: Clock
    planted: list[Planted]
    spectra: LineSpectra


def opened(folder: Path, version: str, score: Score) -> Made:
    """Read what `make` wrote."""
    told = json.loads((folder / "planted.json").read_text(encoding="utf-8"))
    with np.load(folder / "heard.npz") as kept:
        level, frame_s = kept[version].astype(np.float32), kept["frame_s"]
    sure = np.ones(level.shape[:2], np.float32)
    spectra = LineSpectra(level, frame_s, BAND_CAM, sure, "stems")
    plants = [
        Planted(**{k: tuple(v) if isinstance(v, list) else v for k, v in row.items()})
        for row in told["planted"]
    ]
    return Made(score, told["parts"], clock(score), plants, spectra)


def _parts(m: Made, f: Finding) -> set[int]:
    number = {line.number: line.part for line in m.score.lines}
    return {number[n] for n in f.lines}


def _overlaps(f: Finding, p: Planted) -> bool:
    """Whether a finding shares two bars with a place, or lies within it."""
    shared = min(f.last_bar, p.last) - max(f.first_bar, p.first) + 1
    return shared >= min(2, f.last_bar - f.first_bar + 1)


def answers(m: Made, f: Finding, p: Planted) -> bool:
    """Whether a finding tells of a planted fault."""
    if not _overlaps(f, p):
        return False
    if p.kind == "layer":
        return f.kind == "unwritten"
    named = _parts(m, f)
    if f.kind in ANSWERS[p.kind] and named & set(p.parts):
        return True
    if p.kind not in ("coverer", "accompaniment") or f.kind not in WEAK:
        return False
    # Too strong a line is also told by naming whom it covers, and it among the coverers.
    number = {line.number: line.part for line in m.score.lines}
    cover = {number[c.line] for c in f.covers[:2]} & set(p.parts)
    return bool(cover - named) or (p.kind == "accompaniment" and bool(named & set(p.main)))


def truly_weak(m: Made, f: Finding) -> bool:
    """Whether by the true stems the lines of a finding are not clear in its bars."""
    bars, every = m.score.bars, windows_of(m.score, m.when)
    a, z = bars[f.first_bar].onset, bars[f.last_bar].onset + bars[f.last_bar].duration
    first, last = np.searchsorted(m.spectra.frame_s, (m.when.at(a) - 1, m.when.at(z) + 1))
    near = [i for i, n in enumerate(m.score.notes) if a <= n.onset < z]
    w = by_part(m.score, m.parts, every)
    windows = NoteWindows(w.line[near], w.onset_s[near], w.offset_s[near], w.pitch[near],
                          w.sustained[near], w.instrument)  # fmt: skip
    piece = replace(
        m.spectra, level_db=m.spectra.level_db[:, first:last],
        frame_s=m.spectra.frame_s[first:last], confidence=m.spectra.confidence[:, first:last],
    )  # fmt: skip
    named = _parts(m, f)
    own = [k for k, i in enumerate(near) if m.score.notes[i].part in named]
    heard = listen(piece, windows, [Group("own", np.array(own, dtype=np.int64))], Limits())
    return bool(heard.groups.distinct_ratio[0] < Limits().clear)


def count(folder: Path, version: str, with_stems: bool) -> None:
    """Print what was found and what is false."""
    score = read_score(folder / "score.musicxml")
    m = opened(folder, version, score)
    exact = _told(folder, version, score, with_stems=True)
    told = exact if with_stems else _told(folder, version, score, with_stems=False)
    plants = m.planted if version == "worse" else []
    source = "stems" if with_stems else "the mix"
    print(f"{folder.name}, {version}, from {source}: {len(told)} findings")
    for name, some in (("all", told), (f"the first {TOP}", told[:TOP])):
        every = [g for f in some for g in _places(f)]
        hit = [any(answers(m, g, p) for g in every) for p in plants]
        missed = [p.kind for p, h in zip(plants, hit, strict=True) if not h]
        print(f"  found in {name}: {sum(hit)} of {len(plants)}; not: {', '.join(missed)}")
    false = 0
    for k, f in enumerate(told):
        words = [_word(m, g, plants, () if with_stems else exact) for g in _places(f)]
        # Told from true stems, a remark on doublings or returns is what these are defined by.
        settled = with_stems and f.kind not in FAULTS
        word = next((w for w in words if w == FALSE and not settled), "")
        word = word or next((w for w in words if w != FALSE), "by stems")
        false += k < TOP and word == FALSE
        near = " ".join(p.kind for p in plants if _overlaps(f, p))
        print(f"  {k + 1:2d} {f.weight:.2f} {word:20s} [{near}] {f.kind}: {f.sentence}")
    print(f"  false among the first {TOP}: {false}", flush=True)


def _places(f: Finding) -> list[Finding]:
    """Every place that a remark names, as a remark of its own."""
    where = ((f.first_bar, f.last_bar), *f.also)
    return [replace(f, first_bar=a, last_bar=z, also=()) for a, z in where]


def _word(m: Made, f: Finding, plants: Sequence[Planted], exact: Sequence[Finding]) -> str:
    """What is to be thought of a remark on one place; `exact` is what is told from stems."""
    by = [p.kind for p in plants if answers(m, f, p)]
    if by:
        return f"planted {by[0]}"
    if f.kind in HEARING and truly_weak(m, f):
        return "true"
    also = any(_same(f, g) for other in exact for g in _places(other))
    return "true" if also else FALSE


def _told(folder: Path, version: str, score: Score, *, with_stems: bool) -> list[Finding]:
    font = json.loads((folder / "planted.json").read_text(encoding="utf-8"))["font"]
    stems = folder / version if with_stems else None
    case = Case(folder / "score.musicxml", folder / f"{version}.flac", stems)
    sources = OTHER_SOURCES[fonts.FONTS[font].group]
    result = audit(case, score, sources=sources, room_gain_db=None)
    for words in result.sounding.remarks:
        print(f"  remark: {words}")
    return [f for f in result.findings if f.kind != "works"]


def _same(a: Finding, b: Finding) -> bool:
    """Whether two findings say the same of a line in common bars."""
    together = a.first_bar <= b.last_bar and b.first_bar <= a.last_bar
    return a.kind == b.kind and together and bool(set(a.lines) & set(b.lines))


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    jobs = parser.add_subparsers(dest="job", required=True)
    making = jobs.add_parser("make")
    making.add_argument("folder", type=Path)
    making.add_argument("out", type=Path)
    making.add_argument("--font", default="fluid", choices=list(fonts.FONTS))
    making.add_argument("--seed", type=int, default=1)
    making.add_argument("--bars", type=int, nargs=2, default=(0, 100_000))
    counting = jobs.add_parser("count")
    counting.add_argument("out", type=Path, nargs="+")
    counting.add_argument("--plain", action="store_true")
    counting.add_argument("--stems", action="store_true")
    given = parser.parse_args()
    if given.job == "make":
        make(given)
        return
    for folder in given.out:
        for version in ("worse", "plain") if given.plain else ("worse",):
            count(folder, version, given.stems)


if __name__ == "__main__":
    main()
