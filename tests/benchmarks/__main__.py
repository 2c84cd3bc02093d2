"""Every measurement in one table: make bench."""

from __future__ import annotations

import asyncio
from collections.abc import Callable, Iterable
from typing import Final

from tests.benchmarks import beside_echo, beside_stacks, followed, growth, springs, start, under_load
from tests.benchmarks.table import Row, markdown
from tests.benchmarks.turns import Effort


def main() -> None:
    """Measure one after the other, the server last, and print the table."""
    effort: Final = Effort()
    loop: Final = asyncio.new_event_loop()
    parts: list[Callable[[], Iterable[Row]]] = [
        lambda: beside_echo.measure(effort, loop),
        lambda: growth.measure(effort, loop),
        lambda: springs.measure(effort),
        lambda: beside_stacks.measure(effort, loop),
        followed.measure,
        start.measure,
        under_load.measure,
    ]
    rows = [row for part in parts for row in part()]
    loop.close()
    print(markdown(rows))


if __name__ == "__main__":
    main()
