"""A report page that is served, to this machine only, while its spec is edited."""

from __future__ import annotations

import json
import threading
from collections.abc import Callable
from dataclasses import dataclass, field
from html import escape
from http import HTTPStatus
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer

HOST = "127.0.0.1"
NOTHING_YET = (
    '<!doctype html><html lang="en"><meta charset="utf-8"><meta http-equiv="refresh" content="1">'
    "<title>headergen watch</title><pre>{}</pre></html>"
)


@dataclass(eq=False)
class WatchedState:
    """A state of the spec that could be checked: its number, counted from 1, and its page, made on first request.

    `figures` are its verdict and what changed, in words.
    """

    number: int
    figures: tuple[str, ...]
    make: Callable[[], str]
    lock: threading.Lock = field(default_factory=threading.Lock)
    text: str | None = None

    def page(self) -> str:
        with self.lock:
            if self.text is None:
                self.text = self.make()
            return self.text


@dataclass(eq=False)
class Board:
    """The present content: the last good state, the one before it, and the faults of the file as it is now."""

    now: WatchedState | None = None
    before: WatchedState | None = None
    complaint: str = ""

    def show(self, state: WatchedState) -> None:
        self.now, self.before, self.complaint = state, self.now, ""

    def state(self) -> str:
        number, figures = (0, ()) if self.now is None else (self.now.number, self.now.figures)
        return json.dumps({"number": number, "figures": figures, "complaint": self.complaint}, ensure_ascii=False)


def served(board: Board, port: int) -> ThreadingHTTPServer:
    """The server, running in threads that end with the process. Raises OSError if the port is not available."""

    class Answers(BaseHTTPRequestHandler):
        def do_GET(self) -> None:
            own = server.server_port
            # a page of another site whose own name leads to this address gets nothing
            if self.headers.get("Host") not in (f"{HOST}:{own}", f"localhost:{own}"):
                self._say(HTTPStatus.FORBIDDEN, "text/plain", "only for this machine")
                return
            answer = answers.get(self.path)
            if answer is None:
                self._say(HTTPStatus.NOT_FOUND, "text/plain", "there is nothing here")
                return
            try:
                self._say(HTTPStatus.OK, *answer())
            except Exception as wrong:
                self._say(HTTPStatus.INTERNAL_SERVER_ERROR, "text/plain", f"the page cannot be made: {wrong}")

        def _say(self, status: HTTPStatus, kind: str, text: str) -> None:
            content = text.encode("utf-8")
            self.send_response(status)
            self.send_header("Content-Type", f"{kind}; charset=utf-8")
            self.send_header("Content-Length", str(len(content)))
            self.send_header("Cache-Control", "no-store")
            self.end_headers()
            self.wfile.write(content)

        def log_message(self, format: str, *args: object) -> None:
            """Prints nothing: the terminal is for figures."""

    def now() -> tuple[str, str]:
        return "text/html", _page(board.now, board.complaint or "The first check is under way.")

    def before() -> tuple[str, str]:
        return "text/html", _page(board.before, "There is no state before this one.")

    answers: dict[str, Callable[[], tuple[str, str]]] = {
        "/": now,
        "/before": before,
        "/state": lambda: ("application/json", board.state()),
    }
    server = ThreadingHTTPServer((HOST, port), Answers)
    server.daemon_threads = True
    threading.Thread(target=server.serve_forever, kwargs={"poll_interval": 0.1}, daemon=True).start()
    return server


def _page(state: WatchedState | None, without: str) -> str:
    return NOTHING_YET.format(escape(without)) if state is None else state.page()
