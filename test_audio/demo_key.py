"""What is wrong with the demo overture on purpose: the answers an audit should find."""

from __future__ import annotations

import json
from pathlib import Path

FAULTS = (
    {
        "kind": "covered",
        "part": "Flute",
        "bars": [11, 14],
        "by": ["Violin II", "Violin I", "Horn 1 in F", "Horn 2 in F", "Viola"],
        "what": "The flute has the theme, marked solo, in its weak low octave, while horns and "
        "all strings hold chords at forte in the same octave.",
        "mend": "Strings and horns down to piano, or the flute an octave higher.",
    },
    {
        "kind": "covered",
        "part": "Bassoon",
        "bars": [15, 18],
        "by": ["Violin II", "Violin I", "Tuba", "Trombone", "Horn 1 in F", "Horn 2 in F"],
        "what": "The bassoon's countermelody, mezzo-forte, solo and espressivo, lies "
        "between the second violins' theme at forte and the chords of the low brass.",
        "mend": "Low brass out and second violins silent, or cellos with the bassoon at forte.",
    },
    {
        "kind": "covered",
        "part": "Harp",
        "bars": [19, 22],
        "by": ["Violoncello", "Double Bass", "Viola"],
        "what": "The harp's solo, piano in its middle register, runs under forte pizzicato of "
        "cellos and basses in the same octaves, with violas and second violins between.",
        "mend": "Pizzicato down to piano and fewer notes, or the harp an octave higher.",
    },
    {
        "kind": "covered",
        "part": "Viola",
        "bars": [23, 26],
        "by": ["Trumpet in B♭", "Trombone", "Horn 1 in F", "Horn 2 in F"],
        "what": "The violas' espressivo theme, mezzo-piano, stands between forte chords "
        "of trumpet, horns and trombone.",
        "mend": "Brass down to piano, or violins and cellos join the theme.",
    },
    {
        "kind": "idle-doubling",
        "part": "Clarinet in B♭",
        "bars": [27, 29],
        "by": ["Trumpet in B♭"],
        "what": "The clarinet doubles the trumpet's fortissimo theme in unison: nothing of it "
        "is heard.",
        "mend": "Free the clarinet, for example with the flute an octave lower.",
    },
    {
        "kind": "idle-doubling",
        "part": "Harp",
        "bars": [27, 29],
        "by": ["Xylophone"],
        "what": "The harp doubles the xylophone's figure in unison; at forte only the "
        "xylophone is heard.",
        "mend": "Let the harp rest, or give it chords of its own.",
    },
)

WORKS = (
    {"part": "Clarinet in B♭", "bars": [3, 6], "what": "theme over soft pizzicato"},
    {"part": "Flute", "bars": [7, 10], "what": "theme in its clear octave"},
    {"part": "Violin I", "bars": [15, 18], "what": "theme in octaves with Violin II"},
    {"part": "Trumpet in B♭", "bars": [27, 30], "what": "theme of the close"},
    {"part": "Horn 1 in F", "bars": [31, 32], "what": "closing solo over soft strings"},
)


def _line(fault: dict) -> str:
    first, last = fault["bars"]
    cells = (
        f"{first}–{last}",
        fault["part"],
        fault["kind"],
        ", ".join(fault["by"]),
        fault["what"],
        fault["mend"],
    )
    return f"| {' | '.join(cells)} |"


def write_key(folder: Path) -> None:
    """Write ``key.json`` and ``KEY.md`` into `folder`."""
    answers = {"schema_version": 1, "faults": FAULTS, "works": WORKS}
    text = json.dumps(answers, ensure_ascii=False, indent=1)
    (folder / "key.json").write_text(text + "\n", encoding="utf-8")
    lines = [
        "# Key to the demo",
        "",
        "Faults written into the overture on purpose, bars and parts as printed. Levels are",
        "those the instruments have by nature at the written dynamics; no fader was moved.",
        "",
        "| bars | part | kind | covered or made idle by | what is wrong | one way to mend it |",
        "|---|---|---|---|---|---|",
        *(_line(fault) for fault in FAULTS),
        "",
        "Inner voices and the bass under a loud top may be remarked on besides, lightly.",
        "",
        "What works, and should not be reported as covered:",
        "",
        *(f"- {w['part']}, bars {w['bars'][0]}–{w['bars'][1]}: {w['what']}" for w in WORKS),
        "",
    ]
    (folder / "KEY.md").write_text("\n".join(lines), encoding="utf-8")
