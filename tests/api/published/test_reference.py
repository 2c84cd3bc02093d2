"""Reference tables: the default limits against what was published, and the notes."""

from __future__ import annotations

import pytest
from litestar.testing import TestClient
from litestar.types import ASGIApp

# The trade's own numbers: common practice and from memory, no source to cite
DAMAGE, SETTING = "damage", "setting"
KNOWN = {
    "installed_height_tolerance": (0.010, "in", SETTING, "from memory"),
    "coil_bind_clearance_minimum": (0.060, "in", DAMAGE, "common practice"),
    "retainer_to_seal_clearance_minimum": (0.050, "in", DAMAGE, "from memory"),
    "retainer_to_rocker_minimum": (0.050, "in", DAMAGE, "from memory"),
    "seal_to_spring_minimum": (0.050, "in", DAMAGE, "from memory"),
    "seat_load_tolerance": (5.0, "percent", SETTING, "from memory"),
    "open_load_tolerance": (5.0, "percent", SETTING, "from memory"),
    "load_loss_maximum": (10.0, "percent", SETTING, "from memory"),
    "piston_to_intake_valve_minimum": (0.080, "in", DAMAGE, "from memory"),
    "piston_to_exhaust_valve_minimum": (0.100, "in", DAMAGE, "from memory"),
    "float_reserve_minimum": (10.0, "percent", DAMAGE, "common practice"),
    "stack_maximum": (0.060, "in", None, "from memory"),
    "shim_count_maximum": (3, "count", None, "common practice"),
    "preload_minimum": (0.020, "in", SETTING, "from memory"),
    "preload_maximum": (0.060, "in", SETTING, "from memory"),
    "stock_step": (0.050, "in", None, "from memory"),
    "gauge_step": (0.001, "in", None, "common practice"),
    "misalignment_step": (0.010, "in", None, "common practice"),
}


def test_every_default_limit_says_what_a_miss_means_and_what_it_rests_on(client: TestClient[ASGIApp]) -> None:
    rows = {row["name"]: row for row in client.get("/v1/reference/limits").json()["rows"]}
    for name, (value, unit, check_class, basis) in KNOWN.items():
        assert (rows[name]["values"], rows[name]["unit"], rows[name]["check_class"]) == ([value], unit, check_class)
        assert rows[name]["basis"].startswith(basis)
    assert all(row["meaning"] for row in rows.values())


def test_a_basis_begins_with_what_it_is(client: TestClient[ASGIApp]) -> None:
    rows = client.get("/v1/reference/limits").json()["rows"]
    bases = {row["name"]: row["basis"] for row in rows}
    for wire in client.get("/v1/reference/wire-materials").json()["rows"]:
        bases |= {f"{wire['material']} {name}": wire[name] for name in wire if name.endswith("_basis")}
    kinds = ("published", "common practice, no source", "from memory", "own derivation", "JCGM 106:2012")
    assert {name: basis for name, basis in bases.items() if not basis.startswith(kinds)} == {}


def test_what_decides_without_being_a_limit_is_listed_too(client: TestClient[ASGIApp]) -> None:
    rows = {row["name"]: row for row in client.get("/v1/reference/limits").json()["rows"]}
    # 1.65 standard uncertainties: 95 % one-sided of a normal distribution, ISO 14253-1:2017 (from memory);
    # 3.5: NIST/SEMATECH e-Handbook (2012), 1.3.5.17
    assert (rows["guard_band"]["values"], rows["outlier"]["values"]) == ([1.65], [3.5])
    assert rows["usual_shims"]["values"] == [0.015, 0.03, 0.06]
    assert rows["usual_measured_height"]["values"] == [0.8, 3.5]
    # 0.050 in and 1 mm; surge is told against 6 to 10, and no limit is taken for it
    assert rows["checking_lifts"]["values"] == [0.05, pytest.approx(1 / 25.4, abs=1e-6)]
    assert (rows["usual_surge_ratio"]["values"], rows["usual_surge_ratio"]["basis"]) == ([6.0, 10.0], "from memory")
    assert "surge_ratio_minimum" not in rows


def test_every_note_has_a_code_and_a_meaning(client: TestClient[ASGIApp]) -> None:
    rows = client.get("/v1/reference/notes").json()["rows"]
    assert all(row["code"].isidentifier() and row["meaning"].endswith(".") for row in rows)


@pytest.mark.parametrize(("table", "key"), [("limits", "name"), ("notes", "code")])
def test_what_the_house_or_a_topic_has_is_listed_once(client: TestClient[ASGIApp], table: str, key: str) -> None:
    names = [row[key] for row in client.get(f"/v1/reference/{table}").json()["rows"]]
    assert {"stem_height_spread_maximum", "stem_heights_unequal"} & set(names)
    assert len(set(names)) == len(names)


def test_every_wire_has_its_published_strength_and_a_source(client: TestClient[ASGIApp]) -> None:
    rows = {row["material"]: row for row in client.get("/v1/reference/wire-materials").json()["rows"]}
    # Shigley's Mechanical Engineering Design, 9th ed. (2011), Table 10-4, metric columns (from memory): A MPa mm^m, m
    published = {
        "music_wire": (2211.0, 0.145),
        "oil_tempered_wire": (1855.0, 0.187),
        "hard_drawn_wire": (1783.0, 0.190),
        "chrome_vanadium_wire": (2005.0, 0.168),
        "chrome_silicon_wire": (1974.0, 0.108),
    }
    for material, (coefficient, exponent) in published.items():
        strength = rows[material]["strength"][0]
        assert abs(strength["coefficient"] - coefficient) < 0.005 * coefficient
        assert strength["exponent"] == exponent
    assert all(row["source"] and row["moduli_basis"] for row in rows.values())
    # the two ends of what sources give for chrome-silicon: 77.2 to 81.5 GPa
    silicon = rows["chrome_silicon_wire"]
    assert (silicon["shear_modulus_minimum"], silicon["shear_modulus_maximum"]) == (77.2, 81.5)
