"""Truck and base as real processes on loopback, with a TCP proxy between them that can be cut."""
import json
import os
import signal
import socket
import subprocess
import threading
import time


def free_port():
    with socket.socket() as s:
        s.bind(("127.0.0.1", 0))
        return s.getsockname()[1]


class Proxy:
    """Forwards one port to another; cut() resets every connection, open or not yet accepted."""

    def __init__(self, target):
        self.target = target
        self.port = free_port()
        self.down = False
        self.pairs = []
        self.lock = threading.Lock()
        self.listener = socket.create_server(("127.0.0.1", self.port))
        threading.Thread(target=self.accept, daemon=True).start()

    def accept(self):
        while True:
            inner, _ = self.listener.accept()
            if self.down:
                inner.close()
                continue
            try:
                outer = socket.create_connection(("127.0.0.1", self.target), 1)
            except OSError:
                inner.close()
                continue
            with self.lock:
                self.pairs.append((inner, outer))
            for a, b in ((inner, outer), (outer, inner)):
                threading.Thread(target=self.pump, args=(a, b), daemon=True).start()

    @staticmethod
    def pump(source, sink):
        try:
            while data := source.recv(4096):
                sink.sendall(data)
        except OSError:
            pass
        for s in (source, sink):
            try:
                s.shutdown(socket.SHUT_RDWR)
            except OSError:
                pass

    def cut(self):
        with self.lock:
            pairs, self.pairs = self.pairs, []
        for pair in pairs:
            for s in pair:
                try:
                    s.shutdown(socket.SHUT_RDWR)
                    s.close()
                except OSError:
                    pass


class Daemon:
    def __init__(self, program, folder, name, settings):
        self.program, self.log = program, os.path.join(folder, name + ".log")
        self.config = os.path.join(folder, name + ".toml")
        with open(self.config, "w") as out:
            out.write(settings)
        self.process = None

    def start(self):
        with open(self.log, "ab") as log:
            at = log.tell()
            self.process = subprocess.Popen([self.program, "--config", self.config], stderr=log)
        deadline = time.time() + 20
        while time.time() < deadline:
            with open(self.log, "rb") as log:
                log.seek(at)
                if b"listens on" in log.read():
                    return self
            if self.process.poll() is not None:
                break
            time.sleep(0.005)
        raise AssertionError("did not start: " + open(self.log, errors="replace").read()[-2000:])

    def kill(self):
        self.process.send_signal(signal.SIGKILL)
        self.process.wait()

    def stop(self):
        self.process.send_signal(signal.SIGTERM)
        return self.process.wait(timeout=20)


class Stand:
    def __init__(self, programs, folder, register):
        self.client = os.path.join(programs, "bin", "fairlead")
        program = os.path.join(programs, "bin", "fairleadd")
        self.base_port = free_port()
        self.base_address = f"127.0.0.1:{self.base_port}"
        self.proxy = Proxy(self.base_port)
        self.truck_address = f"unix:{folder}/t/truck.sock"
        self.base = Daemon(program, folder, "base",
                           f'name = "ozzlewick"\ndata = "b"\nlisten = "{self.base_address}"\n'
                           f'[files]\nregister = ["{register}"]\n')
        self.truck = Daemon(program, folder, "truck",
                            'role = "truck"\nname = "OW-02"\ndata = "t"\n[truck]\n'
                            f'base = "127.0.0.1:{self.proxy.port}"\nreconnect_longest_ms = 200\n')

    def call(self, *arguments, to=None, check=True, stdin=None):
        environment = dict(os.environ, FAIRLEAD_BASE=to or self.base_address)
        done = subprocess.run([self.client, *arguments], env=environment, capture_output=True,
                              text=True, input=stdin, timeout=60)
        if check and done.returncode != 0:
            raise AssertionError(f"{arguments}: {done.returncode}: {done.stdout} {done.stderr}")
        return done

    def status(self, to):
        return json.loads(self.call("status", "--json", to=to).stdout)

    def wait(self, what, seconds, condition):
        deadline = time.time() + seconds
        while time.time() < deadline:
            if condition():
                return
            time.sleep(0.05)
        raise AssertionError(f"waited {seconds} s for {what}\n{self.logs()}")

    def logs(self):
        return "".join(open(d.log, errors="replace").read()[-1500:] for d in (self.base, self.truck)
                       if os.path.exists(d.log))

    def wait_enrolled(self):
        self.wait("the enrolment", 20, lambda: self.status(self.truck_address)["enrolled"])

    def wait_drained(self):
        """Every entry of the truck is at the base, bodies of strips too."""
        def drained():
            truck = self.status(self.truck_address)
            known = self.call("job", "show", self.job, "--json", check=False)
            if known.returncode != 0:
                return False
            job = json.loads(known.stdout)["job"]
            return truck["ackedSeq"] == truck["entries"] and job["bodiesMissing"] == 0
        self.wait("the truck's record to be at the base", 30, drained)

    def end(self):
        for daemon in (self.truck, self.base):
            if daemon.process and daemon.process.poll() is None:
                daemon.kill()
