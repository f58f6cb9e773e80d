"""Which stem is whose: by name in four languages, by group, or as a mapping file says."""

from __future__ import annotations

import logging
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from scipy.optimize import linear_sum_assignment

from auditor.errors import InputError
from auditor.score.instruments import named, numbers_of, words_of
from auditor.score.notes import Part
from auditor.settings_files import read_toml

_log = logging.getLogger(__name__)

MAPPING = "stems.toml"
ROOM, LEFT_OUT = "room", "none"

# How well a file name fits a part's name; a fit of 0 is none at all. A number in front may
# be a desk ("2. Flöte") or a track ("02 Flute"): as a desk it counts a little less than as
# a place, unless the score writes it in front too.
_SAME_WORDS, _SAME_DESK, _SAME_INSTRUMENT, _SAME_PLACE = 8.0, 6.0, 3.0, 0.5
_DESK_IN_FRONT, _BOTH_IN_FRONT, _DESK_AMONG_NUMBERS = 3.2, 4.0, 2.0
# Names of voices that also are names of strings: "Alto" in French, "Basso" in Italian. A voice
# of that name comes first.
_ALSO = {"alto": "viola", "bass": "double-bass"}
_OTHER_SENSE = 0.25

# Names of groups in English, German, Italian and French, as scores and mixers write them.
_FAMILIES: dict[str, tuple[str, ...]] = {
    "woodwind": ("woodwinds", "woodwind", "winds", "ww", "holz", "holzblaser", "legni", "bois"),
    "saxophone": ("saxes", "saxophones", "saxophone", "sassofoni"),
    "brass": ("brass", "blech", "blechblaser", "ottoni", "cuivres"),
    "percussion": ("percussion", "percussions", "perc", "schlagwerk", "schlagzeug",
                   "percussioni"),
    "strings": ("strings", "string", "str", "streicher", "archi", "cordes"),
    "keyboard": ("keyboards", "keys", "tasten", "tastiere", "claviers"),
    "voice": ("choir", "chorus", "chor", "coro", "choeur", "voices"),
}  # fmt: skip
_ROOM_WORDS = frozenset(
    ("reverb", "room", "hall", "raum", "nachhall", "riverbero", "ambience", "ambiance",
     "reverberation", "verb", "fx", "return", "rev")
)  # fmt: skip
_MIX_WORDS = frozenset(("mix", "master", "mixdown", "summe", "bounce", "stereo", "full"))


@dataclass(frozen=True, slots=True)
class Stem:
    """One sound file and whose sound it holds.

    Parameters
    ----------
    path
        The file.
    parts
        Numbers of the parts in it.
    how
        ``name``, ``group`` or ``mapping``: how this was found.
    """

    path: Path
    parts: tuple[int, ...]
    how: str


@dataclass(frozen=True, slots=True)
class Matched:
    """Files and parts brought together.

    Parameters
    ----------
    stems
        In the order of their first part.
    room
        Files that hold the room of all: reverb returns.
    spare
        Files that fit no part.
    missing
        Parts with notes but without a stem.
    """

    stems: tuple[Stem, ...]
    room: tuple[Path, ...] = ()
    spare: tuple[Path, ...] = ()
    missing: tuple[Part, ...] = ()

    def all_there(self) -> None:
        """Refuse to go on without a mix when a part has no stem.

        Raises
        ------
        InputError
            If a part with notes is left without a file.
        """
        if self.missing:
            names = ", ".join(part.name for part in self.missing)
            spare = ", ".join(sorted(path.name for path in self.spare))
            raise InputError(
                f"no stem was found for {names}; name each file after its part, give the mix "
                f"too, or say in {MAPPING} which file is whose"
                + (f" (not matched: {spare})" if spare else "")
            )


def match_stems(
    files: Sequence[Path],
    parts: Sequence[Part],
    mapping: Mapping[str, object] | None = None,
) -> Matched:
    """Find each part's file.

    The mapping comes first; then names are matched one to one, in any language the
    instrument table knows; then files that name several parts, an instrument without
    desks, or a family, take the parts that are left. A number in front of a file name is
    taken for the part's place if nothing else tells two files apart. Hidden files are
    passed over.

    Parameters
    ----------
    files
        Sound files.
    parts
        Parts that have notes.
    mapping
        What the mapping file says: part names or numbers, ``"room"`` or ``"none"``, by
        file name.

    Raises
    ------
    InputError
        If the mapping names files or parts that are not there; all of them at once.
    """
    files = sorted(path for path in files if not path.name.startswith("."))
    told, room, free = _mapped(files, parts, mapping or {})
    taken = {number for stem in told for number in stem.parts}
    left = [part for part in parts if part.number not in taken]
    room += [p for p in free if _is_room(p.stem)]
    free = [p for p in free if p not in room]
    stems = told + _by_name(free, left)
    used = {stem.path for stem in stems}
    taken = {number for stem in stems for number in stem.parts}
    spare = [p for p in free if p not in used and not _is_mix(p.stem)]
    for path in spare:
        _log.warning("this stem fits no part and is left aside: %s", path.name)
    return Matched(
        stems=tuple(sorted(stems, key=lambda s: s.parts)),
        room=tuple(room),
        spare=tuple(spare),
        missing=tuple(part for part in parts if part.number not in taken),
    )


def read_mapping(folder: Path) -> Mapping[str, object]:
    """What the mapping file in a folder says, empty without one.

    Raises
    ------
    InputError
        If it is not TOML.
    """
    path = folder / MAPPING
    if not path.is_file():
        return {}
    return read_toml(path, hint='write lines such as "Winds.wav" = ["Flute", "Oboe"]')


def _mapped(
    files: Sequence[Path], parts: Sequence[Part], mapping: Mapping[str, object]
) -> tuple[list[Stem], list[Path], list[Path]]:
    """Stems, room and files left over after the mapping file."""
    stems, room, gone = [], [], set()
    wrong: list[str] = []
    for name, value in mapping.items():
        found = [p for p in files if name in (p.name, p.stem)]
        if not found:
            wrong.append(f"names {name}, which is not among the stems")
            continue
        gone.add(found[0])
        if value == ROOM:
            room.append(found[0])
        elif value != LEFT_OUT:
            wanted = value if isinstance(value, list) else [value]
            numbers = {_numbered(one, parts) for one in wanted}
            stems.append(Stem(found[0], tuple(sorted(n for n in numbers if n)), "mapping"))
            lost = [str(one) for one in wanted if not _numbered(one, parts)]
            if lost:
                wrong.append(f"gives {name} to {' and '.join(lost)}, {_nobody(parts)}")
    if wrong:
        raise InputError(f"{MAPPING} {'; it '.join(wrong)}")
    return stems, room, [p for p in files if p not in gone]


def _numbered(wanted: object, parts: Sequence[Part]) -> int:
    """Number of the part that is meant, 0 for none."""
    for part in parts:
        if (wanted == part.number and not isinstance(wanted, bool)) or (
            isinstance(wanted, str) and _plain(wanted) == _plain(part.name)
        ):
            return part.number
    return 0


def _nobody(parts: Sequence[Part]) -> str:
    known = ", ".join(f"{part.number} {part.name}" for part in parts)
    return f"but no part with notes has that name or number (there are: {known})"


def _by_name(files: Sequence[Path], parts: Sequence[Part]) -> list[Stem]:
    fit = np.array([[_fit(path.stem, part) for path in files] for part in parts])
    rows, columns = linear_sum_assignment(-fit.reshape(len(parts), len(files)))
    single = {files[c]: parts[r] for r, c in zip(rows, columns, strict=True) if fit[r, c] > 0}
    placed = {part.number for part in single.values()}
    left = [part for part in parts if part.number not in placed]
    stems = []
    for path in sorted(files, key=lambda p: (p not in single, p.name)):
        own = [single[path]] if path in single else []
        more = [part for part in left if _holds(path.stem, part, own)]
        left = [part for part in left if part not in more]
        if own or more:
            numbers = tuple(sorted(part.number for part in own + more))
            stems.append(Stem(path, numbers, "group" if more else "name"))
    return stems


def _holds(stem: str, part: Part, own: Sequence[Part]) -> bool:
    """Tell whether a file's name stands for a part that has no file of its own."""
    stem = _spaced(stem)
    desks, theirs = _desks(stem), _desks(part.name)
    if own:
        same = own[0].instrument.key == part.instrument.key
        exact = _plain(own[0].name) == _plain(stem)
        return same and not exact and (not desks or (bool(theirs) and set(theirs) < set(desks)))
    words = set(words_of(stem))
    if words & set(_FAMILIES.get(part.instrument.family, ())):
        return True
    entry = named(stem)
    return entry is not None and entry.instrument.key == part.instrument.key and not desks


def _is_room(stem: str) -> bool:
    words = set(words_of(_spaced(stem)))
    return bool(words & _ROOM_WORDS) and named(stem) is None


def _is_mix(stem: str) -> bool:
    return bool(set(words_of(_spaced(stem))) & _MIX_WORDS) and named(stem) is None


def _spaced(stem: str) -> str:
    stem = re.sub(r"(?<=[a-z])(?=[A-Z])", " ", stem)  # "ViolinII", "FrenchHorn"
    return stem.replace("_", " ")


def _fit(stem: str, part: Part) -> float:
    stem = re.sub(r"(?<=[a-z])(?=[A-Z])", " ", stem)
    place = re.match(r"\s*(\d+)[\s_.\-]+(?=\D)", stem)
    name = stem[place.end() :] if place else stem
    here = _SAME_PLACE if place and int(place.group(1)) == part.number else 0.0
    if _plain(part.name) in (_plain(stem), _plain(name)):
        return _SAME_WORDS + here
    entry = named(name)
    if entry is None:
        return 0.0
    if _ALSO.get(entry.instrument.key) == part.instrument.key:
        return _OTHER_SENSE * (_desk_fit(name, part) + here)
    if entry.instrument.key != part.instrument.key:
        return 0.0
    return max(_desk_fit(name, part) + here, _front_fit(stem, part) if place else 0.0)


def _front_fit(stem: str, part: Part) -> float:
    if stem.lstrip().startswith("0") or _desks(stem) != _desks(part.name):
        return 0.0
    return _BOTH_IN_FRONT if part.name[:1].isdigit() else _DESK_IN_FRONT


def _desk_fit(name: str, part: Part) -> float:
    mine, theirs = _desks(name), _desks(part.name)
    if mine == theirs:
        return _SAME_DESK
    if not (mine and theirs):
        return _SAME_INSTRUMENT
    # "Overture v3 Flute 1": one of several numbers is the desk.
    return _DESK_AMONG_NUMBERS if set(theirs) < set(mine) else 0.0


def _desks(name: str) -> tuple[int, ...]:
    return numbers_of(name.replace("_", " "))


def _plain(name: str) -> tuple[str, ...]:
    """Words of a name, numbers without leading noughts."""
    return tuple(str(int(w)) if w.isdigit() else w for w in words_of(name))
