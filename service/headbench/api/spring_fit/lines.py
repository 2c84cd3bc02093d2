"""Spring fit lines: every gap of a nest against its limits, and what else its springs are judged by."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Annotated, Final, Literal

from msgspec import Meta

from headbench.api.spring_fit.request import (
    Nest,
    NestedCoil,
    OuterCoil,
    SpringFitRequest,
    binds_at,
    coil_of,
    diameter_of,
    each_coil,
    is_damper,
)
from headbench.api.vocabulary.checks import LengthCheck, Rule, VerdictName, length_check, worst_of
from headbench.api.vocabulary.quantities import Answer, LengthOut, number_of
from headbench.calc.judging.limits import COIL_BIND_CLEARANCE_MINIMUM, SEAL_TO_SPRING_MINIMUM, CheckClass, Limit
from headbench.calc.judging.possible import if_possible
from headbench.calc.judging.rules import POSSIBLE_HEIGHT
from headbench.calc.judging.touching import clearance_verdict
from headbench.calc.judging.verdicts import Verdict, at_least, at_most, setting_verdict
from headbench.calc.spring_fit.fit import Coil, Gap, gap_in_pocket, gaps_between, radial_gap, settled
from headbench.calc.spring_fit.limits import (
    CENTERING_GAP_MAXIMUM,
    CENTERING_GAP_MINIMUM,
    COIL_IN_POCKET_MINIMUM,
    COIL_TO_COIL_MINIMUM,
    DAMPER_GAP_MAXIMUM,
    SQUARENESS_MAXIMUM,
)

GapKind = Literal["on_locator", "on_retainer", "coil_to_coil", "over_seal", "locator_in_pocket", "coil_in_pocket"]
_UNKNOWN: Final = "null = not measured."
_REJECT: Final = int(Verdict.REJECT)


class GapLine(Answer, kw_only=True, frozen=True):
    """One radial gap."""

    kind: Annotated[GapKind, Meta(description="Which gap.")]
    coil: Annotated[str | None, Meta(description="Which spring or damper; null = a gap of the locator.")]
    gap: Annotated[
        LengthOut | None,
        Meta(description=f"Radial gap, springs free; negative = parts press on each other; {_UNKNOWN}"),
    ]
    closed_gap: Annotated[
        LengthOut | None,
        Meta(description=f"The same with coils closed, by what they grow, if it is a gap of working coils; {_UNKNOWN}"),
    ]
    minimum_check: Annotated[LengthCheck | None, Meta(description="Its least; null = no least.")]
    maximum_check: Annotated[LengthCheck | None, Meta(description="Its greatest; null = no greatest.")]


class FittedCoil(Answer, kw_only=True, frozen=True):
    """One spring or damper."""

    coil: Annotated[str, Meta(description="Which it is.")]
    outside_diameter: Annotated[LengthOut | None, Meta(description=f"Outside, free; {_UNKNOWN}")]
    inside_diameter: Annotated[LengthOut | None, Meta(description=f"Inside, free; {_UNKNOWN}")]
    growth: Annotated[
        LengthOut | None, Meta(description=f"How much wider it is with coils closed; 0 for a damper; {_UNKNOWN}")
    ]
    squareness_check: Annotated[
        LengthCheck | None, Meta(description="How far it stands out of square; null = a damper.")
    ]
    damper_bind_check: Annotated[
        LengthCheck | None, Meta(description="What a damper has left at full lift before it bottoms; null = a spring.")
    ]


class NestLine(Answer, kw_only=True, frozen=True):
    """The springs of one valve, and how they fit."""

    id: Annotated[str, Meta(description="The nest.")]
    coils: Annotated[list[FittedCoil], Meta(description="Springs and dampers, from the outside in.")]
    gaps: Annotated[list[GapLine], Meta(description="Every gap, from the pocket to the seal.")]
    verdict: Annotated[VerdictName, Meta(description="The worst of all checks.")]


@dataclass(frozen=True, slots=True)
class Fitted:
    """One gap as it was judged: where its coil stands in the request, and its line."""

    where: str
    line: GapLine


@dataclass(frozen=True, slots=True)
class Nested:
    """One nest, worked."""

    nest: Nest
    coils: tuple[Coil, ...]
    gaps: tuple[Fitted, ...]
    line: NestLine


def _or(given: float | None, default: Limit) -> float:
    return default.value if given is None else given


def nest_of(request: SpringFitRequest, nest: Nest) -> Nested:
    """One nest, every gap and spring judged."""
    each = list(each_coil(nest))
    coils = tuple(coil_of(one) for _, _, one in each)
    gaps = tuple(_gaps(request, nest, coils))
    lines = [_coil_line(request, nest, name, one, coil) for (_, name, one), coil in zip(each, coils, strict=True)]
    checks = [
        *(check for gap in gaps for check in (gap.line.minimum_check, gap.line.maximum_check)),
        *(check for line in lines for check in (line.squareness_check, line.damper_bind_check)),
    ]
    return Nested(
        nest,
        coils,
        gaps,
        NestLine(
            id=nest.id,
            coils=lines,
            gaps=[gap.line for gap in gaps],
            verdict=worst_of([check.verdict for check in checks if check is not None]),
        ),
    )


def _gaps(request: SpringFitRequest, nest: Nest, coils: tuple[Coil, ...]) -> Iterator[Fitted]:
    """Every gap there is, from the outside in."""
    each = list(each_coil(nest))
    outer, limits = nest.outer, request.limits
    in_pocket = nest.pocket == "machined"
    if outer.located_by == "pocket":
        if in_pocket:
            gap = gap_in_pocket(coils[0], diameter_of(nest.pocket_diameter))
            least = _or(limits.coil_in_pocket_minimum, COIL_IN_POCKET_MINIMUM)
            yield Fitted("outer", _line("coil_in_pocket", "outer spring", gap, _clears(gap, least), None))
    else:
        if in_pocket:
            gap = Gap.still(radial_gap(diameter_of(nest.pocket_diameter), diameter_of(nest.locator_outside_diameter)))
            yield Fitted("outer", _centered(request, "locator_in_pocket", None, gap))
        register = diameter_of(outer.locator_diameter)
        inside = outer.located_by == "inside"
        gap = (
            Gap.still(radial_gap(coils[0].inner_diameter, register))
            if inside
            else Gap.still(radial_gap(register, coils[0].outer_diameter))
        )
        yield Fitted("outer", _centered(request, "on_locator", "outer spring", gap))
    gap = Gap.still(radial_gap(coils[0].inner_diameter, diameter_of(outer.retainer_diameter)))
    yield Fitted("outer", _centered(request, "on_retainer", "outer spring", gap))
    for (where, name, one), coil, between in zip(each[1:], coils[1:], gaps_between(coils), strict=True):
        yield from _nested_gaps(request, where, name, one, coil, between)
    gap = Gap.still(radial_gap(settled(coils)[-1].inner_diameter, diameter_of(nest.seal_diameter)))
    least = _or(limits.seal_to_spring_minimum, SEAL_TO_SPRING_MINIMUM)
    yield Fitted(each[-1][0], _line("over_seal", each[-1][1], gap, _clears(gap, least), None))


def _nested_gaps(
    request: SpringFitRequest, where: str, name: str, one: OuterCoil | NestedCoil, coil: Coil, between: Gap
) -> Iterator[Fitted]:
    if not isinstance(one, NestedCoil):
        return
    limits = request.limits
    least, most = one.gap_minimum, one.gap_maximum
    if is_damper(one) and least is None and most is None:
        most = DAMPER_GAP_MAXIMUM.value
    elif least is None and (most is None or most > 0.0):
        least = _or(limits.coil_to_coil_minimum, COIL_TO_COIL_MINIMUM)
    # parts that are to press on each other do so as they stand; growth is theirs together
    pressed = least is None or least < 0.0
    shown = Gap.still(between.free) if pressed else between
    minimum = None
    if least is not None:
        minimum = _check(request, between.free, least, "at_least", "setting") if pressed else _clears(between, least)
    maximum = None if most is None else _check(request, between.free, most, "at_most", "setting")
    yield Fitted(where, _line("coil_to_coil", name, shown, minimum, maximum))
    centers: tuple[tuple[bool, GapKind, float | None], ...] = (
        (one.centered_by_locator, "on_locator", one.locator_diameter),
        (one.centered_by_retainer, "on_retainer", one.retainer_diameter),
    )
    for centers_it, kind, diameter in centers:
        if centers_it and not is_damper(one):
            gap = Gap.still(radial_gap(coil.inner_diameter, diameter_of(diameter)))
            yield Fitted(where, _centered(request, kind, name, gap))


def _line(
    kind: GapKind, coil: str | None, gap: Gap, minimum: LengthCheck | None, maximum: LengthCheck | None
) -> GapLine:
    return GapLine(
        kind=kind, coil=coil, gap=gap.free, closed_gap=gap.closed, minimum_check=minimum, maximum_check=maximum
    )


def _clears(gap: Gap, least: float) -> LengthCheck:
    """A gap that must stay open, free and closed: rejected as soon as one of both is known to be too small."""
    known = clearance_verdict(gap.known_least, least)
    if known == _REJECT:
        return length_check(gap.known_least, least, "at_least", known, "damage")
    return length_check(gap.least, least, "at_least", clearance_verdict(gap.least, least), "damage")


def _centered(request: SpringFitRequest, kind: GapKind, coil: str | None, gap: Gap) -> GapLine:
    """A gap that centers: snug is good, pressed is not, loose walks."""
    limits = request.limits
    least = _or(limits.centering_gap_minimum, CENTERING_GAP_MINIMUM)
    most = _or(limits.centering_gap_maximum, CENTERING_GAP_MAXIMUM)
    minimum = length_check(gap.free, least, "at_least", at_least(gap.free, least), "damage")
    return _line(kind, coil, gap, minimum, _check(request, gap.free, most, "at_most", "setting"))


def _check(request: SpringFitRequest, value: float, limit: float, rule: Rule, check_class: CheckClass) -> LengthCheck:
    verdict = at_least(value, limit) if rule == "at_least" else at_most(value, limit)
    rejects = request.limits.off_target == "reject"
    return length_check(value, limit, rule, setting_verdict(verdict, misses_reject=rejects), check_class)


def _coil_line(request: SpringFitRequest, nest: Nest, name: str, one: OuterCoil | NestedCoil, coil: Coil) -> FittedCoil:
    limits = request.limits
    most = _or(limits.squareness_maximum, SQUARENESS_MAXIMUM)
    square = _check(request, number_of(one.out_of_square), most, "at_most", "setting")
    opened = if_possible(number_of(nest.open_height), POSSIBLE_HEIGHT)
    left = opened - (one.seat_rise if isinstance(one, NestedCoil) else 0.0)
    left -= binds_at(one)
    least = _or(limits.coil_bind_clearance_minimum, COIL_BIND_CLEARANCE_MINIMUM)
    bottoms = length_check(left, least, "at_least", clearance_verdict(left, least), "damage")
    return FittedCoil(
        coil=name,
        outside_diameter=coil.outer_diameter,
        inside_diameter=coil.inner_diameter,
        growth=coil.growth,
        squareness_check=None if is_damper(one) else square,
        damper_bind_check=bottoms if is_damper(one) else None,
    )
