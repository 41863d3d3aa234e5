#!/usr/bin/python3
"""A whole plugin in Python that speaks the contract (proto/fairlead/v1/plugin_service.proto) by
itself: an instrument that sends one number a line. Copy it and change read_instrument().

Packages: python3-grpcio, python3-protobuf, protobuf-compiler. The messages are made once, in the
folder of your copy (P is the checkout's folder proto):
  mkdir gen && protoc -I P --python_out=gen P/fairlead/v1/plugin_service.proto P/fairlead/v1/observation.proto
"""

import collections
import os
import signal
import sys
import termios
import threading
import time
import tomllib
import tty

sys.path.insert(0, os.path.join(os.path.dirname(os.path.abspath(__file__)), "gen"))
import grpc  # noqa: E402
from fairlead.v1 import plugin_service_pb2 as wire  # noqa: E402

KEEP = 4000  # Batches kept while the daemon does not take them.
STOPPED, NO_DAEMON, REFUSED, BAD_SETTINGS = 0, 69, 77, 78


def clocks():
    return {"wall_us": time.clock_gettime_ns(time.CLOCK_REALTIME) // 1000,
            "mono_us": time.clock_gettime_ns(time.CLOCK_MONOTONIC) // 1000}


class Outbox:
    """What the daemon has not acknowledged. Everything here is called with the lock held."""

    def __init__(self):
        self.open, self.batches, self.sent, self.last, self.lost = [], collections.deque(), 0, 0, 0

    def add(self, **reading):
        if len(self.batches) >= KEEP:
            self.lost += 1  # Counted, and said as soon as there is room.
            return
        if self.lost:
            gap = wire.PluginGap(cause="buffer full: the recorder did not take them", lost=self.lost)
            self.open.append(wire.PluginReading(gap=gap, **clocks()))
            self.lost = 0
        self.open.append(wire.PluginReading(**clocks(), **reading))

    def next(self):
        if self.sent == len(self.batches) and self.open:
            self.last += 1
            self.batches.append(wire.PluginBatch(batch_seq=self.last, readings=self.open))
            self.open = []
        if self.sent == len(self.batches):
            return None
        self.sent += 1
        return self.batches[self.sent - 1]

    def all_sent(self):
        return self.sent == len(self.batches) and not self.open

    def ack(self, seq):
        while self.batches and self.batches[0].batch_seq <= seq:
            self.batches.popleft()
            self.sent = max(0, self.sent - 1)


class Plugin:
    def __init__(self, socket, session):
        self.socket, self.session = socket, session
        self.lock = threading.Condition()
        self.outbox, self.turns, self.stopping = Outbox(), 0, False
        self.settings, self.device, self.line, self.gap = None, None, b"", ""

    # The instrument: the only part that is about this one.
    def configure(self, text):
        """Problems, field by field; none: taken."""
        try:
            settings = tomllib.loads(text)
        except tomllib.TOMLDecodeError as error:
            return [wire.PluginConfigProblem(field="config", problem=str(error),
                                             remedy="correct the TOML there")]
        problems = [wire.PluginConfigProblem(field=key, problem="unknown key", remedy="remove it")
                    for key in settings if key != "device"]
        if not isinstance(settings.get("device"), str):
            problems.append(wire.PluginConfigProblem(
                field="device", problem="is missing", remedy="name the serial device"))
        if not problems:
            self.settings = settings  # The loop begins.
        return problems

    def described(self):
        channel = wire.PluginChannel(
            source="line", signal="line.pull", unit="N", range_lo=0, range_hi=99999, resolution=1,
            clock_source=wire.PluginChannel.ARRIVAL)
        return wire.PluginDescribed(channels=[channel])

    def read_instrument(self):
        """One turn, at most 50 ms long."""
        try:
            if self.device is None:
                self.device = os.open(self.settings["device"], os.O_RDWR | os.O_NONBLOCK | os.O_NOCTTY)
                tty.setraw(self.device, termios.TCSANOW)
            data = os.read(self.device, 4096)
            if not data:
                raise OSError("the instrument is gone")
        except BlockingIOError:
            time.sleep(0.02)
            return
        except OSError as error:
            if self.device is not None:
                os.close(self.device)
            self.device = None
            self.mark_gap(str(error))
            time.sleep(0.05)
            return
        *lines, self.line = (self.line + data).split(b"\n")
        self.line = self.line[-100:]
        for line in lines:
            word = line.strip()
            if word.isdigit() and len(word) <= 5:
                self.gap = ""
                with self.lock:
                    self.outbox.add(value=float(word))

    def mark_gap(self, cause):
        if self.gap != cause:  # Once a loss.
            self.gap = cause
            with self.lock:
                self.outbox.add(gap=wire.PluginGap(cause=cause))

    # The loop: the heartbeat counts its turns, so that a loop that hangs falls silent.
    def run(self):
        signal.signal(signal.SIGTERM, lambda *_: setattr(self, "stopping", True))
        threading.Thread(target=self.talk, daemon=True).start()
        while not self.stopping:
            if self.settings is None:
                time.sleep(0.02)
                continue
            self.read_instrument()
            with self.lock:
                self.turns += 1
                self.lock.notify_all()
        until = time.monotonic() + 1.0  # Let what was read be taken.
        with self.lock:
            while (self.outbox.batches or self.outbox.open) and time.monotonic() < until:
                self.lock.notify_all()
                self.lock.wait(0.05)
        os._exit(STOPPED)

    # The conversation.
    def talk(self):
        last_good = time.monotonic()
        options = [("grpc.http2.bdp_probe", 0), ("grpc.http2.lookahead_bytes", 65536),
                   ("grpc.enable_http_proxy", 0), ("grpc.use_local_subchannel_pool", 1)]
        while time.monotonic() - last_good < 4:
            with grpc.insecure_channel("unix:" + self.socket, options=options) as channel:
                feed = channel.stream_stream(
                    "/fairlead.v1.PluginService/Feed",
                    request_serializer=wire.FeedRequest.SerializeToString,
                    response_deserializer=wire.FeedResponse.FromString)
                stream = {"welcome": None, "problems": [], "over": False}
                try:
                    for answer in feed(self.frames(stream)):
                        self.take(answer, stream)
                        last_good = time.monotonic()
                except grpc.RpcError:
                    pass
                stream["over"] = True
            time.sleep(0.2)
        os._exit(NO_DAEMON)

    def take(self, answer, stream):
        kind = answer.WhichOneof("frame")
        if kind == "refused":
            print("refused by the daemon:", answer.refused.reason, file=sys.stderr)
            os._exit(REFUSED)
        if kind == "welcome":
            welcome = answer.welcome
            good = (welcome.wire_core, welcome.plugin_api, welcome.session_id) == (1, 1, self.session)
            if not good:
                print("the daemon is not for this plugin", file=sys.stderr)
                os._exit(REFUSED)
            with self.lock:
                if self.settings is None:
                    stream["problems"] = self.configure(welcome.config_toml)
                self.outbox.ack(welcome.acked_batch)
                self.outbox.sent = 0  # The rest is sent again.
                stream["welcome"] = welcome
                self.lock.notify_all()
        elif kind == "ack":
            with self.lock:
                self.outbox.ack(answer.ack.batch_seq)
        elif kind == "stop":
            self.stopping = True

    def frames(self, stream):
        hello = wire.PluginHello(wire_core=1, plugin_api=[1], session_id=self.session,
                                 plugin="counter", version="1.0")
        yield wire.FeedRequest(hello=hello)
        with self.lock:
            self.lock.wait_for(lambda: stream["welcome"] or stream["over"], 5)
        if stream["welcome"] is None:
            return
        if stream["problems"]:
            yield wire.FeedRequest(config_refused=wire.PluginConfigRefused(problems=stream["problems"]))
            time.sleep(0.5)  # The daemon reads it and ends the stream.
            os._exit(BAD_SETTINGS)
        yield wire.FeedRequest(described=self.described())
        beat_every = stream["welcome"].heartbeat_ms / 4000 or 0.125
        beat_at, turns, beat = 0.0, 0, None
        while not stream["over"]:
            frame = None
            with self.lock:
                batch = None if beat else self.outbox.next()
                # A heartbeat goes behind everything read before it and before anything later.
                due = self.turns != turns and time.monotonic() - beat_at >= beat_every
                if due and not beat and self.outbox.all_sent():
                    beat = wire.PluginHeartbeat(turns=self.turns, **clocks())
                if batch:
                    frame = wire.FeedRequest(batch=batch)
                elif beat:
                    frame = wire.FeedRequest(heartbeat=beat)
                    turns, beat_at, beat = beat.turns, time.monotonic(), None
                else:
                    self.lock.wait(0.025)
            if frame:
                yield frame


def main():
    given = dict(zip(sys.argv[1::2], sys.argv[2::2]))
    if "--socket" not in given or "--session" not in given:
        print("give --socket PATH and --session ID; the daemon does", file=sys.stderr)
        return 64
    Plugin(given["--socket"], given["--session"]).run()
    return 0


if __name__ == "__main__":
    sys.exit(main())
