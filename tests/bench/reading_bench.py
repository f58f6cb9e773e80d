"""How scores are read, movement by movement, and beside two other readings of the same pages.

    python tests/bench/reading_bench.py FOLDER [--only NAME]

FOLDER holds one folder a movement with ``score.mxl`` (or another MusicXML file) in it and, if
there is one, ``highest_pitches.csv``: the highest sounding pitch of each part at each moment of
the unfolded score, made by music21. Needs partitura. Printed for each movement: parts, notes of
the page, bars of the page and as played, length, instruments not recognised, signs in the file
and signs kept, remarks, seconds to read and to open from the cache, notes outside the range
their instrument has. Then the classes of difference from partitura's noteheads and from the
table, counted; an example of each class is named.
"""

import argparse
import csv
import os
import tempfile
import time
import warnings
from collections import Counter, defaultdict
from pathlib import Path

import numpy as np

from auditor.score import cache
from auditor.score.opening import open_xml
from auditor.score.reading import read_score

STEPS = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}
# Of the file's signs, what the reader carries as directions or on notes.
SIGNS = ("dynamics", "wedge", "words", "rehearsal", "metronome", "slur", "articulations",
         "ornaments", "technical", "fermata")  # fmt: skip
AFTER = 0.04  # quarters
NEAR = 0.03  # quarters by which two roundings of a tuplet differ


def midi(name):
    """MIDI number of ``B-4`` or ``F#5``."""
    step, rest = name[0], name[1:]
    octave = rest.lstrip("#-b") if not rest.lstrip("#b").startswith("-") else ""
    signs = rest[: len(rest) - len(octave)] if octave else rest[:-1]
    octave = octave or rest[-1]
    return 12 * (int(octave) + 1) + STEPS[step] + signs.count("#") - signs.count("-")


def seconds(action):
    start = time.process_time()
    result = action()
    return result, time.process_time() - start


def figures(path, score):
    """Counts of one movement."""
    root = open_xml(path)
    signs = {tag: sum(1 for _ in root.iter(tag)) for tag in SIGNS}
    once = [n for n in score.notes if score.bars[n.bar].pass_number == 1]
    lines = {line.number: line for line in score.lines}
    out = [
        (lines[n.line].instrument.key, n.spelling, score.bars[n.bar].number)
        for n in once
        if n.pitch and not n.grace and lines[n.line].instrument.pitched
        and not lines[n.line].instrument.low <= n.pitch <= lines[n.line].instrument.high
    ]  # fmt: skip
    return once, signs, out


def kept(score, once):
    """Signs that reached the score, on its first passing."""
    first = {b.index for b in score.bars if b.pass_number == 1}
    kinds = Counter(d.kind for d in score.directions if d.bar in first)
    kinds["on notes"] = sum(len(n.techniques) for n in once)
    return kinds


def theirs(path):
    """Noteheads by part in partitura's reading: onset from the first barline, pitch, length."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        import partitura

        loaded = partitura.load_score(str(path))
        found = []
        for part in loaded.parts:
            rows = []
            quarter = part.quarter_map
            bars = {m: k for k, m in enumerate(part.measures)}
            starts = np.array([m.start.t for m in bars])
            for note in part.notes_tied:
                bar = int(np.searchsorted(starts, note.start.t, side="right") - 1)
                at = float(quarter(note.start.t) - quarter(starts[max(bar, 0)]))
                rows.append((bar, at, note.midi_pitch, type(note).__name__ == "GraceNote"))
            found.append(rows)
    return found


def beside_partitura(path, score, tally, examples):
    """Pair our noteheads (each bar of the page once) with theirs, part by part."""
    parts = theirs(path)
    if len(parts) != len(score.parts):
        tally["the parts are counted differently"] += 1
        return
    ours = defaultdict(list)
    for note in score.notes:
        bar = score.bars[note.bar]
        if bar.pass_number == 1 and not note.unpitched and not note.id.endswith("b"):
            ours[note.part].append((bar.written_index, note.beat - 1, note.written_pitch,
                                    note.grace, bar.number))  # fmt: skip
    for part, rows in zip(score.parts, parts, strict=True):
        # Written pitches on both sides; transpositions are judged by the table.
        left = Counter((b, round(a / NEAR), p) for b, a, p, _ in rows)
        total = len(ours[part.number])
        tally["noteheads of ours"] += total
        tally["noteheads of theirs"] += len(rows)
        missing = []
        for bar, at, pitch, grace, number in ours[part.number]:
            near = [(bar, round(at / NEAR) + d, pitch) for d in (0, -1, 1, -2, 2)]
            slot = next((key for key in near if left[key] > 0), None)
            if slot is None:
                missing.append((bar, at, pitch, grace, number))
            else:
                left[slot] -= 1
                tally["noteheads that agree"] += 1
        spare = [k for k, c in left.items() for _ in range(c)]
        classify(path, part, missing, spare, tally, examples)


def classify(path, part, missing, spare, tally, examples):
    """Name the way in which noteheads of one reading have no twin in the other."""
    by_pitch = defaultdict(list)
    for bar, slot, pitch in spare:
        by_pitch[(bar, pitch)].append(slot)
    for bar, _, pitch, grace, number in missing:
        name = f"{path.parent.name} {part.name} bar {number}"
        if by_pitch[(bar, pitch)]:
            by_pitch[(bar, pitch)].pop()
            kind = "the same note of a bar at another place"
        elif grace:
            kind = "a grace note only we have"
        else:
            kind = "a note only we have"
        tally[kind] += 1
        examples.setdefault(f"{kind}, {path.parent.name}", []).append(name)
    for (bar, pitch), slots in by_pitch.items():
        if slots:
            tally["a note only they have"] += len(slots)
            examples.setdefault(f"a note only they have, {path.parent.name}", []).append(
                f"{part.name} bar index {bar} pitch {pitch}"
            )


def sounding(score):
    """Highest pitch of each part as steps over the played axis."""
    found = {}
    for part in score.parts:
        notes = [n for n in score.notes if n.part == part.number and n.pitch and not n.grace]
        found[part.number] = (
            np.array([n.onset for n in notes]),
            np.array([n.onset + n.duration for n in notes]),
            np.array([n.pitch for n in notes]),
        )
    return found


def beside_table(table, score, tally, examples):
    """Hold the table's highest pitches against ours, column by column in score order."""
    with table.open(encoding="utf-8") as file:
        rows = list(csv.reader(file))
    names, body = rows[0][4:], rows[1:]
    if len(names) != len(score.parts):
        tally["columns and parts differ in number"] += 1
        examples[table.parent.name] = f"{len(names)} columns, {len(score.parts)} parts"
    high = sounding(score)
    for column, number in pair(names, score.parts).items():
        wrong, where = Counter(), {}
        for bar, at, row in placed(body, score):
            kind = compared(high[number], bar, at, row[4 + column])
            wrong[kind] += 1
            where.setdefault(kind, row[2])
        tally.update(wrong)
        odd = {kind: f"{count}, first in bar {where[kind]}" for kind, count in wrong.items()
               if kind not in ("the same", "behind the end of the bar")}  # fmt: skip
        if odd:
            examples[f"{table.parent.name} {names[column]}"] = odd


def placed(rows, score):
    """Bar and place of each row: by its bar and beat, for music21 lets bars drift.

    One bar too long or too short in one part shifts all behind it there; here each row goes to
    the bar of its number, in the same passing.
    """
    ours = defaultdict(list)
    for bar in score.bars:
        ours[bar.number].append(bar)
    turns, beat, begin = Counter(), 1.0, []
    groups = []
    for row in rows:
        if not begin or begin[0][2] != row[2] or float(row[3]) <= float(begin[-1][3]):
            begin = []
            groups.append(begin)
        begin.append(row)
    for group in groups:
        number, first, at = group[0][2], float(group[0][0]), float(group[0][3]) - 1.0
        if len(group) > 1:
            beat = (float(group[1][0]) - first) / (float(group[1][3]) - float(group[0][3]))
        turn, turns[number] = turns[number], turns[number] + 1
        if turn < len(ours[number]):
            for row in group:
                yield ours[number][turn], at * beat + float(row[0]) - first, row


def compared(notes, bar, at, said):
    """Class of one entry of the table beside what sounds here."""
    start, end, pitch = notes
    if at > bar.duration - 1e-6:
        return "behind the end of the bar"
    # Just behind the row: the table has none where notes only end.
    here = bar.onset + at + AFTER
    found = pitch[(start <= here) & (end > here)]
    mine, theirs = int(found.max()) if found.size else 0, 0 if said == "r" else midi(said)
    if mine == theirs:
        return "the same"
    if not mine or not theirs:
        return "a rest here only" if theirs else "a rest in the table only"
    return "an octave apart" if (mine - theirs) % 12 == 0 else "another pitch"


def pair(names, parts):
    """Column to part: by position where the counts agree, else by equal names in order."""
    if len(names) == len(parts):
        return {k: p.number for k, p in enumerate(parts)}
    plain = lambda text: "".join(text.lower().split())  # noqa: E731
    left = list(parts)
    found = {}
    for k, name in enumerate(names):
        twin = next((p for p in left if plain(p.name) == plain(name)), None)
        if twin is not None:
            found[k] = twin.number
            left.remove(twin)
    return found


def main():
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--only", default="", help="movements whose name contains this")
    arguments = parser.parse_args()
    beside, against = Counter(), Counter()
    examples, columns, totals, outside = {}, {}, Counter(), Counter()
    print("movement | parts | notes | bars page/played | quarters | unknown | "
          "signs file/kept | remarks | read s | cached s | out of range")  # fmt: skip
    for path in sorted(arguments.folder.rglob("*.mxl")):
        if arguments.only not in path.parent.name:
            continue
        with tempfile.TemporaryDirectory() as kept_in:
            os.environ[cache.VARIABLE] = kept_in
            score, read = seconds(lambda path=path: read_score(path))
            _, cached = seconds(lambda path=path: read_score(path))
        once, signs, out = figures(path, score)
        unknown = [p.name for p in score.parts if not p.instrument.known]
        here = kept(score, once)
        outside.update(out)
        totals.update(
            {"parts": len(score.parts), "notes": len(once), "unknown": len(unknown),
             "remarks": len(score.remarks), "out of range": len(out)}
        )  # fmt: skip
        totals.update({f"in file: {k}": v for k, v in signs.items()})
        totals.update({f"kept: {k}": v for k, v in here.items()})
        print(f"{path.parent.name} | {len(score.parts)} | {len(once)} | {score.written_bars}/"
              f"{len(score.bars)} | {score.duration:.0f} | {len(unknown)} | "
              f"{sum(signs.values())}/{sum(here.values())} | {len(score.remarks)} | "
              f"{read:.2f} | {cached:.3f} | {len(out)}", flush=True)  # fmt: skip
        own = Counter(note.part for note in once)
        print("    " + ", ".join(f"{p.name} ({p.instrument.key}) {own[p.number]}"
                                 for p in score.parts))  # fmt: skip
        for remark in score.remarks:
            print(f"    {remark}")
        beside_partitura(path, score, beside, examples)
        table = path.parent / "highest_pitches.csv"
        if table.is_file():
            beside_table(table, score, against, columns)
    print("\nin all:", dict(totals))
    print("\noutside the range:", dict(outside))
    print("\nbeside partitura:", dict(beside))
    for kind, where in examples.items():
        print(f"    {kind}: {len(where)} places, {where[0]} to {where[-1]}")
    print("\nbeside the table:", dict(against))
    for kind, where in columns.items():
        print(f"    {kind}: {where}")


if __name__ == "__main__":
    main()
