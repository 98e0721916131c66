"""Text that came from a file, made safe to show: nothing that a terminal obeys, nothing endless."""

from __future__ import annotations

LONGEST_SHOWN = 60
"""Most characters of a value that a message repeats (design choice: enough to find it in the file)."""


def plain(text: str) -> str:
    """The text with every character a terminal may act on, or that hides others, written out: ESC becomes \\x1b.

    Control characters, line ends, the marks that turn the direction of writing, lone surrogates: all that
    `str.isprintable` says no to. The result can always be encoded as UTF-8.
    """
    return text if text.isprintable() else "".join(sign if sign.isprintable() else _escaped(sign) for sign in text)


def plain_lines(text: str) -> str:
    """The same, line by line: line feeds stay."""
    return "\n".join(plain(line) for line in text.split("\n"))


def _escaped(sign: str) -> str:
    return sign.encode("unicode_escape").decode("ascii")


ORDERS = (*range(0x20), *range(0x7F, 0xA0), 0x200B, 0x200E, 0x200F, *range(0x2028, 0x202F), *range(0x2066, 0x206A))
"""What text for programs does not hold either: control characters, marks that turn the direction of writing, hidden ends
of lines. Joiners within words and pictures stay."""
_FOR_TABLES = {number: _escaped(chr(number)) for number in ORDERS}
_FOR_JSON = {number: f"\\u{number:04x}" for number in ORDERS if number >= 0x20}


def table_text(text: str) -> str:
    """The text for a cell of a table that may be printed on a terminal: orders to it are written out."""
    return text.translate(_FOR_TABLES)


def json_text(document: str) -> str:
    """A JSON document with orders to a terminal as JSON's own escapes: the same values, safe to print."""
    return document.translate(_FOR_JSON)


def shown(value: object, most: int = LONGEST_SHOWN) -> str:
    """A value as a message repeats it: as Python writes it, cut to `most` characters."""
    if isinstance(value, int) and value.bit_length() > 4 * most:
        return f"a number of about {round(value.bit_length() * 0.30103)} digits"
    if isinstance(value, str):
        return cut(repr(value[: most + 1]), most)
    try:
        written = repr(value)
    except (ValueError, RecursionError):
        written = "a number, list or table too long to write"
    return cut(written, most)


def cut(text: str, most: int = LONGEST_SHOWN) -> str:
    """At most so many characters, with three dots where some are left out."""
    return text if len(text) <= most else f"{text[: most - 3]}..."
