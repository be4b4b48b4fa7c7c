"""Parts in several files: read as one arrangement, mended file by file."""

from __future__ import annotations

import io
import json
from pathlib import Path

import mido
import pytest
from jsonschema import Draft202012Validator

from basslint.cli.main import main
from basslint.errors import MidiError
from basslint.report.formats.json_values import schema
from basslint.rulebook.notation import compile_beat
from basslint.smf.scan import scan
from basslint.smf.together import MidiFile, join, parted
from basslint.song.arrangement import build

KEYS = "keys | A3+C4+E4:4 | F3+A3+C4:4 | C3+E3+G3:4 | G3+B3+D4:4 |*4\n"
SUB = (
    "sub | A1:3.5 .:.5 | F#1:3.5 .:.5 | C2:3.5 .:.5 | G1:3.5 .:.5 "
    "|| A1:3.5 .:.5 | F1:3.5 .:.5 | C2:3.5 .:.5 | G1:3.5 .:.5 |*3\n"
)
DRUMS = "kick | C2:1x4 |*16\n"


def as_file(text: str, division: int = 480, name: str | None = None) -> bytes:
    """A beat at another resolution, its part named otherwise or not at all."""
    midi = mido.MidiFile(file=io.BytesIO(compile_beat(text).data))
    for track in midi.tracks:
        for message in track:
            message.time = message.time * division // midi.ticks_per_beat
        kept = [m for m in track if m.type != "track_name"]
        if name:
            kept.insert(0, mido.MetaMessage("track_name", name=name))
        track[:] = kept
    midi.ticks_per_beat = division
    out = io.BytesIO()
    midi.save(file=out)
    return out.getvalue()


def file(name: str, data: bytes) -> MidiFile:
    return MidiFile(name, data, scan(data))


@pytest.fixture
def beat(tmp_path: Path) -> Path:
    folder = tmp_path / "night"
    folder.mkdir()
    (folder / "chords.mid").write_bytes(as_file("tempo 140\n" + KEYS, 96))
    (folder / "drums.mid").write_bytes(as_file("meter none\n" + DRUMS, 480))
    (folder / "low.mid").write_bytes(as_file("meter none\n" + SUB, 960))
    return folder


def checked(capsys: pytest.CaptureFixture[str], *words: str, code: int = 1) -> dict[str, object]:
    assert main(["check", *words, "--no-cache", "--format", "json"]) == code
    told = json.loads(capsys.readouterr().out)
    Draft202012Validator(schema("report")).validate(told)
    return told


def test_files_are_laid_together_exactly() -> None:
    low, high = as_file(KEYS, 96), as_file(SUB, 480 * 7)
    whole = join([file("a", low), file("b", high)])
    song = build(scan(whole.data))
    assert song.division == 480 * 7
    for data, part in ((low, 0), (high, 1)):
        own = build(scan(data))
        times = song.division // own.division
        mine = song.notes_of(part)
        assert mine.start.tolist() == (own.notes.start * times).tolist()
        assert mine.end.tolist() == (own.notes.end * times).tolist()
        assert mine.pitch.tolist() == own.notes.pitch.tolist()


def test_resolutions_without_a_common_one_are_refused() -> None:
    files = [file(str(d), as_file("kick | C2:4 |\n", d)) for d in (32749, 480)]
    with pytest.raises(MidiError, match="no common one"):
        join(files)


def test_what_is_not_mended_is_the_same_bytes() -> None:
    files = [as_file(KEYS, 96), as_file(SUB, 960, "Sub"), as_file(DRUMS, 480)]
    whole = join([file(str(i), data) for i, data in enumerate(files)], [0, 0, 4 * 960])
    assert parted(whole, whole.data) == {}


def test_a_folder_is_one_arrangement(beat: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (file,) = checked(capsys, "--together", str(beat))["files"]
    assert file["path"] == beat.as_posix()
    assert [p["name"] for p in file["chart"]["parts"]] == ["chords", "drums", "low"]
    (found,) = [f for f in file["findings"] if f["rule"] == "off-root"]
    assert found["part"]["name"] == "low" and found["part"]["file"] == "low.mid"
    assert found["where"]["bar"] == 2
    assert file["judged"]["root_bars"] == 16


def test_files_are_one_arrangement_too(beat: Path, capsys: pytest.CaptureFixture[str]) -> None:
    named = [str(beat / "chords.mid"), str(beat / "low.mid")]
    (file,) = checked(capsys, "--together", *named)["files"]
    assert [p["name"] for p in file["chart"]["parts"]] == ["chords", "low"]
    assert "low (low.mid)" in _text(capsys, "--together", *named)


def _text(capsys: pytest.CaptureFixture[str], *words: str) -> str:
    main(["check", *words, "--no-cache"])
    return capsys.readouterr().out


def test_settings_group_files_by_a_glob(beat: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (beat.parent / "basslint.toml").write_text('together = ["night/*.mid"]\n')
    (beat.parent / "other.mid").write_bytes(compile_beat("tempo 140\n" + KEYS + SUB).data)
    files = checked(capsys, str(beat.parent))["files"]
    assert [f["path"] for f in files] == [beat.as_posix(), (beat.parent / "other.mid").as_posix()]
    (one,) = checked(capsys, str(beat / "low.mid"))["files"]
    assert one["path"] == beat.as_posix()


def test_names_that_are_stated_are_kept(beat: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (beat / "low.mid").write_bytes(as_file("meter none\n" + SUB, 960, "Sub"))
    (file,) = checked(capsys, "--together", str(beat))["files"]
    assert [p["name"] for p in file["chart"]["parts"]] == ["chords", "drums", "Sub"]


def test_more_than_one_tempo_is_told(beat: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (beat / "low.mid").write_bytes(as_file("tempo 120\n" + SUB, 960))
    (file,) = checked(capsys, "--together", str(beat))["files"]
    assert (
        "The files state more than one tempo (chords, low); that of low holds." in file["warnings"]
    )
    assert [t["bpm"] for t in file["chart"]["tempo"]] == [120.0]


@pytest.mark.parametrize("division", [480, 960, 384])
def test_mend_writes_a_copy_beside_each_file_that_it_changes(
    beat: Path, capsys: pytest.CaptureFixture[str], division: int
) -> None:
    (beat / "low.mid").write_bytes(as_file("meter none\n" + SUB, division))
    before = {p.name: p.read_bytes() for p in beat.iterdir()}
    assert main(["mend", str(beat), "--dry-run"]) == 0
    assert {p.name: p.read_bytes() for p in beat.iterdir()} == before
    assert main(["mend", str(beat)]) == 0
    printed = capsys.readouterr().out
    assert f"1 fix applied.\nwrote {beat / 'low.mended.mid'}\n" in printed  # and not the folder
    after = {p.name: p.read_bytes() for p in beat.iterdir()}
    mended = after.pop("low.mended.mid")
    assert after == before
    was, now = (build(scan(data)) for data in (before["low.mid"], mended))
    assert now.division == division
    assert now.notes.start.tolist() == was.notes.start.tolist()
    assert now.parts[0].track_name == was.parts[0].track_name == ""
    changed = [(a, b) for a, b in zip(was.notes.pitch, now.notes.pitch, strict=True) if a != b]
    assert changed == [(30, 29)]  # F#1 to F1
    (beat / "low.mid").write_bytes(mended)
    (beat / "low.mended.mid").unlink()
    assert checked(capsys, "--together", str(beat), code=0)["files"][0]["findings"] == []


def test_a_damaged_member_is_one_problem_of_the_group(
    beat: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (beat / "drums.mid").write_bytes((beat / "drums.mid").read_bytes()[:60])
    (file,) = checked(capsys, "--together", str(beat), code=2)["files"]
    assert file["status"] == "unreadable"
    assert "drums.mid, one of 3 files that are read together: " in file["problem"]["message"]


def test_the_chart_of_a_folder_names_its_files(
    beat: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["chart", str(beat)]) == 0
    head = capsys.readouterr().out.splitlines()[0]
    assert head.startswith("3 files of ")
    assert head.endswith(" as one arrangement: chords.mid, drums.mid, low.mid")


@pytest.mark.parametrize("words", [["chart"], ["mend"], ["explain", "off-root"], ["audition"]])
def test_unrelated_songs_are_not_laid_over_each_other_unasked(
    words: list[str], beat: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Each of two files holds chords and a bass; a third one holds drums alone."""
    for name in ("chords.mid", "low.mid"):
        (beat / name).write_bytes(compile_beat("tempo 140\n" + KEYS + SUB).data)
    before = sorted(p.name for p in beat.iterdir())
    assert main([*words, str(beat)]) == 2
    err = capsys.readouterr().err
    assert "holds 2 songs (chords.mid, low.mid), not the parts of one." in err
    assert "together = [GLOB]" in err
    assert sorted(p.name for p in beat.iterdir()) == before
    (beat / "basslint.toml").write_text('together = ["*.mid"]\n')
    assert main(["chart", str(beat)]) == 0


def test_files_that_hold_the_same_part_beside_others_are_songs(
    beat: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Two beats on loops: each holds one bass and drums, and its harmony elsewhere."""
    for name in ("attic.mid", "cellar.mid"):
        (beat / name).write_bytes(compile_beat(SUB + DRUMS).data)
    assert main(["chart", str(beat)]) == 2
    said = capsys.readouterr().err
    assert "holds 2 songs (attic.mid, cellar.mid)" in said and "a part named " in said
    (beat / "attic.mid").write_bytes(as_file(SUB, name="sub"))  # one part alone: half of a bass
    (beat / "cellar.mid").write_bytes(as_file(SUB, name="sub"))
    assert main(["chart", str(beat)]) == 0


@pytest.mark.parametrize(
    ("tables", "code"),
    [
        (["chords.mid", "low.mid"], 2),
        (["low.mid"], 0),  # states something of one part
        (["night/*.mid", "*.mid"], 0),  # and these of all
        (["night", "low.mid"], 0),
    ],
)
def test_files_that_the_settings_speak_of_one_by_one_are_songs(
    beat: Path, capsys: pytest.CaptureFixture[str], tables: list[str], code: int
) -> None:
    told = "".join(f'[[song]]\nfiles = "{name}"\nchords = "Am F C G"\n' for name in tables)
    (beat.parent / "basslint.toml").write_text(told)
    assert main(["chart", str(beat)]) == code
    assert ("Each has a [[song]] table of its own." in capsys.readouterr().err) == (code == 2)


@pytest.mark.parametrize("named", ["low.mid", "night/*.mid", "night"])
@pytest.mark.parametrize("words", [("night",), ("night/low.mid", "night/chords.mid")])
def test_what_is_stated_of_a_file_holds_for_its_arrangement(
    beat: Path,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
    named: str,
    words: tuple[str, ...],
) -> None:
    table = f'[[song]]\nfiles = "{named}"\nrules = {{ off-root = "note" }}\n'
    (beat.parent / "basslint.toml").write_text(table, "utf-8")
    monkeypatch.chdir(beat.parent)
    (told,) = checked(capsys, "--together", *words, code=0)["files"]
    assert [(f["rule"], f["level"]) for f in told["findings"]] == [("off-root", "note")]


def test_a_missing_member_is_wrong_use(beat: Path, capsys: pytest.CaptureFixture[str]) -> None:
    words = ["check", "--together", str(beat / "low.mid"), str(beat / "gone.mid")]
    assert main(words) == 2
    assert "gone.mid does not exist" in capsys.readouterr().err


def test_files_and_folders_are_not_mixed(beat: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["check", "--together", str(beat), str(beat / "low.mid")]) == 2
    assert "cannot be named in one" in capsys.readouterr().err
    assert main(["check", "--together", str(beat.parent)]) == 2
    assert "lies within a folder" in capsys.readouterr().err


def test_cache_and_shards_keep_a_group_together(
    beat: Path,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    words = ["check", "--together", str(beat), "--format", "json"]
    assert main(words) == 1
    first = capsys.readouterr().out
    assert main(words) == 1
    assert capsys.readouterr().out == first
    right = SUB.replace("F#1", "F1")
    (beat / "low.mid").write_bytes(as_file("meter none\n" + right, 960))  # one member changes
    assert main(words) == 0
    capsys.readouterr()
    (tmp_path / "basslint.toml").write_text('together = ["night/*.mid"]\n')
    (tmp_path / "other.mid").write_bytes(compile_beat("tempo 140\n" + KEYS + SUB).data)
    paths = []
    for shard in ("1/2", "2/2"):
        main(["check", str(tmp_path), "--shard", shard, "--format", "json"])
        paths += [f["path"] for f in json.loads(capsys.readouterr().out)["files"]]
    assert paths == [beat.as_posix(), (tmp_path / "other.mid").as_posix()]


def test_a_file_begins_in_the_bar_that_is_stated(
    beat: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A bass that comes in at bar 9 was exported from there on: its first bar is the ninth."""
    late = (
        "sub | A1:3.5 .:.5 | F#1:3.5 .:.5 | C2:3.5 .:.5 | G1:3.5 .:.5 "
        "|| A1:4 | F1:4 | C2:4 | G1:4 |\n"
    )
    (beat / "low.mid").write_bytes(as_file("tempo 140\n" + late, 960))
    (beat.parent / "basslint.toml").write_text(
        'together = ["night/*.mid"]\nbegins = { "night/low.mid" = "bar 9" }\n'
    )
    (heard,) = checked(capsys, str(beat))["files"]
    (found,) = [f for f in heard["findings"] if f["rule"] == "off-root"]
    assert found["where"]["bar"] == 10
    assert not [w for w in heard["warnings"] if "more than one" in w]
    assert main(["mend", str(beat)]) == 0
    was, now = (build(scan((beat / name).read_bytes())) for name in ("low.mid", "low.mended.mid"))
    assert now.notes.start.tolist() == was.notes.start.tolist()
    assert [a - b for a, b in zip(was.notes.pitch, now.notes.pitch, strict=True) if a != b] == [1]


@pytest.mark.parametrize("table", ['"bar 9"', '{ "low.mid" = "9" }', '{ "low.mid" = 9 }'])
def test_where_a_file_begins_is_said_in_bars(
    beat: Path, capsys: pytest.CaptureFixture[str], table: str
) -> None:
    (beat.parent / "basslint.toml").write_text(f"begins = {table}\n")
    assert main(["check", "--together", str(beat)]) == 2
    assert '"bar 9" }' in capsys.readouterr().err


def test_a_wrapped_member_is_mended_in_its_wrapper(
    beat: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    inside = (beat / "low.mid").read_bytes()
    chunk = b"data" + len(inside).to_bytes(4, "little") + inside + b"\0" * (len(inside) & 1)
    riff = b"RIFF" + (4 + len(chunk)).to_bytes(4, "little") + b"RMID" + chunk
    (beat / "low.mid").write_bytes(riff)
    assert main(["mend", str(beat)]) == 0
    capsys.readouterr()
    mended = (beat / "low.mended.mid").read_bytes()
    assert mended[:4] == b"RIFF" and mended[8:16] == b"RMIDdata"
    assert int.from_bytes(mended[4:8], "little") == len(mended) - 8
    was, now = build(scan(inside)), build(scan(mended))
    assert [a - b for a, b in zip(was.notes.pitch, now.notes.pitch, strict=True) if a != b] == [1]


def test_what_stands_in_a_group_is_accepted_as_of_the_group(
    beat: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Each file was judged alone, and the finding of the whole failed the run as before."""
    (beat.parent / "basslint.toml").write_text('together = ["night/*.mid"]\n')
    checked(capsys, str(beat.parent))
    assert main(["accept", str(beat.parent), "--reason", "old"]) == 0
    capsys.readouterr()
    report = checked(capsys, str(beat.parent), code=0)
    assert report["summary"]["waived"] == 1 and report["remarks"] == []  # type: ignore[index]


def test_a_file_that_is_read_with_others_is_waived_by_its_folder(
    beat: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (beat.parent / "basslint.toml").write_text('together = ["night/*.mid"]\n')
    words = ["off-root", "--reason", "meant"]
    assert main(["waive", str(beat / "low.mid"), *words]) == 2
    assert f"is read together with the other files of {beat}" in capsys.readouterr().err
    assert main(["waive", str(beat), *words]) == 0
    capsys.readouterr()
    checked(capsys, str(beat.parent), code=0)
