"""POST /v1/valve-check: one valve from a plain form or JSON, answered as a page or JSON.

It figures nothing itself: what was read becomes a head of one position, and its answer is the answer of that.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from typing import Annotated, Final

from msgspec import Meta
from msgspec.structs import replace

from headbench.api.bench.form_page import page
from headbench.api.bench.form_resource import FormResource
from headbench.api.clearances.retainer_clearance import OwnLift, RetainerToSeal
from headbench.api.exchange.envelope import NO_JOB, THIS_RELEASE, Job, JobAnswered, JobAsked, Release
from headbench.api.gauges.tester_readings import Reading
from headbench.api.head import head_assembly
from headbench.api.head.job import HeadAssemblyRequest, Position
from headbench.api.head.sheet import AssemblySheet, PositionLine
from headbench.api.heights.readings import HeightCorrection
from headbench.api.springs.load_curves import BenchReadings
from headbench.api.springs.spring import Spring
from headbench.api.vocabulary.checks import VerdictName
from headbench.api.vocabulary.findings import Note, OpenItem
from headbench.api.vocabulary.names import Valve
from headbench.api.vocabulary.positions import raise_if_any
from headbench.api.vocabulary.quantities import Answer, Force, Name, PositiveForce, PositiveLength, Units, UnitsUsed
from headbench.api.vocabulary.saying import say
from headbench.api.vocabulary.targets import Target, Targets
from headbench.errors import Contradiction, Pointed

_FIRST: Final = "Height of the {} reading on the spring tester; null = not measured."
_LOAD: Final = "Load the tester shows there; null = not measured."


class ValveCheckRequest(HeightCorrection, kw_only=True, frozen=True):
    """Everything read at one valve so far; what was not measured is left out, or blank in a form."""

    units: Units = Units()
    job: JobAsked = Job()
    id: Annotated[Name, Meta(description="Its name, as it is marked on the head.", examples=["1I"])] = "1"
    valve: Valve = "intake"
    target_height: Annotated[
        PositiveLength | None,
        Meta(description="Installed height wanted, valve closed; null = not given.", examples=[1.75]),
    ] = None
    target_seat_load: Annotated[
        PositiveForce | None,
        Meta(description="Load wanted with the valve closed; null = not given.", examples=[118]),
    ] = None
    measured_height: Annotated[
        PositiveLength | None,
        Meta(
            description="Spring height with the valve closed and no shims, from spring seat or locator to retainer; "
            "null = not measured.",
            examples=[1.846],
        ),
    ] = None
    valve_lift: OwnLift = None
    coil_bind_height: Annotated[
        PositiveLength | None,
        Meta(description="Coil-bind height, measured on a tester or press; null = not measured.", examples=[1.118]),
    ] = None
    retainer_to_seal: RetainerToSeal = None
    first_height: Annotated[PositiveLength | None, Meta(description=_FIRST.format("first"), examples=[1.75])] = None
    first_load: Annotated[Force | None, Meta(description=_LOAD, examples=[118])] = None
    second_height: Annotated[PositiveLength | None, Meta(description=_FIRST.format("second"), examples=[1.2])] = None
    second_load: Annotated[Force | None, Meta(description=_LOAD, examples=[281])] = None


class ValveCheckAnswer(Answer, kw_only=True, frozen=True):
    """One valve as a sheet has it."""

    job: JobAnswered = NO_JOB
    version: Release = THIS_RELEASE
    units: Annotated[UnitsUsed, Meta(description="Units of every number here.")]
    verdict: Annotated[VerdictName, Meta(description="The worst of its checks.")]
    position: Annotated[PositionLine, Meta(description="The valve, as a line of the assembly sheet.")]
    open_items: Annotated[list[OpenItem], Meta(description="Still to be measured or entered.")]
    notes: Annotated[list[Note], Meta(description="What was found, and what to do.")]
    cautions: Annotated[list[str], Meta(description="Cautions for this work.")]


_READ: Final = (("first_height", "first_load"), ("second_height", "second_load"))
_NOT_ASKED: Final = frozenset({"moving_mass"})
"""What a head has and one valve at the bench is not asked for."""


def answer(request: ValveCheckRequest) -> ValveCheckAnswer:
    """Answer one request; raises Contradiction."""
    raise_if_any(_half_readings(request))
    own = _pointers(request)
    try:
        sheet = head_assembly.answer(_head(request))
    except Contradiction as found:
        raise Contradiction([Pointed(own(error.pointer), error.detail) for error in found.errors]) from None
    return _of_one(sheet, own)


def _half_readings(request: ValveCheckRequest) -> Iterator[Pointed]:
    """A load at no height; a height without a load is one that was not read yet."""
    for height, load in _READ:
        shown = getattr(request, load)
        if shown is not None and getattr(request, height) is None:
            yield Pointed(f"/{height}", f"enter the height at which the tester showed {say(shown, 'force')}")


def _readings(request: ValveCheckRequest) -> list[tuple[str, Reading]]:
    """The readings that were taken, each with the name of its load."""
    return [
        (load, Reading(height=getattr(request, height), load=getattr(request, load)))
        for height, load in _READ
        if getattr(request, load) is not None
    ]


def _head(request: ValveCheckRequest) -> HeadAssemblyRequest:
    """The same as a head of one position."""
    readings = [reading for _, reading in _readings(request)]
    target = Target(installed_height=request.target_height, seat_load=request.target_seat_load)
    position = Position(
        id=request.id,
        valve=request.valve,
        measured_height=request.measured_height,
        deduction=request.deduction,
        locator_thickness=request.locator_thickness,
        locator_in_place=request.locator_in_place,
        valve_lift=request.valve_lift,
        retainer_to_seal=request.retainer_to_seal,
        spring=request.id,
    )
    spring = Spring(
        id=request.id,
        load_curve=BenchReadings(readings=readings) if readings else None,
        coil_bind_height=request.coil_bind_height,
    )
    return HeadAssemblyRequest(
        units=request.units,
        targets=Targets(**{request.valve: target}),
        springs=[spring],
        positions=[position],
    )


def _pointers(request: ValveCheckRequest) -> Callable[[str], str]:
    """From places in that head to the fields here."""
    loads = [load for load, _ in _readings(request)]
    curve = "/springs/0/load_curve"
    places = {
        **{f"{curve}/readings/{place}": f"/{load}" for place, load in enumerate(loads)},
        curve: "/second_load" if loads else "/first_load",
        "/springs/0/coil_bind_height": "/coil_bind_height",
        f"/targets/{request.valve}/installed_height": "/target_height",
        f"/targets/{request.valve}/seat_load": "/target_seat_load",
        f"/targets/{request.valve}": "/target_height",
        "/valvetrain": "/valve_lift",
        f"/height_corrections/{request.valve}": "",
        "/positions/0": "",
    }

    def own(pointer: str) -> str:
        for place, field in places.items():
            if pointer == place or pointer.startswith(f"{place}/"):
                left = pointer.removeprefix(place)
                return field or left
        return ""

    return own


def _of_one(sheet: AssemblySheet, own: Callable[[str], str]) -> ValveCheckAnswer:
    return ValveCheckAnswer(
        units=sheet.units,
        verdict=sheet.verdict,
        position=sheet.positions[0],
        open_items=[
            replace(item, pointer=own(item.pointer), spring=None)
            for item in sheet.open_items
            if not _NOT_ASKED.issuperset(item.needed_for)
        ],
        notes=_notes(sheet.notes, own),
        cautions=sheet.cautions,
    )


def _notes(notes: Sequence[Note], own: Callable[[str], str]) -> list[Note]:
    return [replace(one, pointer=own(one.pointer)) for one in notes if one.code != "valve_side_only"]


RESOURCE: Final = FormResource(
    kind="valve-check",
    operation_id="checkValve",
    summary="One valve, from a plain form or JSON",
    description="Enter what was read at one valve, all of it or some; get its shims, height, loads, clearances and "
    "verdict. Takes a form (`application/x-www-form-urlencoded`; a blank field was not measured) or JSON, and answers "
    "a page where `Accept` asks for `text/html` before JSON.",
    tag="Bench",
    request=ValveCheckRequest,
    answer=ValveCheckAnswer,
    compute=answer,
    example_file=Path(__file__).with_name("valve_check.json"),
    page=page,
)
