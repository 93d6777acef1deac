"""One POST is bounded in time and size, follows nothing, and goes to the checked address under the right name."""

from __future__ import annotations

import socket
import ssl
import subprocess
import threading
import time
from pathlib import Path

import pytest

from inspections.outgoing import destinations, posting
from inspections.outgoing.destinations import Destination, destination
from inspections.outgoing.posting import NoAnswer, post
from tests.processes import spare_port
from tests.receivers import raw, receiving


def on_loopback(port: int, scheme: str = "http") -> Destination:
    return destination(f"{scheme}://127.0.0.1:{port}/hook?a=1", allowed=[f"127.0.0.1:{port}"])


def took(seconds: float, began: float) -> bool:
    """Tell whether about so many seconds passed; generous, for a busy machine."""
    return seconds - 0.1 <= time.monotonic() - began < seconds + 1.5


def test_body_headers_host_and_target_arrive_as_they_were_given() -> None:
    with receiving((201, {"Retry-After": "7"}, b"made")) as receiver:
        answer = post(on_loopback(receiver.port), b'{"a":1}', {"webhook-id": "e1"})
        path, headers, body = receiver.received[0]
    assert (answer.status, answer.retry_after, answer.excerpt) == (201, "7", "made")
    assert (path, body) == ("/hook?a=1", b'{"a":1}')
    assert (headers["host"], headers["webhook-id"]) == (receiver.allowed, "e1")


def test_a_redirect_is_an_answer_and_is_not_followed() -> None:
    with receiving() as inner, receiving((302, {"Location": inner.url}, b"")) as receiver:
        assert post(on_loopback(receiver.port), b"{}", {}).status == 302
        assert inner.received == []


def test_the_proxy_environment_is_not_asked(monkeypatch: pytest.MonkeyPatch) -> None:
    with receiving() as proxy, receiving() as receiver:
        for name in ("http_proxy", "HTTP_PROXY", "https_proxy", "ALL_PROXY"):
            monkeypatch.setenv(name, f"http://127.0.0.1:{proxy.port}")
        assert post(on_loopback(receiver.port), b"{}", {}).status == 200
        assert (len(proxy.received), len(receiver.received)) == (0, 1)


def test_a_receiver_that_hangs_is_left_in_time() -> None:
    with raw(lambda connection, ended: ended.wait(10) and None) as port:
        began = time.monotonic()
        with pytest.raises(NoAnswer, match="within"):
            post(on_loopback(port), b"{}", {}, total_s=0.5)
        assert took(0.5, began)


def test_a_receiver_that_drips_its_head_is_left_in_time() -> None:
    def drip(connection: socket.socket, ended: threading.Event) -> None:
        for byte in b"HTTP/1.1 200 OK\r\n" + b"X-A: b\r\n" * 100:
            connection.sendall(bytes([byte]))
            if ended.wait(0.05):
                return

    with raw(drip) as port:
        began = time.monotonic()
        with pytest.raises(NoAnswer):
            post(on_loopback(port), b"{}", {}, total_s=0.6)
        assert took(0.6, began)


def test_a_receiver_that_drips_its_body_has_answered() -> None:
    def drip(connection: socket.socket, ended: threading.Event) -> None:
        connection.sendall(b"HTTP/1.1 200 OK\r\nContent-Length: 900\r\n\r\n")
        while not ended.wait(0.05):
            connection.sendall(b"x")

    with raw(drip) as port:
        began = time.monotonic()
        assert post(on_loopback(port), b"{}", {}).status == 200
        assert time.monotonic() - began < 4


def test_a_receiver_that_does_not_read_is_left_in_time() -> None:
    with raw(lambda connection, ended: ended.wait(10) and None) as port:
        began = time.monotonic()
        with pytest.raises(NoAnswer):
            post(on_loopback(port), b"x" * 50_000_000, {}, total_s=0.5)
        assert took(0.5, began)


def flood(start: bytes, sent: list[int], connection: socket.socket, ended: threading.Event) -> None:
    connection.recv(65_536)
    connection.sendall(start)
    while not ended.is_set() and sum(sent) < 1_000_000_000:
        sent.append(connection.send(b"y" * 65_536))


def test_of_a_gigabyte_of_body_64_kilobytes_are_read_at_most() -> None:
    sent: list[int] = []
    with raw(lambda c, e: flood(b"HTTP/1.1 200 OK\r\n\r\n", sent, c, e)) as port:
        answer = post(on_loopback(port), b"{}", {})
        assert answer.status == 200 and 0 < len(answer.excerpt) <= 1000
        time.sleep(0.1)
    assert sum(sent) < 30_000_000  # what fits into the buffers of both sides


def test_of_a_gigabyte_of_head_64_kilobytes_are_read_at_most() -> None:
    sent: list[int] = []
    with raw(lambda c, e: flood(b"HTTP/1.1 200 OK\r\nX-Long: ", sent, c, e)) as port, pytest.raises(NoAnswer):
        post(on_loopback(port), b"{}", {})
    assert sum(sent) < 30_000_000


def test_the_limit_is_64_kilobytes_of_whatever_comes() -> None:
    one, other = socket.socketpair()
    with one, other:
        threading.Thread(target=lambda: other.sendall(b"z" * 70_000), daemon=True).start()
        bounded = posting._Bounded(one, posting._Deadline(5))
        assert len(bounded.makefile("rb").read()) == 65_536


@pytest.mark.parametrize("content", [b"", b"SSH-2.0-x\r\n", b"HTTP/1.1 abc\r\n\r\n", b"\x00" * 100])
def test_what_is_not_http_is_no_answer(content: bytes) -> None:
    def talk(connection: socket.socket, ended: threading.Event) -> None:
        connection.recv(65_536)
        connection.sendall(content)

    with raw(talk) as port, pytest.raises(NoAnswer):
        post(on_loopback(port), b"{}", {}, total_s=3)


def test_a_port_nobody_listens_on_is_no_answer() -> None:
    with pytest.raises(NoAnswer, match="No connection"):
        post(on_loopback(spare_port()), b"{}", {})


@pytest.fixture
def certificate(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> ssl.SSLContext:
    """A certificate for hooks.example.com that this process trusts, made by openssl."""
    key, pem = tmp_path / "key.pem", tmp_path / "cert.pem"
    subject = ("-subj", "/CN=hooks.example.com", "-addext", "subjectAltName=DNS:hooks.example.com")
    kind = ("-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:prime256v1", "-nodes", "-days", "2")
    command = ["openssl", "req", "-x509", *kind, "-keyout", str(key), "-out", str(pem), *subject]
    subprocess.run(command, check=True, capture_output=True)
    monkeypatch.setenv("SSL_CERT_FILE", str(pem))
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    context.load_cert_chain(pem, key)
    return context


def resolve_to_loopback(monkeypatch: pytest.MonkeyPatch, port: int) -> None:
    rows = [(socket.AF_INET, socket.SOCK_STREAM, 6, "", ("127.0.0.1", port))]
    monkeypatch.setattr(destinations.socket, "getaddrinfo", lambda *_, **__: rows)


def test_tls_goes_to_the_checked_address_under_the_name_of_the_url(
    certificate: ssl.SSLContext, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked: list[str | None] = []
    certificate.sni_callback = lambda connection, name, context: asked.append(name)
    with receiving(context=certificate) as receiver:
        monkeypatch.setattr(posting, "addresses", lambda found, within_s: ["127.0.0.1"])
        found = Destination("https", "hooks.example.com", receiver.port, "/x", is_allowed=False)
        assert post(found, b"{}", {}).status == 200
        assert asked == ["hooks.example.com"]
        assert receiver.received[0][1]["host"] == f"hooks.example.com:{receiver.port}"


def test_a_certificate_for_another_name_is_no_answer(
    certificate: ssl.SSLContext, monkeypatch: pytest.MonkeyPatch
) -> None:
    with receiving(context=certificate) as receiver:
        monkeypatch.setattr(posting, "addresses", lambda found, within_s: ["127.0.0.1"])
        found = Destination("https", "other.example.com", receiver.port, "/x", is_allowed=False)
        with pytest.raises(NoAnswer, match="certificate is not valid"):
            post(found, b"{}", {})
        assert receiver.received == []


def test_a_name_that_became_an_inner_one_reaches_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    with receiving() as receiver:
        resolve_to_loopback(monkeypatch, receiver.port)
        found = Destination("https", "hooks.example.com", receiver.port, "/x", is_allowed=False)
        with pytest.raises(destinations.NotAllowed):
            post(found, b"{}", {})
        assert receiver.received == []
