"""What is done in the browser is what the command line does, on the same files."""

from __future__ import annotations

import io
import re
import zipfile
from collections.abc import Iterator
from pathlib import Path

import pytest
from serving import Client, serving

from conftest import DEMO
from console import run
from demo_home import copy_read
from steadyband.open.arrivals import clean_name

RIDE = next((DEMO / "activities" / "2026-W20").glob("2026-05-16-*.fit"))


@pytest.fixture
def client(read_demo: Path, tmp_path: Path) -> Iterator[Client]:
    with serving(copy_read(read_demo, tmp_path / "home")) as found:
        found.get()
        found.settled()
        yield found


@pytest.fixture(scope="module")
def shown(read_demo: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Client]:
    with serving(copy_read(read_demo, tmp_path_factory.mktemp("shown") / "home")) as found:
        found.get()
        found.settled()
        yield found


def test_the_first_page_is_the_weeks_sheet(shown: Client) -> None:
    home = shown.site.desks["1"].path
    run("week", home)
    sheet = next((home / "reports").glob("week-*.html")).read_text(encoding="utf-8")
    answer = sheet.split("<h1>")[1].split("</h1>")[0]
    page = shown.get().text
    assert f"<h1>{answer}</h1>" in page
    assert sheet.count("<section") + 1 == page.count("<section")


@pytest.mark.parametrize(
    ("path", "words"),
    [
        ("week/2026-W19", "Week 19"),
        ("block", "four weeks"),
        ("block/2026-W18", "held the band"),
        ("season", "Week by week"),
        ("hills", "climbs ridden or run again"),
        ("tests", "Step tests over time"),
        ("test/1", "step test of"),
        ("card", "Zone card"),
        ("label", "that nobody labelled"),
    ],
)
def test_every_part_is_there(shown: Client, path: str, words: str) -> None:
    found = shown.get(path)
    assert found.status == 200
    assert words in found.text


def test_every_link_of_the_first_pages_leads_somewhere(shown: Client) -> None:
    asked: set[str] = set()
    for path in ("", "week/2026-W19", "season", "block", "tests", "label"):
        for link in re.findall(r'<a[^>]* href="(/[^"#]+)', shown.get(path).text):
            if link not in asked:
                asked.add(link)
                assert shown.ask("GET", link).status in (200, 303), (path, link)
    assert len(asked) > 30


@pytest.mark.parametrize(
    "path", ["", "week/2026-W19", "block", "season", "hills", "tests", "test/1", "label", "athlete", "test-new"]
)
def test_no_mark_stands_twice_on_a_page(shown: Client, path: str) -> None:
    """What is put around a report's page must not take the names that its own links lead to."""
    marks = re.findall(r'<[^>]* id="([^"]+)"', shown.get(path).text)
    assert sorted({mark for mark in marks if marks.count(mark) > 1}) == []


def test_a_label_goes_into_the_file_and_can_be_taken_back(client: Client) -> None:
    desk = client.site.desks["1"]
    file = desk.path / "sessions.csv"
    before = file.read_bytes()
    name, item = desk.to_label()[0]
    count = len(desk.to_label())
    assert client.post("label", {"session": name, "intent": "easy"}).status == 303
    added = file.read_bytes().removeprefix(before).decode()
    assert added.split(",")[:3] == [item.day.isoformat(), f"{item.audit.info.local_start:%H:%M}", "easy"]
    client.get("state")
    client.settled()
    assert len(desk.to_label()) == count - 1
    assert "is labelled easy." in client.get().text
    assert client.post("take-back").status == 303
    assert file.read_bytes() == before
    client.get("state")
    client.settled()
    assert len(desk.to_label()) == count


def test_a_label_for_nothing_is_no_label(client: Client) -> None:
    before = (client.site.desks["1"].path / "sessions.csv").read_bytes()
    assert client.post("label", {"session": "nowhere", "intent": "easy"}).status == 404
    name, _ = client.site.desks["1"].to_label()[0]
    assert client.post("label", {"session": name, "intent": "heroic"}).status == 404
    assert (client.site.desks["1"].path / "sessions.csv").read_bytes() == before


def test_what_changes_on_the_disk_is_seen(client: Client) -> None:
    version = client.site.desks["1"].version
    with (client.site.desks["1"].path / "sessions.csv").open("a", encoding="utf-8") as file:
        file.write("2026-05-16,,race,cycling,typed elsewhere\n")
    client.get("state")
    client.settled()
    assert client.site.desks["1"].version == version + 1


def test_a_faulty_athlete_file_is_told_and_the_last_sheet_stands(client: Client) -> None:
    file = client.site.desks["1"].path / "athlete.toml"
    whole = file.read_text(encoding="utf-8")
    file.write_text(whole.replace("time_zone", "time_zoen"), encoding="utf-8")
    client.get("state")
    client.settled()
    page = client.get().text
    assert "Did you mean" in page
    assert "held the band" in page
    file.write_text(whole, encoding="utf-8")
    client.get("state")
    client.settled()
    assert "Did you mean" not in client.get().text


def archive(**members: bytes) -> bytes:
    made = io.BytesIO()
    with zipfile.ZipFile(made, "w") as packed:
        for name, data in members.items():
            packed.writestr(name.replace("__", "/"), data)
    return made.getvalue()


def test_what_is_dropped_is_kept_byte_for_byte_once(client: Client) -> None:
    activities = client.site.desks["1"].path / "activities"
    data = RIDE.read_bytes()
    assert b'"copy"' in client.drop("again.fit", data).body
    spoilt = data[:-2] + b"xx"
    assert b'"kept"' in client.drop("Evening ride (2).FIT", spoilt).body
    assert (activities / "Evening-ride-2.fit").read_bytes() == spoilt
    other = data[:-2] + b"yy"
    assert b"Evening-ride-2-2.fit" in client.drop("Evening ride (2).FIT", other).body
    assert (activities / "Evening-ride-2.fit").read_bytes() == spoilt
    assert (activities / "Evening-ride-2.fit").stat().st_mode & 0o777 == 0o600
    assert [place for place in activities.iterdir() if place.name.startswith(".")] == []


@pytest.mark.parametrize(
    ("name", "data", "words"),
    [
        ("notes.txt", b"legs heavy", "found something else"),
        ("empty.fit", b"", "empty"),
        ("pictures.zip", archive(photo=b"\x89PNG" * 40), "without a recording"),
        ("cut.zip", archive(ride=b"<gpx>" * 9)[:-9], "damaged"),
        ("test.toml", b"date = 2026-01-01", "no step test"),
        ("cut.fit.gz", b"\x1f\x8b\x08", "damaged"),
    ],
)
def test_what_is_no_recording_is_refused_in_a_sentence(shown: Client, name: str, data: bytes, words: str) -> None:
    home = shown.site.desks["1"].path
    before = sorted(home.rglob("*"))
    found = shown.drop(name, data).text
    assert '"refused"' in found
    assert words in found
    assert sorted(home.rglob("*")) == before


def test_an_archive_is_kept_whole(client: Client) -> None:
    data = archive(account__ride=RIDE.read_bytes(), account__photo=b"\x89PNG")
    assert b'"kept"' in client.drop("everything.zip", data).body
    assert (client.site.desks["1"].path / "activities" / "everything.zip").read_bytes() == data


def test_a_step_test_goes_among_the_tests(client: Client) -> None:
    data = (DEMO / "tests" / "2026-04-20-bike.toml").read_bytes()
    assert b'"copy"' in client.drop("2026-04-20-bike.toml", data).body
    assert b'"test"' in client.drop("../other.toml", data + b"\n").body
    assert (client.site.desks["1"].path / "tests" / "other.toml").read_bytes() == data + b"\n"


@pytest.mark.parametrize(
    ("given", "made"),
    [
        ("Morning run.fit", "Morning-run.fit"),
        ("a/b\\c.gpx", "c.gpx"),
        ("\u00fc\u00f1\u00ef.fit", "uni.fit"),
        ("", "recording"),
        ("...", "recording"),
        ("x" * 500 + ".fit", "x" * 80 + ".fit"),
    ],
)
def test_names_are_made_plain(given: str, made: str) -> None:
    assert clean_name(given) == made


def test_athlete_data_goes_into_the_file_and_leaves_comments_alone(client: Client) -> None:
    file = client.site.desks["1"].path / "athlete.toml"
    before = file.read_text(encoding="utf-8").splitlines()
    found = client.post(
        "athlete", {"name": "Wren", "body.mass_kg": "57,5", "bike.chainrings": "46 30", "privacy_m": "400"}
    )
    assert "Saved." in found.text
    after = file.read_text(encoding="utf-8").splitlines()
    assert len(after) == len(before)
    changed = [new for old, new in zip(before, after, strict=True) if old != new]
    assert [line.split("#")[0].strip() for line in changed] == [
        'name = "Wren"',
        "privacy_m = 400",
        "mass_kg = 57.5",
        "chainrings = [46, 30]",
    ]
    assert [line.split("#")[1:] for line in before] == [line.split("#")[1:] for line in after]
    assert "Nothing was changed." in client.post("athlete", {"name": "Wren"}).text


@pytest.mark.parametrize(
    ("given", "words"),
    [
        ({"body.mass_kg": "580"}, "20 to 300"),
        ({"body.mass_kg": "heavy"}, "expected a number"),
        ({"time_zone": "Atlantis/City"}, "IANA"),
        ({"units": "furlongs"}, "metric"),
        ({"bike.cassette": "11,x"}, "numbers of teeth"),
    ],
)
def test_athlete_data_that_cannot_be_is_refused_and_nothing_written(
    shown: Client, given: dict[str, str], words: str
) -> None:
    file = shown.site.desks["1"].path / "athlete.toml"
    before = file.read_bytes()
    found = shown.post("athlete", given | {"name": "Somebody"})
    assert found.status == 409
    assert words in found.text
    assert file.read_bytes() == before


def test_notes_stand_on_the_pages_and_in_the_files(client: Client) -> None:
    desk = client.site.desks["1"]
    name, item = desk.to_label()[0]
    before = (desk.path / "sessions.csv").read_bytes()
    assert client.post("note", {"session": name, "text": 'legs, "heavy" <b>\r\nand wind'}).status == 303
    assert client.post("note", {"week": "2026-W20", "text": "a cold coming"}).status == 303
    client.get("state")
    client.settled()
    assert "legs, &#34;heavy&#34; &lt;b&gt;" in client.get(f"session/{name}").text
    assert "a cold coming" in client.get("week/2026-W20").text
    assert run("week", desk.path).returncode == 0
    assert client.post("take-back").status == 303
    assert (desk.path / "sessions.csv").read_bytes() == before or b"and wind" in (
        desk.path / "sessions.csv"
    ).read_bytes()
    for fields in ({"week": "2026-W20", "text": " "}, {"week": "2026-W20", "text": "x" * 3000}):
        assert client.post("note", fields).status == 409
    assert client.post("note", {"week": "1999-W01", "text": "x"}).status == 404
    assert item.day.year == 2026
