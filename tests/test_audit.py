"""The audit of what is pinned: it tells what is known, and never takes silence for good news."""

from __future__ import annotations

import json
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path

import pytest
from tests.audit import main
from tests.conftest import free_port

ROOT = Path(__file__).parent.parent
HASH = "0" * 64
# as https://google.github.io/osv.dev/post-v1-query answers
ADVISORY = {
    "id": "OSV-2026-1",
    "summary": "Reads one byte too many.",
    "details": "Reads one byte too many.",
    "aliases": [],
    "published": "2026-01-02T00:00:00Z",
    "affected": [
        {
            "package": {"name": "anyio", "ecosystem": "PyPI"},
            "ranges": [{"type": "ECOSYSTEM", "events": [{"introduced": "0"}, {"fixed": "9.9.9"}]}],
        }
    ],
}


@pytest.fixture
def lock(tmp_path: Path) -> Path:
    path = tmp_path / "some.lock"
    path.write_text("".join(f"{one} --hash=sha256:{HASH}\n" for one in ("anyio==4.16.0", "msgspec==0.22.0")))
    return path


@contextmanager
def database(known_of: str) -> Iterator[str]:
    """A database that has one advisory, of one package."""

    class Answering(BaseHTTPRequestHandler):
        def do_POST(self) -> None:
            asked = json.loads(self.rfile.read(int(self.headers["Content-Length"])))
            told = json.dumps({"vulns": [ADVISORY]} if asked["package"]["name"] == known_of else {}).encode()
            self.send_response(200)
            self.send_header("Content-Type", "application/json")
            self.send_header("Content-Length", str(len(told)))
            self.end_headers()
            self.wfile.write(told)

        def log_message(self, *_: object) -> None:
            """Say nothing."""

    with ThreadingHTTPServer(("127.0.0.1", 0), Answering) as server:
        threading.Thread(target=server.serve_forever, daemon=True).start()
        yield f"http://127.0.0.1:{server.server_port}/v1/query"
        server.shutdown()


@pytest.mark.parametrize(("known_of", "status"), [("anyio", 1), ("nothing that is pinned", 0)])
def test_what_is_known_is_told(lock: Path, capsys: pytest.CaptureFixture[str], known_of: str, status: int) -> None:
    with database(known_of) as address:
        assert main([str(lock), "--database", address]) == status
    said = capsys.readouterr().out
    assert f"{status} advisories known of 2 pinned packages" in said
    assert ("anyio 4.16.0: OSV-2026-1, mended in 9.9.9. Reads one byte too many." in said) == bool(status)


def test_where_no_database_is_reached_that_is_told_loudly(capsys: pytest.CaptureFixture[str]) -> None:
    address = f"http://127.0.0.1:{free_port()}/v1/query"
    # with the lock that ships, so that it is known to be one that can be asked of
    assert main([str(ROOT / "requirements.lock"), "--database", address]) == 3
    said = capsys.readouterr()
    assert said.err.startswith(f"NOBODY LOOKED FOR ADVISORIES: the advisory database at {address} gave no answer")
    assert said.out == ""
