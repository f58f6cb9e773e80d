"""Words over the notes that the trade writes otherwise: slips of spelling, and homemade terms.

The list is common practice, no source; words in any language that players read are left alone.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator

from auditor.craft.limits import CraftLimits
from auditor.craft.page import Page
from auditor.craft.remark import Remark
from auditor.score.notes import Direction, Part

# Terms that are misspelt most: a word as long, with the same first letter and a slip or two,
# is one of them. What is listed after a term is right as well.
_TERMS: dict[str, tuple[str, ...]] = {
    "pizzicato": ("pizzicati", "pizzicata"), "staccato": ("staccati", "staccata"),
    "staccatissimo": (), "crescendo": ("crescendi", "crescente"),
    "decrescendo": ("decrescente",), "diminuendo": ("diminuente", "diminuant"),
    "ritardando": ("retardando",), "rallentando": (), "accelerando": ("accelerato",),
    "espressivo": ("espressiva", "espressione", "expressivo", "expressif", "espressif"),
    "cantabile": ("cantabili",), "sostenuto": ("sostenuta", "sostenendo"),
    "marcato": ("marcata", "marcati"), "marcatissimo": (), "tremolo": ("tremoli", "tremolos"),
    "glissando": ("glissandi", "glissandos"), "portamento": ("portamenti",),
    "sordino": ("sordini", "sordine", "sordina"), "ponticello": (), "tastiera": (),
    "leggiero": ("leggero", "leggiere", "leggieri"), "fortissimo": (), "pianissimo": (),
    "maestoso": ("maestosa",), "dolcissimo": (), "flautando": ("flautato",),
}  # fmt: skip
_LETTERS = re.compile(r"[^\W\d_]+")
# Letters wrong, missing or too many in a word that is still taken for a term.
_SLIPS = 2
# Shorter terms forgive one.
_LONG = 9
# Pattern, families it is wrong for (empty: all), what the trade writes.
_WORDS: tuple[tuple[str, tuple[str, ...], str], ...] = (
    (r"\bpizzicatt?o?s\b|\bpizzacato\b|\bpizzicatto\b|\bpizicato\b|\bpiz\b\.?", (), "pizz."),
    (r"\bpluck(ed)?\b|\bplucking\b|\bpicked\b|\bfingers? only\b", ("strings",), "pizz."),
    (r"\barko\b|\barcco\b", (), "arco"),
    (r"\bbowed\b|\b(with|use) (the )?bow\b", ("strings",), "arco"),
    (r"\bstacatto\b|\bstaccatto\b|\bstacato\b", (), "stacc."),
    (r"\blegatto\b|\bleggato\b", (), "legato"),
    (r"\bcrecendo\b|\bcressendo\b|\bcrescendoo\b|\bcresendo\b", (), "cresc."),
    (r"\bdiminuedo\b|\bdimenuendo\b|\bdimineundo\b|\bdeminuendo\b|\bdescrescendo\b", (),
     "dim."),
    (r"\bespressive\b|\bexpressivo\b", (), "espr."),
    (r"\bunmuted?\b|\bun-muted?\b|\bmutes? (off|out)\b|\b(no|without|remove) mutes?\b",
     ("strings", "brass"), "senza sord."),
    (r"\bmuted?\b|\bwith mutes?\b|\bmutes? on\b", ("strings",), "con sord."),
    (r"\bsordin[oi] off\b|\bsord\.? off\b", (), "senza sord."),
    (r"\bflutter\b|\bfluttertongue\b|\bflutter tongue\b", (), "flz. (flutter-tongue)"),
    (r"\bsul ponticelo\b|\bsul pontichello\b|\bon the bridge\b|\bnear the bridge\b",
     ("strings",), "sul pont."),
    (r"\bsul tastiera\b|\bover the fingerboard\b|\bon the fingerboard\b", ("strings",),
     "sul tasto"),
    (r"\bwith (the )?wood\b|\bcol leno\b|\bcol lengo\b", ("strings",), "col legno"),
    (r"\btremelo\b|\btremello\b", (), "trem."),
    (r"\bglisando\b|\bslide\b", ("strings", "plucked"), "gliss."),
    (r"\bdivise\b|\bsplit\b|\bdivissi\b|\bdivided\b", ("strings",), "div."),
    (r"\bunison\b|\btogether\b", ("strings",), "unis."),
    (r"\ball\b(?! )|\beveryone\b", ("strings",), "tutti"),
    (r"\bnormally\b|\bback to normal\b", ("strings", "woodwind", "brass"), "ord."),
    (r"\bboth\b|\btwo players\b", ("woodwind", "brass"), "a2"),
    (r"\bhandstop(ped)?\b|\bhand stop(ped)?\b", ("brass",), "stopped (+)"),
    (r"\bslow down\b|\bslowing\b", (), "rit."),
    (r"\bspeed up\b|\bget faster\b", (), "accel."),
    (r"\b(gradually|get|getting|growing) louder\b", (), "cresc."),
    (r"\b(gradually|get|getting|growing) (softer|quieter)\b", (), "dim."),
    (r"\bmezo ?(forte|f)\b", (), "mf"),
    (r"\bmolto vibratto\b|\bvibratto\b", (), "vibr."),
    (r"\bsolo line\b|\bsolo part\b", (), "solo"),
)  # fmt: skip
_COMPILED = tuple((re.compile(p, re.IGNORECASE), f, w) for p, f, w in _WORDS)


def remarks(page: Page, limits: CraftLimits) -> Iterable[Remark]:
    """Every remark on words."""
    del limits
    for part in page.parts:
        for sign in page.directions_of(part.number):
            if sign.kind in ("words", "tempo") and sign.part == part.number:
                yield from odd_words(page, part, sign)


def trade_word(text: str, family: str) -> str:
    """What the trade writes for words over a part of a family; empty where it writes the same.

    >>> trade_word("plucked", "strings"), trade_word("pizz.", "strings")
    ('pizz.', '')
    """
    for pattern, families, written in _COMPILED:
        found = pattern.search(text)
        if found and (not families or family in families):
            # Words that hold the usual term already explain it, and do no harm.
            usual = written.split(" (")[0].rstrip(".").lower()
            if not re.search(rf"\b{re.escape(usual)}\b", text.lower()):
                return written
    return _meant(text)


def _meant(text: str) -> str:
    """The term that a misspelt word of a text stands for; empty where none does."""
    for word in _LETTERS.findall(text.lower()):
        right = {w for term, others in _TERMS.items() for w in (term, *others)}
        if word in right:
            continue
        for term in _TERMS:
            slips = 1 if len(term) < _LONG else _SLIPS
            if word[0] == term[0] and _apart(word, term, slips) <= slips:
                return term
    return ""


def _apart(one: str, other: str, most: int) -> int:
    """Letters to change, add or take away to make one word the other (V. Levenshtein)."""
    if abs(len(one) - len(other)) > most:
        return most + 1
    row = list(range(len(other) + 1))
    for i, a in enumerate(one, start=1):
        last, row[0] = row[0], i
        for j, b in enumerate(other, start=1):
            last, row[j] = row[j], min(row[j] + 1, row[j - 1] + 1, last + (a != b))
    return row[-1]


def odd_words(page: Page, part: Part, sign: Direction) -> Iterator[Remark]:
    """One direction the trade writes otherwise."""
    written = trade_word(sign.text, part.instrument.family)
    if not written:
        return
    after = next((n for n in page.notes_of(part.number) if n.onset >= sign.onset - 1e-3), None)
    yield Remark(
        "unusual-words", "worth a thought", part.number, sign.bar, sign.bar,
        (after.id,) if after else (),
        f"{part.name} reads “{sign.text}”; parts usually say {written}",
        "Players react at sight to the terms they have read all their lives; another word "
        "costs a look and a question.",
        f"Write {written}",
    )  # fmt: skip
