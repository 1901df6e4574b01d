"""Reports sent through mail that was spoilt in many ways: how many come back as they were sent.

Run by hand: ``python bench/call_round_trip.py --cases 2000 --seed 1``. Each case is a report of
random words in a random dress; the dresses of the second family were never looked at while the
reader was made.
"""

import argparse
import resource
import textwrap
from collections import Counter
from email.message import EmailMessage
from email.policy import SMTP
from html import escape

import numpy as np

from ironlace.survey.sharing.report_block import KNOWN, NAMED, compose, reports_in, written_values
from ironlace.workshop.survey.tray_mail import letter_of

SIGNS = list("abcdefgh ABC 0123456789 .,;:!?'\"-+()[]{}=_*#@&%/\\~^$ ") + list(
    "éüßøÅ°·º–—“”‘’…€£½×漢字абвאב🙂\u00a0\u200b\u00ad\t"
)


def words(rng, most):
    """Random words, some longer than a line."""
    return "".join(rng.choice(SIGNS, int(rng.integers(0, most))))


def quoted(text, rng):
    """Quoted as answers are."""
    sign = rng.choice(["> ", ">", ">> ", "> > > "])
    return "\n".join(sign + line for line in text.split("\n"))


def wrapped(text, rng):
    """Wrapped at blanks, long words left."""
    width = int(rng.choice([60, 72, 76, 78]))
    return "\n".join(
        "\n".join(textwrap.wrap(line, width, break_long_words=False, break_on_hyphens=False))
        for line in text.split("\n")
    )


def signed(text, rng):
    """With a greeting and a signature."""
    return f"Good day,\n\n{text}\n-- \n{words(rng, 60)}\n"


def tabled(text, rng):
    """Each line a row of an HTML table, in pieces of inline text."""
    rows = []
    for line in text.split("\n"):
        cut = int(rng.integers(0, len(line) + 1))
        inner = f"<span>{escape(line[:cut])}</span><font color=red>{escape(line[cut:])}</font>"
        rows.append(f"<tr><td>\n{inner}\n</td></tr>")
    return "<table>" + "".join(rows) + "</table>"


def nested(text, _rng):
    """Quoted in HTML, blanks unbreakable by pairs, breaks of lines in the source."""
    lines = (
        escape(line).replace("  ", " &nbsp;").replace(", ", ",\r\n") for line in text.split("\n")
    )
    return (
        "<html><head><title>x</title></head><body><p>See below.</p><blockquote type=cite>"
        + "<br>\r\n".join(lines)
        + "</blockquote></body></html>"
    )


def flowed(text, _rng):
    """Format flowed (RFC 3676): soft breaks after a blank, lines stuffed."""
    out = []
    for line in text.split("\n"):
        pieces = textwrap.wrap(line, 66, break_long_words=False, break_on_hyphens=False) or [""]
        out += [f"{piece} " for piece in pieces[:-1]] + pieces[-1:]
    return "\n".join(f" {one}" if one.startswith((" ", ">", "From ")) else one for one in out)


def starred(text, _rng):
    """Each second line empty, trailing blanks, a bar as a quote."""
    return "\n\n".join(f"| {line}   " for line in text.split("\n"))


PLAIN = {"quoted": quoted, "wrapped": wrapped, "signed": signed}
UNSEEN = {"flowed": flowed, "bars": starred}
PAGES = {"table": tabled, "nested": nested}


def mail_of(text, page, rng):
    """A mail that holds a text or a page."""
    mail = EmailMessage()
    mail["From"], mail["Subject"] = "a@owner.example", "report"
    cte = str(rng.choice(["quoted-printable", "base64", "8bit"]))
    if page:
        mail.set_content(text, subtype="html", cte=cte)
    else:
        mail.set_content(text, cte=cte)
    for _ in range(int(rng.integers(0, 3))):
        outer = EmailMessage()
        outer["From"], outer["Subject"] = "b@owner.example", "Fwd"
        outer.set_content("Passed on.")
        outer.add_attachment(mail)
        mail = outer
    return mail.as_bytes(policy=SMTP)


def main():
    """Count what comes back, by the last dress."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--cases", type=int, default=400)
    parser.add_argument("--seed", type=int, default=1)
    given = parser.parse_args()
    rng = np.random.default_rng(given.seed)
    tried, whole = Counter(), Counter()
    silent = 0
    for case in range(given.cases):
        sent = {
            "reads": f"C°{rng.integers(80, 99)}.{rng.integers(1, 3000)}",
            "known": str(rng.choice(KNOWN)),
            "remarks": words(rng, 400),
            "sender": words(rng, 40),
            "sender_as": str(rng.choice(NAMED)),
        }
        family = PLAIN if case % 2 == 0 else {**UNSEEN, **PAGES}
        text = compose(sent)
        for way in rng.choice(list(PLAIN), int(rng.integers(0, 3))):
            text = PLAIN[way](text, rng)
        last = str(rng.choice(list(family)))
        text = family[last](text, rng)
        found = reports_in(letter_of(mail_of(text, last in PAGES, rng), "a mail").words)
        tried[last] += 1
        same = len(found) == 1 and found[0].values == written_values(sent)
        whole[last] += same and found[0].whole is True
        silent += any(one.whole and one.values != written_values(sent) for one in found)
    for dress, count in sorted(tried.items()):
        print(f"{dress}: {whole[dress]} of {count} whole")
    print(f"Taken for whole though changed: {silent} of {given.cases}")
    print(f"{resource.getrusage(resource.RUSAGE_SELF).ru_utime:.1f} s of one core")


if __name__ == "__main__":
    main()
