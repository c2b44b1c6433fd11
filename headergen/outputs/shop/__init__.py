"""The bench as files: shop.json with all of it, and a CSV for each table in the folder shop/.

The tables for the terminal are in `headergen.outputs.shop.terminal`, which alone imports rich.
"""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path

from headergen.model import Header, Shop
from headergen.outputs.shop.data import shop_data
from headergen.outputs.shop.tables import ShopTable, all_tables

__all__ = ["all_tables", "shop_data", "write_shop"]

FOLDER = "shop"


def write_shop(folder: Path, header: Header, shop: Shop, version: str) -> None:
    """Write shop.json and the CSV files into an existing folder: UTF-8, one newline at the end of a line.

    Raises ValueError if a number is not finite, and OSError if a file cannot be written.
    """
    text = json.dumps(shop_data(header, shop, version), indent=2, sort_keys=True, ensure_ascii=False, allow_nan=False)
    (folder / "shop.json").write_bytes((text + "\n").encode())
    (folder / FOLDER).mkdir(exist_ok=True)
    for table in all_tables(header, shop):
        (folder / FOLDER / f"{table.name}.csv").write_bytes(csv_text(table).encode())


def csv_text(table: ShopTable) -> str:
    """A table as in RFC 4180, but with plain newlines; decimals with a point."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(table.heads)
    writer.writerows(table.rows)
    return out.getvalue()
