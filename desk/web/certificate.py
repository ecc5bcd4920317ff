"""The desk's own certificate, so that a paired phone's browser may give its microphone.

An authority of this home, which a phone can be told to trust, signs the certificate that the desk
serves with. The authority may speak for private addresses and this machine's name only, so that
whoever got its key could pass for no other place. Validity and extensions as the two big kinds of
phone ask for them of an authority that a person added: at most 825 days, the names in the subject's
alternative names, use for servers stated, SHA-256 (from memory of their makers' published rules).
"""

from __future__ import annotations

import contextlib
import ipaddress
import os
import re
import secrets
import socket
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

from cryptography import x509
from cryptography.exceptions import InvalidSignature, UnsupportedAlgorithm
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID

from capture import flushed
from capture.errors import InputError, VaultError

FOLDER = "certificate"  # in the home
AUTHORITY, SERVER = "authority", "server"
AUTHORITY_LIFE = timedelta(days=3650)
SERVER_LIFE = timedelta(days=397)
RENEW = timedelta(days=30)  # before the end, so that no day in the hangar begins with a dead one
# RFC 1918, 3927, 4193 and 4291: what a machine in a hangar's network is called
PRIVATE = ("10.0.0.0/8", "172.16.0.0/12", "192.168.0.0/16", "169.254.0.0/16", "127.0.0.0/8")
PRIVATE6 = ("fc00::/7", "fe80::/10", "::1/128")
TODO = "delete the folder; a new one is made, which phones must then trust anew"
Address = ipaddress.IPv4Address | ipaddress.IPv6Address


@dataclass(frozen=True, slots=True)
class Certificate:
    """Where the server's certificate and key lie, and the authority that a phone can trust.

    `authority` is in DER, as phones take it; `fingerprint` is the authority's and `served` the
    server's, SHA-256 in pairs of hexadecimal figures.
    """

    cert_file: Path
    key_file: Path
    authority: bytes
    fingerprint: str
    served: str


def own_name() -> str:
    """Give this machine's name in its network (`desk.local`); "" where it has none fit for it."""
    name = socket.gethostname().split(".")[0].lower()
    fit = re.fullmatch(r"[a-z0-9]([a-z0-9-]{0,61}[a-z0-9])?", name) and name != "localhost"
    return f"{name}.local" if fit else ""


def provide(home: Path, names: Iterable[str], now: datetime | None = None) -> Certificate:
    """Give the home's certificate for these addresses and names; makes or renews what is needed.

    Raises:
        InputError: what lies there cannot be read as a certificate and its key.
        VaultError: it cannot be written.
    """
    now = now or datetime.now(UTC)
    wanted = list(dict.fromkeys(names))
    folder = home / FOLDER
    with _worded(folder):
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        folder.chmod(0o700)
        authority, key = _authority(folder, wanted, now)
        served = _server(folder, wanted, authority, key, now)
    return Certificate(
        folder / f"{SERVER}.pem",
        folder / f"{SERVER}.key",
        authority.public_bytes(serialization.Encoding.DER),
        _pairs(authority),
        _pairs(served),
    )


def _authority(
    folder: Path, names: list[str], now: datetime
) -> tuple[x509.Certificate, ec.EllipticCurvePrivateKey]:
    """Give the home's authority. A new one must be trusted anew, so it is made only if it must."""
    held = _read(folder, AUTHORITY)
    if held and _lasts(held[0], now) and _may_speak_for(held[0], names):
        return held
    key = ec.generate_private_key(ec.SECP256R1())
    name = _subject(f"cowlnote desk {secrets.token_hex(3)}")
    built = (
        _builder(name, key, now, AUTHORITY_LIFE)
        .issuer_name(name)
        .add_extension(x509.BasicConstraints(ca=True, path_length=0), critical=True)
        .add_extension(_key_usage(signs=True), critical=True)
        .add_extension(_constraints(names), critical=True)
    ).sign(key, hashes.SHA256())
    _write(folder, AUTHORITY, built, key)
    return built, key


def _server(
    folder: Path,
    names: list[str],
    authority: x509.Certificate,
    key: ec.EllipticCurvePrivateKey,
    now: datetime,
) -> x509.Certificate:
    held = _read(folder, SERVER)
    if (
        held
        and _lasts(held[0], now)
        and set(names) <= _named(held[0])
        and _is_of(held[0], authority)
    ):
        return held[0]
    own = ec.generate_private_key(ec.SECP256R1())
    life = min(SERVER_LIFE, authority.not_valid_after_utc - now)
    made = (
        _builder(_subject(names[0] if names else "cowlnote desk"), own, now, life)
        .issuer_name(authority.subject)
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .add_extension(_key_usage(signs=False), critical=True)
        .add_extension(x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH]), critical=False)
        .add_extension(x509.SubjectAlternativeName([_general(n) for n in names]), critical=False)
        .add_extension(
            x509.AuthorityKeyIdentifier.from_issuer_public_key(key.public_key()), critical=False
        )
    ).sign(key, hashes.SHA256())
    _write(folder, SERVER, made, own, authority)
    return made


def _builder(
    subject: x509.Name, key: ec.EllipticCurvePrivateKey, now: datetime, life: timedelta
) -> x509.CertificateBuilder:
    return (
        x509.CertificateBuilder()
        .subject_name(subject)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - timedelta(days=1))  # a phone's clock may be behind
        .not_valid_after(now + life)
        .add_extension(x509.SubjectKeyIdentifier.from_public_key(key.public_key()), critical=False)
    )


def _subject(name: str) -> x509.Name:
    return x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, name)])


def _key_usage(*, signs: bool) -> x509.KeyUsage:
    return x509.KeyUsage(
        digital_signature=not signs,
        content_commitment=False,
        key_encipherment=False,
        data_encipherment=False,
        key_agreement=False,
        key_cert_sign=signs,
        crl_sign=signs,
        encipher_only=False,
        decipher_only=False,
    )


def _constraints(names: list[str]) -> x509.NameConstraints:
    """Give what the authority may speak for: private networks, and what this machine is called."""
    nets = [ipaddress.ip_network(net) for net in (*PRIVATE, *PRIVATE6)]
    hosts = {own_name(), "localhost"} - {""}
    for name in names:
        if (address := _address(name)) is None:
            hosts.add(name)
        elif not any(address.version == net.version and address in net for net in nets):
            nets.append(ipaddress.ip_network(address))
    permitted = [*(x509.IPAddress(net) for net in nets), *(x509.DNSName(h) for h in sorted(hosts))]
    return x509.NameConstraints(permitted, None)


def _may_speak_for(authority: x509.Certificate, names: list[str]) -> bool:
    found = authority.extensions.get_extension_for_class(x509.NameConstraints).value
    permitted = found.permitted_subtrees or []
    nets = [ipaddress.ip_network(str(o.value)) for o in permitted if isinstance(o, x509.IPAddress)]
    hosts = {one.value for one in permitted if isinstance(one, x509.DNSName)}
    return all(
        name in hosts
        if (address := _address(name)) is None
        else any(address.version == net.version and address in net for net in nets)
        for name in names
    )


def _named(cert: x509.Certificate) -> set[str]:
    found = cert.extensions.get_extension_for_class(x509.SubjectAlternativeName).value
    return {str(one.value) for one in found}


def _is_of(cert: x509.Certificate, authority: x509.Certificate) -> bool:
    try:
        cert.verify_directly_issued_by(authority)
    except (ValueError, TypeError, InvalidSignature):
        return False
    return True


def _lasts(cert: x509.Certificate, now: datetime) -> bool:
    return cert.not_valid_before_utc <= now < cert.not_valid_after_utc - RENEW


def _address(name: str) -> Address | None:
    try:
        return ipaddress.ip_address(name)
    except ValueError:
        return None


def _general(name: str) -> x509.GeneralName:
    address = _address(name)
    return x509.DNSName(name) if address is None else x509.IPAddress(address)


def _pairs(cert: x509.Certificate) -> str:
    return cert.fingerprint(hashes.SHA256()).hex(":").upper()


def _read(folder: Path, name: str) -> tuple[x509.Certificate, ec.EllipticCurvePrivateKey] | None:
    """Give a certificate and its key as they lie there; None where there is neither."""
    cert_file, key_file = folder / f"{name}.pem", folder / f"{name}.key"
    if not cert_file.exists() or not key_file.exists():
        return None  # half a pair is of no use, and is made anew
    try:
        cert = x509.load_pem_x509_certificate(cert_file.read_bytes())
        key_file.chmod(0o600)  # a copied home may have come with wider permissions
        key = serialization.load_pem_private_key(key_file.read_bytes(), None)
    except (ValueError, TypeError, UnsupportedAlgorithm):
        raise InputError("cannot be read as a certificate and its key", folder, TODO) from None
    if not isinstance(key, ec.EllipticCurvePrivateKey) or cert.public_key() != key.public_key():
        raise InputError("holds a key that is not its certificate's", folder, TODO)
    return cert, key


def _write(
    folder: Path,
    name: str,
    cert: x509.Certificate,
    key: ec.EllipticCurvePrivateKey,
    *above: x509.Certificate,
) -> None:
    pem = serialization.Encoding.PEM
    chain = b"".join(one.public_bytes(pem) for one in (cert, *above))
    held = key.private_bytes(pem, serialization.PrivateFormat.PKCS8, serialization.NoEncryption())
    # the certificate last: without it the pair is made anew, and no old one stands by a new key
    (folder / f"{name}.pem").unlink(missing_ok=True)
    for ending, content in ((".key", held), (".pem", chain)):
        aside = folder / f"{name}{ending}.new"
        aside.unlink(missing_ok=True)
        with os.fdopen(os.open(aside, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "wb") as out:
            out.write(content)
        flushed.placed(aside, folder / f"{name}{ending}")


@contextlib.contextmanager
def _worded(folder: Path) -> Iterator[None]:
    try:
        yield
    except OSError as error:
        raise VaultError(
            f"cannot be read or written ({error.strerror})", folder, "look at its permissions"
        ) from error
