"""The server as it is served, on a free port of this machine while a block runs: for pictures and for tests."""

from __future__ import annotations

import logging
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any

from waitress import wasyncore
from waitress.server import create_server

from dashboard.commands import BOUNDS, THREADS


@contextmanager
def serving(app: Callable[..., Any]) -> Iterator[str]:
    """Serve a WSGI app on loopback while the block runs, and give its address.

    At the end the server's own thread closes every connection it holds, so that none is closed under its hands, and
    no thread and no open file is left behind.
    """
    logging.getLogger("waitress.queue").setLevel(logging.ERROR)  # a page asks for all its files at once
    server = create_server(app, host="127.0.0.1", port=0, threads=THREADS, ident=None, **BOUNDS)
    thread = threading.Thread(target=server.run, daemon=True)
    thread.start()
    try:
        yield f"http://127.0.0.1:{server.effective_port}"
    finally:
        server.trigger.pull_trigger(lambda: wasyncore.close_all(server._map))
        thread.join(timeout=10)
        server.task_dispatcher.shutdown()
