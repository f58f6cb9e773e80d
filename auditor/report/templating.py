"""The templates of the pages, and how figures are written in them."""

from __future__ import annotations

import jinja2
from markupsafe import Markup

from auditor.report.views import number
from auditor.units import clock


def environment() -> jinja2.Environment:
    """Templates of the reports: text is escaped, and what is missing is an error."""
    made = jinja2.Environment(
        loader=jinja2.PackageLoader("auditor.report", "templates"),
        autoescape=True,
        undefined=jinja2.StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
    )
    made.filters["clock"] = clock
    made.filters["number"] = number
    made.filters["percent"] = lambda share: f"{float(share) * 100:.0f} %"
    made.filters["share"] = lambda v: f"{v:.0%}".replace("%", " %") if v == v else "–"
    made.filters["drawing"] = Markup
    return made
