"""The desk's own certificate, judged by Python's `ssl` (OpenSSL), which made none of it."""

from __future__ import annotations

import hashlib
import http.client
import json
import shutil
import socket
import ssl
import stat
import subprocess
from datetime import UTC, datetime, timedelta

import pytest

from capture.errors import InputError
from desk.web import certificate
from desk.web.certificate import provide
from tests.desk.page.conftest import open_home

NOW = datetime(2026, 3, 14, tzinfo=UTC)


def pem(der):
    return ssl.DER_cert_to_PEM_cert(der)


def test_it_is_made_once_and_nobody_else_can_read_the_keys(tmp_path):
    made = provide(tmp_path, ["192.168.7.20", "desk.local"], NOW)
    again = provide(tmp_path, ["192.168.7.20"], NOW + timedelta(days=300))
    assert again == made
    for path in (tmp_path / certificate.FOLDER).iterdir():
        assert stat.S_IMODE(path.stat().st_mode) == 0o600, path
    assert stat.S_IMODE((tmp_path / certificate.FOLDER).stat().st_mode) == 0o700
    assert made.fingerprint.replace(":", "").lower() == hashlib.sha256(made.authority).hexdigest()
    end = "-----END CERTIFICATE-----\n"
    first = ssl.PEM_cert_to_DER_cert(made.cert_file.read_text().split(end)[0] + end)
    assert made.served.replace(":", "").lower() == hashlib.sha256(first).hexdigest()


def test_the_server_s_is_renewed_before_its_end_under_the_authority_that_phones_trust(tmp_path):
    made = provide(tmp_path, ["192.168.7.20"], NOW)
    late = NOW + certificate.SERVER_LIFE - certificate.RENEW + timedelta(hours=1)
    renewed = provide(tmp_path, ["192.168.7.20"], late)
    assert renewed.served != made.served
    assert renewed.fingerprint == made.fingerprint


def test_another_address_gets_a_new_one_under_the_same_authority(tmp_path):
    made = provide(tmp_path, ["192.168.7.20"], NOW)
    moved = provide(tmp_path, ["10.3.0.9"], NOW)
    assert (moved.served != made.served, moved.fingerprint) == (True, made.fingerprint)
    # an address outside the private ranges is not what the authority may speak for
    outside = provide(tmp_path, ["198.51.100.7"], NOW)
    assert outside.fingerprint != made.fingerprint


def test_an_authority_near_its_end_is_made_anew(tmp_path):
    made = provide(tmp_path, ["10.3.0.9"], NOW)
    late = provide(tmp_path, ["10.3.0.9"], NOW + certificate.AUTHORITY_LIFE - timedelta(days=1))
    assert late.fingerprint != made.fingerprint


@pytest.mark.parametrize("name", ["authority.key", "authority.pem", "server.key", "server.pem"])
def test_a_damaged_file_is_named_and_nothing_is_made_in_its_place(tmp_path, name):
    provide(tmp_path, ["10.3.0.9"], NOW)
    (tmp_path / certificate.FOLDER / name).write_text("not a key")
    with pytest.raises(InputError, match=r"certificate.*delete the folder"):
        provide(tmp_path, ["10.3.0.9"], NOW)
    assert (tmp_path / certificate.FOLDER / name).read_text() == "not a key"


def test_a_key_of_another_certificate_is_not_taken(tmp_path):
    provide(tmp_path, ["10.3.0.9"], NOW)
    provide(tmp_path / "other", ["10.3.0.9"], NOW)
    shutil.copy(tmp_path / "other" / "certificate" / "server.key", tmp_path / "certificate")
    with pytest.raises(InputError, match="not its certificate's"):
        provide(tmp_path, ["10.3.0.9"], NOW)


def test_half_a_pair_is_made_whole(tmp_path):
    made = provide(tmp_path, ["10.3.0.9"], NOW)
    made.cert_file.unlink()
    assert provide(tmp_path, ["10.3.0.9"], NOW).fingerprint == made.fingerprint


def test_wide_permissions_are_tightened(tmp_path):
    made = provide(tmp_path, ["10.3.0.9"], NOW)
    made.key_file.chmod(0o644)
    provide(tmp_path, ["10.3.0.9"], NOW)
    assert stat.S_IMODE(made.key_file.stat().st_mode) == 0o600


@pytest.mark.skipif(not shutil.which("openssl"), reason="no openssl on this machine")
def test_openssl_accepts_it_in_its_network_and_for_nothing_else(tmp_path):
    """`openssl verify` by RFC 5280, with the names that the authority may speak for."""
    made = provide(tmp_path, ["192.168.7.20", "desk.local"])
    (tmp_path / "root.pem").write_text(pem(made.authority))

    def verify(cert, *asked):
        command = ["openssl", "verify", "-x509_strict", "-purpose", "sslserver", *asked]
        command += ["-CAfile", str(tmp_path / "root.pem"), str(cert)]
        return subprocess.run(command, capture_output=True, text=True, check=False).returncode

    assert verify(made.cert_file, "-verify_ip", "192.168.7.20") == 0
    assert verify(made.cert_file, "-verify_hostname", "desk.local") == 0
    assert verify(made.cert_file, "-verify_hostname", "bank.example") != 0
    # whoever has the authority's key signs for another name: nobody believes it
    folder = tmp_path / certificate.FOLDER
    held = certificate._read(folder, certificate.AUTHORITY)
    certificate._server(folder, ["bank.example"], *held, datetime.now(UTC))
    assert verify(folder / "server.pem", "-verify_hostname", "bank.example") != 0


class Tls:
    """A client over TLS that trusts the desk's authority, and follows nothing."""

    def __init__(self, served):
        self.served = served
        self.context = ssl.create_default_context(cadata=pem(served.desk.certificate.authority))
        self.cookie = self.token = ""

    def ask(self, method, path, body=None, **headers):
        way = http.client.HTTPSConnection("127.0.0.1", self.served.port, context=self.context)
        given = {"cookie": self.cookie} if self.cookie else {}
        given |= {k.replace("_", "-"): v for k, v in headers.items()}
        way.request(method, path, None if body is None else json.dumps(body), given)
        answer = way.getresponse()
        answer.text = answer.read()
        way.close()
        return answer

    def pair(self):
        answer = self.ask("GET", "/open/" + self.served.desk.doors.invite("phone"))
        self.set = answer.headers["set-cookie"]
        self.cookie = self.set.split(";")[0]
        self.token = self.served.desk.doors.token(self.cookie.partition("=")[2])
        return self


@pytest.fixture
def tls(tmp_path, serve):
    home = open_home(tmp_path / "home")
    yield serve(home, tls=True)
    home.store.close()


def test_a_phone_that_trusts_the_authority_comes_in_and_its_cookie_goes_by_tls_only(tls):
    phone = Tls(tls).pair()
    assert {"secure", "httponly", "samesite=strict"} <= {
        part.strip().lower() for part in phone.set.split(";")
    }
    shown = phone.ask("GET", "/phone")
    assert shown.status == 200
    # what a phone compares must come by another way than what it is compared with
    assert tls.desk.certificate.fingerprint.encode() not in shown.text
    given = phone.ask("GET", "/phone/desk.crt")
    assert given.text == tls.desk.certificate.authority
    assert given.headers["content-type"] == "application/x-x509-ca-cert"


def test_one_that_does_not_trust_it_is_not_let_to_the_page(tls):
    stranger = Tls(tls)
    stranger.context = ssl.create_default_context()
    with pytest.raises(ssl.SSLCertVerificationError):
        stranger.ask("GET", "/phone")


@pytest.mark.filterwarnings("ignore:ssl.TLSVersion")  # what is old is what is tried
def test_old_tls_and_plain_http_get_nothing(tls):
    old = Tls(tls)
    old.context.set_ciphers("ALL:@SECLEVEL=0")  # so that this side would speak it
    old.context.minimum_version = ssl.TLSVersion.TLSv1
    old.context.maximum_version = ssl.TLSVersion.TLSv1_1
    with pytest.raises(ssl.SSLError, match=r"ALERT|EOF"):  # it was said, and not answered
        old.ask("GET", "/phone")
    with socket.create_connection(("127.0.0.1", tls.port), 5) as way:
        way.sendall(f"GET /phone HTTP/1.1\r\nhost: 127.0.0.1:{tls.port}\r\n\r\n".encode())
        assert b"200" not in way.recv(1000)


def test_over_tls_the_rules_are_those_of_the_page(tls):
    """Without link, with another host, from another place, with a false token: as over HTTP."""
    phone, ours = Tls(tls).pair(), f"https://127.0.0.1:{tls.port}"
    assert Tls(tls).ask("GET", "/phone").status == 403
    for path in ("/", "/record", "/search", "/intake/events", "/pair", "/media/1/sound"):
        assert phone.ask("GET", path).status == 404, path
    assert phone.ask("GET", "/phone", host="evil.example").status == 421
    body = {"name": "a.wav", "size": 5}
    for headers in (
        {},
        {"x_cowlnote_token": "x"},
        {"x_cowlnote_token": phone.token, "origin": "https://evil.example"},
        # the same host by plain HTTP is another origin: RFC 6454, section 5
        {"x_cowlnote_token": phone.token, "origin": ours.replace("https", "http")},
        {"x_cowlnote_token": phone.token, "origin": "null"},
    ):
        assert phone.ask("POST", "/upload", body, **headers).status == 403, headers
    good = {"x_cowlnote_token": phone.token, "origin": ours}
    assert phone.ask("POST", "/upload", body, **good).status == 200


def test_the_square_in_the_terminal_leads_a_phone_in(tls):
    """Read by ZXing, independent of what drew it: two modules a sign, one above the other."""
    import numpy as np
    import zxingcpp

    from desk.web import pairing

    lines = pairing.terminal_square(tls.desk).splitlines()
    # (upper half is light, lower half is light); what is not drawn is dark
    light = {"█": (1, 1), "▀": (1, 0), "▄": (0, 1), " ": (0, 0)}
    width = max(map(len, lines))
    grid = np.zeros((2 * len(lines), width), np.uint8)
    for y, line in enumerate(lines):
        for x, sign in enumerate(line.ljust(width)):
            grid[2 * y : 2 * y + 2, x] = light[sign]
    (found,) = zxingcpp.read_barcodes(np.kron(grid * 255, np.ones((6, 6), np.uint8)))
    phone = Tls(tls)
    assert phone.ask("GET", found.text.removeprefix(f"https://127.0.0.1:{tls.port}")).status == 303
