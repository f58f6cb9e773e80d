from dataclasses import replace

import numpy as np
import pytest

from auditor.errors import InputError
from auditor.hearing.audibility import listen
from auditor.hearing.measures import REGISTERS, Group, Limits
from auditor.model_files import read_json
from auditor.units import midi_to_hz

LIMITS = Limits()


def tone(made, pitch, level_db):
    return made.band_levels(*made.harmonic(float(midi_to_hz(pitch)), level_db))


def chord(made, levels_db, pitches, instruments, *, onsets=None, source="stems", groups=()):
    """Each line holds one note for a second and a half from its onset (default 0.5 s)."""
    onsets = onsets or [0.5] * len(pitches)
    lines, notes = [], []
    for row, (level, pitch, onset) in enumerate(zip(levels_db, pitches, onsets, strict=True)):
        start = int(onset / made.step_s)
        lines.append([(start, start + 66, tone(made, pitch, level))])
        notes.append((row, onset, onset + 1.5, pitch))
    spectra = made.spectra(lines, source=source, confidence=0.9)
    return listen(spectra, made.windows(notes, instruments), groups, LIMITS)


def test_a_line_alone_keeps_all_its_loudness(made):
    heard = chord(made, [70], [60], ["oboe"])
    assert heard.notes.loudness_ratio[0] == pytest.approx(1.0, abs=1e-6)
    assert heard.notes.distinct_ratio[0] == pytest.approx(1.0, abs=1e-6)
    assert heard.notes.covered_by[0] == -1
    assert heard.notes.cover_share.sum() == 0
    assert heard.note_state == heard.line_state == ("clear",)
    assert heard.lines.level_db[0] == pytest.approx(70.0, abs=0.1)


def test_a_soft_line_under_a_loud_one_is_covered_by_it(made):
    heard = chord(made, [45, 80, 50], [64, 62, 90], ["oboe", "horn", "piccolo"])
    assert heard.line_state[:2] == ("covered", "clear")
    assert heard.lines.covered_by[0] == 1
    assert heard.lines.cover_share[0, 1] > 0.9
    np.testing.assert_allclose(heard.lines.cover_share.sum(axis=1), 1.0)
    np.testing.assert_allclose(heard.lines.register_share.sum(axis=1), 1.0)
    assert heard.lines.covered_share[0] == pytest.approx(1.0)


def test_loss_is_told_in_the_register_of_the_masker(made):
    # A cello note and its double bass masker live below C5; a violin pair above it.
    low = chord(made, [60, 75], [40, 38], ["cello", "bass"]).lines.register_share[0]
    high = chord(made, [60, 75], [90, 88], ["violin", "violin"]).lines.register_share[0]
    upper = REGISTERS.index("treble")
    assert low[:upper].sum() > high[:upper].sum()
    assert high[upper:].sum() > 0.9


def test_silence_added_changes_nothing(made):
    two = chord(made, [60, 70], [64, 60], ["oboe", "horn"])
    three = chord(made, [60, 70, -90], [64, 60, 67], ["oboe", "horn", "flute"])
    for name in ("alone_sone", "partial_sone", "distinct_ratio", "margin_db"):
        np.testing.assert_allclose(
            getattr(three.lines, name)[:2], getattr(two.lines, name), rtol=1e-5
        )
    assert three.line_state[2] == "silent"


def test_the_order_of_lines_does_not_matter(made):
    way = chord(made, [60, 70, 65], [64, 60, 67], ["oboe", "horn", "flute"])
    back = chord(made, [65, 70, 60], [67, 60, 64], ["flute", "horn", "oboe"])
    np.testing.assert_allclose(
        way.lines.distinct_ratio, back.lines.distinct_ratio[::-1], rtol=1e-5
    )
    assert way.line_state == back.line_state[::-1]


def test_a_louder_masker_leaves_less(made):
    left = [
        chord(made, [60, level], [64, 60], ["oboe", "horn"]).lines.partial_sone[0]
        for level in range(40, 95, 5)
    ]
    assert np.all(np.diff(left) <= 1e-6)


def test_a_louder_line_stands_out_more(made):
    ratio = [
        chord(made, [level, 70], [64, 60], ["oboe", "horn"]).lines.distinct_ratio[0]
        for level in range(40, 90, 5)
    ]
    assert np.all(np.diff(ratio) >= -1e-6)


@pytest.mark.parametrize("interval", [0, 12])
def test_a_partner_in_unison_or_octave_costs_distinctness_more_than_loudness(made, interval):
    # Doublings that start together fuse (Sandell 1991: common onset and harmonicity).
    heard = chord(made, [65, 65], [60, 60 + interval], ["oboe", "clarinet"])
    assert np.all(heard.notes.distinct_ratio < 0.8 * heard.notes.loudness_ratio)
    apart = chord(made, [65, 65], [60, 60 + interval], ["oboe", "clarinet"], onsets=[0.5, 0.3])
    assert apart.notes.distinct_ratio[0] == pytest.approx(apart.notes.loudness_ratio[0])


def test_what_has_just_ended_still_masks(made):
    # Forward masking: a struck note right after a loud one is heard less than later.
    loud = tone(made, 60, 85)
    soft = tone(made, 62, 45)

    def ratio(start):
        spectra = made.spectra([[(10, 40, loud)], [(start, start + 3, soft)]])
        notes = [(0, 10 * made.step_s, 38 * made.step_s, 60)]
        notes.append((1, start * made.step_s, (start + 1) * made.step_s, 62))
        heard = listen(spectra, made.windows(notes, ["horn", "oboe"]), (), LIMITS)
        return heard.notes.loudness_ratio[1]

    assert ratio(40) < 0.9 * ratio(60)
    assert ratio(60) == pytest.approx(1.0, abs=0.01)


def test_members_of_a_group_do_not_mask_each_other(made):
    levels, pitches, names = [60, 60, 60], [60, 64, 67], ["oboe", "clarinet", "bassoon"]
    whole = Group("L", np.arange(3))
    heard = chord(made, levels, pitches, names, groups=[whole])
    assert heard.groups.loudness_ratio[0] == pytest.approx(1.0, abs=1e-6)
    assert heard.groups.covered_by[0] == -1
    assert heard.groups.partial_sone[0] == pytest.approx(float(heard.mix_sone.max()), rel=0.05)


def test_a_group_of_one_line_is_that_line(made):
    heard = chord(
        made, [60, 70], [64, 60], ["oboe", "horn"], groups=[Group("S1", np.array([0]))]
    )
    for name in ("level_db", "alone_sone", "distinct_ratio", "margin_db", "covered_by"):
        np.testing.assert_allclose(
            getattr(heard.groups, name)[0], getattr(heard.lines, name)[0], rtol=1e-5
        )
    assert heard.group_state[0] == heard.line_state[0]


def test_a_doubling_that_adds_to_a_clear_strand_is_blended(made):
    levels, pitches, names = [50, 72, 60], [72, 72, 48], ["flute", "violin", "cello"]
    alone = chord(made, levels, pitches, names)
    assert alone.line_state[0] == "covered"
    strand = Group("S1", np.array([0, 1]))
    heard = chord(made, levels, pitches, names, groups=[strand])
    assert heard.group_state == ("clear",)
    assert heard.line_state == ("blended", "clear", alone.line_state[2])
    assert heard.note_state[0] == "blended"


def test_a_covered_strand_leaves_its_lines_covered(made):
    strand = Group("S1", np.array([0, 1]))
    heard = chord(
        made, [40, 42, 85], [60, 64, 62], ["flute", "oboe", "trombone"], groups=[strand]
    )
    assert heard.group_state == ("covered",)
    assert heard.line_state[:2] == ("covered", "covered")


def test_equal_instruments_in_unison_are_undecided_from_the_mix_only(made):
    given = ([65, 65, 50], [60, 60, 84], ["horn", "horn", "flute"])
    assert chord(made, *given, source="mix").line_state[:2] == ("undecided", "undecided")
    assert "undecided" not in chord(made, *given, source="stems").line_state
    other = chord(made, given[0], given[1], ["horn", "oboe", "flute"], source="mix")
    assert "undecided" not in other.line_state


def test_notes_without_a_place_are_not_judged(made):
    spectra = made.spectra([[(20, 80, tone(made, 60, 70))], []])
    notes = [(0, 0.5, 1.5, 60), (0, np.nan, np.nan, 62), (1, np.nan, np.nan, 64)]
    group = Group("S1", np.array([2]))
    heard = listen(spectra, made.windows(notes, ["oboe", "horn"]), [group], LIMITS)
    assert heard.note_state == ("clear", "not judged", "not judged")
    assert heard.line_state == ("clear", "not judged")
    assert heard.group_state == ("not judged",)
    assert np.isnan(heard.lines.distinct_ratio[1])
    assert heard.note_confidence[1] == 0.0


def test_limits_part_the_states(made):
    spectra = made.spectra([[(20, 80, tone(made, 64, 62))], [(20, 80, tone(made, 60, 70))]])
    given = made.windows([(0, 0.5, 1.5, 64), (1, 0.5, 1.5, 60)], ["oboe", "horn"])
    ratio = listen(spectra, given, (), LIMITS).lines.distinct_ratio[0]
    for limits, state in [
        (Limits(ratio * 1.1, 0.9), "covered"),
        (Limits(ratio * 0.9, ratio * 1.1), "faint"),
        (Limits(ratio * 0.5, ratio * 0.9), "clear"),
    ]:
        assert listen(spectra, given, (), limits).line_state[0] == state


def test_blocks_leave_no_seam(made, monkeypatch):
    from auditor.hearing import sweep

    given = ([60, 70, 65], [64, 60, 72], ["oboe", "horn", "flute"])
    strand = [Group("S1", np.array([0, 2]))]
    whole = chord(made, *given, groups=strand)
    monkeypatch.setattr(sweep, "_BLOCK", 9)
    cut = chord(made, *given, groups=strand)
    np.testing.assert_allclose(cut.frame_sone, whole.frame_sone, rtol=1e-5)
    np.testing.assert_allclose(cut.groups.distinct_ratio, whole.groups.distinct_ratio)


def test_refuses_what_does_not_belong_together(made):
    spectra = made.spectra([[(0, 50, tone(made, 60, 60))]])
    good = made.windows([(0, 0.1, 0.5, 60)], ["oboe"])
    with pytest.raises(InputError, match="name 2 lines, the spectra hold 1"):
        listen(spectra, replace(good, instrument=("oboe", "horn")), (), LIMITS)
    with pytest.raises(InputError, match="stands on line 3"):
        listen(spectra, replace(good, line=np.array([3])), (), LIMITS)
    with pytest.raises(InputError, match="group S1 names a note"):
        listen(spectra, good, [Group("S1", np.array([5]))], LIMITS)


def test_colour_stands_beside_loudness(made):
    # The centroid of a harmonic spectrum, power mean of its partials, by hand below.
    heard = chord(made, [70, 70], [57, 0], ["oboe", "snare-drum"])
    partial, level = made.harmonic(220.0, 70)
    power = 10 ** (level / 10)
    octaves = np.log2((partial * power).sum() / power.sum() / 220.0)
    # Bands of a quarter Cam or wider hold a partial at their centre, not at its own place.
    assert heard.note_evidence.brightness[0] == pytest.approx(octaves, abs=0.15)
    assert np.isnan(heard.note_evidence.brightness[1])
    assert heard.note_evidence.attack_s[0] == 0.0


def test_a_doubtful_colour_costs_confidence_of_notes_from_the_mix(made):
    """The fitted model reads the colour of notes; stems need no such evidence."""
    names = read_json("hearing_confidence.json")["notes"]["names"]
    assert {"brightness", "attack"} <= set(names)
    late = [(20 + k, 21 + k, tone(made, 60, 40 + k)) for k in range(30)]
    prompt = [(20 + k, 21 + k, tone(made, 60, 69 - k)) for k in range(30)]
    sure = [
        listen(
            made.spectra([swell], source="mix", confidence=0.5),
            made.windows([(0, 0.4, 1.0, 60)], ["harp"], sustained=[False]),
            (),
            LIMITS,
        ).note_confidence[0]
        for swell in (prompt, late)
    ]
    assert sure[0] > sure[1]


def test_a_line_is_blended_only_if_company_lifts_most_of_what_is_not_clear(made):
    """Alone and clear, then as long under another line, then shortly in a loud unison."""
    soft, loud, unison = tone(made, 64, 50), tone(made, 62, 85), tone(made, 64, 75)
    spectra = made.spectra(
        [
            [(20, 60, soft), (120, 160, soft), (200, 210, soft)],
            [(120, 160, loud), (200, 210, unison)],
        ],
        frames=260,
    )
    at = [
        (0, 20, 60, 64),
        (0, 120, 160, 64),
        (0, 200, 210, 64),
        (1, 120, 160, 62),
        (1, 200, 210, 64),
    ]
    notes = [(line, a * made.step_s, b * made.step_s, pitch) for line, a, b, pitch in at]
    strand = Group("S1", np.array([2, 4]))
    heard = listen(spectra, made.windows(notes, ["oboe", "horn"]), [strand], LIMITS)
    assert heard.note_state[:3] == ("clear", "covered", "blended")
    assert heard.line_state[0] == "covered"
