"""The command: serve the service, print a job's sheet, or print what is kept of the schema and the units."""

from __future__ import annotations

import argparse
import math
import os
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any, Final

from headbench import __version__
from headbench.api.serving.keys import hash_of, new_key
from headbench.api.serving.settings import VARIABLES, about, settings_of
from headbench.errors import WrongSetting

_START_SECONDS: Final = 30.0
_SAID: Final = ("host", "port", "workers")
"""Settings that are options, too."""


class _Command(argparse.ArgumentParser):
    """A parser that learns its options when its command is given: `serve` need not load what others choose from."""

    def __init__(self, *, learn: Callable[[argparse.ArgumentParser], None] | None = None, **others: Any) -> None:
        super().__init__(**others)
        self._learn = learn

    def parse_known_args(self, args: Any = None, namespace: Any = None) -> Any:
        """Learn, then parse."""
        if self._learn is not None:
            self._learn(self)
        return super().parse_known_args(args, namespace)


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one of the commands; the exit status is 0 if it did its work."""
    parser = argparse.ArgumentParser(prog="headbench", description="The arithmetic of a cylinder-head bench.")
    parser.add_argument("--version", action="version", version=f"headbench {__version__}")
    commands = parser.add_subparsers(required=True, parser_class=_Command)
    _add_serve(commands.add_parser("serve", help="run the service"))
    key = commands.add_parser("key", help="make a key for callers, and the hash of it for the service")
    key.set_defaults(run=lambda _: make_key())
    commands.add_parser("sheet", learn=_add_sheet, help="work out a job and print its sheet")
    demo = commands.add_parser("demo", help="start the service, post a head-assembly job, print its sheet")
    demo.add_argument("job", type=Path, help="a JSON file, as POST /v1/head-assembly takes it")
    demo.set_defaults(run=lambda chosen: show(chosen.job))
    _add_readings(commands.add_parser("readings", help="put tables of readings (CSV) into a job, and print it"))
    again = "answer every job of a file anew, in process or by a server"
    commands.add_parser("recompute", learn=_add_recompute, help=again)
    commands.add_parser("openapi", learn=_add_schema, help="print the published schema")
    commands.add_parser("factors", learn=_add_factors, help="print the factors of all units, worked out anew")
    chosen = parser.parse_args(arguments)
    status: int = chosen.run(chosen)
    return status


# what a command needs is loaded when the command is given


def _add_serve(serving: argparse.ArgumentParser) -> None:
    for name, one in about():
        if name in _SAID:
            serving.add_argument(f"--{name}", metavar=name.upper(), help=f"{one.meaning} (default: {one.variable})")
    serving.set_defaults(run=serve)


def _add_sheet(sheet: argparse.ArgumentParser) -> None:
    from headbench import printing  # noqa: PLC0415

    printing.add_sheet(sheet)
    sheet.set_defaults(
        run=lambda chosen: printing.print_sheet(chosen.job, chosen.kind, chosen.form, chosen.sheet),
    )


def _add_schema(schema: argparse.ArgumentParser) -> None:
    from headbench import printing  # noqa: PLC0415

    schema.set_defaults(run=lambda _: printing.show_text(printing.schema_text()))


def _add_factors(factors: argparse.ArgumentParser) -> None:
    from headbench import printing  # noqa: PLC0415

    factors.set_defaults(run=lambda _: printing.show_text(printing.factors_text()))


def _add_readings(tables: argparse.ArgumentParser) -> None:
    tables.add_argument("positions", type=Path, help="a CSV file with a row a position")
    tables.add_argument("--springs", type=Path, metavar="FILE", help="a CSV file with a row a spring")
    tables.add_argument("--job", type=Path, required=True, help="a JSON file with the rest of the job")
    tables.add_argument("--decimal", choices=("point", "comma"), help="decimal mark, where no number says which")
    tables.set_defaults(run=_read_tables)


def _read_tables(chosen: argparse.Namespace) -> int:
    from headbench.readings import command  # noqa: PLC0415

    return command.run(chosen.positions, chosen.springs, chosen.job, chosen.decimal)


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


def make_key() -> int:
    """Print a new key and its hash; neither is kept."""
    key = new_key()
    print(f"for the caller, who alone may have it: {key}\nfor HEADBENCH_API_KEYS of the service:   {hash_of(key)}")
    return 0


def serve(chosen: argparse.Namespace) -> int:
    """Run the service until it is told to stop."""
    from headbench.api.listening import supervisor  # noqa: PLC0415
    from headbench.api.listening.sockets import InUse, see_free  # noqa: PLC0415

    said = {VARIABLES[name]: value for name in _SAID if (value := getattr(chosen, name)) is not None}
    options = {VARIABLES[name]: f"--{name}" for name in _SAID}
    try:
        environment = os.environ | said
        settings = settings_of(environment, {name: options[name] for name in said})
        if settings.metrics_port:
            see_free(settings.host, settings.metrics_port, VARIABLES["metrics_port"])
        return supervisor.run(settings, environment)
    except InUse as error:
        print(error, file=sys.stderr)
        return 1
    except WrongSetting as error:
        print(error, file=sys.stderr)
        return 2


def show(job: Path) -> int:
    """Start the service, post a job over HTTP, and print the sheet that it answers."""
    from headbench import printing  # noqa: PLC0415

    body = printing.read_job(job)
    if body is None:
        return 2
    port = _free_port()
    address = f"http://127.0.0.1:{port}"
    command = [sys.executable, "-m", "headbench.cli", "serve", "--port", str(port)]
    # it asks for no key and takes no port but its own, whatever is said for other services
    alone = os.environ | {VARIABLES[name]: "" for name in ("api_keys", "rate_limit", "metrics_port")}
    with subprocess.Popen(command, env=alone, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE) as server:  # noqa: S603 - our own
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
    from headbench.api.vocabulary.quantities import PURE, UnitsUsed  # noqa: PLC0415

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
