"""Two players on one staff, as scores print them: remarks on chairs are those of two staves.

    python tests/bench/craft_pairs.py SCORE.mxl ...

The scores have a staff for each wind player. Pairs of them (first and second, third and
fourth of one instrument) are set on one staff by the usual custom: "a 2" where both have the
same, "1." or "2." where one has whole bars of rest, else stems up and down. Printed: remarks
of the chairs family on the separate page, on the joined one, and those that differ.
"""

from __future__ import annotations

import copy
import re
import sys
import tempfile
import zipfile
from itertools import pairwise
from pathlib import Path
from xml.etree import ElementTree as ET

from auditor.craft import chairs
from auditor.craft.limits import CraftLimits
from auditor.craft.page import Page
from auditor.score.reading import read_score

_NUMBERED = re.compile(r"^(.*\D)(\d)\s*$")


def opened(path: Path) -> ET.Element:
    """Root of a compressed or plain MusicXML file."""
    if path.suffix != ".mxl":
        return ET.parse(path).getroot()
    with zipfile.ZipFile(path) as held:
        names = [n for n in held.namelist() if n.endswith("xml") and "META-INF" not in n]
        return ET.fromstring(held.read(names[0]))


def joined(root: ET.Element) -> list[str]:
    """Set pairs on one staff each, in place; names of the joined staves."""
    listed = root.find("part-list")
    assert listed is not None
    rows = [p for p in listed if p.tag == "score-part"]
    parts = {p.get("id"): p for p in root.findall("part")}
    done: list[str] = []
    for first, second in pairwise(rows):
        one, two = (
            _NUMBERED.match((p.findtext("part-name") or "").strip()) for p in (first, second)
        )
        if not one or not two or one.group(1) != two.group(1) or int(one.group(2)) % 2 == 0:
            continue
        if int(two.group(2)) != int(one.group(2)) + 1 or "iol" in one.group(1):
            continue
        _join(parts[first.get("id")], parts[second.get("id")])
        name = f"{one.group(1).strip()}s {one.group(2)} & {two.group(2)}"
        first.find("part-name").text = name  # type: ignore[union-attr]
        listed.remove(second)
        root.remove(parts[second.get("id")])
        done.append(name)
    return done


def _join(upper: ET.Element, lower: ET.Element) -> None:
    said = ""
    scale, scale_up = 1, 1
    for one, two in zip(upper.findall("measure"), lower.findall("measure"), strict=True):
        if (found := one.findtext("attributes/divisions")) is not None:
            scale_up = int(found)
        if (found := two.findtext("attributes/divisions")) is not None:
            scale = int(found)
        a, b = _content(one, scale_up), _content(two, scale)
        now = "a 2" if a == b and a else "1." if a and not b else "2." if b and not a else ""
        if now == "2.":
            _move(one, two, scale_up / scale, keep=False)
        elif now == "":
            _move(one, two, scale_up / scale, keep=True)
        if now and now != said and (a or b):
            one.insert(_place(one), _words(now))
        said = now or ("" if (a or b) else said)


def _content(bar: ET.Element, divisions: int) -> list[tuple[object, ...]]:
    """Pitches and lengths of a bar's notes; empty where it rests."""
    found = []
    for note in bar.findall("note"):
        if note.find("rest") is None:
            length = float(note.findtext("duration") or 0) / divisions
            found.append((ET.tostring(note.find("pitch") or note), round(length, 4)))
    return found


def _stems(bar: ET.Element, way: str) -> None:
    """Turn the stems of a bar as a staff for two has them."""
    for stem in bar.iter("stem"):
        stem.text = way


def _move(one: ET.Element, two: ET.Element, scale: float, *, keep: bool) -> None:
    if keep:
        _stems(one, "up")
        _stems(two, "down")
    length = sum(
        float(n.findtext("duration") or 0)
        for n in one.findall("note")
        if n.find("chord") is None and (n.findtext("voice") or "1") == "1"
    )
    if not keep:
        for note in list(one):
            if note.tag in ("note", "backup", "forward", "direction"):
                one.remove(note)
    elif length:
        back = ET.SubElement(one, "backup")
        ET.SubElement(back, "duration").text = f"{length:g}"
    for item in two:
        if item.tag not in ("note", "backup", "forward", "direction"):
            continue
        moved = copy.deepcopy(item)
        for tag in ("duration", "offset"):
            for value in moved.iter(tag):
                value.text = f"{float(value.text or 0) * scale:g}"
        if moved.tag == "note" and keep:
            voice = moved.find("voice")
            if voice is not None:
                voice.text = str(int(voice.text or 1) + 2)
        one.append(moved)


def _place(bar: ET.Element) -> int:
    return next((i for i, item in enumerate(bar) if item.tag in ("note", "direction")), 0)


def _words(text: str) -> ET.Element:
    direction = ET.Element("direction", placement="above")
    ET.SubElement(ET.SubElement(direction, "direction-type"), "words").text = text
    return direction


def told(path: Path) -> set[tuple[str, str, str]]:
    """Remarks on chairs as kind, first bar and sentence."""
    score, limits = read_score(path), CraftLimits()
    return {
        (r.kind, score.bars[r.first_bar].number, r.sentence)
        for r in chairs.remarks(Page(score, limits), limits)
    }


def main() -> None:
    """Print the remarks that differ, and the sums."""
    for name in sys.argv[1:]:
        root = opened(Path(name))
        apart = told(Path(name))
        pairs = joined(root)
        with tempfile.TemporaryDirectory() as scratch:
            page = Path(scratch) / "score.musicxml"
            ET.ElementTree(root).write(page, encoding="utf-8", xml_declaration=True)
            both = told(page)
        print(f"{name}: {len(pairs)} pairs joined; {len(apart)} remarks on two staves, "
              f"{len(both)} on one, {len(apart & both)} the same")  # fmt: skip
        for mark, row in (("-", apart - both), ("+", both - apart)):
            for kind, bar, sentence in sorted(row):
                print(f"  {mark} bar {bar}: {kind}: {sentence}")


if __name__ == "__main__":
    main()
