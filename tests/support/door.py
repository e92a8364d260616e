"""A real door for tests: the application behind HTTP in this process, where what passes can be spoilt or lost."""

from __future__ import annotations

import io
import socket
import threading
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from types import TracebackType
from typing import Any

from flask import Flask
from werkzeug.serving import WSGIRequestHandler, make_server
from werkzeug.wrappers import Request, Response

Spoil = Callable[[Request], Response | None]


@dataclass
class Seen:
    """One request that came through, and the headers of what was answered."""

    method: str
    path: str
    headers: dict[str, str]
    content: bytes
    answered: dict[str, str] = field(default_factory=dict)


class Door:
    """Serves an application.

    ``before`` may answer in the place of the application; ``after`` is called when the application has done its work,
    and then ``lose`` says whether its answer is lost.
    """

    def __init__(self, app: Flask) -> None:
        self.before: Spoil = lambda _: None
        self.after: Callable[[Request], object] = lambda _: None
        self.lose: Callable[[Request], bool] = lambda _: False
        self.seen: list[Seen] = []
        self._app = app
        self._server = make_server(
            "127.0.0.1", 0, self._answer, threaded=True, request_handler=_Quiet
        )
        self.address = f"http://127.0.0.1:{self._server.server_port}"
        self._thread = threading.Thread(target=self._server.serve_forever, daemon=True)

    def __enter__(self) -> Door:
        self._thread.start()
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self._server.shutdown()
        self._thread.join()
        self._server.server_close()

    def exchanges(self) -> list[Seen]:
        return [one for one in self.seen if one.path.endswith("/sync")]

    def _answer(self, environ: dict[str, Any], start: Any) -> Iterable[bytes]:
        content = Request(environ).get_data()
        request = Request({**environ, "wsgi.input": io.BytesIO(content)})
        seen = Seen(request.method, request.path, dict(request.headers), content)
        self.seen.append(seen)
        answer = self.before(request)
        if answer is None:
            answer = Response.from_app(self._app, {**environ, "wsgi.input": io.BytesIO(content)})
            seen.answered = {name.lower(): value for name, value in answer.headers.items()}
            self.after(request)
            if self.lose(request):
                environ["werkzeug.socket"].shutdown(socket.SHUT_RDWR)
        return answer(environ, start)


class _Quiet(WSGIRequestHandler):
    """Writes no log."""

    def log(self, *_: Any) -> None:
        pass
