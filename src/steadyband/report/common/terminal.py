"""Lines, headings and lists that every printed page is made of: rich renderables that fit 80 columns on dark and light screens."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from rich.console import RenderableType
from rich.padding import Padding
from rich.text import Text

from steadyband.report.common.fitted import printable


def paragraph(text: str, style: str = "") -> Text:
    """A text in one style."""
    return Text(printable(text), style=style)


def heading(text: str) -> Text:
    """A heading."""
    return paragraph(text, "bold")


def soft(text: str) -> Text:
    """What may be read last."""
    return paragraph(text, "dim")


def lead(head: str, text: str) -> Text:
    """A few bold words, then the text."""
    return Text.assemble((printable(head), "bold"), printable(text))


def titled(title: str, parts: Sequence[RenderableType]) -> list[RenderableType]:
    """A heading and what stands under it, moved in; nothing where there is nothing."""
    return [Text(), heading(title), *(Padding(part, (0, 0, 0, 2), expand=False) for part in parts)] if parts else []


def paragraphs(texts: Iterable[str]) -> list[Text]:
    """Each text on a line of its own."""
    return [paragraph(text) for text in texts]
