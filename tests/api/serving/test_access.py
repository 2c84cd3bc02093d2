"""Who may ask, and how often: keys, limits, and whose word counts on where a request comes from."""

from __future__ import annotations

import hashlib
import hmac
import re
from base64 import b64encode
from collections.abc import Callable, Iterator
from typing import Any

import msgspec
import pytest
from httpx import Response
from litestar.testing import TestClient
from litestar.types import ASGIApp
from tests.api.batches import AtOnce, line
from tests.api.jobs import example

from headbench.api.app import create_app
from headbench.api.serving import access, keys
from headbench.api.serving.settings import VARIABLES, settings_of
from headbench.cli import main
from headbench.errors import WrongSetting

Client = TestClient[ASGIApp]
Serve = Callable[..., Client]

OLD, NEW = "a-key-of-last-year", "a-key-of-this-year"
CONNECTED_FROM = "X-Test-Connected-From"
"""Where a test says from which address its connection comes; the service never sees it."""

LINES = {"Content-Type": "application/x-ndjson"}
OPEN = (
    "/health/live", "/health/ready", "/version", "/docs", "/assets/docs.js", "/openapi.json", "/bench",
    "/bench/main.js", "/bench/worker.js", "/bench/one-valve",
)  # fmt: skip


def hashed(key: str) -> str:
    """As whoever runs the service makes it, with the tools of the machine."""
    return f"sha256:{hashlib.sha256(key.encode()).hexdigest()}"


def with_key(key: str) -> dict[str, str]:
    return {"Authorization": f"Bearer {key}"}


def as_password(name: str, key: str) -> dict[str, str]:
    return {"Authorization": f"Basic {b64encode(f'{name}:{key}'.encode()).decode()}"}


def serving(**said: str) -> Client:
    """A service with these settings."""
    with pytest.MonkeyPatch.context() as patch:
        for name, value in said.items():
            patch.setenv(VARIABLES[name], value)
        app: ASGIApp = create_app(AtOnce())

    async def connected(scope: Any, receive: Any, send: Any) -> None:
        sent = dict(scope.get("headers", ()))
        if address := sent.get(CONNECTED_FROM.lower().encode()):
            scope["client"] = (address.decode(), 50_000)
        await app(scope, receive, send)

    return TestClient(connected, raise_server_exceptions=False)


@pytest.fixture(scope="module")
def locked() -> Iterator[Client]:
    """A service that asks for a key, and takes the old and the new one while callers change over."""
    with serving(api_keys=f"{hashed(OLD)}, {hashed(NEW)}") as client:
        yield client


def is_problem(answer: Response, status: int, code: str) -> bool:
    told = answer.json()
    return (
        answer.headers["content-type"] == "application/problem+json"
        and (answer.status_code, told["status"], told["type"]) == (status, status, f"urn:headbench:problem:{code}")
        and answer.headers["cache-control"] == "no-store"
    )


@pytest.mark.parametrize("sent", [with_key(OLD), with_key(NEW), as_password("bench", NEW), as_password("", OLD)])
def test_whoever_has_one_of_the_keys_is_answered(locked: Client, sent: dict[str, str]) -> None:
    answer = locked.post("/v1/milling", json=example("milling"), headers=sent)
    assert answer.status_code == 200
    assert "www-authenticate" not in answer.headers


@pytest.mark.parametrize(
    "sent",
    [
        {}, with_key("another"), with_key(""), with_key(hashed(NEW)), with_key(NEW[:-1]), with_key(NEW.upper()),
        {"Authorization": NEW}, {"Authorization": f"Digest {NEW}"}, {"Authorization": "Bearer"},
        {"Authorization": "Basic ???"}, {"Authorization": "Basic /w=="}, as_password(NEW, ""),
        with_key("x" * 5000), {"X-API-Key": NEW}, {"Cookie": f"key={NEW}"},
    ],
    ids=str,
)  # fmt: skip
def test_nobody_else_is(locked: Client, sent: dict[str, str]) -> None:
    answers = [
        locked.post("/v1/milling", json=example("milling"), headers=sent),
        locked.post("/v1/batch", content=line(), headers=LINES | sent),
        locked.get("/v1/reference/limits", headers=sent),
        locked.get("/metrics", headers=sent),
    ]
    for answer in answers:
        assert is_problem(answer, 401, "unauthorized")
        # RFC 9110, 11.6.1: a 401 says how to do better; RFC 6750, 3: in this scheme
        assert answer.headers["www-authenticate"].startswith('Bearer realm="headbench"')
        assert NEW not in answer.text


def test_a_key_in_the_address_opens_nothing(locked: Client) -> None:
    # RFC 6750, 5.3: addresses are kept in logs and histories
    assert locked.get("/v1/reference/limits", params={"access_token": NEW, "key": NEW}).status_code == 401


def test_a_wrong_key_is_told_as_one_and_none_is_asked_for(locked: Client) -> None:
    none, wrong = (locked.get("/v1/reference/limits", headers=sent) for sent in ({}, with_key("another")))
    # RFC 6750, 3.1
    assert "error" not in none.headers["www-authenticate"]
    assert 'error="invalid_token"' in wrong.headers["www-authenticate"]
    assert "asks for a key" in none.json()["detail"]
    assert "none that the service knows" in wrong.json()["detail"]


@pytest.mark.parametrize("path", OPEN)
def test_what_is_the_same_for_everybody_stays_open(locked: Client, path: str) -> None:
    assert locked.get(path).status_code == 200


def test_everything_else_is_closed_whatever_it_is(locked: Client) -> None:
    app: Any = create_app(AtOnce())
    while not hasattr(app, "routes"):
        app = app._app  # noqa: SLF001 - wrapped around it
    files = {"/bench/{name:path}": "/bench/main.js", "/assets/{name:str}": "/assets/docs.js"}
    found = set()
    for route in app.routes:
        for method in set(route.methods) - {"OPTIONS"}:
            path = files.get(route.path, route.path)
            if locked.request(method, path).status_code != 401:
                found.add(path)
    assert found == set(OPEN) - {"/bench/worker.js"}


def test_a_browser_without_scripts_is_asked_for_the_key_as_a_password(locked: Client) -> None:
    browser = {"Accept": "text/html,application/xhtml+xml,*/*;q=0.8"}
    form = {"id": "1I", "valve": "intake"}
    refused = locked.post("/v1/valve-check", data=form, headers=browser)
    assert refused.status_code == 401
    # RFC 7617, 2
    assert refused.headers["www-authenticate"] == 'Basic realm="headbench", charset="UTF-8"'
    assert "Basic" not in locked.post("/v1/valve-check", json=form).headers["www-authenticate"]
    answer = locked.post("/v1/valve-check", data=form, headers=browser | as_password("bench", NEW))
    assert answer.status_code == 200
    assert "<h1>One valve</h1>" in answer.text


def test_every_hash_is_compared_in_constant_time_whichever_it_is(monkeypatch: pytest.MonkeyPatch) -> None:
    compared: list[str] = []
    digest = hmac.compare_digest

    def compare(one: str, other: str) -> bool:
        compared.append(one)
        return digest(one, other)

    known = [hashed(OLD), hashed(NEW)]
    monkeypatch.setattr(hmac, "compare_digest", compare)
    for key, found in ((OLD, known[0]), (NEW, known[1]), ("another", None)):
        compared.clear()
        assert keys.known_hash(key, known) == found
        assert compared == known


def test_a_body_is_not_read_before_the_key_is_seen(locked: Client) -> None:
    def body() -> Iterator[bytes]:
        yield b'{"positions": ['
        raise AssertionError("it was read")

    assert locked.post("/v1/milling", content=body(), headers={"Content-Type": "application/json"}).status_code == 401


def test_a_page_of_another_origin_may_send_a_key() -> None:
    with serving(api_keys=hashed(NEW), cors_origins="https://shop.example") as client:
        before = {
            "Origin": "https://shop.example",
            "Access-Control-Request-Method": "POST",
            "Access-Control-Request-Headers": "authorization,content-type",
        }
        asked = client.options("/v1/milling", headers=before)
        assert asked.status_code == 204
        assert "authorization" in asked.headers["access-control-allow-headers"]
        refused = client.post("/v1/milling", json={}, headers={"Origin": "https://shop.example"})
        assert refused.status_code == 401
        assert refused.headers["access-control-allow-origin"] == "https://shop.example"
        assert "WWW-Authenticate" in refused.headers["access-control-expose-headers"]


def test_the_command_makes_a_key_and_the_hash_that_lets_it_in(capsys: pytest.CaptureFixture[str]) -> None:
    made = set()
    for _ in range(2):
        assert main(["key"]) == 0
        key, found = re.findall(r": +(\S+)$", capsys.readouterr().out, re.MULTILINE)
        assert found == hashed(key)
        assert settings_of({"HEADBENCH_API_KEYS": found}).api_keys == (found,)
        # 256 bits, 6 a letter
        assert len(key) >= 256 / 6
        made.add(key)
    assert len(made) == 2


@pytest.mark.parametrize("wrong", [NEW, "sha256:abc", hashed(NEW)[7:], hashed(NEW).upper(), f"{hashed(NEW)},"])
def test_what_is_no_hash_is_refused_and_not_repeated(wrong: str) -> None:
    with pytest.raises(WrongSetting) as refused:
        settings_of({"HEADBENCH_API_KEYS": wrong})
    assert "headbench key" in str(refused.value)
    assert wrong not in str(refused.value)


# --- how often -----------------------------------------------------------------------------------------------------


class Clock:
    """A clock that a test winds itself."""

    now = 1000.0


@pytest.fixture
def clock(monkeypatch: pytest.MonkeyPatch) -> type[Clock]:
    monkeypatch.setattr("throttled.utils.now_mono_f", lambda: Clock.now)
    return Clock


def read_left(answer: Response) -> tuple[int, int]:
    """What an answer says is left, and the seconds until all of it is."""
    # draft-ietf-httpapi-ratelimit-headers: a list of strings with parameters (RFC 9651)
    found = re.fullmatch(r'"[a-z]+";r=([0-9]+);t=([0-9]+)', answer.headers["ratelimit"])
    assert found is not None
    return int(found[1]), int(found[2])


def test_who_asks_too_often_is_told_when_to_come_back(clock: type[Clock]) -> None:
    with serving(rate_limit="3/minute") as client:
        answers = [client.get("/v1/reference/notes") for _ in range(4)]
        assert [one.status_code for one in answers] == [200, 200, 200, 429]
        assert [read_left(one)[0] for one in answers] == [2, 1, 0, 0]
        assert {one.headers["ratelimit-policy"] for one in answers} == {'"requests";q=3;w=60'}
        refused = answers[-1]
        assert is_problem(refused, 429, "too-many-requests")
        # three in sixty seconds, so one more every twenty
        assert refused.headers["retry-after"] == "20"
        assert "come back in 20 s" in refused.json()["detail"]
        clock.now += 19.0
        assert client.get("/v1/reference/notes").headers["retry-after"] == "1"
        clock.now += 1.5
        assert client.get("/v1/reference/notes").status_code == 200
        assert client.get("/v1/reference/notes").status_code == 429
        # after the whole time all of it is there again, and no more
        clock.now += 120.0
        assert [client.get("/v1/reference/notes").status_code for _ in range(4)] == [200, 200, 200, 429]


def test_every_calculation_and_a_batch_count_and_what_is_open_does_not() -> None:
    with serving(rate_limit="2/hour") as client:
        for path in OPEN * 2:
            answer = client.get(path)
            assert answer.status_code == 200
            assert "ratelimit" not in answer.headers
        assert client.post("/v1/batch", content=line(), headers=LINES).headers["ratelimit"].startswith('"requests";r=1')
        refused = client.post("/v1/milling", json={"x": 1})
        assert (refused.status_code, read_left(refused)[0]) == (400, 0)
        assert client.post("/v1/milling", json=example("milling")).status_code == 429
        assert client.get("/health/ready").status_code == 200


def test_each_key_has_a_limit_of_its_own_and_those_without_one_that_of_their_address() -> None:
    with serving(rate_limit="2/hour", api_keys=f"{hashed(OLD)},{hashed(NEW)}") as client:
        for key in (OLD, NEW):
            statuses = [client.get("/v1/reference/notes", headers=with_key(key)).status_code for _ in range(3)]
            assert statuses == [200, 200, 429]
        # who tries keys is held up, whichever he tries
        guesses = [client.get("/v1/reference/notes", headers=with_key(f"guess {n}")).status_code for n in range(4)]
        assert guesses == [401, 401, 429, 429]


def test_without_a_word_there_is_no_limit_and_nothing_is_said_of_one(client: Client) -> None:
    answer = client.get("/v1/reference/notes", headers=with_key("any"))
    assert answer.status_code == 200
    assert not {"ratelimit", "ratelimit-policy", "www-authenticate"} & set(answer.headers)


def test_callers_that_are_counted_are_bounded(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(access, "MOST_CALLERS", 3)
    limit = settings_of({"HEADBENCH_RATE_LIMIT": "1/hour"}).rate_limit
    counts = access.Access((), limit)._limit  # noqa: SLF001 - what it holds shows nowhere else
    assert counts is not None
    for caller in range(100):
        counts.counted(str(caller), lambda _: None)  # type: ignore[arg-type, return-value] # nothing is sent
    store: Any = counts._counts._store  # noqa: SLF001 - likewise
    assert len(store._backend.get_client()) == 3  # noqa: SLF001 - likewise
    assert len(store._backend.expire_info) == 3  # noqa: SLF001 - likewise


@pytest.mark.parametrize(
    "wrong", ["600", "0/minute", "-1/minute", "600/day", "many/minute", "6/minute,7/hour", "1e3/hour"]
)
def test_what_is_no_rate_is_refused(wrong: str) -> None:
    with pytest.raises(WrongSetting, match="write 20/second, 600/minute or 5000/hour"):
        settings_of({"HEADBENCH_RATE_LIMIT": wrong})


# --- from where ----------------------------------------------------------------------------------------------------


def from_address(client: Client, address: str, forwarded: str | None = None) -> Response:
    """An answer to whoever connects from an address, with what a proxy adds."""
    said = {"X-Forwarded-For": forwarded} if forwarded else {}
    return client.get("/v1/reference/notes", headers={CONNECTED_FROM: address} | said)


def test_nobody_makes_himself_another_by_a_header() -> None:
    with serving(rate_limit="1/hour") as client:
        statuses = [from_address(client, "192.0.2.1", f"198.51.100.{n}").status_code for n in range(3)]
        assert statuses == [200, 429, 429]


def test_a_trusted_proxy_is_asked_for_the_last_address_that_it_saw_itself() -> None:
    with serving(rate_limit="1/hour", trusted_proxies="192.0.2.1, 203.0.113.0/24") as client:
        # what stands further left was said by the caller himself
        assert from_address(client, "192.0.2.1", "198.51.100.1").status_code == 200
        assert from_address(client, "192.0.2.1", "198.51.100.9, 198.51.100.1").status_code == 429
        assert from_address(client, "203.0.113.5", "198.51.100.2").status_code == 200
        assert from_address(client, "192.0.2.1", "198.51.100.2, 203.0.113.5").status_code == 429
        # who comes past the proxies has no word
        assert from_address(client, "192.0.2.9", "198.51.100.3").status_code == 200
        assert from_address(client, "192.0.2.9", "198.51.100.4").status_code == 429


def test_one_site_of_ipv6_is_one_caller() -> None:
    with serving(rate_limit="1/hour") as client:
        assert from_address(client, "2001:db8:1:2::1").status_code == 200
        assert from_address(client, "2001:db8:1:2:ffff::9").status_code == 429
        assert from_address(client, "2001:db8:1:3::1").status_code == 200
        assert from_address(client, "::ffff:192.0.2.7").status_code == 200
        assert from_address(client, "192.0.2.7").status_code == 429


@pytest.mark.parametrize("wrong", ["proxy.shop.example", "*", "192.0.2.300", "192.0.2.1/24", "192.0.2.1,"])
def test_what_is_no_proxy_is_refused(wrong: str) -> None:
    with pytest.raises(WrongSetting, match="is no address and no network"):
        settings_of({"HEADBENCH_TRUSTED_PROXIES": wrong})


@pytest.mark.parametrize("refusal", [access.no_key(is_wrong=False, is_page=False), access.too_often(1, "")], ids=str)
def test_the_schema_shows_what_is_told(client: Client, refusal: Any) -> None:
    document = client.get("/openapi.json").json()
    name = {401: "KeyNeeded", 429: "TooOften"}[refusal.status]
    content = document["components"]["responses"][name]["content"]["application/problem+json"]
    assert [one["value"]["detail"] for one in content["examples"].values()] == [refusal.detail]
    # every calculation, the batch and the tables of reference
    guarded = [path for path in document["paths"] if path.startswith("/v1/")]
    assert msgspec.json.encode(document).count(f'"#/components/responses/{name}"'.encode()) == len(guarded)
