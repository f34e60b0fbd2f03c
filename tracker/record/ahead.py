"""One part read while the one before it is being kept."""

from __future__ import annotations

import queue
import threading
from collections.abc import Iterable, Iterator
from typing import TypeVar

Part = TypeVar("Part")


class _Ended:
    """What is put behind the last part: how reading ended."""

    def __init__(self, fault: Exception | None) -> None:
        self.fault = fault


def read_ahead(parts: Iterable[Part]) -> Iterator[Part]:
    """Yield the parts in order; the next one is read in a thread meanwhile, and no more than that one.

    A fault in reading is raised here, after the parts before it. Whoever stops early stops the reading too.
    """
    ready: queue.Queue[Part | _Ended] = queue.Queue(maxsize=1)
    given_up = threading.Event()

    def put(item: Part | _Ended) -> bool:
        while not given_up.is_set():
            try:
                ready.put(item, timeout=0.1)
            except queue.Full:
                continue
            return True
        return False

    def read() -> None:
        fault: Exception | None = None
        try:
            for part in parts:
                if not put(part):
                    return
        except Exception as error:  # noqa: BLE001 - raised again where the parts are taken
            fault = error
        put(_Ended(fault))

    reader = threading.Thread(target=read, name="readings read ahead", daemon=True)
    reader.start()
    try:
        while not isinstance(item := ready.get(), _Ended):
            yield item
        if item.fault is not None:
            raise item.fault
    finally:
        given_up.set()
        reader.join()
