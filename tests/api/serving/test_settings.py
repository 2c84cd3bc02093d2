"""What the environment may say, and above all whose pages may ask from a browser."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
from litestar.testing import TestClient
from litestar.types import ASGIApp
from tests.api.batches import AtOnce, line
from tests.api.jobs import example

from headbench.api.app import create_app
from headbench.api.serving.settings import VARIABLES, Settings, about, settings_of
from headbench.cli import main
from headbench.errors import WrongSetting

CORS_ORIGINS = VARIABLES["cors_origins"]
SHOP = "https://shop.example"
BENCH = "http://127.0.0.1:8080"
Client = TestClient[ASGIApp]


@pytest.fixture(scope="module")
def open_to_a_shop() -> Iterator[Client]:
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv(CORS_ORIGINS, f"{SHOP}, {BENCH}")
        app: ASGIApp = create_app(AtOnce())
    with TestClient(app, raise_server_exceptions=False) as client:
        yield client


def asked_before(client: Client, path: str, origin: str, method: str = "POST") -> dict[str, str]:
    """What a browser is told that asks whether it may ask (CORS preflight)."""
    headers = {"Origin": origin, "Access-Control-Request-Method": method}
    headers |= {"Access-Control-Request-Headers": "content-type"}
    return dict(client.options(path, headers=headers).headers)


@pytest.mark.parametrize("origin", [SHOP, BENCH])
@pytest.mark.parametrize("path", ["/v1/head-assembly", "/v1/batch", "/v1/valve-mass"])
def test_a_browser_of_a_named_origin_may_ask(open_to_a_shop: Client, path: str, origin: str) -> None:
    told = asked_before(open_to_a_shop, path, origin)
    assert told["access-control-allow-origin"] == origin
    assert "POST" in told["access-control-allow-methods"]
    assert "content-type" in told["access-control-allow-headers"]
    assert "access-control-allow-credentials" not in told


@pytest.mark.parametrize(
    "origin",
    ["https://other.example", "http://shop.example", "https://shop.example:8443", f"{SHOP}.evil.example", "null"],
)
def test_no_other_origin_may_ask(open_to_a_shop: Client, origin: str) -> None:
    assert "access-control-allow-origin" not in asked_before(open_to_a_shop, "/v1/head-assembly", origin)
    answer = open_to_a_shop.post("/v1/head-assembly", json=example("head-assembly"), headers={"Origin": origin})
    assert "access-control-allow-origin" not in answer.headers


def test_answers_refusals_and_lines_may_be_read(open_to_a_shop: Client) -> None:
    headers = {"Origin": SHOP}
    lines = {"Content-Type": "application/x-ndjson"}
    answers = [
        open_to_a_shop.post("/v1/head-assembly", json=example("head-assembly"), headers=headers),
        open_to_a_shop.post("/v1/head-assembly", json={"positions": []}, headers=headers),
        open_to_a_shop.post("/v1/batch", content=line(), headers=headers | lines),
        open_to_a_shop.post("/v1/batch", content=b"", headers=headers | lines),
        open_to_a_shop.get("/nowhere", headers=headers),
    ]
    assert [one.status_code for one in answers] == [200, 400, 200, 400, 404]
    for one in answers:
        assert one.headers["access-control-allow-origin"] == SHOP
        assert "X-Request-Id" in one.headers["access-control-expose-headers"]
        assert "origin" in one.headers["vary"].lower()


@pytest.mark.parametrize("origin", [{}, {"Origin": SHOP}, {"Origin": "https://other.example"}])
def test_a_store_of_answers_keeps_them_apart_by_who_asked_and_how(
    open_to_a_shop: Client, origin: dict[str, str]
) -> None:
    headers = {"Content-Type": "application/x-ndjson", **origin}
    said = open_to_a_shop.post("/v1/batch", content=line(), headers=headers).headers.get_list("vary")
    assert {"accept-encoding", "origin"} <= {one.strip().lower() for every in said for one in every.split(",")}


def test_without_a_word_no_page_of_another_origin_may_ask(client: Client) -> None:
    assert "access-control-allow-origin" not in asked_before(client, "/v1/head-assembly", SHOP)
    answer = client.post("/v1/head-assembly", json=example("head-assembly"), headers={"Origin": SHOP})
    assert not [name for name in answer.headers if name.startswith("access-control")]


@pytest.mark.parametrize("said", ["", "  "])
def test_nothing_said_is_no_origin(said: str) -> None:
    assert settings_of({CORS_ORIGINS: said}).cors_origins == ()


@pytest.mark.parametrize(
    "wrong",
    [
        "*", "null", "shop.example", "https://shop.example/", "https://shop.example/page", "ftp://shop.example",
        "https://Shop.example", "https://*.shop.example", "https://shop.example:443", "http://shop.example:80",
        "https://shop.example:99999", "https://user@shop.example", "https://shop.example https://other.example",
        "https://a.example,", "https://",
    ],
)  # fmt: skip
def test_what_no_browser_sends_is_no_origin(wrong: str) -> None:
    with pytest.raises(WrongSetting, match="is no origin as a browser sends it"):
        settings_of({CORS_ORIGINS: wrong})


def test_the_service_does_not_start_with_a_wrong_origin(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv(CORS_ORIGINS, "shop.example")
    assert main(["serve", "--port", "1"]) == 2
    told = capsys.readouterr().err
    assert told.startswith('HEADBENCH_CORS_ORIGINS: "shop.example" is no origin as a browser sends it; write scheme, ')
    assert told.endswith("https://shop.example,http://127.0.0.1:8080\n")
    assert told.count("\n") == 1
    command = [sys.executable, "-c", "from headbench.api.app import create_app; create_app()"]
    started = subprocess.run(command, env=os.environ, capture_output=True, text=True, check=False)  # noqa: S603 - our own
    assert started.returncode != 0
    assert "HEADBENCH_CORS_ORIGINS" in started.stderr


def test_what_the_environment_says_is_taken() -> None:
    said = {
        "HEADBENCH_HOST": "192.0.2.1",
        "HEADBENCH_PORT": "8400",
        "HEADBENCH_WORKERS": "2",
        "HEADBENCH_LOG_LEVEL": "ERROR",
    }
    assert settings_of(said | {"HEADBENCH_GRACE_SECONDS": "2.5"}) == Settings(
        host="192.0.2.1",
        port=8400,
        workers=2,
        log_level="error",
        grace_seconds=2.5,
    )


@pytest.mark.parametrize(
    ("name", "wrong", "told"),
    [
        ("HOST", "my shop", "no name or address of a machine"),
        ("PORT", "65536", "no whole number from 0 to 65,535"),
        ("PORT", "-1", "no whole number from 0 to 65,535"),
        ("WORKERS", "0", "no whole number from 1 to 64"),
        ("WORKERS", "two", "no whole number from 1 to 64"),
        ("GRACE_SECONDS", "nan", "no number of seconds from 0 to 3,600"),
        ("IDLE_SECONDS", "0", "no number of seconds from 0.05 to 3,600"),
        ("LOG_LEVEL", "loud", "none of debug, info, warning, error"),
    ],
)
def test_what_cannot_be_followed_is_told_with_its_name(name: str, wrong: str, told: str) -> None:
    with pytest.raises(WrongSetting) as refused:
        settings_of({f"HEADBENCH_{name}": wrong})
    assert str(refused.value).startswith(f'HEADBENCH_{name}: "{wrong}" is {told}')


def test_the_readme_lists_every_setting_with_what_it_is_where_nothing_is_said() -> None:
    readme = (Path(__file__).parents[3] / "README.md").read_text()
    rows = dict(re.findall(r"^\| `(HEADBENCH_\w+)` \| ([^|]*) \| [^|]+ \|$", readme, re.MULTILINE))
    assert list(rows) == [one.variable for _, one in about()]
    for name, one in about():
        default = getattr(Settings(), name)
        assert rows[one.variable] == (f"{default:g}" if isinstance(default, float) else f"{default or 'none'}")
