"""The shop's server, ``python -m shopfloor.serve``: HOST, PORT and WORKERS say where it listens and with how many processes.

The program is loaded once, in the parent, and the workers are forked from it: they are there at once, also a new one for
one that died, and share the memory of what they all need. Nothing of the program that a fork can't share is open in the
parent: no connection to a database, no file, no thread. Before the first fork there is no thread at all; from then on the
server keeps one for each worker, which only waits for its end. On a system that does not fork (macOS) each worker loads the
program by itself.
"""

from __future__ import annotations

import gc
import os
import sys
from importlib import import_module

from granian.constants import Interfaces
from granian.http import HTTP1Settings, HTTP2Settings
from granian.log import LogLevels, logger
from granian.server import Server

PROGRAM = "shopfloor.wsgi:application"


def load_program() -> None:
    """Everything a request can need that is the same for all, before there is a request."""
    # Hardly anything that is loaded is ever thrown away again: looking for it costs time, here and at every later look, and
    # writes into memory that the workers could share.
    gc.disable()
    import_module(PROGRAM.partition(":")[0])
    from django.urls import get_resolver

    from shopfloor.health.views import wanted_migrations

    get_resolver().reverse_dict  # noqa: B018 - loads every page and knows its address
    wanted_migrations()
    gc.freeze()
    gc.enable()


def number_of(name: str, usual: int, most: int, what: str) -> int:
    """A number from the environment; anything else ends the program with a sentence, before anything is loaded."""
    words = os.environ.get(name, str(usual))
    if not (words.isascii() and words.isdigit() and len(words) <= len(str(most)) and 0 < int(words) <= most):
        sys.exit(
            f"{name}={words} is no {what}. Set the variable {name} to a number from 1 to {most}: "
            f"{name}={usual} make run, or for a container --env {name}={usual}"
        )
    return int(words)


def main() -> None:
    workers = number_of("WORKERS", 4, 999, "number of processes")
    port = number_of("PORT", 8000, 65535, "port")
    # More processes than cores is meant (see the Makefile); whoever starts the shop need not wonder.
    logger.addFilter(lambda record: "CPU cores" not in record.getMessage())
    load_program()
    Server(
        PROGRAM,
        address=os.environ.get("HOST", "127.0.0.1"),
        port=port,
        interface=Interfaces.WSGI,
        workers=workers,
        blocking_threads=1,
        respawn_failed_workers=True,
        workers_kill_timeout=10,
        websockets=False,
        # Said, since without them a client may take for ever to send its headers.
        http1_settings=HTTP1Settings(),
        http2_settings=HTTP2Settings(),
        log_level=LogLevels.warning,
    ).serve()


if __name__ == "__main__":
    main()
