"""Sockets to listen at, and how many descriptors there may be."""

from __future__ import annotations

import errno
import os
import resource
import socket
from contextlib import suppress
from typing import Final

from headbench.errors import WrongSetting

_SPARE: Final = 320
"""Descriptors kept for files, processes and connections that are taken before they are counted."""

MOST_CONNECTIONS: Final = 16_000
"""Connections a worker holds where its descriptors allow; each takes some 10 kB."""


class InUse(WrongSetting):
    """Somebody listens there already."""


def bound(host: str, port: int) -> list[socket.socket]:
    """Sockets at every address that a name has; raises WrongSetting, InUse.

    With port 0 the system chooses one, the same for all.
    """
    try:
        found = socket.getaddrinfo(host, port, type=socket.SOCK_STREAM, flags=socket.AI_PASSIVE)
    except (socket.gaierror, UnicodeError):
        raise WrongSetting(f'"{host}" is no address of this machine; write 127.0.0.1, 0.0.0.0 or localhost') from None
    sockets: list[socket.socket] = []
    fault: OSError | None = None
    for family, kind, _, _, address in dict.fromkeys(found):
        chosen = sockets[0].getsockname()[1] if sockets else port
        try:
            one = socket.socket(family, kind)
            one.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            if family == socket.AF_INET6:
                # the IPv4 of the same name has a socket of its own
                one.setsockopt(socket.IPPROTO_IPV6, socket.IPV6_V6ONLY, 1)
            one.bind((address[0], chosen, *address[2:]))
        except OSError as error:
            one.close()
            if error.errno == errno.EADDRINUSE:
                fault = error
                break
            # a name may have an address of a kind that this machine does not speak
            fault = fault or error
            continue
        sockets.append(one)
    if not sockets or (fault and fault.errno == errno.EADDRINUSE):
        for one in sockets:
            one.close()
        raise _not_bound(host, port, fault)
    return sockets


def see_free(host: str, port: int, where: str) -> None:
    """See that a port can be listened at that something else will take; raises WrongSetting, InUse."""
    try:
        for one in bound(host, port):
            one.close()
    except InUse:
        raise InUse(f"{where}: {host}:{port} is in use; choose another port") from None


def _not_bound(host: str, port: int, fault: OSError | None) -> WrongSetting:
    match fault.errno if fault else None:
        case errno.EADDRINUSE:
            return InUse(f"{host}:{port} is in use; choose another port: headbench serve --port {port % 65_535 + 1}")
        case errno.EACCES:
            return WrongSetting(f"port {port} is for the system's own; choose one from 1024")
        case _:
            return WrongSetting(f'"{host}" is no address of this machine; write 127.0.0.1, 0.0.0.0 or localhost')


def address_of(listening: socket.socket) -> str:
    """Where a socket is reached, as a browser writes it."""
    host, port = listening.getsockname()[:2]
    return f"http://[{host}]:{port}" if ":" in host else f"http://{host}:{port}"


def raise_descriptors() -> None:
    """Take as many descriptors as the system allows."""
    _, most = resource.getrlimit(resource.RLIMIT_NOFILE)
    # not every system that says it has no limit takes that for one
    with suppress(ValueError, OSError):
        resource.setrlimit(resource.RLIMIT_NOFILE, (most, most))


def most_connections() -> int:
    """How many connections fit the descriptors of this process."""
    descriptors, _ = resource.getrlimit(resource.RLIMIT_NOFILE)
    if descriptors == resource.RLIM_INFINITY:
        return MOST_CONNECTIONS
    return min(MOST_CONNECTIONS, max(descriptors - _SPARE, descriptors // 4))


def open_standard_streams() -> None:
    """See that 0, 1 and 2 are open, so that no connection takes their number and is written the log."""
    for descriptor in range(3):
        try:
            os.fstat(descriptor)
        except OSError:
            # the lowest number that is free is taken
            os.open(os.devnull, os.O_RDWR)
