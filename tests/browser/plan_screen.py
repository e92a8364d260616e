"""Coming aboard to look at a plan, and going about its screens."""

from __future__ import annotations

from collections.abc import Callable

from playwright.sync_api import Locator, expect

from tests.browser.device import Device
from tests.browser.plan_answers import PlanAnswers, Yard

Open = Callable[..., Device]

# Looks at one stretch of the days after the other. Gives the steps of all bars that are in sight there, or, asked for
# one step, stops where its bar is drawn.
_ALONG = """async (board, wanted) => {
  const found = new Set();
  const { left, right } = board.getBoundingClientRect();
  const drawn = () => new Promise(done => requestAnimationFrame(() => requestAnimationFrame(done)));
  for (let x = 0; ; x += board.clientWidth / 2) {
    board.scrollTo({ left: x });
    await drawn();
    for (const bar of board.querySelectorAll("[data-testid=plan-bar]")) {
      const place = bar.getBoundingClientRect();
      if (bar.dataset.step === wanted) return [wanted];
      if (place.right > left && place.left < right) found.add(bar.dataset.step);
    }
    if (x + board.clientWidth >= board.scrollWidth) return [...found];
  }
}"""


def aboard(device: Device, yard: Yard, role: str = "owner", language: str = "en") -> None:
    """Come aboard as the owner, or as somebody new."""
    mine = {"member_id": yard.owner.member_id} if role == "owner" else {}
    body = {"role": role, "name": "Olga" if mine else "Vera", "language": language, **mine}
    answer = yard.owner.call("POST", "/invites", body=body)
    assert answer.status == 201, answer.content
    device.join(str(answer.json["link"]), "")


def go(device: Device, place: str) -> None:
    """Go to a place and wait until its heading has taken the focus."""
    device.page.evaluate(
        "place => { document.activeElement.blur(); location.hash = `#/${place}`; }", place
    )
    expect(device.page.locator("h1:focus")).to_be_visible()


def at_plan(device: Device, answers: PlanAnswers, yard: Yard, role: str = "owner") -> Device:
    answers.answer_for(device)
    aboard(device, yard, role)
    go(device, "plan")
    return device


def until(device: Device, happened: Callable[[], bool]) -> None:
    """Wait in the page's own loop, since what it asks is answered in this process."""
    for _ in range(200):
        if happened():
            return
        device.page.wait_for_timeout(100)
    raise AssertionError("it did not happen")


def no_signal(device: Device, answers: PlanAnswers) -> None:
    device.signal(False)
    answers.reachable = False


def above(upper: Locator, lower: Locator) -> bool:
    """Whether one thing stands wholly above another."""
    expect(upper).to_be_visible()
    expect(lower).to_be_visible()
    a, b = upper.bounding_box(), lower.bounding_box()
    return a is not None and b is not None and a["y"] + a["height"] <= b["y"]


def seen_along(device: Device) -> set[str]:
    """Look at all days of the timeline, and give the steps whose bars are in sight somewhere."""
    expect(device.see("plan-bar").first).to_be_attached()
    return set(device.see("plan-timeline").evaluate(_ALONG, None))


def bar_of(device: Device, step_id: str, **data: str) -> Locator:
    """Go along the days until the bar of a step is drawn, and give it."""
    expect(device.see("plan-bar").first).to_be_attached()
    device.see("plan-timeline").evaluate(_ALONG, step_id)
    return device.see("plan-bar", step=step_id, **data).first
