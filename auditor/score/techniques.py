"""Ways of playing that a word switches on until another switches them off."""

from __future__ import annotations

import re
from bisect import bisect_right
from collections.abc import Collection, Sequence
from dataclasses import dataclass
from itertools import pairwise

from auditor.score.grid import Grid
from auditor.score.signs import Mark

_NONE: frozenset[str] = frozenset()

# Pattern, what it switches on, what it switches off. Order matters: first the undoing.
_SWITCHES: tuple[tuple[re.Pattern[str], str, tuple[str, ...]], ...] = (
    (re.compile(r"\b(arco|gestrichen|mit bogen|c\. ?arco|coll.arco)\b"), "",
     ("pizz", "col-legno")),
    (re.compile(r"(senza sord|ohne (d[äa]mpfer|sord)|sans sourd|sourdines? [oô]t|"
                r"[oô]te[rz].{0,12}sourd|via sord|d[äa]mpfer (ab|weg)|\bopen\b|\boffen\b|"
                r"\bouverts?\b|without mute|mutes? off|\bnatural[ei]?\b|senza sordin)"), "",
     ("mute", "stopped")),
    (re.compile(r"(con sord|mit (d[äa]mpfer|sord)|gedämpft|gedaempft|\bsourd|avec (la )?sourd|"
                r"\bmuted?\b|\bmutes on|met(tez|tre).{0,8}sourd|straight mute|cup mute|"
                r"\bharmon\b)"), "mute", ()),
    (re.compile(r"\b(gestopft|bouch[ée]s?|stopped|chiuso|cuivr[ée] bouch)\b"), "stopped", ()),
    (re.compile(r"\bpizz"), "pizz", ("col-legno", "spiccato")),
    (re.compile(r"col legno|mit (dem )?holz|avec le bois"), "col-legno", ("pizz",)),
    (re.compile(r"\b(ord(in)?(\.|ario)?|normale?|modo ord\w*|nat\.)(?!\w)"), "",
     ("sul-ponticello", "sul-tasto", "col-legno", "flutter", "harmonic")),
    (re.compile(r"sul pont|am steg|au chevalet"), "sul-ponticello", ("sul-tasto",)),
    (re.compile(r"sul tasto|sulla tastiera|am griffbrett|sur la touche|flautando"), "sul-tasto",
     ("sul-ponticello",)),
    (re.compile(r"\b(frull|flatterz|flutter|flz)"), "flutter", ()),
    (re.compile(r"\btutti\b|\bunis\.?|\b(a)?gli altri\b|\ba altri\b|\bzusammen\b|\btous\b|"
                r"\balle\b"), "",
     ("solo", "div", "half")),
    (re.compile(r"^(\[|\()?(a|à|zu)\.? ?[2-8]\b"), "a2", ("solo", "div", "first")),
    (re.compile(r"\bdiv(\.|isi\b|is[ée]s?\b)?(?!\w)|\bget(\.|eilt)|\bgeth\."), "div",
     ("solo",)),
    (re.compile(r"\bsol[oi]\b|\bseul\b|\bein(e|zeln)? spieler\b"), "solo", ("a2",)),
    (re.compile(r"\bla moiti[ée]\b|\bdie h[äa]lfte\b|\bhalf\b|\bla met[àa]\b"), "half", ()),
    (re.compile(r"^(1\.|i\.|1°|1mo|1\.?er|2\.|ii\.|2°|3\.|iii\.|4\.|iv\.)( ?solo)?$"), "first",
     ("a2",)),
    (re.compile(r"\b(non|senza|meno) espr|\bleggier|\bsecco\b|\baccomp"), "",
     ("espressivo",)),
    (re.compile(r"\bespr|\bexpress|\bcant(ab|\.|ando\b)|\bdolc|\ben dehors\b|\bhervor|"
                r"marc\w*\.? il (canto|tema)|\bin (rilievo|relievo|evidenza)\b|"
                r"\bausdruck|\bgesangvoll\b|\bbien chant|\bchant[ée]\b|\bprominent\b"),
     "espressivo", ()),
)  # fmt: skip

# A solo ends when its player has rested longer than this; who goes on playing solo after
# such a rest is told so again (common practice, no source).
_SOLO_REST_BARS = 2
# A mark of expression belongs to a phrase: it ends with a bar's rest, or after so many bars
# (our choice; the longest phrases of one breath or one theme).
_PHRASE_BARS = 8


@dataclass(frozen=True, slots=True)
class Playing:
    """The words in force along the page.

    Parameters
    ----------
    places
        Quarters on the written axis, rising.
    states
        Words in force from each place on.
    """

    places: tuple[float, ...]
    states: tuple[frozenset[str], ...]

    def at(self, place: float) -> frozenset[str]:
        """Words in force at a place."""
        right = bisect_right(self.places, place + 1e-3)
        return self.states[right - 1] if right else frozenset()


def playing(marks: Sequence[Mark], grid: Grid, played: Collection[int] = ()) -> Playing:
    """Ways of playing of one part, from its words and its playback switches.

    Parameters
    ----------
    marks, grid
        The part's signs and the bars of the page.
    played
        Bars in which the part has notes: a solo and a mark of expression end in the rests
        between them. Without it they hold until a word ends them.
    """
    places: list[float] = []
    states: list[frozenset[str]] = []
    state: frozenset[str] = frozenset()
    ends = [*_rests(played), *_phrase_ends(marks, len(grid.onsets))]
    for mark in sorted([*ends, *marks], key=lambda m: (m.bar, m.at)):
        new = _switched(state, mark)
        if new != state:
            state = new
            places.append(grid.onsets[mark.bar] + mark.at)
            states.append(state)
    return Playing(tuple(places), tuple(states))


def _rests(played: Collection[int]) -> list[Mark]:
    """Where a part begins to rest: for a bar, or for longer than a solo bears."""
    held = sorted(set(played))
    gaps = [(a + 1, b - a - 1) for a, b in pairwise(held) if b > a + 1]
    return [
        Mark(bar, 0.0, "rest", "long" if bars > _SOLO_REST_BARS else "bar")
        for bar, bars in gaps
    ]


def _phrase_ends(marks: Sequence[Mark], bars: int) -> list[Mark]:
    """Where marks of expression end that none renews within a phrase."""
    said = [m for m in marks if m.kind == "words" and "espressivo" in _switched(_NONE, m)]
    said.sort(key=lambda m: (m.bar, m.at))
    starts = [m.bar for m in said] + [bars]
    return [
        Mark(start + _PHRASE_BARS, 0.0, "rest", "bar")
        for start, after in pairwise(starts)
        if start + _PHRASE_BARS < after
    ]


def _switched(state: frozenset[str], mark: Mark) -> frozenset[str]:
    if mark.kind == "pizzicato":
        return state | {"pizz"} if mark.text == "yes" else state - {"pizz"}
    if mark.kind == "rest":
        return state - ({"espressivo", "solo"} if mark.text == "long" else {"espressivo"})
    if mark.kind != "words":
        return state
    text = mark.text.lower()
    for pattern, on, off in _SWITCHES:
        if pattern.search(text):
            state = state - set(off)
            if on:
                state = state | {on}
            else:
                # "senza sord." also contains the word that switches the mute on.
                return state
    return state
