"""How surely a part's transposition is told: real scores with one part's spoilt at a time.

    python tests/bench/transpositions.py FOLDER

Every MusicXML score below the folder is read; each part with a transposition is then read
again with it taken away, with another written in, and with its notes written at pitch, and
it is counted how often the reader finds the right sounding notes, keeps the file's (said or
not), or takes a third reading.
"""

import argparse
import copy
from collections import Counter
from dataclasses import replace
from pathlib import Path

import numpy as np

from auditor.score import casting, grid, reading, sheet, shorthand
from auditor.score.opening import open_xml

# Another common transposition to write in by mistake.
WRONG = {-2: -7, -3: -2, -7: -2, -9: -2, -14: -2, 12: 0, -12: 0}


def opened(path):
    root = open_xml(path)
    shorthand.write_out(root)
    sheets = sheet.scan(root)
    bars = grid.lay_out(sheets)
    strings = reading._has_strings(sheets)
    parts = [reading._part(one, beside_strings=strings) for one in sheets]
    heads = [reading._heads(one, part) for one, part in zip(sheets, parts, strict=True)]
    return parts, sheets, heads, bars


def pitches(roles, heads, index):
    return np.array(
        [
            h.pitch + h.lift + roles[index].shift[h.element]
            for h in heads[index]
            if h.element in roles[index].shift
        ]
    )


def spoilt(one, own, way, shift):
    """A copy of a part with its transposition spoilt in one way."""
    one = copy.copy(one)
    kept = [m for m in one.marks if m.kind != "transpose"]
    if way == "taken away":
        one.marks = kept
    elif way == "another":
        wrong = WRONG.get(shift, 0)
        one.marks = [replace(m, text=str(wrong)) if m.kind == "transpose" else m
                     for m in one.marks]  # fmt: skip
    else:
        if way == "at pitch":
            one.marks = kept
        own = [replace(h, pitch=min(127, max(0, h.pitch + shift))) for h in own]
    return one, own


def tried(path, tally, said):
    parts, sheets, heads, bars = opened(path)
    roles = casting.cast(parts, sheets, heads, bars)
    for index, one in enumerate(sheets):
        shifts = {int(m.text) for m in one.marks if m.kind == "transpose"}
        if len(shifts) != 1 or not shifts - {0} or len(heads[index]) < 8:
            continue
        shift = shifts.pop()
        right = pitches(roles, heads, index)
        key = parts[index].instrument.key
        for way in ("taken away", "another", "at pitch", "at pitch, transposed again"):
            changed, own = spoilt(one, heads[index], way, shift)
            some, notes = list(sheets), list(heads)
            some[index], notes[index] = changed, own
            found = casting.cast(parts, some, notes, bars)
            got = pitches(found, notes, index)
            share = float(np.mean(got == right)) if got.size == right.size else 0.0
            given = "right" if share > 0.9 else "other"
            marks = [int(m.text) for m in changed.marks if m.kind == "transpose"]
            own_shift = marks[0] if marks else 0
            written = np.array(
                [h.pitch + h.lift for h in own if h.element in roles[index].shift]
            )
            if given == "other" and got.size and np.mean(got == written + own_shift) > 0.9:
                given = "as given, said" if found[index].remarks else "as given, unsaid"
            tally[(way, key, given)] += 1
            if given != "right":
                said.append(f"{path.parent.name} {parts[index].name} {shift} {way}: {given} "
                            f"{found[index].remarks}")  # fmt: skip


def main():
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--all", action="store_true", help="list what was not found")
    arguments = parser.parse_args()
    tally, said = Counter(), []
    for path in sorted(arguments.folder.rglob("*.mxl")):
        tried(path, tally, said)
    for (way, key, given), count in sorted(tally.items()):
        print(f"{way:28s} {key:16s} {given:18s} {count}")
    if arguments.all:
        print("\n".join(said))


if __name__ == "__main__":
    main()
