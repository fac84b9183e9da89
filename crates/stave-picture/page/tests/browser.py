"""A headless Chromium, driven over its DevTools pipe: no packages beyond the standard library."""

import base64
import json
import os
import select
import shutil
import signal
import subprocess
import tempfile
import time

# The day that the pages and drawings of the tests bear, 2026-11-30.
os.environ["SOURCE_DATE_EPOCH"] = "1795996800"

HERE = os.path.dirname(os.path.abspath(__file__))
ROOT = os.path.abspath(os.path.join(HERE, "../../../.."))
FIXTURES = os.path.join(ROOT, "fixtures")
# Beside what cargo builds lies what the tests fetch.
BUILT = os.environ.get("CARGO_TARGET_DIR") or os.path.join(ROOT, "target")
# Seconds after which a browser that says nothing is taken for hung: no measure of how fast anything
# is.
HUNG_S = 600

NAMES = ["chromium", "chromium-browser", "google-chrome-stable"]


def executable():
    """The browser's path, or None where there is none."""
    return os.environ.get("CHROMIUM") or next(filter(None, map(shutil.which, NAMES)), None)


class Browser:
    def __enter__(self):
        to_read, self._to = os.pipe()
        self._from, to_write = os.pipe()
        self._profile = tempfile.mkdtemp(prefix="stave-page-")
        # The pipe is file descriptors 3 and 4 of the browser.
        high = [os.dup2(to_read, 103), os.dup2(to_write, 104)]
        shell = 'exec "$0" "$@" 3<&103 4>&104 103<&- 104>&-'
        flags = [
            "--headless=new",
            "--remote-debugging-pipe",
            "--no-sandbox",
            "--disable-gpu-sandbox",
            "--no-first-run",
            "--use-angle=swiftshader",
            "--enable-unsafe-swiftshader",
            "--hide-scrollbars",
            "--force-color-profile=srgb",
            "--disable-background-networking",
            "--disable-component-update",
            "--disable-sync",
            "--disable-dev-shm-usage",
            f"--user-data-dir={self._profile}",
        ]
        self._process = subprocess.Popen(
            ["bash", "-c", shell, executable(), *flags, "about:blank"],
            pass_fds=high,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
            start_new_session=True,
        )
        for fd in [to_read, to_write, *high]:
            os.close(fd)
        self._rest, self._number, self.events = b"", 0, []
        self._session = None
        target = self.call("Target.createTarget", url="about:blank")["targetId"]
        self._session = self.call("Target.attachToTarget", targetId=target, flatten=True)[
            "sessionId"
        ]
        for domain in ["Page", "Runtime", "Network", "Log"]:
            self.call(f"{domain}.enable")
        return self

    def __exit__(self, *_):
        try:
            os.killpg(self._process.pid, signal.SIGKILL)
        except ProcessLookupError:
            pass
        self._process.wait()
        shutil.rmtree(self._profile, ignore_errors=True)

    def _message(self, until):
        while b"\0" not in self._rest:
            if not select.select([self._from], [], [], max(0, until - time.monotonic()))[0]:
                raise TimeoutError("the browser does not answer")
            part = os.read(self._from, 1 << 20)
            if not part:
                raise RuntimeError("the browser has gone")
            self._rest += part
        line, self._rest = self._rest.split(b"\0", 1)
        return json.loads(line)

    def call(self, method, **parameters):
        self._number += 1
        message = {"id": self._number, "method": method, "params": parameters}
        if self._session:
            message["sessionId"] = self._session
        data = json.dumps(message).encode() + b"\0"
        while data:
            data = data[os.write(self._to, data) :]
        until = time.monotonic() + HUNG_S
        while True:
            answer = self._message(until)
            if answer.get("id") == self._number:
                if "error" in answer:
                    raise RuntimeError(f"{method}: {answer['error']['message']}")
                return answer.get("result", {})
            self.events.append(answer)

    def size(self, width, height, scale=1, mobile=False):
        self.call(
            "Emulation.setDeviceMetricsOverride",
            width=width,
            height=height,
            deviceScaleFactor=scale,
            mobile=mobile,
        )

    def scheme(self, scheme):
        self.call(
            "Emulation.setEmulatedMedia",
            features=[
                {"name": "prefers-color-scheme", "value": scheme},
                {"name": "prefers-reduced-motion", "value": "reduce"},
            ],
        )

    def open(self, path, plain=False):
        """Opens a page of ours and waits until it is drawn (a `plain` one, until it is there); how
        long that took, s."""
        self.events.clear()
        begun = time.monotonic()
        self.call("Page.navigate", url="file://" + os.path.abspath(path))
        if plain:
            self.wait(
                f"location.pathname.endsWith({os.path.basename(path)!r})"
                " && document.readyState === 'complete'"
            )
            return time.monotonic() - begun
        try:
            self.wait("document.body?.dataset.ready")
        except TimeoutError as error:
            raise TimeoutError(f"{path} is not ready: {self.errors()}") from error
        took = time.monotonic() - begun
        ready = self.run("document.body.dataset.ready")
        assert ready == "yes", self.run("document.getElementById('notice').textContent")
        return took

    def wait(self, condition):
        """Waits until a script's value is true."""
        until = time.monotonic() + HUNG_S
        while not self.run(condition):
            if time.monotonic() > until:
                raise TimeoutError(f"still not: {condition}")
            time.sleep(0.02)

    def run(self, script):
        """The value of a script; a promise is waited for."""
        answer = self.call(
            "Runtime.evaluate", expression=script, awaitPromise=True, returnByValue=True
        )
        if "exceptionDetails" in answer:
            details = answer["exceptionDetails"]
            raise RuntimeError(details.get("exception", {}).get("description", details["text"]))
        return answer["result"].get("value")

    def settle(self):
        self.run(
            "new Promise((done) =>"
            " requestAnimationFrame(() => requestAnimationFrame(() => done(1))))"
        )

    def errors(self):
        """What was thrown, logged as an error, or refused."""
        told = []
        for event in self.events:
            method, about = event.get("method"), event.get("params", {})
            if method == "Runtime.exceptionThrown":
                told.append(
                    about["exceptionDetails"].get("exception", {}).get("description", "exception")
                )
            if method == "Runtime.consoleAPICalled" and about["type"] in ("error", "assert"):
                told.append(str([a.get("value") for a in about["args"]]))
            if method == "Log.entryAdded" and about["entry"]["level"] == "error":
                told.append(about["entry"]["text"])
        return told

    def requests(self):
        """Addresses asked for, but for the page itself and data within it."""
        asked = [
            event["params"]["request"]["url"]
            for event in self.events
            if event.get("method") == "Network.requestWillBeSent"
        ]
        return [url for url in asked[1:] if not url.startswith(("data:", "blob:"))]

    def mouse(self, kind, x, y, **more):
        self.call("Input.dispatchMouseEvent", type=kind, x=x, y=y, **more)

    def drag(self, start, end, steps=6):
        self.mouse("mousePressed", *start, button="left", buttons=1, clickCount=1)
        for k in range(1, steps + 1):
            self.mouse(
                "mouseMoved",
                *(a + (b - a) * k / steps for a, b in zip(start, end)),
                button="left",
                buttons=1,
            )
        self.mouse("mouseReleased", *end, button="left", clickCount=1)
        self.settle()

    def press(self, x, y):
        self.drag((x, y), (x, y), 1)

    def key(self, key, **more):
        text = {"text": key} if len(key) == 1 else {}
        self.call("Input.dispatchKeyEvent", type="keyDown", key=key, **text, **more)
        self.call("Input.dispatchKeyEvent", type="keyUp", key=key, **more)
        self.settle()

    def screenshot(self, path=None):
        png = base64.b64decode(self.call("Page.captureScreenshot", format="png")["data"])
        if path:
            with open(path, "wb") as file:
                file.write(png)
        return png
