"""What an owner does at the truck, with real daemons: looks at the sensors, calibrates the load cell,
looks again, is warned by the buzzer's coil, and sees a red light for a required sensor that is gone. The Modbus device is written here from the Modbus
Application Protocol V1.1b3 (functions 4, 5), apart from libmodbus. Weight of 500 kg: 4903.325 N at
standard gravity (CGPM 1901).

usage: owner_test.py BUILD_FOLDER"""
import json
import os
import re
import select
import signal
import socket
import struct
import subprocess
import sys
import tempfile
import threading
import time

sys.path.insert(0, os.path.join(os.path.dirname(os.path.abspath(__file__)), "..", "fault"))
from stand import Stand  # noqa: E402


class Device:
    """Unit 1: input registers 0-1 an int32, high word first; coils as they are written."""

    def __init__(self):
        self.value, self.coils, self.switched = 12, {}, []
        self.deaf = False
        self.listener = socket.create_server(("127.0.0.1", 0))
        self.port = self.listener.getsockname()[1]
        threading.Thread(target=self.accept, daemon=True).start()

    def accept(self):
        while True:
            client, _ = self.listener.accept()
            threading.Thread(target=self.serve, args=(client,), daemon=True).start()

    def serve(self, client):
        while True:
            head = client.recv(7, socket.MSG_WAITALL)
            if len(head) < 7:
                return
            transaction, _, length, unit = struct.unpack(">HHHB", head)
            pdu = client.recv(length - 1, socket.MSG_WAITALL)
            if pdu[0] == 4:
                address, count = struct.unpack(">HH", pdu[1:5])
                words = struct.pack(">i", self.value)[2 * address:2 * (address + count)]
                answer = bytes([4, len(words)]) + words
            elif pdu[0] == 5:
                address, value = struct.unpack(">HH", pdu[1:5])
                self.coils[address] = value == 0xFF00
                self.switched.append((address, value == 0xFF00))
                answer = pdu
            else:
                answer = bytes([pdu[0] | 0x80, 1])
            if self.deaf:
                continue
            client.sendall(struct.pack(">HHHB", transaction, 0, len(answer) + 1, unit) + answer)


def settings(programs, port, calibration=""):
    return f"""
[[plugin]]
id = "winch"
program = "{programs}/bin/fairlead-plugin-line"
required = true
[plugin.settings]
period_ms = 20
[plugin.settings.link]
kind = "tcp"
host = "127.0.0.1"
port = {port}
[[plugin.settings.register]]
signal = "line.pull"
unit = "N"
kind = "input"
address = 0
type = "int32"
{calibration}
[[plugin.settings.output]]
output = "buzzer"
coil = 3
[[plugin.settings.output]]
output = "lamp"
coil = 4
"""


def look(stand):
    text = stand.call("watch", "sensors", "--json", "--once", to=stand.truck_address).stdout
    for view in json.loads(text).get("sensor", []):
        if view.get("channel") == "line.pull":
            return view
    return {}


def answer_when(process, words, then):
    """Reads the walk's words until these come, does what they ask for, and presses Enter."""
    seen = b""
    deadline = time.time() + 30
    while words.encode() not in seen:
        assert time.time() < deadline, seen
        if select.select([process.stdout], [], [], 0.2)[0]:
            more = os.read(process.stdout.fileno(), 4096)
            assert more, (seen, process.stderr.read())
            seen += more
    then()
    process.stdin.write(b"\n")
    process.stdin.flush()


def calibrate(stand, device):
    walk = subprocess.Popen(
        [stand.client, "calibrate", "line.pull", "--load", "500 kg", "--certificate", "C-17",
         "--operator", "card-3f", "--seconds", "1", "--date", "2026-03-02", "--base",
         stand.truck_address],
        stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.PIPE)
    answer_when(walk, "Take all load off", lambda: None)

    def load():
        device.value = 4915
        time.sleep(0.3)

    answer_when(walk, "Put on 500 kg", load)
    out, err = walk.communicate(timeout=20)
    assert walk.returncode == 0, (out, err)
    text = out.decode()
    assert re.search(r"On record \(entry \d+\)", text), text
    line = re.search(r"^calibration = \{.*\}$", text, re.M).group(0)
    zero = float(re.search(r"zero = ([-0-9.e]+)", line).group(1))
    span = float(re.search(r"span = ([-0-9.e]+)", line).group(1))
    assert zero == 12 and abs(span - 4903.325 / 4903) < 1e-9, line
    return line


def check_refusals(stand):
    done = stand.call("calibrate", "line.pull", "--load", "500 kg", "--certificate", "C", "--operator",
                      "card-3f", "--seconds", "1", to=stand.truck_address, check=False, stdin="\n\n")
    assert done.returncode == 3 and "do not stand apart" in done.stderr, (done.stdout, done.stderr)
    done = stand.call("calibrate", "line.pul", "--load", "1", "--certificate", "C", "--operator", "c",
                      to=stand.truck_address, check=False, stdin="")
    assert "not heard" in done.stderr, done.stderr
    done = stand.call("watch", "sensors", "--once", check=False)
    assert done.returncode != 0, "a base has no sensors"


def check_table(stand):
    text = stand.call("watch", "sensors", "--for", "2", to=stand.truck_address).stdout
    assert all(len(row) <= 80 for row in text.splitlines()), text
    row = [r for r in text.splitlines() if r.startswith("line.pull")][-1]
    assert re.match(r"line\.pull +4903 N +0\.\d s +\d+\.\d/s good +[\u2581-\u2588]{2,}$", row), row
    assert "calibrated: C-17 of 2026-03-02; zero 12; span 1.00006" in text, text
    assert 10 <= float(re.search(r"([\d.]+)/s", row).group(1)) <= 51, row
    print(text[-500:])


def check_red_light(stand, device):
    """The record goes on; the gap with its cause is in it, and whoever looks sees a red light."""
    def standing():
        status = stand.status(stand.truck_address)
        return status.get("redLight", False), status["plugin"][0]

    red, plugin = standing()
    assert not red and plugin["state"] == "live" and not plugin.get("trouble"), plugin
    assert "RED LIGHT" not in stand.call("status", to=stand.truck_address).stdout
    device.deaf = True
    stand.wait("the red light", 10, lambda: standing()[0])
    _, plugin = standing()
    assert plugin["required"] and plugin["missing"] and "timed out" in plugin["trouble"], plugin
    text = stand.call("status", to=stand.truck_address).stdout
    assert re.search(r"^RED LIGHT: ", text, re.M), text
    assert re.search(r"^  winch +REQUIRED, runs, but has gaps: .*timed out", text, re.M), text
    assert "timed out" in look(stand).get("gap", ""), look(stand)
    device.deaf = False
    stand.wait("the end of the red light", 10, lambda: not standing()[0])
    with open(stand.truck.log) as file:
        pid = int(re.findall(r"plugin winch: started as process (\d+)", file.read())[-1])
    os.kill(pid, signal.SIGSTOP)  # Only its heartbeat tells.
    stand.wait("the red light", 10, lambda: standing()[0])
    assert "no heartbeat" in standing()[1]["trouble"], standing()
    stand.wait("its successor", 30, lambda: not standing()[0])


def check_buzzer(stand, device):
    """Free-rolling with a slack line is what the shipped procedure warns of at once."""
    device.value = 12
    time.sleep(1)
    stand.call("job", "open", "--truck", "OW-02", "--vehicle", "hauberk", "--procedure", "load",
               "--operator", "card-3f")
    job = {}

    def opened():
        names = stand.status(stand.truck_address).get("openJob", [])
        job.update(name=names[0] if names else "")
        return bool(names)

    stand.wait("the job on the truck", 20, opened)
    rigged = {"rigging": {"on": True, "point": "front_eye", "gear": [], "legsAngleDeg": 0}}
    for seq, line in enumerate((rigged, {"vehicleMode": {"mode": "ROLLING"}}), start=1):
        time.sleep(1.5)
        stamp = time.strftime("%Y-%m-%dT%H:%M:%SZ", time.gmtime())
        with tempfile.NamedTemporaryFile("w", suffix=".jsonl") as file:
            file.write(json.dumps({"time": stamp, "job": job["name"], "source": "operator",
                                   "seq": seq, "clock": "truck", **line}) + "\n")
            file.flush()
            stand.call("feed", file.name, "--to", stand.truck_address)
    stand.wait("the buzzer", 15, lambda: device.coils.get(3) and device.coils.get(4))
    stand.wait("silence", 10, lambda: device.coils.get(3) is False)
    assert device.coils[4], "the lamp stays longer"


def main():
    programs = os.path.abspath(sys.argv[1])
    register = os.path.abspath(os.path.join(os.path.dirname(os.path.abspath(__file__)), "..", "..",
                                            "clients", "sim", "fleet"))
    device = Device()
    with tempfile.TemporaryDirectory() as folder:
        stand = Stand(programs, folder, register)
        with open(stand.truck.config) as file:
            plain = file.read()
        with open(stand.truck.config, "w") as file:
            file.write(plain + settings(programs, device.port))
        stand.base.start()
        stand.truck.start()
        try:
            stand.wait_enrolled()
            stand.wait("a reading", 20, lambda: look(stand).get("value") == 12)
            line = calibrate(stand, device)
            stand.truck.stop()
            with open(stand.truck.config, "w") as file:
                file.write(plain + settings(programs, device.port, line))
            checked = subprocess.run([f"{programs}/bin/fairlead-plugin-line", "--check-config",
                                      stand.truck.config], capture_output=True, text=True)
            assert checked.returncode == 0 and "output buzzer" in checked.stdout, checked
            stand.truck.start()
            stand.wait("the calibrated reading", 20,
                       lambda: abs(look(stand).get("value", 0) - 4903.325) < 1e-6)
            check_table(stand)
            check_refusals(stand)
            check_red_light(stand, device)
            check_buzzer(stand, device)
        finally:
            stand.truck.stop()
            stand.base.stop()
        assert device.coils[4] is False, "everything is off once the daemon has ended"


if __name__ == "__main__":
    main()
