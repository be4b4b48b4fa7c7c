"""The same bytes out for the same bytes in; nothing else is opened; an interrupt leaves no half."""

from __future__ import annotations

import os
import signal
import stat
import subprocess
import sys
from pathlib import Path

import pytest
from midi_bytes import meta, midi, riff, track

from basslint.rulebook.loader import built_in_folder

ROOT = Path(__file__).parents[2]
SAMPLES = sorted((ROOT / "samples").glob("*.mid"))
FORMATS = ("text", "json", "sarif", "junit", "html", "markdown")

ALL_FORMATS = """
import sys
from basslint.cli.main import main
folder = sys.argv[1]
for form in ("text", "json", "sarif", "junit", "html", "markdown"):
    main(["check", folder, "--format", form, "--jobs", sys.argv[2]])
for command in ("chart", "mend"):
    for form in ("text", "json"):
        words = ["--dry-run", "--by-ear"] if command == "mend" else []
        main([command, sys.argv[3], "--format", form, *words])
"""


def python(code: str, *words: str, **environment: str) -> subprocess.CompletedProcess[bytes]:
    env = os.environ | {"PYTHONPATH": str(ROOT)} | environment
    return subprocess.run(
        [sys.executable, "-c", code, *words], env=env, capture_output=True, check=False, timeout=120
    )


def test_outputs_are_the_same_bytes_on_any_hash_seed_and_any_workers(tmp_path: Path) -> None:
    folder = tmp_path / "beats"
    folder.mkdir()
    for path in SAMPLES[:5]:
        (folder / path.name).write_bytes(path.read_bytes())
    (folder / "broken.mid").write_bytes(SAMPLES[0].read_bytes()[:200])
    told = [
        python(
            ALL_FORMATS,
            *(str(folder), jobs, str(folder / SAMPLES[0].name)),
            PYTHONHASHSEED=seed,
            XDG_CACHE_HOME=str(tmp_path / f"cache-{seed}"),  # each run works it out for itself
        )
        for seed, jobs in (("0", "1"), ("1", "2"), ("4242", "3"))
    ]
    assert b'"basslint-report/1"' in told[0].stdout and b"<testsuites" in told[0].stdout
    assert all(b"Traceback" not in t.stderr for t in told)
    assert told[0].stdout == told[1].stdout == told[2].stdout
    assert told[0].stderr == told[1].stderr == told[2].stderr


WATCHED = """
import sys
from basslint.cli.main import main
from basslint.util.records import WRITTEN
main(["check", sys.argv[1], "--format", "json", "--no-cache"])  # all is imported now
seen = []
def watch(event, args):
    if event == "open":
        if not isinstance(args[0], int):  # a descriptor was opened by its path before
            seen.append(str(args[0]))
    elif event == "compile" and args[1] == WRITTEN:
        pass  # a kind of records is made often enough now
    elif event == "exec" and args[0].co_filename == WRITTEN:
        pass
    elif event.split(".")[0] in ("subprocess", "socket", "ctypes") or event in (
        "os.system", "os.exec", "os.fork", "os.posix_spawn", "exec", "compile", "os.remove",
        "os.rename", "os.mkdir", "shutil.rmtree", "urllib.Request",
    ):
        seen.append(event)
sys.addaudithook(watch)
code = main(["check", sys.argv[2], "--format", "json", "--no-cache"])
print("\\n".join(seen), file=sys.stderr)
sys.exit(code)
"""

HOUSE_PAGE = """+++
name = "stranger"
level = "error"
judges = "bass-note"
summary = "{where}"
message = "at {{pitch}}: __import__('os').system('touch {where}') $(touch {where}) `touch {where}`"

[[when]]
bar = {{ above = "one" }}
[[parameter]]
name = "one"
default = 0.0
unit = "bar"
reason = "eval(open('{where}').read())"
+++
## What you hear
![](file://{where}) <script src="{where}"></script>
"""


def test_no_path_in_a_file_or_a_strangers_rules_is_followed_or_run(tmp_path: Path) -> None:
    bait = tmp_path / "bait"
    bait.write_text("bait")
    songs = {}
    for folder, said in (("calm", "nothing"), ("house", str(bait))):
        home = tmp_path / folder
        (home / "rules").mkdir(parents=True)
        (home / "basslint.toml").write_text("")
        (home / "rules" / "stranger.md").write_text(HOUSE_PAGE.format(where=said))
        notes = [(0, b"\x90\x24\x64"), (480, b"\x80\x24\x00")] * 8
        events = [(0, meta(k, said.encode())) for k in (1, 2, 3, 4, 6, 7, 8, 9)]
        songs[folder] = home / "song.mid"
        songs[folder].write_bytes(riff(midi(track(*events, *notes))))
    song = songs["house"]
    linked = song.parent / "rules" / "linked.md"
    linked.symlink_to(bait)
    told = python(WATCHED, str(songs["calm"]), str(song))
    opened = told.stderr.decode().split()
    assert told.returncode == 1, told.stderr
    assert b'"stranger"' in told.stdout
    assert str(song) in opened
    inside = (str(song.parent), str(built_in_folder()))
    assert [p for p in opened if not p.startswith(inside)] == []
    assert str(bait) not in opened and str(linked) not in opened


INTERRUPTED = """
import os, signal, sys
from basslint.cli.main import main
step = getattr(os, sys.argv[1])
def interrupted(*args):
    os.kill(os.getpid(), signal.SIGINT)
    return step(*args)
setattr(os, sys.argv[1], interrupted)
sys.exit(main(sys.argv[2:]))
"""


@pytest.mark.skipif(not hasattr(signal, "SIGKILL"), reason="needs signals as POSIX has them")
@pytest.mark.parametrize("step", ["fsync", "replace"])
@pytest.mark.parametrize("command", ["mend", "check"])
def test_an_interrupt_while_writing_leaves_the_old_file_whole(
    tmp_path: Path, step: str, command: str
) -> None:
    song = tmp_path / "song.mid"
    song.write_bytes((ROOT / "samples" / "glass-lift.mid").read_bytes())
    song.chmod(0o640)
    target = song if command == "mend" else tmp_path / "report.json"
    if command == "check":
        target.write_text("an older report")
    before = target.read_bytes()
    words = {
        "mend": ["mend", str(song), "--in-place", "--by-ear"],
        "check": ["check", str(song), "--format", "json", "--output", str(target)],
    }[command]
    told = python(INTERRUPTED, step, *words)
    assert told.returncode == 130, told.stderr
    assert b"Interrupted" in told.stderr and b"Traceback" not in told.stderr
    assert target.read_bytes() == before
    assert sorted(p.name for p in tmp_path.iterdir()) == sorted({song.name, target.name})
    assert stat.S_IMODE(song.stat().st_mode) == 0o640
