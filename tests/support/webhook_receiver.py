"""Somebody's webhook for tests: a real HTTP server that checks each signature with the reference implementation."""

from __future__ import annotations

import json
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from typing import Any

from standardwebhooks import Webhook

from tests.support.push_receiver import Answer


@dataclass(frozen=True)
class Post:
    """A message as it arrived, its signature checked."""

    path: str
    headers: dict[str, str]
    payload: dict[str, Any]


class WebhookReceiver:
    """``answers`` are given in turn, the last for ever after; without a ``secret`` signatures are not checked."""

    def __init__(self) -> None:
        self.posts: list[Post] = []
        self.faults: list[str] = []
        self.answers: list[Answer] = [Answer(204)]
        self.secret = ""
        self._came = threading.Condition()
        receiver = self

        class Handler(BaseHTTPRequestHandler):
            def do_POST(self) -> None:
                receiver._take(self)

            def log_message(self, *_: Any) -> None:
                pass

        self.server = ThreadingHTTPServer(("127.0.0.1", 0), Handler)
        self.server.daemon_threads = True
        self.url = f"http://127.0.0.1:{self.server.server_port}/hook?yard=1"

    def wait_for(self, count: int, timeout_s: float = 30.0) -> list[Post]:
        with self._came:
            enough = self._came.wait_for(lambda: len(self.posts) >= count or self.faults, timeout_s)
        assert not self.faults, self.faults
        assert enough
        return list(self.posts)

    def _take(self, request: BaseHTTPRequestHandler) -> None:
        body = request.rfile.read(int(request.headers.get("Content-Length", "0")))
        with self._came:
            answer = self.answers.pop(0) if len(self.answers) > 1 else self.answers[0]
            headers = {name.lower(): value for name, value in request.headers.items()}
            try:
                payload = (
                    Webhook(self.secret).verify(body, headers) if self.secret else json.loads(body)
                )
                self.posts.append(Post(request.path, headers, payload))
            except Exception as error:
                self.faults.append(f"{type(error).__name__}: {error}")
            self._came.notify_all()
        if answer.stall is not None:
            answer.stall.wait(30)
        try:
            request.send_response(answer.status)
            for name, value in {"Content-Length": "0", **answer.headers}.items():
                request.send_header(name, value)
            request.end_headers()
        except OSError:
            pass  # the sender went away meanwhile


@contextmanager
def webhook_receiver() -> Iterator[WebhookReceiver]:
    """Run a receiver on a free port."""
    receiver = WebhookReceiver()
    thread = threading.Thread(target=receiver.server.serve_forever, args=(0.02,), daemon=True)
    thread.start()
    try:
        yield receiver
        assert not receiver.faults, receiver.faults
    finally:
        receiver.server.shutdown()
        receiver.server.server_close()
        thread.join()
