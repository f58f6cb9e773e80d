"""What the page says of findings, lines and strands, in words and figures ready to print."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from auditor.auditing import Audit
from auditor.findings.finding import CAUTION, Finding
from auditor.hearing.measures import REGISTERS, Measures
from auditor.report.clips import data_uris
from auditor.report.cues import cues
from auditor.report.passages import ExcerptSource, Passage, passage, sounding_span
from auditor.report.places import bars_in_words, clock_span, line_of, listed
from auditor.report.printing import concerns, praises
from auditor.report.tables import main_role, main_strand
from auditor.report.takes import Wanted, takes_of

# Register bands in the words of pitch names (middle C is C4).
REGISTER_SPANS = ("below C3", "C3 to C4", "C4 to C5", "C5 to C7", "above C7")

KIND_WORDS = {
    "covered": "covered",
    "faint": "faint",
    "idle-doubling": "doubling that adds nothing heard",
    "works": "works",
    "silent": "not in the rendering",
    "accompaniment": "accompaniment over its melody",
    "weak-answer": "answer weaker than its statement",
    "climax": "climax that is not the loudest place",
    "carrying-doubling": "doubling that carries the line",
    "repetition": "return in the same colours",
    "register": "weight long in one register",
    "hole": "hole above the bass",
    "dynamic": "written dynamic not rendered",
    "tempo": "tempo far from its mark",
    "flattered": "flattered by the rendering",
    "wronged": "wronged by the rendering",
    "transposed": "rendered at another pitch",
    "technique": "rendered with another technique",
    "unwritten": "sound that no line explains",
    "entry": "rendered early or late",
    "short": "notes cut short in the rendering",
    "hairpin": "written change of dynamic not rendered",
}

# Excerpts and clips are what makes a page heavy; the heaviest findings get them.
ASKS_SHOWN, WORKS_SHOWN = 20, 4
ASKS_HEARD, WORKS_HEARD = 20, 4
DOUBLINGS_SHOWN = 3


@dataclass(frozen=True, slots=True)
class Share:
    """A name with its share, 0 to 1, and a remark."""

    name: str
    share: float
    words: str = ""


@dataclass(frozen=True, slots=True)
class Clip:
    """One take as the page holds it: what it is, in words, and its sound as a data URI."""

    words: str
    uri: str
    exact: bool
    sure_db: float = 0.0


@dataclass(frozen=True, slots=True)
class FindingView:
    """One finding as the page shows it."""

    number: int
    place: int
    weight: float
    families: tuple[str, ...]
    id: str
    kind: str
    praise: bool
    heading: str
    where: str
    when: str
    sentence: str
    told: str
    svg: str
    clips: tuple[Clip, ...]
    cues: str
    shown: str
    covers: tuple[Share, ...]
    registers: tuple[Share, ...]
    why: str
    cause: str
    remedies: tuple[str, ...]
    strand: str
    figures: str
    hall: str
    confidence: str
    caution: str


@dataclass(frozen=True, slots=True)
class FiguresView:
    """One line, strand or layer of a table."""

    name: str
    kind: str
    words: str
    level: str
    sone: str
    ratio: str
    distinct: str
    margin: str
    covered: str
    cover: str
    state: str
    confidence: str


def number(value: float, places: int, unit: str = "") -> str:
    """Write a number with a real minus sign, or a dash where there is none."""
    if not math.isfinite(value):
        return "–"
    text = f"{value + 0.0:.{places}f}".replace("-", "−")
    return f"{text} {unit}".rstrip()


def confidence_words(value: float) -> str:
    """Confidence as a word with its figure."""
    if not math.isfinite(value):
        return "not known"
    word = "high" if value >= 0.8 else "fair" if value >= 0.6 else "low"
    return f"{word} ({value:.2f})"


def finding_views(audit: Audit, source: ExcerptSource | None) -> tuple[FindingView, ...]:
    """Concerns, heaviest first, then what works; numbered through."""
    asks, works = concerns(audit), praises(audit)
    shown = {f.id for f in (*asks[:ASKS_SHOWN], *works[:WORKS_SHOWN])}
    heard = {f.id for f in (*asks[:ASKS_HEARD], *works[:WORKS_HEARD])}
    findings = tuple(enumerate((*asks, *works), start=1))
    passages = {
        f.id: passage(audit, f, source if f.id in shown else None, prefix=_prefix(n))
        for n, f in findings
    }
    clips = _clips(audit, [(f, passages[f.id]) for _, f in findings if f.id in heard])
    return tuple(
        _finding(audit, n, f, passages[f.id], clips.get(f.id, ())) for n, f in findings
    )


def _prefix(number: int) -> str:
    return f"x{number}-"


def _clips(audit: Audit, heard: list[tuple[Finding, Passage]]) -> dict[str, tuple[Clip, ...]]:
    wanted = [
        Wanted(f, *sounding_span(audit, part.first_bar, part.last_bar)) for f, part in heard
    ]
    takes = takes_of(audit, wanted)
    uris = iter(data_uris([take.samples for own in takes.values() for take in own]))
    return {
        name: tuple(Clip(take.words, next(uris), take.exact, take.sure_db) for take in own)
        for name, own in takes.items()
    }


def _finding(
    audit: Audit, n: int, finding: Finding, part: Passage, clips: tuple[Clip, ...]
) -> FindingView:
    where = bars_in_words(audit.score, finding.first_bar, finding.last_bar)
    lines = [line_of(audit.score, k) for k in finding.lines]
    return FindingView(
        number=n,
        place=finding.first_bar,
        weight=round(float(finding.weight), 3),
        families=tuple(dict.fromkeys(line.instrument.family for line in lines)),
        id=finding.id,
        kind=KIND_WORDS.get(finding.kind, finding.kind),
        praise=finding.kind == "works",
        heading=listed([line.name for line in lines]),
        where=where,
        when=clock_span(finding.start_s, finding.end_s),
        sentence=finding.sentence,
        told=_without_place(finding.sentence, where),
        svg=part.svg,
        clips=clips,
        cues=cues(audit, finding, part, prefix=_prefix(n)).as_json() if clips else "",
        shown=bars_in_words(audit.score, part.first_bar, part.last_bar),
        covers=tuple(
            Share(line_of(audit.score, c.line).name, float(c.share)) for c in finding.covers
        ),
        registers=_registers(finding),
        why=finding.why,
        cause=finding.cause,
        remedies=tuple(r for r in finding.remedies if r.strip()),
        strand=_strand_words(audit, finding),
        figures=_figures(finding),
        hall=_hall(audit, finding),
        confidence=confidence_words(finding.confidence),
        caution="" if finding.caution in (CAUTION, *audit.cautions) else finding.caution,
    )


def _hall(audit: Audit, finding: Finding) -> str:
    """What the forecast says of a finding of the rendering; empty without one."""
    said = {} if audit.beside is None else {f: (w, c) for f, w, c in audit.beside.agreement}
    if finding.id not in said:
        return ""
    word, chance = said[finding.id]
    # As in sentences, no forecast is called surer than nine in ten.
    often = "more than 9" if chance > 0.9 else f"about {number(10 * chance, 0)}"
    lost = f"lost in {often} of 10 forecasts"
    return {
        "agrees": f"the forecast agrees ({lost})",
        "differs": f"by the forecast it would be heard ({lost})",
    }.get(word, f"the forecast cannot tell ({lost})")


def _without_place(sentence: str, where: str) -> str:
    """Leave the bars out of a sentence that has them in its heading."""
    told = sentence.removeprefix(f"{where[0].upper()}{where[1:]}: ")
    return told[:1].upper() + told[1:]


def _registers(finding: Finding) -> tuple[Share, ...]:
    if finding.kind == "works" or not any(share > 0 for share in finding.register_share):
        return ()
    return tuple(
        Share(name, float(share), span)
        for name, share, span in zip(
            REGISTERS, finding.register_share, REGISTER_SPANS, strict=True
        )
    )


def _strand_words(audit: Audit, finding: Finding) -> str:
    for strand in audit.intent.strands:
        if strand.id == finding.strand and len(strand.lines) > 1:
            names = listed([line_of(audit.score, n).name for n in strand.lines])
            return f"{strand.id}, carried by {names}"
    return ""


def _figures(finding: Finding) -> str:
    words = []
    if math.isfinite(finding.distinct_ratio):
        left = finding.distinct_ratio
        share = f"{left:.2f}" if left >= 0.005 else "less than 0.01"
        words.append(f"{share} of its own loudness is left in the mix")
    if math.isfinite(finding.margin_db):
        side = "above" if finding.margin_db >= 0 else "below"
        words.append(
            f"{abs(finding.margin_db):.1f} dB {side} the level at which the others hide it"
        )
    return "; ".join(words)


def _row(
    audit: Audit, of: Measures, i: int, state: str, confidence: float, *words: str
) -> FiguresView:
    name, kind, more = words
    judged = state != "not judged"
    cover = int(of.covered_by[i])

    def figure(values: object, places: int) -> str:
        return number(float(values[i]), places) if judged else "–"  # type: ignore[index]

    return FiguresView(
        name=name,
        kind=kind,
        words=more,
        level=figure(of.level_db, 0),
        sone=figure(of.partial_sone, 1),
        ratio=figure(of.loudness_ratio, 2),
        distinct=figure(of.distinct_ratio, 2),
        margin=figure(of.margin_db, 0),
        covered=figure(of.covered_share, 2),
        cover=audit.score.lines[cover].name if judged and cover >= 0 else "–",
        state=state,
        confidence=number(confidence, 2) if judged else "–",
    )


def line_views(audit: Audit) -> tuple[FiguresView, ...]:
    """Figures of every line, in score order."""
    heard = audit.heard
    return tuple(
        _row(
            audit, heard.lines, i, heard.line_state[i], float(heard.line_confidence[i]),
            line.name, main_role(audit, line.number) or "–",
            main_strand(audit, line.number) or "–",
        )
        for i, line in enumerate(audit.score.lines)
    )  # fmt: skip


def _doublings(told: Sequence[str]) -> str:
    """The first doublings of a strand, and how many more; in a tutti there are dozens."""
    shown = told[:DOUBLINGS_SHOWN]
    more = len(told) - len(shown)
    return "".join(f"; {words}" for words in shown) + (f"; and {more} more" if more else "")


def strand_views(audit: Audit) -> tuple[FiguresView, ...]:
    """Figures of every strand and layer, with who carries it and where."""
    heard = audit.heard
    return tuple(
        _row(
            audit, heard.groups, i, heard.group_state[i], float(heard.group_confidence[i]),
            strand.id, f"{strand.kind}, {strand.role}",
            f"{listed([line_of(audit.score, n).name for n in strand.lines])}, "
            + bars_in_words(audit.score, strand.first_bar, strand.last_bar)
            + _doublings(strand.doublings),
        )
        for i, strand in enumerate(audit.intent.strands)
    )  # fmt: skip
