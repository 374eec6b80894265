"""Why no code can be read in a picture: there is none in it, or one of which a part is torn off, covered or blurred.

Source: ISO/IEC 18004, 6.3.3 (from memory): three corners of a square code have a mark that is dark, light, dark, light,
dark in widths of 1 : 1 : 3 : 1 : 1 along every line through its middle.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageFilter

_WIDTHS = np.array([1.0, 1.0, 3.0, 1.0, 1.0])
_SLACK = np.array([0.6, 0.6, 0.8, 0.6, 0.6])
_FINEST = 1.8  # dots a square of the code
_LINES = 2.0  # squares' height of lines through one mark that have to agree: three in an upright one
_LONGEST_SIDE = 3000
_AROUND, _DARKER = 40, 20


def has_a_corner(picture: Image.Image) -> bool:
    """Whether a corner mark of a square code is in a grey picture."""
    share = _LONGEST_SIDE / max(picture.size)
    small = picture.resize((max(1, round(picture.width * share)), max(1, round(picture.height * share))))
    soft = np.asarray(small.filter(ImageFilter.GaussianBlur(1.2)), dtype=np.int16)
    around = np.asarray(small.filter(ImageFilter.BoxBlur(_AROUND)), dtype=np.int16)
    dark = soft < around - _DARKER
    across, down = _middles(dark), _middles(dark.T)[:, [1, 0, 2]]
    return any(_agree(one, across, down) for one in across)


def _middles(dark: NDArray[np.bool_]) -> NDArray[np.float64]:
    """Where a line crosses the widths of a mark: the line's number, the middle along it, and a square's width."""
    height, width = dark.shape
    lined = np.zeros((height, width + 2), dtype=np.int8)
    lined[:, 1:-1] = dark
    flat = np.diff(lined.ravel(), prepend=np.int8(0))
    turns = np.flatnonzero(flat)
    if len(turns) < 6:
        return np.zeros((0, 3))
    lengths = np.lib.stride_tricks.sliding_window_view(np.diff(turns), 5)
    starts = turns[: len(lengths)]
    square = lengths.sum(axis=1) / _WIDTHS.sum()
    on_one_line = starts // (width + 2) == turns[5 : 5 + len(lengths)] // (width + 2)
    begins_dark = flat[starts] == 1
    alike = (np.abs(lengths / square[:, None] - _WIDTHS) <= _SLACK).all(axis=1)
    found: Any = np.flatnonzero(on_one_line & begins_dark & alike & (square >= _FINEST))
    middle = starts[found] % (width + 2) - 1 + lengths[found].sum(axis=1) / 2
    return np.column_stack([starts[found] // (width + 2), middle, square[found]])


def _agree(one: NDArray[np.float64], across: NDArray[np.float64], down: NDArray[np.float64]) -> bool:
    """Whether several lines both across and down go through this middle with squares as wide."""
    return all(int(_near(one, lines).sum()) >= _LINES * one[2] for lines in (across, down))


def _near(one: NDArray[np.float64], lines: NDArray[np.float64]) -> NDArray[np.bool_]:
    by = 1.6 * one[2]
    close = (np.abs(lines[:, :2] - one[:2]) <= by).all(axis=1)
    near: NDArray[np.bool_] = close & (np.abs(lines[:, 2] / one[2] - 1) < 0.35)
    return near
