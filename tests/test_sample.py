"""The sample island is found in a checkout and in an installed package, and its places are read."""

from __future__ import annotations

from pathlib import Path

import pytest

from pathprofile import sample
from pathprofile.errors import PathProfileError

ROOT = Path(__file__).resolve().parents[1]


@pytest.fixture
def elsewhere(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A package folder somewhere else, without sample data."""
    package = tmp_path / "site" / "pathprofile"
    package.mkdir(parents=True)
    monkeypatch.setattr(sample, "_HERE", package)
    return package


def test_checkout() -> None:
    assert sample.sample_dir() == ROOT / "sample_dem"


def test_installed_package_comes_before_the_folder_beside_it(elsewhere: Path) -> None:
    for folder in (elsewhere / "sample_dem", elsewhere.parent / "sample_dem"):
        folder.mkdir()
        (folder / "places.toml").touch()
    assert sample.sample_dir() == elsewhere / "sample_dem"


def test_absent_says_where_it_looked_and_what_to_do(elsewhere: Path) -> None:
    with pytest.raises(
        PathProfileError, match=r"site.pathprofile.sample_dem.*install pathprofile again"
    ) as caught:
        sample.sample_places()
    assert "\n" not in str(caught.value)


def test_unrelated_folder_beside_an_installed_package_is_not_taken(elsewhere: Path) -> None:
    (elsewhere.parent / "sample_dem").mkdir()
    with pytest.raises(PathProfileError, match="no sample data"):
        sample.sample_dir()


def test_places_read_from_a_file_of_known_content(elsewhere: Path) -> None:
    (elsewhere / "sample_dem").mkdir()
    (elsewhere / "sample_dem" / "places.toml").write_text(
        '[[place]]\nname = "Somewhere"\nlatitude_deg = 46.5\nlongitude_deg = -20.25\n'
        'kind = "summit"\nnote = "a note"\n',
        encoding="utf-8",
    )
    assert sample.sample_places() == {
        "Somewhere": sample.SamplePlace("Somewhere", 46.5, -20.25, "summit", "a note"),
    }


def test_places_of_the_island() -> None:
    places = sample.sample_places()
    assert places["Gull Tor"].kind == "summit"
    assert places["Marsh End"].kind == "village"
    assert all(name == place.name for name, place in places.items())
