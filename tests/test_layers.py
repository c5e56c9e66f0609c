"""What may be loaded when: the package works without Qt, and a quick command loads nothing slow."""

import subprocess
import sys

import pytest

PACKAGES = (
    "geometry", "model", "planning", "plates", "physics", "charting", "checks", "exchange", "edits", "workings", "cli",
)  # fmt: skip


def loaded_after(code):
    """Return the names of all modules loaded after some code ran in an interpreter of its own."""
    tell = f"import sys; {code}; print('\\n'.join(sys.modules), file=sys.stderr)"
    ran = subprocess.run([sys.executable, "-c", tell], capture_output=True, text=True, check=True)
    return set(ran.stderr.split())


@pytest.mark.parametrize("package", PACKAGES)
def test_package_loads_without_qt_and_without_drawing_library(package):
    loaded = loaded_after(f"import layout_app.{package}")
    assert f"layout_app.{package}" in loaded
    assert not {"PySide6", "ezdxf", "shapely", "scipy", "matplotlib"} & loaded


@pytest.mark.parametrize("module", ["checks.rules", "exchange.drawings_in", "exchange.export", "plates.deriving"])
def test_modules_that_do_the_work_need_no_qt(module):
    assert "PySide6" not in loaded_after(f"import layout_app.{module}")


@pytest.mark.parametrize(("kind", "is_needed"), [("tables", False), ("dxf", False), ("report", True)])
def test_only_a_report_loads_the_plotting_library(saved, tmp_path, kind, is_needed):
    told = ["export", str(saved), "--to", str(tmp_path), "--only", kind]
    loaded = loaded_after(f"from layout_app.cli import main; assert main({told!r}) == 0")
    assert ("matplotlib" in loaded) is is_needed
    assert "PySide6" not in loaded


def test_help_loads_no_numerical_library():
    loaded = loaded_after("from layout_app.cli import main; main(['--help'])")
    assert not {"numpy", "PySide6", "ezdxf", "shapely", "scipy"} & loaded


def test_figures_of_a_saved_layout_load_neither_qt_nor_scipy_nor_the_drawing_library(saved):
    loaded = loaded_after(f"from layout_app.cli import main; assert main(['figures', {str(saved)!r}]) == 0")
    assert "layout_app.physics.figures" in loaded
    assert not {"PySide6", "ezdxf", "shapely", "scipy", "scipy.sparse"} & loaded
