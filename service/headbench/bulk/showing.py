"""Showing: how far a run is, on a terminal, and what came of it."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from itertools import groupby
from pathlib import Path
from typing import Final

from rich import box
from rich.console import Console
from rich.progress import BarColumn, MofNCompleteColumn, Progress, ProgressColumn, Task, TextColumn, TimeRemainingColumn
from rich.table import Table
from rich.text import Text

from headbench.bulk.against import Counted, Found, Worse
from headbench.bulk.changes import Change
from headbench.bulk.results import Tally

ERRORS: Final = Console(stderr=True, highlight=False, markup=False)
"""Where a run says how it goes; what it found goes to standard output."""


FINDINGS: Final = Console(highlight=False, markup=False, width=None if sys.stdout.isatty() else 120)
"""Where what was found goes; wide enough for a line a row in a file, too."""

MOST_SHOWN: Final = 20
"""Changes that the table shows; the file has all."""


class _Rate(ProgressColumn):
    """Lines a second."""

    def render(self, task: Task) -> Text:
        """The rate, once there is one."""
        return Text("" if task.speed is None else f"{task.speed:,.0f} lines/s")


@contextmanager
def progress(lines: int, done: int) -> Iterator[Callable[[int], None]]:
    """A bar with rate and time left while standard error is a terminal; what it gives hears how many are done."""
    columns = (TextColumn("recompute"), BarColumn(), MofNCompleteColumn(), _Rate(), TimeRemainingColumn())
    with Progress(*columns, console=ERRORS, disable=not ERRORS.is_terminal) as bar:
        task = bar.add_task("recompute", total=lines, completed=done)
        yield lambda number: bar.update(task, completed=number)


def tell(sentence: str) -> None:
    """Say something beside the bar."""
    ERRORS.print(sentence, soft_wrap=True)


def tell_tally(tally: Tally, out: Path) -> None:
    """What came of the run."""
    tell(f"{tally.answered + tally.refused:,} lines: {tally.answered:,} answered, {tally.refused:,} refused ({out}).")
    for one in tally.some_refused:
        name = "" if one.id is None else f" ({one.id})"
        tell(f"  line {one.line}{name}: {one.status}, {one.problem}")
    if tally.refused > len(tally.some_refused):
        tell(f"  and {tally.refused - len(tally.some_refused):,} more.")


def show_found(found: Found, earlier: Path, changes: Path | None) -> None:
    """What a shop owner wants to know: how many would be judged otherwise today, why, and which come first."""
    _show_counted(found.heads, "head", "heads")
    _show_counted(found.others, "other job", "other jobs")
    for count, what in (
        (found.only_now, "no answer there"),
        (found.only_then, "no answer now"),
        (found.renamed, "another id there, so another job"),
        (found.unreadable, "cannot be read"),
    ):
        if count:
            _say(f"Not compared with {earlier}: {what}: {count:,} {'line' if count == 1 else 'lines'}.")
    if count := found.on_todays_shims:
        _say(
            f"Judged on the shims that would be laid today, not on those they went out with: {count:,} "
            f"{'head' if count == 1 else 'heads'}. Whoever answers does not take shims_fitted, as releases before "
            "0.3.0 do not."
        )
    if not found.by_what:
        _say("No verdict and no number changed by more than the tolerance.")
        return
    _say("Changes: " + "; ".join(f"{what} {count:,}" for what, count in found.by_what.items()) + ".")
    for what, changes_of_one_sort in groupby(found.worst, lambda one: one.what):
        _say("")
        _say(f"{what[0].upper()}{what[1:]}:")
        FINDINGS.print(_table(list(changes_of_one_sort)))
    total = sum(found.by_what.values())
    if total > len(found.worst):
        where = f"{changes} has all" if changes else "--changes FILE writes all down"
        _say(f"The worst {len(found.worst)} of {total:,} changes; {where}.")


def _show_counted(counted: Counted, one: str, many: str) -> None:
    if not counted.compared:
        return
    of = f"{counted.compared:,} {one if counted.compared == 1 else many}"
    worse = counted.worse_within
    within = f"; {worse:,} {'is' if worse == 1 else 'are'} worse within the same" if worse else ""
    otherwise = f"{counted.otherwise:,}" if counted.otherwise else "none"
    _say(f"Of {of}, {otherwise} would come to another verdict today{within}.")
    for turn in counted.turns:
        _say(f"  {turn.jobs:>7,}  {_words(turn.was)}, now {_words(turn.now)}")
    for one_worse in counted.worst_within:
        _say(f"  {_worse(one_worse)}")
    if worse > len(counted.worst_within):
        _say(f"  and {worse - len(counted.worst_within):,} more that are worse within the same verdict.")
    if counted.reasons:
        _say(f"Why, in how many {many}:")
    for reason in counted.reasons:
        causes = [
            f"{jobs:,} by {what}"
            for jobs, what in ((reason.by_limit, "another limit"), (reason.by_figure, "another figure"))
            if jobs
        ]
        _say(f"  {reason.jobs:>7,}  {_words(reason.check)}" + (f" ({', '.join(causes)})" if causes else ""))


def _worse(one: Worse) -> str:
    """Which job is worse although its verdict is the same, and by which checks of which positions."""
    name = f"line {one.line}" if one.id is None else one.id
    verdict = {"reject": "a reject"}.get(one.verdict, _words(one.verdict))
    where: dict[str, list[str]] = {}
    for check in one.checks:
        where.setdefault(_words(check.name).removesuffix(" clearance"), []).append(check.position or "")
    checks = "; ".join(f"{', '.join(filter(None, places))} {what}".strip() for what, places in where.items())
    return f"{name} was {verdict} and is now worse: {checks}."


def _table(worst: Sequence[Change]) -> Table:
    table = Table(box=box.SIMPLE_HEAD, pad_edge=False)
    for name in ("Line", "Job", "Where", "Which", "Was", "Now", "Figure", "Limit"):
        table.add_column(name, overflow="fold", justify="right" if name == "Line" else "left")
    for one in worst:
        unit = one.unit if isinstance(one.was, list) or one.what == "number" else None
        table.add_row(
            str(one.line), one.id or "", one.position or "", _words(one.name), _shown(one.was, unit),
            _shown(one.now, unit), _beside(one.value_was, one.value, one.unit),
            _beside(one.limit_was, one.limit, one.unit),
        )  # fmt: skip
    return table


def _shown(one: object, unit: str | None) -> str:
    """A verdict, or a number with its unit."""
    if isinstance(one, list):
        return f"{' + '.join(f'{each:g}' for each in one)} {unit}" if one else "none"
    if isinstance(one, int | float):
        return f"{one:g}" if unit is None else f"{one:g} {'%' if unit == 'percent' else unit}"
    return "none" if one is None else _words(str(one))


def _beside(was: float | None, now: float | None, unit: str | None) -> str:
    """What belongs to a verdict, and what it was before if it was not the same."""
    if was is None and now is None:
        return ""
    return _shown(now, unit) if was == now else f"{_shown(now, unit)}, was {_shown(was, None)}"


def _words(name: str) -> str:
    return name.removesuffix("_check").replace("_", " ")


def _say(sentence: str) -> None:
    FINDINGS.print(sentence, soft_wrap=True)
