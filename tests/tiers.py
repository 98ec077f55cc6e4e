"""`python -m tests.tiers`: the whole suite, tier by tier, and at its end what could not be run.

Tiers may be named as arguments: sqlite, postgresql, browser.
"""

from __future__ import annotations

import subprocess
import sys
from dataclasses import dataclass

from tests import servers


@dataclass(frozen=True, kw_only=True)
class Tier:
    """One run of pytest, and the tool without which it is pointless."""

    name: str
    needs: str | None
    arguments: tuple[str, ...]


# These know no database (a test holds them to it), so one tier of them is enough.
PURE = ("tests/engine",)

TIERS = (
    Tier(name="sqlite", needs=None, arguments=("-m", "not browser")),
    Tier(
        name="postgresql",
        needs="PostgreSQL",
        arguments=(
            "-p",
            "tests.plugins.postgres",
            "-m",
            "not browser",
            *(f"--ignore={folder}" for folder in PURE),
        ),
    ),
    Tier(name="browser", needs="Chromium", arguments=("-m", "browser")),
)


def run(tier: Tier) -> int:
    """Run one tier in a process of its own, so that each reads its settings afresh."""
    print(f"\n=== Tier: {tier.name} ===", flush=True)
    return subprocess.run([sys.executable, "-m", "pytest", *tier.arguments], check=False).returncode


def main(names: list[str]) -> int:
    """Run the named tiers (all of them when none is named); fail when one fails."""
    known = {tier.name for tier in TIERS}
    if unknown := set(names) - known:
        print(f"No such tier: {', '.join(sorted(unknown))}. There are {', '.join(sorted(known))}.")
        return 2
    missing = servers.missing_tools()
    wanted = [tier for tier in TIERS if not names or tier.name in names]
    results = {tier.name: run(tier) for tier in wanted if tier.needs not in missing}
    print("\n=== Tiers ===")
    for name, code in results.items():
        print(f"{'Failed' if code else 'Passed'}: {name}")
    left_out = [tier for tier in wanted if tier.name not in results]
    for tier in left_out:
        print(f"Tier not run: {tier.name}: {missing[str(tier.needs)]}")
    # A run that a signal ended has a negative code; one that was asked for by name must have run.
    return 1 if any(results.values()) or (names and left_out) else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
