"""Bring the catalogue up to what is marked, and say what is still to be translated."""

from __future__ import annotations

import sys

from tests.languages.catalogue import PO, bring_up, untranslated, write
from tests.languages.marked import ROOT

catalogue = bring_up()
write(catalogue)
missing = untranslated(catalogue)
sys.stdout.write(
    f"{len(catalogue)} texts in {PO.relative_to(ROOT)}, {len(missing)} of them to be translated.\n"
)
for text in missing:
    sys.stdout.write(f"  {text}\n")
