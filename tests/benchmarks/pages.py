"""The pages of a large farm in a real browser: 30 pens, 6 machines, ten years, some 40,000 trays.

Run by hand (needs chromium): `python tests/benchmarks/pages.py [YEARS] [--people N]`. In one run: an empty
Streamlit app and `penwise serve` are started, and the time from the start of the program to the first page's
figures is compared; every page is opened, and compared with its slowest question, asked in a process of its
own, and the drawing (the page opened again, its answer kept); then five people (`--people`) walk all pages at
once, and the memory that the program held at most is read. Prints a table; exits 1 when a limit is missed, or
when anybody saw an error.
"""

# ruff: noqa: T201 - a script that prints
from __future__ import annotations

import argparse
import asyncio
import os
import signal
import socket
import subprocess
import sys
import tempfile
import time
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))

from causes_years import write_sheets
from playwright.async_api import Browser, Page, async_playwright

from analytics.sheets.load import load

FIRST, CHANGE, MEMORY_MB = 3.0, 2.0, 500.0
"""First view beside an empty app's; a page beside its question and drawing; memory with five people, MB."""
CHROMIUM, PATIENCE = "/usr/bin/chromium", 300_000
ASKED = {
    "": "month_whole import whole_review as ask;"
    "from analytics.studies.month import month_review as month;"
    "ask(store, month(store, None, S(), date.today(), looking_back=True))",
    "one-hatch": "batch import one_batch as ask; ask(store, 'W519M5', date.today())",
    "pens": "pens import pen_comparison as ask; ask(store, 'hatch_of_set', S())",
    "trends": "trends import trend as ask; ask(store, 'hatch_of_set', 'storage', S())",
    "losses": "causes import causes as ask; ask(store, S())",
    "incubators": "incubators import incubators as ask; ask(store, S())",
    "changes": "changes import changes as ask; ask(store, S())",
    "breeders": "breeders import breeders as ask; ask(store, S())",
    "plan": "causes import causes as ask; ask(store, S())",
    "record-sheets": "",
}
"""The slowest question of each page."""
EMPTY = "import streamlit as st\nst.title('Empty')\n"
SETTLED = (
    "() => document.querySelector('[data-testid=stApp]')?.dataset.testScriptState === 'notRunning'"
    " && document.querySelector('h1')"
)
TROUBLE = "[data-testid=stException]"


@dataclass
class Program:
    """A program that answers.

    Attributes:
        url: where.
        process: its number.
        began: when it was started, by `time.perf_counter`.
    """

    url: str
    process: int
    began: float

    def most_mb(self) -> float:
        """The most memory it has held so far, MB."""
        status = Path(f"/proc/{self.process}/status").read_text()
        return int(status.split("VmHWM:")[1].split()[0]) / 1024


@contextmanager
def started(words: list[str], home: Path) -> Iterator[Program]:
    """A program on a free port, from its start until the end of the block."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    began = time.perf_counter()
    job = subprocess.Popen(
        [sys.executable, *(word.format(port=port) for word in words)],
        cwd=home,
        env={**os.environ, "HOME": str(home), "XDG_DATA_HOME": str(home / "data")},
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
        start_new_session=True,
    )
    try:
        while True:
            try:
                urllib.request.urlopen(f"http://127.0.0.1:{port}/_stcore/health", timeout=2).close()
                break
            except OSError:
                time.sleep(0.05)
        yield Program(f"http://127.0.0.1:{port}", job.pid, began)
    finally:
        os.killpg(job.pid, signal.SIGKILL)
        job.wait()


def empty_app(home: Path) -> list[str]:
    """Words that start an app with a title and nothing else."""
    (home / "empty.py").write_text(EMPTY)
    return ["-m", "streamlit", "run", "empty.py", "--server.port", "{port}", "--server.headless", "true",
            "--server.address", "127.0.0.1", "--server.fileWatcherType", "none",
            "--browser.gatherUsageStats", "false"]  # fmt: skip


def dashboard(store: Path) -> list[str]:
    """Words that start the dashboard."""
    start = "from analytics.cli.main import main; main()"
    return ["-c", start, "serve", "--store", str(store), "--port", "{port}", "--no-browser"]


async def opened(page: Page, url: str) -> float:
    """Seconds until a page stands and no run is under way."""
    began = time.perf_counter()
    await page.goto(url, timeout=PATIENCE)
    await page.wait_for_selector("h1", timeout=PATIENCE)
    await page.wait_for_function(SETTLED, timeout=PATIENCE)
    return time.perf_counter() - began


async def first_view(browser: Browser, program: Program, shown: str) -> float:
    """Seconds from the start of the program until the first page shows what it is opened for."""
    context = await browser.new_context()
    page = await context.new_page()
    await page.goto(program.url, timeout=PATIENCE)
    await page.wait_for_selector(shown, timeout=PATIENCE)
    seconds = time.perf_counter() - program.began
    await context.close()
    return seconds


async def walk(browser: Browser, program: Program, person: int) -> list[str]:
    """One person opens every page, each beginning elsewhere; returns what went wrong."""
    context = await browser.new_context()
    page = await context.new_page()
    wrong: list[str] = []
    page.on("pageerror", lambda error: wrong.append(f"person {person}: {error}"))
    names = list(ASKED)
    for name in names[person % len(names) :] + names[: person % len(names)]:
        await opened(page, f"{program.url}/{name}")
        if await page.locator(TROUBLE).count():
            wrong.append(f"person {person}: /{name} shows an error")
    await context.close()
    return wrong


def question(store: Path, name: str) -> float:
    """Seconds for the slowest question of a page, in a process of its own."""
    code = (
        "import sys, time; from datetime import date; from pathlib import Path;"
        "from analytics.options import Selection as S;"
        f"store = Path(sys.argv[1]); began = time.perf_counter(); from analytics.studies.{ASKED[name]};"
        "print(time.perf_counter() - began)"
    )
    done = subprocess.run([sys.executable, "-c", code, str(store)], capture_output=True, text=True)
    if done.returncode:
        sys.exit(done.stderr)
    return float(done.stdout.split()[-1])


async def measured(store: Path, home: Path, people: int) -> list[tuple[str, str, bool]]:
    """Rows: what, the figures, whether within the limit."""
    rows = []
    async with async_playwright() as playwright:
        browser = await playwright.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox"])
        with started(empty_app(home), home) as program:
            empty = await first_view(browser, program, "h1")
        with started(dashboard(store), home) as program:
            ours = await first_view(browser, program, "[data-testid=stPlotlyChart]")
            rows.append(
                (
                    "first view",
                    f"{ours:.1f} s, an empty app {empty:.1f} s: {ours / empty:.1f} of {FIRST}",
                    ours <= FIRST * empty,
                )
            )
            page = await (await browser.new_context()).new_page()
            for name, asked in ASKED.items():
                cold, again = [await opened(page, f"{program.url}/{name}") for _ in range(2)]
                alone = question(store, name) if asked else 0.0
                most = CHANGE * (alone + again)
                rows.append(
                    (
                        f"/{name}",
                        f"{cold:.1f} s; question {alone:.1f} + drawing {again:.1f} s, most {most:.1f} s",
                        cold <= most,
                    )
                )
                print(*rows[-1], flush=True)
        with started(dashboard(store), home) as program:
            wrong = await asyncio.gather(*(walk(browser, program, person) for person in range(people)))
            said = [line for lines in wrong for line in lines]
            rows.append((f"{people} people, all pages", "; ".join(said) or "no error", not said))
            most_mb = program.most_mb()
            fits = people > 5 or most_mb <= MEMORY_MB
            rows.append(("memory", f"{most_mb:.0f} MB at most; {MEMORY_MB:.0f} with five people", fits))
        await browser.close()
    return rows


def main() -> int:
    """Builds the farm, measures, prints."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("years", nargs="?", type=int, default=10)
    parser.add_argument("--people", type=int, default=5)
    given = parser.parse_args()
    with tempfile.TemporaryDirectory(prefix="pages-") as name:
        folder = Path(name)
        write_sheets(folder, given.years)
        store = folder / "farm.duckdb"
        load(store, [folder / f"{sheet}.csv" for sheet in ("pens", "incubators", "batches", "trays")])
        rows = asyncio.run(measured(store, folder, given.people))
    for what, figures, fits in rows:
        print(f"{'   ' if fits else 'OUT'} {what:24} {figures}")
    return 0 if all(fits for *_, fits in rows) else 1


if __name__ == "__main__":
    sys.exit(main())
