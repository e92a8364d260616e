"""A sender of photos in pieces, written from the protocol's page (https://tus.io/protocols/resumable-upload, 1.0.0)."""

from __future__ import annotations

import base64
from dataclasses import dataclass
from typing import Any

from tests.support.phone import Phone
from tests.support.pictures import name_of
from tests.support.wires import Answer

TUS = {"Tus-Resumable": "1.0.0"}
BYTES = {**TUS, "Content-Type": "application/offset+octet-stream"}


def said(**values: str) -> str:
    """Give an ``Upload-Metadata`` header."""
    return ",".join(
        f"{key} {base64.b64encode(text.encode()).decode()}" for key, text in values.items()
    )


@dataclass
class Sending:
    """One photo on its way from one phone."""

    phone: Phone
    content: bytes

    @property
    def sha256(self) -> str:
        return name_of(self.content)

    @property
    def path(self) -> str:
        return f"/uploads/{self.sha256}"

    def begin(self, **values: str) -> Answer:
        headers = {
            **TUS,
            "Upload-Length": str(len(self.content)),
            "Upload-Metadata": said(sha256=self.sha256, **values),
        }
        return self.phone.call("POST", "/uploads", headers=headers)

    def ask(self) -> Answer:
        return self.phone.call("HEAD", self.path, headers=TUS)

    def go_on(self, at_b: int, length_b: int, **headers: str) -> Answer:
        piece = self.content[at_b : at_b + length_b]
        sent = {**BYTES, "Upload-Offset": str(at_b), **headers}
        return self.phone.call("PATCH", self.path, content=piece, headers=sent)

    def all(self, **values: str) -> Answer:
        """Begin, and send the rest in one piece."""
        return self.go_on(offset(self.begin(**values)), len(self.content))


def offset(answer: Answer) -> int:
    assert answer.status in (200, 201, 204), answer.content
    return int(answer.headers["upload-offset"])


def problem(answer: Answer) -> tuple[int, str, Any]:
    """Give what a problem says: status, code, and the field at fault."""
    return answer.status, answer.json["type"].rsplit(":", 1)[1], answer.json.get("field")
