"""Songs are checked by whatever engine the caller brings, with the same report."""

from __future__ import annotations

import os
import signal
import time
from collections.abc import Callable
from concurrent.futures import Executor, Future, ProcessPoolExecutor, ThreadPoolExecutor
from multiprocessing import get_context
from pathlib import Path

import pytest

import basslint
from basslint.batch import executors
from basslint.judging.results import FileReport
from basslint.report.formats.json_report import report_json

SAMPLES = Path(__file__).parents[2] / "samples"
WAIVER = '[[waive]]\nrule = "off-root"\nsong = "spilled-tea.mid"\nreason = "meant"\n'


@pytest.fixture
def beats(tmp_path: Path) -> Path:
    """Songs with settings and a waiver, and one that is damaged."""
    folder = tmp_path / "beats"
    folder.mkdir()
    for sample in SAMPLES.glob("*.mid"):
        (folder / sample.name).write_bytes(sample.read_bytes())
    (folder / "cut.mid").write_bytes((SAMPLES / "stairwell.mid").read_bytes()[:300])
    (folder / "basslint.toml").write_text(f'[facts]\ndecay = "1500ms"\n\n{WAIVER}')
    return folder


def processes() -> Executor:
    return ProcessPoolExecutor(2, mp_context=get_context("fork"))


@pytest.mark.parametrize("engine", [lambda: ThreadPoolExecutor(2), processes])
def test_the_report_is_that_of_a_local_run(engine: Callable[[], Executor], beats: Path) -> None:
    here = basslint.check(beats)
    with engine() as executor:
        there = basslint.check(beats, executor=executor)
    assert report_json(there) == report_json(here)
    assert sum(f.waived is not None for file in there.files for f in file.findings) == 1
    assert there.files[0].problem is not None  # cut.mid


class Fragile(Executor):
    """An engine that loses some songs, and breaks at last."""

    def __init__(self) -> None:
        self.count = 0

    def submit(
        self, fn: Callable[..., FileReport], /, *args: object, **_: object
    ) -> Future[FileReport]:  # type: ignore[override]  # of one kind of work
        self.count += 1
        if self.count > 6:
            raise RuntimeError("cannot schedule new futures after shutdown")
        future: Future[FileReport] = Future()
        if self.count == 2:
            future.set_exception(OSError("worker gone"))
        elif self.count == 3:
            future.cancel()
        else:
            future.set_result(fn(*args))
        return future


def test_songs_that_are_lost_are_faults_and_stop_no_other(beats: Path) -> None:
    (beats / "cut.mid").unlink()
    here, there = basslint.check(beats), basslint.check(beats, executor=Fragile())
    assert [f.path for f in there.files] == [f.path for f in here.files]
    lost = {row: f.faults[0] for row, f in enumerate(there.files) if f.faults}
    assert list(lost) == [1, 2, 6, 7, 8]
    assert lost[1] == "the check gave no answer: OSError: worker gone"
    assert "Cancelled" in lost[2] and "shutdown" in lost[8]
    kept = [row for row in range(len(here.files)) if row not in lost]
    assert [there.files[r].findings for r in kept] == [here.files[r].findings for r in kept]


def test_not_all_songs_wait_at_the_engine_at_once(
    beats: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(executors, "_AHEAD", 2)
    waiting: list[Future[FileReport]] = []

    class Lazy(Executor):
        def submit(
            self, fn: Callable[..., FileReport], /, *args: object, **_: object
        ) -> Future[FileReport]:  # type: ignore[override]
            class Asked(Future):  # type: ignore[type-arg]
                def result(self, timeout: float | None = None) -> FileReport:
                    waiting.remove(self)
                    return fn(*args)

            waiting.append(Asked())
            assert len(waiting) <= 2
            return waiting[-1]

    assert report_json(basslint.check(beats, executor=Lazy())) == report_json(basslint.check(beats))


def die(*_: object) -> FileReport:
    os.kill(os.getpid(), signal.SIGKILL)
    time.sleep(10)
    raise AssertionError


def test_on_a_cluster_of_dask(beats: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Two worker processes on this machine; then the song of a worker that is killed."""
    distributed = pytest.importorskip("distributed")
    dask = pytest.importorskip("dask")
    quick = {
        "distributed.scheduler.allowed-failures": 0,
        "distributed.admin.tick.limit": "60s",
        "distributed.worker.multiprocessing-method": "forkserver",  # imports itself but once more
    }
    songs = [beats / f"{name}.mid" for name in ("cut", "paper-boat", "spilled-tea")]
    here = basslint.check(songs)
    with (
        dask.config.set(quick),
        distributed.LocalCluster(2, threads_per_worker=1, dashboard_address=None) as cluster,
        distributed.Client(cluster) as client,
    ):
        there = basslint.check(songs, executor=client.get_executor())
        assert report_json(there) == report_json(here)
        monkeypatch.setattr(executors, "check_bytes", die)
        lost = basslint.check(beats / "stairwell.mid", executor=client.get_executor(retries=0))
        assert "the check gave no answer" in lost.files[0].faults[0]
