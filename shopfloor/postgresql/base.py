"""Django's PostgreSQL, asked once less with each request: whether it is still there."""

from __future__ import annotations

import select
from time import monotonic

from django.db.backends.postgresql import base

LONGEST_UNASKED_S = 60


class DatabaseWrapper(base.DatabaseWrapper):
    """Django asks a kept connection with a query of its own before it uses it anew, which took a twelfth of a tap.

    A server that ended a connection has said so on it, and nothing else arrives on one that is idle. So the server is
    asked when something is there to read. It is asked as well when the connection was not used for a minute, since one
    whose power failed, or behind a firewall that forgot the connection, says nothing; and after an error, whatever it was.
    """

    _good_at = 0.0  # when it was last made, or found usable to be used at once

    def connect(self) -> None:
        super().connect()
        self._good_at = monotonic()

    def is_usable(self) -> bool:
        if self.connection is None or self.connection.closed:
            return False
        usable = self._is_surely_there() or super().is_usable()
        if usable:
            self._good_at = monotonic()
        return usable

    def _is_surely_there(self) -> bool:
        if self.errors_occurred or monotonic() - self._good_at > LONGEST_UNASKED_S:
            return False
        waiting = select.poll()
        waiting.register(self.connection.fileno(), select.POLLIN)
        return not waiting.poll(0)
