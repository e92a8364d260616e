"""What a phone's browser takes to keep ten thousand rows and to read them again: one by one, and as a page's text."""

from __future__ import annotations

import json
import random
import tempfile
import threading
from functools import partial
from http.server import SimpleHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from typing import Any

from playwright.sync_api import sync_playwright
from tools.bench.rows import Row, rows

from tackwatch.store.tables import Tables

COUNT = 10_000
STAMP = "019c2f3a4b5c0000-7h2k9m3p4q5r"
ROUNDS = 3

_SCRIPT = """async (rounds) => {
  const rows = await (await fetch("/rows.json")).json();
  const text = await (await fetch("/page.json")).text();
  const open = (name) => new Promise((resolve) => {
    const asked = indexedDB.open(name, 1);
    asked.onupgradeneeded = () => {
      asked.result.createObjectStore("rows", { keyPath: ["kind", "id"] });
      asked.result.createObjectStore("blocks", { keyPath: "number" });
    };
    asked.onsuccess = () => resolve(asked.result);
  });
  const write = (db, name, values) => new Promise((resolve) => {
    const tx = db.transaction(name, "readwrite");
    for (const value of values) tx.objectStore(name).put(value);
    tx.oncomplete = resolve;
  });
  const read = (db, name) => new Promise((resolve) => {
    const asked = db.transaction(name).objectStore(name).getAll();
    asked.onsuccess = () => resolve(asked.result);
  });
  const timed = async (what) => {
    const began = performance.now();
    await what();
    return performance.now() - began;
  };
  const least = [Infinity, Infinity, Infinity, Infinity];
  for (let n = 0; n < rounds; n++) {
    const db = await open(`round-${n}`);
    const took = [
      await timed(() => write(db, "blocks", [{ number: 0, text }])),
      await timed(() => write(db, "rows", rows)),
      await timed(async () => JSON.parse((await read(db, "blocks"))[0].text)),
      await timed(() => read(db, "rows")),
    ];
    took.forEach((ms, i) => { least[i] = Math.min(least[i], ms); });
  }
  return least;
}"""


class _Quiet(SimpleHTTPRequestHandler):
    def log_message(self, *_: Any) -> None:
        """Say nothing."""


def main() -> None:
    """Measure in Chromium and print."""
    made = rows(COUNT, random.Random(7))
    with tempfile.TemporaryDirectory() as folder:
        _lay_out(Path(folder), made)
        server = ThreadingHTTPServer(("127.0.0.1", 0), partial(_Quiet, directory=folder))
        threading.Thread(target=server.serve_forever, daemon=True).start()
        kept, kept_rows, read, read_rows = _in_chromium(server.server_port)
        server.shutdown()
    _tell("kept in the browser", kept, kept_rows)
    _tell("read again", read, read_rows)


def _tell(what: str, page_ms: float, rows_ms: float) -> None:
    ratio = rows_ms / page_ms
    print(
        f"{COUNT:,} rows {what}: {page_ms:.0f} ms as a page, {rows_ms:.0f} ms one by one: {ratio:.0f} x"
    )


def _lay_out(folder: Path, made: list[Row]) -> None:
    tables = Tables()
    for row in made:
        tables.item(row["kind"], row["id"], STAMP, json.dumps(row["fields"]), "{}", "{}")
    single = [{**row, "at": STAMP, "stamps": {}, "sets": {}} for row in made]
    (folder / "page.json").write_text(tables.as_json())
    (folder / "rows.json").write_text(json.dumps(single))
    (folder / "index.html").write_text("<!doctype html><title>rows</title>")


def _in_chromium(port: int) -> list[float]:
    with sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path="/usr/bin/chromium", args=["--no-sandbox"])
        page = browser.new_page()
        page.goto(f"http://127.0.0.1:{port}/")
        took = page.evaluate(_SCRIPT, ROUNDS)
        browser.close()
    return list(took)
