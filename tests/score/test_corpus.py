"""Whole scores of music21's corpus, read beside partitura's reader."""

import time
import warnings
from pathlib import Path

import music21
import numpy as np
import pytest

from auditor.score.reading import read_score

CORPUS = Path(music21.__file__).parent / "corpus"

# Scores without repeat signs and with bars equally long in all parts, so that both readers
# lay out the same bars; voices, staves, ties, tuplets, grace notes and upbeats are among
# them. (Where a bar is short in the first part, partitura shortens it for everybody.)
WITHOUT_REPEATS = [
    "bach/bwv1.6.mxl",
    "bach/bwv66.6.mxl",
    "beethoven/opus59no2/movement2.mxl",
    "corelli/opus3no1/1grave.xml",
    "monteverdi/madrigal.3.1.mxl",
    "mozart/k458/movement3.mxl",
    "schoenberg/opus19/movement2.mxl",
    "schubert/Lindenbaum.xml",
    "schumann_clara/opus17/movement3.xml",
]


def partitura_notes(path):
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        import partitura

        score = partitura.load_score(str(path))
        arrays = [
            partitura.utils.music.note_array_from_part(part, include_grace_notes=True)
            for part in score.parts
        ]
    return np.concatenate(
        [
            np.column_stack((a["onset_quarter"], a["duration_quarter"], a["pitch"]))
            for a in arrays
            if len(a)
        ]
    )


# With repeats and with bars a little short; each written bar counts once.
@pytest.mark.parametrize(
    "name",
    [
        "haydn/opus1no1/movement1.mxl",
    ],
)
def test_as_many_notes_as_partitura(name):
    score = read_score(CORPUS / name)
    once = [note for note in score.notes if score.bars[note.bar].pass_number == 1]
    assert len(once) == len(partitura_notes(CORPUS / name))


def in_order(notes):
    onset, duration, pitch = notes.T
    return notes[np.lexsort((duration, np.round(onset, 2), pitch))]


@pytest.mark.parametrize("name", WITHOUT_REPEATS)
def test_notes_agree_with_partitura(name):
    score = read_score(CORPUS / name)
    theirs = partitura_notes(CORPUS / name)
    ours = np.array([(n.onset, n.duration, n.written_pitch) for n in score.notes])
    # partitura counts from the first full bar.
    theirs[:, 0] += ours[:, 0].min() - theirs[:, 0].min()
    assert len(ours) == len(theirs)
    # Tuplets are rounded to divisions by one and kept as fractions by the other, so notes
    # are paired by pitch and order, which rounding cannot change.
    ours, theirs = (
        a[np.lexsort((a[:, 1], np.round(a[:, 0], 2), a[:, 2]))] for a in (ours, theirs)
    )
    np.testing.assert_allclose(ours, theirs, atol=0.02)


@pytest.mark.parametrize("path", sorted(CORPUS.rglob("*.mxl"))[::40], ids=lambda p: p.stem)
def test_corpus_holds_together(path):
    score = read_score(path)
    assert len({note.id for note in score.notes}) == len(score.notes)
    ends = np.array([bar.onset + bar.duration for bar in score.bars])
    starts = np.array([bar.onset for bar in score.bars])
    np.testing.assert_allclose(starts[1:], ends[:-1])
    for note in score.notes:
        bar = score.bars[note.bar]
        assert note.onset == pytest.approx(bar.onset + note.beat - 1)
    keys = [(note.onset, note.line, note.pitch) for note in score.notes]
    assert keys == sorted(keys)


def test_a_full_score_is_read_in_time(xml):
    # The demand is 6 s for 40 staves and 200 bars on a quiet machine; processor time is
    # what a busy one leaves comparable.
    bar = "".join(
        xml.note(p, 1, notations="<articulations><staccato/></articulations>")
        for p in ("C5", "E5", "G5", "C6")
    )
    parts = [xml.part(f"Violin {n}", *[bar] * 200) for n in range(1, 41)]
    path = xml.save(xml.score(*parts))
    start = time.process_time()
    score = read_score(path)
    assert time.process_time() - start < 6
    assert len(score.notes) == 32_000
