"""`grainlog serve` as a function: the page under waitress, on this machine alone or on the home network."""

import socket
from collections.abc import Callable, Iterable
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

from waitress.server import create_server

from grainlog.web.app import make_app
from grainlog.web.errors import PageError
from grainlog.yard import Yard

#: Threads that answer; measuring has processes of its own, so a page never waits for it.
THREADS = 12
#: One photo in flight per chunk, never a whole upload in memory: waitress keeps larger bodies in a temporary file.
BODY_BYTES = 80 * 1024 * 1024


@dataclass(frozen=True)
class Served:
    """Where the page now is: `here` for this machine, `lan` for devices of the network (None without), the pairing code."""

    here: str
    lan: str | None
    code: str | None

    @property
    def pairing_address(self) -> str | None:
        """What the QR code holds: the address with the code in it, used up by the first device."""
        return None if self.lan is None else f"{self.lan}/pair?code={self.code}"


def serve(folder: Path, port: int = 8417, lan: bool = False, ready: Callable[[Served], None] = lambda served: None) -> None:
    """Serve a yard's page until interrupted.

    ready : called once with where the page is, when it answers.

    Raises PageError when the port is taken or the machine has no address on a network, YardError.
    """
    with Yard.open(folder) as yard:
        address = _lan_address() if lan else None
        names = {address, socket.gethostname(), f"{socket.gethostname()}.local"} if address else set()
        app = make_app(yard, frozenset(name for name in names if name))
        app.extensions["lan_addresses"] = (f"http://{address}:{port}",) if address else ()
        hosts = ("127.0.0.1", *((address,) if address else ()))
        _refuse_taken(hosts, port)
        server = create_server(
            app, listen=" ".join(f"{host}:{port}" for host in hosts), threads=THREADS, ident="grainlog",
            max_request_body_size=BODY_BYTES, channel_timeout=60, connection_limit=400,
        )  # fmt: skip
        code = app.extensions["pairing"].fresh() if address else None
        ready(Served(f"http://localhost:{port}", f"http://{address}:{port}" if address else None, code))
        try:
            server.run()
        finally:
            app.extensions["stop"].set()
            with suppress(OSError):
                server.close()


def _refuse_taken(hosts: Iterable[str], port: int) -> None:
    """Raises PageError where the port is in use; the server itself would leave its socket lying open."""
    for host in hosts:
        with socket.socket(socket.AF_INET, socket.SOCK_STREAM) as probe:
            probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            try:
                probe.bind((host, port))
            except OSError as error:
                raise PageError(f"The page cannot be served on port {port} ({error.strerror}); name another with --port.") from error


def _lan_address() -> str:
    """This machine's address on the network: the one it would send from. Nothing is sent. Raises PageError."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            # An address of RFC 5737 that nobody has; a datagram socket only looks up the route.
            probe.connect(("192.0.2.1", 9))
            address = probe.getsockname()[0]
        except OSError as error:
            raise PageError("This machine is on no network, so no phone can reach it; join one, or leave out --lan.") from error
    if address.startswith("127."):
        raise PageError("This machine is on no network, so no phone can reach it; join one, or leave out --lan.")
    return address
