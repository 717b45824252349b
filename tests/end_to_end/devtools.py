"""A headless Chromium driven over its own debugging pipe: real key presses, its console, its clipboard."""

from __future__ import annotations

import json
import os
import select
import shutil
import subprocess
import time
from pathlib import Path
from typing import Any

KEYS = {"Tab": 9, "Enter": 13, " ": 32}


class Browser:
    """One page in one browser; close it when done."""

    def __init__(self, page: Path, profile: Path) -> None:
        chromium = shutil.which("chromium")
        assert chromium is not None
        to_child, self._out = os.pipe()
        self._in, from_child = os.pipe()
        flags = (
            "--headless --no-sandbox --disable-gpu --no-first-run --disable-sync --disable-background-networking "
            f"--disable-component-update --window-size=1200,900 --remote-debugging-pipe --user-data-dir={profile}"
        )
        self._process = subprocess.Popen(
            ["bash", "-c", f'exec "{chromium}" {flags} about:blank 3<&{to_child} 4>&{from_child}'],
            pass_fds=(to_child, from_child), stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
        )  # fmt: skip
        os.close(to_child)
        os.close(from_child)
        self._buffer, self._number, self._session = b"", 0, ""
        self.console: list[str] = []
        target = self.call("Target.createTarget", url="about:blank")["targetId"]
        self._session = self.call("Target.attachToTarget", targetId=target, flatten=True)["sessionId"]
        for domain in ("Runtime", "Log", "Page"):
            self.call(f"{domain}.enable")
        self.call("Page.navigate", url=page.as_uri())
        self.wait_for("document.readyState === 'complete' && !!document.querySelector('th button')")

    def close(self) -> None:
        self._process.terminate()
        self._process.wait(timeout=120)
        os.close(self._in)
        os.close(self._out)

    def call(self, method: str, **parameters: Any) -> dict[str, Any]:
        """Send one command and return its result; console messages on the way are kept."""
        self._number += 1
        message: dict[str, Any] = {"id": self._number, "method": method, "params": parameters}
        if self._session and not method.startswith(("Target.", "Browser.")):
            message["sessionId"] = self._session
        os.write(self._out, json.dumps(message).encode() + b"\0")
        while True:
            answer = self._next()
            if answer.get("id") == self._number:
                assert "error" not in answer, answer
                return dict(answer["result"])
            if answer.get("method") in ("Runtime.consoleAPICalled", "Runtime.exceptionThrown", "Log.entryAdded"):
                self.console.append(json.dumps(answer["params"])[:300])

    def _next(self) -> dict[str, Any]:
        deadline = time.monotonic() + 120
        while b"\0" not in self._buffer:
            ready, _, _ = select.select([self._in], [], [], max(0.0, deadline - time.monotonic()))
            assert ready, "the browser does not answer"
            data = os.read(self._in, 1 << 16)
            assert data, "the browser has gone"
            self._buffer += data
        first, self._buffer = self._buffer.split(b"\0", 1)
        return dict(json.loads(first))

    def evaluate(self, script: str) -> Any:
        """Return what a script in the page gives, promises awaited."""
        found = self.call(
            "Runtime.evaluate", expression=script, returnByValue=True, awaitPromise=True, userGesture=True
        )
        assert "exceptionDetails" not in found, found
        return found["result"].get("value")

    def wait_for(self, condition: str) -> None:
        deadline = time.monotonic() + 120
        while not self.evaluate(condition):
            assert time.monotonic() < deadline, condition
            time.sleep(0.05)

    def press(self, key: str) -> None:
        """Press and let go one key, as a keyboard does."""
        text = {"Enter": "\r", " ": " "}.get(key, "")
        common = {"key": key, "code": "Space" if key == " " else key, "windowsVirtualKeyCode": KEYS[key]}
        self.call("Input.dispatchKeyEvent", type="keyDown" if text else "rawKeyDown", text=text, **common)
        self.call("Input.dispatchKeyEvent", type="keyUp", **common)
