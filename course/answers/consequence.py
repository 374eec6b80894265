"""What an error leads to, in numbers: two sentences, what was assumed, cautions, and a small picture."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import lru_cache

from course.assessment.marks import Reason
from course.physics import pictures, telling, written
from course.physics.pictures import Picture
from course.physics.registry import REGISTRY
from course.physics.result import DEFERS, mode_words
from course.standards.figure import Figure
from course.standards.rubric import Skill, StepError

_FIGURES_KEPT = 512


@dataclass(frozen=True)
class Consequence:
    """What one error of a rubric leads to; never how it went for this student, which nobody measured."""

    error: str
    """The error's label."""
    quantity: str
    sentences: tuple[str, str]
    assumed: str
    source: str
    cautions: tuple[str, ...]
    picture: Picture | None
    mode: str
    """How pressures were reckoned."""
    validity: str

    @property
    def told(self) -> str:
        """Both sentences."""
        return " ".join(self.sentences)


def consequence_of(error: StepError) -> Consequence | None:
    """Return what an error leads to in numbers; None where its rubric names no figure."""
    return _reckoned(error.label, error.figure) if error.figure else None


def consequences(skill: Skill, reasons: Iterable[Reason]) -> tuple[Consequence, ...]:
    """Return what the errors behind an outcome lead to, each once, in the order in which they stand."""
    return tuple(dict.fromkeys(_of(skill, reasons)))


def _of(skill: Skill, reasons: Iterable[Reason]) -> Iterator[Consequence]:
    for reason in reasons:
        step = skill.step(reason.step)
        error = step.error(reason.error) if step and reason.error else None
        found = consequence_of(error) if error else None
        if found:
            yield found


@lru_cache(maxsize=_FIGURES_KEPT)
def _reckoned(label: str, figure: Figure) -> Consequence:
    """A rubric's figure never changes, and a page asks for it at each run."""
    quantity = REGISTRY[figure.quantity]
    given = written.values_of(quantity, figure.inputs)
    answer = quantity.answer(**given)
    flood = telling.is_flood(answer)
    return Consequence(
        error=label,
        quantity=quantity.name,
        sentences=telling.sentences(quantity, answer),
        assumed=telling.assumed(answer),
        source=quantity.source,
        cautions=(*quantity.cautions, DEFERS),
        picture=None if flood else pictures.picture(quantity, given),
        mode=mode_words(answer.mode),
        validity=quantity.validity,
    )
