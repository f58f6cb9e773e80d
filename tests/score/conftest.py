"""Small scores written on the spot, as MusicXML."""

from types import SimpleNamespace

import pytest

ATTRIBUTES = (
    "<attributes><divisions>24</divisions><key><fifths>0</fifths></key>"
    "<time><beats>4</beats><beat-type>4</beat-type></time>"
    "<clef><sign>G</sign><line>2</line></clef>{more}</attributes>"
)


def note(pitch, quarters=1.0, *, more="", notations="", voice=1, staff=None, chord=False):
    """One note; `pitch` like C4 or F#5, or R for a rest; `more` goes before the duration."""
    if pitch == "R":
        what = "<rest/>"
    else:
        alter = pitch.count("#") - pitch[1:].count("b")
        what = (
            f"<pitch><step>{pitch[0]}</step><alter>{alter}</alter>"
            f"<octave>{pitch[-1]}</octave></pitch>"
        )
    return (
        f"<note>{'<chord/>' if chord else ''}{what}<duration>{round(quarters * 24)}</duration>"
        f"{more}<voice>{voice}</voice>{f'<staff>{staff}</staff>' if staff else ''}"
        f"{f'<notations>{notations}</notations>' if notations else ''}</note>"
    )


def direction(inner, sound=""):
    return f"<direction><direction-type>{inner}</direction-type>{sound}</direction>"


def dynamic(letters):
    return direction(f"<dynamics><{letters}/></dynamics>")


def words(text):
    return direction(f"<words>{text}</words>")


def wedge(kind):
    return direction(f'<wedge type="{kind}"/>')


def part(name, *bars, head="", more="", numbers=None):
    """Name a part and give the inside of each bar."""
    return SimpleNamespace(name=name, bars=bars, head=head, more=more, numbers=numbers)


def score(*parts, title="Study", before=""):
    """Write the text of a score with these parts."""
    lists, bodies = [], []
    for index, one in enumerate(parts, start=1):
        name = f"<part-name>{one.name}</part-name>{one.head}"
        lists.append(f'<score-part id="P{index}">{name}</score-part>')
        bars = []
        for place, inside in enumerate(one.bars):
            number = one.numbers[place] if one.numbers else place + 1
            head = ATTRIBUTES.format(more=one.more) if place == 0 else ""
            bars.append(f'<measure number="{number}">{head}{inside}</measure>')
        bodies.append(f'<part id="P{index}">{"".join(bars)}</part>')
    return (
        f'<?xml version="1.0" encoding="UTF-8"?>{before}<score-partwise version="4.0">'
        f"<work><work-title>{title}</work-title></work>"
        f"<part-list>{''.join(lists)}</part-list>{''.join(bodies)}</score-partwise>"
    )


@pytest.fixture
def xml(tmp_path):
    """Helpers that write MusicXML, and `save`, which puts a text on disk."""

    def save(text, name="score.musicxml"):
        path = tmp_path / name
        path.write_bytes(text if isinstance(text, bytes) else text.encode())
        return path

    return SimpleNamespace(
        note=note,
        direction=direction,
        dynamic=dynamic,
        words=words,
        wedge=wedge,
        part=part,
        score=score,
        save=save,
    )
