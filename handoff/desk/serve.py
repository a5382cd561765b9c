"""The desk's server: on this machine alone, at one address, until Ctrl-C or until it is idle.

Input: how to start. Output: nothing but the address on standard output; it returns when it is
stopped. Never prints anything about a patient.
"""

import logging
import signal
import socket
import threading
import time
import webbrowser
from collections.abc import Callable, Sequence
from pathlib import Path

from flask import Flask
from waitress import wasyncore
from waitress.channel import HTTPChannel
from waitress.server import BaseWSGIServer, MultiSocketServer, create_server

from handoff import portable
from handoff.desk import current
from handoff.desk.alone import lead_to
from handoff.desk.app import make_app
from handoff.desk.safety import LOOPBACK, MOST_FILES_BYTES, Gate
from handoff.desk.ward import Desk, Setting
from handoff.model.frozen import Frozen
from handoff.model.refused import Refused
from handoff.model.wording import DESK

THREADS = 8
MOST_CONNECTIONS = 60
LOOK_EVERY_S = 1.0
LAST_PAGE_S = 2.0
FORM_ROOM_BYTES = 1 << 20  # room in a request besides its files


class ServeError(Refused):
    """The desk cannot be started; the message says why and what to do."""


class Serving(Frozen):
    """Options of serving: `port` 0 takes any free one; with `idle_min` 0 the desk never stops by
    itself; `page` is the file of a page that leads to it.
    """

    port: int = 0
    idle_min: float = 0
    browser: bool = True
    debug: bool = False
    page: Path | None = None


def serve(
    setting: Setting, logs: Sequence[str], serving: Serving, say: Callable[[str], None]
) -> None:
    """Serve until the desk is stopped. Raises `ServeError` where the port is taken."""
    listener = _listening(serving.port)
    gate = Gate(listener.getsockname()[1])
    app = make_app(Desk(setting, logs), gate, debug=serving.debug)
    connections: dict[int, socket.socket] = {}
    server = _server(app, listener, connections)
    if serving.page:
        lead_to(gate.address, serving.page, app.jinja_env)
    say(DESK.say("serve.open", address=gate.address))
    state = current.state(app)
    before = signal.signal(signal.SIGTERM, signal.default_int_handler)
    if serving.browser:
        address = gate.address_once()
        threading.Thread(target=webbrowser.open, args=(address,), daemon=True).start()
    try:
        while _goes_on(state, serving.idle_min):
            wasyncore.loop(LOOK_EVERY_S, map=connections, count=1)
            _close_waiting(connections)
    except KeyboardInterrupt:
        pass  # Ctrl-C closes the desk, as being idle does
    finally:
        server.task_dispatcher.shutdown()
        server.close()
        signal.signal(signal.SIGTERM, before)


def _goes_on(state: current.State, idle_min: float) -> bool:
    """Whether nobody has closed the desk, or its last page is still on its way, and somebody has
    used it of late.
    """
    now = time.monotonic()
    is_open = state.closed is None or now < state.closed + LAST_PAGE_S
    return is_open and (not idle_min or now - state.last_asked < 60 * idle_min)


def _close_waiting(connections: dict[int, socket.socket]) -> None:
    """Close the connections that have been silent longest, where many have sent no whole request:
    the server takes no new ones beside a hundred, and a browser opens a closed one again.
    """
    channels = [each for each in connections.values() if isinstance(each, HTTPChannel)]
    waiting = [each for each in channels if not each.requests and not each.will_close]
    waiting.sort(key=lambda each: each.last_activity)
    for channel in waiting[: max(len(channels) - MOST_CONNECTIONS, 0)]:
        channel.will_close = True


def _listening(port: int) -> socket.socket:
    listener = socket.socket()
    try:
        portable.claim(listener)
        listener.bind((LOOPBACK, port))
    except OSError as error:
        listener.close()
        if portable.is_taken(error):
            raise ServeError(DESK.say("serve.port-taken", port=port)) from error
        why = DESK.say("serve.port-unusable", port=port, why=portable.reason(error))
        raise ServeError(why) from error
    return listener


def _server(
    app: Flask, listener: socket.socket, connections: dict[int, socket.socket]
) -> BaseWSGIServer | MultiSocketServer:
    logging.getLogger("waitress").setLevel(logging.CRITICAL)
    return create_server(
        app,
        map=connections,
        sockets=[listener],
        threads=THREADS,
        ident=None,
        max_request_body_size=MOST_FILES_BYTES + FORM_ROOM_BYTES,
    )
