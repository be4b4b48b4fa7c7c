"""What Windows lacks is not asked for: alarms, memory bounds, user ids, `flock`, forks, UTF-8.

Nothing here was run on Windows: the modules and calls of POSIX that its Python leaves out (the
"Availability" lines of the library's documentation) are taken from a process of this system, and
its streams write cp1252, as a console of Western Europe does.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from basslint.cli.main import main

SAMPLES = Path(__file__).parents[2] / "samples"

ELSEWHERE = """
import io, multiprocessing, os, signal, sys, tempfile
import multiprocessing.popen_spawn_posix, multiprocessing.resource_tracker  # its own stay POSIX's

class Lacks:
    def find_spec(self, name, *_):
        if name in ("fcntl", "resource", "pwd", "grp", "termios"):
            raise ModuleNotFoundError(name)

for name in ("fcntl", "resource", "pwd", "grp", "termios"):
    sys.modules.pop(name, None)
sys.meta_path.insert(0, Lacks())
for name in ("getuid", "geteuid", "getgid", "killpg", "setsid", "O_NONBLOCK", "O_NOFOLLOW",
             "fork", "fchmod", "mkfifo", "sched_getaffinity"):
    delattr(os, name)
for name in ("SIGALRM", "SIGKILL", "SIGHUP", "SIGPIPE", "setitimer", "alarm"):
    delattr(signal, name)
multiprocessing.get_all_start_methods = lambda: ["spawn"]
for name in ("stdout", "stderr"):
    stream = io.TextIOWrapper(getattr(sys, name).buffer, "cp1252", newline="\\r\\n")
    setattr(sys, name, stream)

if __name__ == "__main__":
    import json, types
    platform, commands = json.loads(sys.argv[1])
    sys.platform = platform
    sys.modules["msvcrt"] = types.SimpleNamespace(LK_NBLCK=2, locking=lambda *_: None)
    from basslint.cli.main import main
    codes = [main(words) for words in commands]
    sys.stdout.flush()
    sys.exit("ended with " + repr(codes))
"""


def elsewhere(folder: Path, platform: str, *commands: str) -> tuple[bytes, str]:
    """What commands print in a process that lacks what Windows lacks, and how they end."""
    (folder / "elsewhere.py").write_text(ELSEWHERE)
    words = json.dumps((platform, [command.split() for command in commands]))
    done = subprocess.run(
        [sys.executable, "elsewhere.py", words],
        cwd=folder,
        env={**os.environ, "XDG_CACHE_HOME": str(folder / "cache")},
        capture_output=True,
        check=False,
    )
    return done.stdout, done.stderr.decode("cp1252").strip()


@pytest.mark.skipif(os.name != "posix", reason="takes away what POSIX has")
def test_a_song_is_checked_mended_and_waived(tmp_path: Path) -> None:
    (tmp_path / "a.mid").write_bytes((SAMPLES / "spilled-tea.mid").read_bytes())
    printed, ended = elsewhere(
        tmp_path,
        "win32",
        "check a.mid",
        "mend a.mid --by-ear",
        "waive a.mid off-root --reason x",
    )
    assert ended == "ended with [1, 0, 0]"
    assert b"error  bar 6, beat 1" in printed and b"Move F#1 to F1" in printed
    assert (tmp_path / "a.mended.mid").exists()
    assert "off-root" in (tmp_path / "basslint.toml").read_text("utf-8")


@pytest.mark.skipif(os.name != "posix", reason="takes away what POSIX has")
def test_workers_are_spawned_and_tell_the_same(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capfdbinary: pytest.CaptureFixture[bytes]
) -> None:
    """Under the name of this system, whose own way to spawn is what there is."""
    for n in range(3):
        (tmp_path / f"{n}.mid").write_bytes((SAMPLES / "paper-boat.mid").read_bytes())
    check = "check . --no-cache --format json --jobs"
    printed, ended = elsewhere(tmp_path, sys.platform, f"{check} 2")
    monkeypatch.chdir(tmp_path)
    assert main(f"{check} 1".split()) == 0 and ended == "ended with [0]"
    assert printed == capfdbinary.readouterr().out
