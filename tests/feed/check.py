"""Checks the feed of pressed sites against RFC 4287, in another language than the program.

    python check.py SITE…

The schema beside it says what stands where; here stand the rules that a schema cannot say. Source:
RFC 4287, sections 4.1.1 and 4.2.7, and RFC 3339; from memory. Exit 1 on any fault.
"""

import sys
from datetime import datetime
from pathlib import Path

import lxml.html
from lxml import etree

ATOM = "{http://www.w3.org/2005/Atom}"


def faults(feed, site):
    """Every fault of a parsed feed, in words."""
    entries = feed.findall(f"{ATOM}entry")
    ids = [entry.findtext(f"{ATOM}id") for entry in entries]
    if len(set(ids)) < len(ids):
        yield "two entries have one id"
    if feed.findtext(f"{ATOM}id") in ids:
        yield "an entry has the id of the feed"
    moments = [datetime.fromisoformat(at.text) for at in feed.iter(f"{ATOM}updated")]
    if moments[0] != max(moments):
        yield "the feed is older or newer than its newest entry"
    own = [link for link in feed.findall(f"{ATOM}link") if link.get("rel") == "self"]
    if len(own) != 1 or not own[0].get("href").endswith("/feed.xml"):
        yield "no link to itself"
    else:
        base = own[0].get("href").removesuffix("feed.xml")
        for link in feed.iter(f"{ATOM}link"):
            href = link.get("href")
            way = href.removeprefix(base)
            file = site / way / "index.html" if way.endswith("/") else site / way
            if way == href or not file.is_file():
                yield f"a link leads nowhere: {href}"
    for entry in entries:
        rels = [(link.get("rel"), link.get("type"), link.get("hreflang")) for link in entry.findall(f"{ATOM}link")]
        if len(set(rels)) < len(rels) or not any(rel == "alternate" for rel, _, _ in rels):
            yield "an entry has no alternate link, or two of one kind"
        content = entry.find(f"{ATOM}content")
        if content is not None:
            if content.get("type") != "html":
                yield "the content is not marked as HTML"
            for element in lxml.html.fragment_fromstring(content.text, create_parent=True).iter():
                if element.tag not in ("div", "p", "ul", "li", "a", "i"):
                    yield f"the content has <{element.tag}>"
                if set(element.attrib) - {"href"}:
                    yield f"the content has attributes: {dict(element.attrib)}"


def main():
    schema = etree.RelaxNG(etree.parse(Path(__file__).with_name("atom.rng")))
    n_faults = 0
    for site in map(Path, sys.argv[1:]):
        document = etree.parse(site / "feed.xml")
        schema.validate(document)
        found = [str(error) for error in schema.error_log] or list(faults(document.getroot(), site))
        for fault in found:
            print(f"{site}/feed.xml: {fault}")
        n_faults += len(found)
        entries = len(document.getroot().findall(f"{ATOM}entry"))
        print(f"{site.name}: a feed of {entries} entries, {len(found)} faults")
    sys.exit(n_faults > 0 or len(sys.argv) < 2)


main()
