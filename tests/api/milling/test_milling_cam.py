"""POST /v1/milling: an overhead cam over a head that dropped, beside hand arithmetic."""

from __future__ import annotations

from math import cos, degrees, radians, sin

import pytest
from tests.api.jobs import Job
from tests.api.milling_jobs import Client, ask, details, flat


def test_an_overhead_cam_runs_later_and_its_chain_is_slack(client: Client) -> None:
    # 1 mm over 50 mm is 0.02 rad of cam, twice that of crank; both runs 1 mm shorter
    answer = ask(client, flat(1.0, cam_drive={"pitch_radius": 50.0}))
    drive = answer["cam_drive"]
    assert drive["sprocket_turn"] == pytest.approx(degrees(0.02), abs=1e-9)
    assert drive["cam_retard"] == pytest.approx(degrees(0.04), abs=1e-9)
    assert drive["advance_needed"] == pytest.approx(degrees(0.04), abs=1e-9)
    assert drive["chain_slack"] == 2.0
    answer = ask(client, flat(1.0, cam_drive={}))
    assert [item["pointer"] for item in answer["open_items"]] == ["/cam_drive/pitch_radius"]
    assert answer["cam_drive"]["chain_slack"] == 2.0


@pytest.mark.parametrize(
    ("work", "told"),
    [
        # a late cam is advanced, an early one retarded: to "set a cam back" is to retard it, whichever way it runs
        (
            {"cut": {"kind": "flat", "depth": 1.0}},
            "Milling retards the cam 2.29 crank deg; advance it 2.29 crank deg, then check",
        ),
        (
            {"cut": {"kind": "flat", "depth": 0.0}, "gasket_thickness_change": 1.0},
            "The new gasket advances the cam 2.29 crank deg; retard it 2.29 crank deg, then check",
        ),
        (
            {"cut": {"kind": "flat", "depth": 0.5}, "gasket_thickness_change": 1.5},
            "Milling and the new gasket advance the cam 2.29 crank deg; retard it 2.29 crank deg, then check",
        ),
    ],
)
def test_a_cam_that_runs_late_is_to_be_advanced_and_one_that_runs_early_retarded(
    client: Client, work: Job, told: str
) -> None:
    answer = ask(client, flat(0.0, cam_drive={"pitch_radius": 50.0}) | work)
    note = details(answer)["cam_timing_moved"]
    assert note.startswith(told)
    assert "set" not in note
    assert answer["cam_drive"]["advance_needed"] == answer["cam_drive"]["cam_retard"]


def test_an_angle_cut_leans_the_head_under_its_cam(client: Client) -> None:
    """By hand: 1 mm of drop over 50 mm is 0.02 rad; the head leans 0.005 rad toward the side the cam turns to.

    The chain holds the cam while its followers run ahead by the lean: 0.025 rad of cam, 0.05 rad of crank; turning
    the other way the lean takes as much off.
    """
    cut = {"kind": "tilt", "at": {"distance_across": 80.0, "depth": 1.0}, "tilt": degrees(0.005)}
    job: Job = {"units": {"length": "mm"}, "cut": cut}
    drive = {"pitch_radius": 50.0, "distance_across": 80.0, "turns_toward": "intake"}
    assert ask(client, job | {"cam_drive": drive})["cam_drive"]["cam_retard"] == pytest.approx(degrees(0.05), abs=1e-6)
    drive["turns_toward"] = "exhaust"
    assert ask(client, job | {"cam_drive": drive})["cam_drive"]["cam_retard"] == pytest.approx(degrees(0.03), abs=1e-6)
    # a chain that leans takes part in the sideways shift of the cam: 120 mm x 0.005 x sin 10 deg longer
    drive |= {"chain_angle": 10.0, "cam_height": 120.0}
    shorter = cos(radians(10.0)) - 120.0 * 0.005 * sin(radians(10.0))
    answer = ask(client, job | {"cam_drive": drive})
    assert answer["cam_drive"]["chain_slack"] == pytest.approx(2.0 * shorter, abs=1e-5)
    assert answer["cam_drive"]["cam_retard"] == pytest.approx(degrees(2.0 * (shorter / 50.0 - 0.005)), abs=1e-5)
    for missing in ("turns_toward", "cam_height", "distance_across", "pitch_radius"):
        known = {name: value for name, value in drive.items() if name != missing}
        answer = ask(client, job | {"cam_drive": known})
        assert [item["pointer"] for item in answer["open_items"]] == [f"/cam_drive/{missing}"]
        assert answer["cam_drive"]["cam_retard"] is None


def test_a_clearance_is_not_good_at_a_timing_the_cam_no_longer_has(client: Client) -> None:
    clearance = {"crown": "flat", "valve_angle": 0, "read": {"kind": "clay", "thinnest_clay": 5.0}}
    job = flat(
        1.0,
        positions=[{"id": "1", "valve": "intake", "piston_to_valve": clearance}],
        cam_drive={"pitch_radius": 50.0},
    )
    # 5 mm less 1 mm is above the 2.032 mm of an intake valve, were the cam not late by 1/50 of a radian
    answer = ask(client, job)
    assert (answer["piston_to_valve"]["verdict"], answer["verdict"]) == ("not_measured", "not_measured")
    assert [item["pointer"] for item in answer["open_items"]] == ["/positions/0/piston_to_valve/read"]
    assert ask(client, job | {"cam_drive": {"pitch_radius": 50.0, "retimed": True}})["verdict"] == "accept"
    # a sprocket nobody measured promises nothing either, but a head that stays leaves the cam alone
    assert ask(client, job | {"cam_drive": {}})["verdict"] == "not_measured"
    answer = ask(client, job | {"cam_drive": {}, "gasket_thickness_change": 1.0})
    assert (answer["verdict"], answer["cam_drive"]["cam_retard"], answer["open_items"]) == ("accept", 0.0, [])
    # and 5 mm less 4 mm is too near at any timing
    assert ask(client, job | {"cut": {"kind": "flat", "depth": 4.0}})["verdict"] == "reject"
