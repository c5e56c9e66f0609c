"""Builds the wheel, installs it apart from the checkout, and does the whole job with what is in it."""

import json
import os
import subprocess
import sys
import tempfile
from pathlib import Path

CHECKOUT = Path(__file__).resolve().parents[1]
SHIPPED = {"resources": "layout_app/_resources", "sample_layouts": "layout_app/_sample_layouts"}
PIP = (sys.executable, "-m", "pip", "--quiet", "--disable-pip-version-check")


def main() -> None:
    """Run every step in a scratch folder; any that fails ends the program with its exit code."""
    with tempfile.TemporaryDirectory() as scratch:
        work = Path(scratch)
        run(*PIP, "wheel", "--no-deps", "--wheel-dir", str(work), str(CHECKOUT), cwd=work)
        (wheel,) = work.glob("busweave-*.whl")
        site = work / "site"
        run(*PIP, "install", "--no-deps", "--target", str(site), str(wheel), cwd=work)
        require_files(site)
        require_working(site, work)
    print(f"{wheel.name}: complete, and works without the checkout")


def run(*command: str, cwd: Path, **variables: str) -> str:
    """Run a command and return what it printed; end with its exit code when it fails."""
    done = subprocess.run(
        command, cwd=cwd, env={**os.environ, **variables}, stdout=subprocess.PIPE, text=True, check=False
    )
    if done.returncode:
        sys.exit(f"{' '.join(command)} ended with {done.returncode}\n{done.stdout}")
    return done.stdout


def require_files(site: Path) -> None:
    """Every shipped file of the checkout is in the wheel, byte for byte."""
    for folder, place in SHIPPED.items():
        for file in (path for path in (CHECKOUT / folder).rglob("*") if path.is_file()):
            shipped = site / place / file.relative_to(CHECKOUT / folder)
            if not shipped.is_file() or shipped.read_bytes() != file.read_bytes():
                sys.exit(f"the wheel lacks {file.relative_to(CHECKOUT)}, or has another one")


def require_working(site: Path, work: Path) -> None:
    """The installed command comes from the wheel, has its catalogue, and does the whole job; warnings are errors."""
    variables = {"PYTHONPATH": str(site), "PYTHONWARNINGS": "error", "PYTHONSAFEPATH": "1"}
    busweave = str(site / "bin" / "busweave")
    origin = run(sys.executable, "-c", "import layout_app; print(layout_app.__file__)", cwd=work, **variables)
    if not Path(origin.strip()).is_relative_to(site):
        sys.exit(f"{origin.strip()} was run instead of the wheel")
    if not json.loads(run(sys.executable, busweave, "cells", "--json", cwd=work, **variables)):
        sys.exit("busweave cells lists nothing")
    run(sys.executable, busweave, "demo", "--no-window", "--to", str(work / "demo"), cwd=work, **variables)
    if not list((work / "demo").rglob("*.dxf")):
        sys.exit("busweave demo left no DXF file")


if __name__ == "__main__":
    main()
