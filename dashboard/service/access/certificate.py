"""The certificate and key with which a server speaks TLS."""

from __future__ import annotations

import ssl
from pathlib import Path
from typing import NamedTuple

from dashboard.core.base.problems import InputError, Problem


class Certificate(NamedTuple):
    """Two files in PEM: the certificate (with those between it and its authority), and its private key."""

    certificate: Path
    key: Path


def checked_certificate(certificate: Path | None, key: Path | None) -> Certificate | None:
    """The certificate to serve with; None: none is given.

    Raises
    ------
    InputError
        When one of the two is missing, cannot be read, is not what it should be, or belongs to another one.
    """
    if certificate is None and key is None:
        return None
    if certificate is None or key is None:
        given, missing = ("--tls-key", "--tls-cert") if certificate is None else ("--tls-cert", "--tls-key")
        cure = "TLS needs the certificate and its private key."
        raise InputError([Problem(f"option {given}", f"{missing} beside it", "none", cure)])
    for option, path, what in (("--tls-cert", certificate, "CERTIFICATE"), ("--tls-key", key, "PRIVATE KEY")):
        _check_pem(option, path, what)
    try:
        ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER).load_cert_chain(certificate, key, password=_no_password)
    except ssl.SSLError as wrong:
        raise InputError([_unusable(wrong, certificate, key)]) from None
    except _PasswordNeeded:
        cure = "Take the password off, for instance with: openssl pkey -in KEY -out KEY.open"
        raise InputError([Problem("option --tls-key", "a key without a password", "one with it", cure, str(key))]) from None
    return Certificate(certificate, key)


class _PasswordNeeded(Exception):
    pass


def _no_password() -> str:
    raise _PasswordNeeded


def _check_pem(option: str, path: Path, what: str) -> None:
    expected = f"a file in PEM with a {what}"
    try:
        content = path.read_bytes()
    except OSError as wrong:
        found, cure = f"'{wrong.strerror}'", "Check the path and its permissions."
        raise InputError([Problem(f"option {option}", expected, found, cure, str(path))]) from None
    begins = [line for line in content.splitlines() if line.startswith(b"-----BEGIN ")]
    if not any(line.endswith(f"{what}-----".encode()) for line in begins):
        held = ", ".join(sorted({line[11:-5].decode("ascii", "replace") for line in begins})) or "none"
        cure = "Did you take one for the other? PEM is text that begins with -----BEGIN."
        raise InputError([Problem(f"option {option}", expected, held, cure, str(path))])


def _unusable(wrong: ssl.SSLError, certificate: Path, key: Path) -> Problem:
    if wrong.reason == "KEY_VALUES_MISMATCH":
        cure = "Give the private key that the certificate was made for."
        return Problem("option --tls-key", f"the key of {certificate.name}", "that of another certificate", cure, str(key))
    found = (wrong.reason or str(wrong)).lower().replace("_", " ")
    cure = "Make both anew, or check that they were copied in full."
    return Problem("option --tls-cert", "a certificate and a key that can be used", found, cure, str(certificate))
