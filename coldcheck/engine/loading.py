"""One loader for every rule and working: built-in, plugin, installed, or a site's own folder.

Each module becomes a plugin of one pluggy manager. What cannot be loaded is kept as a `Broken`, which the run turns
into an error finding: fewer rules must never look like a clean plan.
"""

from __future__ import annotations

import importlib
import sys
from collections.abc import Callable, Iterable, Iterator
from pathlib import Path as FilePath
from types import ModuleType
from typing import Any

import msgspec
import pluggy

from . import hooks
from .rules import BadRule, Rule, Working, rule_of, working_of

__all__ = ["ENTRY_POINTS", "Broken", "Rulebook", "load"]

#: The group of entry points by which an installed distribution brings rule modules.
ENTRY_POINTS = "coldcheck.rules"


class Broken(msgspec.Struct, frozen=True):
    """A module, rule or working that could not be taken in: where, and why."""

    name: str
    file: str
    line: int
    why: str


class Rulebook:
    """Everything that was loaded. ``tables`` are the words that ``over`` may name besides workings."""

    def __init__(self, tables: Iterable[str]) -> None:
        self.manager = pluggy.PluginManager(hooks.PROJECT)
        self.manager.add_hookspecs(hooks)
        self.tables = frozenset(tables)
        self.rules: dict[str, Rule] = {}
        self.workings: dict[str, Working] = {}
        self.broken: list[Broken] = []

    def former(self, name: str) -> str:
        """Return the name a rule has today, given any name it ever had."""
        if name in self.rules:
            return name
        return next((r.name for r in self.rules.values() if name in r.was), name)

    def areas(self) -> set[str]:
        """Return the areas there are: the files that rules stand in, by which all of one are named."""
        return {rule.area for rule in self.rules.values()}

    def shelves(self) -> list[FilePath]:
        """Return the folders of parts that plugins bring."""
        return [FilePath(folder) for folder in self._asked("coldcheck_shelves")]

    # --- taking in ----------------------------------------------------------------------------------------------

    def register(self, module: Any, name: str) -> None:
        """Take in one module, whether it chooses what it offers by the hook or only declares rules."""
        file = getattr(module, "__file__", "") or ""
        hooks_in = self._hooks_in(module, name, file)
        try:
            if hooks_in:
                self.manager.register(module, name=name)
            if "coldcheck_offers" not in hooks_in:
                self.manager.register(_Declared(module), name=f"{name} (declared)" if hooks_in else name)
        except (ValueError, pluggy.PluginValidationError) as error:
            self.break_(name, file, 1, str(error))

    def _hooks_in(self, module: Any, name: str, file: str) -> list[str]:
        """Return the hooks that a module implements; what only looks like one would be passed over in silence."""
        found = []
        for hook in _named_like_hooks(module):
            if self.manager.parse_hookimpl_opts(module, hook) is None:
                self.break_(name, file, 1, f"{hook} is named like a hook, but no @hookimpl stands above it")
            elif hook not in _HOOKS:
                self.break_(
                    name, file, 1, f"{hook} is no hook of Coldcheck; the hooks are {' and '.join(_HOOKS)}"
                )
            else:
                found.append(hook)
        return found

    def break_(self, name: str, file: str, line: int, why: str) -> None:
        """Note something that could not be taken in."""
        self.broken.append(Broken(name, file, line, why))

    def collect(self) -> None:
        """Ask every plugin what it offers, then check that each rule's workings exist."""
        for function in self._asked("coldcheck_offers"):
            self._take(function)
        self._check()

    def _asked(self, hook: str) -> list[Any]:
        """Return what all plugins answer. Each is asked by itself: one that raises must not silence the others."""
        found: list[Any] = []
        for implementation in getattr(self.manager.hook, hook).get_hookimpls():
            try:
                found += implementation.function()
            except (Exception, SystemExit) as error:
                file = getattr(implementation.plugin, "__file__", "") or ""
                why = f"{hook} failed: {type(error).__name__}: {error}"
                self.break_(implementation.plugin_name, file, 1, why)
        return found

    def _take(self, function: Callable[..., Any]) -> None:
        found = rule_of(function) or working_of(function)
        if found is None:
            name = getattr(function, "__name__", repr(function))
            self.break_(
                name, "", 1, "coldcheck_offers returned something that is neither a rule nor a working"
            )
            return
        shelf: dict[str, Any] = self.rules if isinstance(found, Rule) else self.workings
        other = shelf.get(found.name)
        if other is not None or (isinstance(found, Working) and found.name == "plan"):
            where = f"{other.file}:{other.line}" if other is not None else "the engine"
            self.break_(found.name, found.file, found.line, f"the name {found.name} is taken by {where}")
            return
        shelf[found.name] = found

    def _check(self) -> None:
        known = {*self.workings, "plan"}
        for working in list(self.workings.values()):
            for need in working.needs:
                if need not in known:
                    self._refuse(
                        self.workings, working, f"working {working.name} asks for {_named(need, known)}"
                    )
        self._rings()
        known = {*self.workings, "plan"}
        for rule in list(self.rules.values()):
            for need in rule.needs:
                if need not in known:
                    self._refuse(self.rules, rule, f"rule {rule.name} asks for {_named(need, known)}")
            if rule.over not in known | self.tables:
                choices = known | self.tables
                self._refuse(self.rules, rule, f"rule {rule.name} is over {_named(rule.over, choices)}")

    def _rings(self) -> None:
        """Refuse workings that wait for each other."""
        done = {"plan"}
        rest = dict(self.workings)
        while True:
            ready = [w for w in rest.values() if all(need in done for need in w.needs)]
            if not ready:
                break
            for working in ready:
                done.add(working.name)
                del rest[working.name]
        for working in rest.values():
            self._refuse(
                self.workings, working, f"working {working.name} waits for itself, or for one refused"
            )

    def _refuse(self, shelf: dict[str, Any], item: Any, why: str) -> None:
        shelf.pop(item.name, None)
        self.break_(item.name, item.file, item.line, why)


def _named(name: str, known: Iterable[str]) -> str:
    from coldcheck.plan.problems import nearest

    near = nearest(name, known)
    return f'"{name}", which is no working' + (f'; did you mean "{near}"?' if near else "")


class _Declared:
    """The plugin that a module of plain declarations is."""

    def __init__(self, module: ModuleType) -> None:
        self.module = module

    def __dir__(self) -> list[str]:
        """Name the hook alone: pluggy looks at every attribute of a plugin, which costs more than loading it."""
        return ["coldcheck_offers"]

    @hooks.hookimpl
    def coldcheck_offers(self) -> list[Any]:
        """Return what the module itself declares, not what it imported."""
        name = self.module.__name__
        return [
            thing
            for thing in vars(self.module).values()
            if getattr(thing, "__module__", None) == name and (rule_of(thing) or working_of(thing))
        ]


def _named_like_hooks(module: Any) -> list[str]:
    return [name for name in dir(module) if name.startswith("coldcheck_") and callable(getattr(module, name))]


_HOOKS = _named_like_hooks(hooks)


def load(
    tables: Iterable[str],
    packages: Iterable[str] = (),
    folders: Iterable[FilePath] = (),
    entry_points: bool = True,
) -> Rulebook:
    """Return the rulebook of all that is found.

    Args:
        tables: tables of a plan, which rules may be over.
        packages: packages whose modules are taken in by name.
        folders: folders, or single files, whose modules are taken in by path.
        entry_points: whether installed distributions are asked for theirs.
    """
    book = Rulebook(tables)
    for package in packages:
        _package(book, package)
    for folder in folders:
        for file in _files(book, folder):
            _file(book, file)
    if entry_points:
        _entry_points(book)
    book.collect()
    return book


def _package(book: Rulebook, package: str) -> None:
    folder = FilePath(importlib.import_module(package).__path__[0])
    for file in sorted(folder.glob("[!_]*.py")):
        name = f"{package}.{file.stem}"
        try:
            book.register(importlib.import_module(name), name)
        except (Exception, SystemExit) as error:
            _cannot_load(book, name, file, error)


def _files(book: Rulebook, folder: FilePath) -> Iterator[FilePath]:
    if folder.is_dir():
        yield from sorted(folder.glob("[!_]*.py"))
    elif folder.is_file():
        yield folder
    else:
        book.break_(folder.name, str(folder), 1, "there is no such file or folder")


def _file(book: Rulebook, file: FilePath) -> None:
    from importlib.util import module_from_spec, spec_from_file_location

    name = f"coldcheck_loaded.{len(book.manager.get_plugins())}.{file.stem}"
    spec = spec_from_file_location(name, file)
    if spec is None or spec.loader is None:
        book.break_(file.stem, str(file), 1, "not a Python file")
        return
    module = module_from_spec(spec)
    sys.modules[name] = module
    try:
        spec.loader.exec_module(module)
    except (Exception, SystemExit) as error:
        del sys.modules[name]
        _cannot_load(book, file.stem, file, error)
        return
    book.register(module, str(file))


def _cannot_load(book: Rulebook, name: str, file: FilePath, error: BaseException) -> None:
    line, trace = 1, error.__traceback__
    while trace is not None:
        if trace.tb_frame.f_code.co_filename == str(file):
            line = trace.tb_lineno
        trace = trace.tb_next
    if isinstance(error, SyntaxError) and error.lineno:
        line = error.lineno
    why = str(error) if isinstance(error, BadRule) else f"{type(error).__name__}: {error}"
    book.break_(name, str(file), line, why)


def _entry_points(book: Rulebook) -> None:
    if not _any_entry_points():
        return
    from importlib.metadata import entry_points

    for point in entry_points(group=ENTRY_POINTS):
        try:
            book.register(point.load(), f"{point.dist.name if point.dist else '?'}:{point.name}")
        except (Exception, SystemExit) as error:
            name = f"{point.dist.name} {point.dist.version}" if point.dist else point.name
            book.break_(name, point.value, 1, f"{type(error).__name__}: {error}")


def _any_entry_points() -> bool:
    """Say whether any installed distribution names our group.

    importlib.metadata costs half as much to import as the rest of a lint; most machines have no plugin installed.
    """
    mark = f"[{ENTRY_POINTS}]".encode()
    for folder in dict.fromkeys(sys.path):
        if folder.endswith((".zip", ".egg", ".whl")) and FilePath(folder).is_file():
            return True
        for file in FilePath(folder or ".").glob("*-info/entry_points.txt"):
            try:
                if mark in file.read_bytes():
                    return True
            except OSError:
                continue
    return False
