"""HTML pages that need no network: one template engine with autoescape, one style, figures drawn where they come into sight."""

from __future__ import annotations

import functools
import importlib.resources
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from importlib.resources.abc import Traversable
from typing import TYPE_CHECKING

from steadyband.report.common import palette
from steadyband.report.common.assets import SERVED, STRICT, Drawer, drawer, policies
from steadyband.report.common.beside import ALONE, Beside
from steadyband.report.common.cautions import CAUTIONS
from steadyband.report.common.figure_base import CONFIG
from steadyband.report.common.packing import packed
from steadyband.report.common.page_ribbon import PageRibbon
from steadyband.report.common.shared_note import shared_note
from steadyband.report.common.version import version
from steadyband.report.common.view import Plot
from steadyband.report.common.words import capital, sentence

if TYPE_CHECKING:
    from jinja2 import Environment, Template

ROOMS = ("common/templates", "week", "session", "block", "season", "test", "card", "route", "roster")
"""Folders of `report` that hold templates, style sheets and scripts; a name stands in one of them only."""


@dataclass(frozen=True, slots=True)
class Carried:
    """What a page carries besides its text: figures and ribbons, further scripts and style sheets of the templates folder."""

    plots: Sequence[Plot] = ()
    ribbons: Sequence[PageRibbon] = ()
    more: tuple[str, ...] = ()
    styles: tuple[str, ...] = ()


def render_page(template: str, carried: Carried, values: Mapping[str, object], beside: Beside = ALONE) -> str:
    """One page of the report's family: `template` extends page.html.j2 and draws what is `carried`; the cautions are the
    report's own unless `values` bring others."""
    return rendered(environment().get_template(template), carried, values, beside)


def rendered(template: Template, carried: Carried, values: Mapping[str, object], beside: Beside = ALONE) -> str:
    """The same from a template that is kept elsewhere."""
    return template.render(**_assets(carried, beside), **{"cautions": CAUTIONS} | dict(values))


def _assets(carried: Carried, beside: Beside) -> dict[str, object]:
    from markupsafe import Markup

    served = beside.served
    scripts = [template_text(name) for name in ("tips.js", "page.js", *carried.more)] + (
        [served.script] if served else []
    )
    styles = [template_text(name) for name in ("page.css", *carried.styles)] + ([served.style] if served else [])
    drawn_by = drawer(beside.plotly) if carried.plots else None
    return {
        "plots": carried.plots,
        "ribbons": carried.ribbons,
        "config": CONFIG,
        "colours": {"light": palette.LIGHT, "dark": palette.DARK},
        "style": Markup("\n".join(styles)),
        "scripts": [Markup(script) for script in scripts],
        "drawer": replace(drawn_by, unpacker=Markup(drawn_by.unpacker)) if drawn_by else Drawer(),
        "policies": policies(scripts, drawn_by, SERVED if served else STRICT),
        "before": Markup(served.before) if served else "",
        "links": beside.links,
        "version": version(),
        "made_from": beside.made_from,
    }


@functools.lru_cache(maxsize=16)
def template_text(name: str) -> str:
    """A template, style sheet or script as text. Raises StopIteration where no room has it."""
    return next(item for item in template_files() if item.name == name).read_text(encoding="utf-8")


def template_files() -> list[Traversable]:
    """Every template, style sheet and script of the report."""
    rooms = [importlib.resources.files("steadyband.report").joinpath(room) for room in ROOMS]
    return [item for room in rooms for item in room.iterdir() if item.name.endswith((".j2", ".css", ".js"))]


@functools.lru_cache(maxsize=1)
def environment() -> Environment:
    """The template engine: autoescape on, an undefined name is an error, numbers that JSON has not are refused."""
    from jinja2 import ChoiceLoader, Environment, PackageLoader, StrictUndefined

    engine = Environment(
        loader=ChoiceLoader([PackageLoader("steadyband.report", room) for room in ROOMS]),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    engine.filters |= {"capital": capital, "packed": packed, "sentence": sentence}
    engine.globals["shared_note"] = shared_note
    engine.policies["json.dumps_kwargs"] = {"separators": (",", ":"), "allow_nan": False}
    return engine
