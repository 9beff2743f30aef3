"""``season.yaml``: the keeper's settings, with every fault by line and key."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from pydantic import TypeAdapter, ValidationError
from pydantic_core import ErrorDetails

from brumal.records.cells import quote
from brumal.records.changed_keys import REPLACED
from brumal.records.faults import Fault, Severity, did_you_mean, nearest
from brumal.records.plain_values import parse_day, parse_number, plain_number
from brumal.records.setting_checks import PAIR_LISTS, cross_checks
from brumal.records.setting_words import expected_at, keys_at
from brumal.records.settings import Locks, SeasonDates, Settings
from brumal.records.yaml_text import Path, Place

SETTINGS: TypeAdapter[Settings] = TypeAdapter(Settings)
SEASON: TypeAdapter[SeasonDates] = TypeAdapter(SeasonDates)
LOCKS: TypeAdapter[Locks] = TypeAdapter(Locks)


def settings_from_mapping(
    data: Mapping[str, object], file: str, lines: Mapping[Path, int]
) -> tuple[Settings | None, tuple[Fault, ...]]:
    """Turn a mapping shaped like ``season.yaml`` into settings.

    Values may be text (as in the file) or already typed; a key that holds ``None`` counts as left
    out, so its default stands. ``lines`` gives the line of each path (see ``yaml_text``); a
    mapping that comes from no file passes ``{}``. Returns ``None`` where a fault is an error.
    """
    place = Place(file, lines)
    filled = _without_empty(data)
    try:
        settings = SETTINGS.validate_python(filled)
    except ValidationError as error:
        return None, tuple(_validation_faults(error, filled, place))
    faults = tuple(cross_checks(settings, place))
    stops = any(fault.severity is Severity.ERROR for fault in faults)
    return (None if stops else settings), faults


def part_of(
    data: Mapping[str, object], key: str, adapter: TypeAdapter[SeasonDates] | TypeAdapter[Locks]
) -> SeasonDates | Locks | None:
    """Return one group of the settings where it alone is right, else ``None``.

    Lets the tables be checked against the season although another key is wrong.
    """
    try:
        return adapter.validate_python(_without_empty(data).get(key, {}))
    except ValidationError:
        return None


def _without_empty(data: Mapping[str, object], path: Path = ()) -> dict[str, object]:
    """Drop known keys with nothing behind them; unknown ones stay, to be told."""
    known = keys_at(path)
    return {
        key: _filled(value, (*path, key))
        for key, value in data.items()
        if value is not None or key not in known
    }


def _filled(value: object, path: Path) -> object:
    if isinstance(value, Mapping):
        return _without_empty(value, path)
    if isinstance(value, list):
        return [_filled(item, (*path, place)) for place, item in enumerate(value)]
    return value


def _validation_faults(
    error: ValidationError, data: Mapping[str, object], place: Place
) -> Iterator[Fault]:
    """Say what pydantic found in the keeper's words, one fault for each place."""
    told: dict[Path, ErrorDetails] = {}
    for detail in error.errors(include_url=False):
        path = _path_in(data, detail)
        if detail["type"] == "missing" and isinstance(path[-1], int):
            path = path[:-1]  # brackets that hold too little
        told.setdefault(path, detail)
    for path, detail in told.items():
        if any(other[: len(path)] == path for other in told if len(other) > len(path)):
            continue  # the deeper fault says it better
        if detail["type"] == "unexpected_keyword_argument":
            yield _unknown_key(path, place)
        else:
            yield _wrong_value(path, data, place, detail.get("ctx", {}).get("le"))


def _path_in(data: object, detail: ErrorDetails) -> Path:
    """Return where a fault stands in the keeper's own mapping, without pydantic's branch names."""
    path: list[str | int] = []
    node = data
    for part in detail["loc"]:
        inside, node = _step(node, part)
        if inside or (detail["type"] == "missing" and part == detail["loc"][-1]):
            path.append(part)
    return tuple(path)


def _step(node: object, part: str | int) -> tuple[bool, object]:
    """Go one key or place deeper; say whether it is there."""
    if isinstance(node, Mapping) and part in node:
        return True, node[part]
    if isinstance(node, list | tuple) and isinstance(part, int) and part < len(node):
        return True, node[part]
    return False, node


def _unknown_key(path: Path, place: Place) -> Fault:
    key = str(path[-1])
    known = keys_at(path[:-1])
    repair = REPLACED.get(path) or did_you_mean(key, known)
    if key.isdigit():
        repair = "A decimal comma? Write a point: 1.5."
    return Fault(
        where=place(path),
        found=f"an unknown key {quote(key)}",
        expected=f"one of {', '.join(known)}",
        repair=repair,
    )


def _wrong_value(
    path: Path, data: Mapping[str, object], place: Place, most: float | None = None
) -> Fault:
    """Say what is wrong with a value; ``most`` is the upper bound that it passes, if any."""
    cap = "" if most is None or most == 1 else f", {plain_number(most)} at most"
    missing = not _has(data, path)
    value = None if missing else _value_at(data, path)
    return Fault(
        where=place(path),
        found="nothing" if missing else _shown(value),
        expected=f"{expected_at(path)}{cap}",
        repair=_repair(path, value),
    )


def _has(data: object, path: Path) -> bool:
    for part in path:
        inside, data = _step(data, part)
        if not inside:
            return False
    return True


def _value_at(data: object, path: Path) -> object:
    for part in path:
        data = data[part]  # type: ignore[index]
    return data


def _shown(value: object) -> str:
    if value is None:
        return "nothing"
    if isinstance(value, Mapping):
        return f"a group with the keys {', '.join(value)}" if value else "an empty group"
    if isinstance(value, list | tuple):
        plain = all(isinstance(item, str | int | float) for item in value)
        return quote(f"[{', '.join(map(str, value))}]") if plain else f"a list of {len(value)}"
    return quote(plain_number(value) if isinstance(value, float) else str(value))


def _repair(path: Path, value: object) -> str:
    """Suggest the plain form of a value that is written another way."""
    if not isinstance(value, str):
        return ""
    if "date" in expected_at(path):
        return parse_day(value)[1]
    if len(path) == 3 and path[0] == "locks" and path[1] in PAIR_LISTS:
        return "Each pair stands in brackets of its own: [[dam, sire], [dam, sire]]."
    if value.endswith("%"):
        share, _ = parse_number(value.rstrip("% "))
        return f"Write {plain_number(share / 100)}." if share is not None else ""
    if "number" in expected_at(path) or "share" in expected_at(path):
        number, repair = parse_number(value)
        return f"Write {plain_number(number)}." if number is not None and "," in value else repair
    close = nearest(value, expected_at(path).split(" or "), count=1)
    return f"Did you mean {quote(close[0])}?" if close else ""
