"""Ways of playing that a word switches on until another switches them off."""

from __future__ import annotations

import re
from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass

from auditor.score.grid import Grid
from auditor.score.sheet import Mark

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
    (re.compile(r"\btutti\b|\bunis\.?|\ba(gli)? altri\b|\bzusammen\b|\btous\b"), "",
     ("solo", "div", "half")),
    (re.compile(r"^(\[|\()?(a|à|zu)\.? ?[2-8]\b"), "a2", ("solo", "div", "first")),
    (re.compile(r"\bsol[oi]\b|\bseul\b|\bein(e|zeln)? spieler\b"), "solo", ("a2",)),
    (re.compile(r"\bdiv(\.|isi\b|is[ée]s?\b)?(?!\w)|\bget(\.|eilt)|\bgeth\."), "div", ()),
    (re.compile(r"\bla moiti[ée]\b|\bdie h[äa]lfte\b|\bhalf\b|\bla met[àa]\b"), "half", ()),
    (re.compile(r"^(1\.|i\.|1°|1mo|1\.?er|2\.|ii\.|2°|3\.|iii\.|4\.|iv\.)( ?solo)?$"), "first",
     ("a2",)),
)  # fmt: skip


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


def playing(marks: Sequence[Mark], grid: Grid) -> Playing:
    """Ways of playing of one part, from its words and its playback switches."""
    places: list[float] = []
    states: list[frozenset[str]] = []
    state: frozenset[str] = frozenset()
    for mark in sorted(marks, key=lambda m: (m.bar, m.at)):
        new = _switched(state, mark)
        if new != state:
            state = new
            places.append(grid.onsets[mark.bar] + mark.at)
            states.append(state)
    return Playing(tuple(places), tuple(states))


def _switched(state: frozenset[str], mark: Mark) -> frozenset[str]:
    if mark.kind == "pizzicato":
        return state | {"pizz"} if mark.text == "yes" else state - {"pizz"}
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
