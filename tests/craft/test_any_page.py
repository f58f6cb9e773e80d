"""Laws that hold for every page, however wild, made from a seed."""

import numpy as np
import pytest

from auditor.craft.checking import remarks_on
from auditor.craft.limits import CraftLimits
from auditor.craft.remark import in_order
from auditor.score.instruments import entry

KEYS = (
    "piccolo", "flute", "oboe", "clarinet", "bassoon", "contrabassoon", "horn", "trumpet",
    "trombone", "tuba", "timpani", "snare-drum", "percussion", "marimba", "crotales", "celesta",
    "harp", "piano", "organ", "guitar", "soprano", "choir", "violin", "viola", "cello",
    "double-bass", "string-section", "ondes-martenot",
)  # fmt: skip
WORDS = ("pizz.", "arco", "div.", "non div.", "con sord.", "senza sord.", "a2", "1.", "solo")
TECHNIQUES = ("harmonic", "tremolo", "arpeggio", "glissando", "accent", "staccato", "trill")


def wild_page(made, seed):
    rng = np.random.default_rng(seed)
    keys = [str(key) for key in rng.choice(KEYS, 8)]
    parts = []
    for key in keys:
        one = entry(key).instrument
        notes = []
        for _ in range(int(rng.integers(0, 60))):
            pitch = int(rng.integers(max(0, one.low - 6), min(127, one.high + 6)))
            techniques = tuple(sorted(rng.choice(TECHNIQUES, int(rng.integers(0, 3)), False)))
            notes.append(
                made.note(
                    rng.integers(0, 128) / 4, pitch, float(rng.choice((0.25, 1.0, 3.0))),
                    grace=bool(rng.random() < 0.1), dynamic=float(rng.integers(-1, 7)),
                    techniques=tuple(map(str, techniques)), voice=str(rng.integers(1, 3)),
                )
            )  # fmt: skip
        parts.append((key, sorted(notes, key=lambda n: n["onset"])))
    words = [
        (int(rng.integers(1, 9)), float(rng.integers(0, 128)) / 4, str(rng.choice(WORDS)))
        for _ in range(12)
    ]
    tempo = None if seed % 3 == 0 else float(rng.integers(40, 180))
    return made.page(parts, bars=8, tempo=tempo, directions=sorted(words, key=lambda w: w[1]))


@pytest.mark.parametrize("seed", range(24))
def test_remarks_speak_of_what_is_there_in_whole_sentences_and_in_order(made, seed):
    score = wild_page(made, seed)
    found = remarks_on(score)
    notes = {n.id: n for n in score.notes}
    assert found == in_order(found)
    for remark in found:
        assert 0 <= remark.part <= len(score.parts)
        assert 0 <= remark.first_bar <= remark.last_bar < len(score.bars)
        assert set(remark.notes) <= set(notes)
        assert remark.part == 0 or {notes[n].part for n in remark.notes} <= {remark.part}
        for sentence in (remark.sentence, remark.why, remark.remedy):
            assert sentence[:1].isupper() or sentence[:1].isdigit()
            assert sentence.endswith((".", ")"))


@pytest.mark.parametrize("seed", range(6))
def test_the_same_page_draws_the_same_remarks(made, seed):
    assert remarks_on(wild_page(made, seed)) == remarks_on(wild_page(made, seed))


def test_an_empty_page_draws_no_remark(made):
    assert remarks_on(made.page([("harp", []), ("violin", [])], bars=1), CraftLimits()) == ()
