"""Every kind of harvester, by the name that a case gives it.

The kinds of this package are the folders beside this file; other packages add theirs by an entry point of the
group `welkinwell.kinds` that names their `ListedKind`, as `my_still = "my_package.my_still:KIND"`.
"""

from __future__ import annotations

import importlib
from collections.abc import Iterator, Mapping
from importlib.metadata import entry_points
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from welkinwell.harvesters.listed import ListedKind
from welkinwell.merged_files import GROUP

if TYPE_CHECKING:
    from welkinwell.harvesters.harvester import Harvester


def _own() -> Iterator[ListedKind]:
    """Kinds whose folder lies beside this file."""
    for place in Path(__file__).parent.iterdir():
        if (place / "design.py").is_file():
            yield importlib.import_module(f"{__package__}.{place.name}").KIND


def _of_others() -> Iterator[ListedKind]:
    """Kinds of other packages, by their entry points."""
    for entry in entry_points(group=GROUP):
        listed = entry.load()
        if not isinstance(listed, ListedKind):
            raise TypeError(f"entry point {entry.value} of the group {GROUP}: {listed!r} is no ListedKind")
        yield listed


def listed_kinds() -> dict[str, ListedKind]:
    """List all kinds in their order; ValueError where two have one name."""
    found: dict[str, ListedKind] = {}
    for kind in sorted((*_own(), *_of_others()), key=lambda kind: (kind.place, kind.key)):
        if (other := found.setdefault(kind.key, kind)) is not kind:
            raise ValueError(f"two kinds are called {kind.key}: {other.package} and {kind.package}")
    return found


LISTED: Final[Mapping[str, ListedKind]] = listed_kinds()
# Those that take water from the air: what a study that looks for a harvester offers.
KINDS: Final[Mapping[str, ListedKind]] = {key: kind for key, kind in LISTED.items() if kind.from_air}
# The kind that stands first: the device in which sorbents are compared.
PLAIN: Final = next(iter(KINDS))


def plain_design() -> Any:
    """Give the design in which sorbents are compared, as its fields have it where nothing is said."""
    return KINDS[PLAIN].load()()


def harvester_of(design: Any) -> Harvester:
    """Give the Harvester that simulates a design, by the kind that its class names and by its depth."""
    return LISTED[design.kind].assembled(getattr(design, "depth", ""))


def harvester_of_year(attributes: Mapping[str, Any]) -> Harvester:
    """Give the Harvester that simulated a year, by the attributes of its Dataset."""
    return LISTED[attributes["kind"]].assembled(attributes.get("depth", ""))


def kinds_bound_by(group: str) -> tuple[str, ...]:
    """List the kinds that a group of a place's bounds holds for."""
    return tuple(key for key, kind in KINDS.items() if group in kind.bound_by)
