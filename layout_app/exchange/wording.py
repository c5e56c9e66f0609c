"""Words on paper: the caution every drawing carries, and user text made safe for where it is written."""

import unicodedata

CAUTION = (
    "Computed layout, not certified: follow local codes, the cell maker's data sheet and licensed practice. "
    "Lithium-ion cells burn when shorted, crushed or overheated."
)
LONGEST_FILE_NAME = 60  # leaves room for folders and suffixes in the 260 characters some systems allow a path
# Windows opens these as devices whatever their ending (Microsoft, "Naming Files, Paths, and Namespaces"; from memory)
DEVICE_NAMES = {"con", "prn", "aux", "nul", *(f"{port}{k}" for port in ("com", "lpt") for k in range(10))}


def one_line(text: str) -> str:
    """Return the text on one line, without control characters or anything UTF-8 cannot hold.

    >>> one_line("two\\nlines\\x07")
    'two lines'
    """
    spaced = " ".join(text.split())
    kept = "".join(letter for letter in spaced if unicodedata.category(letter) not in ("Cc", "Cs", "Cf"))
    return kept.strip()


def ascii_only(text: str) -> str:
    """Return one line of plain ASCII: accents dropped, anything else a question mark.

    >>> ascii_only("Obstgarten-Gefährt №7 — β")
    'Obstgarten-Gefahrt No7 - ?'
    """
    named = one_line(text).replace("–", "-").replace("—", "-").replace("−", "-").replace("×", "x")
    plain = "".join(letter for letter in unicodedata.normalize("NFKD", named) if not unicodedata.combining(letter))
    return plain.encode("ascii", "replace").decode()


def drawing_text(text: str, *, ascii_needed: bool = False) -> str:
    r"""Return the text with nothing a DXF reader would take for markup (%%c, \P, ^I, {…}).

    >>> drawing_text(r"tray {A}\P 50 %%c")
    'tray (A)/P 50 %c'
    """
    line = ascii_only(text) if ascii_needed else one_line(text)
    while "%%" in line:
        line = line.replace("%%", "%")
    return line.translate(str.maketrans("\\^{}", "/'()"))


def file_name(name: str) -> str:
    """Return a file name any system takes, without ending, made from a layout's name.

    >>> file_name("Orchard rover: tray 2/3"), file_name("..."), file_name("nul")
    ('orchard_rover_tray_2_3', 'layout', 'nul_layout')
    """
    letters = "".join(letter if letter.isalnum() or letter in "-_" else " " for letter in ascii_only(name).lower())
    stem = "_".join(letters.split())[:LONGEST_FILE_NAME].strip("_-")
    if stem in DEVICE_NAMES:
        return f"{stem}_layout"
    return stem or "layout"
