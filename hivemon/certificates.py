"""TLS towards other servers: which authorities are trusted, and what is wrong with a certificate, in plain words."""

from __future__ import annotations

import ssl

from hivemon.errors import ConfigError

_AUTHORITY = "its certificate comes from an authority unknown here: name that authority's certificate as {ca_file}"
_TROUBLE = {
    # OpenSSL's verification codes (x509_vfy.h)
    9: "its certificate is not valid yet: look at the clocks",
    10: "its certificate has expired: renew it on the server",
    18: "its certificate is signed by itself: name it as {ca_file} if it is yours",
    19: _AUTHORITY,
    20: _AUTHORITY,
    21: _AUTHORITY,
    62: "its certificate is for another host name: write the name the certificate has as {host}",
    64: "its certificate is for another address: write the name the certificate has as {host}",
}
LOCAL = ("localhost", "127.0.0.1", "::1")
"""This machine by any name: what is said to it crosses no network."""


def context(ca_file: str | None, key: str) -> ssl.SSLContext:
    """Make a context that checks certificate and host name, with the system's authorities or `ca_file`'s.

    `key` names the setting in errors. Raises ConfigError when the file cannot be read or holds no certificate.
    """
    try:
        return ssl.create_default_context(cafile=ca_file)
    except ssl.SSLError as error:
        hint = "it must hold the authority's certificate in PEM form (-----BEGIN CERTIFICATE-----)"
        raise ConfigError(f"{key} = {ca_file!r} holds no certificate", hint=hint) from error
    except OSError as error:
        raise ConfigError(f"cannot read {key} = {ca_file!r}: {error.strerror}") from error


def explain(error: ssl.SSLCertVerificationError, *, ca_file: str, host: str) -> str:
    """Say what is wrong with a server's certificate; `ca_file` and `host` name the settings that may mend it."""
    words = _TROUBLE.get(error.verify_code, f"its certificate cannot be trusted: {error.verify_message}")
    return words.format(ca_file=ca_file, host=host)
