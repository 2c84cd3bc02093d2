"""GET /v1/reference/...: the tables behind the answers, each row with what it rests on."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Annotated, Any, Final

from litestar import get
from litestar.handlers import HTTPRouteHandler
from msgspec import Meta

from headbench.api.exchange.resource import Resource
from headbench.api.springs.dimensions import MATERIALS
from headbench.api.vocabulary.findings import NOTE_CODES
from headbench.api.vocabulary.quantities import Answer, PercentOut
from headbench.calc.judging import limits, rules
from headbench.calc.judging.limits import CheckClass
from headbench.units import scales_for


class LimitRow(Answer, kw_only=True, frozen=True):
    """A default limit, or other numbers that decide."""

    name: Annotated[str, Meta(description="The request field it is the default of, or its own name.")]
    values: Annotated[list[float], Meta(description="One number; a range has two, sizes as many as there are.")]
    unit: Annotated[str, Meta(description="in, lbf, g, deg, percent, count, or ratio for a plain number.")]
    check_class: Annotated[
        CheckClass | None,
        Meta(
            description="What a miss means: damage is rejected, a setting is for a person to decide; null = no check."
        ),
    ]
    meaning: Annotated[str, Meta(description="What it is compared with, or decides.")]
    basis: Annotated[
        str,
        Meta(
            description="What it rests on: published, common practice, no source, from memory, own derivation, or a "
            "standard by its number."
        ),
    ]


class LimitTable(Answer, kw_only=True, frozen=True):
    """Every default limit, and what else decides."""

    rows: Annotated[list[LimitRow], Meta(description="A row for each.")]


class StrengthRow(Answer, kw_only=True, frozen=True):
    """Tensile strength inside one range of diameters: coefficient over diameter to the power of exponent."""

    diameter_minimum: Annotated[float, Meta(description="Least diameter [mm].")]
    diameter_maximum: Annotated[float, Meta(description="Greatest diameter [mm].")]
    coefficient: Annotated[float, Meta(description="Tensile strength at 1 mm, by the formula [MPa].")]
    exponent: Annotated[float, Meta(description="Exponent of the diameter.")]


class WireRow(Answer, kw_only=True, frozen=True):
    """A kind of spring wire."""

    material: Annotated[str, Meta(description="As `material` takes it.")]
    strength: list[StrengthRow]
    strength_basis: Annotated[str, Meta(description="What A and m rest on.")]
    torsional_yield_share: Annotated[
        PercentOut, Meta(description="Torsional yield strength in percent of tensile strength, before presetting.")
    ]
    yield_basis: Annotated[str, Meta(description="What torsional_yield_share rests on.")]
    shear_modulus_minimum: Annotated[float, Meta(description="Least G that sources give [GPa].")]
    shear_modulus_maximum: Annotated[float, Meta(description="Greatest G that sources give [GPa].")]
    moduli_basis: Annotated[str, Meta(description="What E and G rest on.")]
    density: Annotated[float, Meta(description="Density [kg/m3], from memory.")]
    source: Annotated[str, Meta(description="Where the values stand, with edition and table.")]


class WireTable(Answer, kw_only=True, frozen=True):
    """Every kind of spring wire there is a row for."""

    rows: list[WireRow]


class NoteRow(Answer, kw_only=True, frozen=True):
    """A note that answers may carry."""

    code: Annotated[str, Meta(description="The stable short name that notes carry.")]
    meaning: Annotated[str, Meta(description="What it says.")]


class NoteTable(Answer, kw_only=True, frozen=True):
    """Every note; codes keep their meaning, new ones may come."""

    rows: list[NoteRow]


_SCALES: Final = scales_for()
_MM: Final = 1e-3


def tables(resources: Sequence[Resource[Any, Any]]) -> list[HTTPRouteHandler]:
    """The routes of the tables: what the house has, then what its topics add."""

    @get("/v1/reference/limits", operation_id="listLimits", summary="Default limits", tags=["Reference"])
    async def limit_table() -> LimitTable:
        """List every default limit, whatever else decides, and what each rests on."""
        return LimitTable(rows=list(_limit_rows(resources)))

    @get("/v1/reference/notes", operation_id="listNotes", summary="Codes of notes", tags=["Reference"])
    async def note_table() -> NoteTable:
        """List every code a note can have, and what it means."""
        lists = (NOTE_CODES, *(resource.notes for resource in resources))
        return NoteTable(rows=[NoteRow(code=code, meaning=own[code]) for own in lists for code in own])

    return [limit_table, note_table, wire_table]


def _limit_rows(resources: Sequence[Resource[Any, Any]]) -> Iterator[LimitRow]:
    for limit in (*limits.ALL, *(one for resource in resources for one in resource.limits)):
        yield _limit_row(limit.name, (limit.value,), limit.quantity, limit.meaning, limit.basis, limit.check_class)
    for rule in (*rules.RULES, *(one for resource in resources for one in resource.rules)):
        yield _limit_row(rule.name, rule.values, rule.quantity, rule.meaning, rule.basis, None)


def _limit_row(
    name: str, values: tuple[float, ...], quantity: str, meaning: str, basis: str, check_class: CheckClass | None
) -> LimitRow:
    scale = _SCALES.get(quantity)
    return LimitRow(
        name=name,
        values=[value if scale is None else round(scale.from_si(value), 6) for value in values],
        unit=quantity if scale is None else scale.unit,
        check_class=check_class,
        meaning=meaning,
        basis=basis,
    )


@get("/v1/reference/wire-materials", operation_id="listWireMaterials", summary="Spring wires", tags=["Reference"])
async def wire_table() -> WireTable:
    """List strength, moduli and density of spring wires, and what each value rests on."""
    return WireTable(
        rows=[
            WireRow(
                material=key,
                strength=[
                    StrengthRow(
                        diameter_minimum=round(row.thinnest / _MM, 4),
                        diameter_maximum=round(row.thickest / _MM, 4),
                        coefficient=round(row.coefficient / _MM**row.exponent / 1e6, 1),
                        exponent=row.exponent,
                    )
                    for row in wire.strength
                ],
                strength_basis=wire.strength_basis,
                torsional_yield_share=wire.torsional_yield_share,
                yield_basis=wire.yield_basis,
                shear_modulus_minimum=round(wire.shear_modulus_range[0] / 1e9, 1),
                shear_modulus_maximum=round(wire.shear_modulus_range[1] / 1e9, 1),
                moduli_basis=wire.moduli_basis,
                density=wire.density,
                source=wire.source,
            )
            for key, wire in MATERIALS.items()
        ]
    )
