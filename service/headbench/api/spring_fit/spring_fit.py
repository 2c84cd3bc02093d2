"""POST /v1/spring-fit: whether springs, dampers, locator, retainer, pocket and seal fit each other."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Annotated, Final

from msgspec import Meta

from headbench.api.exchange.envelope import NO_JOB, THIS_RELEASE, JobAnswered, Release
from headbench.api.exchange.resource import Resource
from headbench.api.spring_fit.lines import NestLine, nest_of
from headbench.api.spring_fit.notes import NOTES, fit_notes
from headbench.api.spring_fit.request import (
    Nest,
    NestedCoil,
    OuterCoil,
    SpringFitRequest,
    each_coil,
    fit_faults,
    is_damper,
)
from headbench.api.vocabulary.checks import VerdictName, worst_of
from headbench.api.vocabulary.findings import PLAIN_COMPARISON, Note, OpenItem, cautions_for
from headbench.api.vocabulary.positions import measure_again, raise_if_any
from headbench.api.vocabulary.quantities import Answer, UnitsUsed, units_used
from headbench.calc.judging.possible import is_possible
from headbench.calc.judging.rules import POSSIBLE_COIL_BIND_HEIGHT, POSSIBLE_HEIGHT, Rule
from headbench.calc.spring_fit import limits


class SpringFitAnswer(Answer, kw_only=True, frozen=True):
    """Every nest, and how it fits."""

    job: JobAnswered = NO_JOB
    version: Release = THIS_RELEASE
    units: Annotated[UnitsUsed, Meta(description="Units of every number here.")]
    verdict: Annotated[VerdictName, Meta(description="The worst of all nests.")]
    nests: Annotated[list[NestLine], Meta(description="A line per nest, in the order given.")]
    open_items: Annotated[list[OpenItem], Meta(description="Still to be measured or entered.")]
    notes: Annotated[list[Note], Meta(description="What was found, and what to do.")]
    cautions: Annotated[list[str], Meta(description="Cautions for this work.")]


_GAPS: Final = ["gap", "closed_gap", "minimum_check", "maximum_check"]
_OF_DIAMETER: Final = ["outside_diameter", "inside_diameter", "growth", *_GAPS]
_OF_GROWTH: Final = ["growth", "closed_gap", "minimum_check"]
_OF_BIND: Final = ["damper_bind_check"]


def _open_items(request: SpringFitRequest) -> Iterator[OpenItem]:
    for place, nest in enumerate(request.nests):
        for field, missing, needed_for, what in _open_of(nest):
            if missing:
                name, _, todo = what.partition(": ")
                yield OpenItem(
                    pointer=f"/nests/{place}/{field}",
                    position=None,
                    spring=None,
                    needed_for=list(needed_for),
                    detail=f"{nest.id}{', ' if todo else ': '}{name}{': ' if todo else ''}{todo}",
                )


def _slips(request: SpringFitRequest) -> Iterator[OpenItem]:
    """Readings that cannot be right: they count as not taken until they are taken again."""
    for place, nest in enumerate(request.nests):
        for field, reading, possible, needed_for, what in _lengths_of(nest):
            if reading is not None and not is_possible(reading, possible):
                yield OpenItem(
                    pointer=f"/nests/{place}/{field}",
                    position=None,
                    spring=None,
                    needed_for=needed_for,
                    detail=f"{nest.id}: {measure_again(what, reading)}",
                )


def _lengths_of(nest: Nest) -> Iterator[tuple[str, float | None, Rule, list[str], str]]:
    """Every length that gaps or dampers rest on: where it stands, what was read and may be, what waits, its name."""
    yield "pocket_diameter", nest.pocket_diameter, limits.POSSIBLE_DIAMETER, _GAPS, "the pocket's diameter"
    what = "the locator's outside diameter"
    yield "locator_outside_diameter", nest.locator_outside_diameter, limits.POSSIBLE_DIAMETER, _GAPS, what
    yield "seal_diameter", nest.seal_diameter, limits.POSSIBLE_DIAMETER, _GAPS, "seal or guide boss"
    yield "open_height", nest.open_height, POSSIBLE_HEIGHT, _OF_BIND, "the height at full lift"
    for where, name, one in each_coil(nest):
        own = f"the {name}'s"
        for field, what in (("outside_diameter", "outside diameter"), ("inside_diameter", "inside diameter")):
            yield f"{where}/{field}", getattr(one, field), limits.POSSIBLE_DIAMETER, _OF_DIAMETER, f"{own} {what}"
        for field, what in (("locator_diameter", "register on the locator"), ("retainer_diameter", "retainer step")):
            yield f"{where}/{field}", getattr(one, field), limits.POSSIBLE_DIAMETER, _GAPS, f"{own} {what}"
        yield f"{where}/wire", one.wire, limits.POSSIBLE_WIRE, _OF_DIAMETER, f"{own} wire"
        if is_damper(one):
            what = f"the height at which the {name} bottoms"
            yield f"{where}/bind_height", one.bind_height, POSSIBLE_COIL_BIND_HEIGHT, _OF_BIND, what


Open = tuple[str, bool, Sequence[str], str]
"""Where a reading belongs below its nest, whether it is missing, what waits for it, and what to do."""


def _open_of(nest: Nest) -> Iterator[Open]:
    outer = nest.outer
    if nest.pocket == "machined":
        yield "pocket_diameter", nest.pocket_diameter is None, _GAPS, "measure the pocket's diameter."
        if outer.located_by != "pocket":
            what = "measure the locator's outside diameter."
            yield "locator_outside_diameter", nest.locator_outside_diameter is None, _GAPS, what
    for where, name, one in each_coil(nest):
        # an outer spring that stands alone grows into nothing
        grows = one is not outer or bool(nest.nested) or (outer.located_by == "pocket" and nest.pocket == "machined")
        yield from _open_coil(where, name, one, grows=grows)
    if outer.located_by != "pocket":
        what = "outer spring: measure the locator's register for it."
        yield "outer/locator_diameter", outer.locator_diameter is None, _GAPS, what
    what = "outer spring: measure the retainer's step for it."
    yield "outer/retainer_diameter", outer.retainer_diameter is None, _GAPS, what
    yield "seal_diameter", nest.seal_diameter is None, _GAPS, "measure seal or guide boss, whichever is larger."
    if any(is_damper(one) for one in nest.nested):
        what = "enter the outer spring's height at full lift, for its damper."
        yield "open_height", nest.open_height is None, _OF_BIND, what


def _open_coil(where: str, name: str, one: OuterCoil | NestedCoil, *, grows: bool) -> Iterator[Open]:
    neither = one.outside_diameter is None and one.inside_diameter is None
    half = one.wire is None and (one.outside_diameter is None) != (one.inside_diameter is None)
    yield f"{where}/outside_diameter", neither, _OF_DIAMETER, f"{name}: measure its outside diameter."
    if is_damper(one):
        yield f"{where}/wire", half, _OF_DIAMETER, f"{name}: measure its flat wire, or its other diameter."
        what = f"{name}: measure the height at which it bottoms."
        yield f"{where}/bind_height", one.bind_height is None, _OF_BIND, what
    else:
        held = _OF_DIAMETER if half else _OF_GROWTH
        yield f"{where}/wire", one.wire is None and (half or grows), held, f"{name}: measure its wire."
        yield (
            f"{where}/pitch",
            one.pitch is None and grows,
            _OF_GROWTH,
            f"{name}: measure its pitch, free, wire to wire.",
        )
        what = f"{name}: stand it against a square, turn it once around, and measure the largest gap at its top."
        yield f"{where}/out_of_square", one.out_of_square is None, ["squareness_check"], what
    if isinstance(one, NestedCoil) and not is_damper(one):
        asked = one.centered_by_locator and one.locator_diameter is None
        yield f"{where}/locator_diameter", asked, _GAPS, f"{name}: measure the locator's register for it."
        asked = one.centered_by_retainer and one.retainer_diameter is None
        yield f"{where}/retainer_diameter", asked, _GAPS, f"{name}: measure the retainer's step for it."


def answer(request: SpringFitRequest) -> SpringFitAnswer:
    """Answer one request; raises Contradiction."""
    raise_if_any(fit_faults(request))
    nested = [nest_of(request, nest) for nest in request.nests]
    return SpringFitAnswer(
        units=units_used(),
        verdict=worst_of([one.line.verdict for one in nested]),
        nests=[one.line for one in nested],
        open_items=[*_open_items(request), *_slips(request)],
        notes=[PLAIN_COMPARISON, *fit_notes(nested)],
        cautions=cautions_for("springs"),
    )


RESOURCE: Final = Resource(
    kind="spring-fit",
    operation_id="checkSpringFit",
    summary="Whether springs, dampers, locator and retainer fit",
    description="Check the radial gaps around nested springs, open and closed, dampers, and squareness.",
    tag="Bench",
    request=SpringFitRequest,
    answer=SpringFitAnswer,
    compute=answer,
    example_file=Path(__file__).with_name("spring_fit.json"),
    limits=limits.LIMITS,
    rules=limits.RULES,
    notes=NOTES,
)
