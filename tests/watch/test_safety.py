"""Who is refused: other sites, other names, strangers without the token, paths, floods."""

from __future__ import annotations

import http.client
import http.server
import json
import socket
import threading
from collections.abc import Iterator
from urllib.parse import urlsplit

import pytest
from watch_runs import SAMPLES, Shown, Watching, until

TEA = (SAMPLES / "spilled-tea.mid").read_bytes()
ELSEWHERE = "http://beats.example"
MOST_MB = 400  # that a flood would send


class Asking:
    """Requests as an attacker's program, or a browser on his behalf, would send them."""

    def __init__(self, watching: Watching) -> None:
        self.watching = watching
        self.host = urlsplit(watching.origin).netloc
        answer, _ = self("GET", f"/?token={watching.token}", cookie=False)
        self.cookie = answer.headers["set-cookie"].partition(";")[0]
        self.given = answer.headers["set-cookie"]

    def __call__(
        self, method: str, path: str, body: object = None, cookie: bool = True, **headers: str
    ) -> tuple[http.client.HTTPResponse, str]:
        link = http.client.HTTPConnection(self.host, timeout=20)
        sent = {"Host": self.host} | ({"Cookie": self.cookie} if cookie else {})
        sent |= {name.replace("_", "-"): value for name, value in headers.items()}
        link.request(method, path, body, {k: v for k, v in sent.items() if v})
        answer = link.getresponse()
        text = answer.read(100_000).decode("utf-8", "replace")
        link.close()
        return answer, text


@pytest.fixture(scope="module")
def asking(watching: Watching) -> Asking:
    return Asking(watching)


def test_the_cookie_is_for_this_page_alone(asking: Asking) -> None:
    assert "HttpOnly" in asking.given and "SameSite=strict" in asking.given
    assert "Domain" not in asking.given
    answer, text = asking("GET", "/")
    assert answer.status == 200 and "Drop a beat here" in text
    assert asking.watching.token not in text


@pytest.mark.parametrize(
    ("method", "path", "headers"),
    [
        ("GET", "/", {"cookie": False}),
        ("GET", "/?token=guess", {"cookie": False}),
        ("GET", "/events", {"cookie": False}),
        ("POST", "/pieces", {"cookie": False, "Origin": "own"}),
        ("GET", "/", {"Host": "beats.example"}),
        ("GET", "/", {"Host": "beats.example:{port}"}),
        ("GET", "/?token={token}", {"Host": "beats.example:{port}", "cookie": False}),
        ("GET", "/events", {"Origin": ELSEWHERE}),
        ("GET", "/", {"Sec_Fetch_Site": "cross-site"}),
        ("GET", "/", {"Sec_Fetch_Site": "same-site"}),
        ("POST", "/drop?name=x.mid", {"Origin": ELSEWHERE}),
        ("POST", "/drop?name=x.mid", {"Origin": "null"}),
        ("POST", "/drop?name=x.mid", {"Origin": "http://127.0.0.1"}),
        ("POST", "/drop?name=x.mid", {}),
        ("POST", "/drop?name=x.mid&token={token}", {"cookie": False}),
        ("POST", "/song/s0/write", {"Origin": ELSEWHERE}),
        ("POST", "/drop?name=x.mid", {"Origin": "own", "Sec_Fetch_Site": "cross-site"}),
    ],
)
def test_strangers_are_refused(
    asking: Asking, method: str, path: str, headers: dict[str, object]
) -> None:
    port = asking.host.partition(":")[2]
    path = path.format(token=asking.watching.token)
    filled = {
        k: asking.watching.origin if v == "own" else v.format(port=port) if k == "Host" else v
        for k, v in headers.items()
    }
    answer, text = asking(method, path, TEA if method == "POST" else None, **filled)
    assert answer.status == 403 and text.endswith(".\n")
    assert "set-cookie" not in answer.headers
    assert "default-src 'none'" in answer.headers["content-security-policy"]


@pytest.mark.parametrize(
    ("path", "body"),
    [
        ("/song/..%2f..%2f..%2fetc%2fpasswd/guide", {}),
        ("/song/../../../etc/passwd", {}),
        ("/song/%2fetc%2fpasswd/write", {"by_ear": True}),
        ("/song/beats/tea.mid/guide", {}),
        ("/song/s0123456789/../../basslint.toml", {}),
        ("/etc/passwd", {}),
    ],
)
def test_no_path_leads_to_a_file(asking: Asking, path: str, body: object) -> None:
    answer, text = asking("POST", path, json.dumps(body), Origin=asking.watching.origin)
    assert answer.status in (404, 405) and "root:x:" not in text
    answer, text = asking("GET", path)
    assert answer.status in (404, 405) and "root:x:" not in text


def test_ids_that_are_paths_are_none(asking: Asking) -> None:
    own = {"Origin": asking.watching.origin}
    paths = ["/etc/passwd", "../../etc/passwd", str(asking.watching.folder / "tea.mid")]
    answer, text = asking("POST", "/pieces", json.dumps({"asked": paths, "shown": paths}), **own)
    assert answer.status == 200 and json.loads(text)["songs"] == []
    answer, text = asking("GET", "/?song=../../../etc/passwd")
    assert answer.status == 200 and "root:x:" not in text
    for body in (b"[1]", b"{", b"\xff", b"[" * 5000):
        assert asking("POST", "/pieces", body, **own)[0].status == 200


def test_a_dropped_name_leads_nowhere(asking: Asking, shown: Shown) -> None:
    before = {p for p in asking.watching.home.rglob("*") if "cache" not in p.parts}
    name = "..%2F..%2Ftmp%2F%3Cimg%20src%3Dx%20onerror%3Dalert(1)%3E.mid"
    answer, text = asking("POST", f"/drop?name={name}", TEA, Origin=asking.watching.origin)
    assert answer.status == 200
    called = "(dropped)/-img src-x onerror-alert(1)-.mid"
    until(lambda: shown.version(called) > 0, "the song by its harmless name")
    ident = json.loads(text)["id"]
    sound = "..%2F..%2F..%2Fpwned.wav"
    asking(
        "POST", f"/song/{ident}/sound?as=loop&name={sound}", b"RIFF", Origin=asking.watching.origin
    )
    asking("POST", f"/song/{ident}/write", "{}", Origin=asking.watching.origin)
    asking("POST", f"/song/{ident}/away", "{}", Origin=asking.watching.origin)
    assert {p for p in asking.watching.home.rglob("*") if "cache" not in p.parts} == before


def test_floods_are_cut_off(asking: Asking) -> None:
    own = {"Origin": asking.watching.origin}
    answer, text = asking("POST", "/drop?name=x.mid", b"", Content_Length="99999999999", **own)
    assert answer.status == 413 and "max_bytes" in text
    sent = 0

    def pieces() -> Iterator[bytes]:  # no length is told: it is cut off at the limit
        nonlocal sent
        for _ in range(MOST_MB):
            sent += 1
            yield bytes(1 << 20)

    try:
        answer, text = asking("POST", "/drop?name=x.mid", pieces(), **own)
        assert answer.status == 413 and "33,554,432 bytes" in text
    except (BrokenPipeError, ConnectionResetError):
        pass  # it hung up, which is as good
    assert sent < MOST_MB


def test_only_this_machine_is_answered(asking: Asking) -> None:
    port = int(asking.host.partition(":")[2])
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            probe.connect(("192.0.2.1", 9))  # nothing is sent: it tells our own outer address
            outer = probe.getsockname()[0]
        except OSError:
            pytest.skip("this machine has no other address")
    if outer.startswith("127."):
        pytest.skip("this machine has no other address")
    with pytest.raises(OSError):
        socket.create_connection((outer, port), timeout=3).close()


class _Evil(http.server.BaseHTTPRequestHandler):
    def do_GET(self) -> None:
        self.send_response(200)
        self.send_header("Content-Type", "text/html")
        self.end_headers()
        self.wfile.write(b"<!doctype html><title>another site</title>")

    def log_message(self, *_: object) -> None:
        pass


@pytest.mark.parametrize("name", ["127.0.0.1", "localhost"])
def test_a_page_of_another_site_in_the_same_browser_gets_nothing(
    watching: Watching, shown: Shown, name: str
) -> None:
    before, songs = sorted(watching.folder.iterdir()), shown.page.locator(".song").count()
    with http.server.ThreadingHTTPServer(("127.0.0.1", 0), _Evil) as server:
        threading.Thread(target=server.serve_forever, daemon=True).start()
        page = shown.context.new_page()
        page.goto(f"http://{name}:{server.server_port}/")
        got = page.evaluate(
            """async (target) => {
                const got = [];
                const post = (body) => ({ method: "POST", body });
                const asked = [["/", {}], ["/events", {}], ["/drop?name=evil.mid", post("MThd")],
                  ["/pieces", post("{}")]];
                for (const [path, how] of asked) {
                  for (const mode of ["cors", "no-cors"]) {
                    try {
                      const all = { credentials: "include", mode, ...how };
                      const answer = await fetch(target + path, all);
                      got.push(answer.type === "opaque" ? "" : await answer.text());
                    } catch { got.push(""); }
                  }
                }
                const frame = document.createElement("iframe");
                frame.src = target + "/";
                document.body.append(frame);
                const form = document.createElement("form");
                form.method = "post";
                form.action = target + "/drop?name=form.mid";
                document.body.append(form);
                await new Promise((done) => setTimeout(done, 300));
                let seen = "";
                const inside = frame.contentDocument; // null where it is another site's
                if (inside) seen = inside.body.textContent;
                got.push(seen);
                setTimeout(() => form.submit(), 0);
                return got;
            }""",
            watching.origin,
        )
        page.wait_for_url(f"{watching.origin}/**")
        assert "it was not done" in page.content()
        page.close()
        server.shutdown()
    assert set(got) == {""}
    assert shown.page.locator(".song").count() == songs
    assert sorted(watching.folder.iterdir()) == before
