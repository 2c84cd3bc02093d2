"""The page at /bench: its files, the worker that keeps them on the phone, and what they are allowed to do."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from functools import cache
from pathlib import Path
from typing import Any, Final

from litestar import Request, Response, get
from litestar.datastructures.state import State
from litestar.exceptions import NotFoundException

from headbench import __version__
from headbench.api.exchange.files import File, file_of, send_file
from headbench.api.exchange.options import OPEN, PACKED

_FOLDER: Final = Path(__file__).parent.parent.parent / "web" / "bench"

_TYPES: Final = {
    ".css": "text/css",
    ".html": "text/html",
    ".js": "text/javascript",
    ".svg": "image/svg+xml",
    ".webmanifest": "application/manifest+json",
}

POLICY: Final = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; connect-src 'self'; manifest-src 'self'; "
    "worker-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
)
"""What the pages may load: nothing that is not ours, and nothing that stands in the page itself."""

_PAGE: Final = "index.html"
_WORKER: Final = "worker.js"


@cache
def files() -> Mapping[str, File]:
    """Every file of the page by its address, read when the first is asked for."""
    read = {path.relative_to(_FOLDER).as_posix(): path.read_bytes() for path in sorted(_FOLDER.rglob("*.*"))}
    read[_PAGE] = read[_PAGE].replace(b"{release}", __version__.encode())
    worker = read.pop(_WORKER)
    found = {_address(name): _file(name, body) for name, body in read.items()}
    found[_address(_WORKER)] = _file(_WORKER, _begun(found) + worker)
    return found


def _begun(found: Mapping[str, File]) -> bytes:
    """What the worker goes by: its release, which is another where any file is, and the files to keep."""
    print_of_all = hashlib.sha256("".join(file.tag for file in found.values()).encode()).hexdigest()[:12]
    release, names = json.dumps(f"headbench-{__version__}-{print_of_all}"), json.dumps([*found])
    return f"const RELEASE = {release};\nconst FILES = {names};\n".encode()


def _address(name: str) -> str:
    return "/bench" if name == _PAGE else f"/bench/{name}"


def _file(name: str, body: bytes) -> File:
    return file_of(body, _TYPES[Path(name).suffix])


@get(["/bench", "/bench/{name:path}"], include_in_schema=False, opt={OPEN: True, PACKED: True})
async def bench(request: Request[Any, Any, State]) -> Response[bytes]:
    """A file of the page; asked for again each time, and sent again only where it is another."""
    name: str = request.path_params.get("name", "")
    file = files().get(f"/bench{name}")
    if file is None:
        raise NotFoundException
    headers = {"Content-Security-Policy": POLICY}
    if name == f"/{_WORKER}":
        headers["Service-Worker-Allowed"] = "/bench"
    return send_file(request, file, headers)
