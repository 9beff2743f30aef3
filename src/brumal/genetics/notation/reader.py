"""Reads trade notation word by word into mentions of genes."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import replace

from brumal.genetics.catalogue.genes import Allele, Combination, Inheritance
from brumal.genetics.catalogue.vocabulary import KEYWORDS, Term, Vocabulary, is_sex_linked
from brumal.genetics.claims import Form, Mention, MorphProblem
from brumal.genetics.notation.pinned_pairs import pinned_mention
from brumal.genetics.notation.scopes import (
    Scope,
    figure_behind,
    figure_of_several,
    next_name,
    no_figure,
)
from brumal.genetics.notation.tokens import chance_of, tokens_of

_FILLERS = frozenset({"and", "with", "for", "of"})
_COUNTS = {"dh": 2, "th": 3}
_COUNT_WORDS = {"double": 2, "dbl": 2, "triple": 3, "quad": 4}


class MorphReader:
    """Reads one text from left to right into mentions and problems."""

    def __init__(
        self, text: str, words: Vocabulary, within: str = "", possible: float | None = None
    ) -> None:
        self.vocabulary = words
        self.within = within
        self.possible = possible
        self.tokens = tokens_of(text)
        self.place = 0
        self.scope: Scope | None = None
        self.carried_on = ""
        self.normal = False
        self.mentions: list[Mention] = []
        self.problems: list[MorphProblem] = []

    def read(self) -> None:
        """Read the whole text."""
        while self.place < len(self.tokens):
            token = self.tokens[self.place]
            if token.kind == "word":
                self._word()
                continue
            self.place += 1
            if token.kind == "pin":
                self._pinned(token.text)
            elif token.kind == "percent":
                self._percent(token.text)
            elif token.kind == "other":
                self._problem(f"the mark {token.text!r}", "genes of the catalogue", "Leave it out.")
        self._close_scope()
        if self.carried_on:
            self._problem(
                "a sex chromosome with no gene",
                "'on X' or 'on Y' after a sex-linked gene, such as 'Banana on Y'",
            )

    def _problem(self, found: str, expected: str, repair: str = "") -> None:
        self.problems.append(MorphProblem(found=found, expected=expected, repair=repair))

    def _words_ahead(self) -> list[str]:
        ahead = []
        for token in self.tokens[self.place :]:
            if token.kind != "word":
                break
            ahead.append(token.text)
        return ahead

    def _take(self, count: int) -> str:
        taken = " ".join(token.text for token in self.tokens[self.place : self.place + count])
        self.place += count
        return taken

    def _word(self) -> None:
        ahead = self._words_ahead()
        name = next_name(self.tokens[self.place :], len(ahead), self.vocabulary)
        word = ahead[0].casefold()
        if name is not None:
            self.place += name.tokens
            self._term(name.term, name.words)
        elif word in _READS:
            self.place += 1
            _READS[word](self, ahead[0])
        elif word in _FILLERS:
            self.place += 1
        else:
            self._unknown(ahead)

    def _unknown(self, ahead: Sequence[str]) -> None:
        count = 1
        while count < len(ahead) and not self._is_known(ahead[count:]):
            count += 1
        phrase = self._take(count)
        # A misspelt first word of a longer name may be followed by a word that is a gene itself.
        follows = ahead[count : count + 1]
        longer = "" if not follows or follows[0].casefold() in KEYWORDS else follows[0]
        self._problem(
            f"{phrase!r}",
            "a gene or combination of the catalogue",
            self.vocabulary.suggest(phrase, f"{phrase} {longer}" if longer else "")
            or "A gene that is not there yet can be added in genes.yaml.",
        )
        self._name_something()

    def _name_something(self) -> None:
        """Count a gene that could not be read, so that its ``het`` is not told as empty."""
        if self.scope is not None:
            self.scope.named += 1

    def _is_known(self, ahead: Sequence[str]) -> bool:
        return ahead[0].casefold() in KEYWORDS or self.vocabulary.match(ahead) is not None

    # Genes, supers and combinations

    def _term(self, term: Term, words: str) -> None:
        allele = term.allele
        if term.combination is not None:
            self._combination(term.combination, words)
        elif allele is not None and term.is_super:
            one = f", or {allele.name!r} for one copy"
            self._beside_hets(words, lambda: self._mention(allele, Form.SUPER, words), one)
        elif allele is not None:
            self._gene(allele, words)

    def _gene(self, allele: Allele, words: str) -> None:
        scope = self.scope
        if scope is None:
            self._mention(allele, Form.PLAIN, words)
        elif allele.inheritance is Inheritance.RECESSIVE or (
            self._is_possible(scope) and scope.named == 0
        ):
            self._hidden(scope, allele, words)
        elif allele.inheritance is Inheritance.INCOMPLETE_DOMINANT and not self._is_possible(scope):
            chance = self._percent_behind(scope)
            form = Form.PLAIN if chance in (None, 1.0) else Form.POSSIBLE
            self._mention(allele, form, words, chance or 1.0)  # one copy, which is what "het" says
            scope.named += scope.named == 0
        else:
            one = f"; [+/{allele.name}] is one copy for certain"
            repair = one if allele.inheritance is Inheritance.DOMINANT else ""
            self._beside_hets(words, lambda: self._mention(allele, Form.PLAIN, words), repair)

    def _hidden(self, scope: Scope, allele: Allele, words: str) -> None:
        """Name a gene under a ``het`` or a percentage."""
        scope.named += 1
        said = f"{scope.words} {words}"
        chance = self._chance_under(scope)
        if scope.possible and chance is None:
            if not scope.told:
                self.problems.append(no_figure(said, allele, self.vocabulary))
            scope.told = True
        elif chance == 1.0 and not (scope.het or scope.possible):
            self._problem(
                f"{said!r}", f"'{allele.name}' (it shows) or 'het {allele.name}' (it carries one)"
            )
        elif chance is not None and chance < 1.0:
            self._mention(allele, Form.POSSIBLE, said, chance)
        else:
            self._mention(allele, Form.HET, f"het {words}")

    def _chance_under(self, scope: Scope) -> float | None:
        """Return the chance of a gene just named: before it, behind it, or what the keeper set."""
        if scope.chance is not None:
            return scope.chance
        behind = self._percent_behind(scope)
        return self.possible if behind is None and scope.possible else behind

    def _percent_behind(self, scope: Scope) -> float | None:
        """Take a percentage that stands behind a gene and before nothing: ``het Clown 66%``."""
        if scope.behind is not None or scope.chance is not None:
            return scope.behind
        figure, count = figure_behind(self.tokens[self.place : self.place + 3])
        if not figure:
            return None
        self.place += count
        chance = chance_of(figure)
        if scope.named > 1:
            self.problems.append(figure_of_several(figure))
        elif not 0.0 < chance <= 1.0:
            self._problem(f"{figure + '%'!r}", "a percentage above 0 and up to 100")
            chance = 1.0
        return chance

    @staticmethod
    def _is_possible(scope: Scope) -> bool:
        return scope.possible if scope.chance is None else scope.chance < 1.0

    def _beside_hets(self, words: str, add: Callable[[], None], repair: str = "") -> None:
        """Add what always shows; right behind ``het`` it is unclear what is meant."""
        scope = self.scope
        if scope is not None and (scope.named == 0 or self._is_possible(scope)):
            scope.named += 1
            self._problem(
                f"{(scope.words + ' ' + words)!r}",
                f"hidden genes after {scope.words!r}; {words!r} shows",
                f"Write {words!r} before the hets{repair}.",
            )
        else:
            add()

    def _combination(self, combination: Combination, words: str) -> None:
        if self.within:
            self._problem(
                f"the combination {words!r} inside {self.within!r}", "genes of the catalogue"
            )
            return
        if combination.readings:
            readings = " or ".join(repr(reading) for reading in combination.readings)
            self._problem(
                f"{words!r}, which has more than one meaning",
                f"one of {readings}",
                "Write the one that is meant; genes.yaml may give the name one meaning.",
            )
            self._name_something()
            return
        if combination.pairs:
            self._beside_hets(words, lambda: self._look(combination, words))
            return
        inner = MorphReader(combination.parts, self.vocabulary, within=combination.name)
        inner.read()
        self.problems.extend(inner.problems)
        hidden = all(self._is_visual_recessive(mention) for mention in inner.mentions)
        if self.scope is not None and hidden:
            # A percentage behind the name holds for all of its genes.
            self.scope.behind = self._percent_behind(self.scope)
            for mention in inner.mentions:
                self._gene(self._allele(mention.allele), f"{mention.allele} (of {words})")
            self.scope.behind = None
        else:
            self._beside_hets(words, lambda: self._parts(inner.mentions, words))

    def _look(self, combination: Combination, words: str) -> None:
        """Name a look of unknown make-up."""
        self.mentions.append(
            Mention(
                locus=combination.locus,
                allele=combination.name,
                form=Form.ANY_OF,
                words=words,
                pairs=combination.pairs,
            )
        )

    def _parts(self, parts: Iterable[Mention], words: str) -> None:
        self.mentions += [replace(part, words=f"{part.words} (of {words})") for part in parts]

    def _is_visual_recessive(self, mention: Mention) -> bool:
        recessive = self._allele(mention.allele).inheritance is Inheritance.RECESSIVE
        return recessive and mention.form is Form.PLAIN

    def _allele(self, name: str) -> Allele:
        return self.vocabulary.catalogue.alleles[name]

    def _mention(self, allele: Allele, form: Form, words: str, chance: float = 1.0) -> None:
        self.mentions.append(
            Mention(
                locus=allele.locus,
                allele=allele.name,
                form=form,
                words=words,
                chance=chance,
                carried_on=self.carried_on,
            )
        )
        self.carried_on = ""

    def _pinned(self, text: str) -> None:
        found = pinned_mention(text, self.vocabulary)
        if isinstance(found, Mention):
            self.mentions.append(found)
        else:
            self.problems.append(found)

    # Words of the notation

    def _open(self, word: str) -> Scope:
        """Return the scope that is being opened, a new one once genes have been named."""
        if self.scope is None or self.scope.named:
            self._close_scope()
            self.scope = Scope(words=word)
        else:
            self.scope.words += f" {word}"
        return self.scope

    def _close_scope(self) -> None:
        scope, self.scope = self.scope, None
        if scope is None:
            return
        if scope.named == 0:
            self._problem(f"{scope.words!r} with no gene after it", "the gene that it is het for")
        elif scope.wanted is not None and scope.wanted != scope.named:
            self._problem(
                f"{scope.words!r} before {scope.named} gene{'s' if scope.named != 1 else ''}",
                f"{scope.wanted} genes after it",
                "Write 'het' before each gene instead.",
            )

    def _het(self, word: str) -> None:
        self._open(word).het = True

    def _possible(self, word: str) -> None:
        scope = self._open(word)
        scope.possible = True
        scope.het = scope.het or word.casefold() == "ph"

    def _counted(self, word: str) -> None:
        scope = self._open(word)
        scope.het = True
        scope.wanted = (_COUNTS | _COUNT_WORDS)[word.casefold()]
        ahead = self._words_ahead()
        if word.casefold() in _COUNT_WORDS and ahead and ahead[0].casefold() in ("het", "hets"):
            scope.words += f" {self._take(1)}"

    def _percent(self, text: str) -> None:
        figure = text.rstrip("% \t")
        chance = chance_of(figure)
        scope = self._open(f"{figure}%")
        if not 0.0 < chance <= 1.0:
            self._problem(f"{text.strip()!r}", "a percentage above 0 and up to 100")
            scope.told = True
        elif scope.chance is not None:
            self._problem(f"{scope.words!r}", "one percentage for a gene")
        scope.chance = min(chance, 1.0)

    def _super(self, word: str) -> None:
        ahead = self._words_ahead()
        matched = self.vocabulary.match(ahead)
        if matched is None:
            follows = self._take(1) if ahead else ""
            self._problem(
                f"{f'{word} {follows}'.strip()!r}",
                "a gene of the catalogue after 'super'",
                self.vocabulary.suggest(follows),
            )
            return
        term, count = matched
        words = f"{word} {self._take(count)}"
        allele = term.allele
        if allele is None or term.is_super:
            self._problem(f"{words!r}", "a single gene after 'super'", "Write the genes out.")
        elif allele.inheritance is Inheritance.RECESSIVE:
            self._problem(
                f"{words!r}",
                "a visual recessive, which has two copies",
                f"Write {allele.name!r}.",
            )
        else:
            self._beside_hets(words, lambda: self._mention(allele, Form.SUPER, words))

    def _visual(self, _word: str) -> None:
        self._close_scope()

    def _normal(self, word: str) -> None:
        ahead = self._words_ahead()
        if word.casefold() == "wild" and ahead and ahead[0].casefold() == "type":
            self.place += 1
        self.normal = True

    def _on(self, word: str) -> None:
        ahead = self._words_ahead()
        if ahead and ahead[0].casefold() in ("x", "y"):
            self._carried(self._take(1).upper(), behind=True)
        else:
            self._problem(f"{word!r}", "a sex chromosome after 'on': 'on X' or 'on Y'")

    def _maker(self, word: str) -> None:
        ahead = self._words_ahead()
        if ahead and ahead[0].casefold() == "maker":
            self.place += 1
            self._carried("Y" if word.casefold() == "male" else "X", behind=False)
        else:
            self._problem(f"{word!r}", "genes; the sex of an animal has a column of its own")

    def _carried(self, chromosome: str, *, behind: bool) -> None:
        """Give a sex chromosome to the gene before it or, for ``male maker Banana``, after it."""
        last = self.mentions[-1] if self.mentions else None
        linked = last is not None and is_sex_linked(last.locus, self.vocabulary.catalogue)
        if last is not None and (linked or behind):
            self.mentions[-1] = replace(last, carried_on=chromosome)
        else:
            self.carried_on = chromosome


_WORDS: Mapping[Callable[[MorphReader, str], None], str] = {
    MorphReader._het: "het hets heterozygous",
    MorphReader._possible: "possible poss pos ph",
    MorphReader._counted: "dh th double dbl triple quad",
    MorphReader._super: "super homozygous",
    MorphReader._visual: "visual",
    MorphReader._normal: "normal wildtype wt wild",
    MorphReader._on: "on",
    MorphReader._maker: "male female",
}
_READS = {word: reads for reads, words in _WORDS.items() for word in words.split()}
