import pytest


@pytest.fixture
def written(tmp_path):
    """Write a file and give its path."""

    def write(text, name="design.xml", encoding="utf-8"):
        path = tmp_path / name
        path.write_text(text, encoding=encoding, newline="\n")
        return path

    return write
