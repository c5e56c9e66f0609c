"""Opening a DXF file: any release from R12 on, text or binary, slightly damaged ones repaired."""

from __future__ import annotations

import logging
import re
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from layout_app.exchange.drawing_errors import UnreadableDrawingError, printable

if TYPE_CHECKING:
    from ezdxf.document import Drawing

MAX_FILE_MB = 100  # an outline takes kilobytes; a file beyond this would be read for minutes
_BINARY_MARK = b"AutoCAD Binary DXF\r\n\x1a\x00"  # the first bytes of every binary DXF, as the format prescribes
_OTHER_KINDS = (
    (b"\x89PNG", "a PNG picture"),
    (b"\xff\xd8\xff", "a JPEG picture"),
    (b"%PDF", "a PDF document"),
    (b"PK\x03\x04", "a ZIP archive"),
    (b"AC10", "a DWG file"),
    (b"ISO-10303", "a STEP model"),
    (b"<", "an XML or SVG file"),
)


@dataclass(frozen=True, slots=True, eq=False)
class OpenedDrawing:
    """A drawing in memory and what had to be repaired to get it there."""

    document: Drawing
    n_repairs: int


def open_drawing(path: Path) -> OpenedDrawing:
    """Return the DXF document in a file.

    Raises
    ------
    UnreadableDrawingError : missing, a folder, unreadable, empty, cut off, too large, or no DXF
    """
    head, tail = _looked_at(path)
    _require_dxf(path, head)
    if not re.search(rb"(\A|[\s\x00])EOF[\s\x00\x1a]*\Z", tail):
        raise UnreadableDrawingError(
            path, "the file is cut off: its end mark is missing. Save or copy the drawing again."
        )
    with _quiet():
        return _read(path)


def _looked_at(path: Path) -> tuple[bytes, bytes]:
    """Return the first and the last few bytes of the file."""
    try:
        if path.is_dir():
            raise UnreadableDrawingError(path, "this is a folder. Choose the DXF file inside it.")
        if path.exists() and not path.is_file():
            raise UnreadableDrawingError(path, "this is not a file. Choose a DXF file.")
        size = path.stat().st_size
        with path.open("rb") as file:
            head = file.read(4096)
            file.seek(max(0, size - 256))
            tail = file.read()
    except FileNotFoundError:
        raise UnreadableDrawingError(path, "there is no such file. Check the name and the folder.") from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise UnreadableDrawingError(path, f"the file cannot be read: {reason}.") from None
    if size > MAX_FILE_MB * 1e6:
        raise UnreadableDrawingError(
            path,
            f"the file has {size / 1e6:.0f} MB; at most {MAX_FILE_MB} MB is read. Save the outline on its own.",
        )
    return head, tail


def _require_dxf(path: Path, head: bytes) -> None:
    """Raise unless the first bytes are those of a DXF."""
    text = head.removeprefix(b"\xef\xbb\xbf").lstrip()
    if not text.strip(b"\x00"):
        raise UnreadableDrawingError(path, "the file is empty. Save the drawing again.")
    if head.startswith(_BINARY_MARK):
        return
    for mark, kind in _OTHER_KINDS:
        if text.startswith(mark):
            raise UnreadableDrawingError(path, f"this is {kind}, not a DXF. Save the drawing as DXF (R12 to R2018).")
    if not re.match(rb"(999[ \t]*\r?\n[^\n]*\n\s*)*0[ \t]*\r?\n[ \t]*SECTION", text):
        raise UnreadableDrawingError(
            path, "this is not a DXF: it does not begin with a section. Save the drawing as DXF (R12 to R2018)."
        )


def _read(path: Path) -> OpenedDrawing:
    import ezdxf
    from ezdxf import recover

    # Whatever a damaged file makes the library trip over, the user's answer is the same: this file is not usable.
    with suppress(Exception):
        return OpenedDrawing(ezdxf.readfile(path), 0)  # type: ignore[attr-defined]  # ezdxf does not mark it
    try:
        document, audit = recover.readfile(path)
    except Exception as error:
        reason = printable(" ".join(str(error).split())[:120].rstrip(".")) or type(error).__name__
        raise UnreadableDrawingError(path, f"the DXF is damaged ({reason}). Save or copy it again.") from None
    if audit.has_errors:
        raise UnreadableDrawingError(
            path, f"the DXF has faults that cannot be repaired: {len(audit.errors)}. Save or copy it again."
        )
    return OpenedDrawing(document, max(1, len(audit.fixes)))


@contextmanager
def _quiet() -> Iterator[None]:
    """Keep the library's log from the terminal: what matters in it comes back as our own message."""
    logger = logging.getLogger("ezdxf")
    before = logger.level
    logger.setLevel(logging.CRITICAL + 1)
    try:
        yield
    finally:
        logger.setLevel(before)
