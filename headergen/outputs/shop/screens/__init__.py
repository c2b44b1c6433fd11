"""shop.html: the bench on a phone, one joint on each screen; a single file that needs no network."""

from __future__ import annotations

from pathlib import Path

from headergen.model import Header, Shop
from headergen.model.sign_off import SignOff
from headergen.outputs.shop.cautions import CAUTIONS, NOT_CLEAR, NOT_CLEAR_SHORT, left_on
from headergen.outputs.shop.data import shop_data
from headergen.outputs.shop.screens.steps import buy, counts, screens
from headergen.outputs.shop.sheets.tube import sizes_of
from headergen.show.page import page

FILE = "shop.html"
TEMPLATES = Path(__file__).parents[1] / "templates"


def write_screens(path: Path, header: Header, shop: Shop, facts: SignOff, version: str) -> None:
    """Write the page. Raises OSError if the file cannot be written."""
    data = shop_data(header, shop, version)
    content = {
        "facts": facts,
        "tubes": sizes_of(header),
        "verdict": "Clear of what was checked." if facts.clear else NOT_CLEAR,
        "not_clear": "" if facts.clear else NOT_CLEAR,
        "not_clear_short": NOT_CLEAR_SHORT,
        "units": "inches" if data["shop_units"] == "in" else "millimetres",
        "left_on": left_on(header.draft.shop, header.draft.units),
        "cautions": CAUTIONS,
        "notes": data["notes"],
        "counts": counts(data),
        "buy": list(buy(data)),
        "screens": list(screens(data)),
        "version": version,
    }
    kept = {"key": f"headergen shop: {facts.title}, {facts.revision}, {facts.hash}"}
    path.write_text(page(TEMPLATES, FILE, content, kept, ["shop.js"], draws=False), encoding="utf-8", newline="\n")
