"""The versions of the program and of what it stands on."""

import platform
from importlib.metadata import PackageNotFoundError, version

import dashboard

PACKAGES = ("dash", "fastapi", "numpy", "ortools", "plotly", "pydantic", "sqlalchemy", "uvicorn")


def program_version() -> str:
    """As the package says it."""
    return dashboard.__version__


def versions() -> dict[str, str]:
    """The versions of the program, of Python, and of the packages that matter most."""
    found = {"tetherline": program_version(), "python": platform.python_version()}
    for package in PACKAGES:
        try:
            found[package] = version(package)
        except PackageNotFoundError:
            found[package] = "not known"
    return found
