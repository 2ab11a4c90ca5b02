"""A push service on this machine: it takes messages by TLS, as a browser's maker would."""

import contextlib
import datetime as dt
import http.server
import ssl
import threading
import time

from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import NameOID

HOST = "push.example.org"


class Service(http.server.ThreadingHTTPServer):
    """Keeps what it was sent and answers with `status`, or without end where it `drips`."""

    daemon_threads = True

    def __init__(self):
        super().__init__(("127.0.0.1", 0), Taking)
        self.status, self.taken, self.drips = 201, [], False


class Taking(http.server.BaseHTTPRequestHandler):
    def do_POST(self):
        body = self.rfile.read(int(self.headers["Content-Length"]))
        self.server.taken.append((self.path, dict(self.headers), body))
        if self.server.drips:
            self.drip()
            return
        self.send_response(self.server.status)
        if self.server.status in (301, 307):
            self.send_header("Location", f"https://{HOST}/elsewhere")
        self.send_header("Content-Length", "0")
        self.end_headers()

    def drip(self):
        # Until the other side has had enough.
        with contextlib.suppress(OSError):
            while True:
                self.wfile.write(b"HTTP/1.1 100 Continue\r\n\r\n")
                time.sleep(0.05)

    def log_message(self, *args):
        pass


def make_certificate(folder):
    """Make a certificate of HOST that vouches for itself; return the file of both halves."""
    key = ec.generate_private_key(ec.SECP256R1())
    name = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, HOST)])
    now = dt.datetime.now(dt.UTC)
    made = (
        x509.CertificateBuilder()
        .subject_name(name)
        .issuer_name(name)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - dt.timedelta(days=1))
        .not_valid_after(now + dt.timedelta(days=1))
        .add_extension(x509.SubjectAlternativeName([x509.DNSName(HOST)]), critical=False)
        .add_extension(x509.BasicConstraints(ca=True, path_length=None), critical=True)
        .sign(key, hashes.SHA256())
    )
    path = folder / "push.pem"
    private = key.private_bytes(
        serialization.Encoding.PEM,
        serialization.PrivateFormat.PKCS8,
        serialization.NoEncryption(),
    )
    path.write_bytes(private + made.public_bytes(serialization.Encoding.PEM))
    return path


@contextlib.contextmanager
def running(certificate):
    """Yield a Service that runs meanwhile."""
    service = Service()
    tls = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    tls.load_cert_chain(certificate)
    service.socket = tls.wrap_socket(service.socket, server_side=True)
    thread = threading.Thread(target=service.serve_forever, daemon=True)
    thread.start()
    try:
        yield service
    finally:
        service.shutdown()
        service.server_close()
        thread.join()
