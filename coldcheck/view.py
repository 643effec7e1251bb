"""The live page: served on this machine alone, made anew when the plan is saved.

A browser asks for what has changed since the page that it shows, and waits. When a plan can no longer be read, the
last good page stays, with what is wrong above it.
"""

from __future__ import annotations

import contextlib
import json
import threading
from collections.abc import Callable
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from typing import Any
from urllib.parse import parse_qs, urlsplit

__all__ = ["Live", "serve"]

HOST = "127.0.0.1"
#: So long an unanswered question for changes is held [s].
PATIENCE = 20.0

#: What is added to a served page; it may ask this server, and no other.
_SCRIPT = """
<script>
"use strict";
(async () => {
  const number = %d;
  const find = document.getElementById("find");
  const key = "coldcheck view";
  try {
    const kept = JSON.parse(sessionStorage.getItem(key));
    if (kept) {
      sessionStorage.removeItem(key);
      if (kept.find) { find.value = kept.find; find.dispatchEvent(new Event("input")); }
      scrollTo(0, kept.y);
    }
  } catch {}
  const told = document.createElement("pre");
  told.className = "not broken";
  told.setAttribute("role", "alert");
  const show = (text) => { told.textContent = text; text ? document.body.prepend(told) : told.remove(); };
  let seen = number, broken = %s;
  show(broken);
  for (;;) {
    try {
      const answer = await (await fetch(`/changes?after=${seen}`, { cache: "no-store" })).json();
      seen = answer.number;
      if (answer.page !== number) {
        sessionStorage.setItem(key, JSON.stringify({ find: find.value, y: scrollY }));
        return location.reload();
      }
      show(answer.broken);
    } catch {
      show("coldcheck view has stopped; this is the last page that it gave");
      await new Promise((done) => setTimeout(done, 1000));
    }
  }
})();
</script>
"""


class Live:
    """What is served: the last good page, what is wrong with the plan since, and the number of the last change."""

    def __init__(self) -> None:
        self._changed = threading.Condition()
        self._page = ""
        self._broken = ""
        self._number = 0
        self._page_number = 0
        self._ended = False

    def put(self, page: str | None, broken: str) -> None:
        """Take the outcome of a change: a page, or None and why there is none."""
        with self._changed:
            self._number += 1
            self._broken = broken
            if page is not None:
                self._page, self._page_number = page, self._number
            self._changed.notify_all()

    def end(self) -> None:
        """Let go of everyone who waits."""
        with self._changed:
            self._ended = True
            self._changed.notify_all()

    def page(self) -> str:
        """Return the page as it is served."""
        with self._changed:
            broken = json.dumps(self._broken).replace("<", "\\u003c")
            script = _SCRIPT % (self._page_number, broken)
            page = self._page or _EMPTY
            return page.replace("default-src 'none';", "default-src 'none'; connect-src 'self';", 1).replace(
                "</body>", f"{script}</body>", 1
            )

    def after(self, number: int) -> dict[str, Any]:
        """Return the state once it is another than that of a number, or after a while."""
        with self._changed:
            self._changed.wait_for(lambda: self._ended or self._number != number, PATIENCE)
            return {"number": self._number, "page": self._page_number, "broken": self._broken}


_EMPTY = """<!doctype html><html lang="en"><head><meta charset="utf-8"><title>coldcheck view</title></head>
<body><input id="find" type="hidden"></body></html>"""


def serve(live: Live, port: int, ready: Callable[[str], None], watch: Callable[[], None]) -> None:
    """Serve until ``watch`` returns.

    Args:
        live: what is served.
        port: on loopback; 0 for any that is free.
        ready: is told the address.
        watch: puts changes into ``live``; runs in this thread.

    Raises:
        OSError: the port is taken.
    """
    server = ThreadingHTTPServer((HOST, port), type("Handler", (_Handler,), {"live": live}))
    server.daemon_threads = True
    thread = threading.Thread(target=server.serve_forever, kwargs={"poll_interval": 0.1}, daemon=True)
    thread.start()
    try:
        ready(f"http://{HOST}:{server.server_port}/")
        watch()
    finally:
        live.end()
        server.shutdown()
        server.server_close()


class _Handler(BaseHTTPRequestHandler):
    live: Live

    def do_GET(self) -> None:
        """Answer with the page, or with what has changed."""
        # a page of elsewhere must not get at this one by giving its own name our address
        if self.headers.get("Host", "").partition(":")[0] not in (HOST, "localhost"):
            self._answer(403, "text/plain", "this page is for this machine alone\n")
            return
        asked = urlsplit(self.path)
        if asked.path == "/":
            self._answer(200, "text/html", self.live.page())
        elif asked.path == "/changes":
            number = parse_qs(asked.query).get("after", ["0"])[0]
            found = self.live.after(int(number) if number.isascii() and number.isdigit() else 0)
            self._answer(200, "application/json", json.dumps(found))
        elif asked.path == "/favicon.ico":
            self._answer(204, "text/plain", "")
        else:
            self._answer(404, "text/plain", "there is only one page here: /\n")

    def _answer(self, status: int, kind: str, text: str) -> None:
        body = text.encode()
        with contextlib.suppress(ConnectionError):  # who asked has gone
            self.send_response(status)
            self.send_header("Content-Type", f"{kind}; charset=utf-8")
            self.send_header("Content-Length", str(len(body)))
            self.send_header("Cache-Control", "no-store")
            self.send_header("X-Content-Type-Options", "nosniff")
            self.end_headers()
            self.wfile.write(body)

    def log_message(self, format: str, *args: Any) -> None:
        """Say nothing: the terminal is for what is found."""
