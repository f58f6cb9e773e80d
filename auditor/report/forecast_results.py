"""The folder of a forecast: the tables of an audit, under a name that says what it is."""

from __future__ import annotations

from pathlib import Path

from auditor.auditing import Audit
from auditor.report.markdown import findings_markdown
from auditor.report.printing import worst_findings_text
from auditor.report.record import to_json
from auditor.report.results import check_place, fill_folder
from auditor.report.tables import all_tables, to_csv

RECORD = "forecast.json"
FILES = (
    RECORD, "notes.csv", "lines.csv", "strands.csv", "bars.csv", "findings.csv",
    "findings.md", "sheet.html",
)  # fmt: skip


def check_forecast_place(folder: Path, *, force: bool) -> None:
    """Refuse a place where a forecast cannot go.

    Raises
    ------
    InputError
        As `auditor.report.results.check_place`.
    """
    check_place(folder, force=force, mark=RECORD, what="a forecast")


def write_forecast(
    audit: Audit, folder: Path, *, sheet: str | None = None, force: bool = False
) -> None:
    """Write every file of a forecast, all or none.

    Parameters
    ----------
    audit
        With `source` ``forecast``.
    folder
        Where; made if it is missing.
    sheet
        The reading sheet.
    force
        Replace an earlier forecast.

    Raises
    ------
    InputError
        If the folder cannot take it.
    """

    def fill(fresh: Path) -> None:
        texts = {f"{table.name}.csv": to_csv(table) for table in all_tables(audit)}
        texts[RECORD] = to_json(audit)
        texts["findings.md"] = findings_markdown(audit)
        if sheet is not None:
            texts["sheet.html"] = sheet
        for name, text in texts.items():
            (fresh / name).write_text(text, encoding="utf-8", newline="\n")

    check_forecast_place(folder, force=force)
    fill_folder(folder, fill, ours=FILES)


def forecast_text(audit: Audit) -> str:
    """Heaviest findings of a forecast as plain text, with what they rest on."""
    head = "Forecast from the score alone; no sound was heard."
    rests = "\n".join(f"- {remark}" for remark in audit.sounding.remarks)
    return f"{head}\n{rests}\n\n{worst_findings_text(audit)}"
