"""The picture of a group: who is in, drawn as plain figures in the water or on the ground, and places that are free.

Shape tells who is who, without colour: a full figure teaches, a half one assists, an open one learns; a dashed one is
a free place, a crossed one is over the limit. Nothing in it comes from people.
"""

from __future__ import annotations

from base64 import b64encode
from collections.abc import Sequence

from course.answers.who_is_in import Figure, Whereabouts
from course.screens import theme

_STEP, _HEIGHT, _MARGIN = 44, 64, 8
_BODY = "M{left} 54 C{left} 38 {right} 38 {right} 54"
_FILL = {Figure.INSTRUCTOR: (theme.INK, theme.INK), Figure.ASSISTANT: (theme.PAPER, theme.INK)}
_MEANINGS = {
    Figure.INSTRUCTOR: "teaches",
    Figure.ASSISTANT: "assists",
    Figure.STUDENT: "student",
    Figure.FREE: "free place",
    Figure.OVER: "over the limit",
}


def group_picture(figures: Sequence[Figure], *, in_water: bool, told: str) -> str:
    """Return the picture as an image element.

    Args:
        figures: from left to right.
        in_water: drawn at the surface of the water; else on the ground.
        told: the same in words, for who hears the page; numbers and our own words only.
    """
    width = _STEP * max(len(figures), 4) + 2 * _MARGIN
    drawn = "".join(_figure(figure, _MARGIN + _STEP * place + _STEP // 2) for place, figure in enumerate(figures))
    return _image(drawn + (_water(width) if in_water else _ground(width)), (width, _HEIGHT), (width, _HEIGHT), told)


def legend() -> str:
    """Return what the shapes mean, as figures with their words; all of them always, so that it keeps its place."""
    return "".join(
        f'<span style="display:inline-flex;align-items:center;margin-right:16px;font-size:{theme.SMALL}px">'
        f"{_image(_figure(figure, _STEP // 2), (_STEP, _HEIGHT), (22, 32), '')}{word}</span>"
        for figure, word in _MEANINGS.items()
    )


def whereabouts_shape(where: Whereabouts) -> str:
    """Return the shape for where a person is: full, ring, dashed ring, arrow."""
    shapes = {
        Whereabouts.IN: f'<circle cx="12" cy="12" r="9" fill="{theme.INK}"/>',
        Whereabouts.OUT: f'<circle cx="12" cy="12" r="8" {_line()}/>',
        Whereabouts.NOT_YET: f'<circle cx="12" cy="12" r="8" {_line(theme.RULE)} stroke-dasharray="3 4"/>',
        Whereabouts.OTHER_GROUP: f'<path d="M3 12 H20 M13 5 L20 12 L13 19" {_line()}/>',
    }
    return _image(shapes[where], (24, 24), (24, 24), where.value)


def _image(drawn: str, box: tuple[int, int], size: tuple[int, int], told: str) -> str:
    """An image element of its own: drawn elements do not pass Streamlit's cleaning of a page's markup."""
    svg = f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {box[0]} {box[1]}">{drawn}</svg>'
    data = b64encode(svg.encode()).decode()
    return (
        f'<img src="data:image/svg+xml;base64,{data}" width="{size[0]}" height="{size[1]}" alt="{told}" '
        'style="max-width:100%">'
    )


def _figure(figure: Figure, middle: int) -> str:
    head, body = _FILL.get(figure, (theme.PAPER, theme.PAPER))
    free = figure == Figure.FREE
    line = _line(theme.RULE, 2) + ' stroke-dasharray="4 4"' if free else _line(width=2.5)
    line = line.replace('fill="none"', "")
    path = _BODY.format(left=middle - 15, right=middle + 15)
    drawn = f'<path d="{path}" {line} fill="{body}"/><circle cx="{middle}" cy="24" r="10" {line} fill="{head}"/>'
    if figure == Figure.OVER:
        drawn += f'<path d="M{middle - 15} 8 L{middle + 15} 52 M{middle + 15} 8 L{middle - 15} 52" {_line(width=3)}/>'
    return drawn


def _line(colour: str = theme.INK, width: float = 2.5) -> str:
    return f'fill="none" stroke="{colour}" stroke-width="{width}" stroke-linecap="round"'


def _water(width: int) -> str:
    """A line of small waves; they cover the figures' lower edge."""
    waves = "".join(" q5.5 -6 11 0 t11 0" for _ in range(width // 22))
    return f'<path d="M0 55{waves}" {_line()}/>'


def _ground(width: int) -> str:
    return f'<path d="M0 55 H{width}" {_line()}/>'
