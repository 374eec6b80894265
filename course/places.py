"""Where the files that ship with the program are: in the checkout or packed inside the wheel."""

from __future__ import annotations

from pathlib import Path

_PACKAGE = Path(__file__).resolve().parent
_PACKED = _PACKAGE / "_data"
ROOT = _PACKED if (_PACKED / "pages").is_dir() else _PACKAGE.parent

PAGES = ROOT / "pages"
RUBRICS = ROOT / "rubrics"
DEMO = ROOT / "demo_students"
SCREENS = _PACKAGE / "screens"
