"""How often a sign-in may be tried: per name and per address, with a wait that doubles, in bounded memory."""

from __future__ import annotations

import hashlib
import ipaddress
import math
import threading
import time
from collections import OrderedDict
from collections.abc import Callable
from dataclasses import dataclass

from tracker.record import same_of

FREE_PER_NAME = 5
FREE_PER_ADDRESS = 20
FIRST_WAIT_S = 10.0
LONGEST_WAIT_S = 300.0
FORGOTTEN_AFTER_S = 3600.0
MOST_KEPT = 10_000


@dataclass(slots=True)
class Tries:
    """Tries in a row that did not succeed, until when the next must wait, and when the last one was."""

    count: int = 0
    until: float = 0.0
    last: float = 0.0


class Throttle:
    """Counts tries before they are looked at, so that many at once gain nothing. Safe to share between threads.

    A name waits whoever asks, so a stranger can make its owner wait too: five minutes at most, which is the price of
    not letting passwords be tried from many addresses.
    """

    def __init__(self, clock: Callable[[], float] = time.monotonic, most: int = MOST_KEPT) -> None:
        self._clock = clock
        self._most = most
        self._names: OrderedDict[str, Tries] = OrderedDict()
        self._addresses: OrderedDict[str, Tries] = OrderedDict()
        self._turn = threading.Lock()

    def __len__(self) -> int:
        return len(self._names) + len(self._addresses)

    def begin(self, name: str, address: str) -> int:
        """Count a try; return 0 where it may go on, else the whole seconds to wait first."""
        with self._turn:
            now = self._clock()
            both = (
                (self._of(self._names, key_of(name), now), FREE_PER_NAME),
                (self._of(self._addresses, place_of(address), now), FREE_PER_ADDRESS),
            )
            wait = max(tries.until - now for tries, _ in both)
            if wait > 0:
                return math.ceil(wait)
            for tries, free in both:
                tries.count += 1
                tries.last = now
                if tries.count >= free:
                    doubled = FIRST_WAIT_S * 2.0 ** min(tries.count - free, 30)
                    tries.until = now + min(doubled, LONGEST_WAIT_S)
            return 0

    def succeeded(self, name: str, address: str) -> None:
        """Take a try back that succeeded: the name begins anew, the address is left with its other tries."""
        with self._turn:
            self._names.pop(key_of(name), None)
            tries = self._addresses.get(place_of(address))
            if tries is not None:
                tries.count = max(0, tries.count - 1)
                tries.until = 0.0 if tries.count < FREE_PER_ADDRESS else tries.until

    def _of(self, kept: OrderedDict[str, Tries], key: str, now: float) -> Tries:
        found = kept.get(key)
        if found is None or now - found.last > FORGOTTEN_AFTER_S:
            found = kept[key] = Tries(last=now)
        kept.move_to_end(key)
        while len(kept) > self._most:
            kept.popitem(last=False)
        return found


def key_of(name: str) -> str:
    """Return what counts as one name: however it is written, it means the same user; of a bounded length.

    Examples
    --------
    >>> key_of("Bench 2") == key_of("  ｂENCH  2")
    True
    """
    return hashlib.sha256(same_of(name).encode("utf-8", "surrogatepass")).hexdigest()


def place_of(address: str) -> str:
    """Return what counts as one address: all of an IPv6 network of 64 bits is one, as one household has it.

    Examples
    --------
    >>> place_of("192.0.2.7"), place_of("::ffff:192.0.2.7"), place_of("2001:db8::7:1")
    ('192.0.2.7', '192.0.2.7', '2001:db8::/64')
    """
    try:
        found = ipaddress.ip_address(address.partition("%")[0])
    except ValueError:
        return "unknown"
    if isinstance(found, ipaddress.IPv6Address):
        if found.ipv4_mapped is not None:
            return str(found.ipv4_mapped)
        return str(ipaddress.ip_network((found, 64), strict=False))
    return str(found)
