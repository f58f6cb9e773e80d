"""Real scores at natural levels: the main strand must be heard, and found when lowered.

    repertory_bench.py FOLDER [--movements N] [--bars 32] [--font musescore] [--first BAR]

FOLDER holds one folder a movement with score.mxl and annotations.csv (columns qstamp and
part_num: from this written quarter on, this part is the main one, counted from 0). An
excerpt is rendered with a sound font at the natural levels of players and dynamics, in a
room, and audited; then once more with the main strand 12 dB down. Printed: the share of
time in which the main strand, or it or the layer that moves in its rhythm, is heard (true
stems, and from the mix), findings of weight 0.6 and more for 100 bars, and the share of
time in which the strand is found: at natural level, lowered (said to be lost or too soft for
its mark; said to be lost), lowered where it is covered by the true stems, and at natural
level where it is clear by them. Its rests do not count.
"""

from __future__ import annotations

import argparse
import tempfile
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import fonts
import numpy as np
import soundfile
from audibility_estimate import OTHER_SOURCES
from numpy.typing import NDArray
from repertory_excerpt import Block, blocks, cut, measure_starts, sounds_at
from repertory_sound import Clock, clock, play_score

from auditor.auditing import Audit, audit
from auditor.case import Case
from auditor.hearing.audibility import listen
from auditor.hearing.measures import Group, Limits, NoteWindows
from auditor.score.notes import Score
from auditor.score.reading import read_score
from auditor.sound.level import calibration_db
from auditor.spectra.line_spectra import LineSpectra
from auditor.spectra.mixture import mix_spectra
from auditor.spectra.playing import is_sustained, line_timbres, played_notes
from auditor.spectra.stems import stem_spectra

LOWERED_DB, HEAVY = -12.0, 0.6
# Quarters from one counted moment to the next.
MOMENT = 0.25
HEARD = ("clear", "faint", "undecided")
# Ways to say that a strand is lost: to the ear, or as a mark that the rendering does not make.
LOST = ("covered", "faint")
TOO_SOFT = (*LOST, "dynamic")


@dataclass(frozen=True, slots=True)
class Excerpt:
    """An excerpt with its stems (parts with notes only), and the marked stretches."""

    name: str
    score: Score
    page: Path
    parts: list[int]
    stems: NDArray[np.float32]
    when: Clock
    marked: list[Block]


def audit_mix(excerpt: Excerpt, mix: NDArray[np.float32], sources: Sequence[str]) -> Audit:
    """Audit a mix as a user would; the one place that calls the whole program."""
    path = excerpt.page.with_suffix(".flac")
    soundfile.write(path, mix, fonts.RATE_HZ, subtype="PCM_24")
    return audit(Case(excerpt.page, path), excerpt.score, sources=sources)


def prepare(folder: Path, given: argparse.Namespace, scratch: Path) -> Excerpt:
    """Cut, read and play an excerpt."""
    page = scratch / "score.musicxml"
    starts = measure_starts(folder / "score.mxl", scratch)
    first = min(given.first, max(0, starts.size - 1 - given.bars))
    cut(folder / "score.mxl", page, first, given.bars)
    score = read_score(page)
    parts, stems = play_score(score, given.font)
    marked = blocks(folder / "annotations.csv", score, float(starts[first]))
    numbers = [part.number for part in parts]
    return Excerpt(folder.name, score, page, numbers, stems, clock(score), marked)


def windows_of(excerpt: Excerpt) -> NoteWindows:
    """When the notes sound, as rendered."""
    score, when = excerpt.score, excerpt.when
    row = {line.number: k for k, line in enumerate(score.lines)}
    on = np.array([when.at(n.onset) for n in score.notes])
    off = np.array([when.at(n.onset + n.duration) for n in score.notes])
    kinds = [score.lines[row[n.line]].instrument for n in score.notes]
    held = [is_sustained(n, kind) for n, kind in zip(score.notes, kinds, strict=True)]
    return NoteWindows(
        line=np.array([row[n.line] for n in score.notes]),
        onset_s=on,
        offset_s=np.maximum(off, on + 0.03),
        pitch=np.array([0 if n.unpitched else n.pitch for n in score.notes]),
        sustained=np.array(held),
        instrument=tuple(line.instrument.key for line in score.lines),
    )


def by_part(excerpt: Excerpt, windows: NoteWindows) -> tuple[NoteWindows, NDArray[np.int64]]:
    """Rewrite windows for stems: one row a part, because a stem holds the whole part."""
    row = {number: k for k, number in enumerate(excerpt.parts)}
    own = np.array([row[n.part] for n in excerpt.score.notes])
    keys = {p.number: p.instrument.key for p in excerpt.score.parts}
    names = tuple(keys[number] for number in excerpt.parts)
    return NoteWindows(
        own, windows.onset_s, windows.offset_s, windows.pitch, windows.sustained, names
    ), own


def _groups(excerpt: Excerpt) -> list[Group]:
    notes = excerpt.score.notes
    return [
        Group(str(k), np.array([
            i for i, n in enumerate(notes)
            if n.part in parts and block.start <= n.onset < block.stop
        ]))
        for k, (block, parts) in enumerate(
            (block, parts) for block in excerpt.marked for parts in (block.members, block.layer)
        )
    ]  # fmt: skip


def _moments(excerpt: Excerpt, block: Block) -> NDArray[np.bool_]:
    """Moments of a block, and whether the marked part sounds: its rests do not count."""
    quarters = np.arange(block.start, block.stop, MOMENT)
    return sounds_at(excerpt.score, block.part, quarters)


def heard_as(
    excerpt: Excerpt, spectra: LineSpectra, windows: NoteWindows
) -> list[tuple[str, str]]:
    """State of the main strand and of its layer in each block."""
    states = listen(spectra, windows, _groups(excerpt), Limits()).group_state
    return list(zip(states[::2], states[1::2], strict=True))


def heard_shares(excerpt: Excerpt, states: list[tuple[str, str]]) -> tuple[float, float]:
    """Share of the marked time in which the main strand is heard; or it or its layer is."""
    length = np.array([_moments(excerpt, block).sum() for block in excerpt.marked])
    ok = np.array([[state in HEARD for state in pair] for pair in states])
    strand, either = length[ok[:, 0]].sum(), length[ok.any(axis=1)].sum()
    return float(strand / length.sum()), float(either / length.sum())


def lowered(excerpt: Excerpt) -> NDArray[np.float32]:
    """Take whatever carries the main strand 12 dB down while it does."""
    out = excerpt.stems.copy()
    for block in excerpt.marked:
        a, b = (int(excerpt.when.at(q) * fonts.RATE_HZ) for q in (block.start, block.stop))
        for member in block.members:
            out[excerpt.parts.index(member), a:b] *= np.float32(10 ** (LOWERED_DB / 20))
    return out


def found_share(
    excerpt: Excerpt,
    result: Audit,
    wanted: Sequence[bool] | None = None,
    kinds: Sequence[str] = TOO_SOFT,
) -> float:
    """Share of the marked time that a finding of a carrier of the strand overlaps.

    `wanted` picks blocks; NaN if it leaves none. `kinds` are those that count.
    """
    hits = total = 0.0
    row = {line.number: line.part for line in excerpt.score.lines}
    blocks_wanted = excerpt.marked if wanted is None else [
        block for block, yes in zip(excerpt.marked, wanted, strict=True) if yes
    ]  # fmt: skip
    for block in blocks_wanted:
        quarters = np.arange(block.start, block.stop, MOMENT)
        steps = np.array([excerpt.when.at(q) for q in quarters])
        sounds = _moments(excerpt, block)
        found = np.zeros(steps.size, bool)
        for finding in result.findings:
            carried = {row[n] for n in finding.lines} & set(block.members)
            if finding.kind in kinds and carried:
                found |= (steps >= finding.start_s) & (steps < finding.end_s)
        hits, total = hits + (found & sounds).sum(), total + sounds.sum()
    return hits / total if total else float("nan")


def _mixed(stems: NDArray[np.float32]) -> NDArray[np.float32]:
    mix = stems.sum(axis=0)
    return np.asarray(mix * (0.8 / np.abs(mix).max()), np.float32)


def judge(excerpt: Excerpt, font: str) -> dict[str, float]:
    """All figures of one excerpt."""
    windows, mix = windows_of(excerpt), excerpt.stems.sum(axis=0)
    part_windows, _ = by_part(excerpt, windows)
    gain, sources = calibration_db(mix), OTHER_SOURCES[fonts.FONTS[font].group]
    true = heard_as(excerpt, stem_spectra(excerpt.stems, gain), part_windows)
    out = dict(zip(("stems", "stems or layer"), heard_shares(excerpt, true), strict=True))
    spectra = mix_spectra(
        mix, played_notes(excerpt.score, windows.onset_s, windows.offset_s),
        line_timbres(excerpt.score), gain, sources=sources,
    )  # fmt: skip
    from_mix = heard_as(excerpt, spectra, windows)
    out["mix"], out["mix or layer"] = heard_shares(excerpt, from_mix)
    low = lowered(excerpt)
    true_low = heard_as(excerpt, stem_spectra(low, gain), part_windows)
    out["stems -12"] = heard_shares(excerpt, true_low)[0]
    plain = audit_mix(excerpt, _mixed(excerpt.stems), sources)
    heavy = sum(f.weight >= HEAVY and f.kind != "works" for f in plain.findings)
    out["heavy/100"] = 100 * heavy / len(excerpt.score.bars)
    out["found"] = found_share(excerpt, plain)
    low_audit = audit_mix(excerpt, _mixed(low), sources)
    out["found -12"] = found_share(excerpt, low_audit)
    out["lost -12"] = found_share(excerpt, low_audit, kinds=LOST)
    lost = [state == "covered" for state, _ in true_low]
    out["found -12 of lost"] = found_share(excerpt, low_audit, lost)
    clear = [state == "clear" for state, _ in true]
    out["found of clear"] = found_share(excerpt, plain, clear)
    return out


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("folder", type=Path)
    parser.add_argument("--movements", type=int, default=6, help="evenly spread")
    parser.add_argument("--bars", type=int, default=32)
    parser.add_argument("--first", type=int, default=0, help="first bar of the excerpt, from 0")
    parser.add_argument("--font", default="musescore", choices=list(fonts.FONTS))
    return parser


def main() -> None:
    given = _parser().parse_args()
    folders = sorted(path.parent for path in given.folder.glob("*/score.mxl"))
    if not folders:
        raise SystemExit(f"{given.folder} holds no folders with score.mxl")
    step = max(1, len(folders) // given.movements)
    rows = []
    for folder in folders[::step][: given.movements]:
        with tempfile.TemporaryDirectory() as scratch:
            excerpt = prepare(folder, given, Path(scratch))
            if not excerpt.marked:
                print(f"{folder.name}: nothing is marked in these bars")
                continue
            rows.append(judge(excerpt, given.font))
        figures = "  ".join(f"{k} {v:.2f}" for k, v in rows[-1].items())
        print(f"{folder.name:28s} {len(excerpt.parts)} parts  {figures}", flush=True)
    for name in rows[0] if rows else ():
        print(f"mean {name:12s} {np.nanmean([row[name] for row in rows]):.3f}")


if __name__ == "__main__":
    main()
