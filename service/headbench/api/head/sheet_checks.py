"""Sheet checks: the checks of every position, and what they bring its verdict to."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from typing import Final, cast, get_args

from headbench.api.head.job_notes import CheckName, Judged
from headbench.api.head.sheet import PositionLine, VerdictCounts
from headbench.api.valve_float.lines import ValveFloat
from headbench.api.vocabulary.checks import (
    VERDICTS,
    LengthCheck,
    MassCheck,
    PercentCheck,
    RatioCheck,
    VerdictName,
    worst_of,
)

FLOAT_CHECKS: Final = ("float_reserve_check", "surge_ratio_check")
"""The checks of a position's float, which stand in a part of their own."""

LINE_FIELDS: Final = (
    *(name for name in get_args(CheckName) if name not in FLOAT_CHECKS),
    "odd_mass_check",
    "valve_float",
)
"""The fields of a position that hold its checks; an odd part is weighed again, or changed, never taken on trust."""

NOTHING_HOLDS: Final = "seat_load"
"""What decides where no load holds a valve closed."""

_MOST_NAMED: Final = 3

AnyCheck = LengthCheck | PercentCheck | MassCheck | RatioCheck
OwnChecks = Mapping[str, LengthCheck | PercentCheck | MassCheck | ValveFloat | None]


def each_check(checks: OwnChecks) -> Iterator[tuple[str, AnyCheck]]:
    """The checks of one position that there are, those of its float among them."""
    for field, held in checks.items():
        if isinstance(held, ValveFloat):
            for name, check in zip(FLOAT_CHECKS, (held.float_reserve_check, held.surge_ratio_check), strict=True):
                if check is not None:
                    yield name, check
        elif held is not None:
            yield field, held


def judged(checks: OwnChecks, without_speed: Sequence[str], *, held_closed: bool) -> list[Judged]:
    """The checks of one position that count, with their verdicts and whether parts would break.

    `without_speed` has those of its float that the job limits while no speed is given to judge them at.
    """
    found: list[Judged] = [
        (name, check.verdict, check.check_class == "damage" and check.verdict == "reject")
        for name, check in each_check(checks)
        if check.counts_toward_verdict
    ]
    found += [(name, "not_measured", False) for name in without_speed]
    return found if held_closed else [*found, (NOTHING_HOLDS, "reject", True)]


def decide(checks: Sequence[Judged]) -> tuple[VerdictName, list[str]]:
    """A position's verdict, and the checks that bring it there."""
    worst = worst_of([verdict for _, verdict, _ in checks])
    return worst, [name for name, verdict, _ in checks if verdict == worst != "accept"]


def counted(verdicts: Sequence[VerdictName]) -> VerdictCounts:
    """How many came to each verdict."""
    return VerdictCounts(**{name: verdicts.count(name) for name in VERDICTS})


def worst_named(lines: Sequence[PositionLine]) -> list[str]:
    """Up to three positions that are not accepted, the worst first; see `_how_bad`."""
    open_lines = [line for line in lines if line.verdict != "accept"]
    # a sort keeps the order of the list among equals
    open_lines.sort(key=_how_bad, reverse=True)
    return [line.id for line in open_lines[:_MOST_NAMED]]


def _how_bad(line: PositionLine) -> tuple[int, bool, bool, float]:
    """The verdict; whether parts would break; whether they touch, or nothing holds the valve; the miss by its limit."""
    missed = [check for name, check in each_check(checks_of(line)) if name in line.decided_by]
    breaks = line.verdict == "reject" and any(one.check_class == "damage" for one in missed)
    touches = any(
        isinstance(one, LengthCheck) and one.check_class == "damage" and one.value is not None and one.value <= 0.0
        for one in missed
    )
    unheld = NOTHING_HOLDS in line.decided_by
    return VERDICTS.index(line.verdict), breaks or unheld, touches or unheld, max(map(_by_limit, missed), default=0.0)


def _by_limit(check: AnyCheck) -> float:
    """How far a check is past its limit, as a part of the limit."""
    if check.to_spare is None or not check.to_spare < 0.0:
        return 0.0
    # rounded: which of two equal misses is named first must not hang on the units they were read in
    return round(-check.to_spare / abs(check.limit), 9) if check.limit else math.inf


def checks_of(line: PositionLine) -> OwnChecks:
    """The checks of a line, by their fields."""
    return cast(OwnChecks, {name: getattr(line, name) for name in LINE_FIELDS})
