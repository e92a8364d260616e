"""What is wrong with a screen to the eye and to the finger, measured in the page as it stands."""

from __future__ import annotations

from typing import Any

from tests.browser.device import Device
from tests.browser.house import ROOT

_AXE = ROOT / "client" / "node_modules" / "axe-core" / "axe.min.js"
_TAGS = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22a", "wcag22aa"]

LEAST_TARGET_PX = 48
LEAST_TEXT_PX = 16

_RULES = """async tags => {
  const { passes, violations } = await axe.run(document, { runOnly: { type: "tag", values: tags } });
  if (passes.length < 10) throw new Error("hardly anything was looked at");
  return violations.flatMap(({ id, nodes }) => nodes.map(node => `${id}: ${node.html.slice(0, 160)}`));
}"""

# Each visible element that holds text of its own, and each that can be tapped; what is only for readers is left out.
_MEASURES = """({ target, text }) => {
  const found = [];
  const words = one => (one.innerText || one.value || "").slice(0, 60);
  const name = one => `<${one.localName} ${one.dataset.testid ?? one.className}> ${words(one)}`;
  const shown = one => one.checkVisibility() && !one.closest(".unseen") && one.getBoundingClientRect().height > 2;
  const root = document.scrollingElement;
  if (root.scrollWidth > root.clientWidth) found.push(`page ${root.scrollWidth} px wide`);
  for (const one of document.querySelectorAll("a[href], button, summary, input, select, textarea")) {
    const touched = one.matches("input") ? one.closest("label") ?? one.labels?.[0] ?? one : one;
    const place = one.matches("[type=radio], [type=checkbox], [type=file]") ? touched : one;
    if (!shown(place)) continue;
    const { width, height } = place.getBoundingClientRect();
    if (height < target - 0.5 || width < target - 0.5)
      found.push(`target ${Math.round(width)} x ${Math.round(height)} px: ${name(place)}`);
  }
  for (const one of document.querySelectorAll("body *")) {
    const own = [...one.childNodes].filter(node => node.nodeType === 3 && node.data.trim());
    if (!own.length || !shown(one) || one.closest("svg, select")) continue;
    if (parseFloat(getComputedStyle(one).fontSize) < text) found.push(`small text: ${name(one)}`);
    const cut = getComputedStyle(one).overflowX !== "visible";
    if (cut && one.scrollWidth > one.clientWidth) found.push(`cut: ${name(one)}`);
    for (const node of own)
      for (const { index, 0: word } of node.data.matchAll(/\\S+/g)) {
        const range = new Range();
        range.setStart(node, index);
        range.setEnd(node, index + word.length);
        const lines = new Set([...range.getClientRects()].map(box => Math.round(box.top)));
        const { left, right } = range.getBoundingClientRect();
        if (lines.size > 1 && !/[-/]/.test(word)) found.push(`broken word ${word}: ${name(one)}`);
        if (left < -0.5 || right > root.clientWidth + 0.5) found.push(`out of sight ${word}: ${name(one)}`);
      }
  }
  scrollTo(0, root.scrollHeight);
  const planks = document.querySelector("nav.planks")?.getBoundingClientRect();
  const last = document.querySelector("main").lastElementChild;
  if (planks && planks.top > innerHeight / 2 && last.getBoundingClientRect().bottom > planks.top)
    found.push(`under the planks: ${name(last)}`);
  scrollTo(0, 0);
  return found;
}"""


def open_all(device: Device) -> None:
    """Open what opens on a tap, so that it is looked at too."""
    device.page.evaluate(
        "document.querySelectorAll('details').forEach(one => { one.open = true; })"
    )


def wrong_by_the_rules(device: Device) -> list[str]:
    """Give what axe-core finds against WCAG 2.2, levels A and AA."""
    if not device.page.evaluate("'axe' in globalThis"):
        device.page.evaluate(_AXE.read_text())
    found: list[str] = device.page.evaluate(_RULES, _TAGS)
    return found


def wrong_to_the_eye(device: Device) -> list[str]:
    """Give targets that are too small, text that is small, cut, broken or out of sight, and pages that are too wide."""
    sizes: dict[str, Any] = {"target": LEAST_TARGET_PX, "text": LEAST_TEXT_PX}
    found: list[str] = device.page.evaluate(_MEASURES, sizes)
    return sorted(set(found))
