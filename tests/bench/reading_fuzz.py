"""Score files broken at random: each must be read or refused in one sentence, in time.

    python tests/bench/reading_fuzz.py SECONDS [--seed N] [--keep FOLDER] [--formats NAME ...]

The files are those that come with music21 (corpus, tests, MusicXML conformance suite); some
elements, letters, bytes or archive members of each are changed. What comes out is counted; a
file that leads to anything but a page or an `AuditError`, or takes longer than the limit, is
kept in FOLDER. MEI, Humdrum and ABC are converted in this process, for starting one for every
file would take most of the time.
"""

import argparse
import contextlib
import io
import json
import random
import signal
import tempfile
import time
import traceback
import warnings
import zipfile
from collections import Counter
from pathlib import Path
from xml.etree import ElementTree

import music21

from auditor.errors import AuditError
from auditor.score import foreign, formats
from auditor.score.engraved import stamped_excerpt
from auditor.score.reading import open_score

LIMIT_S = 25.0  # of processor time, for one file
HERE = Path(music21.__file__).parent
MOST_BYTES = {"musicxml": 200_000, "mxl": 12_000, "mid": 60_000, "mei": 300_000, "krn": 6_000,
              "abc": 6_000}  # fmt: skip
SUFFIXES = {"musicxml": ("*.xml", "*.musicxml")}
ODD = ["", " ", "0", "-1", "1", "2", "-999999999", "1e308", "nan", "inf", "1/0", "½", "٣", "16",
       "99999999999999999999", "0.3333333", "0.0001", "1000000", "yes", "no", "start", "stop",
       "continue", "backward", "forward", "C", "H", "G-1", "D.C. al Fine", "To Coda", "Fine",
       "Dal Segno al Coda", "cresc.", "con sord.", "div. a 3", "1-9999999", "1,2,3", "eighth",
       "\u202eabc", "x" * 3000, "Violoncello e Contrabasso", "muta in A", "timpani in D, A",
       "P1", "P2", "n1", "a2", "1.", "8", "slash", "discontinue"]  # fmt: skip
LETTERS = "|:[]()/<>^_=23,'zABcg\n KLMQ{}-&\"!x*.4816#;_~\tTwVI%&\\"


class Late(BaseException):
    """The limit was reached."""


def late(*_):
    raise Late


def in_process(_path, text, kind):
    """What `auditor.score.formats` asks of the library's own process, done in this one."""
    printed = io.StringIO()
    try:
        with contextlib.redirect_stderr(printed):
            head, data = foreign._converted(text, kind.library)
    except Late:
        raise AuditError("the library stayed in the file") from None
    except Exception as exc:
        head, data = {"fault": (str(exc).splitlines() or [""])[0][:120]}, b""
    return head, data, printed.getvalue().count("WARNING")


def seeds(kind):
    patterns = SUFFIXES.get(kind, (f"*.{kind}",))
    found = [path for pattern in patterns for path in sorted(HERE.rglob(pattern))]
    return [path for path in found if 0 < path.stat().st_size < MOST_BYTES[kind]]


def broken_xml(data, rng):
    root = ElementTree.fromstring(data)
    for _ in range(rng.choice((1, 1, 2, 3, 5, 8, 20))):
        parents = {child: parent for parent in root.iter() for child in parent}
        if not parents:
            break
        one, other = rng.choice(list(parents)), rng.choice(list(parents))
        way = rng.randrange(9)
        if way == 0:
            parents[one].remove(one)
        elif way == 1:
            parents[one].insert(rng.randrange(len(parents[one]) + 1), one)
        elif way == 2 and other not in one.iter():
            parents[one].remove(one)
            other.append(one)
        elif way == 3:
            one.tag = other.tag
        elif way == 4:
            one.text = rng.choice(ODD)
        elif way == 5 and one.attrib:
            one.set(rng.choice(list(one.attrib)), rng.choice(ODD))
        elif way == 6:
            one[:] = rng.sample(list(one), len(one))
        elif way == 7:
            one.text, other.text = other.text, one.text
    return ElementTree.tostring(root, encoding="utf-8")


def broken_bytes(data, rng, most=12):
    found = bytearray(data)
    for _ in range(rng.randint(1, most)):
        at, way = rng.randrange(len(found) + 1), rng.randrange(5)
        if way == 0:
            found[at : at + 1] = rng.randbytes(1)
        elif way == 1:
            del found[at : at + rng.choice((1, 1, 2, 8, 64))]
        elif way == 2:
            found[at:at] = rng.randbytes(rng.choice((1, 2, 4)))
        elif way == 3 and found:
            other = rng.randrange(len(found))
            found[at:at] = found[other : other + rng.choice((1, 4, 30))]
        elif rng.random() < 0.1:
            del found[at:]
    return bytes(found)


def broken_text(data, rng):
    text = data.decode("latin-1")
    for _ in range(rng.randint(1, 8)):
        at, way = rng.randrange(len(text) + 1), rng.randrange(5)
        lines = text.split("\n")
        if way == 0:
            text = text[:at] + text[at + rng.randint(1, 4) :]
        elif way == 1:
            text = text[:at] + rng.choice(LETTERS) * rng.choice((1, 1, 3, 30)) + text[at:]
        elif way == 2:
            text = text[:at] + rng.choice(ODD)[:60] + text[at:]
        elif way == 3:
            lines.insert(rng.randrange(len(lines) + 1), rng.choice(lines))
            text = "\n".join(lines)
        else:
            del lines[rng.randrange(len(lines))]
            text = "\n".join(lines)
    return text.encode("latin-1", "replace")


def broken_archive(data, rng):
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        members = {name: archive.read(name) for name in archive.namelist()}
    name = rng.choice(list(members))
    with contextlib.suppress(ElementTree.ParseError):
        members[name] = broken_xml(members[name], rng)
    if rng.random() < 0.05:
        members.pop(rng.choice(list(members)))
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w", rng.choice((0, 8))) as archive:
        for key, value in members.items():
            archive.writestr(key, value)
    return buffer.getvalue()


def broken(kind, data, rng):
    if kind in ("krn", "abc"):
        return broken_text(data, rng)
    if kind == "mid" or rng.random() < 0.25:
        return broken_bytes(data, rng, 4 if kind == "mid" else 12)
    if kind == "mxl":
        return broken_archive(data, rng)
    try:
        return broken_xml(data, rng)
    except ElementTree.ParseError:
        return broken_bytes(data, rng)


def outcome(path):
    """``read`` or ``refused``; raises whatever should not come out."""
    signal.setitimer(signal.ITIMER_PROF, LIMIT_S)
    try:
        page = open_score(path)
        stamped_excerpt(page, list(page.bodies)[:3], 0, min(2, page.score.written_bars - 1))
        said = ""
    except AuditError as exc:
        said = str(exc)
    finally:
        signal.setitimer(signal.ITIMER_PROF, 0)
    assert "\n" not in said
    assert len(said) < 900
    if said:
        return "refused"
    notes = page.score.notes
    assert len({note.id for note in notes}) == len(notes)
    assert all(0 <= note.pitch <= 127 for note in notes)
    return "read"


def main():
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("seconds", type=float)
    parser.add_argument("--formats", nargs="+", default=list(MOST_BYTES))
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--keep", type=Path, default=None)
    arguments = parser.parse_args()
    warnings.simplefilter("ignore")
    signal.signal(signal.SIGPROF, late)
    formats._from_library = in_process
    rng, tally, faults = random.Random(arguments.seed), Counter(), Counter()
    sources = {kind: seeds(kind) for kind in arguments.formats}
    until = time.time() + arguments.seconds
    with tempfile.TemporaryDirectory() as folder:
        while time.time() < until:
            kind = rng.choice(arguments.formats)
            data = broken(kind, rng.choice(sources[kind]).read_bytes(), rng)
            path = Path(folder) / f"score.{kind}"
            path.write_bytes(data)
            try:
                tally[f"{kind} {outcome(path)}"] += 1
            except (Exception, Late) as exc:
                last = traceback.extract_tb(exc.__traceback__)[-1]
                fault = f"{type(exc).__name__} {Path(last.filename).name}:{last.lineno}"
                faults[fault] += 1
                if arguments.keep and faults[fault] == 1:
                    arguments.keep.mkdir(parents=True, exist_ok=True)
                    (arguments.keep / f"{len(faults)}.{kind}").write_bytes(data)
    print(json.dumps(tally, sort_keys=True, indent=1))
    print(f"{sum(tally.values()) + sum(faults.values())} files, "
          f"{time.process_time():.0f} s of processor time; faults: {dict(faults)}")  # fmt: skip


if __name__ == "__main__":
    main()
