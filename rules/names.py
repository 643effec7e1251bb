"""Host names: lawful, had once, with a domain that a network of our own may have."""

from __future__ import annotations

from collections.abc import Iterator

from coldcheck import Case, Finding, Level, Put, Take, cases, rule
from coldcheck.lan.names import (
    MUST_HANDLE,
    NAME_MAX,
    SpecialDomain,
    folded,
    is_never_a_machine,
    problem_with_label,
    problem_with_name,
    reads_as_number,
    special_domain,
)
from coldcheck.plan.edit import Edit
from coldcheck.plan.model import Plan
from coldcheck.plan.problems import Path, nearest
from coldcheck.plan.spans import listed
from coldcheck.workings.names import HostName, NameServer, by_entry, in_words, put_names, renamed, shown_names

_NODE = '[[node]]\nid = "{}"\naddress = "{}"\n'
_NAMED = '[[node]]\nid = "{}"\nname = "{}"\naddress = "{}"\n'
_DOMAIN = '[plan]\ndomain = "{}"\n'
_LAB = _DOMAIN.format("lab.internal")
_SWITCH = '[[switch]]\nid = "{}"\nports = 8\n'
_CABLED = '[[storage]]\nid = "{}"\nport = "{}"\n'


def _ids(names: list[HostName]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(str(name.thing.id) for name in names))


def _own_part(plan: Plan, name: HostName) -> str:
    """Return what a machine is called, without the domain of the plan: that is judged once."""
    bare = name.name.removesuffix(".")
    tail = f".{folded((plan.head.domain or '').strip('.'))}"
    return bare[: -len(tail)] if len(tail) > 1 and folded(bare).endswith(tail) else bare


def _told_apart(plan: Plan, names: list[HostName]) -> Iterator[tuple[str, list[HostName]]]:
    """Yield what is wrong with labels, and all machines of one entry of which just this is wrong."""
    wrong: dict[tuple[Path, str], list[HostName]] = {}
    for name in names:
        if problem_with_label(name.name) is None:
            continue
        problems = (problem_with_label(label) for label in _own_part(plan, name).split("."))
        problem = next((problem for problem in problems if problem is not None), None)
        if problem is not None:
            wrong.setdefault((name.path, problem), []).append(name)
    for (_, problem), found in wrong.items():
        yield problem, found


@rule(level="error", over="plan")
def label(plan: Plan, host_names: list[HostName]) -> Iterator[Finding]:
    """Every host name is made of letters a to z, digits and hyphens, 63 at the most between two dots.

    A machine is called by its `name`, or else by its id. An id may hold more than a host name may, an underscore or a
    letter with an accent; then the machine needs a name. The underscore is for records that are no host. Some programs
    take such a name, and others refuse to look it up, to write a certificate for it or to log in.

    Source: RFC 952; RFC 1123 section 2.1 (a digit may come first); RFC 1035 section 2.3.4 (63); RFC 5891 for hyphens
    in places 3 and 4 (from memory).
    """
    taken: set[str] | None = None
    for problem, names in _told_apart(plan, host_names):
        if taken is None:
            taken = {folded(name.name) for name in host_names} | {
                folded(name.thing.id) for name in host_names
            }
        wanted = [renamed(name) for name in names]
        one_way = all(new == name.name.replace("_", "-") for new, name in zip(wanted, names, strict=True))
        edits = put_names(names, wanted, taken) if one_way and all(wanted) else ()
        free = all(wanted) and taken.isdisjoint(folded(name) for name in wanted)
        remedy = f"write {in_words(wanted)}" if free and len(set(wanted)) == len(wanted) else ""
        yield Finding(
            "warning" if "places 3 and 4" in problem else "error",
            names[0].thing,
            f"the host name of {listed(_ids(names))}{_beside(names)} {problem}",
            found=shown_names(names),
            allowed="letters, digits, hyphens",
            remedy=remedy or "give it a name of letters, digits and hyphens",
            edits=edits,
            path=names[0].path,
            subjects=_ids(names),
        )


cases(
    label,
    clean=[
        _NODE.format("n1 .. n3", "10.20.0.11 .. 10.20.0.13"),
        _NODE.format("1a", "10.20.0.11") + _NODE.format("a--b", "10.20.0.12"),
        _NODE.format("a" * 63, "10.20.0.11"),
        _NAMED.format("n_1", "n-1", "10.20.0.11"),
        _NAMED.format("küche", "kitchen", "10.20.0.11"),
        _NODE.format("xn--kche-0ra", "10.20.0.11"),
        '[[node]]\nid = "n_1"\n',  # no network, so nobody calls it
        _SWITCH.format("sw_1"),  # it passes frames on, and has no name of its own
        # the domain has the slip
        _DOMAIN.format("my_lab.internal") + _NAMED.format("n1", "n1.my_lab.internal", "10.20.0.11"),
    ],
    flagged=[
        Case(_NODE.format("n_1", "10.20.0.11"), at="n_1", found="n_1", level="error", edits=True,
             mended=_NODE.format("n_1", "10.20.0.11") + 'name = "n-1"\n'),
        Case(_NODE.format("n_1 .. n_4", "10.20.0.11 .. 10.20.0.14"), at="n_1 .. n_4", edits=True,
             mended=_NODE.format("n_1 .. n_4", "10.20.0.11 .. 10.20.0.14") + 'name = "n-1 .. n-4"\n'),
        Case(_NAMED.format("n1 .. n2", "web_1 .. web_2", "10.20.0.11 .. 10.20.0.12"), found="web_1 and web_2",
             edits=True, mended=_NAMED.format("n1 .. n2", "web-1 .. web-2", "10.20.0.11 .. 10.20.0.12")),
        Case(_NODE.format("n_1", "10.20.0.11") + _NODE.format("n-1", "10.20.0.12"), at="n_1"),
        Case(_SWITCH.format("sw") + _CABLED.format("st_1", "sw.1"), at="st_1"),
        Case(_SWITCH.format("sw_1") + 'address = "10.20.0.2"\n', at="sw_1"),
        Case(_NODE.format("küche", "10.20.0.11"), at="küche", found="küche"),
        Case(_NODE.format("n1-", "10.20.0.11"), at="begins or ends with a hyphen", level="error",
             mended=_NODE.format("n1", "10.20.0.11")),
        Case(_NAMED.format("n1", "a" * 64, "10.20.0.11"), at="has 64 characters; 63 are allowed", level="error"),
        Case(_NAMED.format("n1", "ab--c", "10.20.0.11"), at="n1", level="warning"),
        Case(_LAB + _NAMED.format("n1", "n_1.lab.internal", "10.20.0.11"), at="n1", edits=True,
             mended=_LAB + _NAMED.format("n1", "n-1.lab.internal", "10.20.0.11")),
    ],
)  # fmt: skip


def _beside(names: list[HostName]) -> str:
    """Return the names in brackets, where they are not the ids that are named anyway."""
    return "" if all(name.name == name.thing.id for name in names) else f" ({shown_names(names)})"


@rule(level="error", over="plan")
def number(plan: Plan, host_names: list[HostName]) -> Iterator[Finding]:
    """No host name reads as an address.

    A program that takes a name or an address looks for the address first, and finds one in a name that is a number:
    `7` is the address 0.0.0.7 to many. A domain behind the name helps only where it is written.

    Source: RFC 1123 section 2.1: an address is told from a name by its last part, which is no number in a name.
    """
    numbers = [name for name in host_names if reads_as_number(name.name) or reads_as_number(name.full)]
    for entry in by_entry(numbers):
        for level, names in _numbers(entry):
            new = [f"n{name.name}" for name in names]
            yield Finding(
                level,
                names[0].thing,
                f"the host name of {listed(_ids(names))} reads as an address"
                + (" where its domain is left out" if level == "warning" else ""),
                found=shown_names(names),
                remedy=f"begin it with a letter: {in_words(new)}"
                if not any(reads_as_number(name) for name in new)
                else "give it a name that ends in letters",
                path=names[0].path,
                subjects=_ids(names),
            )


def _numbers(entry: list[HostName]) -> Iterator[tuple[Level, list[HostName]]]:
    always = [name for name in entry if reads_as_number(name.full)]
    short = [name for name in entry if reads_as_number(name.name) and not reads_as_number(name.full)]
    if always:
        yield "error", always
    if short:
        yield "warning", short


cases(
    number,
    clean=[
        _NODE.format("n1", "10.20.0.11") + _NODE.format("1a", "10.20.0.12") + _NODE.format("0xylem", "10.20.0.13"),
        _NAMED.format("1", "n1", "10.20.0.11"),
        _LAB + _NAMED.format("1", "1.lab.internal", "10.20.0.11"),
    ],
    flagged=[
        Case(_NODE.format("1 .. 4", "10.20.0.11 .. 10.20.0.14"), at="1 .. 4", found="1 .. 4", level="error",
             mended=_NODE.format("1 .. 4", "10.20.0.11 .. 10.20.0.14") + 'name = "n1 .. n4"\n'),
        Case(_NAMED.format("n1", "10.20.0.11", "10.20.0.11"), at="n1", level="error"),
        Case(_NAMED.format("n1", "0x1f", "10.20.0.11"), at="n1", level="error"),
        Case(_LAB + _NODE.format("7", "10.20.0.11"), at="7", level="warning"),
    ],
)  # fmt: skip


@rule(level="error", over="plan")
def too_long(plan: Plan, host_names: list[HostName]) -> Iterator[Finding]:
    """A host name with its domain has 253 characters at the most; 63 are what every program must take.

    Formula: 255 octets on the wire, less one for the length of the first label and one for the root, are 253
    characters.

    Source: RFC 1035 section 2.3.4; RFC 1123 section 2.1 (software must handle 63 and should handle 255 characters).
    """
    for entry in by_entry(name for name in host_names if len(name.full) > MUST_HANDLE):
        long = [name for name in entry if all(len(x) <= MUST_HANDLE for x in name.full.split("."))]
        if not long:
            continue
        worst = max(len(name.full) for name in long)
        over = worst > NAME_MAX
        tail = "can be looked up" if over else "are what every program must take"
        yield Finding(
            "error" if over else "note",
            long[0].thing,
            f"the host name of {listed(_ids(long))} has {worst} characters with its domain; "
            f"{NAME_MAX if over else MUST_HANDLE} {tail}",
            found=str(worst),
            allowed=str(NAME_MAX if over else MUST_HANDLE),
            remedy="shorten the name or the domain",
            path=long[0].path,
            subjects=_ids(long),
        )


# RFC 1035: labels of 63, 63, 63 and 61 make the longest name of all, 253 characters.
_LONGEST = ".".join("d" * length for length in (63, 63, 61))

cases(
    too_long,
    clean=[
        _DOMAIN.format("d" * 60) + _NODE.format("n1", "10.20.0.11"),
        _NAMED.format("n1", "n" * 64, "10.20.0.11"),  # `names.label` has that one
    ],
    flagged=[
        Case(_DOMAIN.format("d" * 60) + _NODE.format("n1 .. n2", "10.20.0.11 .. 10.20.0.12") + 'name = "n10 .. n11"\n',
             at="n1", found="64", level="note"),
        Case(_DOMAIN.format(_LONGEST) + _NODE.format("n" * 63, "10.20.0.11"), found="253", level="note"),
        Case(_DOMAIN.format(_LONGEST + "d") + _NODE.format("n" * 63, "10.20.0.11"), found="254", level="error"),
    ],
)  # fmt: skip


@rule(level="error", over="plan")
def clash(plan: Plan, host_names: list[HostName]) -> Iterator[Finding]:
    """No two machines have one host name; case makes no difference.

    Names are looked up without regard to case, so `Store` and `store` are one name: whoever was entered last is found,
    and the other one never.

    Source: RFC 1035 section 2.3.3.
    """
    called: dict[str, list[HostName]] = {}
    for name in host_names:
        called.setdefault(folded(name.full), []).append(name)
    groups: dict[tuple[Path, ...], list[list[HostName]]] = {}
    for names in called.values():
        if len(names) < 2 or is_never_a_machine(names[0].full):
            continue  # of the latter `names.reserved` speaks
        if any(name.stated or name.thing.id != names[0].thing.id for name in names):
            groups.setdefault(tuple(dict.fromkeys(name.path for name in names)), []).append(names)
    for paths, clashes in groups.items():
        order = {path: i for i, path in enumerate(paths)}
        names = sorted((name for clash in clashes for name in clash), key=lambda name: order[name.path])
        last = next(name for name in names if name.path == paths[-1])
        shown = listed(clash[0].full for clash in clashes)
        edits = _by_their_ids(names, called) if len(paths) == 1 else ()
        yield Finding(
            "error",
            last.thing,
            f"{listed(_ids(names))} share the host name{'s' if len(clashes) > 1 else ''} {shown}",
            found=shown,
            remedy="take the name out: each has its id then" if edits else "give each a name of its own",
            edits=edits,
            path=last.path,
            subjects=_ids(names),
            related=[(names[0].path, f"{names[0].thing.id} has it too")] if len(paths) > 1 else [],
        )


def _by_their_ids(names: list[HostName], called: dict[str, list[HostName]]) -> tuple[Edit, ...]:
    """Return the edit that takes out a name that a whole entry shares, where its ids would do."""
    tail = names[0].full[len(names[0].name.removesuffix(".")) :]
    lawful = all(problem_with_name(name.thing.id + tail) is None for name in names)
    free = all(folded(name.thing.id + tail) not in called for name in names)
    return (Take(names[0].key),) if lawful and free else ()


cases(
    clash,
    clean=[
        _NODE.format("store", "10.20.0.11") + _NODE.format("n1", "10.20.0.12"),
        _NAMED.format("Store", "disks", "10.20.0.11") + _NODE.format("store", "10.20.0.12"),
        _NAMED.format("a", "n1.a.internal", "10.20.0.11") + _NAMED.format("b", "n1.b.internal", "10.20.0.12"),
        _NODE.format("store", "10.20.0.11") + '[[fan]]\nid = "Store"\n',  # nobody calls a fan
        _NAMED.format("n1 .. n2", "localhost", "10.20.0.11 .. 10.20.0.12"),  # `names.reserved` has that one
    ],
    flagged=[
        Case(_NODE.format("Store", "10.20.0.11") + _NODE.format("store", "10.20.0.12"), at="store", level="error",
             mended=_NAMED.format("Store", "disks", "10.20.0.11") + _NODE.format("store", "10.20.0.12")),
        Case(_NODE.format("n1", "10.20.0.11") + _NAMED.format("n2", "N1", "10.20.0.12"), at="n2", found="n1"),
        Case(_LAB + _NODE.format("n1", "10.20.0.11") + _NAMED.format("n2", "n1.lab.internal.", "10.20.0.12"),
             found="n1.lab.internal"),
        Case(_NAMED.format("n1 .. n3", "n", "10.20.0.11 .. 10.20.0.13"), at="n1 .. n3", found="n", edits=True,
             mended=_NODE.format("n1 .. n3", "10.20.0.11 .. 10.20.0.13")),
        Case(_NODE.format("n1 .. n2", "10.20.0.11 .. 10.20.0.12")
             + _NAMED.format("m1 .. m2", "N1 .. N2", "10.20.0.21 .. 10.20.0.22"), found="n1 and n2"),
    ],
)  # fmt: skip


@rule(level="warning", over="plan")
def server(plan: Plan, name_server: NameServer, host_names: list[HostName]) -> Iterator[Finding]:
    """What is to answer for the names of a plan is a machine of it with an address, or a full name elsewhere.

    A zone that leads to a name server which nobody can find is refused by the server that is to load it, so the
    sheets make none.

    Source: RFC 1035 section 3.3.11; RFC 1912 section 2.8 (a name server without an address in its own zone).
    """
    if not name_server.why:
        return
    stated = str(plan.head.name_server)
    near = nearest(stated, [name.name for name in host_names])
    yield Finding(
        "warning",
        ("plan", "name_server"),
        f'the name server "{stated[:64]}" {name_server.why}',
        found=stated[:64],
        allowed="a machine with an address, or a full name elsewhere",
        remedy=f'write "{near}"' if near else "name a machine of the plan that has an address",
        path=("plan", "name_server"),
        subjects=("plan",),
    )


_SERVER = '[plan]\ndomain = "lab.internal"\nname_server = "{}"\n'

cases(
    server,
    clean=[
        _LAB + _NODE.format("n1", "10.20.0.11"),
        _SERVER.format("n1") + _NODE.format("n1", "10.20.0.11"),
        _SERVER.format("N1.lab.internal") + _NODE.format("n1", "10.20.0.11"),
        _SERVER.format("names") + _NAMED.format("n1", "names", "10.20.0.11"),
        _SERVER.format("ns.valley.test") + _NODE.format("n1", "10.20.0.11"),
    ],
    flagged=[
        Case(
            _SERVER.format("n2") + _NODE.format("n1", "10.20.0.11"),
            at="is no machine of the plan",
            found="n2",
        ),
        Case(_SERVER.format("ns.lab.internal") + _NODE.format("n1", "10.20.0.11"), at="is no machine"),
        Case(_SERVER.format("n1") + '[[node]]\nid = "n1"\nname = "n1"\n', at="has no address"),
        Case(_SERVER.format("n_1.test") + _NODE.format("n1", "10.20.0.11"), at="cannot be a host name"),
    ],
)


@rule(level="warning", over="plan")
def crossed(plan: Plan, host_names: list[HostName]) -> Iterator[Finding]:
    """No machine is called on the network what another one is called in the plan.

    Whoever reads the plan and types the name reaches the wrong machine. Two names that are swapped are one slip.

    Source: common practice.
    """
    by_id = {folded(name.thing.id): name for name in host_names}
    pairs: dict[frozenset[Path], list[tuple[HostName, HostName]]] = {}
    for name in host_names:
        if name.stated:
            first = folded(name.name).partition(".")[0]
            other = by_id.get(first)
            if other is None or other.thing is name.thing or not other.stated:
                continue  # where the other has its id for a name, `names.clash` has it
            if folded(other.full) != folded(name.full):
                pairs.setdefault(frozenset((name.path, other.path)), []).append((name, other))
    for found in pairs.values():
        names = [name for name, _ in found]
        others = [other for _, other in found]
        yield Finding(
            "warning",
            names[-1].thing,
            f"host name of {listed(_ids(names))}: {shown_names(names)}, which in the plan means "
            f"{listed(_ids(others))}, called {shown_names(others)}",
            found=shown_names(names),
            remedy="let each have its id for a name, or a name that is nobody's id",
            path=names[-1].path,
            subjects=_ids(names),
            related=[(others[-1].path, f"the name of {others[-1].thing.id}")],
        )


cases(
    crossed,
    clean=[
        _NAMED.format("n1", "web", "10.20.0.11") + _NAMED.format("n2", "mail", "10.20.0.12"),
        _NAMED.format("n1", "N1", "10.20.0.11"),
        _NODE.format("n1", "10.20.0.11") + _NAMED.format("n2", "n1", "10.20.0.12"),  # `names.clash` has that one
        _LAB + _NODE.format("n1", "10.20.0.11") + _NAMED.format("n2", "n1.shed.internal.", "10.20.0.12"),
    ],
    flagged=[
        Case(_NAMED.format("n1", "n2", "10.20.0.11") + _NAMED.format("n2", "n1", "10.20.0.12"), at="n2",
             mended=_NAMED.format("n1", "n1", "10.20.0.11") + _NAMED.format("n2", "n2", "10.20.0.12")),
        Case(_NAMED.format("n1 .. n4", "n2 .. n5", "10.20.0.11 .. 10.20.0.14"), found="n2 .. n4"),
    ],
)  # fmt: skip


@rule(level="error", over="plan")
def reserved(plan: Plan, host_names: list[HostName]) -> Iterator[Finding]:
    """No machine has a name that hosts files or programs that look for a service take for themselves.

    What is called `localhost` is never reached, since every machine means itself by it. A machine called `wpad` is
    asked by browsers which proxy to use.

    Source: hosts files; common practice.
    """
    for entry in by_entry(name for name in host_names if is_never_a_machine(name.name)):
        asked = all(folded(name.name).partition(".")[0] in ("wpad", "isatap") for name in entry)
        why = "programs look for a service there" if asked else "every machine means itself by it"
        yield Finding(
            "warning" if asked else "error",
            entry[0].thing,
            f"host name of {listed(_ids(entry))}: {shown_names(entry)}, which no machine should have: {why}",
            found=shown_names(entry),
            remedy="give it another name",
            path=entry[0].path,
            subjects=_ids(entry),
        )


cases(
    reserved,
    clean=[_NODE.format("local", "10.20.0.11"), _NAMED.format("localhost", "n1", "10.20.0.11")],
    flagged=[
        Case(_NODE.format("Localhost", "10.20.0.11"), at="Localhost", level="error",
             mended=_NAMED.format("Localhost", "n1", "10.20.0.11")),
        Case(_NAMED.format("n1", "wpad.lab.internal", "10.20.0.11"), at="n1", level="warning"),
    ],
)  # fmt: skip

# What becomes of a domain that is set aside: how grave it is, and what happens to names in it.
_HARM: dict[str, tuple[Level, str]] = {
    "multicast DNS only": ("error", "machines ask each other for such names and never a server"),
    "loopback": ("error", "every machine means itself by such names"),
    "always fails": ("error", "programs answer that such names do not exist"),
    "not DNS": ("error", "programs must not look such names up"),
    "documentation": ("warning", "such names stand in documents, and some programs refuse them"),
}


@rule(level="error", over="plan")
def domain(plan: Plan, host_names: list[HostName]) -> Iterator[Finding]:
    """The domain of host names is lawful, and one that a network of our own may have.

    `.internal` and `home.arpa` are set aside for networks like this one, and a domain that you have registered is
    good as well. `.local` belongs to multicast DNS. What is merely in wide use, like `.lan`, works until somebody is
    given it.

    Source: RFC 6762 (`.local`), RFC 6761, RFC 7686, RFC 9476, RFC 8375; ICANN SAC113 (`.internal`).
    """
    stated = plan.head.domain
    path = (*plan.head.path, "domain")
    if stated is not None and (problem := problem_with_name(stated)):
        yield Finding("error", path, f'the domain "{stated[:70]}" {problem}', found=stated[:70],
                      remedy="write a domain of letters, digits and hyphens, such as lab.internal", path=path,
                      subjects=("domain",))  # fmt: skip
        return
    own = special_domain(stated) if stated is not None else None
    if own is not None and stated is not None and not own.zone_ok:
        new = stated[: len(stated.removesuffix(".")) - len(own.domain)] + "internal"
        inside = any(name.stated and special_domain(name.name) is own for name in host_names)
        exact = "." not in own.domain and not inside
        yield _set_aside(f"the domain {stated}", own, path, ("domain",), f'write domain = "{new}"',
                         (Put(path, new),) if exact else ())  # fmt: skip
    others: dict[str, list[HostName]] = {}
    for name in host_names:
        if (
            name.stated
            and name.domain
            and (row := special_domain(name.domain))
            and not row.zone_ok
            and row is not own
        ):
            others.setdefault(row.domain, []).append(name)
    for names in others.values():
        row = special_domain(names[0].domain)
        if row is not None:
            yield _set_aside(f"the domain of {listed(_ids(names))}", row, names[0].path, _ids(names),
                             "write a domain that may be yours, such as lab.internal", ())  # fmt: skip


def _set_aside(
    what: str, row: SpecialDomain, path: Path, subjects: tuple[str, ...], remedy: str, edits: tuple[Edit, ...]
) -> Finding:
    level, why = _HARM.get(row.use, ("note", "it is not set aside for networks of one's own"))
    return Finding(level, path, f"{what} ends in .{row.domain} ({row.use}): {why}", found=row.domain, remedy=remedy,
                   edits=edits, basis=row.source, path=path, subjects=subjects)  # fmt: skip


cases(
    domain,
    clean=[
        *[_DOMAIN.format(text) for text in ("lab.internal", "home.arpa", "lab.test", "mylocal", "example.dev", "n1.")],
        _NODE.format("local", "10.20.0.11"),
        _LAB + _NAMED.format("n1", "local", "10.20.0.11"),
    ],
    flagged=[
        Case(_DOMAIN.format("lab.local"), found="local", level="error", edits=True,
             mended=_DOMAIN.format("lab.internal")),
        Case(_DOMAIN.format("local"), level="error", mended=_DOMAIN.format("internal")),
        *[Case(_DOMAIN.format(f"lab.{text}"), found=text, level="error") for text in ("localhost", "invalid", "onion",
                                                                                      "alt")],
        Case(_DOMAIN.format("example.com"), found="example.com", level="warning"),
        *[Case(_DOMAIN.format(text), found=text, level="note") for text in ("lan", "home", "corp", "mail", "intranet",
                                                                            "private")],
        Case(_DOMAIN.format("my_lab.internal"), found="my_lab.internal", level="error",
             mended=_DOMAIN.format("my-lab.internal")),
        Case(_DOMAIN.format("10.20"), level="error"),
        Case(_NAMED.format("n1 .. n2", "n1.local .. n2.local", "10.20.0.11 .. 10.20.0.12"), at="n1", level="error"),
    ],
)  # fmt: skip


@rule(level="warning", over="plan")
def elsewhere(plan: Plan, host_names: list[HostName]) -> Iterator[Finding]:
    """A name that is written with a domain is written with that of the plan, or closed by a dot.

    Otherwise the domain of the plan is put behind it as well, and what was meant as the whole name is found nowhere.

    Source: RFC 1034 section 3.1 (a name that ends in a dot is complete; from memory).
    """
    stated = folded((plan.head.domain or "").strip("."))
    if not stated:
        return
    top = stated.rpartition(".")[2]
    for entry in by_entry(name for name in host_names if name.stated and _twice(name, stated, top)):
        right = [f"{name.name.partition('.')[0]}.{stated}" for name in entry]
        yield Finding(
            "warning",
            entry[0].thing,
            f"host name of {listed(_ids(entry))}: {shown_names(entry)}, with a domain that is not {stated}",
            found=shown_names(entry),
            allowed=stated,
            remedy=f"write {in_words(right)}, or close it with a dot",
            path=entry[0].path,
            subjects=_ids(entry),
        )


def _twice(name: HostName, domain: str, top: str) -> bool:
    """Say whether the domain of the plan stands behind a name that looks whole by itself."""
    return "." in name.name and name.full != name.name.removesuffix(".") and (
        folded(name.name).rpartition(".")[2] == top and not folded(name.name).endswith("." + domain)
    )  # fmt: skip


cases(
    elsewhere,
    clean=[
        _LAB + _NAMED.format("n1", "n1.lab.internal", "10.20.0.11"),
        _LAB + _NAMED.format("n1", "n1.left", "10.20.0.11"),
        _LAB + _NAMED.format("n1", "n1.shed.internal.", "10.20.0.11"),
        _NAMED.format("n1", "n1.shed.internal", "10.20.0.11"),
    ],
    flagged=[
        Case(_LAB + _NAMED.format("n1", "n1.lba.internal", "10.20.0.11"), at="n1", found="n1.lba.internal",
             mended=_LAB + _NAMED.format("n1", "n1.lab.internal", "10.20.0.11")),
    ],
)  # fmt: skip
