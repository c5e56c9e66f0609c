"""README and DEVELOPERS.md do what they say: their commands and examples are run as they stand."""

import re
import shlex
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from layout_app.cli import main
from layout_app.model.resources import resource

PROJECT = Path(__file__).parents[1]


def blocks(document, language):
    """Return the contents of a document's code blocks of one language."""
    text = (PROJECT / document).read_text(encoding="utf-8")
    return re.findall(rf"^```{language}\n(.*?)^```$", text, flags=re.MULTILINE | re.DOTALL)


def test_commands_of_the_readme_work_in_their_order(tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    shutil.copy(resource("housings/orchard_rover_tray.dxf"), "tray.dxf")
    (commands,) = blocks("README.md", "sh")
    for line in commands.splitlines():
        program, *arguments = shlex.split(line, comments=True)
        assert program == "busweave"
        assert main(arguments) == 0, (line, capsys.readouterr().err)
    assert list(Path("for_the_workshop").rglob("*.dxf"))


def test_examples_for_developers_work_in_their_order(tmp_path):
    (cell,) = blocks("DEVELOPERS.md", "toml")
    (tmp_path / "cell.toml").write_text(cell, encoding="utf-8")
    examples = tmp_path / "examples.py"
    examples.write_text("\n".join(blocks("DEVELOPERS.md", "python")), encoding="utf-8")
    ran = subprocess.run(
        [sys.executable, "-W", "error", examples],
        cwd=tmp_path, env={"PYTHONPATH": str(PROJECT)}, capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert ran.returncode == 0, ran.stderr


@pytest.mark.parametrize("document", ["README.md", "DEVELOPERS.md"])
def test_links_and_commands_of_a_document_lead_somewhere(document):
    text = (PROJECT / document).read_text(encoding="utf-8")
    named = re.findall(r"\]\(([^)]+)\)", text) + re.findall(r"bash (\.ci/\w+)", text)
    named += re.findall(r"`((?:layout_app|tests|resources)/[\w/.]+)`", text)
    assert named
    assert [name for name in named if not (PROJECT / name).exists()] == []
