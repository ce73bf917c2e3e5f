"""The certificate and key with which a server speaks TLS."""

from __future__ import annotations

import ssl
from pathlib import Path
from typing import NamedTuple

from dashboard.core.base.problems import InputError, Problem


class Certificate(NamedTuple):
    """Two PEM files: the certificate (with the intermediate certificates), and its private key."""

    certificate: Path
    key: Path


def checked_certificate(certificate: Path | None, key: Path | None) -> Certificate | None:
    """The certificate to serve with, after checking that both files can be used together.

    Parameters
    ----------
    certificate
        The certificate in PEM; None: not given.
    key
        Its private key in PEM, without a password; None: not given.

    Returns
    -------
    Certificate or None
        None when neither file is given.

    Raises
    ------
    InputError
        When only one of the two is given, a file cannot be read or holds something else, the key has a password, or the key
        belongs to another certificate.
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
        cure = "Remove the password, for instance with: openssl pkey -in KEY -out KEY.open"
        found = "a key with a password"
        raise InputError([Problem("option --tls-key", "a key without a password", found, cure, str(key))]) from None
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
        cure = "Check that the certificate and the key were not swapped. PEM is text that begins with -----BEGIN."
        raise InputError([Problem(f"option {option}", expected, held, cure, str(path))])


def _unusable(wrong: ssl.SSLError, certificate: Path, key: Path) -> Problem:
    if wrong.reason == "KEY_VALUES_MISMATCH":
        cure = "Give the private key that belongs to the certificate."
        return Problem("option --tls-key", f"the key of {certificate.name}", "the key of another certificate", cure, str(key))
    found = (wrong.reason or str(wrong)).lower().replace("_", " ")
    cure = "Check that both were copied in full, or make both again."
    return Problem("option --tls-cert", "a certificate and a key that can be used", found, cure, str(certificate))
