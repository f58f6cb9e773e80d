"""The demo case is what its key and its note of origin say.

The writing was balanced while hearing it through the model (ORIGIN.md), so finding its faults
shows that the program still works from end to end; it is no evidence on hearing.
"""

import json
from pathlib import Path

import numpy as np
import pytest

from auditor.auditing import audit
from auditor.case import open_case
from auditor.score.reading import read_score
from auditor.sound.reading import read_sound

DEMO = Path(__file__).parents[2] / "test_audio" / "demo"
KEY = json.loads((DEMO / "key.json").read_text(encoding="utf-8"))


@pytest.fixture(scope="module")
def found():
    return audit(open_case(DEMO))


def test_stems_add_up_to_the_mix():
    mix = read_sound(DEMO / "mix.ogg").samples
    stems = [read_sound(path).samples for path in sorted((DEMO / "stems").glob("*.ogg"))]
    rest = np.sum(stems, axis=0) - mix
    # Only the loss of the encoding is left: 15 dB down, as lossy coders leave it
    # (common practice, no source).
    assert np.sum(rest**2) < 10**-1.5 * np.sum(mix**2)


def test_parts_are_transposed_and_tuned_as_written():
    score = read_score(DEMO / "score.musicxml")
    shift = {
        score.parts[n.part - 1].name: n.pitch - n.written_pitch for n in score.notes if n.pitch
    }
    # Ranges and transpositions as in any handbook of instrumentation.
    assert shift["Clarinet in B♭"] == shift["Trumpet in B♭"] == -2
    assert shift["Horn 1 in F"] == shift["Horn 2 in F"] == -7
    assert shift["Alto Saxophone in E♭"] == -9
    assert shift["Double Bass"] == -12
    assert shift["Xylophone"] == 12
    for note in score.notes:
        instrument = score.parts[note.part - 1].instrument
        assert instrument.low <= note.pitch <= instrument.high, note.id


def test_key_names_parts_of_the_score():
    names = {part.name for part in read_score(DEMO / "score.musicxml").parts}
    for fault in KEY["faults"]:
        assert {fault["part"], *fault["by"]} <= names


@pytest.mark.parametrize("fault", KEY["faults"], ids=lambda f: f"{f['part']} {f['bars'][0]}")
def test_audit_from_stems_finds_the_fault(found, fault):
    names = {part.number: part.name for part in found.score.parts}
    first, last = fault["bars"]
    places = [
        f
        for f in found.findings
        if f.kind == fault["kind"]
        and names[f.parts[0]] == fault["part"]
        and f.first_bar + 1 <= last
        and f.last_bar + 1 >= first
    ]
    assert places
    assert names[found.score.lines[places[0].covers[0].line - 1].part] in fault["by"] or (
        fault["kind"] == "idle-doubling"
    )


@pytest.mark.parametrize("good", KEY["works"], ids=lambda w: f"{w['part']} {w['bars'][0]}")
def test_audit_from_stems_lets_good_places_be(found, good):
    names = {part.number: part.name for part in found.score.parts}
    first, last = good["bars"]
    assert not [
        f
        for f in found.findings
        if f.kind in ("covered", "idle-doubling")
        and names[f.parts[0]] == good["part"]
        and f.first_bar + 1 <= last
        and f.last_bar + 1 >= first
    ]
