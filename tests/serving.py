"""A server that is bounded as the app's is, on a thread of its own."""

import threading
from contextlib import contextmanager

from dashboard.server.guard import bounded_server

PATIENCE_S = 60


@contextmanager
def serving(app):
    """The server of an app while it runs, with one thread for requests."""
    server = bounded_server(app, "127.0.0.1", 0, 1)
    thread = threading.Thread(target=server.run)
    thread.start()
    try:
        yield server
    finally:
        bell = server.trigger
        # Under its lock, or a ring of the server's own may close it between these two lines, and
        # the second would ring at a pipe that is closed.
        with bell.lock:
            bell.thunks.append(server.close)
            bell._physical_pull()
        thread.join(PATIENCE_S)
