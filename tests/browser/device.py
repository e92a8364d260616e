"""A device with a screen in somebody's hand: a phone or a laptop, used by taps and typing alone.

What the page does is looked at from outside: its texts, its alarms, and what it asked the phone to sound and shake.
"""

from __future__ import annotations

import re
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

from playwright.sync_api import Browser, BrowserContext, Locator, Page, expect

from tests.support.phone import Phone
from tests.support.wires import HttpWire

PHONE = {
    "viewport": {"width": 360, "height": 740},
    "is_mobile": True,
    "has_touch": True,
    "device_scale_factor": 2,
}
LAPTOP = {"viewport": {"width": 1280, "height": 800}}
YARD_ZONE = "Europe/Lisbon"

# Counts what the page asks the phone to do, and lets it do so.
_SPY = """
globalThis.asked = { sounds: 0, shakes: 0 };
const start = OscillatorNode.prototype.start;
OscillatorNode.prototype.start = function (...when) {
  globalThis.asked.sounds += 1;
  return start.apply(this, when);
};
Object.defineProperty(Navigator.prototype, "vibrate", {
  value: () => { globalThis.asked.shakes += 1; return true; },
});
"""


class Device:
    """One browser of its own, with its own storage, signal, clock and time zone."""

    def __init__(
        self,
        browser: Browser,
        address: str,
        shape: dict[str, Any],
        *,
        language: str = "en-GB",
        zone: str = YARD_ZONE,
        clock: bool = False,
        **options: Any,
    ) -> None:
        self.address = address
        self.touch = bool(shape.get("has_touch"))
        self.taps = 0
        self.wrong: list[str] = []
        self.context: BrowserContext = browser.new_context(
            **shape, locale=language, timezone_id=zone, **options
        )
        self.context.set_default_timeout(15_000)
        self.context.add_init_script(_SPY)
        self.page: Page = self.context.new_page()
        if clock:
            self.page.clock.install()
        self.page.on("pageerror", lambda error: self.wrong.append(str(error)))
        self.page.on("console", lambda line: self._heard(line.type, line.text))

    def _heard(self, kind: str, text: str) -> None:
        harmless = text.startswith("Failed to load resource")
        if kind == "error" and not harmless:
            self.wrong.append(text)

    def close(self) -> None:
        self.context.close()
        assert self.wrong == [], self.wrong

    # --- looking -----------------------------------------------------------------------------------------------------

    def see(self, testid: str, **data: str) -> Locator:
        """Give what stands on the screen under a name, with these data attributes."""
        more = "".join(f'[data-{name}="{value}"]' for name, value in data.items())
        return self.page.locator(f'[data-testid="{testid}"]{more}')

    @property
    def sync_words(self) -> Locator:
        return self.see("sync-state")

    @property
    def asked(self) -> dict[str, int]:
        """How often the page asked for a sound and for a shake since it was loaded."""
        found: dict[str, int] = self.page.evaluate("globalThis.asked")
        return found

    def rang(self, times: int) -> None:
        """Wait until the page says that it rang so often since it was loaded."""
        html = self.page.locator("html")
        if times:
            expect(html).to_have_attribute("data-rang", str(times))
        else:
            expect(html).not_to_have_attribute("data-rang", re.compile("."))

    def screenshot(self, path: Path) -> None:
        self.page.screenshot(path=path, full_page=True)

    # --- doing -------------------------------------------------------------------------------------------------------

    def open(self, place: str) -> None:
        self.page.goto(self.address + place)

    def tap(self, what: str | Locator, **data: str) -> None:
        """Tap one thing, and count it."""
        target = self.see(what, **data) if isinstance(what, str) else what
        self.taps += 1
        if self.touch:
            target.tap()
        else:
            target.click()

    def type(self, testid: str, text: str, within: Locator | None = None) -> None:
        field = (within or self.page).locator(f'[data-testid="{testid}"]')
        field.fill(text)

    def pick(self, testid: str, label: str, within: Locator | None = None) -> None:
        """Choose from a list by what it says."""
        (within or self.page).locator(f'[data-testid="{testid}"]').select_option(label=label)

    def choose(self, testid: str, value: str, within: Locator | None = None) -> None:
        """Choose one of the answers that stand side by side."""
        answers = (within or self.page).locator(f'[data-testid="{testid}"]')
        self.tap(answers.locator(f'label:has(input[value="{value}"])'))

    def reload(self) -> None:
        self.page.reload()

    def signal(self, there: bool) -> None:
        self.context.set_offline(not there)

    def ready_for_no_signal(self) -> None:
        """Wait until the service worker has taken the page."""
        self.page.evaluate("navigator.serviceWorker.ready.then(() => undefined)")
        self.page.evaluate(
            """navigator.serviceWorker.controller ? undefined : new Promise(done =>
                 navigator.serviceWorker.addEventListener("controllerchange", () => done(), { once: true }))"""
        )

    def join(self, link: str, name: str) -> None:
        """Open an invite's link, come aboard, and wait until the refit is on the device."""
        self.page.goto(link)
        self.type("device-name", name)
        self.tap("join")
        expect(self.see("screen-now")).to_be_visible()
        expect(self.see("nav-work")).to_be_visible()
        expect(self.sync_words).to_have_attribute("data-met", "true")


ACCOUNTS = """new Promise((resolve, reject) => {
  const asked = indexedDB.open("tackwatch");
  asked.onerror = () => reject(asked.error);
  asked.onsuccess = () => {
    const db = asked.result;
    const rows = db.transaction("accounts").objectStore("accounts").getAll();
    rows.onsuccess = () => { db.close(); resolve(rows.result); };
  };
})"""


def api_of(device: Device, http: HttpWire) -> Phone:
    """Give a phone in Python with the key of the last person who came aboard on a device, to ask the server with."""
    account = device.page.evaluate(ACCOUNTS)[-1]
    names = ("refit_id", "member_id", "device_id", "key")
    return Phone(
        wire=http,
        now_ms=lambda: time.time_ns() // 1_000_000,
        **{name: account[name] for name in names},
    )


def wait_until(happened: Callable[[], bool], within_s: float = 20) -> None:
    """Ask until something has happened elsewhere than on a screen."""
    deadline = time.monotonic() + within_s
    while not happened():
        assert time.monotonic() < deadline, "it did not happen"
        time.sleep(0.1)
