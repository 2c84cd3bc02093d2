"""The command: serve the service, print a job's sheet, or print what is kept of the schema and the units."""

from __future__ import annotations

import argparse
import json
import math
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from copy import deepcopy
from pathlib import Path
from typing import Any, Final

import msgspec

from headbench import __version__, units
from headbench.api.app import RESOURCES, published
from headbench.api.exchange.decoding import decode
from headbench.api.exchange.negotiating import Answered, Form
from headbench.api.exchange.problems import Problem, contradiction, not_finite, refusal
from headbench.api.exchange.resource import Resource
from headbench.api.published import openapi
from headbench.api.serving.settings import settings_of
from headbench.api.vocabulary.quantities import PURE, UnitsUsed
from headbench.errors import Contradiction, NotFinite, RefusedRequest, WrongSetting
from headbench.readings import command as readings
from headbench.sheet.forms import FORMS

DEFAULT_PORT: Final = 8317
_START_SECONDS: Final = 30.0


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one of the commands; the exit status is 0 if it did its work."""
    parser = argparse.ArgumentParser(prog="headbench", description="The arithmetic of a cylinder-head bench.")
    parser.add_argument("--version", action="version", version=f"headbench {__version__}")
    commands = parser.add_subparsers(required=True)
    serving = commands.add_parser("serve", help="run the service")
    serving.add_argument("--host", default="127.0.0.1", help="address to listen at (default: this machine only)")
    serving.add_argument("--port", type=int, default=DEFAULT_PORT, help=f"port (default: {DEFAULT_PORT})")
    serving.add_argument("--workers", type=int, default=1, help="processes (default: 1)")
    serving.set_defaults(run=lambda chosen: serve(chosen.host, chosen.port, chosen.workers))
    _add_sheet(commands.add_parser("sheet", help="work out a job and print its sheet"))
    demo = commands.add_parser("demo", help="start the service, post a head-assembly job, print its sheet")
    demo.add_argument("job", type=Path, help="a JSON file, as POST /v1/head-assembly takes it")
    demo.set_defaults(run=lambda chosen: show(chosen.job))
    _add_readings(commands.add_parser("readings", help="put tables of readings (CSV) into a job, and print it"))
    _add_recompute(commands.add_parser("recompute", help="answer every job of a file anew, in process or by a server"))
    schema = commands.add_parser("openapi", help="print the published schema")
    schema.set_defaults(run=lambda _: show_text(schema_text()))
    factors = commands.add_parser("factors", help="print the factors of all units, worked out anew")
    factors.set_defaults(run=lambda _: show_text(factors_text()))
    chosen = parser.parse_args(arguments)
    status: int = chosen.run(chosen)
    return status


def _add_sheet(sheet: argparse.ArgumentParser) -> None:
    sheet.add_argument("job", type=Path, help="a JSON file, as POST /v1/<kind> takes it")
    sheet.add_argument("--as", dest="form", choices=[form.name for form in FORMS], default="text", help="default: text")
    sheets = [name for resource in RESOURCES for name in resource.sheets]
    sheet.add_argument("--sheet", choices=sheets, help=f"which sheet of a head (default: {sheets[0]})")
    kinds = [resource.kind for resource in RESOURCES]
    sheet.add_argument("--kind", choices=kinds, default=kinds[0], help=f"what the job asks (default: {kinds[0]})")
    sheet.set_defaults(run=lambda chosen: print_sheet(chosen.job, chosen.kind, chosen.form, chosen.sheet))


def _add_readings(tables: argparse.ArgumentParser) -> None:
    tables.add_argument("positions", type=Path, help="a CSV file with a row a position")
    tables.add_argument("--springs", type=Path, metavar="FILE", help="a CSV file with a row a spring")
    tables.add_argument("--job", type=Path, required=True, help="a JSON file with the rest of the job")
    tables.add_argument("--decimal", choices=("point", "comma"), help="decimal mark, where no number says which")
    tables.set_defaults(
        run=lambda chosen: readings.run(chosen.positions, chosen.springs, chosen.job, chosen.decimal),
    )


def _add_recompute(again: argparse.ArgumentParser) -> None:
    again.add_argument("jobs", type=Path, help="a file with a job a line, as POST /v1/batch takes them (NDJSON)")
    again.add_argument("--out", type=Path, required=True, help="file of answers; one that was begun is gone on with")
    again.add_argument("--server", metavar="URL", help="service that answers (default: this machine, on every core)")
    again.add_argument("--against", type=Path, metavar="OLD", help="answers of an earlier run: tell what has changed")
    again.add_argument("--changes", type=Path, metavar="FILE", help="write every change down, worst first (NDJSON)")
    again.add_argument(
        "--tolerance",
        action="append",
        default=[],
        type=_tolerance,
        metavar="QUANTITY=NUMBER",
        help="how far numbers may differ, in the units of the jobs, as length=0.002 (default: what a bench reads)",
    )
    again.set_defaults(run=recompute)


def show_text(text: str) -> int:
    """Print a text as it is."""
    print(text, end="")
    return 0


def schema_text() -> str:
    """The published schema as it is committed: indented, paths and components by name, fields in their own order."""
    return json.dumps(openapi.build(published()), indent=2, ensure_ascii=False) + "\n"


def factors_text() -> str:
    """The factors of all units as they are kept beside `headbench.units`, worked out anew by pint."""
    return json.dumps(units.worked_out_factors(), indent=2) + "\n"


def serve(host: str, port: int, workers: int) -> int:
    """Run the service until it is told to stop."""
    try:
        settings_of()
    except WrongSetting as error:
        print(error, file=sys.stderr)
        return 2
    if not _is_free(host, port):
        print(f"{host}:{port} is in use; choose another port: headbench serve --port {port + 1}", file=sys.stderr)
        return 1
    # imported here, so that the other commands do without the server
    from granian import Granian  # noqa: PLC0415
    from granian.constants import Interfaces  # noqa: PLC0415
    from granian.http import HTTP1Settings  # noqa: PLC0415
    from granian.log import LOGGING_CONFIG  # noqa: PLC0415

    # one line of JSON per request on standard output, beside the server's own log
    logs: dict[str, Any] = deepcopy(LOGGING_CONFIG)
    logs["formatters"]["access line"] = {"format": "%(message)s"}
    logs["handlers"]["access line"] = {
        "class": "logging.StreamHandler",
        "formatter": "access line",
        "stream": "ext://sys.stdout",
    }
    logs["loggers"]["headbench"] = {"handlers": ["access line"], "level": "INFO", "propagate": False}
    server = Granian(
        "headbench.api.app:create_app",
        factory=True,
        address=host,
        port=port,
        interface=Interfaces.ASGI,
        workers=workers,
        websockets=False,
        respawn_failed_workers=True,
        workers_kill_timeout=15,
        log_dictconfig=logs,
        http1_settings=HTTP1Settings(header_read_timeout=10_000),
    )
    server.serve()
    return 0


def print_sheet(job: Path, kind: str, form: str, sheet: str | None) -> int:
    """Work out a job and print it; what is wrong with it is told instead, each fault with its place."""
    body = _read(job)
    if body is None:
        return 1
    resource = next(one for one in RESOURCES if one.kind == kind)
    if sheet is not None and sheet not in resource.sheets:
        print(f"A job of {kind} has one sheet; leave out --sheet {sheet}.", file=sys.stderr)
        return 1
    printed = _printed(resource, body, next(one for one in FORMS if one.name == form), sheet)
    if isinstance(printed, Problem):
        print(f"{job}: {printed.title}. {printed.detail}", file=sys.stderr)
        for error in printed.errors:
            print(f"  {error.pointer or '/'}: {error.detail}", file=sys.stderr)
        return 1
    sys.stdout.buffer.write(printed)
    sys.stdout.flush()
    return 0


def _printed(resource: Resource[Any, Any], body: bytes, form: Form, sheet: str | None) -> bytes | Problem:
    job = None
    try:
        job = decode(body, resource.request)
        return form.make(Answered(resource.kind, msgspec.json.decode(body), job, resource(job)), sheet)
    except RefusedRequest as error:
        return refusal(error)
    except Contradiction as error:
        return contradiction(error.errors, job)
    except NotFinite as error:
        return not_finite(error)


def _read(job: Path) -> bytes | None:
    try:
        return job.read_bytes()
    except OSError as error:
        print(f"{job} can't be read: {(error.strerror or str(error)).lower()}.", file=sys.stderr)
        return None


def show(job: Path) -> int:
    """Start the service, post a job over HTTP, and print the sheet that it answers."""
    body = _read(job)
    if body is None:
        return 1
    port = _free_port()
    address = f"http://127.0.0.1:{port}"
    command = [sys.executable, "-m", "headbench.cli", "serve", "--port", str(port)]
    with subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE) as server:  # noqa: S603 - our own
        try:
            if not _is_ready(address, server):
                print("The service did not start:", file=sys.stderr)
                server.terminate()
                print((server.stderr.read() if server.stderr else b"").decode(), file=sys.stderr)
                return 1
            status, answer = _post(f"{address}/v1/head-assembly", body)
        finally:
            server.terminate()
    if status != 200:  # noqa: PLR2004 - HTTP's
        print(answer.decode(), file=sys.stderr)
        return 1
    print(f"POST /v1/head-assembly with {job}: {status}\n")
    print(answer.decode())
    print(
        "To print your own job: headbench sheet FILE. To post it: make serve, then open /docs at the address it prints."
    )
    return 0


def recompute(chosen: argparse.Namespace) -> int:
    """Answer every job of a file anew."""
    with _client_packages():
        # imported here, so that the service does without what only its callers need
        from headbench.bulk import command  # noqa: PLC0415

        return command.run(
            command.Asked(
                chosen.jobs, chosen.out, chosen.server, chosen.against, chosen.changes, dict(chosen.tolerance)
            )
        )


def _tolerance(said: str) -> tuple[str, float]:
    """A quantity and by how much its numbers may differ."""
    quantity, _, number = said.partition("=")
    names = (*UnitsUsed.__struct_fields__, *sorted(PURE))
    if quantity not in names:
        raise argparse.ArgumentTypeError(f'no quantity "{quantity}"; there are: {", ".join(names)}')
    try:
        tolerance = float(number)
    except ValueError:
        tolerance = -1.0
    if not 0.0 <= tolerance < math.inf:
        raise argparse.ArgumentTypeError(f'"{said}" has no number of 0 or more; write {quantity}=0.002')
    return quantity, tolerance


@contextmanager
def _client_packages() -> Iterator[None]:
    """Say what to install where a package that only callers need is not there."""
    try:
        yield
    except ModuleNotFoundError as error:
        if str(error.name).partition(".")[0] == "headbench":
            raise
        print(f"{error.name} is not installed; this needs: pip install 'headbench[client]'", file=sys.stderr)
        raise SystemExit(2) from None


def _free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port: int = probe.getsockname()[1]
        return port


def _is_free(host: str, port: int) -> bool:
    # the server shares its port among its workers, so a second one would not notice the first
    with socket.socket(socket.AF_INET6 if ":" in host else socket.AF_INET) as probe:
        probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind((host, port))
        except OSError:
            return False
    return True


def _is_ready(address: str, server: subprocess.Popen[bytes]) -> bool:
    end = time.monotonic() + _START_SECONDS
    while time.monotonic() < end and server.poll() is None:
        try:
            with urllib.request.urlopen(f"{address}/health/ready", timeout=1.0):  # noqa: S310 - our own address
                return True
        except OSError:
            time.sleep(0.05)
    return False


def _post(url: str, body: bytes) -> tuple[int, bytes]:
    request = urllib.request.Request(url, body, {"Content-Type": "application/json", "Accept": "text/plain"})  # noqa: S310 - our own address
    try:
        with urllib.request.urlopen(request, timeout=10.0) as response:  # noqa: S310 - likewise
            return response.status, response.read()
    except urllib.error.HTTPError as refusal:
        return refusal.code, refusal.read()


if __name__ == "__main__":
    sys.exit(main())
