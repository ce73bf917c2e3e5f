"""The version of the program."""

from importlib.metadata import PackageNotFoundError, version


def program_version() -> str:
    """The version as installed."""
    try:
        return version("tetherline")
    except PackageNotFoundError:
        return "(not installed)"
