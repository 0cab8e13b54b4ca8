"""Reading what a source says: a small file of this machine, or the answer of one address, and of no other.

A price that somebody else can steer is money, and an address in a file can be steered to whatever this machine
reaches. So: https only, the name looked up once and that very address connected to, none that is not public (save
this machine itself, where the maker says so), no proxy, no way on to another address, no packed answer, 256 KiB, and
one time limit for all of it.
"""

from __future__ import annotations

import asyncio
import ipaddress
import socket
import ssl
import threading
from collections.abc import Awaitable, Callable
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from pricing.metal.faults import PullFault
from pricing.reading import NotRead, read_file

if TYPE_CHECKING:
    import httpx

#: The network addresses of a host and a port, as texts. Raises OSError where there is none.
Resolve = Callable[[str, int], Awaitable[list[str]]]

EXTRA = 'Install what it needs: pip install "troytag[pull]".'
#: IPv6 addresses in which a private IPv4 one may hide (RFC 6052, RFC 8215).
_TRANSLATED = (ipaddress.ip_network("64:ff9b::/96"), ipaddress.ip_network("64:ff9b:1::/48"))


@dataclass(frozen=True)
class FetchLimits:
    """How much is read, in bytes, and how long everything together may take, in seconds."""

    size: int = 256 * 1024
    seconds: float = 20.0


def read_source_file(path: Path, limits: FetchLimits) -> bytes:
    """The content of a plain file of this machine. Raises PullFault."""
    try:
        return read_file(path, limits.size)
    except NotRead as wrong:
        if wrong.reason == "too large":
            raise too_large(limits) from None
        if wrong.reason == "missing":
            raise PullFault(f"there is no file {path}", "Correct its name, or put it there.") from None
        if wrong.reason in ("folder", "no file"):
            raise PullFault(f"{path} is no plain file", "Name a file.") from None
        raise PullFault(f"{path}: {wrong.problem}", wrong.mend) from None


def too_large(limits: FetchLimits) -> PullFault:
    return PullFault(f"it gives more than {limits.size // 1024} KiB", "Choose a source that gives one price or a few.")


async def fetch(
    address: str,
    loopback: bool,
    limits: FetchLimits,
    resolve: Resolve | None = None,
    trusted: ssl.SSLContext | None = None,
) -> bytes:
    """What is answered at an address. Raises PullFault.

    `loopback`: the address must be this machine's, and may be http. `resolve` and `trusted` take the place of the
    system's look-up of names and of the usual certificates.
    """
    try:
        import httpx
    except ImportError:
        raise PullFault("reading from an address needs the package httpx, which is not installed", EXTRA) from None
    try:
        url = httpx.URL(address)
    except httpx.InvalidURL as error:
        raise PullFault(f"its address is none ({error})", "Write it as https://….") from None
    name = url.raw_host.decode("ascii")
    try:
        async with asyncio.timeout(limits.seconds):
            port = url.port or (443 if url.scheme == "https" else 80)
            hosts = await _hosts(name, port, loopback, resolve or _look_up)
            return await _answer(url, name, hosts, limits, trusted)
    except TimeoutError:
        mend = "Try again later. Nothing was taken from it."
        raise PullFault(f"{name} did not answer in full within {limits.seconds:g} s", mend) from None
    except httpx.HTTPError as error:
        raise _fetch_fault(name, error) from None


async def _look_up(host: str, port: int) -> list[str]:
    """The system's answer, in a thread that nobody waits for at the end: a look-up cannot be broken off."""
    loop = asyncio.get_running_loop()
    answer: asyncio.Future[list[str]] = loop.create_future()

    def tell(found: list[str]) -> None:
        if not answer.done():
            answer.set_result(found)

    def work() -> None:
        try:
            found = socket.getaddrinfo(host, port, type=socket.SOCK_STREAM)
        except (OSError, UnicodeError):
            found = []
        with suppress(RuntimeError):  # everything else has ended long since
            loop.call_soon_threadsafe(tell, list(dict.fromkeys(str(address[4][0]) for address in found)))

    threading.Thread(target=work, daemon=True).start()
    return await answer


async def _hosts(host: str, port: int, loopback: bool, resolve: Resolve) -> list[str]:
    """The network addresses of a host, if every one of them may be spoken to."""
    try:
        found = await resolve(host, port)
    except (OSError, UnicodeError):
        found = []
    if not found:
        raise PullFault(f"no address is known for {host}", "See whether this machine is online, and the name right.")
    for text in found:
        address = ipaddress.ip_address(text.partition("%")[0])
        if loopback and not address.is_loopback:
            raise PullFault(f"{host} is {text}, and not this machine", "Leave loopback out.")
        if not loopback and not is_public(address):
            mend = "Only public addresses are read; for one of this machine itself write loopback = true."
            raise PullFault(f"{host} is {text}, an address that is not public", mend)
    return found


def is_public(address: ipaddress.IPv4Address | ipaddress.IPv6Address) -> bool:
    """Whether an address belongs to the whole internet, and does not hide one that does not."""
    if isinstance(address, ipaddress.IPv6Address):
        if address.ipv4_mapped is not None:
            return is_public(address.ipv4_mapped)
        if address.sixtofour is not None or address.teredo is not None:
            return False
        if any(address in network for network in _TRANSLATED):
            return False
    return address.is_global and not (address.is_multicast or address.is_reserved or address.is_unspecified)


async def _answer(
    url: httpx.URL, name: str, hosts: list[str], limits: FetchLimits, trusted: ssl.SSLContext | None
) -> bytes:
    """The answer of the first of these hosts that can be connected to; its certificate must be good for `name`."""
    import httpx

    headers = {
        "Host": url.netloc.decode("ascii"),
        "Accept-Encoding": "identity",
        "User-Agent": "troytag",
        "Connection": "close",
    }
    async with httpx.AsyncClient(
        trust_env=False,
        follow_redirects=False,
        timeout=limits.seconds,
        verify=True if trusted is None else trusted,
    ) as client:
        for number, host in enumerate(hosts, start=1):
            try:
                async with client.stream(
                    "GET", url.copy_with(host=host), headers=headers, extensions={"sni_hostname": name}
                ) as response:
                    return await _content(response, name, limits)
            except httpx.ConnectError as error:
                if number == len(hosts) or _certificate_problem(error):
                    raise
    raise AssertionError("no host")


async def _content(response: httpx.Response, host: str, limits: FetchLimits) -> bytes:
    if response.is_redirect:
        to = response.headers.get("location", "")[:200]
        shown = "".join(letter if letter.isprintable() else "?" for letter in to)
        raise PullFault(f"{host} sends on to {shown or 'another address'}", "Write that address, if you trust it.")
    if response.status_code != 200:
        raise PullFault(f"{host} answers {response.status_code}", "See whether the address is still right.")
    if response.headers.get("content-encoding", "identity").lower() not in ("", "identity"):
        raise PullFault(f"{host} answers with packed data, unasked", "Choose another source.")
    length = response.headers.get("content-length", "")
    if length.isdecimal() and int(length[:12]) > limits.size:
        raise too_large(limits)
    content = b""
    async for chunk in response.aiter_raw():
        content += chunk
        if len(content) > limits.size:
            raise too_large(limits)
    return content


def _certificate_problem(error: BaseException) -> ssl.SSLCertVerificationError | None:
    here: BaseException | None = error
    while here is not None:
        if isinstance(here, ssl.SSLCertVerificationError):
            return here
        here = here.__cause__ or here.__context__
    return None


def _fetch_fault(host: str, error: httpx.HTTPError) -> PullFault:
    import httpx

    if problem := _certificate_problem(error):
        told = f"the certificate of {host} is not to be trusted ({problem.verify_message.rstrip('.')})"
        return PullFault(told, "Do not use what it says; see whether the address is right.")
    if isinstance(error, httpx.ConnectError):
        mend = "See whether this machine is online, and the address right."
        return PullFault(f"{host} cannot be reached", mend)
    return PullFault(f"the answer of {host} broke off or was none", "Try again later. Nothing was taken from it.")
