"""Makes the guide's pictures anew from the demo centre: `python tests/pictures.py [FOLDER FOR ALL SCREENS]`.

Two go into course/guide/: the Mark screen and the first page of a competency record. With a folder named, every page
at every size goes there too, to be looked at before a change is called done.
"""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
from pathlib import Path

os.environ.setdefault("LOOPLEDGER_STATE", tempfile.mkdtemp())

from playwright.sync_api import Page
from running_centre import TABLET, RunningCentre, chromium

from course import sample

GUIDE = Path(__file__).parent.parent / "course" / "guide"
SIZES = {"tablet": TABLET, "phone": {"width": 390, "height": 844}, "desk": {"width": 1440, "height": 900}}
PAGES = {"today": ""} | {
    name: {"course": "standings"}.get(name, name)
    for name in (
        "mark",
        "slate",
        "course",
        "units",
        "day",
        "class",
        "student",
        "observers",
        "papers",
        "people",
        "ready",
        "gates",
    )
}


def open_pad(page: Page, centre: RunningCentre) -> None:
    page.goto(f"{centre.address}/mark")
    page.get_by_text("Whom do you watch now?").wait_for(timeout=60_000)
    for name in ("Tamsin Okoro-Vale", "Amaru Tendelle"):
        page.get_by_role("button", name=name).or_(page.get_by_role("radio", name=name)).first.click()
        page.wait_for_timeout(1500)
    page.locator(".st-key-skill-mp-close-out button").click()
    page.locator('[data-row="co-hand"]').wait_for(timeout=30_000)
    for step, mark in (("co-hand", "done"), ("co-close", "done")):
        page.locator(f'[data-row="{step}"] button[data-mark="{mark}"]').click()
        page.wait_for_timeout(500)
    page.locator('[data-row="co-out"] button[data-mark="error"]').click()
    page.wait_for_timeout(700)


def main() -> None:
    work = Path(tempfile.mkdtemp())
    centre = RunningCentre(work / "kelpwater")
    sample.load(centre.folder, lambda *_: None)
    subprocess.run(
        [sys.executable, "-m", "course", "print", str(centre.folder), "Amaru", "--out", str(work / "record.pdf")],
        check=True,
    )
    GUIDE.mkdir(exist_ok=True)
    subprocess.run(
        ["pdftoppm", "-png", "-r", "70", "-singlefile", str(work / "record.pdf"), str(GUIDE / "competency-record")],
        check=True,
    )
    centre.start()
    with chromium() as browser:
        page = browser.new_page(viewport=TABLET)
        open_pad(page, centre)
        page.screenshot(path=GUIDE / "mark.png")
        if len(sys.argv) > 1:
            every_screen(browser.new_page(), centre, Path(sys.argv[1]))
    centre.stop()


def every_screen(page: Page, centre: RunningCentre, folder: Path) -> None:
    folder.mkdir(parents=True, exist_ok=True)
    for size, viewport in SIZES.items():
        page.set_viewport_size(viewport)
        for name, path in PAGES.items():
            page.goto(f"{centre.address}/{path}")
            page.wait_for_timeout(6000)
            page.screenshot(path=folder / f"{name}-{size}.png")


if __name__ == "__main__":
    main()
