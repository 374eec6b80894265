"""The picture of an order: steps as numbered marks in the order of tapping, an arc over each pair out of order.

Shape tells what is what, in one ink: a full disc is certainly out of order, a ring in a ring is one of several that
may be; a thick arc with a C is critical, an F stands on an arc that was put right unasked, a dashed arc with a
question mark is not answered yet; steps left out stand below, hollow and dashed. Who hears the page is told the
sentence.
"""

from __future__ import annotations

from base64 import b64encode
from collections.abc import Mapping
from html import escape
from typing import Any

from pydantic import TypeAdapter

from course.answers.order_told import OrderTold
from course.assessment.order_seen import OrderSeen
from course.screens import theme

_PITCH, _RADIUS, _MARGIN = 34, 13, 20
_WIDTH = 2 * _MARGIN + 8 * _PITCH  # nine steps, as many as a shipped skill has at most, on a phone of 320 px
_RISE, _RISE_A_STEP, _HIGHEST = 14, 22, 100
_SIGN_OVER, _SIGN_ROOM = 8, 18
_PLAIN: TypeAdapter[OrderTold] = TypeAdapter(OrderTold)


def order_svg(seen: OrderSeen) -> str:
    """Return the picture as SVG text; empty where no order is known. Nothing in it comes from people."""
    if not seen.is_known:
        return ""
    line = _top(seen) + _RADIUS
    low = line + _RADIUS + 4 + (2 * _RADIUS + 10 if seen.left_out else 0)
    width = max(_WIDTH, 2 * _MARGIN + _PITCH * (len(seen.sequence) - 1), _below_width(seen))
    drawn = _way(seen, line) + _arcs(seen, line - _RADIUS) + _marks(seen, line) + _left_out(seen, low - _RADIUS - 4)
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width}" height="{low}" viewBox="0 0 {width} {low}" '
        f'font-family="\'Fira Sans\', sans-serif" font-size="{theme.SMALL}">{drawn}</svg>'
    )


def order_signs(seen: OrderSeen) -> str:
    """Return what the shapes of this picture mean, only those that are in it."""
    said = {
        "full: out of order": bool(seen.certain),
        "ring in a ring: one of these explains it": bool(seen.possible),
        "thick, C: critical": any(fault.critical for fault in seen.faults),
        "F: put right unasked": any(fault.fixed_self for fault in seen.faults),
        "?: not answered yet": bool(seen.unanswered),
        "dashed ring: left out": bool(seen.left_out),
    }
    return " · ".join(words for words, is_drawn in said.items() if is_drawn)


def order_image(told: OrderTold) -> str:
    """Return the picture as an image element for a page, with the sentence for who hears it; empty where none is."""
    source = _source(told.seen)
    if not source:
        return ""
    return (
        f'<div style="overflow-x:auto"><img src="{source}" alt="{escape(told.sentence)}" style="max-width:none"></div>'
    )


def drawn_order(plain: Mapping[str, Any] | None) -> dict[str, str] | None:
    """Return what a pad shows of an order: sentence, source of the picture, its signs; None where it has none."""
    if plain is None:
        return None
    told = _PLAIN.validate_python(plain)
    picture = _source(told.seen)
    return {"sentence": told.sentence, "picture": picture, "signs": order_signs(told.seen) if picture else ""}


def _source(seen: OrderSeen) -> str:
    svg = order_svg(seen)
    return f"data:image/svg+xml;base64,{b64encode(svg.encode()).decode()}" if svg else ""


def _spans(seen: OrderSeen) -> list[tuple[int, int, str, bool]]:
    """Pairs that are drawn: place of each end, the sign on the arc, whether it is thick."""
    place = {step: number for number, step in enumerate(seen.sequence)}
    found = []
    for fault in seen.faults:
        sign = " ".join((["C"] if fault.critical else []) + (["F"] if fault.fixed_self else []))
        found.append((fault.first_done, fault.should_come_first, sign, fault.critical))
    found += [(first, second, "?", False) for first, second in seen.unanswered]
    return [(place[a], place[b], sign, thick) for a, b, sign, thick in found if a in place and b in place]


def _rises(seen: OrderSeen) -> dict[int, int]:
    """How high an arc stands by how far it reaches: high enough that signs are clear, as far as there is room."""
    reaches = [abs(end - start) for start, end, *_ in _spans(seen)]
    each = min(_RISE_A_STEP, (_HIGHEST - _RISE) // max([1, *(reach - 1 for reach in reaches)]))
    return {reach: _RISE + each * (reach - 1) for reach in reaches}


def _top(seen: OrderSeen) -> int:
    """Room over the marks for the highest arc and its sign."""
    rises = _rises(seen)
    return max((rises[abs(b - a)] + (_SIGN_ROOM if sign else 4) for a, b, sign, _ in _spans(seen)), default=4)


def _x(place: int) -> int:
    return _MARGIN + _PITCH * place


def _way(seen: OrderSeen, line: int) -> str:
    """Short strokes between the marks, with a head: this way the time went."""
    strokes = ""
    for place in range(len(seen.sequence) - 1):
        tip = _x(place + 1) - _RADIUS - 1
        strokes += f"M{_x(place) + _RADIUS} {line}H{tip}M{tip - 3} {line - 3}L{tip} {line}L{tip - 3} {line + 3}"
    return f'<path d="{strokes}" fill="none" stroke="{theme.RULE}" stroke-width="1.5"/>'


def _arcs(seen: OrderSeen, low: int) -> str:
    """Wide arcs first, so that their signs stay above the narrow ones."""
    lines, signs, rises = "", "", _rises(seen)
    for start, end, sign, thick in sorted(_spans(seen), key=lambda span: -abs(span[1] - span[0])):
        left, right, rise = _x(start), _x(end), rises[abs(end - start)]
        control = low - rise * 4 / 3  # a cubic reaches three quarters of the height of its handles
        dash = ' stroke-dasharray="4 4"' if sign == "?" else ""
        lines += (
            f'<path d="M{left} {low}C{left} {control:.0f} {right} {control:.0f} {right} {low}" fill="none" '
            f'stroke="{theme.INK}" stroke-width="{5 if thick else 2}"{dash}/>'
        )
        signs += _words(sign, (left + right) / 2, low - rise - _SIGN_OVER, bold=True, clear=True) if sign else ""
    return lines + signs


def _marks(seen: OrderSeen, line: int) -> str:
    either = {step for one in seen.possible for step in one.steps}
    drawn = ""
    for place, step in enumerate(seen.sequence):
        full = step in seen.certain
        drawn += _ring(_x(place), line, full=full)
        if step in either:
            drawn += f'<circle cx="{_x(place)}" cy="{line}" r="{_RADIUS - 3}" {_stroke(1.5)}/>'
        drawn += _words(str(step), _x(place), line, bold=full or step in either, ink=theme.PAPER if full else theme.INK)
    return drawn


def _ring(x: float, y: float, *, full: bool = False, dashed: bool = False) -> str:
    fill = theme.INK if full else theme.PAPER
    dash = ' stroke-dasharray="3 3"' if dashed else ""
    return f'<circle cx="{x}" cy="{y}" r="{_RADIUS}" {_stroke(2).replace("none", fill)}{dash}/>'


def _left_out(seen: OrderSeen, line: int) -> str:
    """Below the sequence, since they have no place in it."""
    if not seen.left_out:
        return ""
    start = _MARGIN - _RADIUS
    drawn = _words("left out", start, line, anchor="start")
    for place, step in enumerate(seen.left_out):
        x = start + 62 + _RADIUS + place * _PITCH
        drawn += _ring(x, line, dashed=True) + _words(str(step), x, line)
    return drawn


def _below_width(seen: OrderSeen) -> int:
    return 2 * _MARGIN + 62 + _PITCH * len(seen.left_out) if seen.left_out else 0


def _words(
    text: str,
    x: float,
    y: float,
    *,
    bold: bool = False,
    clear: bool = False,
    ink: str = theme.INK,
    anchor: str = "middle",
) -> str:
    """Words with their middle at y; `clear` keeps lines behind them away from the letters."""
    more = ' font-weight="700"' if bold else ""
    more += f' paint-order="stroke" stroke="{theme.PAPER}" stroke-width="4"' if clear else ""
    return f'<text x="{x:g}" y="{y + 5:g}" text-anchor="{anchor}" fill="{ink}"{more}>{text}</text>'


def _stroke(width: float) -> str:
    return f'fill="none" stroke="{theme.INK}" stroke-width="{width:g}"'
