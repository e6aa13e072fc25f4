"""Django's PostgreSQL, asked once less with each request: whether it is still there."""

from __future__ import annotations

import select

from django.db.backends.postgresql import base


class DatabaseWrapper(base.DatabaseWrapper):
    """Django asks a kept connection with a query of its own before it uses it anew, which took a twelfth of a tap.

    A server that ended a connection has said so on it, and nothing else arrives on one that is idle. Only when something
    is there to read is the server asked.
    """

    def is_usable(self) -> bool:
        if self.connection is None or self.connection.closed:
            return False
        waiting = select.poll()
        waiting.register(self.connection.fileno(), select.POLLIN)
        return not waiting.poll(0) or super().is_usable()
