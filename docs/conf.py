"""How the site is built: `python -m sphinx -W -b html docs build/site`. Nothing in a page asks another host for anything."""

from __future__ import annotations

import re
from typing import Any

project = "steadyband"
author = "The steadyband developers"
copyright = "the steadyband developers, MIT licence"
language = "en"

extensions = ["myst_parser"]
source_suffix = {".md": "markdown"}
exclude_patterns = ["README.md"]
myst_enable_extensions = ["fieldlist"]
myst_heading_anchors = 3
suppress_warnings = ["myst.header"]

html_theme = "furo"
html_title = "steadyband"
html_static_path = ["_static"]
html_css_files = ["site.css"]
html_show_sphinx = False
html_copy_source = False
html_theme_options = {
    "light_css_variables": {
        "color-brand-primary": "#2C6E8F",
        "color-brand-content": "#2C6E8F",
        "color-background-primary": "#FBFAF7",
        "color-background-secondary": "#F3F1EA",
        "color-sidebar-caption-text": "#4A5058",
        "color-foreground-primary": "#1C2430",
    },
    "dark_css_variables": {
        "color-brand-primary": "#A9D3CF",
        "color-brand-content": "#A9D3CF",
        "color-sidebar-caption-text": "#A9B0B8",
    },
}


def _breakable(code: re.Match[str]) -> str:
    return code["head"] + re.sub(r"(?<=[a-z0-9])(::|[./])(?=[a-z])|_(?=[a-z0-9])", r"\g<0><wbr>", code["text"])


def _finished(app: Any, pagename: str, templatename: str, context: dict[str, Any], doctree: Any) -> None:
    """What the theme leaves to do: long names may break in tables, code is reached by keyboard, captions have a level."""
    body = re.sub(r'(?P<head><span class="pre">)(?P<text>[a-z][\w./:]{15,})', _breakable, context.get("body", ""))
    context["body"] = body.replace("<pre>", '<pre tabindex="0">')
    menu = context.get("furo_navigation_tree", "")
    context["furo_navigation_tree"] = menu.replace('role="heading"', 'role="heading" aria-level="2"')


def setup(app: Any) -> None:
    """Called by Sphinx."""
    app.connect("html-page-context", _finished, priority=900)
