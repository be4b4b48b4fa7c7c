"""What a look at the folder has to say of its settings."""

from __future__ import annotations

from datetime import date, timedelta
from pathlib import Path

import pytest
from watch_runs import SAMPLES

from basslint.settings.run_options import RunOptions
from basslint.watch.checker import answers
from basslint.watch.orders import Scan, Scanned


@pytest.mark.parametrize(("days", "said"), [(-1, True), (1, False)])
def test_a_waiver_that_is_over_is_told(tmp_path: Path, days: int, said: bool) -> None:
    (tmp_path / "tea.mid").write_bytes((SAMPLES / "spilled-tea.mid").read_bytes())
    last = date.today() + timedelta(days=days)
    (tmp_path / "basslint.toml").write_text(
        '[[waive]]\nrule = "off-root"\nsong = "tea.mid"\nbars = "6"\nreason = "meant"\n'
        f"until = {last}\n"
    )
    ((_, found),) = answers([Scan((tmp_path,), RunOptions())], None)
    assert isinstance(found, Scanned)
    told = f"The waiver of off-root in tea.mid ended on {last}; its findings count again."
    assert found.remarks == ((told,) if said else ())
