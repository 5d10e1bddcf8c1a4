"""Heard spellings back to the grammar's own words, so that the ledger reads as it was said."""

from collections.abc import Iterator, Mapping
from functools import cache

from voicelog.phrases import nodes
from voicelog.phrases.automaton import Layer
from voicelog.phrases.grammar import Grammar
from voicelog.phrases.matcher import tokenise


def in_plain_words(grammar: Grammar, text: str) -> str:
    """A heard line in small letters, without marks, each heard-only spelling replaced by the word it stands for."""
    words = _plain_words(grammar)
    tokens = tokenise(text, grammar.language)
    return "".join(
        (token.text if token.joined else f" {words.get(token.text, token.text)}") for token in tokens
    ).strip()


@cache
def _plain_words(grammar: Grammar) -> Mapping[str, str]:
    found: dict[str, str] = {}
    said = {word for linked in grammar.rules.values() for word, _ in _words_of(linked.layers, Layer.SAID)}
    for linked in grammar.rules.values():
        by_tags = {tags: word for word, tags in reversed(list(_words_of(linked.layers, Layer.SAID)))}
        for word, tags in _words_of(linked.layers, Layer.HEARD):
            # A spelling that is a word of the grammar elsewhere ("for", "to") stays as it is.
            if tags in by_tags and word not in said:
                found[word] = by_tags[tags]
    return found


def _words_of(
    layers: Mapping[Layer, tuple[nodes.Rule, str]], layer: Layer
) -> Iterator[tuple[str, tuple[str, ...]]]:
    if layer in layers:
        yield from _tagged_words(layers[layer][0].node, ())


def _tagged_words(node: nodes.Node, tags: tuple[str, ...]) -> Iterator[tuple[str, tuple[str, ...]]]:
    match node:
        case nodes.Word(text):
            yield text, tags
        case nodes.Tagged(inner, inner_tags, _):
            yield from _tagged_words(inner, inner_tags)
        case nodes.Choice(options):
            for _, option in options:
                yield from _tagged_words(option, tags)
        case nodes.Sequence(items):
            for item in items:
                yield from _tagged_words(item, tags)
        case nodes.Repeat(inner, _, _):
            yield from _tagged_words(inner, tags)
        case _:
            return
