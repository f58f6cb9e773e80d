"""The key an instrument is built or crooked in: its names in four languages, its interval.

A written C sounds as the key's note; which octave is the instrument's custom: horns sound
below what is written, trumpets up to F above it [1]_, clarinets nearest to it.

References
----------
.. [1] C. Forsyth, *Orchestration* (1914), the horn and the trumpet; the horn's intervals
       also in the table of Wikibooks, "Horn/Technique/Transposition".
"""

from __future__ import annotations

import re

from auditor.score.instruments import words_of

_LETTERS = {"c": 0, "d": 2, "e": 4, "f": 5, "g": 7, "a": 9}
_SYLLABLES = {
    "do": 0, "ut": 0, "re": 2, "mi": 4, "fa": 5, "sol": 7, "la": 9, "si": 11,
}  # fmt: skip
_GERMAN = {
    "es": 3, "as": 8, "des": 1, "ges": 6, "fis": 6, "cis": 1, "gis": 8, "h": 11,
    "dis": 3, "ais": 10, "ces": 11,
}  # fmt: skip
_FLAT = frozenset(("flat", "bemolle", "bemol", "bem", "b"))
_SHARP = frozenset(("sharp", "diesis", "diese", "#"))
_LOW = frozenset(("basso", "bassi", "tief", "tiefe", "low", "grave", "bas"))
_HIGH = frozenset(("alto", "alti", "acuto", "hoch", "high", "aigu", "haut"))
# "4 Hörner (F)", "Trumpet [B♭]".
_BRACKETED = re.compile(r"[(\[]\s*([A-Ha-h](?:[#b♭♯]|es|s|is)?)\s*[)\]]")

# The B that is B flat in German and Italian scores and B natural in English ones.
EITHER_B = (10, 11)


def keys_of(name: str) -> tuple[int, ...]:
    """Pitch classes the instrument's key may be, as a name says it, the likelier first.

    >>> keys_of("Corni in Es"), keys_of("Cor en fa"), keys_of("Bb (alto) Horn 1")
    ((3,), (5,), (10,))
    >>> keys_of("Corni in B"), keys_of("Horn"), keys_of("Clarinetti in la")
    ((10, 11), (), (9,))
    """
    words = words_of(_BRACKETED.sub(r" in \1", name))
    for place, word in enumerate(words):
        if word in ("in", "en") and place + 1 < len(words):
            found = _key(words[place + 1 : place + 4], named=True)
            if found:
                return found
    for place, word in enumerate(words):
        # "A Clarinet", "F Horn 1", "Es-Klarinette": the key before the instrument.
        following = [w for w in words[place + 1 :] if w not in _LOW | _HIGH | _FLAT]
        first = not words[:place] or words[place - 1].isdigit()
        if first and following and not word.isdigit():
            found = _key(words[place : place + 2], named=False)
            if found:
                return found
    # "Horn (F)", "Clarinet Bb".
    return _key(words[-1:], named=False) if len(words) > 1 and len(words[-1]) > 1 else ()


def _key(words: tuple[str, ...], *, named: bool) -> tuple[int, ...]:
    word, after = words[0], words[1] if len(words) > 1 else ""
    if word == "b" and after not in _FLAT:
        return EITHER_B
    shift = -1 if after in _FLAT and after != word else 1 if after in _SHARP else 0
    if word in _GERMAN:
        return (_GERMAN[word],)
    if word == "b":
        return (10,)
    if word in _LETTERS:
        return ((_LETTERS[word] + shift) % 12,)
    if len(word) == 2 and word[0] in "abcdefg" and word[1] in "b#":
        letter = 11 if word[0] == "b" else _LETTERS[word[0]]
        return ((letter + (1 if word[1] == "#" else -1)) % 12,)
    if named:
        for syllable, pitch in _SYLLABLES.items():
            rest = word.removeprefix(syllable)
            if word.startswith(syllable) and rest in ("", "b", "#", "bemolle", "bemol"):
                shift = -1 if rest.startswith("b") else 1 if rest == "#" else shift
                return ((pitch + shift) % 12,)
    return ()


def tuning_of(name: str) -> tuple[int, ...]:
    """Pitch classes a pair of timpani is tuned to, as a name or word says it.

    >>> tuning_of("Timpani in D and A"), tuning_of("Pauken in B, F"), tuning_of("Timpani")
    ((2, 9), (10, 5), ())
    >>> tuning_of("C-G"), tuning_of("(D. A.)"), tuning_of("G.P.")
    ((0, 7), (2, 9), ())
    """
    words = words_of(name)
    # "C-G" and "(D. A.)" name the kettles and nothing else.
    found = _kettles(words)
    if len(found) == len([w for w in words if w not in _FLAT | _SHARP]) > 1:
        return found
    for place, word in enumerate(words):
        if word in ("in", "en"):
            found = _kettles(words[place + 1 :])
            if len(found) > 1:
                return found
    return ()


def _kettles(words: tuple[str, ...]) -> tuple[int, ...]:
    found: list[int] = []
    for k, word in enumerate(words):
        key = _key(words[k : k + 2], named=True)
        if key and (word != "e" or k == 0):  # "e" joins two in Italian
            found.append(key[0])
    return tuple(found)


def retuned(text: str, before: tuple[int, ...]) -> tuple[int, ...]:
    """Pitch classes the kettles have after words, `before` if those say nothing of them.

    >>> retuned("muta in D, A", (0, 7)), retuned("muta G in A", (2, 7)), retuned("solo", (0, 7))
    ((2, 9), (2, 9), (0, 7))
    """
    words = tuple(w for w in words_of(text) if not w.startswith(("mut", "stimm", "chang")))
    if len(words) == 3 and words[1] in ("in", "en", "nach", "to"):
        old, new = _kettles(words[:1]), _kettles(words[2:])
        if old and new and old[0] in before:
            return tuple(new[0] if kettle == old[0] else kettle for kettle in before)
    return tuning_of(text) or before


def register_of(name: str) -> str:
    """Read ``low`` (basso, tief), ``high`` (alto, hoch) or nothing from a name."""
    words = set(words_of(re.sub(r"\b[aà] ?2\b", " ", name)))
    return "low" if words & _LOW else "high" if words & _HIGH else ""


def intervals(instrument: str, key: int, register: str = "") -> tuple[int, ...]:
    """Semitones from written to sounding that a key may mean, the usual one first.

    Parameters
    ----------
    instrument
        Key of the instrument table.
    key
        Pitch class of the crook.
    register
        ``low``, ``high`` or empty, from `register_of`.

    Returns
    -------
    tuple of int
        Empty for instruments that are not named by keys.

    Examples
    --------
    >>> intervals("horn", 5), intervals("horn", 10, "low"), intervals("trumpet", 2)
    ((-7,), (-14,), (2,))
    """
    if instrument in ("horn", "wagner-tuba"):
        return _horn(key, register)
    if instrument in ("trumpet", "bass-trumpet", "piccolo-trumpet"):
        near = key if key <= 6 else key - 12
        usual = {"bass-trumpet": near - 12, "piccolo-trumpet": key}.get(instrument, near)
        return (usual,)
    if instrument in ("cornet", "flugelhorn"):
        return (key if key in (0, 3) else key - 12,)
    if instrument in ("clarinet", "e-flat-clarinet"):
        return (key if key <= 5 or key == 8 else key - 12,)
    if instrument == "bass-clarinet":
        # French writing in the treble clef, German in the bass clef.
        return (key - 24, key - 12) if key else (-12, 0)
    return ()


def _horn(key: int, register: str) -> tuple[int, ...]:
    down = key - 12
    low, high = down - (12 if key else 0), down if key else 0
    if key in (0, 9, 10, 11, 8):
        # C, A, B flat, B and A flat exist high and low; C alone means low.
        usual = (low, high) if key in (0, 10, 11) else (high, low)
        return {"low": (low,), "high": (high,)}.get(register, usual)
    return (down,)
