"""Writes the list of parts (SBOM) that the program is made of: every library it needs, with version, licence, address.

`python tests/parts_list.py [FILE]` writes CycloneDX JSON, schema 1.6, of what is installed in this environment and what
the program needs to run, with the extra `postgresql`; what only tests need is left out. The same environment gives the
same bytes: no time and no random number is in it.
"""

from __future__ import annotations

import json
import sys
from collections.abc import Iterator
from importlib.metadata import Distribution, PackageNotFoundError, distribution
from pathlib import Path
from typing import Any

from cyclonedx.model.bom import Bom
from cyclonedx.model.component import Component, ComponentType
from cyclonedx.model.license import DisjunctiveLicense
from cyclonedx.output.json import JsonV1Dot6
from packageurl import PackageURL
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

PROGRAM, EXTRAS = "loopledger", ("", "postgresql")


def needed_by(name: str, extras: tuple[str, ...]) -> Iterator[tuple[str, tuple[str, ...]]]:
    """What an installed library needs here: name, and which of its extras."""
    for line in distribution(name).requires or ():
        asked = Requirement(line)
        if asked.marker is None or any(asked.marker.evaluate({"extra": extra}) for extra in extras):
            yield canonicalize_name(asked.name), ("", *sorted(asked.extras))


def parts() -> dict[str, tuple[Distribution, set[str]]]:
    """Every library that the program needs, by name, with the names of those that it needs itself."""
    found: dict[str, tuple[Distribution, set[str]]] = {}
    waiting: list[tuple[str, tuple[str, ...]]] = [(PROGRAM, EXTRAS)]
    looked: set[tuple[str, tuple[str, ...]]] = set()
    while waiting:
        name, extras = one = waiting.pop()
        if one in looked:
            continue
        looked.add(one)
        try:
            needs = list(needed_by(name, extras))
        except PackageNotFoundError:
            if name == PROGRAM:
                raise
            continue  # an extra that is not installed here
        own = found.setdefault(name, (distribution(name), set()))
        own[1].update(need for need, _ in needs)
        waiting += needs
    return found


def component(name: str, found: Distribution) -> Component:
    """A library as a part, with its licence as it says itself."""
    said = found.metadata.get("License-Expression") or found.metadata.get("License") or ""
    licence = said.splitlines()[0][:100].strip() if said.strip() else ""
    return Component(
        name=name,
        version=found.version,
        type=ComponentType.APPLICATION if name == PROGRAM else ComponentType.LIBRARY,
        bom_ref=f"{name}@{found.version}",
        purl=None if name == PROGRAM else PackageURL("pypi", name=name, version=found.version),
        licenses=[DisjunctiveLicense(name=licence)] if licence else [],
    )


def parts_list() -> str:
    """The list as text."""
    found = parts()
    made = {name: component(name, own) for name, (own, _) in sorted(found.items())}
    bom = Bom(components=[one for name, one in made.items() if name != PROGRAM])
    bom.metadata.component = made[PROGRAM]
    for name, (_, needs) in found.items():
        bom.register_dependency(made[name], [made[need] for need in sorted(needs) if need in made])
    plain: dict[str, Any] = json.loads(JsonV1Dot6(bom).output_as_string())
    plain.pop("serialNumber", None)
    plain["metadata"].pop("timestamp", None)
    return json.dumps(plain, indent=1, sort_keys=True) + "\n"


def main(file: Path) -> None:
    """Write the list."""
    file.parent.mkdir(parents=True, exist_ok=True)
    file.write_text(parts_list(), "utf-8")
    print(f"{file}: {len(parts()) - 1} libraries.")  # noqa: T201 - what it is for


if __name__ == "__main__":
    main(Path(sys.argv[1] if len(sys.argv) > 1 else "build/parts.cdx.json"))
