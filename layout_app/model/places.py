"""From the path of a field to the line it stands on, for messages. Runs only when something is wrong."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator

from layout_app.model.reading import FieldPath

_JSON_TOKEN = re.compile(r'"[^"\\]*(?:\\.[^"\\]*)*"|[{}\[\],:]|[^\s"{}\[\],:]+')
_TOML_HEADER = re.compile(r"\s*\[\s*(.+?)\s*\]\s*(?:#.*)?$")
_TOML_KEY = re.compile(r"""\s*["']?([^"'=#\s]+)["']?\s*=""")


def json_line(text: str, path: FieldPath) -> int:
    """Return the line, from 1, of the value `path` leads to, or of the nearest object around it.

    >>> json_line('{"a": 1,\\n "b": [0,\\n 5]}', ("b", 1))
    3
    """
    best, start = -1, 0
    for place, offset in _json_values(text):
        if len(place) > best and place == path[: len(place)]:
            best, start = len(place), offset
    return text.count("\n", 0, start) + 1


def repeated_field(text: str) -> tuple[FieldPath, int]:
    """Return path and line of the first field that stands twice in its object; the text must hold one.

    >>> repeated_field('{"a": 1,\\n "a": 2}')
    (('a',), 2)
    """
    seen: set[FieldPath] = set()
    for path, offset in _json_values(text):
        if path in seen:
            return path, text.count("\n", 0, offset) + 1
        seen.add(path)
    raise ValueError("no field stands twice")


def toml_line(text: str, path: FieldPath) -> int | None:
    """Return the line, from 1, of a key in a table, of the table's header when the key is not there, or None.

    >>> toml_line('[cell]\\nmass_g = 1', ("cell", "mass_g"))
    2
    """
    table, found = "", None
    for number, line in enumerate(text.split("\n"), 1):
        if header := _TOML_HEADER.match(line):
            table = header[1].strip("\"'")
            found = number if (table,) == path[:1] else found
        elif key := _TOML_KEY.match(line):
            here = (table, key[1]) if table else (key[1],)
            if here == path[: len(here)]:
                return number
    return found


def _json_values(text: str) -> Iterator[tuple[FieldPath, int]]:
    """Yield the path and offset of every value in a sound JSON text, in order."""
    path: list[str | int] = []  # the current key or index of every open object and list
    wants_key = False
    for match in _JSON_TOKEN.finditer(text):
        token = match[0]
        if token in "}]":
            path.pop()
            wants_key = False
        elif token == ",":
            wants_key = isinstance(path[-1], str)
            path[-1] = path[-1] if isinstance(path[-1], str) else path[-1] + 1
        elif token != ":" and wants_key:
            path[-1], wants_key = json.loads(token), False
        elif token != ":":
            yield tuple(path), match.start()
            if token in "{[":
                path.append("" if token == "{" else 0)
                wants_key = token == "{"
