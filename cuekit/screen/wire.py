"""A view as plain values for the page."""

from __future__ import annotations

from typing import Any

from cuekit.records.record_json import to_plain
from cuekit.screen.view import View

_PAIRS = ("values", "texts")
"""Fields that hold named values, which the page reads by their names."""


def plain_view(view: View) -> Any:
    """The view as JSON has it: named values as an object."""
    return _named(to_plain(view))


def _named(plain: Any) -> Any:
    if isinstance(plain, list):
        return [_named(one) for one in plain]
    if not isinstance(plain, dict):
        return plain
    return {
        key: {one["name"]: one["value"] for one in inner} if key in _PAIRS else _named(inner)
        for key, inner in plain.items()
    }
