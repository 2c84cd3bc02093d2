"""POST /v1/compression-ratio: what the pistons sweep against what is left over them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Annotated, Any, Final

from litestar import post
from litestar.params import JSONBody
from msgspec import Meta

from headbench.api.chambers import MOST_CHAMBERS, Chamber, open_chambers
from headbench.api.checks import LengthCheck, VerdictName, length_checks, worst_of
from headbench.api.cylinder import (
    Clearances,
    Cylinder,
    clearances_over_pistons,
    cylinder_faults,
    cylinder_notes,
    effective_ratios,
    open_cylinder,
    room_faults,
    swept_to_si,
)
from headbench.api.findings import PLAIN_COMPARISON, Note, OpenItem, cautions_for, note
from headbench.api.positions import raise_if_any
from headbench.api.quantities import (
    Answer,
    Columns,
    Length,
    LengthOut,
    Model,
    Units,
    UnitsUsed,
    VolumeOut,
    say,
    shows,
    units_used,
    written,
)
from headbench.api.rounding import rounded
from headbench.api.springs import repeated_ids
from headbench.api.wanted import RatioWanted, RatioWantedLine, ratio_wanted, wanted_faults
from headbench.calc import FloatArray
from headbench.calc.compression_ratio import static_ratio
from headbench.calc.grid import GRID
from headbench.calc.touching import clearance_verdict
from headbench.errors import Pointed
from headbench.units import Scales

QuenchLimit = Annotated[
    Length | None,
    Meta(description="Least quench the engine's maker or builder allows; null: not checked."),
]


class QuenchLimits(Model, kw_only=True, frozen=True):
    """How near the piston may come to the head."""

    quench: QuenchLimit = None


class CompressionRatioRequest(Model, kw_only=True, frozen=True):
    """The cylinders of one bank as they are, and what they should come to."""

    units: Units = Units()
    limits: QuenchLimits = QuenchLimits()
    cylinder: Cylinder = Cylinder()
    chambers: Annotated[list[Chamber], Meta(min_length=1, max_length=MOST_CHAMBERS)]
    wanted: Annotated[RatioWanted | None, Meta(description="Null: nothing is asked back.")] = None


class RatioNumbers(Answer, kw_only=True, frozen=True):
    """What one cylinder's ratio is made of."""

    id: Annotated[str, Meta(description="The chamber.")]
    chamber_volume: Annotated[VolumeOut | None, Meta(description="Chamber in the head, to its deck.")]
    deck_clearance: Annotated[LengthOut | None, Meta(description="Crown below (+) or above (-) the block's deck.")]
    deck_volume: Annotated[VolumeOut | None, Meta(description="Cylinder between crown and block deck.")]
    clearance_volume: Annotated[VolumeOut | None, Meta(description="All that is left over the piston.")]
    quench: Annotated[LengthOut | None, Meta(description="Flat of the crown to flat of the head.")]


class RatioLine(RatioNumbers, kw_only=True, frozen=True):
    """One cylinder's ratio."""

    static_ratio: Annotated[float | None, Meta(description="From dead center to dead center.")]
    effective_ratio: Annotated[
        float | None, Meta(description="From the closing of the intake valve; null if intake_closing is not given.")
    ]
    quench_check: Annotated[
        LengthCheck | None,
        Meta(
            description="Touching is rejected whatever the limit, and held against 0 where none was named; null: no "
            "limit was named, and the crown does not come past the head."
        ),
    ]


class Compression(Answer, kw_only=True, frozen=True):
    """What the cylinders of a bank come to."""

    swept_volume: Annotated[VolumeOut | None, Meta(description="What one piston sweeps.")]
    gasket_volume: Annotated[VolumeOut | None, Meta(description="Inside the gasket's opening.")]
    crevice_volume: Annotated[
        VolumeOut | None, Meta(description="Around the piston above its top ring; 0 if left out.")
    ]
    chambers: list[RatioLine]


class CompressionRatioAnswer(Compression, kw_only=True, frozen=True):
    """Every cylinder's ratio, and what would make it another."""

    units: UnitsUsed
    verdict: Annotated[VerdictName | None, Meta(description="The worst quench check; null: there is none.")]
    for_wanted: Annotated[
        list[RatioWantedLine] | None, Meta(description="What each cylinder needs; null: nothing asked.")
    ]
    open_items: list[OpenItem]
    notes: list[Note]
    cautions: list[str]


_NUMBERS = Columns(RatioNumbers)
_SET = Columns(Compression)
_CHAMBER = Columns(Chamber)

EXAMPLE: Final[dict[str, Any]] = {
    "units": {"length": "in", "volume": "cm3"},
    "limits": {"quench": 0.040},
    "cylinder": {
        "bore": 3.84,
        "stroke": 3.26,
        "deck_clearance": 0.010,
        "dish_volume": 5.0,
        "gasket": {"compressed_thickness": 0.044, "gasket_bore": 3.93},
        "ring_land": {"land_diameter": 3.80, "land_height": 0.250},
        "rod_length": 6.12,
        "pin_offset": 0.03,
        "intake_closing": 62,
    },
    "chambers": [{"id": "1", "chamber_volume": 57.3}, {"id": "3", "chamber_volume": 56.8, "deck_clearance": 0.012}],
    "wanted": {"static_ratio": 10.0, "quench": 0.040, "thinnest_gasket": 0.015},
}


def compression(
    cylinder: Cylinder,
    chambers: Sequence[Chamber],
    chamber_volume: FloatArray,
    clearances: Clearances,
    least_quench: float | None,
    scales: Scales,
) -> Compression:
    """What the cylinders come to with these clearances; `least_quench` as the caller wrote it."""
    swept = swept_to_si(cylinder, scales)
    ratios = zip(
        written(static_ratio(swept, clearances.clearance_volume)),
        written(effective_ratios(cylinder, clearances.clearance_volume, scales)),
        strict=True,
    )
    numbers = _NUMBERS.from_si(
        {
            "chamber_volume": chamber_volume,
            "deck_clearance": clearances.deck_clearance,
            "deck_volume": clearances.deck_volume,
            "clearance_volume": clearances.clearance_volume,
            "quench": clearances.quench,
        },
        scales,
    )
    one = {
        "swept_volume": swept,
        "gasket_volume": clearances.gasket_volume,
        "crevice_volume": clearances.crevice_volume,
    }
    return Compression(
        chambers=[
            RatioLine(id=chamber.id, static_ratio=static, effective_ratio=effective, quench_check=check, **row)
            for chamber, row, (static, effective), check in zip(
                chambers, numbers, ratios, _quench_checks(clearances.quench, least_quench, scales), strict=True
            )
        ],
        **_SET.from_si(one, scales)[0],
    )


def _quench_checks(quench: FloatArray, least: float | None, scales: Scales) -> list[LengthCheck | None]:
    limit = scales["length"].to_si(least or 0.0)
    checks = length_checks(quench, limit, "at_least", clearance_verdict(quench, limit), scales, check_class="damage")
    # a crown past the head's flat is refused though nobody named a limit
    past = quench <= -GRID
    return [check if least is not None or meets else None for check, meets in zip(checks, past.tolist(), strict=True)]


def quench_verdicts(lines: Sequence[RatioLine]) -> list[VerdictName]:
    """The verdicts on the quench, where a limit was named."""
    return [line.quench_check.verdict for line in lines if line.quench_check is not None]


def quench_notes(quench: FloatArray, chambers: Sequence[Chamber], scales: Scales) -> Iterator[Note]:
    """Crowns that come past the head's flat."""
    for place, (chamber, past) in enumerate(zip(chambers, (-quench).tolist(), strict=True)):
        if past < GRID or not shows(past, "length", scales):
            continue
        by = say(past, "length", scales)
        detail = (
            f"Chamber {chamber.id}: the flat of the crown comes {by} past the flat of the head. Where both have one "
            "they meet: do not turn this engine over."
        )
        own = f"/chambers/{place}" if chamber.deck_clearance is not None else "/cylinder"
        yield note("piston_meets_head", f"{own}/deck_clearance", detail)


@post(
    "/v1/compression-ratio",
    operation_id="findCompressionRatio",
    summary="Static and effective compression ratio of every cylinder",
    tags=["Milling"],
    status_code=200,
    opt={"example": EXAMPLE},
)
async def compression_ratio(data: JSONBody[CompressionRatioRequest]) -> CompressionRatioAnswer:
    """Give every cylinder's ratio and quench, and the chamber or gasket that would make them what is wanted."""
    return rounded(answer(data), data.units)


def answer(request: CompressionRatioRequest) -> CompressionRatioAnswer:
    """Answer one request; raises Contradiction."""
    scales = request.units.scales()
    cylinder, chambers = request.cylinder, request.chambers
    volumes = _CHAMBER.to_si(chambers, scales)["chamber_volume"]
    clearances = clearances_over_pistons(cylinder, chambers, volumes, scales)

    def faults() -> Iterator[Pointed]:
        yield from repeated_ids([chamber.id for chamber in chambers], "/chambers", "chamber")
        yield from cylinder_faults(cylinder, scales)
        yield from room_faults({"as measured": clearances}, scales)
        yield from wanted_faults(request.wanted)

    raise_if_any(faults())
    found = compression(cylinder, chambers, volumes, clearances, request.limits.quench, scales)
    lines: list[RatioWantedLine] | None = None
    notes: list[Note] = []
    if request.wanted is not None:
        swept = float(swept_to_si(cylinder, scales)[0])
        lines, notes = ratio_wanted(request.wanted, chambers, swept, clearances, scales)
    verdicts = quench_verdicts(found.chambers)
    return CompressionRatioAnswer(
        units=units_used(scales),
        verdict=worst_of(verdicts) if verdicts else None,
        swept_volume=found.swept_volume,
        gasket_volume=found.gasket_volume,
        crevice_volume=found.crevice_volume,
        chambers=found.chambers,
        for_wanted=lines,
        open_items=[*open_cylinder(cylinder, chambers), *open_chambers(chambers)],
        notes=[
            PLAIN_COMPARISON,
            *cylinder_notes(cylinder, scales),
            *quench_notes(clearances.quench, chambers, scales),
            *notes,
        ],
        cautions=cautions_for(),
    )
