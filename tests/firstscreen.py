"""What somebody sees of a notebook before scrolling: shared by the browser tests and the long ones."""

import os
from pathlib import Path

SIZES = ((1440, 900), (1024, 768))
MOST = 6.0  # screens of a notebook with its record folded
_MEASURED = """() => {
  const outer = document.querySelector('.jp-WindowedPanel-outer');
  const seen = outer.getBoundingClientRect();
  const place = selector => {
    const box = document.querySelector(selector).getBoundingClientRect();
    return {left: box.left, right: box.right, top: box.top - seen.top, bottom: box.bottom - seen.top};
  };
  return {screens: outer.scrollHeight / outer.clientHeight, height: outer.clientHeight, scrolled: outer.scrollTop,
    title: place('.jp-Cell h1'), dose: place('.dp-dose'), picture: place('.dp-paper svg'),
    fields: [...document.querySelectorAll('.dp-fields')].filter(e => e.offsetParent).map(e => e.children.length)};
}"""


def assert_first_screen(page, name):
    """Title, answer and picture are seen without scrolling, at both sizes; the whole is short."""
    page.evaluate("document.querySelector('.jp-WindowedPanel-outer').scrollTop = 0")
    for width, height in SIZES:
        page.set_viewport_size({"width": width, "height": height})
        page.wait_for_timeout(1_000)
        if folder := os.environ.get("WORKBOOK_SCREENSHOTS"):
            page.screenshot(path=str(Path(folder) / f"first_{name}_{width}.png"))
        seen = page.evaluate(_MEASURED)
        assert 0 <= seen["title"]["top"] < seen["dose"]["top"] < seen["height"], (name, width, seen)
        assert seen["dose"]["bottom"] < seen["height"], (name, width, seen)
        visible = seen["height"] - seen["picture"]["top"]
        assert visible > 0.6 * (seen["picture"]["bottom"] - seen["picture"]["top"]), (name, width, seen)
        assert seen["dose"]["right"] <= seen["picture"]["left"] or name.startswith("06"), (name, width, seen)
        assert seen["screens"] <= MOST, (name, width, seen)
