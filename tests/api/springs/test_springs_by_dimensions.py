"""POST /v1/spring-load: springs known by their dimensions, as a caller sees them."""

from __future__ import annotations

import math

import pytest
from tests.api.jobs import Job
from tests.api.spring_jobs import Client, answer, coils, errors, line


def test_the_textbook_spring_of_music_wire(client: Client) -> None:
    # Shigley's Mechanical Engineering Design, 9th ed. (2011), Example 10-1 (from memory): k 4.13 lbf/in, solid 0.4995
    # in, S_ut 324 kpsi, S_sy 0.45 of it, load at yield 6.46 lbf, critical free height 2.10 in
    found = line(client, coils(shear_modulus=11850), units={"stress": "ksi"}, heights=[1.5])
    one = found["dimensioned_springs"][0]
    assert found["loads_at_heights"][0]["rate"] == pytest.approx(4.13, abs=0.005)
    assert one["coil_bind_height"] == pytest.approx(0.4995, abs=1e-9)
    assert one["tensile_strength"] == pytest.approx(324.0, abs=0.5)
    assert one["torsional_yield_strength"] == pytest.approx(0.45 * 324.0, abs=0.3)
    assert one["yield_factor_at_coil_bind"] == pytest.approx(6.46 / (4.13 * (2.06 - 0.4995)), abs=0.003)
    # the book rounds pi sqrt(2 (E - G)/(2 G + E)) to 2.63 for all steels; its own equation 10-12 with the
    # tabulated E 29.0 and G 11.85 Mpsi gives 2.535, so 2.535 * 0.400/0.5
    assert one["stable_free_height"] == pytest.approx(2.10 * 2.535 / 2.63, abs=0.01)
    # longer than that when free (2.06), so it buckles on the way: equation 10-10 by hand, C1 = 29/(2*17.15) =
    # 0.8455, (2.0276/2.06)^2 = 0.9688: 2.06 * 0.8455 (1 - sqrt(0.0312)) = 1.434 of deflection
    assert one["buckling_height"] == pytest.approx(2.06 - 1.434, abs=0.003)


def test_the_textbook_spring_under_a_moving_load(client: Client) -> None:
    # Shigley's Mechanical Engineering Design, 9th ed. (2011), Example 10-4 (from memory): music wire 0.092 in, OD 9/16
    # in, 21 active coils squared ends, free 4 3/8 in, F_a 15 lbf about F_m 20 lbf, unpeened: K_B 1.287, tau_a 29.7
    # kpsi, tau_m 39.6 kpsi, Gerber 1.21
    diameter, rate = 0.4705, 11.75e6 * 0.092**4 / (8 * 0.4705**3 * 21)
    curve = coils(
        wire={"kind": "round", "diameter": 0.092},
        shape={"kind": "cylinder", "mean_diameter": diameter},
        total_coils=23,
        free_height=4.375,
        shear_modulus=11.75e6,
    )
    working = {"installed_height": 4.375 - 5.0 / rate, "valve_lift": 30.0 / rate}
    one = line(client, curve, working_heights=working)["dimensioned_springs"][0]
    assert one["stress_amplitude"] / 1e3 == pytest.approx(29.7, abs=0.1)
    assert one["stress_mean"] / 1e3 == pytest.approx(39.6, abs=0.1)
    assert one["fatigue_factor_gerber"] == pytest.approx(1.21, abs=0.01)


def test_nested_springs_of_unequal_free_height_share_a_load(client: Client) -> None:
    # Bhandari, Design of Machine Elements, 3rd ed. (2010; edition from memory), Example 10.19: 1000 N on d 6, D 36 mm,
    # 10 coils and d 5, D 30 mm, 8 coils, 15 mm shorter when free: 706.021471 N and 293.978529 N, 24.988839 mm of the
    # outer one (G 81370 MPa)
    metric = {"length": "mm", "force": "N", "stress": "MPa"}

    def cylinder(wire: float, diameter: float, active: float, free: float) -> Job:
        return coils(
            wire={"kind": "round", "diameter": wire},
            shape={"kind": "cylinder", "mean_diameter": diameter},
            ends="squared_and_ground",
            active_coils=active,
            total_coils=active + 2,
            free_height=free,
            shear_modulus=81370,
        )

    nested = [{"load_curve": cylinder(5, 30, 8, 125)}]
    found = line(
        client, cylinder(6, 36, 10, 140), spring={"nested": nested}, units=metric, loads=[1000], heights=[115.011161]
    )
    assert found["heights_at_loads"][0]["height"] == pytest.approx(140 - 24.988839, abs=1e-6)
    assert found["loads_at_heights"][0]["load"] == pytest.approx(1000.0, abs=1e-4)


def test_progressive_pitch_has_its_knee_where_the_close_coils_touch(client: Client) -> None:
    # hand arithmetic: 3 coils at pitch 6 and 3 at 8 mm of 4 mm wire, D 30, G 80000: a coil yields 8 D^3/(G d^4) =
    # 0.010546875 mm/N; the close ones touch at 2/0.010546875 = 189.6296 N, when all six have yielded 12 mm of the
    # 3*6 + 3*8 + 3*4 = 54 mm; after that three coils are left
    shape = {
        "kind": "progressive",
        "mean_diameter": 30,
        "stretches": [{"coils": 3, "pitch": 6}, {"coils": 3, "pitch": 8}],
    }
    curve = coils(
        wire={"kind": "round", "diameter": 4}, shape=shape, total_coils=8, free_height=None, shear_modulus=80000
    )
    metric = {"length": "mm", "force": "N", "stress": "MPa"}
    found = line(client, curve, units=metric, heights=[50, 40])
    one = found["dimensioned_springs"][0]
    assert one["free_height"] == pytest.approx(54.0)
    assert one["coil_closings"][0] == {"height": pytest.approx(42.0), "load": pytest.approx(189.62963, abs=1e-5)}
    assert [point["rate"] for point in found["loads_at_heights"]] == pytest.approx(
        [1 / (6 * 0.010546875), 1 / (3 * 0.010546875)]
    )


def test_a_progressive_spring_surges_with_its_open_coils_alone(client: Client) -> None:
    # hand arithmetic on the same spring pressed to 40 mm: three coils are closed, the other three are a cylinder with
    # k = 1/(3*0.010546875) N/mm and m = 7850 pi/4 0.004^2 pi 0.030 3 kg: 1/2 sqrt(k/m) (Shigley, 9th ed. (2011), Eq.
    # 10-25)
    shape = {
        "kind": "progressive",
        "mean_diameter": 30,
        "stretches": [{"coils": 3, "pitch": 6}, {"coils": 3, "pitch": 8}],
    }
    curve = coils(
        wire={"kind": "round", "diameter": 4}, shape=shape, total_coils=8, free_height=None, shear_modulus=80000
    )
    metric = {"length": "mm", "force": "N", "stress": "MPa"}
    found = line(client, curve, units=metric, working_heights={"installed_height": 40, "valve_lift": 2})[
        "dimensioned_springs"
    ][0]
    rate, mass = 1e3 / (3 * 0.010546875), 7850 * math.pi / 4 * 0.004**2 * math.pi * 0.030 * 3
    assert found["surge_frequency"] == pytest.approx(0.5 * math.sqrt(rate / mass), rel=1e-6)


@pytest.mark.parametrize("factor", ["bergstraesser", "wahl"])
def test_ovate_wire_is_stressed_as_elasticity_has_it(client: Client, factor: str) -> None:
    # own derivation: wire 4.5 mm across by 3.6 mm along the axis on 28 mm, ring sector in torsion by its displacements
    # (tests/calc/test_curved_wire.py): 1.287 MPa per N; the factors are for round wire
    curve = coils(
        wire={"kind": "ovate", "radial": 4.5, "axial": 3.6},
        shape={"kind": "cylinder", "mean_diameter": 28},
        total_coils=6,
        free_height=50,
        shear_modulus=79500,
    )
    metric = {"length": "mm", "force": "N", "stress": "MPa"}
    working = {"installed_height": 45, "valve_lift": 5}
    found = line(client, curve, units=metric, heights=[45], working_heights=working, stress_factor=factor)
    assert found["dimensioned_springs"][0]["stress_at_seat"] / found["loads_at_heights"][0]["load"] == pytest.approx(
        1.287, abs=5e-4
    )


def test_the_drawn_curve_runs_from_free_to_solid_and_marks_its_places(client: Client) -> None:
    found = line(client, coils(), working_heights={"installed_height": 1.5, "valve_lift": 0.4}, curve_points=11)[
        "curve"
    ]
    assert len(found["heights"]) == len(found["loads"]) == len(found["rates"]) == 11
    assert found["heights"][0] == pytest.approx(2.06)
    assert found["heights"][-1] == pytest.approx(0.4995)
    assert [mark["name"] for mark in found["marks"]] == ["seat", "open", "coil_bind"]
    assert [mark["height"] for mark in found["marks"]] == pytest.approx([1.5, 1.1, 0.4995])
    assert found["loads"] == sorted(found["loads"])


@pytest.mark.parametrize("field", ["free_height", "total_coils"])
def test_a_dimension_not_taken_leaves_the_load_open(client: Client, field: str) -> None:
    job = {"springs": [{"id": "S1", "load_curve": coils(**{field: None})}], "heights": [1.5]}
    found = answer(client, job)
    assert found["springs"][0]["loads_at_heights"][0]["load"] is None
    assert f"/springs/0/load_curve/{field}" in {item["pointer"] for item in found["open_items"]}


def test_without_a_material_there_is_load_but_no_strength(client: Client) -> None:
    found = answer(client, {"springs": [{"id": "S1", "load_curve": coils(material=None)}], "heights": [1.5]})
    assert found["springs"][0]["loads_at_heights"][0]["load"] > 0
    one = found["springs"][0]["dimensioned_springs"][0]
    assert (one["tensile_strength"], one["total_mass"], one["surge_frequency"]) == (None, None, None)
    assert "/springs/0/load_curve/material" in {item["pointer"] for item in found["open_items"]}


def test_a_table_used_outside_its_diameters_is_noted_and_computed(client: Client) -> None:
    curve = coils(
        wire={"kind": "round", "diameter": 0.3}, shape={"kind": "cylinder", "mean_diameter": 2.0}, free_height=9
    )
    found = answer(client, {"springs": [{"id": "S1", "load_curve": curve}]})
    assert "outside_table" in {note["code"] for note in found["notes"]}
    assert found["springs"][0]["dimensioned_springs"][0]["tensile_strength"] > 0


@pytest.mark.parametrize(
    ("changes", "pointer"),
    [
        ({"wire": {"kind": "round", "diameter": 0.45}, "free_height": 9}, "/load_curve/shape"),
        ({"free_height": 0.45}, "/load_curve/free_height"),
        ({"active_coils": 13}, "/load_curve/active_coils"),
        ({"telescoping": True}, "/load_curve/telescoping"),
        ({"certificate_tensile_strength": 324}, "/load_curve/certificate_tensile_strength"),
        ({"total_coils": 2}, "/load_curve/total_coils"),
    ],
)
def test_dimensions_that_cannot_be_true_are_refused(client: Client, changes: Job, pointer: str) -> None:
    assert set(errors(client, coils(**changes))) == {pointer}


@pytest.mark.parametrize(
    ("shape", "changes", "pointer"),
    [
        ({"kind": "table", "points": [{"turn": 0, "mean_diameter": 0.4, "pitch": 0.2},
                                      {"turn": 5, "mean_diameter": 0.4, "pitch": 0.2},
                                      {"turn": 4, "mean_diameter": 0.4, "pitch": 0.2}]},
         {"free_height": None}, "/load_curve/shape/points/1/turn"),
        ({"kind": "table", "points": [{"turn": 1, "mean_diameter": 0.4, "pitch": 0.2},
                                      {"turn": 4, "mean_diameter": 0.4, "pitch": 0.2}]},
         {"free_height": None}, "/load_curve/shape/points/0/turn"),
        ({"kind": "progressive", "mean_diameter": 0.4, "stretches": [{"coils": 4, "pitch": 0.2}]},
         {}, "/load_curve/free_height"),
        ({"kind": "beehive", "mean_diameter": 0.4, "small_mean_diameter": 0.3, "tapered_coils": 30},
         {}, "/load_curve/shape/tapered_coils"),
    ],
)  # fmt: skip
def test_shapes_that_cannot_be_true_are_refused(client: Client, shape: Job, changes: Job, pointer: str) -> None:
    assert pointer in errors(client, coils(shape=shape, **changes))
