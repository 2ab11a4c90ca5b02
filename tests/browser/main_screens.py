"""The main screens of a tank and of a visitor, and how a screen is measured in the browser."""

from collections.abc import Mapping
from typing import Any

from django.urls import reverse
from playwright.sync_api import Page

# Shifts of the layout from the first paint on [1], as Web Vitals count them.
COUNT_SHIFTS = """
window.shifted = 0;
new PerformanceObserver(list => {
  for (const entry of list.getEntries()) if (!entry.hadRecentInput) window.shifted += entry.value;
}).observe({ type: "layout-shift", buffered: true });
"""

# Where text may be out of sight: folds, what is not there yet, and what is for screen readers.
# Words in a drawing belong to it. Last: a sentence for paper alone, one above an empty drawing, and
# the names of drawings that a switch of the same words shows in turn. A column that a box opens,
# a warning of one kind of meter.
MEASURE = """() => {
  const main = document.querySelector("main");
  const aside = "details:not([open]) > :not(summary), [hidden], dialog, .out-of-sight, svg, script,"
    + "template, noscript, option, .map-printed, .rig-drawing__empty, .what-if-figure > figcaption,"
    + ".what-if-switch, .compare-switch, .compare-side > figcaption, .compare-legend,"
    + ".readings__spread, .map-point__actions, .print-only, .lux-only";
  const words = [], unseen = [];
  const walker = document.createTreeWalker(main, NodeFilter.SHOW_TEXT);
  for (let node; (node = walker.nextNode());) {
    const text = node.data.trim();
    if (!text || node.parentElement.closest(aside)) continue;
    words.push(...text.split(/\\s+/));
    const range = document.createRange();
    range.selectNodeContents(node);
    const box = range.getBoundingClientRect();
    const seen = { opacityProperty: true, visibilityProperty: true };
    let cut = !node.parentElement.checkVisibility(seen) || box.width < 1 || box.height < 1;
    for (let up = node.parentElement; up !== main && !cut; up = up.parentElement) {
      const style = getComputedStyle(up), frame = up.getBoundingClientRect();
      cut = /hidden|clip/.test(style.overflow)
        && (box.bottom > frame.bottom + 4 || box.right > frame.right + 4);
    }
    if (cut) unseen.push(text.slice(0, 40));
  }
  const drawing = [...main.querySelectorAll("svg, img")]
    .find(one => one.getBoundingClientRect().width > 150);
  // A link within a sentence is as tall as its line; all else can be hit with a finger.
  const small = [...document.querySelectorAll("a, button, input, select, textarea, summary")]
    .filter(one => one.checkVisibility() && !one.closest(".out-of-sight, .skip, svg"))
    .filter(one => getComputedStyle(one).display !== "inline" || one.matches("input"))
    .map(one => [one, (one.matches("input") ? one.closest("label") ?? one : one)])
    .map(([one, target]) => [one, target.getBoundingClientRect()])
    .filter(([one, box]) => box.width > 0 && (box.width < 24 || box.height < 24))
    .map(([one, box]) => `${one.outerHTML.slice(0, 60)} ${box.width | 0}x${box.height | 0}`);
  return {
    words: words.length, unseen, small,
    height: document.documentElement.scrollHeight,
    links: [...main.querySelectorAll("a")].filter(a => a.checkVisibility()).length,
    drawing: drawing ? Math.round(drawing.getBoundingClientRect().top + scrollY) : null,
    wide: document.documentElement.scrollWidth - innerWidth,
    shifted: Math.round((window.shifted ?? 0) * 1000) / 1000,
  };
}"""


def tank_screens(tank, coral=None, unwell=None) -> dict[str, str]:
    """Return {name: address} of a tank's main screens; `unwell` is a coral with a case."""
    survey = tank.surveys.order_by("-taken_at").first()
    rooms = {
        "tank": "tank_detail",
        "map": "light_map",
        "corals": "coral_list",
        "cases": "outcome_list",
        "report": "outcome_report",
        "light log": "light_change_list",
        "light change": "light_change_done",
        "surveys": "survey_list",
        "new survey": "survey_new",
        "plans": "tank_plan_list",
        "what if": "what_if",
        "rooms": "tank_rooms",
        "tank settings": "tank_settings",
    }
    screens = {"tanks": reverse("tank_list")}
    screens |= {name: reverse(page, args=[tank.pk]) for name, page in rooms.items()}
    screens["statistics"] = f"{screens['cases']}?days=56"
    rows = {"coral": ("coral_detail", coral), "case": ("coral_case", unwell),
            "survey": ("survey_detail", survey)}  # fmt: skip
    return screens | {n: reverse(page, args=[row.pk]) for n, (page, row) in rows.items() if row}


def measured(page: Page, address: str) -> Mapping[str, Any]:
    """Open a screen, wait until it is still, and return its measures."""
    page.goto(address)
    page.wait_for_load_state("networkidle")
    return page.evaluate(MEASURE)
