"""The report page: one HTML file that opens from disk and asks for nothing else."""

from __future__ import annotations

import base64
import hashlib
import math
from dataclasses import dataclass
from importlib import resources

from markupsafe import Markup

from auditor.auditing import Audit
from auditor.craft.checking import CAUTION as CRAFT_CAUTION
from auditor.hearing.measures import REGISTERS
from auditor.report.following import SURE, following
from auditor.report.passages import ExcerptSource
from auditor.report.picture import MEANINGS, SHAKY, SIGNS, systems
from auditor.report.record import made_at, tool_version
from auditor.report.remarks import remark_views, told_apart
from auditor.report.templating import environment
from auditor.report.views import ASKS_SHOWN, finding_views, line_views, strand_views
from auditor.report.weight import bar_weights
from auditor.report.written_weight import (
    WHAT,
    weight_rows,
    weight_table,
    weight_ticks,
    written_weight,
)

LISTENING = (
    "Keep monitoring at a comfortable level. Turning a passage up until a covered line "
    "appears tells little about the balance, and loud monitoring harms hearing."
)


@dataclass(frozen=True, slots=True)
class Page:
    """The finished page.

    Parameters
    ----------
    html
        Whole document, UTF-8.
    """

    html: str


def compose_page(audit: Audit, source: ExcerptSource | None = None) -> Page:
    """Write the report page of an audit.

    Parameters
    ----------
    audit
        What to report.
    source
        Gives MusicXML of some bars (first and last index on the page, 0-based) and parts
        (numbers), with note ids equal to ``Note.element``; without it the page has no
        engraved excerpts.

    Returns
    -------
    Page
        The same bytes for the same audit.
    """
    script = '"use strict";\n' + _static("listening.js") + _static("report.js")
    findings = finding_views(audit, source)
    weights, written = bar_weights(audit), written_weight(audit.score)
    html = (
        environment()
        .get_template("report.html.j2")
        .render(
            audit=audit,
            title=audit.score.title.strip() or audit.sounding.name,
            css=Markup(_static("report.css") + _static("print.css")),
            script=Markup(script),
            policy=_policy(script),
            findings=findings,
            asks=[f for f in findings if not f.praise],
            works=[f for f in findings if f.praise],
            parted=() if audit.beside is None else audit.beside.findings,
            forecast_rests=() if audit.forecast is None else audit.forecast.remarks,
            following=following(audit, weights),
            full=ASKS_SHOWN,
            systems=systems(audit, weights),
            families=tuple(dict.fromkeys(n for f in findings for n in f.families)),
            kinds=tuple(dict.fromkeys(f.kind for f in findings)),
            heard=any(f.clips for f in findings),
            weighed=any(math.isfinite(w.sone) for w in weights),
            registers=REGISTERS,
            craft=told_apart(remark_views(audit)),
            craft_caution=CRAFT_CAUTION,
            written=weight_rows(written),
            written_what=WHAT,
            written_ticks=weight_ticks(written),
            written_table=weight_table(written),
            lines=line_views(audit),
            strands=strand_views(audit),
            signs=SIGNS,
            meanings=MEANINGS,
            shaky=SHAKY,
            sure=SURE,
            cautions=_cautions(audit),
            remarks=(*audit.score.remarks, *audit.sounding.remarks),
            version=tool_version(),
            made_at=made_at(),
        )
    )
    return Page(html)


def _cautions(audit: Audit) -> tuple[str, ...]:
    """Cautions of the audit, with the one on listening level if they lack it."""
    said = any("comfortable level" in words for words in audit.cautions)
    return audit.cautions if said else (*audit.cautions, LISTENING)


def _static(name: str) -> str:
    folder = resources.files("auditor.report") / "static"
    return (folder / name).read_text(encoding="utf-8")


def _policy(script: str) -> str:
    """Content security policy: nothing from elsewhere, and no script but ours.

    Styles may stand in the page because bars in tables take their length from one.
    """
    digest = base64.b64encode(hashlib.sha256(script.encode("utf-8")).digest()).decode("ascii")
    return (
        "default-src 'none'; style-src 'unsafe-inline'; "
        f"script-src 'sha256-{digest}'; img-src data:; media-src data:; "
        "base-uri 'none'; form-action 'none'"
    )
