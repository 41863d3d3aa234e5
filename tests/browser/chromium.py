"""A headless Chromium driven over its DevTools pipe: no driver program, no network, one page at a time."""

import base64
import json
import os
import signal
import subprocess
import tempfile
import time

FLAGS = ["--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
         "--disable-background-networking", "--disable-component-update", "--disable-sync",
         "--disable-dev-shm-usage", "--remote-debugging-pipe"]


def kill_rest(group):
    """Kills what is left of a process group; false when nothing was."""
    try:
        os.killpg(group, signal.SIGKILL)
        return True
    except ProcessLookupError:
        return False


class Chromium:
    def __init__(self):
        self.profile = tempfile.TemporaryDirectory(prefix="fairlead-chromium-", ignore_cleanup_errors=True)
        down_read, self.down = os.pipe()
        self.up, up_write = os.pipe()

        def wire():  # Chromium reads commands from 3 and writes answers to 4.
            low, high = os.dup2(down_read, 13), os.dup2(up_write, 14)
            os.dup2(low, 3)
            os.dup2(high, 4)

        self.process = subprocess.Popen(
            ["chromium", *FLAGS, f"--user-data-dir={self.profile.name}", "about:blank"],
            preexec_fn=wire, close_fds=False, start_new_session=True,
            stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
        os.close(down_read)
        os.close(up_write)
        self.buffer, self.number, self.session, self.events = b"", 0, None, []
        targets = self.call("Target.getTargets")["targetInfos"]
        page = next(t for t in targets if t["type"] == "page")
        self.session = self.call("Target.attachToTarget", targetId=page["targetId"], flatten=True)["sessionId"]
        for domain in ("Page", "Runtime", "Network", "DOM", "Log"):
            self.call(f"{domain}.enable")

    def __enter__(self):
        return self

    def __exit__(self, *_):
        self.process.terminate()
        self.process.wait(20)
        os.close(self.down)
        os.close(self.up)
        # Its own children may outlive it for a moment and still write into the profile.
        for _ in range(100):
            if not kill_rest(self.process.pid):
                break
            time.sleep(0.05)
        self.profile.cleanup()

    def call(self, method, **params):
        self.number += 1
        message = {"id": self.number, "method": method, "params": params}
        if self.session:
            message["sessionId"] = self.session
        data = json.dumps(message).encode() + b"\0"
        while data:
            data = data[os.write(self.down, data):]
        while True:
            answer = self._next()
            if answer.get("id") != self.number:
                self.events.append(answer)
            elif "error" in answer:
                raise RuntimeError(f"{method}: {answer['error']['message']}")
            else:
                return answer["result"]

    def _next(self):
        while b"\0" not in self.buffer:
            piece = os.read(self.up, 1 << 20)
            if not piece:
                raise RuntimeError("chromium ended")
            self.buffer += piece
        line, self.buffer = self.buffer.split(b"\0", 1)
        return json.loads(line)

    def open(self, path):
        self.call("Page.navigate", url="file://" + os.path.abspath(path))
        self.wait("document.readyState === 'complete'")

    def run(self, expression):
        """The value of an expression; promises are waited for."""
        result = self.call("Runtime.evaluate", expression=expression, awaitPromise=True, returnByValue=True)
        if "exceptionDetails" in result:
            details = result["exceptionDetails"]
            raise RuntimeError(details.get("exception", {}).get("description") or details["text"])
        return result["result"].get("value")

    def wait(self, expression, seconds=60):
        ends = time.monotonic() + seconds
        while not self.run(expression):
            if time.monotonic() > ends:
                raise RuntimeError(f"waited {seconds} s for {expression}")
            time.sleep(0.05)

    def choose(self, selector, *paths):
        """Puts files into a file input as a person's choice does."""
        root = self.call("DOM.getDocument")["root"]["nodeId"]
        node = self.call("DOM.querySelector", nodeId=root, selector=selector)["nodeId"]
        self.call("DOM.setFileInputFiles", nodeId=node, files=[os.path.abspath(p) for p in paths])

    def drop(self, x, y, *paths):
        data = {"items": [], "files": [os.path.abspath(p) for p in paths], "dragOperationsMask": 1}
        for kind in ("dragEnter", "dragOver", "drop"):
            self.call("Input.dispatchDragEvent", type=kind, x=x, y=y, data=data)

    def press(self, key, code=None, text=None):
        for kind in ("keyDown", "keyUp"):
            extra = {"text": text} if text and kind == "keyDown" else {}
            self.call("Input.dispatchKeyEvent", type=kind, key=key, code=code or key,
                      windowsVirtualKeyCode={"Tab": 9, "Enter": 13, " ": 32}.get(key, 0), **extra)

    def size(self, width, height):
        self.call("Emulation.setDeviceMetricsOverride", width=width, height=height, deviceScaleFactor=1,
                  mobile=False)

    def picture(self, path):
        box = self.call("Page.getLayoutMetrics")["cssContentSize"]
        clip = {"x": 0, "y": 0, "width": box["width"], "height": min(box["height"], 4000), "scale": 1}
        shot = self.call("Page.captureScreenshot", format="png", clip=clip, captureBeyondViewport=True)
        with open(path, "wb") as file:
            file.write(base64.b64decode(shot["data"]))

    def requests(self):
        """Addresses the page asked for since the start."""
        return [e["params"]["request"]["url"] for e in self.events if e.get("method") == "Network.requestWillBeSent"]

    def complaints(self):
        """Uncaught errors and console errors."""
        return [json.dumps(e["params"])[:300] for e in self.events
                if e.get("method") == "Runtime.exceptionThrown" or
                (e.get("method") == "Log.entryAdded" and e["params"]["entry"]["level"] == "error")]
