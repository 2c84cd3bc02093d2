"""POST /v1/installed-height: which shims, and the height every spring then stands at."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Annotated, Any, Final

import numpy as np
from litestar import post
from litestar.params import JSONBody
from msgspec import Meta

from headbench.api.checks import LengthCheck, VerdictName, length_checks, worst_of
from headbench.api.findings import PLAIN_COMPARISON, Note, OpenItem, cautions_for, note
from headbench.api.positions import MOST_POSITIONS, PositionAnswer, PositionModel, open_readings, raise_if_any, unusual
from headbench.api.quantities import (
    Answer,
    Columns,
    Length,
    LengthOut,
    Model,
    PositiveLength,
    Units,
    UnitsUsed,
    say,
    units_used,
)
from headbench.api.rounding import rounded
from headbench.api.shims import (
    Shims,
    ShimStock,
    ShimTotal,
    assumed_shims,
    shim_faults,
    shim_totals,
    shims_laid,
    shims_to_si,
)
from headbench.api.springs import repeated_ids
from headbench.api.targets import HeightLimits, HeightTargets, limits_to_si, open_targets, targets_to_si
from headbench.calc import FloatArray, IntArray
from headbench.calc.installed_height import Heights, set_heights
from headbench.calc.shims import MOST_SHIMS
from headbench.calc.verdicts import Verdict, setting_verdict, within
from headbench.errors import Pointed
from headbench.units import Scales


class HeightReadings(PositionModel, kw_only=True, frozen=True):
    """What the height gauge shows at one position."""

    measured_height: Annotated[
        PositiveLength | None,
        Meta(description="Height gauge reading from spring seat or locator to retainer, valve shut, no shim."),
    ] = None
    deduction: Annotated[
        Length | None,
        Meta(
            description="What the gauge reads too much because it sits on another step of the retainer; 0 if it sits "
            "where the spring sits; null: not said, none is taken off, and noted."
        ),
    ] = None


class InstalledHeightRequest(Model, kw_only=True, frozen=True):
    """The heights of some positions as the gauge shows them."""

    units: Units = Units()
    limits: HeightLimits = HeightLimits()
    shims: Annotated[Shims | None, Meta(description="The shims at hand; null: the usual sizes, noted.")] = None
    targets: HeightTargets = HeightTargets()
    positions: Annotated[list[HeightReadings], Meta(min_length=1, max_length=MOST_POSITIONS)]


class HeightNumbers(PositionAnswer, kw_only=True, frozen=True):
    """How one position comes to its height."""

    measured_height: Annotated[LengthOut | None, Meta(description="The gauge's reading, as given.")]
    deduction: Annotated[LengthOut, Meta(description="What was deducted from it, once.")]
    bare_height: Annotated[LengthOut | None, Meta(description="Height with no shim: measured_height - deduction.")]
    target_height: Annotated[
        LengthOut | None,
        Meta(description="Height aimed at; null: nothing says what."),
    ]
    needed: Annotated[
        LengthOut | None, Meta(description="Shim that would meet the target exactly; negative: too short already.")
    ]
    shim_stack: Annotated[LengthOut | None, Meta(description="Total thickness of the shims.")]
    installed_height: Annotated[LengthOut | None, Meta(description="Height with the shims, valve shut.")]
    short_by: Annotated[LengthOut | None, Meta(description="How much too short with no shim at all; 0 if it is not.")]


class HeightLine(HeightNumbers, kw_only=True, frozen=True):
    """One position's height."""

    shims: Annotated[list[LengthOut], Meta(description="The shims to lay, thickest first.")]
    installed_height_check: Annotated[LengthCheck, Meta(description="installed_height less its target.")]
    verdict: VerdictName


class InstalledHeightAnswer(Answer, kw_only=True, frozen=True):
    """Every position's shims and height."""

    units: UnitsUsed
    verdict: Annotated[VerdictName, Meta(description="The worst of all positions.")]
    positions: list[HeightLine]
    shim_totals: Annotated[list[ShimTotal], Meta(description="The shims to lay out for all positions.")]
    open_items: list[OpenItem]
    notes: list[Note]
    cautions: list[str]


HOLDS_BACK: Final = ["installed_height", "installed_height_check"]
WHAT_TO_MEASURE: Final = "read the height gauge, valve shut, no shim under it."
_OFFSET: Final = 0.050 * 0.0254
"""The offset that locks and retainers are made with, either way [m]; published (trade press)."""
_READINGS = Columns(HeightReadings)
_NUMBERS = Columns(HeightNumbers)

EXAMPLE: Final[dict[str, Any]] = {
    "units": {"length": "in"},
    "shims": {"thicknesses": [0.015, 0.030, 0.060], "in_stock": [12, 8, 2]},
    "targets": {"intake": {"installed_height": 1.750}, "exhaust": {"installed_height": 1.750}},
    "positions": [
        {"id": "1I", "valve": "intake", "measured_height": 1.885, "deduction": 0.090},
        {"id": "1E", "valve": "exhaust", "measured_height": 1.836, "deduction": 0.090},
        {"id": "2I", "valve": "intake"},
    ],
}


def with_deduction(columns: dict[str, FloatArray]) -> dict[str, FloatArray]:
    """What the gauge shows, a deduction that is not said taken as none."""
    said = ~np.isnan(columns["deduction"])
    return columns | {"deduction": np.where(said, columns["deduction"], 0.0)}


def height_faults(positions: Sequence[HeightReadings], scales: Scales) -> Iterator[Pointed]:
    """Statements about heights that cannot all hold."""
    yield from repeated_ids([position.id for position in positions], "/positions", "position")
    columns = with_deduction(_READINGS.to_si(positions, scales))
    bare = columns["measured_height"] - columns["deduction"]
    for place in np.flatnonzero(bare <= 0.0).tolist():
        taken = say(float(columns["deduction"][place]), "length", scales)
        read = say(float(columns["measured_height"][place]), "length", scales)
        yield Pointed(f"/positions/{place}/deduction", f"a deduction of {taken} leaves nothing of the {read} measured")


def height_numbers(
    heights: Heights, columns: dict[str, FloatArray], target_height: FloatArray, scales: Scales
) -> list[dict[str, Any]]:
    """The numbers of HeightNumbers, a row per position."""
    return _NUMBERS.from_si(
        {
            "measured_height": columns["measured_height"],
            "deduction": columns["deduction"],
            "bare_height": heights.bare_height,
            "target_height": target_height,
            "needed": heights.needed,
            "shim_stack": heights.shims.stack,
            "installed_height": heights.installed_height,
            "short_by": heights.short_by,
        },
        scales,
    )


def height_notes(
    heights: Heights,
    positions: Sequence[HeightReadings],
    columns: dict[str, FloatArray],
    verdicts: IntArray,
    stock: ShimStock,
    scales: Scales,
) -> Iterator[Note]:
    """What is to be said about heights and shims."""
    silent = [
        position.id for position in positions if position.deduction is None and position.measured_height is not None
    ]
    if silent:
        detail = f"No deduction is said for {', '.join(silent)}: the heights stand as the gauge shows them."
        yield note("deduction_assumed", "/positions", detail)

    def length(value: float) -> str:
        return say(value, "length", scales)

    for place in np.flatnonzero((verdicts == Verdict.REJECT) | (verdicts == Verdict.BORDERLINE)).tolist():
        which, needed = f"Position {positions[place].id}", float(heights.needed[place])
        if needed < 0.0:
            detail = (
                f"{which} is {length(-needed)} short of its height and a shim cannot help. The trade sinks or deepens "
                f"the spring pocket, fits locks or a retainer with another offset ({length(_OFFSET)} either way are "
                "made), or takes a longer valve."
            )
            yield note("short_of_height", f"/positions/{place}/measured_height", detail)
            continue
        off = _off(float(heights.deviation[place]), scales)
        if heights.shims.ran_out[place]:
            continue
        # a thicker stack would be nearer only if the thinnest size there is would not overshoot
        if needed - stock.stack_maximum > 0.5 * float(stock.thicknesses.min()):
            detail = (
                f"{which} needs {length(needed)}, more than the {length(stock.stack_maximum)} allowed in one pocket; "
                f"with the thickest stack it stands {off} its height."
            )
            yield note("stack_limit_reached", "/shims/stack_maximum", detail)
        else:
            most = (
                f" (one stack holds at most {MOST_SHIMS} shims)"
                if len(heights.shims.shims[place]) == MOST_SHIMS
                else ""
            )
            detail = f"{which} needs {length(needed)}; the nearest stack{most} leaves it {off} its height."
            yield note("off_target", f"/positions/{place}/measured_height", detail)
    for place in np.flatnonzero(heights.shims.ran_out).tolist():
        detail = (
            f"Position {positions[place].id} needs {length(float(heights.needed[place]))}; what is left in stock "
            f"leaves it {_off(float(heights.deviation[place]), scales)} its height. Positions are served in their "
            "order; sharing the stock otherwise may do better."
        )
        yield note("shims_ran_out", "/shims/in_stock", detail)
    for field in ("measured_height", "deduction"):
        yield from unusual(
            field, columns[field], [position.id for position in positions], f"/positions/{{}}/{field}", scales
        )


def _off(deviation: float, scales: Scales) -> str:
    return f"{say(abs(deviation), 'length', scales)} {'above' if deviation > 0.0 else 'below'}"


@post(
    "/v1/installed-height",
    operation_id="setInstalledHeight",
    summary="Shims and installed height of every position",
    tags=["Bench"],
    status_code=200,
    opt={"example": EXAMPLE},
)
async def installed_height(data: JSONBody[InstalledHeightRequest]) -> InstalledHeightAnswer:
    """Choose the shim stack nearest to each position's height, and say where a shim cannot help."""
    return rounded(answer(data), data.units)


def answer(request: InstalledHeightRequest) -> InstalledHeightAnswer:
    """Answer one request; raises Contradiction."""
    scales = request.units.scales()

    def faults() -> Iterator[Pointed]:
        yield from shim_faults(request.shims, scales)
        yield from height_faults(request.positions, scales)

    raise_if_any(faults())
    positions = request.positions
    valves = [position.valve for position in positions]
    columns = with_deduction(_READINGS.to_si(positions, scales))
    stock = shims_to_si(request.shims, scales)
    limit = limits_to_si(request.limits, "installed_height_tolerance", valves, scales)
    target_height = targets_to_si(request.targets, valves, scales)["installed_height"]
    heights = set_heights(
        columns["measured_height"],
        columns["deduction"],
        target_height,
        stock.thicknesses,
        stock.stack_maximum,
        stock.in_stock,
    )
    verdicts = setting_verdict(within(heights.deviation, limit), misses_reject=request.limits.off_target == "reject")
    checks = length_checks(heights.deviation, limit, "within", verdicts, scales, check_class="setting")
    rows = zip(
        positions,
        height_numbers(heights, columns, target_height, scales),
        shims_laid(heights.shims, stock, scales),
        checks,
        strict=True,
    )
    return InstalledHeightAnswer(
        units=units_used(scales),
        verdict=worst_of([check.verdict for check in checks]),
        positions=[
            HeightLine(
                id=position.id,
                valve=position.valve,
                shims=shims,
                installed_height_check=check,
                verdict=check.verdict,
                **numbers,
            )
            for position, numbers, shims, check in rows
        ],
        shim_totals=shim_totals(heights.shims, stock, scales),
        open_items=[
            *open_targets(request.targets, valves, HOLDS_BACK),
            *open_readings(positions, "measured_height", HOLDS_BACK, WHAT_TO_MEASURE),
        ],
        notes=[
            PLAIN_COMPARISON,
            *assumed_shims(request.shims, scales),
            *height_notes(heights, positions, columns, verdicts, stock, scales),
        ],
        cautions=cautions_for("springs"),
    )
