"""Table: what was measured, as lines of one Markdown table that the README can take as it is."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from tests.benchmarks.turns import Ratio


@dataclass(frozen=True, slots=True)
class Row:
    """One line: what, how much, and how far that can be trusted."""

    what: str
    measured: str
    spread: str = ""


def ratio_row(what: str, ratio: Ratio, detail: str) -> Row:
    """A line about a ratio."""
    return Row(what, f"{ratio.middle:.3g} ({detail})", f"{ratio.low:.3g} to {ratio.high:.3g}")


def time_text(seconds: float) -> str:
    """A time to three figures, in us, ms or s."""
    if seconds >= 1.0:
        return f"{seconds:.3g} s"
    return f"{1e6 * seconds:.3g} us" if seconds < 1e-3 else f"{1e3 * seconds:.3g} ms"


def markdown(rows: Iterable[Row]) -> str:
    """The table."""
    lines = ["| what | measured | spread |", "|---|---|---|"]
    lines += [f"| {row.what} | {row.measured} | {row.spread} |" for row in rows]
    return "\n".join(lines)
