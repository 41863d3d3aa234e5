"""A witness of its own make, after C2SP tlog-witness and tlog-cosignature: what the base must get on
with. Shares no code with the product; Ed25519 and the proof loops are those of second_opinion.py.
"""
import base64
import hashlib
import http.server
import os
import ssl
import sys
import threading

HERE = os.path.dirname(os.path.abspath(__file__))
sys.path.insert(0, os.path.join(os.path.dirname(HERE), "unit", "verify"))
import second_opinion as so  # noqa: E402


def sign(seed, message):
    """RFC 8032 section 5.1.6."""
    digest = hashlib.sha512(seed).digest()
    a = int.from_bytes(digest[:32], "little") & (1 << 254) - 8 | 1 << 254
    public = so.encode(so.times(a, so.BASE))
    r = int.from_bytes(hashlib.sha512(digest[32:] + message).digest(), "little") % so.L
    big_r = so.encode(so.times(r, so.BASE))
    k = int.from_bytes(hashlib.sha512(big_r + public + message).digest(), "little") % so.L
    return public, big_r + ((r + k * a) % so.L).to_bytes(32, "little")


class Refusal(Exception):
    def __init__(self, status, body):
        super().__init__(status)
        self.status, self.body = status, body


class Witness:
    """State and rules; `logs` maps an origin to its vkey, `heads` to (size, root)."""

    def __init__(self, name, seed):
        self.name, self.seed, self.clock = name, seed, lambda: 0
        self.logs, self.heads, self.before = {}, {}, []
        public, _ = sign(seed, b"")
        self.raw = b"\4" + public
        self.id = hashlib.sha256(name.encode() + b"\n" + self.raw).digest()[:4]
        self.lock = threading.Lock()

    def vkey(self):
        return f"{self.name}+{self.id.hex()}+{base64.b64encode(self.raw).decode()}"

    def add_checkpoint(self, body):
        head, _, note = body.partition(b"\n\n")
        lines = head.split(b"\n")
        if not lines[0].startswith(b"old ") or not note:
            raise Refusal(400, "not a request\n")
        old, proof = int(lines[0][4:]), [base64.b64decode(line) for line in lines[1:]]
        text, signatures = so.note(note)
        origin, size, root = text.decode().splitlines()
        size, root = int(size), base64.b64decode(root)
        if origin not in self.logs:
            raise Refusal(404, "unknown log\n")
        log = so.vkey(self.logs[origin])
        if not any(name == log["name"] and key_id == log["id"] and so.verify(log["key"], text, signature)
                   for name, key_id, signature in signatures):
            raise Refusal(403, "no good signature\n")
        with self.lock:
            known, known_root = self.heads.get(origin, (0, None))
            if old > size:
                raise Refusal(400, "old size above the checkpoint's\n")
            if old != known or (size == known and root != known_root):
                raise Refusal(409, f"{known}\n")
            if old and not so.consistent(old, known_root, size, root, proof) or not old and proof:
                raise Refusal(422, "the proof does not verify\n")
            self.heads[origin] = (size, root)
        time = int(self.clock())
        message = b"cosignature/v1\ntime %d\n" % time + text
        _, signature = sign(self.seed, message)
        raw = self.id + time.to_bytes(8, "big") + signature
        return f"\u2014 {self.name} {base64.b64encode(raw).decode()}\n".encode()


def serve(witness, certificate=None):
    """Answers on a free port of loopback; `witness.before` holds (status, body) to give first. With a
    PEM file of certificate and key: over TLS, as `localhost`."""

    class Handler(http.server.BaseHTTPRequestHandler):
        def do_POST(self):
            body = self.rfile.read(int(self.headers["Content-Length"]))
            try:
                if witness.before:
                    raise Refusal(*witness.before.pop(0))
                if self.path != "/w/add-checkpoint":
                    raise Refusal(404, "no such path\n")
                status, answer = 200, witness.add_checkpoint(body)
            except Refusal as refusal:
                status, answer = refusal.status, refusal.body.encode()
            self.send_response(status)
            self.send_header("Content-Type", "text/x.tlog.size" if status == 409 else "text/plain")
            self.send_header("Content-Length", str(len(answer)))
            self.end_headers()
            self.wfile.write(answer)

        def log_message(self, *_):
            pass

    server = http.server.ThreadingHTTPServer(("127.0.0.1", 0), Handler)
    if certificate:
        context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
        context.load_cert_chain(certificate)
        server.socket = context.wrap_socket(server.socket, server_side=True)
    threading.Thread(target=server.serve_forever, daemon=True).start()
    where = "https://localhost" if certificate else "http://127.0.0.1"
    return server, f"{where}:{server.server_address[1]}/w/"
