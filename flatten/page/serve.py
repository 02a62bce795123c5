"""The server of the page: its folder, its address and key, the question before it is open to the shop's network."""

import errno
import os
import secrets
import signal
import socket
import sys
import webbrowser
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from urllib.parse import quote

import segno
import uvicorn

from flatten.page.access import Guard
from flatten.page.interface import application
from flatten.page.office import Office
from flatten.sheets.folder import SheetFolder
from meshes.base.files import shown_name
from meshes.base.problems import Problem, ProblemError, shown

LOOPBACK = "127.0.0.1"
# Ports are 16 bits wide (RFC 9293, 3.1).
_LAST_PORT = 65_535
# How long answers under way may take once the server is told to end.
_END_S = 1
WARNING = (
    "On the shop's network this page is not encrypted: whoever can listen on that network can read the seat and the "
    "key, and with the key change the sheets in this folder. Use it only on a network of your own."
)


@dataclass(frozen=True)
class PageOpening:
    """How the page is opened: the folder, the sheet to show first, the sockets, names it answers to, the key."""

    folder: Path
    sheet: str | None
    sockets: tuple[socket.socket, ...]
    hosts: frozenset[str]
    key: str

    def address(self, host: str) -> str:
        """The address to open in a browser; key and sheet stand behind the # and are never sent."""
        port = self.sockets[0].getsockname()[1]
        sheet = "" if self.sheet is None else f"&sheet={quote(self.sheet, safe='')}"
        return f"http://{host}:{port}/#key={self.key}{sheet}"


def place_of(given: Path) -> tuple[Path, str | None]:
    """Folder and sheet of what was named: a folder, or a sheet in one. Raises ProblemError."""
    if given.is_dir():
        return given, None
    if given.suffix == ".toml" and given.is_file() and not given.is_symlink():
        return given.parent, given.name
    text = "neither a folder nor a sheet in one; name a folder, or a file that ends in .toml"
    raise ProblemError([Problem("W315", "", text, shown_name(given))])


def opened(given: Path, *, lan: bool = False, port: int = 0) -> PageOpening:
    """Sockets bound and a key made; nothing is answered yet. Raises ProblemError."""
    folder, sheet = place_of(given)
    if not 0 <= port <= _LAST_PORT:
        text = f"ports have numbers from 1 to {_LAST_PORT}, found {shown(port)}; give another one, or leave it away"
        raise ProblemError([Problem("W313", "--port", text)])
    names = [LOOPBACK, *(lan_addresses() if lan else [])]
    sockets: list[socket.socket] = []
    try:
        for name in names:
            sockets.append(_bound(name, port or (sockets[0].getsockname()[1] if sockets else 0)))
    except OSError as fault:
        for one in sockets:
            one.close()
        why = "another program uses it" if fault.errno == errno.EADDRINUSE else fault.strerror or str(fault)
        text = f"port {port} cannot be used ({why}); give another one, or leave --port away"
        raise ProblemError([Problem("W313", "--port", text)]) from None
    number = sockets[0].getsockname()[1]
    hosts = frozenset(f"{name}:{number}" for name in [*names, "localhost"])
    return PageOpening(folder, sheet, tuple(sockets), hosts, secrets.token_urlsafe(18))


def _bound(name: str, port: int) -> socket.socket:
    # By its name of a protocol: asyncio sends small answers at once only over what is said to be TCP, and a number that
    # is turned would wait 40 ms for every one of them.
    one = socket.socket(socket.AF_INET, socket.SOCK_STREAM, socket.IPPROTO_TCP)
    if os.name == "posix":
        one.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        one.bind((name, port))
    except OSError:
        one.close()
        raise
    return one


def lan_addresses() -> list[str]:
    """This computer's own address on its network; empty where it has none. Nothing is sent to find it."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            # An address set apart for documentation (RFC 5737): only the way there is looked up.
            probe.connect(("192.0.2.1", 9))
            found = str(probe.getsockname()[0])
        except OSError:
            return []
    return [] if found.startswith("127.") or found == "0.0.0.0" else [found]


def agreed(ask: Callable[[str], str] | None) -> None:
    """Say what an open network means, and ask. Raises ProblemError when that is not agreed to; ask: None where nobody
    can be asked."""
    print(WARNING)
    reply = ask("Open it to the network? Write yes: ") if ask is not None else ""
    if reply.strip().lower() not in ("y", "yes"):
        text = "not agreed to, so nothing was opened; answer yes, or add --yes to the command"
        raise ProblemError([Problem("W314", "--lan", text)])


def told(opening: PageOpening, *, lan: Sequence[str]) -> list[str]:
    """What is printed: the addresses, and for a tablet the code that its camera reads."""
    lines = [f"The bench page: {opening.address(LOOPBACK)}"]
    for name in lan:
        address = opening.address(name)
        lines += [f"On the shop's network: {address}", _code(address)]
    return [*lines, "It runs until you stop it with Ctrl-C."]


def _code(address: str) -> str:
    """The address as a QR code of block characters (ISO/IEC 18004)."""
    rows = [list(row) for row in segno.make(address, error="l").matrix_iter(border=2)]
    rows += [[0] * len(rows[0])] if len(rows) % 2 else []
    blocks = {(0, 0): "█", (0, 1): "▀", (1, 0): "▄", (1, 1): " "}
    pairs = zip(rows[::2], rows[1::2], strict=True)
    return "\n".join("".join(blocks[a, b] for a, b in zip(top, low, strict=True)) for top, low in pairs)


class _Server(uvicorn.Server):
    """Streams of news have no end of their own: they end first, so that nothing is broken off when it stops."""

    def __init__(self, config: uvicorn.Config, office: Office) -> None:
        super().__init__(config)
        self._office = office

    async def shutdown(self, sockets: list[socket.socket] | None = None) -> None:
        """As uvicorn's, once nobody waits for news."""
        self._office.end_news()
        await super().shutdown(sockets)


def run(opening: PageOpening, *, browser: bool) -> None:
    """Answer until the process is told to end."""
    office = Office(SheetFolder(opening.folder))
    app = Guard(application(office), opening.hosts, opening.key)
    config = uvicorn.Config(
        app,
        log_level="error",
        access_log=False,
        server_header=False,
        date_header=False,
        ws="none",
        timeout_graceful_shutdown=_END_S,
        h11_max_incomplete_event_size=32_768,
    )
    if browser:
        webbrowser.open(opening.address(LOOPBACK))
    sys.stdout.flush()
    server = _Server(config, office)
    with _hang_up_ends(server):
        server.run(sockets=list(opening.sockets))


@contextmanager
def _hang_up_ends(server: uvicorn.Server) -> Iterator[None]:
    """A closed terminal ends the server as other signals do, between answers; then it is passed on."""
    number = getattr(signal, "SIGHUP", None)
    before = None if number is None else signal.getsignal(number)
    if number is None or not callable(before):
        yield
        return
    came = False

    def end(*_: object) -> None:
        nonlocal came
        came = server.should_exit = True

    signal.signal(number, end)
    try:
        yield
    finally:
        signal.signal(number, before)
    if came:
        signal.raise_signal(number)
