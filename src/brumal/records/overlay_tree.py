"""Trees of settings: an overlay laid over a season, and what then differs, old to new."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any

from pydantic import TypeAdapter

from brumal.records.overlay import DROP, WANTED, Overlay, fold_path
from brumal.records.plain_values import fold_morph, parse_step, plain_number
from brumal.records.setting_words import keys_at
from brumal.records.settings import Settings
from brumal.records.yaml_text import Path, show_path

SETTINGS: TypeAdapter[Settings] = TypeAdapter(Settings)
NOT_THERE = "not there"


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """One thing that differs from the season as recorded, in words; ``by`` names the overlay.

    ``path`` is folded as overlays' own paths are; ``where`` is how the keeper writes it.
    """

    where: str
    old: str
    new: str
    by: str = ""
    path: Path = ()

    def __str__(self) -> str:
        return f"{self.where}: {self.old} -> {self.new}"


@dataclass(slots=True)
class Laid:
    """A season's settings under overlays: the tree, and the place each path came from.

    ``by_morph`` holds the wishes changed singly, by folded morph, as the overlay writes them;
    ``no_figure`` differences to something that is not set.
    """

    tree: dict[str, object]
    places: dict[Path, tuple[str, int]] = field(default_factory=dict)
    unknown_wishes: list[tuple[Overlay, Path, str]] = field(default_factory=list)
    by_morph: dict[str, str] = field(default_factory=dict)
    no_figure: list[tuple[Overlay, Path, str]] = field(default_factory=list)

    def moved(self, overlay: Overlay, path: Path, old: object, value: object) -> object:
        """Return a value, a difference (``+2``, ``-10%``) made to what stands there now.

        A price by sex moves for both.
        """
        step = parse_step(value.strip()) if isinstance(value, str) else None
        if step is None or isinstance(old, str | list | bool):
            return value
        if isinstance(old, dict) and any(map(_is_figure, old.values())):
            return {
                key: self.moved(overlay, path, each, value) if _is_figure(each) else each
                for key, each in old.items()
            }
        if not isinstance(old, int | float):
            self.no_figure.append((overlay, path, str(value)))
            return old
        new = step.of(old)
        return int(new) if isinstance(old, int) and new.is_integer() else new

    def wish_at(self, number: int) -> str | None:
        """Return the morph by which an overlay changed the wish at a place of the list."""
        values = self.tree.get("values")
        wanted = values.get("wanted") if isinstance(values, dict) else None
        entry = wanted[number] if isinstance(wanted, list) and number < len(wanted) else None
        morph = entry.get("morph") if isinstance(entry, dict) else None
        return self.by_morph.get(fold_morph(str(morph)))


def _is_figure(value: object) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool)


def settings_tree(settings: Settings) -> dict[str, Any]:
    """Return settings as a tree of plain values, every default written out."""
    tree = SETTINGS.dump_python(settings, mode="json")
    assert isinstance(tree, dict)
    return tree


def lay_settings(settings: Settings, overlays: tuple[Overlay, ...]) -> Laid:
    """Lay overlays over a season's settings, one after the other."""
    laid = Laid(settings_tree(settings))
    for overlay in overlays:
        _merge(laid, overlay, laid.tree, overlay.settings, ())
    return laid


def _merge(
    laid: Laid, overlay: Overlay, into: dict[str, object], tree: Mapping[str, object], path: Path
) -> None:
    for key, value in tree.items():
        here: Path = (*path, key)
        if here == WANTED and isinstance(value, Mapping):
            into[key] = _merge_wanted(laid, overlay, into.get(key), value)
            continue
        name = _same_key(into, key, here)
        below = into.get(name)
        if value is None and (name in into or key in keys_at(path)):
            into.pop(name, None)  # back to its default
        elif isinstance(value, Mapping) and isinstance(below, dict):
            _merge(laid, overlay, below, value, here)
        elif isinstance(value, Mapping) and value:
            inside: dict[str, object] = {}
            into[name] = inside
            _merge(laid, overlay, inside, value, here)
        else:
            into[name] = laid.moved(overlay, here, below, value)
        _note_places(laid, overlay, here, (*path, name))


def _same_key(into: Mapping[str, object], key: str, path: Path) -> str:
    """Return the key that is already there under another spelling of the same name."""
    folded = fold_path(path)
    return next((old for old in into if fold_path((*path[:-1], old)) == folded), key)


def _note_places(laid: Laid, overlay: Overlay, written: Path, path: Path) -> None:
    """Remember the lines of a path and of what stands below it in a list."""
    for known, line in overlay.lines.items():
        if known[: len(written)] == written:
            laid.places[(*path, *known[len(written) :])] = (overlay.file, line)


def _merge_wanted(
    laid: Laid, overlay: Overlay, before: object, patches: Mapping[str, object]
) -> list[dict[str, object]]:
    """Change single wishes by their morph; a new morph joins at the end of the list."""
    entries = [dict(entry) for entry in before] if isinstance(before, list) else []
    for morph, patch in patches.items():
        path: Path = (*WANTED, morph)
        laid.by_morph[fold_morph(morph)] = morph
        place = _place_of(entries, morph)
        if patch is None or patch == DROP:
            if place is None:
                laid.unknown_wishes.append((overlay, path, "to be dropped"))
            else:
                _forget_place(laid, place)
                del entries[place]
            continue
        if place is None and isinstance(patch, Mapping) and "value" not in patch:
            laid.unknown_wishes.append((overlay, path, "without a value"))
            continue
        if place is None:
            place = len(entries)
            entries.append({"morph": morph})
        _merge_entry(laid, overlay, entries[place], patch, (path, (*WANTED, place)))
    return entries


def _merge_entry(
    laid: Laid, overlay: Overlay, entry: dict[str, object], patch: object, paths: tuple[Path, Path]
) -> None:
    """Lay a patch over one wish; a plain value is its price."""
    written, path = paths
    inside = patch if isinstance(patch, Mapping) else {"value": patch}
    for key, value in inside.items():
        below = entry.get(key)
        if value is None:
            entry.pop(key, None)
        elif isinstance(value, Mapping) and isinstance(below, dict):
            moved = {
                name: laid.moved(overlay, (*written, key, name), below.get(name), each)
                for name, each in value.items()
            }
            entry[key] = {**below, **moved}
        else:
            entry[key] = laid.moved(overlay, (*written, key), below, value)
    _note_places(laid, overlay, written, path)


def _place_of(entries: list[dict[str, object]], morph: str) -> int | None:
    folded = fold_morph(morph)
    found = (n for n, entry in enumerate(entries) if fold_morph(str(entry["morph"])) == folded)
    return next(found, None)


def _forget_place(laid: Laid, gone: int) -> None:
    """Move the places of wishes behind a dropped one up by one."""
    at = len(WANTED)
    kept: dict[Path, tuple[str, int]] = {}
    for path, place in laid.places.items():
        number = path[at] if path[:at] == WANTED and len(path) > at else None
        if not isinstance(number, int) or number < gone:
            kept[path] = place
        elif number > gone:
            kept[(*path[:at], number - 1, *path[at + 1 :])] = place
    laid.places = kept


def put_back(settings: Settings, old: Settings, path: Path) -> Settings:
    """Return settings with what stands at ``path`` as it stands in ``old``; wishes by morph.

    ``path`` is that of a :class:`Change`, or a part of it. Both settings have to be right; a value
    put back alone is not checked against the others.
    """
    trees = [settings_tree(settings), settings_tree(old)]
    into, source = (_wishes_by_name(tree) for tree in trees)
    for part in path[:-1]:
        into, source = into[_key_in(into, part)], source.get(_key_in(source, part), {})
    key = _key_in(source, path[-1])
    into.pop(_key_in(into, path[-1]), None)
    if key in source:
        into[key] = source[key]
    tree = trees[0]
    tree["values"]["wanted"] = list(tree["values"]["wanted"].values())
    return SETTINGS.validate_python(tree)


def _wishes_by_name(tree: dict[str, Any]) -> dict[str, Any]:
    wanted = tree["values"]["wanted"]
    tree["values"]["wanted"] = {fold_morph(entry["morph"]): entry for entry in wanted}
    return tree


def _key_in(node: Mapping[str, Any], part: str | int) -> str:
    """Return the key of a folded part, as it stands in a tree."""
    return next((key for key in node if key != part and fold_morph(key) == part), str(part))


def settings_changes(old: Settings, new: Settings) -> tuple[Change, ...]:
    """Return every setting that differs, in the order of ``season.yaml``; wishes by morph."""
    return tuple(_differences(settings_tree(old), settings_tree(new), ()))


def setting_value(settings: Settings, path: Path) -> str | None:
    """Return one plain setting as text, ``None`` where nothing is set or a group stands there."""
    found: object = settings_tree(settings)
    for place, part in enumerate(path):
        if path[:place] == WANTED and isinstance(found, list):
            found = {fold_morph(str(entry["morph"])): entry for entry in found}
            part = fold_morph(str(part))
        found = found.get(str(part)) if isinstance(found, dict) else None
    return None if found is None or isinstance(found, dict | list) else _words(found, path)


def _differences(old: object, new: object, path: Path) -> Iterator[Change]:
    if old == new:
        return
    if path == WANTED and isinstance(old, list):
        yield from _differences(_by_morph(old), _by_morph(new), path)
    elif isinstance(old, dict) and isinstance(new, dict):
        for key in dict.fromkeys((*old, *new)):
            yield from _differences(old.get(key), new.get(key), (*path, key))
    else:
        yield Change(
            where=show_path(path),
            old=_words(old, path),
            new=_words(new, path),
            path=fold_path(path),
        )


def _by_morph(wanted: object) -> dict[str, dict[str, object]]:
    """Return wishes by morph; the path names each, so the entry itself need not."""
    entries = wanted if isinstance(wanted, list) else []
    return {
        str(entry["morph"]): {
            key: value for key, value in entry.items() if key != "morph" and value is not None
        }
        for entry in entries
    }


def _words(value: object, path: Path) -> str:
    """Write a setting as a keeper reads it."""
    if value is None:
        if path in (("limits", "boxes"), ("limits", "tubs")):
            return "no limit"
        return NOT_THERE if path[:2] == WANTED and len(path) == 3 else "not given"
    if isinstance(value, dict):
        told = (f"{key} {_words(v, (*path, key))}" for key, v in value.items() if v is not None)
        return ", ".join(told) or "none"
    if isinstance(value, list):
        return f"[{', '.join(_words(v, ('',)) for v in value)}]" if value else "none"
    if isinstance(value, bool):
        return str(value).lower()  # as season.yaml writes it
    return plain_number(value) if isinstance(value, int | float) else str(value)
