"""From a MusicXML file to remarks: what the reader gives is what the checks count on."""

import pytest

from auditor.craft.checking import remarks_on
from auditor.score.reading import read_score

OCTAVE_LOWER = (
    "<transpose><diatonic>0</diatonic><chromatic>0</chromatic>"
    "<octave-change>-1</octave-change></transpose>"
)
ROLLED = "<notations><arpeggiate/></notations>"
CIRCLE = "<notations><technical><harmonic><natural/></harmonic></technical></notations>"


def note(name, length=16, *, chord=False, staff=1, extra=""):
    """One note by name (``F#4``); 16 is a whole bar."""
    alter = name.count("#") - name.count("b")
    return (
        f"<note>{'<chord/>' if chord else ''}<pitch><step>{name[0]}</step>"
        f"{f'<alter>{alter}</alter>' if alter else ''}<octave>{name[-1]}</octave></pitch>"
        f"<duration>{length}</duration><voice>{4 * staff - 3}</voice><staff>{staff}</staff>"
        f"{extra}</note>"
    )


def chord(names, length=16, **more):
    return "".join(note(n, length, chord=k > 0, **more) for k, n in enumerate(names.split()))


def drum(step, *, more=False):
    return (
        f"<note>{'<chord/>' if more else ''}<unpitched><display-step>{step}</display-step>"
        f"<display-octave>5</display-octave></unpitched><duration>16</duration>"
        f"<voice>1</voice></note>"
    )


def words(text):
    return f"<direction><direction-type><words>{text}</words></direction-type></direction>"


def staves(right, left):
    return f"{right}<backup><duration>16</duration></backup>{left}"


PAGE = {
    "Violin I": [
        chord("G3 B3"),
        words("div.") + chord("G3 B3"),
        words("non div.") + chord("G3 B3"),
        note("A3", extra=CIRCLE),
    ],
    "Solo Violin": [chord("G3 B3"), chord("A3 B4"), note("E4"), note("E4")],
    "Contrabass": [note("C2"), note("E2"), note("E3"), note("E3")],
    "Harp": [
        staves(chord("C4 C#5"), note("C2", staff=2)),
        staves(chord("C4 E4 G4 C5 E5"), chord("C2 E2 G2 C3", staff=2)),
        staves(chord("C4 E4 G4 C5 E5", extra=ROLLED), chord("C2 E2 G2 C3", staff=2)),
        staves(
            "".join(note(n, 1) for n in ("F4", "F#4", "F4", "F#4")) + note("A4", 12),
            note("C2", staff=2),
        ),
    ],
    "Timpani": [
        chord("G2 C3"),
        note("C2"),
        "".join(note(n, 1) for n in ("F2", "E2", "Eb2")) + note("D2", 13),
        note("A2"),
    ],
    "Marimba": [chord("C3 E3 G3 C4 E4"), chord("C3 E3 G3 C4"), note("C1"), note("C4")],
    "Snare Drum": [drum("C") + drum("E", more=True) + drum("G", more=True), *[drum("C")] * 3],
    "Piano": [
        staves(chord("C2 E2 G2 C3 E3 G3 C4 E4 G4 C5 E5"), note("C1", staff=2)),
        *[staves(note("C4"), note("C3", staff=2))] * 3,
    ],
}


@pytest.fixture(scope="module")
def found(tmp_path_factory):
    """Part, first bar, kind and weight of every remark on the page."""
    path = tmp_path_factory.mktemp("craft") / "page.musicxml"
    names, bodies = "", ""
    for k, (name, bars) in enumerate(PAGE.items(), start=1):
        names += f'<score-part id="P{k}"><part-name>{name}</part-name></score-part>'
        count = 2 if name in ("Harp", "Piano") else 1
        head = (
            f"<attributes><divisions>4</divisions><time><beats>4</beats><beat-type>4</beat-type>"
            f"</time><staves>{count}</staves>{OCTAVE_LOWER if name == 'Contrabass' else ''}"
            f'</attributes><sound tempo="96"/>'
        )
        bodies += f'<part id="P{k}">' + "".join(
            f'<measure number="{b}">{head if b == 1 else ""}{bar}</measure>'
            for b, bar in enumerate(bars, start=1)
        )
        bodies += "</part>"
    path.write_text(
        f'<score-partwise version="4.0"><part-list>{names}</part-list>{bodies}'
        f"</score-partwise>",
        encoding="utf-8",
    )
    score = read_score(path)
    return {
        (score.parts[r.part - 1].name, r.first_bar + 1, r.kind, r.weight)
        for r in remarks_on(score)
        if r.part
    }


@pytest.mark.parametrize(
    "expected",
    [
        ("Violin I", 1, "stop-needs-divisi", "risky"),
        ("Violin I", 3, "stop-not-fingered", "cannot be played"),
        ("Violin I", 4, "harmonic-out-of-reach", "cannot be played"),
        ("Solo Violin", 1, "stop-not-fingered", "cannot be played"),
        ("Solo Violin", 2, "wide-stop", "risky"),
        ("Contrabass", 1, "below-low-string", "worth a thought"),
        ("Harp", 1, "pedal-contradiction", "risky"),
        ("Harp", 2, "too-many-notes", "cannot be played"),
        ("Harp", 4, "pedals-impossible", "risky"),
        ("Timpani", 1, "drums-together", "worth a thought"),
        ("Timpani", 2, "special-drum", "worth a thought"),
        ("Timpani", 3, "retuning-too-quick", "cannot be played"),
        ("Marimba", 1, "too-many-mallets", "cannot be played"),
        ("Marimba", 2, "four-mallets", "worth a thought"),
        ("Marimba", 3, "out-of-range", "cannot be played"),
        ("Snare Drum", 1, "strokes-at-once", "risky"),
        ("Piano", 1, "too-many-notes", "cannot be played"),
    ],
    ids=lambda one: f"{one[0]}-{one[1]}-{one[2]}",
)
def test_planted_faults_come_through_the_reader(found, expected):
    assert expected in found


def test_divided_and_rolled_chords_are_left_alone(found):
    own = ("stop-not-fingered", "stop-needs-divisi", "too-many-notes", "hand-too-wide")
    assert not {f for f in found if f[:2] == ("Violin I", 2) and f[2] in own}
    assert not {f for f in found if f[:2] == ("Harp", 3) and f[2] in own}
