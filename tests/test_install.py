"""The package as a user gets it: built, installed into an empty environment, run from a foreign folder."""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
import tarfile
import tomllib
import zipfile
from email.parser import HeaderParser
from pathlib import Path, PurePosixPath

import pytest

from conftest import DEMO, ROOT
from steadyband.told import contract_schema

pytestmark = pytest.mark.install

PACKAGE = ROOT / "src" / "steadyband"
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
RECORDINGS = {".fit", ".gpx", ".gz", ".zip", ".tcx", ".parquet"}
NOT_FOR_USERS = ("pytest", "hypothesis", "playwright", "scipy", "dask", "sphinx", "mypy", "ruff")


def run(*command: str | Path, cwd: Path) -> str:
    """Standard output of a command that must end with 0, in an environment that knows nothing of this repository."""
    clean = {name: value for name, value in os.environ.items() if not name.startswith(("PYTHON", "VIRTUAL_ENV"))}
    done = subprocess.run(command, cwd=cwd, env=clean, capture_output=True, text=True, encoding="utf-8", check=False)
    assert done.returncode == 0, f"{command}: {done.returncode}\n{done.stdout[-2000:]}\n{done.stderr[-4000:]}"
    return done.stdout


@pytest.fixture(scope="module")
def built(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with the sdist, and the wheel that was built from the sdist alone."""
    out = tmp_path_factory.mktemp("dist")
    run(sys.executable, "-m", "build", "--no-isolation", "--outdir", out, ROOT, cwd=out)
    return out


@pytest.fixture(scope="module")
def wheel(built: Path) -> dict[str, bytes]:
    (path,) = built.glob("*.whl")
    with zipfile.ZipFile(path) as archive:
        return {name: archive.read(name) for name in archive.namelist()}


@pytest.fixture(scope="module")
def sdist(built: Path) -> dict[str, bytes]:
    """Content by name, without the folder that everything lies in."""
    (path,) = built.glob("*.tar.gz")
    with tarfile.open(path) as archive:
        files = ((member.name, archive.extractfile(member)) for member in archive.getmembers() if member.isfile())
        return {name.split("/", 1)[1]: file.read() for name, file in files if file is not None}


@pytest.fixture(scope="module")
def scripts(built: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The folder of the programs of a new environment that holds the wheel and what it requires, nothing else."""
    home = tmp_path_factory.mktemp("empty")
    run(sys.executable, "-m", "venv", home / "venv", cwd=home)
    place = home / "venv" / ("Scripts" if os.name == "nt" else "bin")
    (path,) = built.glob("*.whl")
    run(place / "python", "-m", "pip", "install", "-q", "--disable-pip-version-check", path, cwd=home)
    return place


def test_wheel_carries_every_file_of_the_package_and_no_other(wheel: dict[str, bytes]) -> None:
    kept = {
        path.relative_to(PACKAGE.parent).as_posix(): path.read_bytes()
        for path in PACKAGE.rglob("*")
        if path.is_file() and "__pycache__" not in path.parts
    }
    carried = {name: data for name, data in wheel.items() if ".dist-info/" not in name}
    assert carried.keys() == kept.keys()
    assert [name for name in kept if carried[name] != kept[name]] == []
    for part in ("py.typed", "athlete/demo.zip", "told/contract.schema.json", "report/week/week.html.j2"):
        assert f"steadyband/{part}" in carried


def test_wheel_names_what_it_requires_and_its_licence(wheel: dict[str, bytes]) -> None:
    (name,) = (name for name in wheel if name.endswith(".dist-info/METADATA"))
    head = HeaderParser().parsestr(wheel[name].decode())
    required = [item for item in head.get_all("Requires-Dist", []) if "extra ==" not in item]
    assert sorted(required) == sorted(PROJECT["dependencies"])
    assert (head["License-Expression"], head["Requires-Python"]) == ("MIT", PROJECT["requires-python"])
    assert any(name.endswith("licenses/LICENSE") for name in wheel)


def test_sdist_holds_what_is_needed_to_work_on_it(sdist: dict[str, bytes]) -> None:
    for name in (
        "LICENSE",
        "README.md",
        "DEVELOPERS.md",
        "CHANGELOG.md",
        "CONTRIBUTING.md",
        "SECURITY.md",
        "pyproject.toml",
        "tests/conftest.py",
    ):
        assert sdist[name] == (ROOT / name).read_bytes()
    for name in ("docs/method.md", "docs/dependencies.md", "demo_activities/make_demo.py", "reports/week.png"):
        assert name in sdist
    assert {name.split("/")[0] for name in sdist} == {
        *(
            "LICENSE",
            "README.md",
            "DEVELOPERS.md",
            "CHANGELOG.md",
            "CONTRIBUTING.md",
            "SECURITY.md",
            "pyproject.toml",
            "PKG-INFO",
            ".gitignore",
        ),
        *("src", "tests", "docs", "benchmarks", "demo_activities", "reports"),
    }


def test_no_recording_but_the_demos_is_carried(wheel: dict[str, bytes], sdist: dict[str, bytes]) -> None:
    truth = json.loads((DEMO / "truth.json").read_text(encoding="utf-8"))
    demo = {f"demo_activities/activities/{item['file']}" for item in truth["sessions"]}
    assert _recordings(sdist) == demo | {"src/steadyband/athlete/demo.zip"}
    assert _recordings(wheel) == {"steadyband/athlete/demo.zip"}


def _recordings(files: dict[str, bytes]) -> set[str]:
    """By suffix (packed scripts aside), and by content: the FIT mark at byte 8, a GPX root element near the start."""
    named = {name for name in files if PurePosixPath(name.removesuffix(".js.gz")).suffix.lower() in RECORDINGS}
    inside = {
        name for name, data in files.items() if data[8:12] == b".FIT" or re.search(rb"^<gpx\b", data[:2000], re.M)
    }
    return named | inside


def test_nothing_carried_names_a_folder_of_this_machine(wheel: dict[str, bytes], sdist: dict[str, bytes]) -> None:
    places = {str(path).encode() for path in (ROOT, Path(sys.prefix), Path.home() / ".cache")}
    for files in (wheel, sdist):
        assert [name for name, data in files.items() if any(place in data for place in places)] == []


def test_only_what_a_user_needs_is_installed(scripts: Path, tmp_path: Path) -> None:
    found = json.loads(run(scripts / "python", "-m", "pip", "list", "--format", "json", cwd=tmp_path))
    names = {item["name"].lower() for item in found}
    assert {"steadyband", "numpy", "polars"} <= names
    assert names.isdisjoint(NOT_FOR_USERS)
    assert "No broken requirements" in run(scripts / "python", "-m", "pip", "check", cwd=tmp_path)


def test_version_module_and_types(scripts: Path, tmp_path: Path) -> None:
    said = f"steadyband {PROJECT['version']}\n"
    assert run(scripts / "steadyband", "--version", cwd=tmp_path) == said
    assert run(scripts / "python", "-m", "steadyband", "--version", cwd=tmp_path) == said
    code = "import steadyband, pathlib; print(pathlib.Path(steadyband.__file__).with_name('py.typed').resolve())"
    typed = Path(run(scripts / "python", "-c", code, cwd=tmp_path).strip())
    assert typed.is_file()
    assert typed.is_relative_to(scripts.parent.resolve())


def test_schema_is_the_contract(scripts: Path, tmp_path: Path) -> None:
    assert json.loads(run(scripts / "steadyband", "schema", cwd=tmp_path)) == contract_schema()


def test_demo_and_week_from_a_foreign_folder(scripts: Path, tmp_path: Path) -> None:
    said = run(scripts / "steadyband", "demo", "x", cwd=tmp_path)
    assert "This athlete is invented" in said
    page = tmp_path / "x" / "reports" / "week-2026-W20.html"
    first = page.read_bytes()
    found = json.loads(run(scripts / "steadyband", "week", "x", "--format", "json", cwd=tmp_path))
    assert (found["week"], Path(found["page"]).name) == ("2026-W20", page.name)
    assert found["answer"] in " ".join(said.split())
    assert len(first) > 100_000
    assert b"</html>" in first[-80:]


def test_a_folder_of_ones_own(scripts: Path, tmp_path: Path) -> None:
    assert "Next:" in run(scripts / "steadyband", "init", "mine", cwd=tmp_path)
    assert {path.name for path in (tmp_path / "mine").iterdir()} >= {"athlete.toml", "tests", "activities", "reports"}
    assert "surge" in run(scripts / "steadyband", "settings", "mine", cwd=tmp_path)
