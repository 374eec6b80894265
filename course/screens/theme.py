"""The look, as constants: one ink, one accent for what can be tapped, one warm colour for critical and nothing else.

Colours are chosen for glare: text on paper has a contrast of 7:1 or more (WCAG 2.2, success criterion 1.4.6).
No mark is told by colour alone; tests/test_pad_route.py measures the contrasts.
"""

from __future__ import annotations

from importlib import resources
from typing import Any

INK = "#111111"
PAPER = "#ffffff"
SHADE = "#f3f1ec"
"""A very light warm grey: ground of what cannot be tapped."""
GREY = "#4a4a4a"
"""Words that stand back."""
RULE = "#767676"
"""Lines and borders; 4.5:1 on paper, more than the 3:1 that a border needs (WCAG 2.2, 1.4.11)."""
ACCENT = "#0a3f7a"
"""What can be tapped, and only that."""
CRITICAL = "#8a1c00"
"""Critical, and only that."""

SMALL, BODY, LEAD, TITLE = 14, 17, 21, 28
"""Type sizes on screen, in CSS pixels. No text is smaller."""
TOUCH, GAP = 48, 8
"""Least height and width of a target and least space between two, in CSS pixels."""

FONT_FAMILY = "Fira Sans"
FONT_STACK = f'"{FONT_FAMILY}", system-ui, sans-serif'
FONT_ROUTE = "/course/fonts"
FONT_FILES = {"400": "FiraSans-Regular.ttf", "600": "FiraSans-SemiBold.ttf", "700": "FiraSans-Bold.ttf"}
"""Weight to file of the installed font package; served by ourselves, never from a network."""


def is_font(path: str) -> bool:
    """Whether a path is one of our font files; what only begins like one may be anything."""
    folder, _, name = path.rpartition("/")
    return folder == FONT_ROUTE and name in FONT_FILES.values()


def font_bytes(name: str) -> bytes | None:
    """Return one of our font files, or None where the name is none of them."""
    if name not in FONT_FILES.values():
        return None
    return resources.files("fontpkg_fira_sans").joinpath("files", name).read_bytes()


def streamlit_theme() -> dict[str, Any]:
    """Return Streamlit's own theme options in our colours, sizes and font."""
    faces = [
        {"family": FONT_FAMILY, "url": f"{FONT_ROUTE}/{name}", "weight": int(weight), "style": "normal"}
        for weight, name in FONT_FILES.items()
    ]
    ordered = [INK, ACCENT, RULE, "#5b4a8a", "#b0b0b0", GREY]
    return {
        "theme.base": "light",
        "theme.font": f"{FONT_FAMILY}, sans-serif",
        "theme.headingFont": f"{FONT_FAMILY}, sans-serif",
        "theme.fontFaces": faces,
        "theme.baseFontSize": BODY,
        "theme.headingFontSizes": [f"{TITLE}px", f"{LEAD}px", f"{LEAD}px", f"{BODY}px", f"{BODY}px", f"{BODY}px"],
        "theme.primaryColor": ACCENT,
        "theme.backgroundColor": PAPER,
        "theme.secondaryBackgroundColor": SHADE,
        "theme.textColor": INK,
        "theme.linkColor": ACCENT,
        "theme.linkUnderline": True,
        "theme.borderColor": RULE,
        "theme.showWidgetBorder": True,
        "theme.baseRadius": "small",
        "theme.chartCategoricalColors": ordered,
    }


def css_constants(selector: str) -> str:
    """Return the colours and sizes as CSS custom properties of a selector."""
    pairs = {
        "ink": INK,
        "paper": PAPER,
        "shade": SHADE,
        "grey": GREY,
        "rule": RULE,
        "accent": ACCENT,
        "critical": CRITICAL,
        "small": f"{SMALL}px",
        "body": f"{BODY}px",
        "lead": f"{LEAD}px",
        "title": f"{TITLE}px",
        "touch": f"{TOUCH}px",
        "gap": f"{GAP}px",
        "font": FONT_STACK,
    }
    return f"{selector} {{ {' '.join(f'--{name}: {value};' for name, value in pairs.items())} }}"


PAGE_CSS = f"""
.stApp {{ font-variant-numeric: tabular-nums; }}
.stApp .stButton button, .stApp .stDownloadButton button, .stApp .stLinkButton a, .stApp .stFormSubmitButton button,
.stApp [data-testid="stPageLink-NavLink"], .stApp [data-baseweb="select"] > div, .stApp [data-baseweb="input"],
.stApp [data-testid="stPopoverButton"], .stApp summary {{ min-height: {TOUCH}px; }}
.stApp .stRadio label, .stApp .stCheckbox label {{ min-height: {TOUCH}px; align-items: center; }}
.stApp button p, [data-testid="stDialog"] .stButton button p {{ font-size: {BODY}px; }}
[data-testid="stDialog"] .stButton button {{ min-height: {TOUCH}px; }}
.stApp small, .stApp [data-testid="stCaptionContainer"] {{ font-size: {SMALL}px; color: {GREY}; }}
.stApp :focus-visible {{ outline: 3px solid {ACCENT}; outline-offset: 2px; }}
.stMainBlockContainer {{ max-width: 1200px; padding-top: 8px; padding-bottom: 48px; }}
.stApp [data-testid="stHeader"] {{ display: none; }}
.stApp .st-key-menu {{ gap: {GAP}px; flex-wrap: wrap; padding-bottom: {GAP}px; border-bottom: 1px solid {RULE}; }}
.stApp [data-testid="stPageLink-NavLink"] {{ padding: 0 12px; border-radius: 4px; }}
[data-testid="stPopoverBody"] [data-testid="stPageLink-NavLink"] {{ min-height: {TOUCH}px; }}
@media (max-width: 500px) {{ .stApp .st-key-menu [data-testid="stPageLink-NavLink"] {{ padding: 0 6px; }}
  .stApp .st-key-menu {{ gap: 4px; }} .stApp .st-key-menu [data-testid="stPopoverButton"] {{ padding: 0 8px; }} }}
.stApp [data-testid="stPageLink-NavLink"] span, .stApp [data-testid="stPageLink-NavLink"] p {{ font-size: {BODY}px; }}
.stApp [data-testid="stPageLink-NavLink"][aria-current] {{ background: {SHADE}; }}
.stApp [data-testid="stButtonGroup"] button, .stApp [data-testid="stSelectbox"] > div > div,
.stApp [data-testid="stTextInputField"], .stApp [data-testid="stDateInputField"] {{ min-height: {TOUCH}px; }}
.stApp [data-testid="stTimeInputTimeDisplay"] {{ min-height: {TOUCH}px; }}
.stApp [data-testid="stButtonGroup"] > div:has(button[data-variant="pills"]) {{ gap: {GAP}px; }}
.stApp [data-testid="stNumberInputContainer"], .stApp [data-testid="stNumberInputContainer"] input {{
  min-height: {TOUCH}px; }}
.stApp [data-testid="stNumberInputContainer"] button {{ min-height: {TOUCH}px; min-width: {TOUCH}px; }}
.stApp [data-testid="stMultiSelect"] [data-baseweb="select"] > div, .stApp [data-testid="stTextInputRootElement"] {{
  min-height: {TOUCH}px; }}
.stApp [data-testid="stButtonGroup"] > div:has([data-testid^="stBaseButton-pills"]) {{ gap: {GAP}px; }}
.stApp button[data-variant][data-selected="true"] {{ box-shadow: inset 0 -4px 0 {ACCENT}; }}
.stApp .st-key-form-parts, .stApp .st-key-form-last {{ gap: {GAP}px; }}
.stApp [data-testid="stCaptionContainer"], .stApp [data-testid="stCaptionContainer"] * {{
  color: {GREY} !important; opacity: 1; }}
.stApp [data-testid="stMarkdownContainer"] :is(th, td) {{ border-left: 0; border-right: 0; }}
.stApp [data-testid="stVegaLiteChart"] {{ max-width: 100%; overflow-x: auto; }}
.stApp [data-testid="stFileUploaderDropzoneInstructions"] * {{ color: {GREY}; }}
.stApp [data-testid="stAlertContainer"] {{ background: {SHADE}; color: {INK}; border-left: 4px solid {INK}; }}
.stApp [data-testid="stAlertContainer"] * {{ color: {INK}; }}
@media (max-width: 900px) {{ .stMainBlockContainer {{ padding-left: 16px; padding-right: 16px; }} }}
.stApp .st-key-signed-in {{ position: absolute; }}
.stApp .who {{ margin: 0; font-size: {SMALL}px; color: {GREY}; }}
.stApp .who a {{ display: inline-flex; align-items: center; min-height: {TOUCH}px; padding: 0 {GAP}px; color: {ACCENT};
  text-decoration: underline; }}
.course-table {{ border-collapse: collapse; width: 100%; }}
.course-table th, .course-table td {{ text-align: left; vertical-align: top; padding: {GAP}px; }}
.course-table .right {{ text-align: right; white-space: nowrap; }} .course-table th.right {{ white-space: normal; }}
.course-table thead th {{ border-bottom: 2px solid {INK}; font-weight: 600; vertical-align: bottom; }}
.course-table .group th {{ padding-top: 24px; font-weight: 700; }}
.course-table td, .course-table .group th {{ border-bottom: 1px solid {RULE}; }}
@media (max-width: 700px) {{ .course-table, .course-table tbody, .course-table tr, .course-table td,
  .course-table .group th {{ display: block; width: auto; text-align: left; white-space: normal; }}
  .course-table thead {{ display: none; }} .course-table .group th {{ padding: 24px 0 0; border: 0; }}
  .course-table tr {{ border-bottom: 1px solid {RULE}; padding: {GAP}px 0; }}
  .course-table td {{ display: inline-block; border: 0; padding: 2px 16px 2px 0; }}
  .course-table td:first-child, .course-table td.long {{ display: block; padding-right: 0; }}
  .course-table td:first-child {{ font-weight: 600; }} .course-table td:first-child::before {{ display: none; }}
  .course-table td.right {{ text-align: left; }} .course-table td:empty {{ display: none; }}
  .course-table td::before {{ content: attr(data-head) ": "; font-weight: 600; }} }}
"""
"""Touch sizes, focus and the bar under what is chosen, for every page; holds no text of a person."""

MARK_CSS = """
[data-testid="stSidebar"], [data-testid="stSidebarCollapsedControl"], [data-testid="stExpandSidebarButton"],
[data-testid="stHeader"], .st-key-menu { display: none; }
.stMainBlockContainer { padding: 0; max-width: 1440px; }
.stMainBlockContainer [data-testid="stVerticalBlock"] { gap: 0; }
[data-testid="stStatusWidget"], [data-testid="stDialog"] { display: none; }
html, body { overflow: auto !important; }
.st-key-another, .st-key-try-again { padding: 8px 16px 0; }
.stApp p.who { padding: 4px 16px 0; }
"""
"""For the Mark page: the steps get the whole screen, also while Streamlit's own connection is lost."""
