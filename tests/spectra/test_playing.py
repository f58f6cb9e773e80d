"""From written notes to played ones: when they sound, how, and how loud."""

import numpy as np
import pytest

from auditor.alignment.timeline import BarTime, Stretch, Timeline
from auditor.score.instruments import entry
from auditor.score.notes import Bar, Line, Note, Part, Score
from auditor.spectra.playing import (
    is_sustained,
    line_timbres,
    note_times,
    played_notes,
    timbre_key,
)

QUARTER_S = 0.5


def note(onset, duration, *, line=1, pitch=60, players=1.0, dynamic=3.0, **more):
    techniques = tuple(sorted(more.pop("techniques", ())))
    return Note(
        id=f"n{onset}-{line}-{pitch}", element="e", part=line, line=line, bar=int(onset // 4),
        beat=1 + onset % 4, onset=onset, duration=duration, pitch=pitch, written_pitch=pitch,
        dynamic=dynamic, dynamic_written=True, techniques=techniques, players=players, **more,
    )  # fmt: skip


def score(notes, keys=("flute",), players=(1.0,), bars=3):
    made = [entry(k).instrument for k in keys]
    return Score(
        title="",
        parts=tuple(Part(k, f"P{k}", i.name, i, players[k - 1]) for k, i in enumerate(made, 1)),
        lines=tuple(Line(k, k, i.name, i, players[k - 1]) for k, i in enumerate(made, 1)),
        bars=tuple(Bar(k, str(k + 1), k, 1, 4.0 * k, 4.0) for k in range(bars)),
        notes=tuple(notes),
        written_bars=bars,
    )


def steady(bars=3, missing=()):
    """A timeline at 120 quarters a minute from second 1; `missing` bars were cut out."""
    runs, times, now, start = [], [], 1.0, None
    for k in range(bars):
        if k in missing:
            times.append(BarTime(k, np.nan, np.nan, 0.0, "not played"))
            start = None
            continue
        if start is None:
            start = (k, now)
            runs.append(start)
        times.append(BarTime(k, now, now + 4 * QUARTER_S, 1.0))
        now += 4 * QUARTER_S
    stretches = []
    for k, at in runs:
        last = k
        while last + 1 < bars and last + 1 not in missing:
            last += 1
        quarters = np.array([4.0 * k, 4.0 * (last + 1)])
        stretches.append(Stretch(quarters, at + (quarters - quarters[0]) * QUARTER_S))
    order = tuple(k for k in range(bars) if k not in missing)
    return Timeline(tuple(stretches), tuple(times), order)


def test_notes_sound_where_the_timeline_says():
    onset, offset = note_times(score([note(0, 1), note(2, 1.5)]), steady())
    np.testing.assert_allclose(onset, [1.0, 2.0])
    np.testing.assert_allclose(offset, [1.5, 2.75])


def test_staccato_keeps_half_its_length():
    """Common practice, no source: a staccato dot takes about half the value away."""
    onset, offset = note_times(score([note(0, 2, techniques=["staccato"])]), steady())
    np.testing.assert_allclose(offset - onset, [0.5])


def test_grace_notes_come_before_the_note_they_lean_on():
    onset, offset = note_times(score([note(2, 0, grace=True), note(2, 1)]), steady())
    assert onset[0] < onset[1]
    assert offset[0] == onset[1]
    assert 0.03 < offset[0] - onset[0] < 0.2


def test_grace_note_on_the_very_first_beat_does_not_begin_before_the_sound():
    timeline = Timeline(
        (Stretch(np.array([0.0, 4.0]), np.array([0.0, 2.0])),),
        (BarTime(0, 0.0, 2.0, 1.0),),
        (0,),
    )
    onset, _ = note_times(score([note(0, 0, grace=True), note(0, 1)], bars=1), timeline)
    assert onset.min() == 0.0


def test_bars_that_were_not_played_are_nan_and_left_out():
    page = score([note(0, 1), note(4, 1), note(8, 1)])
    onset, offset = note_times(page, steady(missing=(1,)))
    assert list(np.isnan(onset)) == list(np.isnan(offset)) == [False, True, False]
    played = played_notes(page, onset, offset)
    np.testing.assert_allclose(played.onset_s, onset[[0, 2]])


def test_a_note_that_rings_over_a_cut_ends_with_its_bar():
    page = score([note(2, 4), note(8, 1)])
    onset, offset = note_times(page, steady(missing=(1,)))
    np.testing.assert_allclose([onset[0], offset[0]], [2.0, 3.0])


def test_a_barline_at_a_jump_belongs_to_what_follows():
    """Bars 1 and 2 sound apart, with four seconds of other music between them."""
    timeline = Timeline(
        (
            Stretch(np.array([0.0, 4.0]), np.array([1.0, 3.0])),
            Stretch(np.array([4.0, 8.0]), np.array([7.0, 9.0])),
        ),
        (BarTime(0, 1.0, 3.0, 1.0), BarTime(1, 7.0, 9.0, 1.0)),
        (0, 1),
    )
    onset, offset = note_times(score([note(3, 1), note(4, 1), note(5, 1)], bars=2), timeline)
    np.testing.assert_allclose(onset, [2.5, 7.0, 7.5])
    np.testing.assert_allclose(offset, [3.0, 7.5, 8.0])


def test_no_note_lasts_nothing():
    onset, offset = note_times(score([note(0, 0.001)]), steady())
    assert offset[0] - onset[0] >= 0.03 - 1e-9


@pytest.mark.parametrize(
    ("key", "techniques", "holds"),
    [
        ("flute", (), True),
        ("violin", (), True),
        ("violin", ("pizz",), False),
        ("violin", ("pizz", "tremolo"), True),
        ("timpani", (), False),
        ("timpani", ("tremolo",), True),
        ("harp", (), False),
        ("xylophone", ("trill",), True),
        ("piano", (), False),
    ],
)
def test_what_holds_its_level(key, techniques, holds):
    assert is_sustained(note(0, 1, techniques=techniques), entry(key).instrument) is holds


@pytest.mark.parametrize(
    ("key", "players", "techniques", "expected"),
    [
        ("violin", 12.0, (), "violin"),
        ("violin", 12.0, ("pizz",), "violin+pizz"),
        ("violin", 1.0, (), "violin-solo"),
        ("cello", 1.0, ("pizz",), "cello+pizz"),
        ("flute", 1.0, (), "flute"),
        ("horn", 4.0, (), "horn"),
    ],
)
def test_timbre_of_a_note(key, players, techniques, expected):
    line = Line(1, 1, key, entry(key).instrument, players)
    assert timbre_key(note(0, 1, players=players, techniques=techniques), line) == expected


def test_one_player_of_a_section_sounds_alone():
    line = Line(1, 1, "Violin", entry("violin").instrument, 12.0)
    assert timbre_key(note(0, 1, players=1.0, techniques=["solo"]), line) == "violin-solo"


def test_played_notes_are_laid_out_by_line():
    page = score(
        [
            note(0, 1, line=2, pitch=40, players=8.0, dynamic=4.0),
            note(1, 1, line=1, pitch=72),
            note(2, 1, line=2, pitch=43, players=8.0, techniques=["pizz"]),
            note(3, 1, line=3, pitch=0, unpitched=True),
        ],
        keys=("flute", "cello", "snare-drum"),
        players=(1.0, 8.0, 1.0),
    )
    played = played_notes(page, *note_times(page, steady()))
    assert list(played.line) == [1, 0, 1, 2]
    assert list(played.pitch) == [40, 72, 43, 0]
    assert [played.timbres[t] for t in played.timbre] == [
        "cello", "flute", "cello+pizz", "snare-drum",
    ]  # fmt: skip
    assert list(played.sustained) == [True, True, False, False]
    # A plucked note is softer than a bowed one a step louder: by more than the step.
    assert played.level_db[0] > played.level_db[2]
    assert [t.key for t in line_timbres(page)] == ["flute", "cello", "snare-drum"]
    assert [t.pitched for t in line_timbres(page)] == [True, True, False]


def test_more_players_are_louder_by_ten_lg_n():
    page = score(
        [note(0, 1, players=1.0), note(1, 1, players=4.0)], keys=("horn",), players=(4.0,)
    )
    level = played_notes(page, *note_times(page, steady())).level_db
    assert level[1] - level[0] == pytest.approx(10 * np.log10(4.0))
