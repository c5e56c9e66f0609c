"""Every rule says why it is there."""

import ast
from pathlib import Path

import layout_app.checks
from layout_app.checks.reasons import REASONS, reason


def rules_in(source):
    """Return the rule names a module gives findings: constants passed as `rule`, or to helpers in its place."""
    found = set()
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.keyword) and node.arg == "rule" and isinstance(node.value, ast.Constant):
            found.add(node.value.value)
    return found


def test_every_rule_has_its_reason():
    folder = Path(layout_app.checks.__file__).parent
    rules = set().union(*(rules_in(path.read_text(encoding="utf-8")) for path in folder.glob("*.py")))
    assert len(rules) > 10
    assert rules <= REASONS.keys()


def test_an_unknown_rule_has_no_words():
    assert reason("made up") == ""
