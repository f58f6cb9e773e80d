"""Run as a process of its own: a text in MEI, Humdrum or ABC comes in, MusicXML goes out.

The music library can stay in a broken file for ever and fill the memory with it, and nothing
inside the same process could stop it. Whoever starts this may kill it. It knows no other
module of the package, so that it starts with the library alone.

    python foreign.py FORMAT SECONDS < text

The first line out is JSON: ``pieces``, how many the file holds, or ``fault``, a sentence. The
rest is MusicXML. What the library stumbles over it prints as warnings.
"""

from __future__ import annotations

import json
import sys
import warnings
from typing import Any

# A score of 8 MB of text was never seen to need half of it.
_MOST_MEMORY = 4 * 1024**3


def main() -> None:
    """Convert what comes in on the standard input."""
    kind, seconds = sys.argv[1], int(sys.argv[2])
    _limit(seconds)
    text = sys.stdin.buffer.read().decode("utf-8")
    warnings.simplefilter("ignore")
    try:
        head, data = _converted(text, kind)
    except Exception as exc:
        # Broken music makes the library fail in every class of error.
        first = (str(exc).splitlines() or [""])[0][:120] or type(exc).__name__
        head, data = {"fault": first}, b""
    sys.stdout.buffer.write(json.dumps(head).encode() + b"\n" + data)


def _limit(seconds: int) -> None:
    """Let the system end this process when it has had its time or memory, where it can."""
    try:
        import resource
    except ImportError:
        return  # then whoever started it looks at the clock
    hard = resource.getrlimit(resource.RLIMIT_CPU)[1]
    most = seconds if hard == resource.RLIM_INFINITY else min(seconds, hard)
    resource.setrlimit(resource.RLIMIT_CPU, (most, hard))
    hard = resource.getrlimit(resource.RLIMIT_AS)[1]
    most = _MOST_MEMORY if hard == resource.RLIM_INFINITY else min(_MOST_MEMORY, hard)
    resource.setrlimit(resource.RLIMIT_AS, (most, hard))


def _converted(text: str, kind: str) -> tuple[dict[str, Any], bytes]:
    from music21 import converter, stream
    from music21.musicxml.m21ToXml import GeneralObjectExporter

    opened: Any = converter.Converter()
    opened.parseData(text, format=kind)
    score: Any = opened.stream
    pieces = list(score.scores) if isinstance(score, stream.Opus) else [score]
    if not pieces:
        return {"fault": "it has no piece in it"}, b""
    if not pieces[0].recurse().notes:
        return {"fault": "it has no notes in it; nothing can be listened for"}, b""
    writer: Any = GeneralObjectExporter(pieces[0])
    return {"pieces": len(pieces)}, writer.parse()


if __name__ == "__main__":
    main()
