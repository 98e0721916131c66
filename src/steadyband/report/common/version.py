"""The version that pages say they were made by."""

from __future__ import annotations

import importlib.metadata


def version() -> str:
    """The installed version of the package, empty where it runs from its source alone."""
    try:
        return importlib.metadata.version("steadyband")
    except importlib.metadata.PackageNotFoundError:
        return ""
