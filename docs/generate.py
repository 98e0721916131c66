"""Writes the pages that follow from the program itself: commands.md from each command's own help, settings.md from the settings.

`python docs/generate.py` from anywhere rewrites them; with `--check` it writes nothing, names the pages that would change
and ends with 1. A test does the same.
"""

from __future__ import annotations

import argparse
import dataclasses
import inspect
import sys
import types
import typing
from collections.abc import Iterator, Sequence
from datetime import date, datetime
from enum import Enum
from pathlib import Path
from typing import Any

HERE = Path(__file__).parent
STARTER = HERE.parent / "src" / "steadyband" / "athlete" / "starter" / "athlete.toml"
UNBOUNDED = 1e9
COMMAND = "python docs/generate.py"
PAGE_HEAD = f"<!-- Written by `{COMMAND}`: change the program and run it again, not this page. -->\n"
KINDS = {
    bool: "on or off",
    int: "a whole number",
    float: "a number",
    str: "text",
    Path: "a path",
    datetime: "a date",
    date: "a week or a date",
}


def commands_page() -> str:
    """Every command with its usage, arguments, options and example, in the order of `steadyband --help`."""
    import typer.main

    from steadyband.cli.main import app

    named = sorted(_walk(typer.main.get_command(app), ("steadyband",)), key=lambda found: _topic(found[0])[0])
    topics = dict.fromkeys(_topic(path)[1] for path, _ in named)
    parts = [
        PAGE_HEAD,
        "# Every command",
        "The same text comes from `steadyband COMMAND --help`. Folders and files are paths on your disk; a folder that is left out is the one "
        "you are in. Exit status: 0 done, whatever the verdict; 1 a file could not be read at all (the others are still done, and "
        "the last line on standard error counts them); 2 wrong usage, or a faulty test or athlete file; 130 ended with Ctrl-C.",
        *(
            f"**{topic}**\n\n{_contents([found for found in named if _topic(found[0])[1] == topic])}"
            for topic in topics
        ),
        *(_command(path, item) for path, item in named),
    ]
    return "\n\n".join(parts) + "\n"


def settings_page() -> str:
    """Every setting by group, then the commented athlete file."""
    from steadyband.ground.settings import Settings

    groups = [(item.name, getattr(Settings(), item.name)) for item in dataclasses.fields(Settings)]
    parts = [
        PAGE_HEAD,
        "# Settings",
        "Every default of the method can be changed in `athlete.toml`, under `[settings.GROUP]`. A name that does not exist or a value "
        "outside its range is refused with a sentence. `steadyband settings my-training` shows the values in force, and each finding "
        "names the settings it used. Sources are those of [Sources](sources.md); METHOD is [the method](method.md); a design choice is our own.",
        *(_group(name, group) for name, group in groups),
        "## The athlete file",
        "`steadyband init` writes this file. Everything in it is optional.",
        f"```toml\n{STARTER.read_text(encoding='utf-8').strip()}\n```",
    ]
    return "\n\n".join(parts) + "\n"


PAGES = {"commands.md": commands_page, "settings.md": settings_page}


def stale() -> list[str]:
    """The names of the committed pages that differ from what would be written now."""
    return [name for name, page in PAGES.items() if not _same(HERE / name, page())]


def _same(path: Path, text: str) -> bool:
    return path.is_file() and path.read_text(encoding="utf-8") == text


def _walk(command: Any, path: tuple[str, ...]) -> Iterator[tuple[tuple[str, ...], Any]]:
    """Every command below `command` that is not hidden, with the words it is called by; groups are walked through."""
    for name, item in command.commands.items():
        if getattr(item, "hidden", False):
            continue
        if getattr(item, "commands", None):
            yield from _walk(item, (*path, name))
        else:
            yield (*path, name), item


def _topic(path: tuple[str, ...]) -> tuple[int, str]:
    """Where help lists a command: the number of its topic and place, and the topic."""
    from steadyband.cli.errors import TOPICS

    for number, (topic, names) in enumerate(TOPICS.items()):
        if path[1] in names:
            return 100 * number + names.index(path[1]), topic
    return 100 * len(TOPICS), "More"


def _contents(named: Sequence[tuple[tuple[str, ...], Any]]) -> str:
    return _table(
        ("command", "what it does"), [(f"[{_short(path)}](#{_anchor(path)})", _first(it)) for path, it in named]
    )


def _command(path: tuple[str, ...], item: Any) -> str:
    shown = [one for one in item.params if not getattr(one, "hidden", False) and one.name != "help"]
    arguments = [one for one in shown if one.param_type_name == "argument"]
    options = [one for one in shown if one.param_type_name == "option"]
    hints = _hints(item)
    parts = [f"## {_short(path)}", inspect.cleandoc(item.help or ""), _usage(path, arguments, options)]
    if arguments:
        parts.append(_table(("argument", "takes", "meaning"), [_row(one, hints) for one in arguments]))
    if options:
        parts.append(_table(("option", "takes", "meaning"), [_row(one, hints) for one in options]))
    return "\n\n".join([*parts, *_examples(item.epilog)])


def _usage(path: tuple[str, ...], arguments: Sequence[Any], options: Sequence[Any]) -> str:
    words = [*path, *(["[OPTIONS]"] if options else []), *(_usage_of(one) for one in arguments)]
    return f"```text\n{' '.join(words)}\n```"


def _usage_of(argument: Any) -> str:
    name = (argument.metavar or argument.name).upper()
    return (name if argument.required else f"[{name}]") + ("..." if argument.nargs != 1 else "")


def _examples(epilog: str | None) -> list[str]:
    lines = [line.strip() for line in (epilog or "").splitlines() if line.strip()]
    found = [line.split(":", 1)[1].strip() if line.startswith("Example") else line for line in lines]
    code = [line.strip("`") for line in found if line.strip("`").startswith("steadyband")]
    return ["Example:", "```sh\n" + "\n".join(code) + "\n```"] if code else found


def _row(one: Any, hints: dict[str, Any]) -> tuple[str, str, str]:
    name = " / ".join(f"`{word}`" for word in (*one.opts, *one.secondary_opts))
    if one.param_type_name == "argument":
        name = f"`{_usage_of(one)}`"
    kind = _kind(hints.get(one.name), one)
    return name, kind, f"{one.help or ''}{_default(one)}"


def _default(one: Any) -> str:
    value = one.default.value if isinstance(one.default, Enum) else one.default
    if one.required:
        return " Required."
    if value is None or callable(value) or value is False or str(value) in (".", ""):
        return ""
    return f" Default: {'on' if value is True else f'`{value}`'}."


def _hints(item: Any) -> dict[str, Any]:
    """The annotations of the function behind a command, by parameter."""
    return typing.get_type_hints(inspect.unwrap(item.callback)) if item.callback else {}


def _kind(hint: Any, one: Any) -> str:
    """What an argument or option takes, in words."""
    inner = [part for part in typing.get_args(hint) if part is not type(None)]
    if isinstance(hint, types.UnionType) or typing.get_origin(hint) is typing.Union:
        return _kind(inner[0], one)
    if typing.get_origin(hint) in (list, tuple):
        return f"{_kind(inner[0], one)}, one or more"
    if isinstance(hint, type) and issubclass(hint, Enum):
        return "one of " + ", ".join(f"`{member.value}`" for member in hint)
    if hint is bool and not one.secondary_opts:
        return "nothing"
    low, high = (getattr(one, name, None) for name in ("min", "max"))
    limits = f", {low:g} to {high:g}" if low is not None and high is not None else ""
    return KINDS.get(hint, "text") + limits


def _group(name: str, group: Any) -> str:
    rows = [_setting(name, item) for item in dataclasses.fields(group)]
    table = _table(("setting", "default", "unit", "range", "meaning", "source"), rows)
    return f"## {name}\n\n{inspect.cleandoc(type(group).__doc__ or '')}\n\n{table}"


def _setting(group: str, item: Any) -> tuple[str, ...]:
    meta = item.metadata
    return (
        f"`{item.name}`",
        _number(item.default),
        meta.get("unit", ""),
        _range(meta.get("low"), meta.get("high")),
        meta.get("meaning", ""),
        meta.get("source", ""),
    )


def _range(low: float | None, high: float | None) -> str:
    if low is None and high is None:
        return ""
    if high is None or high >= UNBOUNDED:
        return f"{_number(low)} or more"
    return f"{_number(low)} to {_number(high)}"


def _number(value: Any) -> str:
    return f"{value:g}" if isinstance(value, float) else str(value)


def _short(path: tuple[str, ...]) -> str:
    return " ".join(path[1:])


def _anchor(path: tuple[str, ...]) -> str:
    return "-".join(path[1:])


def _first(item: Any) -> str:
    return inspect.cleandoc(item.help or "").split("\n\n")[0].replace("\n", " ")


def _table(head: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    lines = [head, ["---"] * len(head), *rows]
    return "\n".join(
        "| " + " | ".join(cell.replace("|", "\\|").replace("\n", " ") for cell in line) + " |" for line in lines
    )


def main(arguments: Sequence[str] | None = None) -> int:
    """Writes the pages, or with --check names those that are stale."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--check", action="store_true", help="write nothing; end with 1 where a page would change")
    check = parser.parse_args(arguments).check
    old = stale()
    if check:
        sys.stderr.write("".join(f"docs/{name} would change: run `{COMMAND}`.\n" for name in old))
        return 1 if old else 0
    for name in old:
        (HERE / name).write_text(PAGES[name](), encoding="utf-8")
        sys.stdout.write(f"wrote docs/{name}\n")
    return 0


if __name__ == "__main__":
    sys.exit(main())
