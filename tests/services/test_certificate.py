"""Certificates of one's own, checked by the TLS library of the system; and files that only their owner may read."""

import datetime as dt
import socket
import ssl
import stat
import threading

import pytest
from cryptography import x509

from stash.errors import StorageError
from stash.services import own_files
from stash.services.certificate import certificate

NOW = dt.datetime.now(dt.UTC)
NAMES = ["workshop", "workshop.local", "192.168.7.20", "127.0.0.1"]


def trusts(own, name: str) -> bool:
    """Whether a browser that knows the authority would open a connection under a name."""
    served = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    served.load_cert_chain(own.chain, own.key)
    knowing = ssl.create_default_context(cadata=own.authority)
    one, other = socket.socketpair()

    def answer() -> None:
        try:
            served.wrap_socket(one, server_side=True).close()
        except OSError:
            one.close()

    thread = threading.Thread(target=answer)
    thread.start()
    try:
        knowing.wrap_socket(other, server_hostname=name).close()
    except ssl.SSLCertVerificationError:
        return False
    finally:
        other.close()
        thread.join(10)
    return True


def test_who_knows_the_authority_trusts_every_name_and_no_other(tmp_path):
    own = certificate(NAMES, now=NOW, where=tmp_path)
    assert all(trusts(own, name) for name in NAMES)
    assert not trusts(own, "elsewhere.example")
    stranger = certificate(NAMES, now=NOW, where=tmp_path / "other")
    mixed = type(own)(own.chain, own.key, stranger.authority)
    assert not trusts(mixed, "workshop")


def test_an_address_that_is_no_private_one_is_vouched_for_too(tmp_path):
    own = certificate([*NAMES, "203.0.113.9"], now=NOW, where=tmp_path)
    assert trusts(own, "203.0.113.9")
    assert certificate([*NAMES, "203.0.113.9"], now=NOW, where=tmp_path).authority == own.authority


def test_it_is_kept_while_it_holds_and_made_anew_under_the_same_authority(tmp_path):
    first = certificate(NAMES, now=NOW, where=tmp_path)
    kept = first.chain.read_bytes()
    assert certificate(NAMES[:2], now=NOW, where=tmp_path).chain.read_bytes() == kept
    moved = certificate([*NAMES, "10.1.2.3"], now=NOW, where=tmp_path)
    assert moved.chain.read_bytes() != kept
    assert moved.authority == first.authority
    later = certificate(NAMES, now=NOW + dt.timedelta(days=380), where=tmp_path)
    assert later.authority == first.authority
    assert x509.load_pem_x509_certificate(later.chain.read_bytes()).not_valid_after_utc > NOW + dt.timedelta(days=700)


def test_a_new_name_or_the_end_of_its_time_needs_a_new_authority(tmp_path):
    first = certificate(NAMES, now=NOW, where=tmp_path)
    renamed = certificate([*NAMES, "shed.local"], now=NOW, where=tmp_path)
    assert renamed.authority != first.authority
    assert trusts(renamed, "shed.local")
    assert certificate(NAMES, now=NOW + dt.timedelta(days=3400), where=tmp_path).authority != renamed.authority


def test_no_key_can_be_read_by_others(tmp_path):
    certificate(NAMES, now=NOW, where=tmp_path / "tls")
    own_files.seal(tmp_path / "session.key")
    for file in [*(tmp_path / "tls").iterdir(), tmp_path / "session.key"]:
        assert stat.S_IMODE(file.stat().st_mode) == 0o600, file
    assert stat.S_IMODE((tmp_path / "tls").stat().st_mode) == 0o700


def test_the_seal_is_kept_mended_and_closed_to_others(tmp_path):
    file = tmp_path / "session.key"
    first = own_files.seal(file)
    file.chmod(0o644)
    assert own_files.seal(file) == first
    assert stat.S_IMODE(file.stat().st_mode) == 0o600
    file.write_bytes(first[:5])
    assert len(own_files.seal(file)) == 32


def test_a_folder_that_cannot_be_used_is_said(tmp_path):
    (tmp_path / "file").write_text("in the way")
    with pytest.raises(StorageError, match="can't be used"):
        own_files.seal(tmp_path / "file" / "session.key")
