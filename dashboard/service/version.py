"""The versions of the program and of the packages that it uses."""

import platform
from importlib.metadata import PackageNotFoundError, version

import dashboard

PACKAGES = ("dash", "fastapi", "numpy", "ortools", "plotly", "pydantic", "sqlalchemy", "uvicorn")


def program_version() -> str:
    """Give the version that the package states."""
    return dashboard.__version__


def versions() -> dict[str, str]:
    """Give the versions of the program, of Python, and of the packages that matter most."""
    found = {"tetherline": program_version(), "python": platform.python_version()}
    for package in PACKAGES:
        try:
            found[package] = version(package)
        except PackageNotFoundError:
            found[package] = "not known"
    return found
