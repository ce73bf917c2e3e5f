"""Serves the JavaScript modules of a page under an address that changes with their content.

They are read once, when the server starts, and all have an address under `/modules/<stamp>/`, with a stamp of their content.
The modules of another page than the board have another address before the stamp.
A page therefore never mixes modules of two versions, whether from its cache or from an installation that was updated while
the server runs.
"""

from __future__ import annotations

import hashlib
import posixpath
import re
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from fastapi import FastAPI
from fastapi.responses import PlainTextResponse, Response

import dashboard
from dashboard.markup import Markup, joined, tag

ENTRY = "main.js"
ROOT = "/modules"
FOR_EVER = "public, max-age=31536000, immutable"
STAMP_LENGTH = 16
IMPORTED = re.compile(r'^import (?:[^;]*?from )?"([^"]+)";', re.MULTILINE)
# A page that came from an earlier server names modules that this server does not have. It is loaded again.
AGAIN = "setTimeout(() => location.reload(), 1000)"


@dataclass(frozen=True)
class Modules:
    """The modules of one version.

    Parameters
    ----------
    files : mapping
        Path in the folder, with ``/`` -> content.
    root : str
        The address that they stand under.
    """

    files: Mapping[str, bytes]
    root: str = ROOT

    @property
    def stamp(self) -> str:
        """Digest of all names and contents."""
        digest = hashlib.sha256()
        for name, content in sorted(self.files.items()):
            digest.update(f"{name}\0{len(content)}\0".encode() + content)
        return digest.hexdigest()[:STAMP_LENGTH]

    def elements(self, entry: str = ENTRY) -> Markup:
        """Elements of a page that load its modules: all are fetched at once, and the entry runs once the page is parsed.

        Parameters
        ----------
        entry
            The module that starts the page. It and what it imports are fetched.

        Returns
        -------
        Markup
        """
        base = f"{self.root}/{self.stamp}"
        ahead = [tag("link", rel="modulepreload", href=f"{base}/{name}") for name in sorted(self.needed(entry))]
        return joined([*ahead, tag("script", type="module", src=f"{base}/{entry}", onerror=AGAIN)])

    def needed(self, entry: str) -> set[str]:
        """A module and all that it imports.

        Parameters
        ----------
        entry
            Its path in the folder.

        Returns
        -------
        set of str
            Paths in the folder.
        """
        found, ahead = set[str](), [entry]
        while ahead:
            name = ahead.pop()
            if name in found or name not in self.files:
                continue
            found.add(name)
            written = IMPORTED.findall(self.files[name].decode())
            ahead += [posixpath.normpath(posixpath.join(posixpath.dirname(name), one)) for one in written]
        return found


def assets_folder() -> Path:
    """Find the folder of styles and scripts: inside the installed package, or beside it in a checkout."""
    package = Path(dashboard.__file__).parent
    inside = package / "assets"
    return inside if inside.is_dir() else package.parent / "assets"


def read_modules(folder: Path, root: str = ROOT) -> Modules:
    """Read the modules of a folder and the folders in it.

    Parameters
    ----------
    folder
        With the entry `main.js`.
    root
        The address that they will stand under.

    Returns
    -------
    Modules
        Every ``.js`` file, sorted by path.
    """
    found = {path.relative_to(folder).as_posix(): path.read_bytes() for path in folder.rglob("*.js")}
    return Modules(dict(sorted(found.items())), root)


def add_modules(server: FastAPI, modules: Modules) -> None:
    """Add the route of the modules to a server. A request with another stamp is answered with 404.

    Parameters
    ----------
    server
        Gets the route.
    modules
        The modules that it serves.
    """
    current = modules.stamp

    @server.get(modules.root + "/{stamp}/{name:path}", include_in_schema=False)
    async def module(stamp: str, name: str) -> Response:
        content = modules.files.get(name) if stamp == current else None
        if content is None:
            return PlainTextResponse("No module of this version. Load the page again.\n", 404, {"Cache-Control": "no-store"})
        return Response(content, media_type="text/javascript", headers={"Cache-Control": FOR_EVER})
