"""The help page of the rules, made from the rules themselves: docstrings, reasons, severities, limits and sources.

A rule says in its code how grave it is and where its limit comes from. That code is read, not run: running every rule
into its finding would take a broken layout for each.
"""

from __future__ import annotations

import ast
import inspect
import re
import sys
from collections.abc import Callable, Iterator
from dataclasses import dataclass, fields

from layout_app.checks import bonds
from layout_app.checks.reasons import reason
from layout_app.checks.rules import RULES
from layout_app.edits.settings import in_words
from layout_app.model.limits import Limits
from layout_app.physics import fault_remarks

HEAD = """\
# Findings

Every edit is checked at once. The list of findings shows errors first, then warnings, then notes; a click goes to the
place. **Errors** are modules that cannot work or cannot be built, and `busweave check` ends with exit code 1 when there
are any. **Warnings** are to be weighed by somebody who knows the module. **Notes** show a figure beside a range where
practice is divided; they are no verdict.

![The findings of a layout whose last cell was painted into the first group](pictures/findings.png)

The limits at the end of this page can be changed in the settings, under “Limits of the checks”; the others follow from
the cell type, the housing and the settings of the metal. The checks know nothing of your machine, its duty or the codes
of your country: finding nothing proves nothing.

"""


@dataclass(frozen=True, slots=True)
class Said:
    """One way a rule can speak: texts, or None where the code does not say."""

    rule: str
    severities: tuple[str, ...]
    sources: tuple[str, ...]


def page() -> str:
    """Return the page as Markdown."""
    by_rule: dict[str, list[tuple[str, Said]]] = {}
    for rule in RULES:
        for said in sayings(rule):
            by_rule.setdefault(said.rule, []).append((inspect.getdoc(rule) or "", said))
    sections = [_section(name, told) for name, told in by_rule.items()]
    return HEAD + "\n".join(sections) + _limits()


def _section(name: str, told: list[tuple[str, Said]]) -> str:
    sentences = list(dict.fromkeys(doc for doc, _ in told))
    severities = list(dict.fromkeys(grade for _, said in told for grade in said.severities))
    sources = list(dict.fromkeys(source for _, said in told for source in said.sources))
    lines = [f"## {name.capitalize()}", "", " ".join(sentences), ""]
    if reason(name):
        lines += [f"*Why:* {reason(name)}", ""]
    lines += [f"*Said as:* {' or '.join(severities)}.", ""]
    if sources:
        lines += ["*Where the limit comes from:* " + "; ".join(sources) + ".", ""]
    return "\n".join(lines)


def _limits() -> str:
    rows = [
        f"| {in_words({field.name: None})} | {field.default:g} {_unit(field.name)} "
        f"| {Limits.SOURCES.get(field.name, '')} |"
        for field in fields(Limits)
    ]
    head = "## The limits and where their defaults come from\n\n| Limit | Default | Source |\n|---|---|---|\n"
    return "\n" + head + "\n".join(rows) + "\n"


def _unit(name: str) -> str:
    return {"v": "V", "mm": "mm", "s": "s", "ohm": "Ω"}.get(name.rpartition("_")[2], "×")


# -- reading the code ------------------------------------------------------------------------------------------------


def sayings(rule: Callable[..., Iterator]) -> list[Said]:
    """Return the ways a rule can speak, found in its code and in the functions of its module it calls."""
    module = sys.modules[rule.__module__]
    body = [*ast.parse(inspect.getsource(module)).body]
    if module is bonds:  # which hands on what is said there
        body += ast.parse(inspect.getsource(fault_remarks)).body
    functions = {node.name: node for node in body if isinstance(node, ast.FunctionDef)}
    constants = {
        node.targets[0].id: node.value
        for node in body
        if isinstance(node, ast.Assign) and isinstance(node.targets[0], ast.Name)
    }
    return [said for said in dict.fromkeys(_spoken(functions[rule.__name__], functions, constants)) if said.severities]


def _spoken(function: ast.FunctionDef, functions, names) -> Iterator[Said]:
    names = {**names, **_assigned(function, functions)}
    for call in (node for node in ast.walk(function) if isinstance(node, ast.Call)):
        called = call.func.id if isinstance(call.func, ast.Name) else ""
        given = {word.arg: word.value for word in call.keywords if word.arg}
        if called in ("Finding", "Remark") or (called == "replace" and "rule" in given):
            said = {
                key: tuple(_texts(given[key], names)) if key in given else () for key in ("rule", "severity", "source")
            }
            yield Said((said["rule"] or ("?",))[0], said["severity"], said["source"])
        elif called == "load_remarks" and function.name == "lost_bonds_remarks":
            continue  # what it says there goes under another name
        elif called in functions and called != function.name:
            takes = [argument.arg for argument in functions[called].args.args]
            bound = dict(zip(takes, call.args, strict=False)) | given
            yield from _spoken(
                functions[called], functions, {**names, **{k: _kept(v, names) for k, v in bound.items()}}
            )


def _kept(value: ast.expr, names) -> ast.expr:
    """Return what a name stands for where the call is made."""
    return names.get(value.id, value) if isinstance(value, ast.Name) else value


def _assigned(function: ast.FunctionDef, functions) -> dict[str, ast.expr]:
    """Return the names a function gives to values; of a pair from another function, what that returns second."""
    found: dict[str, ast.expr] = {}
    for node in ast.walk(function):
        if not isinstance(node, ast.Assign):
            continue
        target, value = node.targets[0], node.value
        if isinstance(target, ast.Name):
            found[target.id] = value
        elif isinstance(target, ast.Tuple) and isinstance(value, ast.Call) and isinstance(value.func, ast.Name):
            inner = functions.get(value.func.id)
            pairs = [n.value for n in ast.walk(inner) if isinstance(n, ast.Return)] if inner else []
            for place, name in enumerate(target.elts):
                options = [pair.elts[place] for pair in pairs if isinstance(pair, ast.Tuple) and place < len(pair.elts)]
                if isinstance(name, ast.Name) and options:
                    found[name.id] = ast.Tuple(elts=options)
    return found


def _texts(value: ast.expr, names, depth: int = 0) -> Iterator[str]:
    """Yield every text an expression may give; what is only known when it runs is named in words."""
    if depth > 6:
        return
    if isinstance(value, ast.Constant) and isinstance(value.value, str):
        yield value.value
    elif isinstance(value, ast.Name) and value.id in names:
        yield from _texts(names[value.id], names, depth + 1)
    elif isinstance(value, ast.IfExp):
        yield from _texts(value.body, names, depth + 1)
        yield from _texts(value.orelse, names, depth + 1)
    elif isinstance(value, ast.Tuple):
        for part in value.elts:
            yield from _texts(part, names, depth + 1)
    elif isinstance(value, ast.JoinedStr):
        yield "".join(part.value if isinstance(part, ast.Constant) else _in_words(part) for part in value.values)
    elif isinstance(value, ast.Subscript) and ast.unparse(value.value) == "Limits.SOURCES":
        for key in _texts(value.slice, names, depth + 1):
            yield Limits.SOURCES[key]


def _in_words(part: ast.expr) -> str:
    """Return e.g. "(its source)" for {layout.cell_type.source}."""
    last = re.sub(r"\W", " ", ast.unparse(part.value)).split()[-1]
    return f"(its {last})"
