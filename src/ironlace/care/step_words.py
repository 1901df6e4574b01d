"""Which cautions a step calls for, read out of its plain English.

The words stand in the open list `cautions.toml` beside this file, by how the trade speaks: what is
done, to what, and what else looks the same and is not meant. A step is read a sentence at a time;
what it says is not done ("without sanding", "do not heat") is struck out first.
"""

import re
from collections.abc import Iterable
from functools import cache
from typing import Any

from ironlace.care.cautions import Hazard, open_list

_IRREGULAR = {
    "burn": ("burnt",),
    "lay": ("laid",),
    "run": ("ran",),
    "sew": ("sewn",),
    "spin": ("spun",),
    "take": ("took", "taken"),
    "spray": ("sprayed",),
    "drive": ("drove", "driven"),
    "wind": ("wound",),
    "get": ("got",),
    "bring": ("brought",),
    "grind": ("ground off", "ground away", "ground back"),
    "stick": ("stuck",),
    "cut": ("cutting",),
    "saw": ("sawn",),
    "stand": ("stood",),
    "hang": ("hung",),
    "shake": ("shaken",),
    "give": ("gave", "given"),
    "melt": ("molten",),
}
_TURNED = re.compile(
    r"(?<!\w)(?:do not|don['’]t|does not|did not|never|must not|should not|cannot|can['’]t|not|no|"
    r"without|avoid(?:ing)?|instead of|rather than|neither|nor|free (?:of|from)|in place of|"
    r"nothing is|there is no need to|no need to)(?!\w)"
)
"""What turns the words after it round."""
_END = re.compile(
    r"[,;:()—–]|(?<!\w)(?:but|then|until|unless|because|so that|while|after|before|and then|"
    r"only|just)(?!\w)"
)
"""Where what was turned round ends."""
_KEPT = re.compile(
    r"(?<!\w)(?:above|over ?heat|beyond|more than|longer than|hotter than|too|backwards?|wrong way|"
    r"reverse|against|fast|faster|by the|by its|by an|alone|by yourself|single-handed|leave|let|"
    r"allow|forget|pile|heap|store|rush|hurry|spill|inhale|breathe|breathing|exceed|mix|add|pour|"
    r"smoke|eat|near|stainless|drop|yet|longer|touch|wad|bin|throw|crumple|unattended|run dry|"
    r"stop|let go|stand under|exceeding|swallow)(?!\w)"
)
"""What forbids a manner of doing and not the thing itself: 'do not heat it above 60 degrees'."""
_IN_DOUBT = re.compile(
    r"(?<!\w)(?:if|where|when|whatever|what|anything|any that|that|which|still)(?!\w)"
)
"""What makes a 'not' part of a condition: 'if it does not move, heat it'."""
_FREE = re.compile(
    r"(?<!\w)\w+[- ]free(?!\w)|(?<!\w)non-\w+|(?<!\w)(?:un(?:painted|heated|sanded))"
)
_LOOKS = re.compile(
    r"\s*(?:then |first |now )?(?:photograph|describe|note|record|write|draw|sketch|trace|count|"
    r"compare|look|read|list|label|date|research|ask|order|buy|name|number|copy|film|scan|study)(?!\w)"
)
"""A step that begins so only looks or writes down."""
_THEN_ACTS = re.compile(r"(?<!\w)(?:and|then|before|after|while)(?!\w)")


def cautions_due(text: str) -> tuple[Hazard, ...]:
    """The cautions that a step in plain English calls for, in the order of the list.

    >>> [hazard.short for hazard in cautions_due("Sand the old japan wet, then lay gold size.")]
    ['lead', 'solvents']
    >>> cautions_due("Wash the bed with soap, without sanding.")
    ()
    """
    sentences = [_undone_struck_out(one) for one in re.split(r"[.;!?\n]+", text.casefold())]
    return tuple(
        hazard
        for hazard, cues in _cues()
        if any(_called(cue, sentence) for cue in cues for sentence in sentences)
    )


def _called(cue: dict[str, Any], sentence: str) -> bool:
    if not cue["looked_at"] and _LOOKS.match(sentence) and not _THEN_ACTS.search(sentence):
        return False
    return all(one.search(sentence) for one in cue["wanted"]) and not (
        cue["unless"] and cue["unless"].search(sentence)
    )


def _undone_struck_out(sentence: str) -> str:
    """The sentence without what it says is not done."""
    told = _FREE.sub(" ", sentence.replace("’", "'"))
    at = 0
    while turned := _TURNED.search(told, at):
        at = turned.end()
        ends = _END.search(told, at)
        stop = ends.start() if ends else len(told)
        begun = max((e.end() for e in _END.finditer(told, 0, turned.start())), default=0)
        clause = told[turned.start() : stop]
        if _KEPT.search(clause) or _IN_DOUBT.search(told[begun : turned.start()]):
            continue
        told = told[: turned.start()] + " ~ " + told[stop:]
        at = turned.start() + 3
    return told


@cache
def _cues() -> tuple[tuple[Hazard, tuple[dict[str, Any], ...]], ...]:
    listed = open_list()
    groups = listed["words"]
    return tuple(
        (
            Hazard(caution["hazard"]),
            tuple(
                {
                    "looked_at": cue.get("looked_at", False),
                    "wanted": [
                        _any_of(cue[name], groups)
                        for name in ("any", "with", "also")
                        if name in cue
                    ],
                    "unless": _any_of(cue["unless"], groups) if "unless" in cue else None,
                }
                for cue in caution["cue"]
            ),
        )
        for caution in listed["caution"]
    )


def _any_of(words: Iterable[str], groups: dict[str, list[str]]) -> re.Pattern[str]:
    told: list[str] = []
    for word in words:
        told += groups[word[1:]] if word.startswith("@") else [word]
    return re.compile(r"(?<!\w)(?:" + "|".join(map(_pattern, told)) + r")(?!\w)(?!-free)")


def _pattern(words: str) -> str:
    """A word or phrase of the list as a pattern of all that it stands for."""
    if words.startswith("="):
        return r"[\s-]+".join(map(re.escape, words[1:].replace("-", " ").split()))
    first, *rest = words.split(" ... ")
    head, *tail = first.replace("-", " ").split()
    told = r"[\s-]+".join(["(?:" + "|".join(map(re.escape, forms_of(head))) + ")", *tail])
    if len(tail):
        told = (
            r"[\s-]+".join([re.escape(head), *tail[:-1], f"(?:{'|'.join(forms_of(tail[-1]))})"])
            + "|"
            + told
        )
    for word in rest:
        told = f"(?:{told})" + r"(?:\s+[^\s,]+){0,6}?\s+" + re.escape(word)
    return f"(?:{told})"


def forms_of(word: str) -> tuple[str, ...]:
    """The forms in which a regular English verb or noun comes.

    >>> forms_of("strip")[:5]
    ('strip', 'strips', 'stripped', 'stripping', "strip's")
    """
    if re.search(r"[^aeiou]y\Z", word):
        stem = word[:-1]
        made = (word, f"{stem}ies", f"{stem}ied", f"{word}ing")
    elif word.endswith("e"):
        made = (word, f"{word}s", f"{word}d", f"{word[:-1]}ing")
    elif re.search(r"(?:s|x|z|ch|sh)\Z", word):
        made = (word, f"{word}es", f"{word}ed", f"{word}ing")
    elif (
        re.search(r"(?<![aeiou])[aeiou][bdgmnprt]\Z", word)
        and len(re.findall("[aeiou]+", word)) == 1
    ):
        made = (word, f"{word}s", f"{word}{word[-1]}ed", f"{word}{word[-1]}ing")
    else:
        made = (word, f"{word}s", f"{word}ed", f"{word}ing")
    return (*made, f"{word}'s", *_IRREGULAR.get(word, ()))
