"""Export: everything a layout is handed on as, in one folder; each file is whole or not there at all.

The folder keeps a list of what it was given (`LIST_NAME`), so that a later export replaces its own files, takes away
those no longer made (a segment that is gone must not reach the cutter) and leaves everything else alone.
"""

from __future__ import annotations

import hashlib
import json
import os
import tempfile
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path, PurePosixPath
from typing import TYPE_CHECKING

from layout_app.exchange.drawings_out import dxf_files
from layout_app.exchange.dxf_layers import require_version
from layout_app.exchange.report import Told, report
from layout_app.exchange.sheets import sheets
from layout_app.exchange.stamps import BLANK, Stamp
from layout_app.exchange.tables import tables
from layout_app.exchange.wording import file_name
from layout_app.model.errors import FileError, LayoutError
from layout_app.model.layouts import Layout
from layout_app.physics.figures import Figure
from layout_app.physics.min_cuts import Cut
from layout_app.plates.segments import Segment

if TYPE_CHECKING:
    from layout_app.physics.currents import Currents
    from layout_app.physics.joint_faults import JointFaults

LIST_NAME = "exported_files.json"
Progress = Callable[[float], None]  # called with the share done, 0 to 1, as each file is made; may raise to cancel


@dataclass(frozen=True, slots=True, kw_only=True)
class Content:
    """What there is to export."""

    layout: Layout
    segments: Sequence[Segment]
    figures: Sequence[Figure]
    findings: Sequence[Told]
    necks: Sequence[Cut | None]
    dxf_version: str
    currents: Currents | None = None
    joint_faults: JointFaults | None = None
    stamp: Stamp = BLANK
    step: Progress = lambda share: None  # called with the share done of a file that takes long


@dataclass(frozen=True, slots=True, kw_only=True)
class Kind:
    """One kind of export: what makes its (path, content) pairs, and how many there will be."""

    make: Callable[[Content], Iterable[tuple[str, bytes]]]
    n_files: Callable[[Content], int]
    is_asked_for: bool = False  # made only when named


def _dxf(content: Content) -> Iterable[tuple[str, bytes]]:
    return dxf_files(content.layout, content.segments, version=content.dxf_version)


def _tables(content: Content) -> Iterator[tuple[str, bytes]]:
    for path, data in tables(content.layout, content.segments, content.necks):
        yield f"tables/{path}", data


def _sheets(content: Content) -> Iterator[tuple[str, bytes]]:
    for path, data in sheets(content.layout, content.segments, content.stamp):
        yield f"drawings/{path}", data


def _report(content: Content) -> Iterator[tuple[str, bytes]]:
    page = report(
        content.layout, content.segments, content.figures, content.findings, content.necks, content.currents,
        content.joint_faults, content.stamp,
    )  # fmt: skip
    yield "report.html", page.encode()


def _paths(content: Content) -> Iterable[tuple[str, bytes]]:
    from layout_app.exchange.paths_out import path_files
    from layout_app.plates.deriving import Plates

    return path_files(Plates(content.layout), version=content.dxf_version, progress=content.step)


KINDS: dict[str, Kind] = {
    "dxf": Kind(make=_dxf, n_files=lambda content: 3 + sum(bool(segment.pieces) for segment in content.segments)),
    "tables": Kind(make=_tables, n_files=lambda _: 5),
    "drawings": Kind(make=_sheets, n_files=lambda _: 3),
    "report": Kind(make=_report, n_files=lambda _: 1),
    "paths": Kind(make=_paths, n_files=lambda _: 2, is_asked_for=True),  # the sheet model takes its time
}


def export(
    layout: Layout,
    segments: Sequence[Segment],
    figures: Sequence[Figure],
    findings: Sequence[Told],
    folder: Path | str,
    *,
    necks: Sequence[Cut | None] = (),
    currents: Currents | None = None,
    joint_faults: JointFaults | None = None,
    stamp: Stamp = BLANK,
    only: Iterable[str] | None = None,
    dxf_version: str = "R2010",
    progress: Progress | None = None,
) -> tuple[Path, ...]:
    """Write the layout's drawings, tables and report to `folder`/NAME and return the files written.

    Parameters
    ----------
    folder : created when missing; NAME is the layout's name made fit for a file system
    necks : the narrowest section of each segment, for the table of segments and the report
    currents, joint_faults : what flows and what joints do, for the charts of the report; it has none without them
    stamp : date and revision, for sheets and report
    only : the kinds wanted, out of KINDS; None means all but those made only when asked for
    dxf_version : "R2010" or "R12"
    progress : called with the share of files made, 0 to 1; what it raises ends the export, and nothing of the kind in
        hand is written

    Raises
    ------
    LayoutError : an unknown kind or version; a folder that cannot be written to; a file in the way that is not ours
    """
    kinds = _require_kinds(only)
    content = Content(
        layout=layout,
        segments=segments,
        figures=figures,
        findings=findings,
        necks=necks,
        currents=currents,
        joint_faults=joint_faults,
        stamp=stamp,
        dxf_version=require_version(dxf_version),
    )
    target = _Folder(Path(folder) / file_name(layout.name))
    n_made, n_files = 0, sum(KINDS[kind].n_files(content) for kind in kinds)

    def step(share: float) -> None:
        if progress is not None:
            progress((n_made + share) / n_files)

    content = replace(content, step=step)
    for kind in kinds:
        files = {}
        for path, data in KINDS[kind].make(content):
            files[path] = data
            n_made += 1
            if progress is not None:
                progress(n_made / n_files)
        target.put(kind, files)
    return tuple(target.written)


def _require_kinds(only: Iterable[str] | None) -> list[str]:
    wanted = (
        [kind for kind, told in KINDS.items() if not told.is_asked_for] if only is None else list(dict.fromkeys(only))
    )
    unknown = [kind for kind in wanted if kind not in KINDS]
    if unknown or not wanted:
        named = f"There is no export {unknown[0]!r}" if unknown else "Nothing to export was named"
        raise LayoutError(f"{named}; choose from {', '.join(KINDS)}.")
    return wanted


class _Folder:
    """The folder written to, with the list of what earlier exports put there."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.written: list[Path] = []
        self._make(folder)
        self._listed = self._read_list()

    def put(self, kind: str, files: dict[str, bytes]) -> None:
        """Write the files of one kind, and take away what an earlier export of it left that is no longer made."""
        self._require_free(files)
        earlier = self._listed.get(kind, {})
        made = {path: hashlib.sha256(data).hexdigest() for path, data in files.items()}
        self._listed[kind] = earlier | made
        self._write_list()  # before the files: one listed but missing does no harm, the other way round it would
        for path, data in files.items():
            self._make((self.folder / path).parent)
            self._write(self.folder / path, data)
            self.written.append(self.folder / path)
        for path in earlier.keys() - made.keys():
            self._take_away(self.folder / path, earlier[path])
        self._listed[kind] = made
        self._write_list()

    def _require_free(self, files: Iterable[str]) -> None:
        ours = {path for listed in self._listed.values() for path in listed}
        for path in files:
            if path not in ours and os.path.lexists(self.folder / path):
                raise FileError(
                    self.folder / path,
                    "is in the way and was not written by an export. Move it or choose another folder.",
                )

    def _take_away(self, file: Path, digest: str) -> None:
        """Remove a file we wrote, unless somebody has changed it since."""
        try:
            if hashlib.sha256(file.read_bytes()).hexdigest() == digest:
                file.unlink()
        except OSError:
            return  # gone already, or held by another program: it stays

    def _make(self, folder: Path) -> None:
        try:
            folder.mkdir(parents=True, exist_ok=True)
        except OSError as error:
            raise FileError(folder, f"cannot be made a folder ({_reason(error)}). Choose another one.") from error

    def _read_list(self) -> dict[str, dict[str, str]]:
        """Return {kind: {path: digest}} of earlier exports."""
        file = self.folder / LIST_NAME
        if not os.path.lexists(file):
            return {}
        try:
            read = json.loads(file.read_text(encoding="utf-8"))
            kinds = {kind: {str(path): str(digest) for path, digest in files.items()} for kind, files in read.items()}
        except (OSError, ValueError, AttributeError) as error:
            raise FileError(
                file, "is not the list of files an export keeps there. Move it or choose another folder."
            ) from error
        return {kind: {p: digest for p, digest in files.items() if _stays_inside(p)} for kind, files in kinds.items()}

    def _write_list(self) -> None:
        listed = {kind: files for kind, files in sorted(self._listed.items()) if files}
        self._write(self.folder / LIST_NAME, (json.dumps(listed, indent=1) + "\n").encode())

    def _write(self, file: Path, data: bytes) -> None:
        """Write beside the file, then put it in its place: readers see the old file or the new one, never half."""
        beside = None
        try:
            handle, name = tempfile.mkstemp(prefix=".", suffix=".part", dir=file.parent)
            beside = Path(name)
            with os.fdopen(handle, "wb") as stream:
                stream.write(data)
                stream.flush()
                os.fsync(stream.fileno())
            beside.chmod(0o644)  # mkstemp's files are for their owner alone
            beside.replace(file)
        except OSError as error:
            if beside is not None:
                beside.unlink(missing_ok=True)
            hint = "Make room or choose another folder."
            raise FileError(file, f"cannot be written ({_reason(error)}). {hint}") from error


def _stays_inside(path: str) -> bool:
    parts = PurePosixPath(path)
    return bool(path) and not parts.is_absolute() and ".." not in parts.parts and "\\" not in path and ":" not in path


def _reason(error: OSError) -> str:
    return (error.strerror or type(error).__name__).lower()
