"""Judges a hand-over sheet from outside.

handover.py html FILE              strict HTML, nothing from elsewhere, accessibility
handover.py pdf FILE WIDTH HEIGHT  page size in points, and the text, as JSON

Judges: html5lib (the HTML parsing rules of the WHATWG), pypdf. Contrast is that of
WCAG 2.2, success criterion 1.4.3: 4.5 to 1.
"""

import json
import re
import sys

import html5lib
import pypdf

NAMESPACE = "{http://www.w3.org/1999/xhtml}"
SVG = "{http://www.w3.org/2000/svg}"


def luminance(color):
    parts = [int(color[i:i + 2], 16) / 255 for i in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one, other):
    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def texts(element):
    return " ".join("".join(element.itertext()).split())


def judge_html(path):
    source = open(path, encoding="utf-8").read()
    # Strict: the first parse error is raised.
    root = html5lib.HTMLParser(strict=True).parse(source)
    every = list(root.iter())
    named = [e for e in every if isinstance(e.tag, str)]
    of = lambda *names: [e for e in named if e.tag in {NAMESPACE + n for n in names}]

    assert root.get("lang"), "no language"
    assert texts(of("title")[0]), "no title"
    assert not of("script", "link", "iframe", "object", "embed"), "something that runs or loads"
    for element in named:
        for attribute, value in element.attrib.items():
            assert not attribute.lower().startswith("on"), (element.tag, attribute)
            if attribute in ("src", "href"):
                assert value.startswith("data:image/jpeg;base64,"), value[:60]
    assert not re.search(r"url\(|@import", source), "a style that loads something"

    levels = [int(e.tag[-1]) for e in of("h1", "h2", "h3", "h4")]
    assert levels.count(1) == 1 and levels[0] == 1, levels
    assert all(b <= a + 1 for a, b in zip(levels, levels[1:])), levels
    assert all(texts(e) for e in of("h1", "h2", "h3")), "an empty heading"
    assert len(of("main")) == 1
    for image in of("img"):
        assert image.get("alt"), "a picture without words"
    for drawing in (e for e in named if e.tag == SVG + "svg"):
        label = drawing.get("aria-labelledby")
        assert drawing.get("role") == "img" and any(e.get("id") == label for e in named), "svg"
    for table in of("table"):
        heads = [e for e in table.iter(NAMESPACE + "th")]
        assert heads and all(h.get("scope") in ("col", "row") for h in heads), "table heads"

    palette = dict(re.findall(r"--(\w+): (#[0-9a-f]{6})", source))
    for name in ("ink", "soft", "accent"):
        for ground in ("#ffffff", palette["pale"]):
            assert contrast(palette[name], ground) >= 4.5, (name, ground)

    values = [float(e.get("value")) for e in of("data")]
    print(json.dumps({"text": texts(root), "values": values, "images": len(of("img"))}))


def judge_pdf(path, width, height):
    pages = pypdf.PdfReader(path).pages
    for page in pages:
        box = page.mediabox
        assert abs(float(box.width) - width) < 1 and abs(float(box.height) - height) < 1, box
    text = " ".join(" ".join(page.extract_text() for page in pages).split())
    print(json.dumps({"pages": len(pages), "text": text}))


if __name__ == "__main__":
    if sys.argv[1] == "html":
        judge_html(sys.argv[2])
    else:
        judge_pdf(sys.argv[2], float(sys.argv[3]), float(sys.argv[4]))
