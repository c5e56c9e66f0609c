"""Shipped files are found in a checkout and in an installed wheel."""

import shutil
import subprocess
import sys
from pathlib import Path

import layout_app
from layout_app.model.resources import resource, sample_layouts

PACKAGE = Path(layout_app.__file__).parent


def test_the_checkout_has_the_catalogues():
    assert resource("cells.toml").is_file()
    assert resource("materials.toml").is_file()


def test_samples_are_named_after_their_files():
    for name, path in sample_layouts().items():
        assert path.name == f"{name}.busweave"
        assert path.is_file()


def run_in(folder, code):
    return subprocess.run([sys.executable, "-c", code], cwd=folder, capture_output=True, text=True, check=False)


def test_an_installed_package_finds_what_the_wheel_put_inside_it(tmp_path):
    (tmp_path / "layout_app").mkdir()
    for part in ("__init__.py", "model", "geometry"):
        source = PACKAGE / part
        (shutil.copytree if source.is_dir() else shutil.copy)(source, tmp_path / "layout_app" / part)
    read = "from layout_app.model import catalogues; print(catalogues.cell_type('21700-energy').id)"
    missing = run_in(tmp_path, read)
    assert "Install Busweave again" in missing.stderr
    shutil.copytree(resource("."), tmp_path / "layout_app" / "_resources")
    assert run_in(tmp_path, read).stdout == "21700-energy\n"
