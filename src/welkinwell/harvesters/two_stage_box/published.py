"""Published tests of two-stage boxes: they are among those of passive boxes, and mapped to this kind."""

from __future__ import annotations

from typing import Any, Final

from welkinwell.harvesters.published import Fields, Given, PublishedTests


def _maps(given: Given, usual: Any, sorbent: Any) -> Fields:
    """The words of a passive box for both stages; one gap's width and edge loss are those of each."""
    names = {
        "first_gap": ("rear_gap", 1.0),
        "second_gap": ("rear_gap", 1.0),
        "first_edge_loss": ("edge_loss", 0.5),
        "second_edge_loss": ("edge_loss", 0.5),
    }
    values = {field: share * given[word] for field, (word, share) in names.items() if word in given}
    return Fields(values, ("second_stage", "rear_gap", "edge_loss"))


PUBLISHED: Final = PublishedTests(_maps)
