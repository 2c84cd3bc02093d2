"""Showing: how far a run is, on a terminal, and what came of it."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Final

from rich.console import Console
from rich.progress import BarColumn, MofNCompleteColumn, Progress, ProgressColumn, Task, TextColumn, TimeRemainingColumn
from rich.text import Text

from headbench.bulk.results import Tally

ERRORS: Final = Console(stderr=True, highlight=False, markup=False)
"""Where a run says how it goes; what it found goes to standard output."""


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
