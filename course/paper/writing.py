"""Writing a finished paper to where it was asked for: whole or not at all."""

from __future__ import annotations

import os
import tempfile
from pathlib import Path
from typing import BinaryIO

from course.errors import PaperError


def write_paper(content: bytes, out: Path | BinaryIO) -> None:
    """Write a paper whole or not at all; an older file of that name is kept where it cannot be written.

    Raises:
        PaperError: the file cannot be written.
    """
    if not isinstance(out, Path):
        out.write(content)
        return
    beside: Path | None = None
    try:
        with tempfile.NamedTemporaryFile(dir=out.parent, prefix=f".{out.name[:40]}.", delete=False) as file:
            beside = Path(file.name)
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        beside.replace(out)
    except OSError as error:
        if beside:
            beside.unlink(missing_ok=True)
        wrong = f'The paper could not be written to "{out}" ({error.strerror}).'
        raise PaperError(f"{wrong} Choose another folder or free some space. Nothing was printed.") from error
