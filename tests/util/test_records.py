"""A record is a frozen dataclass with slots, whatever way its methods are made."""

from __future__ import annotations

import inspect
import pickle
from dataclasses import FrozenInstanceError, asdict, dataclass, fields, is_dataclass
from dataclasses import field as of_dataclass
from dataclasses import replace as replaced

import pytest

from basslint.util.records import field, fields_of, names_of, record, replace


@record
class Tone:
    """A record of values."""

    pitch: int
    name: str = "A1"
    others: tuple[int, ...] = field(default_factory=tuple)


@record(eq=False, kw_only=True)
class Line:
    """A record of columns."""

    start: list[int]
    end: list[int]


@dataclass(frozen=True, slots=True)
class Model:
    """What the standard library makes of the same fields."""

    pitch: int
    name: str = "A1"
    others: tuple[int, ...] = of_dataclass(default_factory=tuple)


Model.__qualname__ = "Tone"


def test_it_shows_hashes_and_compares_as_a_dataclass_does() -> None:
    for values in ((33,), (33, "A"), (33, "A", (1, 2))):
        mine, model = Tone(*values), Model(*values)
        assert repr(mine) == repr(model)
        assert hash(mine) == hash(model)
        assert asdict(mine) == asdict(model)
        assert mine == Tone(*values)
        assert mine != model
    assert Tone(33) != Tone(34)
    assert [f.name for f in fields(Tone)] == [f.name for f in fields(Model)]


def test_columns_are_equal_to_themselves_alone() -> None:
    line = Line(start=[1], end=[2])
    assert line == line  # itself
    assert line != Line(start=[1], end=[2])
    assert len({line, replace(line)}) == 2


def test_nothing_can_be_set_added_or_deleted() -> None:
    tone = Tone(33)
    with pytest.raises(FrozenInstanceError, match="pitch"):
        tone.pitch = 34  # type: ignore[misc]
    with pytest.raises(FrozenInstanceError, match="new"):
        tone.new = 1  # type: ignore[attr-defined]
    with pytest.raises(FrozenInstanceError, match="pitch"):
        del tone.pitch  # type: ignore[misc]
    assert tone == Tone(33)
    assert not hasattr(tone, "__dict__")


def test_it_is_copied_with_changes_and_travels_between_processes() -> None:
    tone = Tone(33, "A", (1,))
    assert replace(tone, pitch=34) == Tone(34, "A", (1,))
    assert pickle.loads(pickle.dumps(tone)) == tone


@pytest.mark.parametrize("words", [(), (33, "A", (), 1)])
def test_fields_must_be_given_and_no_more(words: tuple[object, ...]) -> None:
    with pytest.raises(TypeError, match="__init__"):
        Tone(*words)  # type: ignore[arg-type]


@record(frozen=False)
class Page:
    """A record that is written on."""

    number: int
    lines: list[str] = field(default_factory=list)


def test_what_is_not_frozen_can_be_set_and_has_its_own_defaults() -> None:
    one, other = Page(1), Page(1)
    one.number = 2
    one.lines.append("G1")
    assert repr(one) == "Page(number=2, lines=['G1'])"
    assert not other.lines
    assert other != Page(1)
    again = pickle.loads(pickle.dumps(one))
    assert (again.number, again.lines) == (2, ["G1"])
    with pytest.raises(AttributeError):
        one.new = 1  # type: ignore[attr-defined]


@pytest.mark.parametrize("made", [0, 200], ids=["the first", "one of many"])
@pytest.mark.parametrize(
    ("values", "named", "fault"),
    [
        ((), {}, "missing 1 required positional argument: 'pitch'"),
        ((33, "A", (), 1), {}, "takes from 2 to 4 positional arguments but 5 were given"),
        ((33,), {"pitch": 34}, "multiple values for argument 'pitch'"),
        ((33,), {"loudness": 1}, "unexpected keyword argument 'loudness'"),
    ],
)
def test_the_first_and_the_last_are_made_alike(
    values: tuple[object, ...], named: dict[str, object], fault: str, made: int
) -> None:
    @record
    class Note:
        """As `Tone`, but nobody has made one yet."""

        pitch: int
        name: str = "A1"
        others: list[int] = field(default_factory=list)

    for n in range(made):
        Note(n)
    assert repr(Note(33, others=[1])).endswith("Note(pitch=33, name='A1', others=[1])")
    assert Note(1).others is not Note(1).others
    with pytest.raises(TypeError, match=fault):
        Note(*values, **named)  # type: ignore[arg-type]


def test_its_fields_are_told_by_name() -> None:
    assert names_of(Tone) == names_of(Tone(33)) == ("pitch", "name", "others")
    assert fields_of(Tone(33, others=(1,))) == {"pitch": 33, "name": "A1", "others": (1,)}
    with pytest.raises(TypeError, match="loudness"):
        replace(Tone(33), loudness=1)  # type: ignore[call-arg]


def test_it_is_asked_for_its_initialiser_before_there_is_one_of_it() -> None:
    @record(kw_only=True)
    class Fresh:
        """Nobody has made one yet."""

        pitch: int
        name: str = "A1"

    assert str(inspect.signature(Fresh)) == "(*, pitch, name='A1')"
    assert is_dataclass(Fresh)
    assert Fresh.__dataclass_params__.frozen  # type: ignore[attr-defined]  # engines ask for it
    assert replaced(Fresh(pitch=1), name="B") == Fresh(pitch=1, name="B")


def test_a_field_of_a_dataclass_is_refused() -> None:
    with pytest.raises(TypeError, match="Wrong"):

        @record
        class Wrong:
            """Its default would be the description of one."""

            others: tuple[int, ...] = of_dataclass(default_factory=tuple)


def test_fields_that_are_named_are_refused_by_place() -> None:
    with pytest.raises(TypeError, match="positional"):
        Line([1], [2])  # type: ignore[misc]
