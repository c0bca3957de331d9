"""From bytes to text: byte-order marks, encodings, and lines whatever ends them."""

from __future__ import annotations

import codecs
import re
from collections.abc import Iterator
from dataclasses import dataclass

from data.problem import Problem

_MARKS = (
    (codecs.BOM_UTF8, "utf-8-sig"),
    (codecs.BOM_UTF32_LE, "utf-32"),
    (codecs.BOM_UTF32_BE, "utf-32"),
    (codecs.BOM_UTF16_LE, "utf-16"),
    (codecs.BOM_UTF16_BE, "utf-16"),
)
_LINE_END = re.compile(r"\r\n|\n|\r")


_FORMULA = re.compile(r"'*[=+\-@\t\r]")
_MARKED = re.compile(r"'+[=+\-@\t\r]")


def inert(cell: str) -> str:
    """A cell that no spreadsheet takes for a formula: an apostrophe before what might be one. Numbers stay."""
    if not _FORMULA.match(cell) or len(cell) < 2:
        return cell
    try:
        float(cell)
    except ValueError:
        return f"'{cell}"
    return cell


def without_mark(cell: str) -> str:
    """The cell that `inert` was given."""
    return cell[1:] if _MARKED.match(cell) else cell


def known_encoding(name: str) -> bool:
    """Whether the name is that of a text encoding."""
    try:
        return bool(codecs.lookup(name)) and isinstance("".encode(name), bytes)
    except (LookupError, UnicodeError, ValueError):
        return False


@dataclass(frozen=True)
class Text:
    """A file's text as UTF-8 without a mark, and the encoding that it came in."""

    utf8: bytes
    encoding: str

    def head(self, size: int) -> str:
        """The whole lines among the first `size` bytes; if not even one is whole, what there is."""
        piece = self.utf8[:size]
        if len(self.utf8) > size:
            cut = max(piece.rfind(b"\n"), piece.rfind(b"\r"))
            piece = piece[: cut + 1] if cut >= 0 else piece
        return piece.decode("utf-8", "ignore")

    def lines(self) -> list[str]:
        return lines_of(self.utf8.decode())


def lines_of(text: str) -> list[str]:
    """The lines without their ends, which may be LF, CR LF or CR, mixed."""
    lines = _LINE_END.split(text)
    return lines[:-1] if lines[-1] == "" else lines


def each_line(text: str) -> Iterator[str]:
    """The same one by one, for whoever needs the first of many."""
    at = 0
    for found in _LINE_END.finditer(text):
        yield text[at : found.start()]
        at = found.end()
    if at < len(text):
        yield text[at:]


def decode(raw: bytes, encoding: str = "") -> Text:
    """The text of a file. A byte-order mark says its encoding; without one and without `encoding` it is UTF-8,
    and where it can't be, Latin-1. Raises Problem where the bytes are no text.
    """
    if not raw:
        raise Problem("empty", "The file is empty.", "Copy it from the logger again.")
    if raw.startswith(codecs.BOM_UTF8) and encoding in ("", "utf-8-sig", "utf-8"):
        raw, encoding = raw[len(codecs.BOM_UTF8) :], "utf-8-sig"
    plain = raw.isascii()
    encoding = encoding or _marked(raw) or _unmarked(raw, plain)
    if encoding in ("utf-8", "utf-8-sig") and plain:
        text = Text(raw, encoding)
    else:
        text = Text(_converted(raw, encoding), encoding)
    if b"\0" in text.utf8:
        raise _not_text()
    return text


def _marked(raw: bytes) -> str:
    return next((name for mark, name in _MARKS if raw.startswith(mark)), "")


def _unmarked(raw: bytes, plain: bool) -> str:
    """`plain`: it is all ASCII."""
    if _bare_utf16(raw):  # first: what it holds may all be ASCII, zero bytes among it
        return _bare_utf16(raw)
    if plain:
        return "utf-8"
    try:
        raw.decode("utf-8")
    except UnicodeDecodeError:
        return "latin-1"
    return "utf-8"


def _bare_utf16(raw: bytes) -> str:
    """UTF-16 without a mark shows as digits and delimiters with a zero byte beside each."""
    piece = raw[:4000]
    pairs = len(piece) // 2
    for name, zeros in (("utf-16-le", piece[1::2]), ("utf-16-be", piece[0::2])):
        if pairs >= 4 and zeros.count(0) > 0.9 * pairs and piece.count(0) < 1.1 * pairs:
            return name
    return ""


def _converted(raw: bytes, encoding: str) -> bytes:
    try:
        text = raw.decode(encoding)
    except UnicodeDecodeError as error:
        line = raw.count(b"\n", 0, error.start) + 1
        message = f"The bytes are not {encoding} text."
        raise Problem("encoding", message, "Name the encoding in the recipe, [table] encoding.", line=line) from error
    except (UnicodeError, ValueError, LookupError) as error:  # of encodings that are hardly ever a file's
        raise Problem("encoding", f"The bytes are not {encoding} text.",
                      "Name the encoding in the recipe, [table] encoding.") from error
    return text.lstrip("\ufeff").encode("utf-8", "replace")


def _not_text() -> Problem:
    message = "This is not a table of text: it holds zero bytes."
    return Problem("not_a_table", message, "Export the recording from its logger as a table of text (CSV).")
