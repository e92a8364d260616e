"""Takes the pictures in docs/pictures: a demo of its own on a free port, looked at with phones and laptops.

``make pictures`` runs it. Each picture says who looks, through what, at which address, and on what it waits there;
a hook that never comes stops the script, so that no picture shows half a screen.
"""

from __future__ import annotations

import argparse
import re
import tempfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from PIL import Image
from playwright.sync_api import Browser, Page, sync_playwright
from tests.support.server import Server

from tackwatch.app import create_app
from tackwatch.settings import Settings
from tackwatch.store import schema
from tackwatch.work.demo import begin_demo
from tackwatch.work.ports import system_ports

PICTURES = Path(__file__).parents[1] / "docs" / "pictures"
CHROMIUM = "/usr/bin/chromium"
PHONE: dict[str, Any] = {
    "viewport": {"width": 360, "height": 740},
    "is_mobile": True,
    "has_touch": True,
    "device_scale_factor": 2,
}
LAPTOP: dict[str, Any] = {"viewport": {"width": 1280, "height": 800}}
WAIT_MS = 20_000
# A plan is worked out as soon as the demo is served, and after that the forecast; the first time code is compiled too.
PLAN_MS = 240_000
# A screen has few colours, and a picture of it in as many is a third as large.
COLOURS = 64


@dataclass(frozen=True)
class Picture:
    """One picture: ``who`` looks at ``place``, after tapping the ``taps``, once all ``hooks`` are in sight."""

    name: str
    who: str
    place: str
    hooks: tuple[str, ...]
    taps: tuple[str, ...] = ()
    laptop: bool = False
    wait_ms: int = WAIT_MS


ON_SHOW = (
    Picture("phone-now", "owner", "now", ("screen-now", "launch", "clock")),
    Picture("phone-now-painter", "painter", "now", ("screen-now", "clock", "step")),
    Picture("phone-now-hand", "hand", "now", ("screen-now", "step")),
    Picture("phone-work", "hand", "work", ("screen-work", "job")),
    Picture("phone-job", "hand", "work", ("screen-job", "steps"), taps=("job",)),
    Picture("phone-coat", "painter", "log/coat", ("screen-log", "coat-start")),
    Picture("phone-mix", "hand", "log/mix", ("screen-log", "mix-base")),
    Picture("phone-reading", "hand", "log/reading", ("screen-log", "reading-air")),
    Picture("phone-found", "hand", "log/found", ("screen-log", "found-title")),
    Picture("phone-crew", "owner", "crew", ("screen-crew", "people")),
    Picture("phone-plan", "owner", "plan", ("plan-chance", "plan-days"), wait_ms=PLAN_MS),
    Picture("phone-plan-times", "owner", "plan/times", ("plan-timeline", "plan-bar")),
    Picture("phone-plan-done", "owner", "plan/done", ("plan-burn-up",)),
    Picture("phone-settle", "owner", "settle", ("screen-settle", "sending")),
    Picture("laptop-now", "owner", "now", ("screen-now", "stands", "latest"), laptop=True),
    Picture("laptop-work", "owner", "work", ("screen-work", "zone-slab"), laptop=True),
    Picture("laptop-partner", "partner", "now", ("screen-now", "launch"), laptop=True),
)


def main() -> None:
    """Take them all."""
    given = argparse.ArgumentParser(description=__doc__)
    given.add_argument("--into", type=Path, default=PICTURES, help="folder for the pictures")
    given.add_argument("--only", default="", help="only those whose name matches this pattern")
    asked = given.parse_args()
    wanted = [one for one in ON_SHOW if re.search(asked.only, one.name)]
    asked.into.mkdir(parents=True, exist_ok=True)
    with (
        tempfile.TemporaryDirectory() as folder,
        demo(Path(folder)) as links,
        chromium() as browser,
    ):
        people = _People(browser, links)
        for one in wanted:
            place = asked.into / f"{one.name}.png"
            take(people.page(one.who, laptop=one.laptop), one, place)
            print(f"{place.name}: {place.stat().st_size // 1024} kB")


@contextmanager
def demo(folder: Path) -> Iterator[Callable[[], dict[str, str]]]:
    """Serve a demo refit; give what gives fresh sign-in links."""
    with Server(folder, "", "--workers", "1") as server:
        settings = Settings(folder, f"sqlite:///{folder / 'tackwatch.sqlite3'}", server.address)
        app = create_app(settings)

        def links() -> dict[str, str]:
            with app.app_context():
                return {one.role: one.link for one in begin_demo(server.address, system_ports())}

        yield links
        with app.app_context():
            schema.let_go()


@contextmanager
def chromium() -> Iterator[Browser]:
    """Start a browser."""
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox"])
        yield browser
        browser.close()


class _People:
    """Everybody's phones and laptops, each signed in when it is first looked through."""

    def __init__(self, browser: Browser, links: Callable[[], dict[str, str]]) -> None:
        self._browser = browser
        self._links = links
        self._pages: dict[tuple[str, bool], Page] = {}

    def page(self, who: str, *, laptop: bool) -> Page:
        """Give the page of somebody who is signed in on a phone or on a laptop."""
        if (who, laptop) not in self._pages:
            self._pages[who, laptop] = self._join(who, LAPTOP if laptop else PHONE)
        return self._pages[who, laptop]

    def _join(self, who: str, screen: dict[str, Any]) -> Page:
        context = self._browser.new_context(**screen, locale="en-GB", timezone_id="Europe/Lisbon")
        page = context.new_page()
        page.goto(self._links()[who])
        page.get_by_test_id("join").click()
        page.get_by_test_id("screen-now").wait_for(timeout=WAIT_MS)
        page.get_by_test_id("sync-state").wait_for(timeout=WAIT_MS)
        return page


def take(page: Page, picture: Picture, place: Path) -> None:
    """Take one picture."""
    page.goto(f"{page.url.partition('#')[0]}#/{picture.place}")
    for hook in picture.taps:
        page.get_by_test_id(hook).first.click(timeout=picture.wait_ms)
    for hook in picture.hooks:
        page.get_by_test_id(hook).first.wait_for(timeout=picture.wait_ms)
    page.evaluate("document.fonts.ready")
    page.wait_for_timeout(400)
    page.screenshot(path=place)
    with Image.open(place) as whole:
        whole.quantize(COLOURS, method=Image.Quantize.FASTOCTREE).save(place, optimize=True)


if __name__ == "__main__":
    main()
