"""What the tests of bulk runs work with: files of jobs, the command as a person types it, and a service that fails."""

from __future__ import annotations

import json
import threading
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from typing import Any

from headbench import __version__
from headbench.api.app import RESOURCES
from headbench.api.batch.jobs import Answering
from headbench.api.batch.lines import Lines

ANSWERING = Answering(RESOURCES)


def job(number: int, mass: float = 104.5) -> bytes:
    """A job that is answered at once."""
    position = {"id": "1I", "valve": "intake", "masses": {"valve": mass}}
    return json.dumps({"kind": "valve-mass", "id": f"J-{number}", "request": {"positions": [position]}}).encode()


def head(number: int, bore: float, minimum: float) -> bytes:
    """A head of one valve: coil bind at 1.110 in, open at 1.250 in less what the spring space lacks of 1.750 in."""
    request = {
        "limits": {"coil_bind_clearance_minimum": minimum},
        "shims": {"thicknesses": [0.5]},
        "height_corrections": {"intake": {"deduction": 0.0}},
        "valvetrain": {"intake": {"valve_lift": 0.5}},
        "targets": {"intake": {"installed_height": 1.75}},
        "springs": [{"id": "S1", "coil_bind_height": 1.11}],
        "positions": [{"id": "1I", "valve": "intake", "measured_height": bore, "spring": "S1"}],
    }
    return json.dumps({"kind": "head-assembly", "id": f"KW-{number}", "request": request}).encode()


def written(path: Path, lines: Sequence[bytes], end: bytes = b"\n") -> Path:
    """A file of lines."""
    path.write_bytes(b"\n".join(lines) + end)
    return path


def answers(path: Path) -> list[Any]:
    """What a file of results says."""
    return [json.loads(line) for line in path.read_bytes().splitlines()]


def told(path: Path) -> list[tuple[int, str | None, int]]:
    """Number, id and status of each."""
    return [(one["line"], one["id"], one["status"]) for one in answers(path)]


Refuse = Callable[[int], tuple[int, dict[str, str]] | str | None]
"""What happens to a post, by its number from 1: a status and headers, "cut" in the middle, or None where it works."""


@contextmanager
def service(refuse: Refuse = lambda _: None, unknown: bytes = b"-") -> Iterator[tuple[str, list[int]]]:
    """A service that answers batches, when it does; its address, and how many lines each post had.

    unknown : a field that it does not know yet
    """
    posts: list[int] = []
    counting = threading.Lock()

    class Handler(BaseHTTPRequestHandler):
        protocol_version = "HTTP/1.1"

        def do_GET(self) -> None:
            self._send(json.dumps({"version": __version__}).encode())

        def do_POST(self) -> None:
            lines = Lines()
            body = self.rfile.read(int(self.headers["Content-Length"]))
            read = [*lines.take(body), *lines.end()]
            with counting:
                posts.append(len(read))
                what = refuse(len(posts))
            answered = b"".join(
                ANSWERING(number, (raw or b"").replace(b'"%s"' % unknown, b'"not known yet"')) for number, raw in read
            )
            match what:
                case None:
                    self._send(answered)
                case (status, headers):
                    self._send(b"", status, headers)
                case _:
                    self._send(answered, cut=True)

        def _send(
            self, body: bytes, status: int = 200, headers: dict[str, str] | None = None, *, cut: bool = False
        ) -> None:
            self.send_response(status)
            for name, value in {"Content-Length": str(len(body)), **(headers or {})}.items():
                self.send_header(name, value)
            self.end_headers()
            self.wfile.write(body[: len(body) // 2] if cut else body)
            self.close_connection = cut

        def log_message(self, *_: Any) -> None:
            """Say nothing."""

    server = ThreadingHTTPServer(("127.0.0.1", 0), Handler)
    thread = threading.Thread(target=server.serve_forever)
    thread.start()
    try:
        yield f"http://127.0.0.1:{server.server_address[1]}", posts
    finally:
        server.shutdown()
        thread.join()
        server.server_close()
