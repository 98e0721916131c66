"""What was left out or repaired, for the terminal; pages show the same by the macro `left_out`."""

from __future__ import annotations

from rich.text import Text

from steadyband.report.common.terminal import paragraph
from steadyband.review.model import Review
from steadyband.review.sentences import named_before_line, unreadable_line


def files_lines(review: Review) -> tuple[str, str]:
    """The line on files that could not be read, and that on those named before; empty where there are none."""
    here = unreadable_line(review.unreadable) if review.unreadable else ""
    return here, named_before_line(review.named_before) if review.named_before else ""


def left_out_lines(review: Review) -> list[Text]:
    """Files that could not be read in one line, then everything else; of those named before the last line of the command tells."""
    here, _ = files_lines(review)
    told = f"{here} The page has the reasons." if here else ""
    return [paragraph(line) for line in (told, *review.left_out) if line]
