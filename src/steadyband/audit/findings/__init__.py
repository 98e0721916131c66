"""What can be found in a session: one file a finding, each with its `RULE`. A new file is found by being here."""

from __future__ import annotations

from importlib import import_module
from pkgutil import iter_modules

from steadyband.audit.findings.rule import Rule


def _rules() -> tuple[Rule, ...]:
    modules = [import_module(f"{__name__}.{found.name}") for found in iter_modules(__path__)]
    return tuple(sorted((module.RULE for module in modules if hasattr(module, "RULE")), key=lambda rule: rule.place))


RULES: tuple[Rule, ...] = _rules()
"""Every finding, in the order they stand in."""

__all__ = ["RULES", "Rule"]
