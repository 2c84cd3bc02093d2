"""Length check: one length against its limit."""

from __future__ import annotations

from headbench.api.vocabulary.checks import VERDICTS, LengthCheck, Rule
from headbench.calc.judging.limits import CheckClass


def length_check(
    value: float, limit: float, rule: Rule, verdict: int, *, check_class: CheckClass, counts: bool = True
) -> LengthCheck:
    """A length against its limit, from SI."""
    match rule:
        case "at_least":
            spare = value - limit
        case "at_most":
            spare = limit - value
        case "within":
            spare = limit - abs(value)
    return LengthCheck(
        value=value,
        limit=limit,
        rule=rule,
        to_spare=spare,
        check_class=check_class,
        counts_toward_verdict=counts,
        verdict=VERDICTS[verdict],
    )
