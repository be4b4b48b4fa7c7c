"""A page in a real browser, with every complaint of the browser and all that it played."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

# Counts the nodes of audio graphs that are in use, and keeps what is played.
SPY = """
window.contexts = [];
window.nodes = 0;
window.loudest = 0;
const Real = window.AudioContext;
window.AudioContext = class extends Real {
  constructor(options) { super(options); window.contexts.push(this); }
};
for (const kind of ["createGain", "createBufferSource"]) {
  const make = BaseAudioContext.prototype[kind];
  BaseAudioContext.prototype[kind] = function () { window.nodes++; return make.call(this); };
}
const drop = AudioNode.prototype.disconnect;
AudioNode.prototype.disconnect = function () { window.nodes--; return drop.call(this); };
const copy = AudioBuffer.prototype.copyToChannel;
AudioBuffer.prototype.copyToChannel = function (samples, channel) {
  for (const x of samples) window.loudest = Math.max(window.loudest, Math.abs(x));
  return copy.call(this, samples, channel);
};
"""


class Opened:
    """A page that was opened, with every complaint of the browser."""

    def __init__(
        self, browser, path: Path, script: bool = True, width: int = 1280, waits: bool = False,
        address: str = "", **context: object,
    ) -> None:  # fmt: skip
        # waiting for a condition evaluates text in the page, which its own policy forbids
        self.context = browser.new_context(
            java_script_enabled=script,
            viewport={"width": width, "height": 900},
            bypass_csp=waits,
            accept_downloads=True,
            **context,
        )
        self.page = self.context.new_page()
        self.complaints: list[str] = []
        self.page.on("pageerror", lambda e: self.complaints.append(str(e)))
        self.page.on("dialog", lambda d: (self.complaints.append("a dialog"), d.dismiss()))
        self.page.on(
            "console",
            lambda m: self.complaints.append(m.text) if m.type in ("error", "warning") else None,
        )
        self.page.on(
            "request",
            lambda r: (
                None if r.url.startswith(("file:", "blob:")) else self.complaints.append(r.url)
            ),
        )
        self.page.add_init_script(SPY)
        self.address = path.as_uri() + address
        self.page.goto(self.address)

    def anew(self) -> None:
        """As it is when it is opened."""
        self.complaints.clear()
        self.page.goto("about:blank")  # an address that is open already would not be loaded again
        self.page.goto(self.address)

    def value(self, script: str) -> object:
        return self.page.evaluate(script)

    def until(self, condition: str) -> None:
        self.page.wait_for_function(condition, timeout=20_000)


def stopwatch(page) -> Callable[[], float]:
    """Seconds that the page's main thread has worked, whatever the machine does beside it."""
    session = page.context.new_cdp_session(page)
    session.send("Performance.enable", {"timeDomain": "threadTicks"})

    def seconds() -> float:
        metrics = session.send("Performance.getMetrics")["metrics"]
        return next(m["value"] for m in metrics if m["name"] == "TaskDuration")

    return seconds
