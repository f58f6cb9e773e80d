"""Thresholds of the checks on range, winds, chairs, changes, texture, notation and forces."""

from __future__ import annotations

from dataclasses import dataclass

from auditor.craft.threshold import limit as _limit


@dataclass(frozen=True, slots=True)
class PageLimits:
    """A part of `auditor.craft.limits.CraftLimits`; what each says stands in its metadata."""

    # Range and register
    register_quarters: float = _limit(
        1.0, "a remark on a register needs this many quarters of notes in it", "our choice"
    )
    register_gap: float = _limit(
        2.0, "notes this many quarters apart or nearer lie in one passage", "our choice"
    )
    tessitura_seconds: float = _limit(
        30.0, "seconds of playing whose mean pitch is held against what is easy"
    )
    tessitura_rest: float = _limit(8.0, "quarters of rest that end a passage", "our choice")

    # Breath, tongue and lip
    breath_share: float = _limit(
        1.0, "times the seconds of one breath in the table of abilities", "our choice"
    )
    breath_risky: float = _limit(1.6, "times one breath from which a phrase is risky")
    breath_gap_s: float = _limit(0.2, "seconds of rest in which a player can breathe")
    breath_note_s: float = _limit(
        0.4, "seconds of a note, not slurred on, whose end can be given up for a breath"
    )
    tongue_share: float = _limit(
        1.0, "times the notes a second in the table of abilities", "our choice"
    )
    tongue_risky: float = _limit(
        1.1, "times the single tongue from which an instrument without a double one is at risk"
    )
    tongue_notes: float = _limit(8.0, "tongued notes in a row before their speed matters")
    load_brass_s: float = _limit(
        40.0, "seconds of high playing at mf, not rested away, that tire a brass player"
    )
    load_wood_s: float = _limit(90.0, "the same for a woodwind player")
    load_recovery: float = _limit(
        1.0,
        "seconds of high playing that one second of rest takes away",
        "university brass studios: rest as much as you play",
    )
    load_risky: float = _limit(2.0, "times the allowed load from which it is risky")
    load_total_s: float = _limit(120.0, "seconds of high playing in a piece worth telling")
    load_total_share: float = _limit(0.25, "and the share of all playing they must make up")
    blend_steps: float = _limit(
        1.0, "dynamic steps by which brass at ff may be marked above all its neighbours"
    )
    blend_ratio: float = _limit(
        2.5,
        "times the power of all others that high brass at ff may have",
        "powers after N. Rimsky-Korsakov, Principles of Orchestration (1922), p. 33",
    )
    blend_quarters: float = _limit(2.0, "quarters this must last", "our choice")

    # Chairs
    exposed_lines: float = _limit(3.0, "lines sounding at most where one is exposed")
    chair_quarters: float = _limit(8.0, "quarters of an exposed line worth a question")
    chair_rest: float = _limit(
        4.0, "quarters the first player must have rested to be free for a line"
    )
    chair_gap: float = _limit(2.0, "quarters of rest within one phrase of a player")
    cross: float = _limit(3.0, "semitones by which a lower chair lies above the upper one")
    cross_notes: float = _limit(3.0, "notes of a passage on the wrong chair")
    cross_quarters: float = _limit(16.0, "quarters such a passage lasts at most")
    horn_high: float = _limit(72.0, "pitch from which the second and fourth horn play high")
    horn_low: float = _limit(45.0, "pitch down from which the first and third play low")
    a2_quarters: float = _limit(4.0, "quarters of a soft exposed unison worth a remark")

    # Time to change, seconds
    to_pizz_s: float = _limit(0.4, "seconds from the bow to pizzicato")
    to_arco_s: float = _limit(0.5, "seconds from pizzicato to the bow")
    bow_place_s: float = _limit(0.2, "seconds to move the bow to bridge, fingerboard or wood")
    mute_on_s: float = _limit(3.0, "seconds to put a mute on")
    mute_off_s: float = _limit(2.0, "seconds to take a mute off")
    stop_s: float = _limit(0.4, "seconds between stopped and open notes of a horn")
    sticks_s: float = _limit(2.0, "seconds to change sticks")
    instrument_s: float = _limit(5.0, "seconds to change an instrument")
    leave_early_s: float = _limit(0.3, "seconds by which a long note can be left early")
    hurry_share: float = _limit(0.4, "share of the needed time below which it is risky")
    no_time_s: float = _limit(0.1, "seconds that are no time at all")

    # Texture
    spacing_lines: float = _limit(5.0, "lines of a chord whose spacing is looked at")
    spacing_pitch: float = _limit(47.0, "pitch below which close intervals growl (B2)")
    spacing_interval: float = _limit(
        5.0, "semitones the lowest two notes down there should be apart"
    )
    spacing_quarters: float = _limit(2.0, "quarters a close bass must last", "our choice")
    hole: float = _limit(19.0, "semitones between neighbouring notes of a loud chord")
    hole_over_bass: float = _limit(31.0, "the same between its bass and the next note")
    hole_lines: float = _limit(6.0, "lines of a loud chord whose middle is looked at")
    hole_quarters: float = _limit(2.0, "quarters a hole must last", "our choice")
    tutti_share: float = _limit(0.6, "share of the lines that makes a tutti")
    tutti_lines: float = _limit(6.0, "and the lines it has at least")
    bass_pitch: float = _limit(52.0, "pitch above which there is no bass (E3)")
    bass_quarters: float = _limit(4.0, "quarters a tutti must be without a bass")
    doubled_lines: float = _limit(8.0, "sounding lines before doubling is counted")
    doubled_share: float = _limit(0.8, "share of them that doubles the melody")
    doubled_quarters: float = _limit(4.0, "quarters everyone must double it", "our choice")
    doubled_tones: float = _limit(4.0, "different tones of the melody in that time")
    leading_quarters: float = _limit(1.0, "quarters of the shortest leading note looked at")
    leading_lines: float = _limit(4.0, "lines of a dominant whose leading note is looked at")

    # Notation
    entry_rest_bars: float = _limit(8.0, "bars of rest after which an entry wants a dynamic")
    cue_bars: float = _limit(24.0, "bars of rest after which an entry wants a cue")
    cue_s: float = _limit(60.0, "or seconds of rest")
    hairpin_reach: float = _limit(2.0, "quarters after a hairpin in which its goal may stand")
    cresc_bars: float = _limit(16.0, "bars after cresc. or dim. in which its goal may stand")
    doubling_notes: float = _limit(3.0, "notes of a bar that make a doubling")
    doubling_steps: float = _limit(2.0, "dynamic steps between the marks of a doubling")
    pizz_long_s: float = _limit(2.5, "seconds of a note too long to be plucked")
    pizz_notes: float = _limit(2.0, "bowed signs under pizz. before arco is missed")
    mute_bars: float = _limit(8.0, "bars a mute has been on before ff makes it doubtful")
    key_signs: float = _limit(4.0, "sharps or flats that read uneasily")
    key_gain: float = _limit(
        3.0, "signs another instrument must save; one fewer above key_signs"
    )
    key_notes: float = _limit(24.0, "notes of a stretch whose key is read")

    # Forces: a standard orchestra, players
    standard_flutes: float = _limit(2.0, "flutes of a standard orchestra")
    standard_oboes: float = _limit(2.0, "oboes of a standard orchestra")
    standard_clarinets: float = _limit(2.0, "clarinets of a standard orchestra")
    standard_bassoons: float = _limit(2.0, "bassoons of a standard orchestra")
    standard_horns: float = _limit(4.0, "horns of a standard orchestra")
    standard_trumpets: float = _limit(2.0, "trumpets of a standard orchestra")
    standard_trombones: float = _limit(3.0, "trombones of a standard orchestra")
    standard_tubas: float = _limit(1.0, "tubas of a standard orchestra")
    standard_timpanists: float = _limit(1.0, "timpanists of a standard orchestra")
    standard_percussionists: float = _limit(2.0, "percussionists beside the timpanist")
    standard_harps: float = _limit(1.0, "harps of a standard orchestra")
