"""One mail through daemon/desk/smtp to a real server: aiosmtpd (Debian python3-aiosmtpd) on loopback.

    /usr/bin/python3 -B tests/mail/mail_test.py PROGRAM

STARTTLS and TLS from the first byte, the certificate checked against a named authority; what comes
out is read with Python's own email package (RFC 5322, 2045); 4xx and 5xx answers, a wrong
certificate, a server without TLS, a refused login, no server at all.
"""
import email
import email.policy
import os
import subprocess
import sys
import tempfile

from aiosmtpd.smtp import AuthResult

from smtp_server import Box, Starttls, Tls, certificate, free_port, hold

PROGRAM = sys.argv[1]
FOLDER = tempfile.mkdtemp(prefix="fairlead-mail-")
LATER, DENIED = 10, 11


def path(name):
    return os.path.join(FOLDER, name)


def send(server, ca="-", tls="on", user="-", password="-", files=()):
    done = subprocess.run([PROGRAM, server, "base@example.org", "claims@insurer.example", ca, tls, user, password, *files],
                          capture_output=True, text=True, timeout=60)
    return done.returncode, done.stderr


def letter(content):
    return email.message_from_bytes(content, policy=email.policy.default)


def taken(context):
    """The whole mail, word for word, over STARTTLS and over TLS from the first byte."""
    with open(path("summary.pdf"), "wb") as file:
        file.write(bytes(range(256)) * 4000)
    with open(path("summary.csv"), "wb") as file:
        file.write(b".\r\n..leading dots\r\nl\xc3\xa4nge\r\n")
    for kind, scheme in ((Starttls, "smtp"), (Tls, "smtps")):
        box = Box()
        server = kind(box, context)
        server.start()
        code, words = send(f"{scheme}://127.0.0.1:{server.port}", ca=path("server.pem"), files=(path("summary.pdf"), path("summary.csv")))
        server.stop()
        hold(f"{scheme}: exit {code} {words}", code == 0 and len(box.mails) == 1)
        sender, to, content, secure = box.mails[0]
        # aiosmtpd notes TLS in the session only after STARTTLS; the other server speaks nothing else.
        hold(f"{scheme}: under TLS", secure or scheme == "smtps")
        hold(f"envelope {sender} {to}", sender == "base@example.org" and to == ["claims@insurer.example", "second@example.org"])
        mail = letter(content)
        hold("Message-ID " + str(mail["Message-ID"]), mail["Message-ID"] == "<insurer-20270101-20270401.0123456789abcdef@fairlead>")
        hold("date " + str(mail["Date"]), mail["Date"].datetime.isoformat() == "2027-03-25T18:40:00+00:00")
        hold("no header by way of the subject", mail["Bcc"] is None and "Bcc:" in mail["Subject"])
        parts = [part for part in mail.iter_parts()]
        hold("text", parts[0].get_content().replace("\r\n", "\n") == "The summary is attached.\n.\nA line with a dot above. Gr\u00fc\u00dfe.\n")
        for part, name in zip(parts[1:], ("summary.pdf", "summary.csv")):
            with open(path(name), "rb") as file:
                hold(f"{name} word for word", part.get_filename() == name and part.get_payload(decode=True) == file.read())
        hold("nothing else", len(parts) == 3)


def refused(context):
    """What may go better later is told from what will not."""
    other = certificate(FOLDER, "other", "127.0.0.1")
    cases = (
        ("4xx at the end", Starttls(Box("451 try again later"), context), {}, LATER, "451"),
        ("5xx at the end", Starttls(Box("554 no"), context), {}, DENIED, "554"),
        ("a server of another authority", Starttls(Box(), other), {}, DENIED, "certificate"),
        ("a server without TLS", Starttls(Box(), None), {}, DENIED, "STARTTLS not supported"),
    )
    for name, server, more, wanted, words in cases:
        server.start()
        code, said = send(f"smtp://127.0.0.1:{server.port}", ca=path("server.pem"), **more)
        server.stop()
        hold(f"{name}: exit {code}, wanted {wanted}: {said}", code == wanted and words.lower() in said.lower())
        hold(f"{name}: nothing was taken", not server.handler.mails)
    code, said = send(f"smtp://127.0.0.1:{free_port()}", ca=path("server.pem"))
    hold(f"no server: exit {code} {said}", code == LATER)
    plain = Starttls(Box(), None)
    plain.start()
    code, said = send(f"smtp://127.0.0.1:{plain.port}", tls="off")
    plain.stop()
    hold(f"without TLS where the settings allow it: {code} {said}", code == 0 and not plain.handler.mails[0][3])


def login(context):
    with open(path("password"), "w") as file:
        file.write("open sesame\n")
    os.chmod(path("password"), 0o600)

    def right(server, session, envelope, mechanism, data):
        good = data.login == b"base" and data.password == b"open sesame"
        return AuthResult(success=good, handled=good)  # Not handled: aiosmtpd answers 535 itself.

    for user, wanted in (("base", 0), ("nobody", DENIED)):
        box = Box()
        server = Starttls(box, context, authenticator=right, auth_required=True)
        server.start()
        code, said = send(f"smtp://127.0.0.1:{server.port}", ca=path("server.pem"), user=user, password=path("password"))
        server.stop()
        hold(f"login as {user}: exit {code} {said}", code == wanted and len(box.mails) == (wanted == 0))
        hold("the password is in no message", "sesame" not in said)


def main():
    context = certificate(FOLDER, "server", "127.0.0.1")
    taken(context)
    refused(context)
    login(context)
    print("mail: taken over STARTTLS and TLS, 6 refusals told apart, logins")


if __name__ == "__main__":
    main()
