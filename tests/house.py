"""The checkout and its project file, for the tests that look at the program itself."""

from __future__ import annotations

import tomllib
from pathlib import Path

ROOT = Path(__file__).parents[1]
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
# What `dash[fastapi]` brings, and the program imports for itself.
BROUGHT = {"fastapi", "starlette", "uvicorn"}
