"""Doublings heard without themselves: one that earns its players, one that adds nothing."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from auditor.findings.finding import Finding
from auditor.findings.wording import bars_named, listed, opening
from auditor.judging.altered import silenced
from auditor.judging.scene import Scene
from auditor.judging.trial import cut, hear
from auditor.spectra.line_spectra import LineSpectra

# A line that loses less than this without its doubling loses nothing: about the least
# difference in level that is noticed without attention (our choice).
NOTHING_DB = 1.0


def earned(s: Scene, spectra: LineSpectra, praise: Finding) -> Finding:
    """Say of a line that works only with its doubling that the doubling earns its players.

    Parameters
    ----------
    s, spectra
        The case, and what it was heard from.
    praise
        Of kind ``works``; given back as it is where the first line does without the others.
    """
    main, *others = praise.lines
    mine = s.line(main).instrument.key
    if not any(s.line(n).instrument.key != mine for n in others):
        return praise
    ground = cut(s, spectra, praise)
    if ground is None or not ground.power[s.row[main]].any():
        return praise
    together = hear(ground).ratio
    alone = hear(ground, silenced(ground, [s.row[n] for n in others])).ratio
    if not (together >= s.limits.clear and alone < s.limits.clear):
        return praise
    name, helpers = s.line(main).name, listed(s.names(tuple(others)))
    lost = "lost" if alone < s.limits.covered else "faint"
    where = bars_named(s.score.bars, praise.first_bar, praise.last_bar)
    double = "doubles" if len(others) == 1 else "double"
    earns = "earns its player" if len(others) == 1 else "earn their players"
    return replace(
        praise,
        cause=f"without {helpers} it would be {lost}",
        sentence=(
            f"{opening(where)}: {helpers} {double} {name}, which alone would be "
            f"{lost} here; together they come through. A doubling that {earns}: leave it."
            if len(others) == 1
            else f"{opening(where)}: {helpers} {double} {name}, which alone "
            f"would be {lost} here; together they come through. Doublings that {earns}: leave "
            f"them."
        ),
    )


def adds_nothing(s: Scene, spectra: LineSpectra, idle: Finding) -> bool:
    """Whether a line and its doubling come through as well without the doubling.

    Parameters
    ----------
    s, spectra
        The case, and what it was heard from.
    idle
        Of kind ``idle-doubling``: its first line doubles its second.
    """
    ground = cut(s, spectra, idle)
    if ground is None:
        return True
    together = hear(ground).margin_db
    without = hear(ground, silenced(ground, [s.row[idle.lines[0]]])).margin_db
    gain = together - without
    return not np.isfinite(gain) or float(gain) < NOTHING_DB
