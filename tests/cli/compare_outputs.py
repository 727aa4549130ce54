"""Compares two output folders of one day: text files byte by byte bar the versions, the workbook cell by cell.

Usage: compare_outputs.py FOLDER FOLDER
"""
import pathlib
import re
import sys

import openpyxl

TEXTS = ("brief.md", "brief.html", "note.txt", "status.json", "inputs.json")


def text(path):
    return re.sub(rb'"versions":\{[^}]*\}', b'"versions":{}', path.read_bytes())


def cells(path):
    book = openpyxl.load_workbook(path)
    return {
        (sheet.title, cell.coordinate): (cell.value, cell.data_type, cell.number_format)
        for sheet in book
        for row in sheet.iter_rows()
        for cell in row
    }


one, other = (pathlib.Path(argument) for argument in sys.argv[1:3])
differing = [name for name in TEXTS if text(one / name) != text(other / name)]
left, right = cells(one / "brief.xlsx"), cells(other / "brief.xlsx")
differing += [f"brief.xlsx {where}" for where in sorted(left.keys() | right.keys()) if left.get(where) != right.get(where)]
for name in differing:
    print(f"differs: {name}")
print(f"{len(TEXTS)} texts and {len(left)} cells compared, {len(differing)} differ")
sys.exit(1 if differing else 0)
