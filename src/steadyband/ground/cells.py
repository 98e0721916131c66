"""Text cells of CSV files that no spreadsheet program takes for a formula.

A cell that begins with = + - @, a tab or a line end may be run as a formula when the file is opened, and so send away
or change what is beside it. Such a text gets an apostrophe in front, which spreadsheet programs take as "this is
text" (OWASP, "CSV Injection", https://owasp.org/www-community/attacks/CSV_Injection; the list of signs, with the
full-width ones, is quoted from memory). Numbers are not touched: a negative one stays a number.
"""

from __future__ import annotations

SIGNS = ("=", "+", "-", "@", "\t", "\r", "\n", "\uff1d", "\uff0b", "\uff0d", "\uff20")
MARK = "'"


def defused(text: str) -> str:
    """The text as a cell; `as_written` gives it back."""
    return MARK + text if _could_run(text) else text


def as_written(cell: str) -> str:
    """The text of a cell that `defused` made; any other text is given back as it is."""
    return cell[1:] if cell.startswith(MARK) and _could_run(cell) else cell


def _could_run(text: str) -> bool:
    """A text that has marks already counts as well, so that taking one away always gives back what was there."""
    return text.lstrip(MARK).startswith(SIGNS)
