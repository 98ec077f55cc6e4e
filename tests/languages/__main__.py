"""Bring the catalogue up to what is marked, and say what is still to be translated."""

from __future__ import annotations

from tests.languages.catalogue import PO, bring_up, untranslated, write
from tests.languages.marked import ROOT

catalogue = bring_up()
write(catalogue)
missing = untranslated(catalogue)
print(f"{len(catalogue)} texts in {PO.relative_to(ROOT)}, {len(missing)} of them to be translated.")
for text in missing:
    print(f"  {text}")
