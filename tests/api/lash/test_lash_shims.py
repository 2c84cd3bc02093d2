"""POST /v1/lash-shims: which shim goes to which valve, the moves in order, and what to buy."""

from __future__ import annotations

from copy import deepcopy
from random import Random
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from litestar.testing import TestClient
from litestar.types import ASGIApp
from tests.api.jobs import Job

Client = TestClient[ASGIApp]
PATH = "/v1/lash-shims"
INTAKE = {"lash_minimum": 0.15, "lash_maximum": 0.25}
EXHAUST = {"lash_minimum": 0.25, "lash_maximum": 0.35}


def valve(name: str, shim: float | None, lash: float | None, kind: str = "intake") -> Job:
    return {"id": name, "valve": kind, "shim": shim, "lash": lash}


def job(*positions: Job, **others: Any) -> Job:
    targets = {"intake": INTAKE, "exhaust": EXHAUST}
    return {"units": {"length": "mm"}, "targets": targets, "positions": list(positions)} | others


def ask(client: Client, request: Job) -> Any:
    response = client.post(PATH, json=request)
    assert response.status_code == 200, response.text
    return response.json()


def noted(answer: Any, code: str) -> list[str]:
    return [note["detail"] for note in answer["notes"] if note["code"] == code]


def held(answer: Any) -> dict[str, list[str]]:
    return {item["pointer"]: item["needed_for"] for item in answer["open_items"]}


def test_its_limits_stand_in_the_tables_with_what_they_rest_on(client: Client) -> None:
    rows = {row["name"]: row for row in client.get("/v1/reference/limits").json()["rows"]}
    # 0.05 mm is 0.001969 in
    assert rows["lash_shim_step"]["values"] == [pytest.approx(0.05 / 25.4, abs=1e-6)]
    assert rows["lash_aim_share"]["values"] == [0.5, 0.7]
    assert "own derivation" in rows["lash_aim_share"]["basis"]
    assert rows["usual_lash"]["basis"] == rows["usual_lash_shim"]["basis"] == "from memory"


def test_the_shim_wanted_and_the_nearest_that_is_sold(client: Client) -> None:
    (line,) = ask(client, job(valve("1I", 2.60, 0.28)))["positions"]
    # by hand: 2.60 + 0.28 - 0.20 = 2.68; 2.70 gives 0.18
    assert line["shim_wanted"] == pytest.approx(2.68)
    assert (line["shim_dealt"], line["supply"]) == (pytest.approx(2.70), "bought")
    assert line["lash_after"] == pytest.approx(0.18)
    assert (line["in_range_as_read"], line["verdict"]) == (False, "accept")
    answer = ask(client, job(valve("1I", 2.60, 0.28), shims_sold={"step": 0.025}))
    assert answer["positions"][0]["shim_dealt"] == pytest.approx(2.675)
    assert answer["to_buy"] == [{"thickness": pytest.approx(2.675), "count": 1, "positions": ["1I"]}]
    assert noted(answer, "shims_to_buy") == ["Buy 1 x 2.675 mm for 1I."]


def test_exhausts_are_aimed_toward_the_wide_end_unless_told_otherwise(client: Client) -> None:
    answer = ask(client, job(valve("1E", 2.60, 0.50, "exhaust")))
    # 0.25 + 0.7 x 0.10
    assert answer["positions"][0]["lash_aim"] == pytest.approx(0.32)
    assert noted(answer, "exhaust_wide")[0].startswith("Exhaust lashes are aimed at 0.32 mm, toward the wide end")
    own = ask(client, job(valve("1E", 2.60, 0.50, "exhaust"), targets={"exhaust": EXHAUST | {"lash_aim": 0.28}}))
    assert own["positions"][0]["shim_wanted"] == pytest.approx(2.82)
    assert noted(own, "exhaust_wide") == []


def test_a_finger_multiplies_by_its_ratio(client: Client) -> None:
    (line,) = ask(client, job(valve("1I", 2.60, 0.28), targets={"intake": INTAKE | {"shim_ratio": 1.5}}))["positions"]
    # 2.60 + 1.5 x 0.08 = 2.72; 2.70 leaves 0.28 - 0.10 / 1.5
    assert line["shim_wanted"] == pytest.approx(2.72)
    assert line["lash_after"] == pytest.approx(0.28 - 0.10 / 1.5)


def test_shims_change_places_and_the_moves_say_which_is_laid_aside(client: Client) -> None:
    answer = ask(client, job(valve("1I", 2.60, 0.30), valve("2I", 2.70, 0.10)))
    assert answer["to_buy"] == answer["left_over"] == []
    moves = [(one["position"], one["take_out"], one["put_in"], one["from_position"]) for one in answer["moves"]]
    assert moves == [("1I", 2.6, None, None), ("2I", 2.7, 2.6, "1I"), ("1I", None, 2.7, "2I")]
    assert "read every lash again" in noted(answer, "lash_read_again")[0]
    assert "turn the cam twice" in noted(answer, "lash_read_again")[0]


def test_what_must_be_bought_first_comes_last(client: Client) -> None:
    stock = [{"thickness": 2.70, "count": 1}]
    # one of the three takes the 2.70; what is bought is for another
    answer = ask(client, job(valve("1I", 3.10, 0.30), valve("2I", 2.60, 0.30), stock=stock))
    assert [(one["position"], one["supply"]) for one in answer["moves"]] == [("2I", "drawer"), ("1I", "bought")]
    assert answer["left_over"] == [
        {"thickness": pytest.approx(2.60), "count": 1},
        {"thickness": pytest.approx(3.10), "count": 1},
    ]


def test_a_lash_of_zero_is_asked_for_and_never_a_number(client: Client) -> None:
    stock = [{"thickness": 2.30, "count": 1}, {"thickness": 2.65, "count": 0}]
    answer = ask(client, job(valve("1I", 2.80, 0.0), valve("2I", 2.60, 0.20), stock=stock))
    line = answer["positions"][0]
    assert line["shim_wanted"] is line["shim_dealt"] is line["lash_after"] is line["supply"] is None
    assert line["in_range_as_read"] is False
    assert (line["lash_minimum_check"]["verdict"], line["verdict"]) == ("not_measured", "not_measured")
    assert "shim_wanted" in held(answer)["/positions/0/lash"]
    (detail,) = noted(answer, "no_lash")
    assert "Do not run it" in detail
    assert "Fit 2.30 mm, the thinnest that is left, and read again." in detail
    assert noted(answer, "positions_not_dealt")[0].startswith("1I: left as it is")
    bare = ask(client, job(valve("1I", 2.80, 0.0)))
    assert "Fit a thin one and read again." in noted(bare, "no_lash")[0]


def test_one_thin_shim_for_several_valves_without_lash_goes_from_one_to_the_next(client: Client) -> None:
    none = [valve("1I", 2.60, 0), valve("2I", 2.70, 0), valve("3I", 2.20, 0)]
    stock = [{"thickness": 2.30, "count": 1}]
    told = noted(ask(client, job(*none, stock=stock)), "no_lash")
    # the third has a thinner one than that already
    for detail in told[:2]:
        assert detail.endswith("Fit 2.30 mm, the thinnest that is left, at 1I and 2I one after another and read each.")
    assert told[2].endswith("Fit a thin one and read again.")
    for stock, positions in (([{"thickness": 2.30, "count": 2}], none), ([{"thickness": 2.30, "count": 1}], none[:1])):
        told = noted(ask(client, job(*positions, stock=stock)), "no_lash")
        assert told[0].endswith("Fit 2.30 mm, the thinnest that is left, and read again.")


def test_what_is_not_read_is_asked_for(client: Client) -> None:
    answer = ask(
        client,
        job(
            valve("1I", None, 0.20),
            valve("2I", 2.60, None),
            valve("1E", 2.6, 0.3, "exhaust"),
            targets={"intake": INTAKE},
        ),
    )
    assert set(held(answer)) == {"/targets/exhaust", "/positions/0/shim", "/positions/1/lash"}
    assert [line["verdict"] for line in answer["positions"]] == ["not_measured"] * 3
    assert answer["positions"][2]["lash_minimum_check"] is None
    assert answer["moves"] == []


def test_a_lash_no_shim_brings_in_is_told_and_too_tight_is_rejected(client: Client) -> None:
    sold = {"thinnest": 2.0, "thickest": 2.5}
    wide = ask(client, job(valve("1I", 2.50, 0.60), shims_sold=sold))
    assert (wide["verdict"], wide["positions"][0]["supply"]) == ("borderline", "stays")
    assert noted(wide, "lash_out_of_range") == [
        (
            "1I: lash 0.60 mm at best, 0.35 mm too wide: it wants a shim of 2.90 mm: have one ground, or see whether "
            "another size is sold."
        )
    ]
    tight = ask(client, job(valve("1I", 2.00, 0.05), shims_sold=sold))
    assert tight["verdict"] == "reject"
    assert tight["positions"][0]["lash_minimum_check"]["check_class"] == "damage"
    assert "0.10 mm too tight. Do not run it" in noted(tight, "lash_out_of_range")[0]
    # by hand: 0.65 + 0.03 - 0.875 is below 0
    far = {"intake": {"lash_minimum": 0.80, "lash_maximum": 0.95}}
    none = ask(client, job(valve("1I", 0.65, 0.03), shims_sold=sold, targets=far))
    assert "no shim is thin enough" in noted(none, "lash_out_of_range")[0]


def test_readings_that_are_odd_are_told(client: Client) -> None:
    answer = ask(client, job(valve("1I", 6.5, 0.28), valve("2I", 2.60, 0.9)))
    assert [detail[:3] for detail in noted(answer, "lash_unusual")] == ["1I:", "2I:"]
    assert noted(ask(client, job(valve("1I", 2.60, 0.28))), "lash_unusual") == []


@pytest.mark.parametrize(
    ("field", "slip", "told"),
    [
        ("lash", 2.8, "measure the lash again; 2.80 mm can't be right, a decimal point may have slipped."),
        ("shim", 26.0, "measure the shim again; 26.00 mm can't be right, a decimal point may have slipped."),
        ("shim", 0.26, "measure the shim again; 0.26 mm can't be right, a decimal point may have slipped."),
    ],
)
def test_a_slipped_reading_deals_and_buys_nothing_and_is_asked_for_again(
    client: Client, field: str, slip: float, told: str
) -> None:
    answer = ask(client, job(valve("1I", 2.60, 0.28) | {field: slip}, valve("2I", 2.60, 0.20)))
    line = answer["positions"][0]
    assert line[field] == pytest.approx(slip)
    assert line["shim_wanted"] is line["shim_dealt"] is line["lash_after"] is line["supply"] is None
    assert (line["verdict"], answer["verdict"], answer["to_buy"]) == ("not_measured", "not_measured", [])
    (item,) = answer["open_items"]
    assert item["pointer"] == f"/positions/0/{field}"
    assert item["detail"].startswith(f"1I: {told}")
    assert noted(answer, "lash_unusual") == noted(answer, "lash_out_of_range") == []
    assert line["in_range_as_read"] is (None if field == "lash" else False)


def test_a_slipped_shim_is_dealt_to_nobody_else(client: Client) -> None:
    # a drawer shim of 0.265, 2.65 without the slip, is the thinnest by far and in nobody's valve
    stock = [{"thickness": 0.265, "count": 1}]
    sold = {"thinnest": 3.0, "thickest": 3.3}
    tight, none = valve("1I", 2.60, 0.05), valve("2I", 2.60, 0.0)
    answer = ask(client, job(tight, none, stock=stock, shims_sold=sold))
    assert (answer["positions"][0]["supply"], answer["verdict"]) == ("stays", "reject")
    assert "0.265" not in " ".join(noted(answer, "no_lash"))
    assert held(answer)["/stock/0/thickness"]


@pytest.mark.parametrize(
    ("low", "high", "ends"),
    [(1.5, 2.5, ["minimum", "maximum"]), (0.015, 0.25, ["minimum"]), (0.15, 2.5, ["maximum"])],
)
def test_a_slipped_range_judges_nothing_and_is_asked_for_again(
    client: Client, low: float, high: float, ends: list[str]
) -> None:
    target = {"lash_minimum": low, "lash_maximum": high}
    answer = ask(client, job(valve("1I", 2.60, 0.28), targets={"intake": target}))
    assert (answer["positions"][0]["supply"], answer["verdict"]) == (None, "not_measured")
    assert list(held(answer)) == [f"/targets/intake/lash_{end}" for end in ends]
    assert all("can't be right" in item["detail"] for item in answer["open_items"])


@pytest.mark.parametrize("ratio", [0.1, 0.15, 10.0])
def test_a_slipped_shim_ratio_deals_nothing_and_is_asked_for_again(client: Client, ratio: float) -> None:
    # by hand: with 10 for 1 a shim of 2.60 + 10 x 0.08 = 3.40 would be bought, and hold the valve open by 0.52
    answer = ask(client, job(valve("1I", 2.60, 0.28), targets={"intake": INTAKE | {"shim_ratio": ratio}}))
    assert (answer["positions"][0]["supply"], answer["verdict"], answer["to_buy"]) == (None, "not_measured", [])
    (item,) = answer["open_items"]
    assert item["pointer"] == "/targets/intake/shim_ratio"
    assert item["detail"] == (
        f"Check the shim ratio of the intake valves and enter it again; {ratio:g} can't be right, a decimal point may "
        "have slipped."
    )


def test_less_than_a_feeler_reads_is_no_lash(client: Client) -> None:
    answer = ask(client, job(valve("1I", 2.60, 0.001)))
    line = answer["positions"][0]
    assert (line["lash"], line["supply"], line["verdict"]) == (pytest.approx(0.001), None, "not_measured")
    assert (line["in_range_as_read"], answer["to_buy"]) == (False, [])
    assert answer["open_items"][0]["detail"] == (
        "1I: 0.001 mm is less than any feeler reads: read the lash again. If none goes in, fit a thin shim, read again "
        "and enter both."
    )
    (detail,) = noted(answer, "no_lash")
    assert detail.startswith("1I: as good as no lash, so its shim is too thick, nobody knows by how much. Do not run")


@pytest.mark.parametrize(
    ("request_", "pointers"),
    [
        (job(valve("1I", 2.6, 0.2), valve("1I", 2.6, 0.2)), ["/positions/1/id"]),
        (job(valve("1I", 2.6, 0.2), targets={"intake": INTAKE | {"lash_maximum": 0.1}}),
         ["/targets/intake/lash_maximum"]),
        (job(valve("1I", 2.6, 0.2), targets={"intake": INTAKE | {"lash_aim": 0.26}}), ["/targets/intake/lash_aim"]),
        (job(valve("1I", 2.6, 0.2), stock=[{"thickness": 2.6, "count": 1}] * 2), ["/stock/1/thickness"]),
        (job(valve("1I", 2.6, 0.2), shims_sold={"thinnest": 3.0, "thickest": 2.0}), ["/shims_sold/thickest"]),
    ],
)  # fmt: skip
def test_what_contradicts_itself_is_refused_at_its_place(client: Client, request_: Job, pointers: list[str]) -> None:
    response = client.post(PATH, json=request_)
    assert response.status_code == 422, response.text
    assert [error["pointer"] for error in response.json()["errors"]] == pointers


def test_the_ends_of_a_range_are_in_it(client: Client) -> None:
    same = {"lash_minimum": 0.2, "lash_maximum": 0.2}
    answer = ask(client, job(valve("1I", 2.60, 0.30), valve("2I", 2.6, 0.2), targets={"intake": same}))
    assert [line["verdict"] for line in answer["positions"]] == ["accept", "accept"]
    assert answer["positions"][1]["in_range_as_read"] is True
    assert answer["positions"][0]["lash_after"] == pytest.approx(0.2)


def test_thousandths_of_an_inch_are_dealt_like_millimeters(client: Client) -> None:
    # 0.004 to 0.006 in, aimed at 0.005: 0.1000 + 0.008 - 0.005 = 0.103 in = 2.6162 mm, of 0.05 mm steps 2.60
    target = {"lash_minimum": 0.004, "lash_maximum": 0.006}
    request = job(valve("1I", 0.1000, 0.008), targets={"intake": target}) | {"units": {"length": "in"}}
    (line,) = ask(client, request)["positions"]
    assert line["shim_dealt"] == pytest.approx(2.60 / 25.4)
    assert line["lash_after"] == pytest.approx(0.008 + 0.1 - 2.60 / 25.4)


lashes = st.none() | st.integers(0, 45).map(lambda at: at / 100)
shims = st.none() | st.integers(0, 12).map(lambda at: round(2.4 + 0.05 * at, 2))


@st.composite
def lash_jobs(draw: st.DrawFn) -> Job:
    kinds = st.sampled_from(["intake", "exhaust"])
    positions = [valve(str(place), draw(shims), draw(lashes), draw(kinds)) for place in range(draw(st.integers(1, 8)))]
    sizes = draw(st.lists(st.integers(0, 12), unique=True, max_size=4))
    stock = [{"thickness": round(2.4 + 0.05 * at, 2), "count": draw(st.integers(0, 2))} for at in sizes]
    return job(*positions, stock=stock)


@given(shim=st.integers(100, 600), lash=st.integers(10, 29), factor=st.sampled_from([0.1, 10.0]), data=st.data())
def test_a_decimal_point_a_place_off_is_as_good_as_not_read(
    client: Client, shim: int, lash: int, factor: float, data: st.DataObject
) -> None:
    # every shim usually seen, 1 to 6 mm, and lashes of 0.10 to 0.29 mm: a place off there is no such shim and no feeler
    one = valve("1I", shim / 100, lash / 100)
    field = data.draw(st.sampled_from(["shim", "lash"]))
    others = [valve("2I", 2.60, 0.30), valve("3I", 2.70, 0.20)]
    slipped = ask(client, job(one | {field: factor * one[field]}, *others))
    unread = ask(client, job(one | {field: None}, *others))
    assert slipped["positions"][0]["verdict"] == "not_measured"
    assert held(slipped).keys() == held(unread).keys()
    assert slipped["positions"][1:] == unread["positions"][1:]
    for name in ("verdict", "moves", "to_buy", "left_over"):
        assert slipped[name] == unread[name]


@given(request_=lash_jobs(), data=st.data())
def test_a_reading_left_out_betters_no_verdict_of_its_own(client: Client, request_: Job, data: st.DataObject) -> None:
    less = deepcopy(request_)
    place = data.draw(st.integers(0, len(less["positions"]) - 1))
    less["positions"][place][data.draw(st.sampled_from(["shim", "lash"]))] = None
    answer = ask(client, less)
    assert answer["positions"][place]["verdict"] == "not_measured"
    assert answer["verdict"] in {"not_measured", "reject"}
    assert answer["open_items"]


@given(request_=lash_jobs())
def test_what_is_not_accepted_is_asked_for_or_told_what_to_do(client: Client, request_: Job) -> None:
    answer = ask(client, request_)
    asked = {item["position"] for item in answer["open_items"]}
    told = " ".join(noted(answer, "lash_out_of_range"))
    for line in answer["positions"]:
        if line["verdict"] == "not_measured":
            assert line["id"] in asked
        elif line["verdict"] != "accept":
            assert f"{line['id']}: lash" in told
    bought = sum(one["count"] for one in answer["to_buy"])
    assert bought == sum(line["supply"] == "bought" for line in answer["positions"])


@given(request_=lash_jobs())
def test_moves_carried_out_leave_nothing_to_move(client: Client, request_: Job) -> None:
    answer = ask(client, request_)
    done = deepcopy(request_)
    for position, line in zip(done["positions"], answer["positions"], strict=True):
        if line["supply"] is not None:
            position["shim"], position["lash"] = line["shim_dealt"], line["lash_after"]
    done["stock"] = answer["left_over"]
    after = ask(client, done)
    assert after["to_buy"] == []
    assert [line["lash_after"] for line in after["positions"]] == [
        pytest.approx(line["lash_after"]) if line["lash_after"] is not None else None for line in answer["positions"]
    ]


@given(request_=lash_jobs(), order=st.randoms(use_true_random=False))
def test_the_order_of_positions_changes_no_line_and_no_move(client: Client, request_: Job, order: Random) -> None:
    mixed = deepcopy(request_)
    order.shuffle(mixed["positions"])
    straight, other = ask(client, request_), ask(client, mixed)
    assert {line["id"]: line for line in straight["positions"]} == {line["id"]: line for line in other["positions"]}
    for name in ("verdict", "moves", "left_over"):
        assert straight[name] == other[name]
    assert [(one["thickness"], one["count"]) for one in straight["to_buy"]] == [
        (one["thickness"], one["count"]) for one in other["to_buy"]
    ]
