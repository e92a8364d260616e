"""The built client: its page, its hashed files, its service worker.

Rules
-----
- What lies under ``assets/`` has its hash in its name and is kept for a year; everything else is asked for anew.
- Where a packed twin (``.gz``) lies beside a file and the browser takes it, the twin is sent.
"""

from __future__ import annotations

from pathlib import Path

from flask import Blueprint, Response, abort, request, send_file
from werkzeug.routing import PathConverter
from werkzeug.security import safe_join

blueprint = Blueprint("web", __name__)

BUILT = Path(__file__).parents[1] / "web"
_TYPES = {
    ".html": "text/html; charset=utf-8",
    ".js": "text/javascript; charset=utf-8",
    ".css": "text/css; charset=utf-8",
    ".json": "application/json",
    ".webmanifest": "application/manifest+json",
    ".svg": "image/svg+xml",
    ".png": "image/png",
    ".ico": "image/x-icon",
    ".woff2": "font/woff2",
    ".txt": "text/plain; charset=utf-8",
}
_NOT_BUILT = """<!doctype html>
<html lang="en"><meta charset="utf-8"><title>Tackwatch</title>
<h1>The app has not been built</h1>
<p>The server runs, and its API answers at <a href="/api/health">/api/health</a>. To get the app, run
<code>npm ci</code> and <code>npm run build</code> in the folder <code>client</code>, then reload this page.</p>
</html>
"""


class ClientFile(PathConverter):
    """Any path but those of the API, where a missing door is to be told apart from a door that is used wrongly."""

    regex = "(?!api/)[^/].*?"


@blueprint.get("/")
def index() -> Response:
    """Give the page."""
    if not (BUILT / "index.html").is_file():
        return Response(_NOT_BUILT, status=503, mimetype="text/html")
    return file("index.html")


@blueprint.get("/<client_file:name>")
def file(name: str) -> Response:
    """Give one of the client's files."""
    place = safe_join(str(BUILT), name)
    if place is None or not Path(place).is_file() or "\x00" in name:
        abort(404)
    path = Path(place)
    media_type = _TYPES.get(path.suffix)
    if media_type is None:
        abort(404)
    twin = path.with_name(path.name + ".gz")
    packed = twin.is_file() and request.accept_encodings.quality("gzip") > 0
    answer = send_file(twin if packed else path, mimetype=media_type, conditional=True)
    if packed:
        answer.headers["Content-Encoding"] = "gzip"
    answer.vary.add("Accept-Encoding")
    kept = name.startswith("assets/")
    answer.headers["Cache-Control"] = "public, max-age=31536000, immutable" if kept else "no-cache"
    return answer
