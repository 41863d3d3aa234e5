"""A real SMTP server (aiosmtpd, Debian python3-aiosmtpd) on loopback for the tests of this folder."""
import os
import socket
import ssl
import subprocess
import sys

from aiosmtpd.controller import Controller
from aiosmtpd.smtp import SMTP


def hold(what, condition):
    if not condition:
        sys.exit(f"FAILED: {what}")


def certificate(folder, name, host):
    """A server's key and certificate in `folder`, NAME.key and NAME.pem; its TLS context."""
    path = lambda ending: os.path.join(folder, name + ending)
    subprocess.run(["openssl", "req", "-x509", "-newkey", "rsa:2048", "-nodes", "-days", "2", "-subj", f"/CN={name}",
                    "-addext", f"subjectAltName=IP:{host}", "-keyout", path(".key"), "-out", path(".pem")],
                   check=True, capture_output=True)
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    context.load_cert_chain(path(".pem"), path(".key"))
    return context


class Box:
    def __init__(self, answer=None):
        self.mails, self.answer = [], answer

    async def handle_DATA(self, server, session, envelope):
        if self.answer:
            return self.answer
        self.mails.append((envelope.mail_from, envelope.rcpt_tos, envelope.content, session.ssl is not None))
        return "250 taken"


class Tls(Controller):
    """TLS from the first byte; others speak STARTTLS."""

    def __init__(self, box, context, **more):
        super().__init__(box, hostname="127.0.0.1", port=free_port(), ssl_context=context, **more)


class Starttls(Controller):
    def __init__(self, box, context, **more):
        self.more = dict(more, tls_context=context, require_starttls=context is not None)
        super().__init__(box, hostname="127.0.0.1", port=free_port())

    def factory(self):
        return SMTP(self.handler, **self.more)


def free_port():
    with socket.socket() as s:
        s.bind(("127.0.0.1", 0))
        return s.getsockname()[1]
