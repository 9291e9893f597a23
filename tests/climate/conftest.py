"""Weather files that the tests of this room share: the repository's own, unpacked where a test wants text."""

import gzip
from pathlib import Path

import pytest

REPOSITORY = Path(__file__).parents[2]


@pytest.fixture(scope="session")
def weather():
    """The folder of the weather files that come with the tool."""
    return REPOSITORY / "examples" / "weather"


@pytest.fixture(scope="session")
def data():
    return Path(__file__).parent / "data"


@pytest.fixture(scope="session")
def denver_lines(weather):
    """The lines of a whole, sane EPW file (eight header lines, 8,760 rows)."""
    return (
        gzip.decompress((weather / "highland_denver_colorado_tmy3.epw.gz").read_bytes()).decode().splitlines()
    )


@pytest.fixture
def epw(tmp_path, denver_lines):
    """Write an EPW file after changing its lines; returns its path."""

    def write(change=lambda lines: lines):
        path = tmp_path / "weather.epw"
        path.write_text("\n".join(change(list(denver_lines))) + "\n")
        return path

    return write
