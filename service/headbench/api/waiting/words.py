"""Waiting words: how sentences write days, and how long ago one was."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import Final

_MONTHS: Final = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
_WEEK: Final = 7
_DAYS_TOLD: Final = 14
"""Fewer days than these are told as days, more as weeks."""


def say_day(day: date) -> str:
    """A day as a sentence has it, the month by its name so that nobody takes it for the day.

    >>> say_day(date(2026, 3, 4))
    'Mar 4, 2026'
    """
    return f"{_MONTHS[day.month - 1]} {day.day}, {day.year}"


def say_days(soonest: date | None, latest: date | None) -> str:
    """The days between which something comes.

    >>> say_days(date(2026, 3, 4), date(2026, 3, 11)), say_days(date(2026, 12, 30), date(2027, 1, 2))
    ('Mar 4 to Mar 11, 2026', 'Dec 30, 2026 to Jan 2, 2027')
    """
    if soonest is None or latest is None:
        return "no date"
    if soonest == latest:
        return say_day(soonest)
    first = say_day(soonest)
    return f"{first.removesuffix(f', {latest.year}')} to {say_day(latest)}"


def say_how_long(days: int) -> str:
    """Some days, in weeks where they are many.

    >>> say_how_long(1), say_how_long(13), say_how_long(14), say_how_long(17)
    ('1 day', '13 days', '2 weeks', 'over 2 weeks')
    """
    if days < _DAYS_TOLD:
        return f"{days} day{'' if days == 1 else 's'}"
    weeks, more = divmod(days, _WEEK)
    return f"{'over ' if more else ''}{weeks} weeks"


def say_names(names: Sequence[str], most: int = 6) -> str:
    """Some names in a row, of many the first.

    >>> say_names(["a", "b"]), say_names(["a", "b", "c"]), say_names(list("abcdefgh"))
    ('a and b', 'a, b and c', 'a, b, c, d, e, f and 2 more')
    """
    shown = [*names[:most], f"{len(names) - most} more"] if len(names) > most else list(names)
    return " and ".join([*([", ".join(shown[:-1])] if shown[:-1] else []), *shown[-1:]])


def upper_first(text: str) -> str:
    """A text as a sentence begins with it.

    >>> upper_first("exhaust valves")
    'Exhaust valves'
    """
    return f"{text[:1].upper()}{text[1:]}"
