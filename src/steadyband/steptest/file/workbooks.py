"""A workbook looked through before a library opens it: .xlsx and .ods are zip archives of XML, and both can be traps.

What is looked for: members that unpack to more than they should, document types and entities, nesting without end, and
cells so far out (or repeated so often) that the table between them would fill the memory.
"""

from __future__ import annotations

import zipfile
from io import BytesIO
from typing import Any
from xml.parsers import expat

FILE_MAX = 2**23
"""Largest table or workbook [bytes] (design choice: a test with a picture takes a tenth of it)."""
MEMBERS_MAX = 500
UNPACKED_MAX = 2**25
"""Most bytes all members of a workbook may unpack to (design choice)."""
XML_MAX = 2**24
"""Most bytes of XML among them: as a tree it takes some twenty times as much (design choice)."""
DEPTH_MAX = 100
"""Deepest nesting of elements (design choice; a cell stands about six deep)."""
ROWS_MAX, COLUMNS_MAX = 5_000, 200
"""Largest table (design choice: a step test has under a hundred rows and two dozen columns)."""
_METHODS = (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED)


def check_workbook(data: bytes) -> None:
    """Raises ValueError or BadZipFile with the reason why the workbook is not opened."""
    with zipfile.ZipFile(BytesIO(data)) as archive:
        infos = archive.infolist()
        _check_sizes(infos)
        for info in infos:
            if info.filename.endswith((".xml", ".rels")):
                _check_xml(archive, info)


def _check_sizes(infos: list[zipfile.ZipInfo]) -> None:
    unpacked = sum(info.file_size for info in infos)
    xml = sum(info.file_size for info in infos if info.filename.endswith((".xml", ".rels")))
    if len(infos) > MEMBERS_MAX or unpacked > UNPACKED_MAX or xml > XML_MAX:
        raise ValueError(
            f"it unpacks to {unpacked / 2**20:,.0f} MiB in {len(infos):,} parts, far more than a step test"
        )
    if any(info.compress_type not in _METHODS for info in infos):
        raise ValueError("it is packed in a way that no spreadsheet program uses")
    if len({info.filename for info in infos}) < len(infos):
        raise ValueError("two of its parts have the same name")


def _check_xml(archive: zipfile.ZipFile, info: zipfile.ZipInfo) -> None:
    with archive.open(info) as stream:
        xml = stream.read(info.file_size + 1)
    look = _Look()
    try:
        look.parser.Parse(xml, True)
    except expat.ExpatError as fault:
        raise ValueError(f"{info.filename[:60]} is no sound XML") from fault


class _Look:
    """One pass over the elements of a part."""

    def __init__(self) -> None:
        self.parser: Any = expat.ParserCreate()
        self.parser.StartDoctypeDeclHandler = self._doctype
        self.parser.StartElementHandler, self.parser.EndElementHandler = self._opened, self._closed
        self._depth = 0
        self._row = self._column = self._width = 0
        self._repeat = 1

    def _doctype(self, *_: object) -> None:
        raise ValueError("it declares a document type, which no spreadsheet program writes")

    def _opened(self, name: str, attributes: dict[str, str]) -> None:
        self._depth += 1
        if self._depth > DEPTH_MAX:
            raise ValueError(f"its XML nests more than {DEPTH_MAX} deep")
        kind = name.rpartition(":")[2]
        if kind == "c":
            self._column += 1
            self._reach(*(_place(attributes["r"]) if "r" in attributes else (self._row, self._column)))
        elif kind == "row":
            self._row, self._column = _count(attributes.get("r")), 0
        elif kind in ("table-cell", "covered-table-cell"):
            self._cell(_by_local_name(attributes))
        elif kind == "table-row":
            self._repeat = _count(_by_local_name(attributes).get("number-rows-repeated"))
            self._column = self._width = 0
        elif kind in ("table", "worksheet"):
            self._row = 0

    def _closed(self, name: str) -> None:
        self._depth -= 1
        if name.rpartition(":")[2] == "table-row":
            self._row += self._repeat
            if self._width:
                self._reach(self._row, self._width)

    def _cell(self, attributes: dict[str, str]) -> None:
        self._column += _count(attributes.get("number-columns-repeated"))
        if "value-type" in attributes:
            self._width = self._column

    def _reach(self, row: int, column: int) -> None:
        if row > ROWS_MAX or column > COLUMNS_MAX:
            raise ValueError(
                f"a cell stands in row {row:,} and column {column:,}; at most {ROWS_MAX:,} and {COLUMNS_MAX} are read"
            )


def _by_local_name(attributes: dict[str, str]) -> dict[str, str]:
    return {name.rpartition(":")[2]: value for name, value in attributes.items()}


def _count(text: str | None) -> int:
    """How often something is repeated; anything but a plain number of ten digits is a fault."""
    if text is None:
        return 1
    if not (text.isascii() and text.isdecimal() and len(text) <= 10):
        raise ValueError("it repeats cells by something that is no count")
    return max(1, int(text))


def _place(reference: str) -> tuple[int, int]:
    """(row, column) of a cell reference such as AB12."""
    letters = reference.rstrip("0123456789").upper()
    digits = reference[len(letters) :]
    if not (letters.isascii() and letters.isalpha() and len(letters) <= 5 and 1 <= len(digits) <= 10):
        raise ValueError("it names a cell in a way that no spreadsheet program does")
    column = 0
    for letter in letters:
        column = column * 26 + ord(letter) - ord("A") + 1
    return int(digits), column
