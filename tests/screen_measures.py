"""Measuring a page as a finger meets it: does it scroll sideways, how large are its targets, how far apart.

Our own limits are 48 CSS pixels and 8 between (course/screens/theme.py); WCAG 2.2 asks for 24 (success criterion
2.5.8), for no scrolling in two directions at 320 CSS pixels (1.4.10); numbers from memory.
"""

from __future__ import annotations

from typing import Any

from playwright.sync_api import Page, expect

PHONE, TABLET = {"width": 390, "height": 844}, {"width": 820, "height": 1180}
TOUCH, APART = 48, 8
SIDEWAYS = """() => [document.scrollingElement, document.querySelector('[data-testid="stMain"]')]
  .filter((one) => one && one.scrollWidth > one.clientWidth)
  .map((one) => `${one.tagName} ${one.scrollWidth} > ${one.clientWidth}`)"""
TARGETS = """(selectors) => {
  document.querySelector('[data-testid="stMain"]')?.scrollTo(0, 0); // what stays in view lies over nothing there
  const hosts = [...document.querySelectorAll("*")].filter((one) => one.shadowRoot);
  const roots = [document, ...hosts.map((one) => one.shadowRoot)];
  const all = roots.flatMap((root) => selectors.flatMap((selector) => [...root.querySelectorAll(selector)]));
  const seen = all.filter((one) => one.checkVisibility({ visibilityProperty: true, opacityProperty: true }));
  return seen.map((one) => { const { left, top, right, bottom } = one.getBoundingClientRect();
    const name = one.getAttribute("aria-label") || one.innerText || one.className;
    return { name, left, top, right, bottom }; }); }"""


def resize(page: Page, size: dict[str, int]) -> None:
    """Turn the page to another size and wait until it stands there."""
    page.set_viewport_size(size)  # type: ignore[arg-type]
    page.wait_for_function("(width) => innerWidth === width", arg=size["width"])


def faults_of(targets: list[dict[str, Any]], *, apart: int = APART) -> list[str]:
    """What is too small, and what stands too near to another; rounded to whole pixels as a screen draws them."""
    small = [
        f"{one['name']}: {one['right'] - one['left']:.1f} x {one['bottom'] - one['top']:.1f}"
        for one in targets
        if min(one["right"] - one["left"], one["bottom"] - one["top"]) < TOUCH - 0.5
    ]
    near = []
    for place, one in enumerate(targets):
        for other in targets[place + 1 :]:
            across = max(one["left"], other["left"]) - min(one["right"], other["right"])
            down = max(one["top"], other["top"]) - min(one["bottom"], other["bottom"])
            if max(across, down) < apart - 0.5:
                near.append(f"{one['name']} and {other['name']}: {max(across, down):.1f} apart")
    return small + near


def settled(page: Page) -> None:
    """Streamlit has drawn all there is, and stays so: a run that a tap asked for may begin a little later."""
    app = page.locator('[data-testid="stApp"]')
    quiet = 0
    while quiet < 4:
        expect(app).to_have_attribute("data-test-script-state", "notRunning", timeout=60_000)
        page.wait_for_timeout(75)
        quiet = quiet + 1 if app.get_attribute("data-test-script-state") == "notRunning" else 0
    expect(page.locator('[data-stale="true"]')).to_have_count(0, timeout=60_000)
