"""Files that mean harm, or are only huge: refused with one sentence or read, in seconds and little memory."""

from __future__ import annotations

import gzip
import subprocess
import sys
import time
from collections.abc import Callable

import pytest
from rendered_view import drawing

from cutpaths.errors import InputError
from cutpaths.inputs.job import Drawing, LabelJob, Wish
from cutpaths.inputs.tool import Method, tool
from cutpaths.outline.supplied import read_outline
from cutpaths.pipeline import make

BOMB = "<!ENTITY a 'aaaaaaaaaa'>" + "".join(
    f"<!ENTITY {b} '{f'&{a};' * 10}'>" for a, b in zip("abcdefghi", "bcdefghij", strict=True)
)
SECRET = (
    '<!DOCTYPE svg [<!ENTITY a SYSTEM "file:///etc/hostname">]>'
    '<svg xmlns="http://www.w3.org/2000/svg"><title>&a;</title></svg>'
)
RECT = '<rect width="9" height="9"/>'


def cells(count: int) -> str:
    return "".join(f'<rect x="{k % 200}" y="{k // 200}" width=".5" height=".5"/>' for k in range(count))


def zigzag(count: int) -> str:
    return '<path d="M0 0' + "".join(f"L{37 * k % 199} {91 * k % 197}" for k in range(count)) + '"/>'


def tower(element: str, count: int) -> str:
    return f"<{element}>" * count + RECT + f"</{element}>" * count


def copies(k: int) -> str:
    return f'<g id="a{k}">' + f'<use href="#a{k - 1}"/>' * 10 + "</g>"


PATTERNED = (
    '<pattern id="p" patternUnits="userSpaceOnUse" width="3" height="3"><circle cx="1" cy="1" r="1"/></pattern>'
    '<rect width="160" height="160" fill="url(#p)"/>'
)
# Linux hands the peak of the process that started it down to a new one in getrusage; not so in its own status.
PROBE = """
import re, resource, sys
from pathlib import Path
from cutpaths.errors import InputError
from cutpaths.outline.supplied import read_outline
try:
    read_outline(sys.stdin.buffer.read())
except InputError:
    print("InputError")
status = Path("/proc/self/status")
peak = re.search(r"VmHWM:\\s+(\\d+)", status.read_text()) if status.exists() else None
print(peak[1] if peak else resource.getrusage(resource.RUSAGE_SELF).ru_maxrss)
"""
REFUSED: dict[str, Callable[[], bytes]] = {
    "entity bomb": lambda: f"<!DOCTYPE svg [{BOMB}]>".encode() + drawing("<title>&j;</title>" + RECT),
    "one long entity many times": lambda: (
        f"<!DOCTYPE svg [<!ENTITY a '{'a' * 100_000}'>]>".encode() + drawing(f"<title>{'&a;' * 20_000}</title>")
    ),
    "entity of itself": lambda: b"<!DOCTYPE svg [<!ENTITY a '&b;'><!ENTITY b '&a;'>]>" + drawing("<title>&a;</title>"),
    "external entity": SECRET.encode,
    "external entity in UTF-16": lambda: SECRET.encode("utf-16"),
    "parameter entity": lambda: b'<!DOCTYPE svg [<!ENTITY % a SYSTEM "http://localhost/x"> %a;]>' + drawing(RECT),
    "10 MB of path data": lambda: drawing('<path d="M0 0' + "l1.5 2.5-1 3.25" * 700_000 + '"/>'),
    "lines that all cross": lambda: drawing(zigzag(20_000)),
    "100,000 elements": lambda: drawing(cells(100_000)),
    "30,000 elements": lambda: drawing(cells(30_000)),
    "copies of copies": lambda: drawing(f'<g id="a0">{RECT}</g>' + "".join(copies(k) for k in range(1, 10))),
    "deep": lambda: drawing(tower("g", 240)),
    "deeper": lambda: drawing(tower("g", 100_000)),
    "copy of itself": lambda: drawing('<use id="a" href="#b"/><use id="b" href="#a"/>'),
    "1e300": lambda: drawing('<path d="M0 0L1e300 0 1e300 1e300z"/>'),
    "1e999": lambda: drawing('<rect width="1e999" height="5"/>'),
    "overflow by transforms": lambda: drawing(f'<g transform="scale(1e9)"><g transform="scale(1e9)">{RECT}</g></g>'),
    "NaN": lambda: drawing('<path d="MNaN 0L9 9 0 9z"/><rect width="nan" height="inf"/>'),
    "a million dashes": lambda: drawing('<path d="M0 0H200" stroke="red" stroke-dasharray=".0002"/>'),
    "involved selectors": lambda: drawing(f"<style>{'g ' * 60}rect{{fill:red}}</style>" + tower("g", 100)),
    "endless number": lambda: drawing(f"<style>rect{{stroke-width:{'9' * 5000}}}</style>" + RECT),
    "endless number in place": lambda: drawing(f'<rect width="9" height="9" style="stroke-width:{"9" * 5000}"/>'),
    "endless selector": lambda: drawing(f"<style>{'g ' * 5000}rect{{fill:red}}</style>" + RECT),
    "endless style": lambda: drawing(f'<rect width="9" height="9" style="{"fill:red;" * 90_000}"/>'),
    "100,000 attributes": lambda: drawing("<rect " + " ".join(f"a{k}=''" for k in range(100_000)) + "/>"),
    "gradients of gradients": lambda: drawing(
        "".join(f'<linearGradient id="g{k}" href="#g{k + 1}"/>' for k in range(20_000))
        + '<rect width="9" height="9" fill="url(#g0)"/>'
    ),
    "sibling selectors": lambda: drawing(f"<style>{'rect~' * 12}rect{{fill:red}}</style>" + RECT * 3900),
    "counting selectors": lambda: drawing(f"<style>{'rect:nth-child(2n+1){fill:red}' * 300}</style>" + RECT * 3900),
    "selectors in selectors": lambda: drawing(f"<style>{':not(' * 3000}a{')' * 3000}{{fill:red}}</style>" + RECT),
    "endless transform": lambda: drawing(f'<rect width="9" height="9" transform="{"rotate(1)" * 300_000}"/>'),
    "clip paths of many pieces": lambda: drawing(
        f'<clipPath id="c"><path d="M0 0{"l9 7-8 3" * 900}z"/></clipPath>'
        + '<rect width="50" height="50" clip-path="url(#c)"/>' * 3900
    ),
    "viewBox of 1e-300": lambda: drawing(RECT, frame='viewBox="0 0 1e-300 1e-300" width="9" height="9"'),
    "not XML": lambda: b"\x00\x01\x02",
    "empty": lambda: b"",
    "not SVG": lambda: b"<html/>",
    "damaged gzip": lambda: b"\x1f\x8b\x08nonsense",
}


@pytest.mark.parametrize("name", REFUSED)
def test_refused_in_one_sentence(name: str) -> None:
    data, begun = REFUSED[name](), time.process_time()
    with pytest.raises(InputError) as refusal:
        read_outline(data)
    assert time.process_time() - begun < 5
    assert "\n" not in str(refusal.value)
    assert 10 < len(str(refusal.value)) < 300


@pytest.mark.parametrize(
    "body",
    [
        f'<rect width="9" height="9" fill="red{" " * 100_000}x"/>',
        f'<rect width="9" height="9" fill="rgb({"1," * 100_000})"/>' + RECT,
        f'<rect width="9" height="9" transform="{" " * 100_000}x"/>',
        f'<rect width="9" height="9" style="{"(" * 50_000}"/>',
    ],
    ids=["colour", "channels", "transform", "style"],
)
def test_endless_values_count_as_not_written(body: str) -> None:
    begun = time.process_time()
    assert read_outline(drawing(body)).width_mm == pytest.approx(9 * 25.4 / 96, abs=0.002)
    assert time.process_time() - begun < 5


@pytest.mark.parametrize("name", ["entity bomb", "10 MB of path data", "100,000 elements"])
def test_memory_stays_under_500_mb(name: str) -> None:
    data = REFUSED[name]()
    run = subprocess.run([sys.executable, "-c", PROBE], input=data, capture_output=True, check=True)
    refused, peak_kb = run.stdout.decode().splitlines()
    assert refused == "InputError"
    assert int(peak_kb) < 500_000


def test_a_document_type_with_its_dtd_elsewhere_is_read_without_it() -> None:
    kind = b'<!DOCTYPE svg PUBLIC "-//W3C//DTD SVG 1.1//EN" "http://www.w3.org/Graphics/SVG/1.1/DTD/svg11.dtd">'
    assert read_outline(kind + drawing(RECT)).width_mm == pytest.approx(9 * 25.4 / 96, abs=0.002)


def test_cycles_of_every_kind_end() -> None:
    body = (
        '<linearGradient id="a" href="#b"/><linearGradient id="b" href="#a"/>'
        '<rect width="9" height="9" fill="url(#a) red"/>'
        '<clipPath id="c" clip-path="url(#d)"><rect width="5" height="5"/></clipPath>'
        '<clipPath id="d" clip-path="url(#c)"><rect width="5" height="5"/></clipPath>'
        '<rect width="9" height="9" clip-path="url(#c)"/>'
        '<marker id="m"><path d="M0 0h1" marker-start="url(#m)" stroke="red"/></marker>'
        '<path d="M20 20h9" stroke="red" marker-start="url(#m)"/><g id="g"><use href="#g"/></g>'
    )
    assert len(read_outline(drawing(body)).region.geoms) > 0


@pytest.mark.parametrize("body", [cells(3900), PATTERNED], ids=["squares", "tiles"])
def test_no_label_is_made_of_thousands_of_parts(body: str) -> None:
    """They would be redrawn for minutes; the drawing itself is read, for its health."""
    begun = time.process_time()
    with pytest.raises(InputError, match="separate parts"):
        make(LabelJob(text="a.svg", tool=tool(Method.VINYL), wish=Wish(height_mm=20.0),
                      drawing=Drawing(name="a.svg", data=drawing(body))))  # fmt: skip
    assert time.process_time() - begun < 5


def test_compressed_drawings_are_read() -> None:
    data = drawing(RECT)
    assert read_outline(gzip.compress(data)).region.equals(read_outline(data).region)
