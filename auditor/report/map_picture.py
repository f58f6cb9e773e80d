"""The picture of an alignment: bars upwards against seconds, and how sure each bar is.

Readable in black on white: a sure bar is a full line, a doubtful one is dotted, sound
outside the score is hatched, and bars that do not sound are marked at the edge.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from html import escape

import numpy as np

from auditor.alignment.confidence import SURE
from auditor.alignment.timeline import BarTime, Timeline
from auditor.report import drawing
from auditor.score.notes import Score

# Pixels: the field of bars, the strip of confidence beneath it, and what lies around them.
_WIDTH, _HEIGHT, _STRIP = 900.0, 420.0, 60.0
_LEFT, _TOP, _GAP, _BELOW, _RIGHT = 64.0, 48.0, 26.0, 44.0, 24.0
_SEEN_S = 1.0
_TICKS_S = (1, 2, 5, 10, 15, 30, 60, 120, 300, 600)

_STYLE = """
text { font: 12px sans-serif; fill: #000 }
.frame { fill: none; stroke: #000 }
.sure { stroke: #000; stroke-width: 2.5 }
.doubtful { stroke: #000; stroke-width: 2; stroke-dasharray: 2 3 }
.outside { fill: url(#hatch); stroke: none }
.missing { fill: #000 }
.seam { stroke: #000; stroke-width: 0.5; stroke-dasharray: 1 4 }
.grid { stroke: #ccc; stroke-width: 0.5 }
.share { fill: #555 }
"""


def outside_spans(timeline: Timeline, duration_s: float) -> list[tuple[float, float]]:
    """Stretches of a second and more in which nothing of the score was found, seconds."""
    edges = [0.0]
    for run in sorted(timeline.stretches, key=lambda run: float(run.seconds[0])):
        edges += [float(run.seconds[0]), float(run.seconds[-1])]
    edges.append(duration_s)
    pairs = zip(edges[::2], edges[1::2], strict=True)
    return [(a, b) for a, b in pairs if b - a >= _SEEN_S]


def map_svg(score: Score, timeline: Timeline, duration_s: float, title: str) -> str:
    """Draw the map.

    Parameters
    ----------
    score, timeline
        As aligned.
    duration_s
        Length of the sound.
    title
        What stands above.
    """
    field = _Field(score, duration_s)
    width, height = _LEFT + _WIDTH + _RIGHT, _TOP + _HEIGHT + _GAP + _STRIP + _BELOW
    sure = sum(bar.confidence >= SURE for bar in timeline.bars)
    said = f"{len(timeline.bars)} bars against {duration_s:.0f} seconds; {sure} bars are sure"
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width:.0f} {height:.0f}" '
        f'width="{width:.0f}" height="{height:.0f}" role="img" '
        f'aria-labelledby="map-title map-said">',
        f'<title id="map-title">{escape(title)}</title>',
        f'<desc id="map-said">{said}</desc>',
        f"<style>{_STYLE}</style>",
        '<defs><pattern id="hatch" width="6" height="6" patternUnits="userSpaceOnUse" '
        'patternTransform="rotate(45)"><line x1="0" y1="0" x2="0" y2="6" stroke="#000" '
        'stroke-width="1"/></pattern></defs>',
        f'<rect width="{width:.0f}" height="{height:.0f}" fill="#fff"/>',
        f'<text x="{_LEFT:.0f}" y="18">{escape(title)}</text>',
        f'<text x="{_LEFT:.0f}" y="36">full line: sure; dotted: doubtful; hatched: silent or '
        f"not in the score; mark at the left edge: not played</text>",
        *field.axes(),
        *field.outside(outside_spans(timeline, duration_s)),
        *field.bars(timeline.bars),
        *field.runs(timeline),
        "</svg>",
    ]
    return "\n".join(parts) + "\n"


class _Field:
    """Where bars and seconds lie on the sheet."""

    def __init__(self, score: Score, duration_s: float) -> None:
        self._score, self._duration_s = score, max(duration_s, 1e-3)
        lines = [bar.onset for bar in score.bars]
        self._edges = np.array([*lines, lines[-1] + score.bars[-1].duration])

    def x(self, seconds: float) -> float:
        return _LEFT + _WIDTH * seconds / self._duration_s

    def y(self, place: float) -> float:
        """Height of a place counted in bars from the first."""
        return _TOP + _HEIGHT * (1.0 - place / len(self._score.bars))

    def axes(self) -> Iterator[str]:
        """Frames, seconds below, printed bar numbers at the left."""
        strip = _TOP + _HEIGHT + _GAP
        yield drawing.box("frame", _LEFT, _TOP, _WIDTH, _HEIGHT)
        yield drawing.box("frame", _LEFT, strip, _WIDTH, _STRIP)
        fitting = [t for t in _TICKS_S if self._duration_s / t <= 16]
        step = fitting[0] if fitting else self._duration_s / 12
        for tick in np.arange(0, self._duration_s + 1e-6, step):
            x = self.x(float(tick))
            yield drawing.line("grid", (x, _TOP), (x, _TOP + _HEIGHT))
            yield drawing.text(x, strip + _STRIP + 16, _clock(float(tick)), "middle")
        every = max(1, len(self._score.bars) // 14)
        for bar in self._score.bars[::every]:
            y = self.y(bar.index)
            yield drawing.line("grid", (_LEFT, y), (_LEFT + _WIDTH, y))
            yield drawing.text(
                _LEFT - 12, y + 4, bar.number + "′" * (bar.pass_number - 1), "end"
            )
        yield drawing.text(_LEFT - 12, _TOP - 6, "bar", "end")
        yield drawing.text(_LEFT - 12, strip + 10, "1", "end")
        yield drawing.text(_LEFT - 12, strip + _STRIP, "0", "end")
        yield drawing.text(_LEFT, strip - 6, "confidence of each bar", "start")
        yield drawing.text(
            _LEFT + _WIDTH / 2, strip + _STRIP + 36, "time in the sound", "middle"
        )

    def outside(self, spans: Sequence[tuple[float, float]]) -> Iterator[str]:
        """Hatch what is silent or not in the score."""
        for start, end in spans:
            x, wide = self.x(start), self.x(end) - self.x(start)
            yield drawing.box("outside", x, _TOP, wide, _HEIGHT)

    def bars(self, bars: Sequence[BarTime]) -> Iterator[str]:
        """Confidence beneath; a mark at the edge for each bar that is not played."""
        strip = _TOP + _HEIGHT + _GAP
        for bar in bars:
            if not np.isfinite(bar.start_s):
                high = max(1.0, self.y(bar.bar) - self.y(bar.bar + 1))
                yield drawing.box("missing", _LEFT - 6, self.y(bar.bar + 1), 5, high)
                continue
            wide = max(0.5, self.x(bar.end_s) - self.x(bar.start_s) - 0.5)
            high = _STRIP * bar.confidence
            yield drawing.box("share", self.x(bar.start_s), strip + _STRIP - high, wide, high)

    def runs(self, timeline: Timeline) -> Iterator[str]:
        """Draw every stretch bar by bar, and thin seams where the order jumps."""
        sure = {bar.bar: bar.confidence >= SURE for bar in timeline.bars}
        last: tuple[float, float] | None = None
        for run in timeline.stretches:
            inside = self._edges[
                (self._edges > run.quarters[0]) & (self._edges < run.quarters[-1])
            ]
            marks = np.unique([run.quarters[0], *inside, run.quarters[-1]])
            places = np.interp(marks, self._edges, np.arange(self._edges.size))
            points = [
                (self.x(float(s)), self.y(float(p)))
                for s, p in zip(
                    np.interp(marks, run.quarters, run.seconds), places, strict=True
                )
            ]
            if last is not None:
                yield drawing.line("seam", last, points[0])
            for place, a, b in zip(places[:-1], points[:-1], points[1:], strict=True):
                kind = "sure" if sure.get(int(place + 1e-6), False) else "doubtful"
                yield drawing.line(kind, a, b)
            last = points[-1]


def _clock(seconds: float) -> str:
    return f"{int(seconds) // 60}:{int(seconds) % 60:02d}"
