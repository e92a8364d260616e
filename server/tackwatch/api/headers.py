"""Headers that every answer carries, and packing of JSON answers.

The page may load only what this server gives it (strict CSP, no inline script or style), may not be framed, and tells
nobody where it came from. Answers of the API are never kept by caches. An answer without a body has nothing that could
be framed or taken for something else, and is sent by the thousand: it carries only what still counts.
"""

from __future__ import annotations

import gzip

from flask import Flask, Response, request

PAGE_POLICY = "; ".join(
    (
        "default-src 'self'",
        "img-src 'self' blob: data:",
        "connect-src 'self'",
        "object-src 'none'",
        "base-uri 'none'",
        "form-action 'none'",
        "frame-ancestors 'none'",
    )
)
_API_POLICY = "default-src 'none'; frame-ancestors 'none'"
_COMMON = {
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
    "Referrer-Policy": "no-referrer",
    "Permissions-Policy": "camera=(self), geolocation=(), microphone=(), payment=(), usb=()",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
}
_BODILESS = (204, 304)
_WORTH_PACKING = 500
_SMALL = 16_000
_PACKED_TYPES = ("application/json", "application/problem+json")


def install(app: Flask) -> None:
    """Let every answer of an application carry the headers."""
    app.after_request(_pack)
    app.after_request(_guard)


def _guard(answer: Response) -> Response:
    is_api = request.path.startswith("/api/")
    if answer.status_code not in _BODILESS:
        for name, value in _COMMON.items():
            answer.headers.setdefault(name, value)
        answer.headers.setdefault("Content-Security-Policy", _API_POLICY if is_api else PAGE_POLICY)
    if is_api:
        answer.headers.setdefault("Cache-Control", "no-store")
    if request.is_secure:
        answer.headers.setdefault("Strict-Transport-Security", "max-age=31536000")
    return answer


def _pack(answer: Response) -> Response:
    """Pack a JSON answer if that is worth while and the client takes it."""
    if answer.mimetype not in _PACKED_TYPES or answer.is_streamed or answer.direct_passthrough:
        return answer
    answer.vary.add("Accept-Encoding")
    if request.accept_encodings.quality("gzip") <= 0 or "Content-Encoding" in answer.headers:
        return answer
    content = answer.get_data()
    if len(content) > _WORTH_PACKING:
        answer.set_data(gzip.compress(content, compresslevel=_level(content), mtime=0))
        answer.headers["Content-Encoding"] = "gzip"
    return answer


def _level(content: bytes) -> int:
    """Take the most pains with what is small: it costs nothing there."""
    return 9 if len(content) < _SMALL else 5
