"""Wire materials: strength, moduli and density of spring wire, each with what it rests on."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Final, Literal

import numpy as np

from headbench.calc import BoolArray, FloatArray

Basis = Literal["published", "from memory"]
"""What a value rests on."""

_INCH: Final = 0.0254
_KPSI: Final = 6.894757293168361e6
_GPA: Final = 1e9


@dataclass(frozen=True, slots=True)
class StrengthRow:
    """Tensile strength of one material inside one range of diameters, S_ut = A/d^m.

    thinnest : float, least wire diameter the row holds for [m]
    thickest : float, greatest one [m]
    coefficient : float, A [Pa m^m]
    exponent : float, m [-]
    """

    thinnest: float
    thickest: float
    coefficient: float
    exponent: float


@dataclass(frozen=True, slots=True)
class ModulusRow:
    """Moduli of one material up to one diameter.

    thickest : float, greatest wire diameter the row holds for [m]
    elastic : float, elastic modulus E [Pa]
    shear : float, shear modulus G [Pa]
    """

    thickest: float
    elastic: float
    shear: float


@dataclass(frozen=True, slots=True)
class WireMaterial:
    """One kind of spring wire.

    name : str, what the trade calls it [-]
    strength : tuple of StrengthRow, by rising diameter [-]
    moduli : tuple of ModulusRow, by rising diameter [-]
    shear_modulus_range : tuple of 2 floats, least and greatest G that sources give [Pa]
    density : float [kg/m3]
    torsional_yield_share : float, torsional yield strength S_sy in percent of S_ut, before presetting [percent]
    yield_percent_set : tuple of 2 floats, the same after presetting, least and greatest [percent]
    strength_basis : Basis, what A and m rest on; the limits of diameter are from memory [-]
    moduli_basis : Basis, what E and G rest on [-]
    yield_basis : Basis, what the yield percentage rests on; those after presetting are from memory [-]
    source : str, where the values stand [-]
    """

    name: str
    strength: tuple[StrengthRow, ...]
    moduli: tuple[ModulusRow, ...]
    shear_modulus_range: tuple[float, float]
    density: float
    torsional_yield_share: float
    yield_percent_set: tuple[float, float]
    strength_basis: Basis
    moduli_basis: Basis
    yield_basis: Basis
    source: str


@dataclass(frozen=True, slots=True)
class TensileStrength:
    """Tensile strength of wires.

    strength : array (P,), S_ut [Pa]
    inside_limits : array (P,), False where the table does not cover the diameter and no certificate does [-]
    certified : array (P,), True where a certificate's value was taken [-]
    """

    strength: FloatArray
    inside_limits: BoolArray
    certified: BoolArray


@dataclass(frozen=True, slots=True)
class Moduli:
    """Moduli of wires.

    elastic : array (P,), E [Pa]
    shear : array (P,), G [Pa]
    """

    elastic: FloatArray
    shear: FloatArray


def _row(thinnest: float, thickest: float, coefficient: float, exponent: float) -> StrengthRow:
    """From inches and kpsi in^m, as the table is printed."""
    return StrengthRow(thinnest * _INCH, thickest * _INCH, coefficient * _KPSI * _INCH**exponent, exponent)


def _moduli(*rows: tuple[float, float, float]) -> tuple[ModulusRow, ...]:
    """From inches and Mpsi, as the table is printed."""
    return tuple(
        ModulusRow(thickest * _INCH, 1e3 * elastic * _KPSI, 1e3 * shear * _KPSI) for thickest, elastic, shear in rows
    )


_SHIGLEY: Final = (
    "R. G. Budynas and J. K. Nisbett, Shigley's Mechanical Engineering Design, 9th ed. (2011), Table 10-4 (A in "
    "kpsi in^m, the inch column), Table 10-5 (E and G in Mpsi, the inch columns), Table 10-6"
)

WIRE_MATERIALS: Final[Mapping[str, WireMaterial]] = MappingProxyType(
    {
        material.name: material
        for material in (
            WireMaterial(
                name="music wire",
                strength=(_row(0.004, 0.256, 201.0, 0.145),),
                moduli=_moduli((0.032, 29.5, 12.0), (0.063, 29.0, 11.85), (0.125, 28.5, 11.75), (np.inf, 28.0, 11.6)),
                shear_modulus_range=(79.3 * _GPA, 82.7 * _GPA),
                density=7850.0,
                torsional_yield_share=45.0,
                yield_percent_set=(60.0, 70.0),
                strength_basis="published",
                moduli_basis="published",
                yield_basis="published",
                source=f"{_SHIGLEY}; wire to ASTM A228; least G from memory",
            ),
            WireMaterial(
                name="oil-tempered wire",
                strength=(_row(0.020, 0.500, 147.0, 0.187),),
                moduli=_moduli((np.inf, 28.5, 11.2)),
                shear_modulus_range=(77.2 * _GPA, 79.5 * _GPA),
                density=7850.0,
                torsional_yield_share=50.0,
                yield_percent_set=(65.0, 75.0),
                strength_basis="published",
                moduli_basis="published",
                yield_basis="published",
                source=f"{_SHIGLEY}; wire to ASTM A229; greatest G from EN 10270-2:2011 (from memory)",
            ),
            WireMaterial(
                name="hard-drawn wire",
                strength=(_row(0.028, 0.500, 140.0, 0.190),),
                moduli=_moduli((0.032, 28.8, 11.7), (0.063, 28.7, 11.6), (0.125, 28.6, 11.5), (np.inf, 28.5, 11.4)),
                shear_modulus_range=(78.6 * _GPA, 81.5 * _GPA),
                density=7850.0,
                torsional_yield_share=45.0,
                yield_percent_set=(60.0, 70.0),
                strength_basis="published",
                moduli_basis="published",
                yield_basis="from memory",
                source=f"{_SHIGLEY}; wire to ASTM A227; greatest G from EN 10270-1:2011 (from memory)",
            ),
            WireMaterial(
                name="carbon valve spring wire",
                strength=(),
                moduli=_moduli((np.inf, 29.5, 11.2)),
                shear_modulus_range=(77.2 * _GPA, 79.5 * _GPA),
                density=7850.0,
                torsional_yield_share=50.0,
                yield_percent_set=(65.0, 75.0),
                strength_basis="published",
                moduli_basis="published",
                yield_basis="from memory",
                source=f"{_SHIGLEY}; wire to ASTM A230; no A, m: enter a certificate; greatest G from EN 10270-2:2011 "
                "(from memory)",
            ),
            WireMaterial(
                name="chrome-vanadium wire",
                strength=(_row(0.032, 0.437, 169.0, 0.168),),
                moduli=_moduli((np.inf, 29.5, 11.2)),
                shear_modulus_range=(77.2 * _GPA, 79.5 * _GPA),
                density=7850.0,
                torsional_yield_share=50.0,
                yield_percent_set=(65.0, 75.0),
                strength_basis="from memory",
                moduli_basis="published",
                yield_basis="from memory",
                source=f"{_SHIGLEY}; wire to ASTM A232; greatest G from EN 10270-2:2011 (from memory)",
            ),
            WireMaterial(
                name="chrome-silicon wire",
                strength=(_row(0.063, 0.375, 202.0, 0.108),),
                moduli=_moduli((np.inf, 29.5, 11.2)),
                shear_modulus_range=(77.2 * _GPA, 81.5 * _GPA),
                density=7850.0,
                torsional_yield_share=50.0,
                yield_percent_set=(65.0, 75.0),
                strength_basis="from memory",
                moduli_basis="from memory",
                yield_basis="from memory",
                source=f"{_SHIGLEY}; wire to ASTM A401; sources for G differ by 5.5 %",
            ),
            WireMaterial(
                name="302 stainless wire",
                strength=(
                    _row(0.013, 0.100, 169.0, 0.146),
                    _row(0.100, 0.200, 128.0, 0.263),
                    _row(0.200, 0.400, 90.0, 0.478),
                ),
                moduli=_moduli((np.inf, 28.0, 10.0)),
                shear_modulus_range=(68.9 * _GPA, 73.0 * _GPA),
                density=7920.0,
                torsional_yield_share=35.0,
                yield_percent_set=(55.0, 65.0),
                strength_basis="published",
                moduli_basis="from memory",
                yield_basis="published",
                source=f"{_SHIGLEY}; wire to ASTM A313; the row above 0.200 in and the greatest G from memory",
            ),
        )
    }
)
"""The wires known, by name. Densities are handbook values from memory."""


def tensile_strength(
    material: WireMaterial, wire_diameter: FloatArray, certificate: FloatArray | None = None
) -> TensileStrength:
    """Tensile strength of wires, S_ut = A/d^m.

    Parameters
    ----------
    material : WireMaterial
        What the wires are made of [-]
    wire_diameter : array (P,)
        Their diameters d [m]
    certificate : array (P,) or None
        Tensile strength on each wire's certificate, which overrides the table; NaN for none [Pa]

    Returns
    -------
    TensileStrength
        Outside the table's diameters the nearest row goes on and is flagged; NaN where the material has
        no row [-]

    Notes
    -----
    A least value for estimates. The fit for music wire lies above ASTM A228's own least strength, by 3 % at
    2 mm and 7 % at 6 mm; wire as sold may be about a tenth stronger than the least (both from memory). The fit
    itself is published.

    References
    ----------
    R. G. Budynas and J. K. Nisbett, Shigley's Mechanical Engineering Design, 9th ed. (2011), Eq. 10-14 and Table 10-4.

    >>> found = tensile_strength(WIRE_MATERIALS["music wire"], np.array([0.0025, 0.010]))
    >>> (found.strength / 1e6).round(0).tolist(), found.inside_limits.tolist()
    ([1940.0, 1586.0], [True, False])
    """
    read = np.full_like(wire_diameter, np.nan) if certificate is None else certificate
    certified = ~np.isnan(read)
    rows = material.strength
    if not rows:
        return TensileStrength(strength=read, inside_limits=certified, certified=certified)
    thickest = np.array([row.thickest for row in rows])
    row = np.searchsorted(thickest * (1.0 + 1e-12), wire_diameter).clip(0, len(rows) - 1)
    coefficient = np.array([each.coefficient for each in rows])[row]
    exponent = np.array([each.exponent for each in rows])[row]
    # a diameter written in other units may miss its limit by a rounding
    inside = (wire_diameter >= rows[0].thinnest * (1.0 - 1e-12)) & (wire_diameter <= thickest[-1] * (1.0 + 1e-12))
    return TensileStrength(
        strength=np.where(certified, read, coefficient / wire_diameter**exponent),
        inside_limits=np.asarray(inside | certified, dtype=np.bool_),
        certified=certified,
    )


def moduli(material: WireMaterial, wire_diameter: FloatArray) -> Moduli:
    """Elastic and shear modulus of wires, as tabulated for their diameters.

    Parameters
    ----------
    material : WireMaterial
        What the wires are made of [-]
    wire_diameter : array (P,)
        Their diameters d [m]

    Returns
    -------
    Moduli
        NaN where the diameter is [-]

    Notes
    -----
    Diameters between two printed ranges count to the thicker one. Sources differ: see
    `WireMaterial.shear_modulus_range`, and put the G used beside every load computed with it.

    References
    ----------
    R. G. Budynas and J. K. Nisbett, Shigley's Mechanical Engineering Design, 9th ed. (2011), Table 10-5.

    >>> (moduli(WIRE_MATERIALS["chrome-silicon wire"], np.array([0.004])).shear / 1e9).round(1).tolist()
    [77.2]
    """
    thickest = np.array([row.thickest for row in material.moduli])
    row = np.searchsorted(thickest * (1.0 + 1e-12), wire_diameter).clip(0, len(thickest) - 1)
    unknown = np.isnan(wire_diameter)
    elastic, shear = (
        np.where(unknown, np.nan, np.array(values)[row])
        for values in ([row.elastic for row in material.moduli], [row.shear for row in material.moduli])
    )
    return Moduli(elastic=elastic, shear=shear)
