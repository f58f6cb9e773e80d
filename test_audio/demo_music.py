"""The demo overture as data: every part in concert pitch, in a short notation.

A bar is a row of tokens. ``F4q.`` is a dotted quarter F4 (w h q e s = whole to sixteenth),
``F3+A3h`` two notes at once, ``rq`` a rest. After a note: ``(`` and ``)`` begin and end a
slur, ``'`` staccato, ``>`` accent, ``*`` roll, ``~`` tie. Before a note, in braces: a dynamic,
``<`` or ``>`` for a hairpin up to the next dynamic, or a word printed as it stands, where
``pizz.`` and ``arco`` also change the way of playing. Underscores print as spaces.
"""

from __future__ import annotations

from dataclasses import dataclass

TITLE = "Overture for a Market Morning"
COMPOSER = "Ilka Varrowmead"
ORCHESTRA = "for the Town Orchestra of Brindlewick"
BARS = 32
BEATS = 4

# Bar: words and quarters per minute.
TEMPI = {
    1: ("Allegretto", 104),
    11: ("Poco meno mosso", 92),
    15: ("Tempo I", 104),
    19: ("Andante grazioso", 84),
    27: ("Allegro giocoso", 108),
}
RITARDANDO = (31, 56)  # from this bar on, down to this tempo at the end
REHEARSAL = {3: "A", 7: "B", 11: "C", 15: "D", 19: "E", 23: "F", 27: "G", 31: "H"}


@dataclass(frozen=True, slots=True)
class DemoPart:
    """One part of the overture; `staves` has two entries for the harp.

    Parameters
    ----------
    key
        Name of its sound and of its stem file.
    name, short
        As printed in the first system and in the others.
    clef
        ``treble``, ``alto`` or ``bass``, one for each stave.
    interval
        From sounding to written pitch, as music21 writes intervals.
    players
        On the part.
    staves
        For each stave, the music from a bar on.
    """

    key: str
    name: str
    short: str
    clef: tuple[str, ...]
    interval: str
    players: int
    staves: tuple[dict[int, str], ...]


FLUTE = {
    7: "{mf}{grazioso} F5q.( G5e) A5q( C6q) | D6q.( C6e) A5q( F5q) | G5q.( A5e) G5q( E5q) "
    "| F5h. rq",
    11: "{mf}{Solo,_espr.} D4h( A4q. G4e) | G4q.( A4e) Bb4q( G4q) | A4q( G4e F4e) E4q( C#4q) "
    "| D4h. rq",
    30: "{ff}{tutti} F6h.> rq",
}
CLARINET = {
    3: "{mf}{cantabile} F4q.( G4e) A4q( C5q) | A4q.( G4e) F4q( C4q) | D4q.( E4e) F4q( D4q) "
    "| C4h. rq",
    27: "{f} F4q.( G4e) A4q( C5q) | D5q.( C5e) A4q F4q | G4q.( A4e) G4q E4q | A4h. rq",
}
SAXOPHONE = {
    7: "{mp} C4q( A4h G4q) | F4q.( E4e) C4h | E4q.( F4e) E4q( C4q) | A3h. rq",
    30: "{f} C4h. rq",
}
BASSOON = {
    7: "{p} F3w | Bb2h( A2h) | C3w | F3h. rq",
    15: "{mf}{Solo,_espr.} rq C4e( D4e C4e A3e) F3q | re A3e( Bb3e C4e) D4q.( C4e) "
    "| re Bb3e( C4e D4e) F4q.( D4e) | re E4e( D4e C4e) Bb3q( G3q)",
}
HORN_1 = {
    1: "{pp} C4w~ | C4w",
    11: "{f} D4w~ | D4w | C#4w( | D4h.) rq",
    15: "{mf} C4h> C4h | C4h> C4h | D4h> D4h | C4h> C4q rq",
    23: "{f} D4h.> D4q | D4h.> D4q | D4h.> D4q | C4h.> {<} C4q",
    27: "{f} C4h C4h | D4h C4h | C4h C4h | C4h. rq",
    31: "{mf}{Solo,_dolce} Bb3q.( D4e) C4q( Bb3q) | A3w",
}
HORN_2 = {
    1: "{pp} F3w | F3h( E3h)",
    11: "{f} A3w( | Bb3w) | A3w~ | A3h. rq",
    15: "{mf} A3h> A3h | A3h> A3h | Bb3h> Bb3h | Bb3h> Bb3q rq",
    23: "{f} D3h.> D3q | D3h.> D3q | D3h.> D3q | E3h.> {<} E3q",
    27: "{f} A3h A3h | Bb3h A3h | Bb3h Bb3h | A3h. rq",
}
TRUMPET = {
    18: "{mf} rh C5e' C5e' C5q>",
    23: "{f} F4h.> F4q | F4h.> F4q | G4h.> G4q | G4h.> {<} G4q",
    27: "{ff}{marcato} F4q.> G4e A4q C5q> | D5q.> C5e A4q F4q | G4q.> A4e G4q E4q | F4h.> rq",
}
TROMBONE = {
    15: "{mf} C3h> C3h | C3h> C3h | D3h> D3h | E3h> E3q rq",
    23: "{f} A3h.> A3q | Bb3h.> Bb3q | Bb3h.> Bb3q | Bb3h.> Bb3q",
    30: "{f} A3h.> rq",
}
TUBA = {
    15: "{f} F2h> F2h | F2h> A2h | Bb1h> Bb1h | C2h> C2q rq",
    23: "{f} D2h. D2q | Bb1h. Bb1q | G2h. G2q | C2h. C2q",
    27: "{ff} F2q F2q C2q C2q | Bb1q Bb1q F2q F2q | C2q C2q C2q C2q | F2h.> rq",
}
TIMPANI = {
    26: "{mp} rh {<} C3h*",
    27: "{f} F2q> rq rh",
    30: "{f} F2q> F2q F2q rq",
    32: "{p} F2q rq rh",
}
XYLOPHONE = {
    10: "{mp} rh F6e' C6e' A5e' C6e'",
    27: "{ff} A5e C6e F6e C6e A5e C6e F6e C6e | Bb5e D6e F6e D6e A5e C6e F6e C6e "
    "| Bb5e C6e E6e G6e E6e C6e Bb5e G5e | A5e C6e F6q rh",
}
HARP_RIGHT = {
    19: "{p}{Solo} Bb3e D4e F4e D4e G4e D4e F4e D4e | A3e C4e F4e C4e E4e C4e F4e C4e "
    "| Bb3e D4e G4e D4e F#4e D4e G4e D4e | Bb3e E4e G4e E4e Bb4e G4e E4e C4e",
    27: "{f}{tutti} A5e C6e F6e C6e A5e C6e F6e C6e | Bb5e D6e F6e D6e A5e C6e F6e C6e "
    "| Bb5e C6e E6e G6e E6e C6e Bb5e G5e",
}
HARP_LEFT = {19: "Bb2h F3h | A2h C3h | G2h D3h | C3h G2h"}
VIOLIN_1 = {
    11: "{f}{sostenuto} A4w( | Bb4w) | A4w~ | A4h. rq",
    15: "{f} F5q.( G5e) A5q( C6q) | A5q.( G5e) F5q( C5q) | D5q.( E5e) F5q( D5q) | C5h. rq",
    26: "{mf} rh {<} C5e D5e E5e G5e",
    27: "{f} F5q.( G5e) A5q( C6q) | D6q.( C6e) A5q F5q | G5q.( A5e) G5q E5q | F5h. rq",
    31: "{p} F5h( E5h) | F5w",
}
VIOLIN_2 = {
    1: "{mp}{pizz.} rq C4q rq C4q | rq C4q rq E4q | rq C4q rq C4q | rq C4q rq C4q "
    "| rq D4q rq D4q | rq E4q rq E4q",
    7: "{pp}{arco} A4w | Bb4h( A4h) | Bb4w( | A4h.) rq",
    11: "{f}{sostenuto} F4w( | G4w) | E4w( | F4h.) rq",
    15: "{f} F4q.( G4e) A4q( C5q) | A4q.( G4e) F4q( C4q) | D4q.( E4e) F4q( D4q) | C4h. rq",
    19: "{mf}{pizz.} rq F4q rq F4q | rq F4q rq F4q | rq D4q rq D4q | rq E4q rq G4q",
    26: "{mf}{arco} rh {<} C4e D4e E4e G4e",
    27: "{f} C5e C5e C5e C5e A4e A4e A4e A4e | Bb4e Bb4e Bb4e Bb4e C5e C5e C5e C5e "
    "| Bb4e Bb4e Bb4e Bb4e Bb4e Bb4e Bb4e Bb4e | A4h. rq",
    31: "{p} Bb4w( | A4w)",
}
VIOLA = {
    1: "{mp}{pizz.} rq A3q rq A3q | rq A3q rq Bb3q | rq A3q rq A3q | rq A3q rq A3q "
    "| rq Bb3q rq Bb3q | rq Bb3q rq G3q",
    7: "{pp}{arco} C4w | D4h( C4h) | C4w~ | C4h. rq",
    11: "{f}{sostenuto} D4w~ | D4w | A3w~ | A3h. rq",
    19: "{mf}{pizz.} re D4e re F4e re D4e re F4e | re C4e re F4e re C4e re F4e "
    "| re D4e re G4e re D4e re G4e | re E4e re G4e re E4e re G4e",
    23: "{mp}{arco,_espr.} F4q.( E4e) D4q( A3q) | Bb3q( D4q) F4q.( G4e) "
    "| G4q.( F4e) D4q( Bb3q) | C4q( E4q) G4q( Bb4q)",
    30: "{f} F4h. rq",
    31: "{p} D4h( C4h) | C4w",
}
CELLO = {
    1: "{mp}{pizz.} F2q rq C3q rq | F2q rq C3q rq | F2q rq C3q rq | F2q rq C3q rq "
    "| Bb2q rq F2q rq | C3q rq G2q rq",
    7: "{mf} F2q C3q F3q C3q | Bb2q D3q C3q A2q | C3q E3q G3q E3q | F3q C3q F2q rq",
    11: "{f}{arco} D3w( | G2w) | A2w( | D3h.) rq",
    15: "{f} F2q C3q F2q C3q | F2q C3q F2q A2q | Bb2q F3q Bb2q F3q | C3q G3q C3q rq",
    19: "{f}{pizz.} Bb3e F3e D3e F3e Bb3e F3e D3e F3e | A3e F3e C3e F3e A3e F3e C3e F3e "
    "| Bb3e G3e D3e G3e Bb3e G3e D3e G3e | Bb3e G3e E3e G3e Bb3e G3e E3e C3e",
    27: "{ff}{arco} F2e C3e F3e C3e A2e C3e F3e C3e | Bb2e D3e F3e D3e A2e C3e F3e C3e "
    "| C3e E3e G3e E3e C3e E3e G3e E3e | F3h. rq",
    31: "{mp} Bb2h( C3h) | F2w",
}
BASS = {
    1: "{mp}{pizz.} F1q rq C2q rq | F1q rq C2q rq | F1q rq C2q rq | F1q rq C2q rq "
    "| Bb1q rq F1q rq | C2q rq G1q rq",
    7: "{mf} F1q rq C2q rq | Bb1q rq F1q rq | C2q rq G1q rq | F1q rq F1q rq",
    11: "{f}{arco} D2w( | G1w) | A1w( | D2h.) rq",
    15: "{f} F1q rq F1q rq | F1q rq F1q rq | Bb1q rq Bb1q rq | C2q rq C2q rq",
    19: "{f}{pizz.} Bb1q F1q Bb1q F1q | A1q F1q A1q F1q | G1q D2q G1q D2q | C2q G1q C2q G1q",
    27: "{ff}{arco} F1q F1q C2q C2q | Bb1q Bb1q F1q F1q | C2q C2q C2q C2q | F1h. rq",
    31: "{mp} Bb1h( C2h) | F1w",
}

PARTS = (
    DemoPart("flute", "Flute", "Fl.", ("treble",), "P1", 1, (FLUTE,)),
    DemoPart("clarinet", "Clarinet in B♭", "Cl.", ("treble",), "M2", 1, (CLARINET,)),
    DemoPart(
        "saxophone", "Alto Saxophone in E♭", "A. Sax.", ("treble",), "M6", 1, (SAXOPHONE,)
    ),
    DemoPart("bassoon", "Bassoon", "Bsn.", ("bass",), "P1", 1, (BASSOON,)),
    DemoPart("horn-1", "Horn 1 in F", "Hn. 1", ("treble",), "P5", 1, (HORN_1,)),
    DemoPart("horn-2", "Horn 2 in F", "Hn. 2", ("treble",), "P5", 1, (HORN_2,)),
    DemoPart("trumpet", "Trumpet in B♭", "Tpt.", ("treble",), "M2", 1, (TRUMPET,)),
    DemoPart("trombone", "Trombone", "Tbn.", ("bass",), "P1", 1, (TROMBONE,)),
    DemoPart("tuba", "Tuba", "Tba.", ("bass",), "P1", 1, (TUBA,)),
    DemoPart("timpani", "Timpani", "Timp.", ("bass",), "P1", 1, (TIMPANI,)),
    DemoPart("xylophone", "Xylophone", "Xyl.", ("treble",), "P-8", 1, (XYLOPHONE,)),
    DemoPart("harp", "Harp", "Hp.", ("treble", "bass"), "P1", 1, (HARP_RIGHT, HARP_LEFT)),
    DemoPart("violin-1", "Violin I", "Vln. I", ("treble",), "P1", 8, (VIOLIN_1,)),
    DemoPart("violin-2", "Violin II", "Vln. II", ("treble",), "P1", 8, (VIOLIN_2,)),
    DemoPart("viola", "Viola", "Vla.", ("alto",), "P1", 5, (VIOLA,)),
    DemoPart("violoncello", "Violoncello", "Vc.", ("bass",), "P1", 5, (CELLO,)),
    DemoPart("double-bass", "Double Bass", "D.B.", ("bass",), "P8", 3, (BASS,)),
)
