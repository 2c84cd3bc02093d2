"""POST /v1/valve-mass: weighing as a caller sees it."""

from __future__ import annotations

import math
from copy import deepcopy
from typing import Any

import pytest
from litestar.testing import TestClient
from litestar.types import ASGIApp
from tests.api.jobs import Job

Client = TestClient[ASGIApp]
PATH = "/v1/valve-mass"


def weigh(client: Client, job: Job) -> Any:
    response = client.post(PATH, json=job)
    assert response.status_code == 200, response.text
    return response.json()


def errors(client: Client, job: Job) -> dict[str, str]:
    response = client.post(PATH, json=job)
    assert response.status_code == 422, response.text
    return {error["pointer"]: error["detail"] for error in response.json()["errors"]}


def one_valve(**masses: Any) -> Job:
    return {
        "springs": [{"id": "S1", "mass": 90.0}],
        "positions": [
            {
                "id": "1I",
                "valve": "intake",
                "spring": "S1",
                "masses": {"valve": 104.5, "retainer": 19.8, "locks": 5.1} | masses,
            }
        ],
    }


def whole_train(**train: Any) -> Job:
    return one_valve() | {"valvetrain": {"intake": {"rocker_ratio": 1.5} | train}}


def codes(answer: Any) -> list[str]:
    return [note["code"] for note in answer["notes"]]


def test_parts_beyond_the_rocker_count_by_the_square_of_its_ratio(client: Client) -> None:
    # hand arithmetic: 104.5 + 19.8 + 5.1 + 90/3 = 159.4; (45 + 90)/1.5^2 = 60; the lifter feels 219.4 * 2.25
    line = weigh(client, whole_train(pushrod_mass=45.0, lifter_mass=90.0))["positions"][0]
    by_part = line["moving_mass_by_part"]
    assert (by_part["pushrod"], by_part["lifter"], by_part["springs"]) == (20.0, 40.0, 30.0)
    assert line["moving_mass"] == pytest.approx(219.4, rel=1e-12)
    assert line["lifter_side_mass"] == pytest.approx(493.65, rel=1e-12)
    assert (line["pushrod_mass"], line["lifter_mass"]) == (45.0, 90.0)


@pytest.mark.parametrize(
    ("rocker", "grams"),
    [
        # a uniform bar of 108 g: 108 (1 - 1/1.5 + 1/2.25)/3 = 28 (own derivation: integral of u^2)
        ({"kind": "weight", "mass": 108.0}, 28.0),
        # I/x^2: 75 g in2 over 1.5 in squared
        ({"kind": "inertia", "inertia": 75.0, "valve_arm": 1.5}, 75.0 / 2.25),
        # its ends: 45 + 36/2.25
        ({"kind": "scale", "tip": 45.0, "tail": 36.0}, 61.0),
        # R g (T/2 pi)^2/x with R 30 g, x 40 mm = 1.574803 in, T 0.33 s and standard gravity
        (
            {"kind": "swing", "tip": 30.0, "valve_arm": 40.0 / 25.4, "period": 0.33},
            30.0 * 9.80665 * (0.33 / (2.0 * math.pi)) ** 2 / 0.040,
        ),
    ],
    ids=lambda value: value["kind"] if isinstance(value, dict) else "",
)
def test_a_rocker_counts_by_the_way_it_is_known(client: Client, rocker: Job, grams: float) -> None:
    line = weigh(client, whole_train(rocker=rocker))["positions"][0]
    assert line["moving_mass_by_part"]["rocker"] == pytest.approx(grams, rel=1e-9)
    assert line["moving_mass"] == pytest.approx(159.4 + grams, rel=1e-9)


def test_a_position_may_have_its_own_pushrod_lifter_and_rocker(client: Client) -> None:
    job = whole_train(pushrod_mass=45.0, lifter_mass=90.0, rocker={"kind": "scale", "tip": 45.0, "tail": 36.0})
    other = deepcopy(job["positions"][0]) | {"id": "2I"}
    other["masses"] |= {"pushrod": 54.0, "rocker": {"kind": "inertia", "inertia": 90.0, "valve_arm": 1.5}}
    job["positions"].append(other)
    first, second = (line["moving_mass_by_part"] for line in weigh(client, job)["positions"])
    # hand arithmetic: 45/2.25, 54/2.25; 45 + 36/2.25, 90/2.25
    assert (first["pushrod"], first["lifter"], first["rocker"]) == (20.0, 40.0, 61.0)
    assert (second["pushrod"], second["lifter"], second["rocker"]) == (24.0, 40.0, 40.0)


@pytest.mark.parametrize(
    "train",
    [{"pushrod_mass": 45.0}, {"lifter_mass": 90.0}, {"rocker": {"kind": "weight", "mass": 100.0}}],
    ids=["pushrod", "lifter", "rocker"],
)
def test_what_waits_for_the_rocker_ratio_is_an_open_item(client: Client, train: Job) -> None:
    answer = weigh(client, one_valve() | {"valvetrain": {"intake": train}})
    assert answer["positions"][0]["moving_mass"] is None
    assert [(item["pointer"], item["needed_for"]) for item in answer["open_items"]] == [
        ("/valvetrain/intake/rocker_ratio", ["moving_mass", "lifter_side_mass", "moving_mass_by_part"])
    ]


def test_a_rocker_known_by_its_inertia_needs_no_ratio(client: Client) -> None:
    rocker = {"kind": "inertia", "inertia": 75.0, "valve_arm": 1.5}
    line = weigh(client, one_valve() | {"valvetrain": {"intake": {"rocker": rocker}}})["positions"][0]
    assert line["moving_mass"] == pytest.approx(159.4 + 75.0 / 2.25, rel=1e-9)
    assert line["lifter_side_mass"] is None


def test_what_was_not_given_is_not_counted_and_said_so(client: Client) -> None:
    assert codes(weigh(client, one_valve())) == ["valve_side_only", "spring_heavy"]
    partly = weigh(client, whole_train(lifter_mass=90.0))
    note = next(note for note in partly["notes"] if note["code"] == "train_partly_counted")
    assert note["pointer"] == "/valvetrain/intake"
    assert "rocker, pushrod" in note["detail"]
    rocker = {"kind": "inertia", "inertia": 75.0, "valve_arm": 1.5}
    whole = whole_train(lifter_mass=90.0, pushrod_mass=45.0, rocker=rocker)
    assert codes(weigh(client, whole)) == []


def test_dead_coils_move_whole_at_the_retainer_and_not_at_all_at_the_seat(client: Client) -> None:
    # hand arithmetic: 6 coils of 15 g; one at the retainer 15 g whole, one at the seat not, four a third: 15 + 60/3
    job = one_valve()
    job["springs"][0]["dead_coils"] = {"at_retainer": 1, "at_seat": 1, "total_coils": 6}
    line = weigh(client, job)["positions"][0]
    assert line["moving_mass_by_part"]["springs"] == pytest.approx(35.0, rel=1e-12)
    assert line["spring_mass"] == 90.0


def test_the_exact_share_is_that_of_the_printed_root(client: Client) -> None:
    # x tan x = 1 has the root 0.8603 (from memory): where the spring weighs as much as the rest
    # its share is 1/x^2 - 1
    job = one_valve()
    job["springs"][0]["mass"] = 104.5 + 19.8 + 5.1
    plain = weigh(client, job)
    assert plain["positions"][0]["moving_mass"] == pytest.approx(129.4 * 4.0 / 3.0, rel=1e-9)
    assert "spring_heavy" in codes(plain)
    exact = weigh(client, job | {"spring_share": "exact"})
    assert exact["positions"][0]["moving_mass"] == pytest.approx(129.4 / 0.8603**2, rel=2e-4)
    assert "spring_heavy" not in codes(exact)


def test_a_damper_is_part_of_what_the_springs_move(client: Client) -> None:
    # the same root: springs of 129.4 + 30 g move 129.4 g and a third of a damper of 90 g
    job = one_valve()
    job["springs"][0] |= {"mass": 159.4, "damper_mass": 90.0}
    exact = weigh(client, job | {"spring_share": "exact"})
    assert exact["positions"][0]["moving_mass"] == pytest.approx(159.4 / 0.8603**2, rel=2e-4)


def test_a_light_spring_is_not_noted_as_heavy(client: Client) -> None:
    job = one_valve()
    job["springs"][0]["mass"] = 0.49 * 129.4
    assert "spring_heavy" not in codes(weigh(client, job))


def test_repeats_are_averaged_and_their_scatter_is_told(client: Client) -> None:
    # GUM 4.2 by hand on 104.5, 104.7, 104.6: mean 104.6, s = sqrt(0.02/2) = 0.1, u = 0.1/sqrt(3)
    repeats = [{"valve": 104.7}, {"valve": 104.6, "locks": 5.1}]
    line = weigh(client, one_valve(repeats=repeats))["positions"][0]
    assert line["valve_mass"] == pytest.approx(104.6, rel=1e-12)
    valve, locks = line["repeat_statistics"]
    assert (valve["weighed_part"], valve["count"]) == ("valve", 3)
    assert valve["standard_deviation"] == pytest.approx(0.1, rel=1e-9)
    assert valve["standard_uncertainty"] == pytest.approx(0.1 / math.sqrt(3.0), rel=1e-9)
    assert (locks["weighed_part"], locks["count"], locks["standard_deviation"]) == ("locks", 2, 0.0)


def test_a_repeat_stands_in_for_a_first_weighing_that_is_missing(client: Client) -> None:
    answer = weigh(client, one_valve(valve=None, repeats=[{"valve": 104.5}]))
    assert answer["positions"][0]["moving_mass"] == pytest.approx(159.4, rel=1e-12)
    assert answer["open_items"] == []


def test_everything_weighed_is_corrected_by_the_scales_known_weights(client: Client) -> None:
    # hand arithmetic: it shows 1 % and 1 g too much: m = (shown - 1)/1.01; what is not there stays away
    scale = {"calibration": [{"applied": 0, "indicated": 1.0}, {"applied": 100, "indicated": 102.0}]}
    job = whole_train(lifter_mass=91.9, rocker={"kind": "scale", "tip": 51.5, "tail": 41.4}) | {"scale": scale}
    job["springs"][0]["damper_mass"] = 11.1
    line = weigh(client, job)["positions"][0]
    assert line["valve_mass"] == pytest.approx(103.5 / 1.01, rel=1e-9)
    assert line["lifter_mass"] == pytest.approx(90.0, rel=1e-9)
    assert line["spring_mass"] == pytest.approx(89.0 / 1.01 + 10.0, rel=1e-9)
    assert line["moving_mass_by_part"]["rocker"] == pytest.approx(50.0 + 40.0 / 2.25, rel=1e-9)
    assert (line["lash_cap_mass"], line["pushrod_mass"]) == (0.0, 0.0)


def test_what_to_take_off_matches_the_lightest_of_its_kind(client: Client) -> None:
    job = one_valve()
    for name, kind, grams in (("2I", "intake", 103.9), ("1E", "exhaust", 92.2)):
        other = deepcopy(job["positions"][0]) | {"id": name, "valve": kind}
        other["masses"]["valve"] = grams
        job["positions"].append(other)
    removed = [line["to_remove"] for line in weigh(client, job)["positions"]]
    # hand arithmetic: 104.5 - 103.9; the exhaust valve is alone of its kind
    assert [line["valve"] for line in removed] == pytest.approx([0.6, 0.0, 0.0])
    assert [line["moving_mass"] for line in removed] == pytest.approx([0.6, 0.0, 0.0])
    assert [line["retainer"] for line in removed] == [0.0, 0.0, 0.0]


@pytest.mark.parametrize("part", ["valve", "pushrod"])
def test_the_odd_one_out_is_named_by_the_rule_that_the_table_of_notes_gives(client: Client, part: str) -> None:
    # NIST/SEMATECH e-Handbook (2012), 1.3.5.17, by hand: median 104.2, distances 0.1 0 0.1 0.2 4.7, MAD 0.1, 0.6745 *
    # 4.7/0.1 = 31.7
    job = one_valve()
    job["valvetrain"] = {"intake": {"rocker_ratio": 1.5}}
    job["positions"] = [deepcopy(job["positions"][0]) | {"id": f"{place}I"} for place in range(5)]
    for position, grams in zip(job["positions"], (104.1, 104.2, 104.3, 104.4, 108.9), strict=True):
        position["masses"][part] = grams
    odd = [note for note in weigh(client, job)["notes"] if note["code"] == "odd_one_out"]
    assert [note["pointer"] for note in odd] == [f"/positions/4/masses/{part}"]
    assert odd[0]["detail"] == (
        f"4I: {part} weighs 108.9 g, the other intakes about 104.3 g. Wrong {part}, or misread: check."
    )
    rows = {row["code"]: row["meaning"] for row in client.get("/v1/reference/notes").json()["rows"]}
    assert "Iglewicz and Hoaglin" in rows["odd_one_out"]


def set_of(part: str, *grams: float) -> Job:
    job = one_valve()
    job["positions"] = [deepcopy(job["positions"][0]) | {"id": f"{place}I"} for place in range(len(grams))]
    for position, value in zip(job["positions"], grams, strict=True):
        position["masses"][part] = value
    return job


@pytest.mark.parametrize(
    ("grams", "odd"),
    [
        # read to 0.1 g: two steps are what a scale shows of equal parts
        ((5.1, 5.1, 5.1, 5.1, 5.2), False),
        ((5.1, 5.1, 5.1, 5.1, 5.3), False),
        # by hand: 0.6745 * 0.6/0.1 = 4.05
        ((5.1, 5.1, 5.1, 5.1, 5.7), True),
    ],
)
def test_equal_locks_on_a_scale_of_a_tenth_of_a_gram_belong_together(
    client: Client, grams: tuple[float, ...], *, odd: bool
) -> None:
    assert ("odd_one_out" in codes(weigh(client, set_of("locks", *grams)))) == odd


def test_the_step_of_the_scale_is_the_finest_it_was_read_to_in_any_unit(client: Client) -> None:
    # the same set in kilograms: 5.1 g is 0.0051 kg, one step 0.0001 kg
    job = set_of("locks", 0.0051, 0.0051, 0.0051, 0.0051, 0.0053) | {"units": {"mass": "kg"}}
    assert "odd_one_out" not in codes(weigh(client, job))


def test_totals_count_what_was_weighed(client: Client) -> None:
    job = whole_train(pushrod_mass=45.0, lifter_mass=90.0)
    other = deepcopy(job["positions"][0]) | {"id": "2I"}
    del other["masses"]["locks"]
    job["positions"].append(other)
    totals = weigh(client, job)["mass_totals"]
    assert totals["exhaust"] is None
    assert totals["intake"] == {
        "position_count": 2, "weighed_count": 1, "valve": 209.0, "retainer": 39.6, "locks": 5.1, "lash_cap": 0.0,
        "pushrod": 90.0, "lifter": 180.0, "springs": 180.0,
    }  # fmt: skip


def test_spreads_keep_to_their_kind(client: Client) -> None:
    job = one_valve()
    for name, kind, grams in (("2I", "intake", 103.9), ("1E", "exhaust", 92.2)):
        other = deepcopy(job["positions"][0]) | {"id": name, "valve": kind}
        other["masses"]["valve"] = grams
        job["positions"].append(other)
    spreads = weigh(client, job)["spreads"]
    valves = spreads["intake"]["valve_mass"]
    assert (valves["count"], valves["smallest_at"], valves["mean"]) == (2, "2I", pytest.approx(104.2))
    assert valves["spread"] == pytest.approx(0.6)
    assert spreads["exhaust"]["spring_mass"]["count"] == 1
    assert spreads["exhaust"]["lifter_mass"]["count"] == 0


@pytest.mark.parametrize(
    ("change", "pointer", "words"),
    [
        ({"scale": {"calibration": [{"applied": 0, "indicated": 5}]}}, "/scale/calibration/0", "above zero"),
        (
            {"scale": {"calibration": [{"applied": 100, "indicated": 101}, {"applied": 99, "indicated": 102}]}},
            "/scale/calibration/1",
            "99 g shows more than 100 g",
        ),
        (
            {"springs": [{"id": "S1", "dead_coils": {"at_retainer": 2, "at_seat": 3, "total_coils": 5}}]},
            "/springs/0/dead_coils/total_coils",
            "5 dead coils leave no working coil of 5",
        ),
    ],
)
def test_statements_that_cannot_hold_are_refused(client: Client, change: Job, pointer: str, words: str) -> None:
    found = errors(client, one_valve() | change)
    assert list(found) == [pointer]
    assert words in found[pointer]


def test_a_part_that_the_scales_correction_takes_below_nothing_is_left_out_and_asked_for(client: Client) -> None:
    # by hand: 10 g off everything: 5.1 g of locks would be -4.9 g; the valve is 94.5 g
    scale = {"calibration": [{"applied": 0, "indicated": 10}, {"applied": 100, "indicated": 110}]}
    answer = weigh(client, one_valve() | {"scale": scale})
    line = answer["positions"][0]
    assert (line["locks_mass"], line["moving_mass"]) == (None, None)
    assert line["valve_mass"] == pytest.approx(94.5)
    (told,) = [note for note in answer["notes"] if note["code"] == "corrected_below_zero"]
    assert "5.1 g into -4.9 g" in told["detail"]
    (item,) = [item for item in answer["open_items"] if item["pointer"] == "/positions/0/masses/locks"]
    assert "moving_mass" in item["needed_for"]
    assert item["position"] == "1I"


def test_a_lash_cap_lighter_than_the_scale_can_tell_leaves_the_sum_open(client: Client) -> None:
    scale = {"calibration": [{"applied": 0, "indicated": 3}, {"applied": 100, "indicated": 103}]}
    answer = weigh(client, one_valve(lash_cap=1.6) | {"scale": scale})
    assert answer["positions"][0]["lash_cap_mass"] is None
    assert answer["positions"][0]["moving_mass"] is None


def test_every_mass_a_scale_leaves_nothing_of_is_named_where_it_stands(client: Client) -> None:
    scale = {"calibration": [{"applied": 0, "indicated": 6}, {"applied": 100, "indicated": 106}]}
    rocker = {"kind": "scale", "tip": 5.0, "tail": 0.0}
    job = whole_train(pushrod_mass=5.0, rocker=rocker) | {"scale": scale}
    job["positions"][0]["masses"]["repeats"] = [{"valve": 104.5, "locks": 5.2}]
    job["springs"][0]["nested"] = [{"mass": 4.0}]
    answer = weigh(client, job)
    places = {
        "/springs/0/nested/0/mass",
        "/valvetrain/intake/rocker/tip",
        "/valvetrain/intake/pushrod_mass",
        "/positions/0/masses/locks",
        "/positions/0/masses/repeats/0/locks",
    }
    assert {note["pointer"] for note in answer["notes"] if note["code"] == "corrected_below_zero"} == places
    assert places <= {item["pointer"] for item in answer["open_items"]}


def test_a_part_that_was_not_weighed_is_not_the_odd_one_out(client: Client) -> None:
    job = one_valve()
    job["valvetrain"] = {"intake": {"rocker_ratio": 1.5}}
    job["positions"] = [deepcopy(job["positions"][0]) | {"id": f"{place}I"} for place in range(5)]
    for position, grams in zip(job["positions"], (104.1, 104.2, 104.3, 104.4, None), strict=True):
        position["masses"]["pushrod"] = grams
    answer = weigh(client, job)
    assert "odd_one_out" not in codes(answer)
    partly = next(note for note in answer["notes"] if note["code"] == "train_partly_counted")
    assert partly["detail"].endswith("was not weighed: rocker, lifter; pushrod at 4I.")


@pytest.mark.parametrize(("grams", "disagree"), [(140.5, True), (105.0, False)])
def test_weighings_that_contradict_each_other_are_named(client: Client, grams: float, *, disagree: bool) -> None:
    job = one_valve()
    job["positions"][0]["masses"] |= {"valve": 104.5, "repeats": [{"valve": 104.6}, {"valve": grams}]}
    told = [note for note in weigh(client, job)["notes"] if note["code"] == "repeats_disagree"]
    assert [note["pointer"] for note in told] == ["/positions/0/masses/repeats/1/valve"] * disagree
    for note in told:
        assert "weighing 1 of the valve is 104.5 g, weighing 3 is 140.5 g" in note["detail"]


@pytest.mark.parametrize(("known", "noted"), [((100, 200), True), ((5, 100), False), ((100,), False), ((20,), True)])
def test_masses_far_outside_the_known_weights_are_noted(client: Client, known: tuple[int, ...], *, noted: bool) -> None:
    # one_valve: 5.1 g is 95 g under 100, the span of 100 to 200 once more; 104.5 g is five times 20
    job = one_valve() | {"scale": {"calibration": [{"applied": at, "indicated": at} for at in known]}}
    assert ("beyond_calibration" in codes(weigh(client, job))) == noted
