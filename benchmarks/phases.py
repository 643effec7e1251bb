"""One cold lint, taken apart: ``python -m benchmarks.phases PLAN`` prints the seconds of each phase as JSON.

Nothing is imported before the clock starts but what the clock itself needs.
"""

import sys
import time


def main() -> None:
    """Lint one plan and print how long each phase took [s]."""
    clock = time.perf_counter
    taken: dict[str, float] = {}
    last = clock()

    def lap(name: str) -> None:
        nonlocal last
        now = clock()
        taken[name] = taken.get(name, 0.0) + now - last
        last = now

    import datetime
    from pathlib import Path

    from coldcheck import cli, files, ours  # noqa: F401 - the command imports click
    from coldcheck.formats.report import judged_report
    from coldcheck.formats.text import lines, plain
    from coldcheck.plan.linking import link
    from coldcheck.plan.reading import MOST_BYTES, read_tables

    lap("imports")
    book = ours.rulebook()
    shelf = ours.shelf(book)
    lap("rulebook")
    name = str(Path(sys.argv[1]))
    tables = read_tables(name, files.read(name, MOST_BYTES), shelf.again())
    lap("read")
    plan = link(tables)
    lap("link")

    from benchmarks.dissect import Dissection

    lap("this benchmark")
    dissection = Dissection(book)
    judgement = dissection.judge(plan, datetime.date.today())
    lap("judge")
    report = judged_report(plan.name, plan.places, judgement.findings, judgement.judged)
    text = "\n".join(map(plain, lines([report])))
    lap("output")
    del taken["this benchmark"]
    judge = taken.pop("judge")
    taken["workings"] = sum(dissection.workings.values())
    taken["rules"] = sum(dissection.rules.values())
    taken["sort and fold"] = judge - taken["workings"] - taken["rules"]
    taken["output"] = taken.pop("output")
    assert text
    print("{" + ", ".join(f'"{name}": {seconds}' for name, seconds in taken.items()) + "}")


if __name__ == "__main__":
    main()
