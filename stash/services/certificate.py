"""A certificate of one's own for TLS: an authority made once, and what it vouches for, made anew when names change.

The authority may vouch for private addresses and this computer's own names and addresses only, so that a lost key
harms nothing else.
Keys, signatures and encodings are the business of ``cryptography``.
"""

from __future__ import annotations

import datetime as dt
import ipaddress
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

from cryptography import x509
from cryptography.hazmat.primitives import hashes
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.hazmat.primitives.serialization import (
    Encoding,
    NoEncryption,
    PrivateFormat,
    load_pem_private_key,
)
from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID

from stash.services.own_files import folder, write_private

AUTHORITY_DAYS, SERVER_DAYS, RENEW_DAYS = 3650, 397, 30
"""Source: 397 days is what browsers bear from public authorities (CA/Browser Forum Baseline Requirements, 6.3.2, from
memory), and so surely from a private one; the others are project decisions."""

PRIVATE = ("10.0.0.0/8", "172.16.0.0/12", "192.168.0.0/16", "169.254.0.0/16", "127.0.0.0/8", "fc00::/7", "fe80::/10")
"""Source: RFC 1918, RFC 3927, RFC 4193, RFC 4291; and loopback, RFC 1122."""


@dataclass(frozen=True, slots=True)
class Certificate:
    """What a server needs: its certificate with the chain, its key, and the authority's certificate as DER."""

    chain: Path
    key: Path
    authority: bytes


def certificate(names: Iterable[str], *, now: dt.datetime, where: Path | None = None) -> Certificate:
    """Return a certificate for the names, made anew only where the one kept does not hold for them, or not for long.

    Args:
        names: Host names and addresses.
        now: The moment, UTC.
        where: The folder it is kept in; None for the user's own.
    """
    where = where or folder() / "tls"
    wanted = frozenset(name.casefold() for name in names if name)
    own = frozenset(name for name in wanted if not _private(name))
    key, authority = _authority(where, own, now)
    chain, secret = where / "server.pem", where / "server.key"
    if not _good(chain, secret, authority, wanted, now):
        server_key = ec.generate_private_key(ec.SECP256R1())
        signed = _server(server_key, key, authority, wanted, now)
        write_private(secret, _secret(server_key))
        write_private(chain, signed.public_bytes(Encoding.PEM) + authority.public_bytes(Encoding.PEM))
    return Certificate(chain, secret, authority.public_bytes(Encoding.DER))


def _authority(
    where: Path, own: frozenset[str], now: dt.datetime
) -> tuple[ec.EllipticCurvePrivateKey, x509.Certificate]:
    """The authority kept, or a new one where there is none, it ends, or this computer got another name."""
    file, secret = where / "authority.pem", where / "authority.key"
    if file.exists() and secret.exists():
        kept = x509.load_pem_x509_certificate(file.read_bytes())
        key = load_pem_private_key(secret.read_bytes(), None)
        until = kept.not_valid_after_utc - dt.timedelta(days=SERVER_DAYS)
        if isinstance(key, ec.EllipticCurvePrivateKey) and until > now and own <= _permitted(kept):
            return key, kept
    key = ec.generate_private_key(ec.SECP256R1())
    made = _new_authority(key, own, now)
    write_private(secret, _secret(key))
    write_private(file, made.public_bytes(Encoding.PEM))
    return key, made


def _new_authority(key: ec.EllipticCurvePrivateKey, own: frozenset[str], now: dt.datetime) -> x509.Certificate:
    name = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, f"stash authority of {now:%Y-%m-%d}")])
    permitted = [_limit(each) for each in (*sorted(own | {"localhost"}), *PRIVATE)]
    return (
        x509.CertificateBuilder()
        .subject_name(name)
        .issuer_name(name)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - dt.timedelta(days=1))
        .not_valid_after(now + dt.timedelta(days=AUTHORITY_DAYS))
        .add_extension(x509.BasicConstraints(ca=True, path_length=0), critical=True)
        .add_extension(_usage(signs_certificates=True), critical=True)
        .add_extension(x509.NameConstraints(permitted, None), critical=True)
        .add_extension(x509.SubjectKeyIdentifier.from_public_key(key.public_key()), critical=False)
        .sign(key, hashes.SHA256())
    )


def _server(
    key: ec.EllipticCurvePrivateKey,
    authority_key: ec.EllipticCurvePrivateKey,
    authority: x509.Certificate,
    names: frozenset[str],
    now: dt.datetime,
) -> x509.Certificate:
    entries = [x509.IPAddress(address) if (address := _address(name)) else x509.DNSName(name) for name in sorted(names)]
    return (
        x509.CertificateBuilder()
        .subject_name(x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, "stash")]))
        .issuer_name(authority.subject)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - dt.timedelta(days=1))
        .not_valid_after(now + dt.timedelta(days=SERVER_DAYS - 1))
        .add_extension(x509.SubjectAlternativeName(entries), critical=False)
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .add_extension(_usage(signs_certificates=False), critical=True)
        .add_extension(x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH]), critical=False)
        .add_extension(x509.AuthorityKeyIdentifier.from_issuer_public_key(authority_key.public_key()), critical=False)
        .sign(authority_key, hashes.SHA256())
    )


def _usage(*, signs_certificates: bool) -> x509.KeyUsage:
    return x509.KeyUsage(
        digital_signature=not signs_certificates,
        content_commitment=False,
        key_encipherment=False,
        data_encipherment=False,
        key_agreement=False,
        key_cert_sign=signs_certificates,
        crl_sign=signs_certificates,
        encipher_only=False,
        decipher_only=False,
    )


def _good(chain: Path, secret: Path, authority: x509.Certificate, names: frozenset[str], now: dt.datetime) -> bool:
    """Tell whether the certificate kept holds for all names, for a while yet, and is this authority's."""
    if not (chain.exists() and secret.exists()):
        return False
    kept = x509.load_pem_x509_certificate(chain.read_bytes())
    if kept.not_valid_after_utc < now + dt.timedelta(days=RENEW_DAYS):
        return False
    try:
        kept.verify_directly_issued_by(authority)
    except Exception:  # noqa: BLE001 - whatever is wrong with it, it is made anew
        return False
    entries = kept.extensions.get_extension_for_class(x509.SubjectAlternativeName).value
    return names <= {str(entry.value) for entry in entries}


def _permitted(authority: x509.Certificate) -> frozenset[str]:
    """The names and single addresses it may vouch for."""
    limits = authority.extensions.get_extension_for_class(x509.NameConstraints).value
    return frozenset(
        str(entry.value).removesuffix("/32").removesuffix("/128") for entry in limits.permitted_subtrees or ()
    )


def _limit(name: str) -> x509.GeneralName:
    """A name, an address or a network as what an authority may vouch for."""
    try:
        return x509.IPAddress(ipaddress.ip_network(name))
    except ValueError:
        return x509.DNSName(name)


def _private(name: str) -> bool:
    """Tell whether a name is an address of a private network, for which every authority may vouch."""
    address = _address(name)
    networks = (ipaddress.ip_network(each) for each in PRIVATE)
    return address is not None and any(address in network for network in networks)


def _address(name: str) -> ipaddress.IPv4Address | ipaddress.IPv6Address | None:
    try:
        return ipaddress.ip_address(name)
    except ValueError:
        return None


def _secret(key: ec.EllipticCurvePrivateKey) -> bytes:
    return key.private_bytes(Encoding.PEM, PrivateFormat.PKCS8, NoEncryption())
