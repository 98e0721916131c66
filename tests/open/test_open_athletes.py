"""A coach's folder: each athlete a click away, and nothing of one on another's page."""

from __future__ import annotations

from pathlib import Path

from serving import serving

from demo_home import copy_read
from steadyband.review.roster_folders import find_homes


def test_each_athlete_is_a_click_away_and_apart(read_demo: Path, tmp_path: Path) -> None:
    for name in ("Ann", "Bo"):
        file = copy_read(read_demo, tmp_path / "club" / name) / "athlete.toml"
        told = file.read_text(encoding="utf-8").replace("Wren of the demo (invented)", f"{name} Invented")
        file.write_text(told, encoding="utf-8")
    (tmp_path / "club" / "Cy").mkdir()
    (tmp_path / "club" / "Cy" / "athlete.toml").write_text("time_zoen = 1", encoding="utf-8")
    with serving(tmp_path / "nobody") as client:
        client.site.desks.clear()
        client.site.homes = {str(number): home for number, home in enumerate(find_homes(tmp_path / "club").homes, 1)}
        first = client.ask("GET", client.site.entrance.home).text
        assert "3 athletes" in first
        assert "Did you mean" in first
        assert client.site.desks == {}
        client.get()
        client.settled()
        page = client.get()
        assert "Ann Invented" in page.text
        assert "Bo Invented" not in page.text
        assert "All athletes" in page.text
        assert client.ask("GET", f"{client.site.entrance.home}3/").status == 409
        assert client.ask("GET", f"{client.site.entrance.home}4/").status == 404
        assert set(client.site.desks) == {"1"}
