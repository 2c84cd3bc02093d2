"""Reference tables: the default limits against what was published, and the notes."""

from __future__ import annotations

from litestar.testing import TestClient
from litestar.types import ASGIApp

# Trade press, except where marked: common practice and from memory, no source
PUBLISHED = {
    "installed_height": (0.005, "in", "from memory"),
    "coil_bind_clearance": (0.060, "in", "common practice"),
    "retainer_to_seal_clearance": (0.050, "in", "published"),
    "retainer_to_rocker": (0.050, "in", "published"),
    "seal_to_spring": (0.050, "in", "published"),
    "seat_load_percent": (5.0, "percent", "published"),
    "open_load_percent": (5.0, "percent", "published"),
    "load_loss_percent": (10.0, "percent", "published"),
    "piston_to_intake_valve": (0.080, "in", "published"),
    "piston_to_exhaust_valve": (0.100, "in", "published"),
    "float_reserve_percent": (10.0, "percent", "common practice"),
    "surge_ratio": (13.0, "ratio", "common practice"),
    "max_stack": (0.060, "in", "published"),
    "least_preload": (0.020, "in", "published"),
    "most_preload": (0.060, "in", "published"),
    "stock_step": (0.050, "in", "from memory"),
    "gauge_step": (0.001, "in", "common practice"),
    "misalignment_step": (0.010, "in", "common practice"),
}


def test_every_default_limit_is_the_published_one_and_says_what_it_rests_on(client: TestClient[ASGIApp]) -> None:
    rows = {row["name"]: row for row in client.get("/v1/reference/limits").json()["rows"]}
    assert rows.keys() == PUBLISHED.keys()
    for name, (value, unit, standing) in PUBLISHED.items():
        assert (rows[name]["value"], rows[name]["unit"]) == (value, unit)
        assert rows[name]["standing"].startswith(standing)


def test_every_note_has_a_code_and_a_meaning(client: TestClient[ASGIApp]) -> None:
    rows = client.get("/v1/reference/notes").json()["rows"]
    assert all(row["code"].isidentifier() and row["meaning"].endswith(".") for row in rows)


def test_every_wire_has_its_published_strength_and_a_source(client: TestClient[ASGIApp]) -> None:
    rows = {row["material"]: row for row in client.get("/v1/reference/wire-materials").json()["rows"]}
    # Shigley's Mechanical Engineering Design, Table 10-4, metric columns (from memory): A MPa mm^m, m
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
    assert all(row["source"] and row["moduli_standing"] for row in rows.values())
    # the two ends of what sources give for chrome-silicon: 77.2 to 81.5 GPa
    silicon = rows["chrome_silicon_wire"]
    assert (silicon["least_shear_modulus"], silicon["greatest_shear_modulus"]) == (77.2, 81.5)
