"""Remedies done: each change that was heard on line spectra is rendered anew and compared.

    remedy_bench.py --seeds 7000 7008 --fonts fluid timgm [--from stems mix] [--each 5]

A made passage is rendered, its lines are heard from the true stems or out of the mix (with
template sources that never met the font), and findings are judged. For each of the heaviest
findings one change of every kind is predicted; then the notes are changed and rendered
again by the same font, with the same faders and equalisers, and heard from the true stems.

What is compared: whether the passage's margin moves the way that was said, whether its
state is the one that was said, and by how much the changed lines' level in the passage is
off. How loud a step is in the rendering follows another published table (mixes_players)
than the prediction does (auditor/timbre/dynamics.py), as it would with any library.
"""

from __future__ import annotations

import argparse
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path

import fonts
import numpy as np
from audibility_estimate import OTHER_SOURCES
from mixes import LIFT_DB, Options, Performance, _line_power, clock, finish, note_power
from mixes_music import MadePart, Passage, Written, compose
from mixes_page import write_page
from mixes_players import CHAIRS, PIZZICATO_PROGRAM, power_db
from mixes_sound import velocity
from numpy.typing import NDArray

from auditor.alignment.timeline import BarTime, Stretch, Timeline
from auditor.findings.finding import Finding
from auditor.hearing.audibility import listen
from auditor.hearing.measures import Limits
from auditor.hearing.placed import windows_of
from auditor.intent.groups import groups_of
from auditor.intent.reliance import read_intent
from auditor.judging.judge import judge
from auditor.judging.proposals import Idea, ideas
from auditor.judging.scene import Scene, scene
from auditor.judging.trial import Change, Ground, Hearing, cut, hear
from auditor.score.notes import Score
from auditor.score.reading import read_score
from auditor.sound.level import calibration_db
from auditor.spectra.line_spectra import LineSpectra
from auditor.spectra.mixture import mix_spectra
from auditor.spectra.playing import line_timbres, note_times, played_notes
from auditor.spectra.stems import stem_spectra

STATES = ("covered", "faint", "clear")
KINDS = ("softer", "louder", "both", "rest", "shorter", "octave", "doubling", "player")
LIMITS = Limits()
_HEAVIEST = 2


@dataclass(frozen=True, slots=True)
class Outcome:
    """One remedy, said and done."""

    kind: str
    font: str
    source: str
    said: Hearing
    done: Hearing
    before_said: Hearing
    before_done: Hearing
    level_off_db: float

    @property
    def direction(self) -> bool:
        said = self.said.margin_db - self.before_said.margin_db
        done = self.done.margin_db - self.before_done.margin_db
        return (said > 0) == (done > 0)

    @property
    def state(self) -> bool:
        return state(self.said) == state(self.done)


def state(h: Hearing) -> str:
    return STATES[int(h.ratio >= LIMITS.covered) + int(h.ratio >= LIMITS.clear)]


class Studio:
    """Plays a passage again and again with the same draws, faders and equalisers."""

    def __init__(self, passage: Passage, font: str, options: Options) -> None:
        self.passage, self.font, self.options = passage, font, options
        rng = np.random.default_rng([passage.seed, 3])
        self.quarters, self.seconds = clock(passage, rng, 0.0)
        self.length = float(self.seconds[-1]) + 1.0
        self.fader = rng.normal(0, options.fader_db, len(passage.parts))
        self.fader -= (rng.random(len(passage.parts)) < options.lowered) * rng.uniform(
            6, 16, len(passage.parts)
        )
        natural = [_line_power(part) for part in passage.parts]
        self.target = [
            np.mean(natural) + options.natural * (own - np.mean(natural))
            + LIFT_DB.get(part.role, -1.0) + self.fader[k] - 120
            for k, (own, part) in enumerate(zip(natural, passage.parts, strict=True))
        ]  # fmt: skip
        self.gain = np.ones(len(passage.parts))
        self.stems = np.zeros((0, 0), np.float32)
        raw = self.raw(passage.parts)
        done = [self.coloured(k, part, raw[k]) for k, part in enumerate(passage.parts)]
        for k, (part, stem) in enumerate(zip(passage.parts, done, strict=True)):
            show = self.show(part)
            level = finish(raw[k].copy(), show, self.target[k], self.options, self.rng(k), None)
            power = float((stem.astype(np.float64) ** 2).sum())
            whole = float((level.astype(np.float64) ** 2).sum())
            self.gain[k] = np.sqrt(whole / power) if power > 0 else 1.0
        out = np.stack([s * np.float32(g) for s, g in zip(done, self.gain, strict=True)])
        self.loud = 0.9 / float(np.abs(out.sum(axis=0)).max())
        self.stems = out * np.float32(self.loud)

    def rng(self, k: int) -> np.random.Generator:
        return np.random.default_rng([self.passage.seed, 11, k])

    def show(self, part: MadePart) -> Performance:
        held = 0.93 if CHAIRS[part.chair].sustained else 0.98
        on = np.array([n.onset for n in part.notes])
        off = on + held * np.array([n.duration for n in part.notes])
        starts = np.interp(on, self.quarters, self.seconds)
        return Performance(
            part, starts, np.maximum(np.interp(off, self.quarters, self.seconds), starts + 0.04)
        )

    def raw(self, parts: tuple[MadePart, ...]) -> NDArray[np.float32]:
        return fonts.play([self.voice(p) for p in parts], self.font, self.length)

    def voice(self, part: MadePart) -> fonts.Voice:
        chair, show = CHAIRS[part.chair], self.show(part)
        loudest = power_db(chair.instrument, 5, players=chair.players)
        played = [
            fonts.Played(
                on, off, note.pitch, velocity(note_power(part, note) - loudest),
                PIZZICATO_PROGRAM if note.pizzicato else chair.program,
            )
            for note, on, off in zip(part.notes, show.onsets, show.offsets, strict=True)
        ]  # fmt: skip
        return fonts.Voice(tuple(played))

    def coloured(self, k: int, part: MadePart, raw: NDArray[np.float32]) -> NDArray[np.float32]:
        from mixes_players import BRIGHTER_DB
        from mixes_sound import colour, equaliser

        if not part.notes:
            return np.zeros_like(raw)
        curve = equaliser(self.rng(k), self.options.eq_db)
        brighter = BRIGHTER_DB.get(CHAIRS[part.chair].family, 0.3)
        return colour(raw, self.show(part).onsets, self.show(part).dynamics, brighter, curve)

    def again(self, changed: dict[int, MadePart]) -> NDArray[np.float32]:
        """Stems with some parts played otherwise."""
        rows = sorted(changed)
        full = [k for k in rows if changed[k].notes]
        raw = self.raw(tuple(changed[k] for k in full)) if full else np.zeros((0, 0))
        out = self.stems.copy()
        for k in rows:
            out[k] = 0.0
        for place, k in enumerate(full):
            stem = self.coloured(k, changed[k], np.asarray(raw[place], np.float32))
            out[k] = stem * np.float32(self.gain[k] * self.loud)
        return out


def timeline_of(studio: Studio, score: Score) -> Timeline:
    """True times of the made passage."""
    run = Stretch(studio.quarters, studio.seconds)
    edges = [b.onset for b in score.bars] + [score.duration]
    at = np.interp(edges, studio.quarters, studio.seconds)
    bars = tuple(
        BarTime(b.index, float(at[k]), float(at[k + 1]), 1.0) for k, b in enumerate(score.bars)
    )
    return Timeline((run,), bars, tuple(b.index for b in score.bars))


def edited(g: Ground, change: Change, passage: Passage) -> dict[int, MadePart]:
    """Do on the page what a change says: part by part, only the passage's own notes."""
    parts = {k: passage.parts[k] for k, _, _ in change.edits}
    for row, what, amount in change.edits:
        if what == "instead":
            for lead in g.lines:
                parts[lead] = _without(passage.parts[lead], _places(g, lead, target=True))
        if what in ("double", "instead"):
            lead = int(amount)
            own = _places(g, lead, target=True)
            taken = [n for n in passage.parts[lead].notes if (n.onset, n.pitch) in own]
            taken = [replace(n, pizzicato=False) for n in taken]
            notes = sorted((*parts[row].notes, *taken), key=lambda n: (n.onset, n.pitch))
            parts[row] = replace(parts[row], notes=tuple(notes))
            continue
        own = _places(g, row, target=False)
        notes = [_edit(n, what, amount) if (n.onset, n.pitch) in own else n
                 for n in parts[row].notes]  # fmt: skip
        parts[row] = replace(parts[row], notes=tuple(n for n in notes if n is not None))
    return parts


def _edit(note: Written, what: str, amount: float) -> Written | None:
    if what == "mark":
        return replace(note, dynamic=note.dynamic + amount)
    if what == "short":
        return replace(note, duration=note.duration * amount)
    if what == "octave":
        return replace(note, pitch=note.pitch + int(amount))
    return None


def _without(part: MadePart, own: set[tuple[float, int]]) -> MadePart:
    return replace(part, notes=tuple(n for n in part.notes if (n.onset, n.pitch) not in own))


def _places(g: Ground, row: int, *, target: bool) -> set[tuple[float, int]]:
    """Onset and pitch of a line's notes in the passage."""
    notes = [g.s.score.notes[int(g.notes[k])] for k in g.of(row) if g.target[k] or not target]
    return {(n.onset, n.pitch) for n in notes}


def _level_off_db(
    change: Change, said: Ground, done: NDArray[np.float32], true: Ground
) -> float:
    """Error of the predicted level of the changed lines, dB; NaN where they rest."""
    rows = [k for k, what, _ in change.edits if what != "rest"]
    off = []
    for row in rows:
        told, there = change.power[row].sum(), done[row].sum()
        was_said, was = said.power[row].sum(), true.power[row].sum()
        if min(told, there) <= 0:
            continue
        # Of lines that played before, the change counts, not the estimate it began from.
        shift = 0.0 if min(was_said, was) <= 0 or row in change.given else (was_said, was)
        start = 0.0 if shift == 0.0 else 10 * np.log10(shift[0] / shift[1])
        off.append(10 * np.log10(told / there) - start)
    return float(np.mean(off)) if off else float("nan")


def _chosen(
    g: Ground, finding: Finding, before: Hearing, each: int
) -> Iterator[tuple[Idea, Hearing]]:
    """One idea of each kind that is said to help, at most `each`."""
    seen: set[str] = set()
    for idea in ideas(g, finding):
        if idea.kind in seen or len(seen) >= each:
            continue
        said = hear(g, idea.change)
        if said.margin_db - before.margin_db >= 1.0:
            seen.add(idea.kind)
            yield idea, said


def run(seed: int, font: str, sources: list[str], each: int) -> list[Outcome]:
    """Make one case, try its remedies, do them."""
    studio = Studio(compose(seed), font, Options(font=font))
    with tempfile.TemporaryDirectory() as folder:
        write_page(studio.passage, Path(folder, "score.musicxml"))
        score = read_score(Path(folder, "score.musicxml"))
    timeline = timeline_of(studio, score)
    onset, offset = note_times(score, timeline)
    mix = studio.stems.sum(axis=0)
    gain = calibration_db(mix)
    true = stem_spectra(studio.stems, gain)
    intent, windows = read_intent(score), windows_of(score, onset, offset)
    out: list[Outcome] = []
    for source in sources:
        spectra = (
            true if source == "stems" else _from_mix(mix, score, onset, offset, gain, font)
        )
        heard = listen(spectra, windows, groups_of(intent, score), LIMITS)
        s = scene(score, timeline, windows, intent, heard, LIMITS)
        found = [f for f in judge(score, timeline, windows, intent, heard, LIMITS)
                 if f.kind in ("covered", "faint")]  # fmt: skip
        for finding in found[:_HEAVIEST]:
            out += _outcomes(studio, s, spectra, true, finding, gain, (font, source, each))
    return out


def _from_mix(
    mix: NDArray[np.float32], score: Score, onset: NDArray[np.float64],
    offset: NDArray[np.float64], gain: float, font: str,
) -> LineSpectra:  # fmt: skip
    notes = played_notes(score, onset, offset)
    fair = OTHER_SOURCES[fonts.FONTS[font].group]
    return mix_spectra(mix, notes, line_timbres(score), gain, sources=fair)


def _outcomes(
    studio: Studio, s: Scene, spectra: LineSpectra, true: LineSpectra, finding: Finding,
    gain: float, named: tuple[str, str, int],
) -> list[Outcome]:  # fmt: skip
    font, source, each = named
    here, there = cut(s, spectra, finding), cut(s, true, finding)
    if here is None or there is None:
        return []
    before, was = hear(here), hear(there)
    out = []
    for idea, said in _chosen(here, finding, before, each):
        stems = studio.again(edited(here, idea.change, studio.passage))
        done = cut(s, stem_spectra(stems, gain), finding)
        assert done is not None
        now = hear(there, replace(idea.change, power=done.power))
        off = _level_off_db(idea.change, here, done.power, there)
        out.append(Outcome(idea.kind, font, source, said, now, before, was, off))
        told, truly = said.margin_db - before.margin_db, now.margin_db - was.margin_db
        print(f"{studio.passage.seed} {font} {source} {idea.kind:8} said "
              f"{before.ratio:.3f}->{said.ratio:.3f} {told:+5.1f} dB"
              f" done {was.ratio:.3f}->{now.ratio:.3f} {truly:+5.1f} dB"
              f" level off {off:+.1f} dB", flush=True)  # fmt: skip
    return out


def show(title: str, rows: list[Outcome]) -> None:
    if not rows:
        return
    off = np.array([r.level_off_db for r in rows])
    off = off[np.isfinite(off)]
    near = float((np.abs(off) <= 2.0).mean()) if off.size else float("nan")
    middle = float(np.median(np.abs(off))) if off.size else float("nan")
    log = np.array(
        [np.log10(r.said.ratio + 1e-4) - np.log10(r.done.ratio + 1e-4) for r in rows]
    )
    way = float(np.mean([r.direction for r in rows]))
    spread = float(np.sqrt((log**2).mean()))
    right = float(np.mean([r.state for r in rows]))
    print(f"{title:22} n {len(rows):3}  direction {way:.2f}  "
          f"state {right:.2f}  level within 2 dB {near:.2f} "
          f"(median {middle:.1f} dB)  sd of lg ratio {spread:.2f}")  # fmt: skip


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--seeds", type=int, nargs=2, default=(7000, 7008))
    parser.add_argument(
        "--fonts", nargs="+", default=["fluid", "timgm"], choices=list(fonts.FONTS)
    )
    parser.add_argument("--from", dest="sources", nargs="+", default=["stems"])
    parser.add_argument("--each", type=int, default=5)
    given = parser.parse_args()
    rows: list[Outcome] = []
    for seed in range(*given.seeds):
        for font in given.fonts:
            rows += run(seed, font, given.sources, given.each)
    for source in given.sources:
        own = [r for r in rows if r.source == source]
        show(f"from {source}", own)
        for font in given.fonts:
            show(f"  {font}", [r for r in own if r.font == font])
        for kind in KINDS:
            show(f"  {kind}", [r for r in own if r.kind == kind])


if __name__ == "__main__":
    main()
