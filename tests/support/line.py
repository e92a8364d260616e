"""A line between phones and a server that breaks where a test wants it to, and counts what passes of photos."""

from __future__ import annotations

import re
import socket
import threading
from contextlib import suppress
from types import TracebackType

_LENGTH = re.compile(rb"\r\ncontent-length: *(\d+)", re.IGNORECASE)
_PIECE = re.compile(rb"PATCH [^ ]*/uploads/")


class Line:
    """Passes bytes on to a port of this machine.

    ``sent_b`` counts the bytes of photos' pieces that were passed on. After ``break_after`` of them the line breaks:
    all connections end, and new ones find nobody until ``mend``.
    """

    def __init__(self, port: int) -> None:
        self._port = port
        self._listener = socket.create_server(("127.0.0.1", 0))
        self.address = f"http://127.0.0.1:{self._listener.getsockname()[1]}"
        self.sent_b = 0
        self._left_b: int | None = None
        self.broken = threading.Event()
        self._ends: set[socket.socket] = set()
        self._lock = threading.Lock()

    def __enter__(self) -> Line:
        threading.Thread(target=self._listen, daemon=True).start()
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self._listener.close()
        self._break()

    def break_after(self, photo_b: int) -> None:
        """Let so many more bytes of photos pass."""
        with self._lock:
            self._left_b = photo_b

    def mend(self) -> None:
        """Let the line hold."""
        with self._lock:
            self._left_b = None
        self.broken.clear()

    def _break(self) -> None:
        self.broken.set()
        with self._lock:
            ends, self._ends = self._ends, set()
        for one in ends:
            _close(one)

    def _listen(self) -> None:
        while True:
            try:
                phone, _ = self._listener.accept()
            except OSError:
                return
            if self.broken.is_set():
                _close(phone)
                continue
            try:
                server = socket.create_connection(("127.0.0.1", self._port))
            except OSError:
                _close(phone)
                continue
            with self._lock:
                self._ends |= {phone, server}
            for work in (self._up, self._down):
                threading.Thread(target=work, args=(phone, server), daemon=True).start()

    def _down(self, phone: socket.socket, server: socket.socket) -> None:
        with suppress(OSError):
            while piece := server.recv(65536):
                phone.sendall(piece)
        self._end(phone, server)

    def _up(self, phone: socket.socket, server: socket.socket) -> None:
        with suppress(OSError):
            self._requests(phone, server)
        self._end(phone, server)

    def _requests(self, phone: socket.socket, server: socket.socket) -> None:
        """Pass on one request after the other."""
        rest = b""
        while True:
            while b"\r\n\r\n" not in rest:
                piece = phone.recv(65536)
                if not piece:
                    return
                rest += piece
            head, _, rest = rest.partition(b"\r\n\r\n")
            server.sendall(head + b"\r\n\r\n")
            length = _LENGTH.search(head)
            is_piece = _PIECE.match(head) is not None
            rest = self._body(phone, server, rest, int(length[1]) if length else 0, is_piece)

    def _body(
        self,
        phone: socket.socket,
        server: socket.socket,
        rest: bytes,
        length_b: int,
        is_piece: bool,
    ) -> bytes:
        while length_b > 0:
            if not rest:
                rest = phone.recv(65536)
                if not rest:
                    raise OSError("the phone is gone")
            part, rest = rest[:length_b], rest[length_b:]
            length_b -= len(part)
            server.sendall(self._counted(part) if is_piece else part)
            if self.broken.is_set():
                raise OSError("the line broke")
        return rest

    def _counted(self, part: bytes) -> bytes:
        with self._lock:
            if self._left_b is not None:
                part = part[: self._left_b]
                self._left_b -= len(part)
            self.sent_b += len(part)
            over = self._left_b == 0
        if over:
            self.broken.set()
        return part

    def _end(self, phone: socket.socket, server: socket.socket) -> None:
        if self.broken.is_set():
            self._break()
        for one in (phone, server):
            with self._lock:
                self._ends.discard(one)
            _close(one)


def _close(end: socket.socket) -> None:
    with suppress(OSError):  # it is closed already
        end.shutdown(socket.SHUT_RDWR)
    end.close()
