"""The certificate and key with which a server speaks TLS."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from dashboard.core.base.problems import InputError
from dashboard.service.access.certificate import checked_certificate
from tests.certificates import made_certificate


def test_a_certificate_with_its_key_is_taken(tmp_path: Path):
    """And none where none is given."""
    files = made_certificate(tmp_path)
    assert checked_certificate(*files) == files
    assert checked_certificate(None, None) is None


Files = tuple[Path | None, Path | None]


def of_another(folder: Path) -> Files:
    return made_certificate(folder)[0], made_certificate(folder, "other")[1]


def cut_off(folder: Path) -> Files:
    certificate, key = made_certificate(folder)
    certificate.write_bytes(certificate.read_bytes()[:200])
    return certificate, key


@pytest.mark.parametrize(
    ("files", "says"),
    [
        (lambda folder: (made_certificate(folder)[0], None), "option --tls-cert: expected --tls-key beside it"),
        (lambda folder: (None, made_certificate(folder)[1]), "option --tls-key: expected --tls-cert beside it"),
        (lambda folder: (folder / "no.crt", made_certificate(folder)[1]), "found 'No such file or directory'"),
        (lambda folder: (made_certificate(folder)[0], folder), "found 'Is a directory'"),
        (lambda folder: made_certificate(folder)[::-1], "with a CERTIFICATE; found PRIVATE KEY"),
        (lambda folder: (made_certificate(folder)[0],) * 2, "with a PRIVATE KEY; found CERTIFICATE"),
        (of_another, "expected the key of server.crt; found the key of another certificate"),
        (lambda folder: made_certificate(folder, password="secret"), "a key without a password"),
        (cut_off, "that can be used"),
    ],
)
def test_files_that_do_not_fit_are_refused_with_what_to_do(tmp_path: Path, files: Callable[[Path], Files], says: str):
    """One missing, unreadable, taken for the other, of another pair, locked, cut off."""
    with pytest.raises(InputError) as refused:
        checked_certificate(*files(tmp_path))
    assert says in str(refused.value)
