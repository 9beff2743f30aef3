"""Policies over several seasons: exact values, brute force, a keeper's run of luck, laws.

Exact values of the two-season policies and the two-sex tables were worked out in exact fractions
apart from the tool; the brute force (``routes_by_hand``) shares no code with it.
"""

from __future__ import annotations

import itertools
import math
import random
from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from brumal.records.animals import Sex
from brumal.routes.bound import most_chance
from brumal.routes.frame import Frame, Member, capped
from brumal.routes.policy import Policy
from brumal.routes.steering import State, Width
from route_frames import frame, genes_for, kind
from routes_by_hand import Case, best_chance

WHOLE = Width(whole=True)
NARROW = Width()
VISUAL_BOTH = {"Clown": 2, "Piebald": 2}
DOUBLE_HET = {"Clown": 1, "Piebald": 1}
CLOWN, PIEBALD = {"Clown": 2}, {"Piebald": 2}


def chance(built: Frame, width: Width = WHOLE, first: list[tuple[int, int]] | None = None) -> float:
    policy = Policy(built, width, first)
    return 1 - policy.best(policy.start).fails[-1]


def two_seasons(male: dict[str, int], goal: str | None, tested: bool) -> Frame:
    genes = genes_for("Clown Piebald", goal, tested)
    animals = {"M": ("m", male), "F1": ("f", CLOWN), "F2": ("f", DOUBLE_HET)}
    return frame(genes, animals, young=[0, 0, 1], seasons=2, hold=1, hold_sex="f")


@pytest.mark.parametrize("width", [WHOLE, NARROW])
@pytest.mark.parametrize(
    ("male", "goal", "first", "expected"),
    [
        (VISUAL_BOTH, "f", None, Fraction(2007, 4096)),
        (VISUAL_BOTH, "f", [(1, 0)], Fraction(99, 256)),
        (VISUAL_BOTH, "f", [(2, 0)], Fraction(2007, 4096)),
        (DOUBLE_HET, None, None, Fraction(16535, 65536)),
        (DOUBLE_HET, None, [(1, 0)], Fraction(2419, 16384)),
    ],
)
def test_policies_of_two_seasons_have_their_exact_chance(
    width: Width,
    male: dict[str, int],
    goal: str | None,
    first: list[tuple[int, int]] | None,
    expected: Fraction,
) -> None:
    built = two_seasons(male, goal, tested=True)
    assert chance(built, width, first) == pytest.approx(float(expected), abs=1e-12)


def test_what_a_daughter_may_be_is_not_averaged_before_the_clutch() -> None:
    # The trap: a Clown daughter of het parents is 1/3 P/P and 2/3 P/p; with two young of a double
    # het male she gives one or more with 5/32, from averaged odds it would be 23/144.
    genes = genes_for("Clown Piebald")
    male = kind(genes, "m", Clown=1, Piebald=1)
    rows = (
        ((male, kind(genes, "f", Clown=2)), 1 / 3),
        ((male, kind(genes, "f", Clown=2, Piebald=1)), 2 / 3),
    )
    animals = {"M": ("m", DOUBLE_HET), "F": ("f", CLOWN)}
    built = frame(genes, animals, young=[0, 0, 1], seasons=1, hold=0, prior=rows)
    odds = Fraction(1, 8)
    exact = Fraction(2, 3) * (1 - (1 - odds) ** 2)
    averaged = 1 - (1 - Fraction(2, 3) * odds) ** 2
    assert (exact, averaged) == (Fraction(5, 32), Fraction(23, 144))
    assert chance(built) == pytest.approx(5 / 32, abs=1e-12)


def female_season() -> list[float]:
    """She goes with 0.8, lays 6 eggs, each hatches with 0.8."""
    young = [0.8 * math.comb(6, n) * 0.8**n * 0.2 ** (6 - n) for n in range(7)]
    young[0] += 0.2
    return young


TABLE = [
    # odds, dam, sire, k = 1, 2, 3, 5, and the k for .9
    ((1, 64), None, None, (0.058156, 0.112930, 0.164518, 0.258869), 39),
    ((1, 16), DOUBLE_HET, DOUBLE_HET, (0.211926, 0.378940, 0.510559, 0.696028), 10),
    ((1, 8), DOUBLE_HET, {"Clown": 2, "Piebald": 1}, (0.374847, 0.609184, 0.755680, 0.904516), 5),
    ((1, 4), DOUBLE_HET, VISUAL_BOTH, (0.590285, 0.832133, 0.931223, 0.988455), 3),
    (
        (1, 2),
        {"Clown": 2, "Piebald": 1},
        VISUAL_BOTH,
        (0.762675, 0.943677, 0.986633, 0.999247),
        2,
    ),
]


@pytest.mark.parametrize(("odds", "dam", "sire", "expected", "enough"), TABLE)
def test_the_two_sex_table_of_female_seasons(
    odds: tuple[int, int],
    dam: dict[str, int] | None,
    sire: dict[str, int] | None,
    expected: tuple[float, ...],
    enough: int,
) -> None:
    morph = "Clown Piebald" if dam else "Clown Piebald Albino"
    three = {"Clown": 1, "Piebald": 1, "Albino": 1}
    animals = {"F": ("f", dam or three), "M": ("m", sire or three)}

    def by_seasons(k: int) -> float:
        built = frame(genes_for(morph), animals, young=female_season(), seasons=k, hold=0)
        return chance(built, NARROW)

    for k, figure in zip((1, 2, 3, 5), expected, strict=True):
        assert by_seasons(k) == pytest.approx(figure, abs=6e-7)
    assert by_seasons(enough) >= 0.9 > by_seasons(enough - 1)
    genes = genes_for(morph)
    brood = genes.brood(kind(genes, "f", **(dam or three)), kind(genes, "m", **(sire or three)))
    assert brood.target == pytest.approx(odds[0] / odds[1], abs=1e-12)


def test_one_codominant_and_two_recessives() -> None:
    genes = genes_for("Pastel Clown Piebald")

    def target(dam: dict[str, int], sire: dict[str, int]) -> float:
        return genes.brood(kind(genes, "f", **dam), kind(genes, "m", **sire)).target

    with_pastel = {"Pastel": 1, **DOUBLE_HET}
    assert target(with_pastel, DOUBLE_HET) == pytest.approx(1 / 32)
    assert target(with_pastel, with_pastel) == pytest.approx(3 / 64)
    assert target(with_pastel, VISUAL_BOTH) == pytest.approx(1 / 8)


@pytest.mark.parametrize(("k", "expected"), [(1, 0.153732), (2, 0.274884), (3, 0.370360)])
def test_a_sibling_pair_from_one_clutch_and_then_k_female_seasons(k: int, expected: float) -> None:
    # Clown x Piebald once, a son and a daughter held, then k seasons of these two and no others.
    genes = genes_for("Clown Piebald")
    built = frame(
        genes,
        {"F": ("f", CLOWN), "M": ("m", PIEBALD)},
        young=female_season(),
        seasons=1 + k,
        hold=2,
        barred=lambda dam, sire, f: dam.born != sire.born or dam.born > 1,
    )

    def once(dam: Member, sire: Member, season: int) -> tuple[float, ...]:
        return (1.0,) if dam.founder is not None and season > 1 else tuple(female_season())

    single = Frame(
        genes=genes,
        founders=built.founders,
        prior=built.prior,
        seasons=built.seasons,
        lag=built.lag,
        hold=2,
        young=once,
        males=built.males,
        barred=built.barred,
    )
    assert chance(single, NARROW) == pytest.approx(expected, abs=6e-7)
    policy = Policy(single, NARROW)
    walk = policy.follow(policy.start)
    both = sum(branch.chance for branch in walk.branches if len(branch.kept) == 2)
    assert both == pytest.approx(56672 / 78125, abs=1e-12)
    females = sum(
        branch.chance
        for branch in walk.branches
        if any(policy.book.members[n].sex is Sex.FEMALE for n in branch.kept)
    )
    assert females == pytest.approx(59584 / 78125, abs=1e-12)


def test_a_cap_on_f_leaves_the_sibling_pair_out() -> None:
    genes = genes_for("Clown Piebald")
    animals = {"F": ("f", CLOWN), "M": ("m", PIEBALD)}
    plain = {"young": female_season(), "seasons": 3, "hold": 2}
    assert chance(frame(genes, animals, barred=capped(0.0625), **plain)) == pytest.approx(0)  # type: ignore[arg-type]
    assert chance(frame(genes, animals, barred=capped(0.25), **plain), NARROW) > 0.2  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("dam", "sire", "odds"),
    [(DOUBLE_HET, DOUBLE_HET, 1 / 16), (DOUBLE_HET, VISUAL_BOTH, 1 / 4)],
)
@pytest.mark.parametrize("wished", [0.5, 0.9, 0.99])
def test_young_needed_for_a_chance_by_the_logarithms(
    dam: dict[str, int], sire: dict[str, int], odds: float, wished: float
) -> None:
    # n = ln(1 - P) / ln(1 - p): Servin, Martin, Mezard & Hospital 2004, Genetics 168:513-523.
    needed = math.ceil(math.log(1 - wished) / math.log(1 - odds))
    animals = {"F": ("f", dam), "M": ("m", sire)}

    def of(young: int) -> float:
        exactly = [0.0] * young + [1.0]
        return chance(frame(genes_for("Clown Piebald"), animals, young=exactly, seasons=1, hold=0))

    assert of(needed) >= wished > of(needed - 1)


# Brute force --------------------------------------------------------------------------------


def cases() -> list[tuple[Case, dict[str, tuple[str, dict[str, int]]]]]:
    """Small collections at random: up to four animals, two or three seasons, some unsure."""
    draw = random.Random(20)
    found = []
    for number in range(14):
        seasons = 3 if number % 2 else 2
        size = draw.choice((2, 3) if seasons == 3 else (3, 4))
        sexes = ("f", "m", *(draw.choice("fm") for _ in range(size - 2)))
        carried = [(draw.choice((0, 1, 2)), draw.choice((0, 1, 2))) for _ in sexes]
        carried = [(1, 2) if both == (2, 2) else both for both in carried]
        worlds = {tuple((s, *c) for s, c in zip(sexes, carried, strict=True)): Fraction(1)}
        if number % 3 == 0:
            # The first animal may be a het at the second locus.
            share = draw.choice((Fraction(1, 2), Fraction(2, 3)))
            one, other = (carried[0][0], 1), (carried[0][0], 0)
            rest = tuple((s, *c) for s, c in zip(sexes[1:], carried[1:], strict=True))
            worlds = {
                ((sexes[0], *one), *rest): share,
                ((sexes[0], *other), *rest): 1 - share,
            }
        young = (
            ((2, Fraction(1)),)
            if seasons == 2 and size == 3
            else draw.choice((((1, Fraction(1)),), ((0, Fraction(1, 3)), (1, Fraction(2, 3)))))
        )
        case = Case(
            sexes=sexes,
            beliefs=tuple(sorted(worlds.items())),
            young=young,
            seasons=seasons,
            hold=draw.choice((1, 2)) if size == 4 else 1,
            serves=draw.choice((1, 2)),
            genotypes_known=number % 4 == 1,
            target_sex=draw.choice((None, None, "f")),
        )
        animals = {
            f"{s}{at}": (s, {"Clown": c[0], "Piebald": c[1]})
            for at, (s, c) in enumerate(zip(sexes, carried, strict=True))
        }
        found.append((case, animals))
    return found


CASES = cases()


def built_from(case: Case, animals: dict[str, tuple[str, dict[str, int]]]) -> Frame:
    genes = genes_for("Clown Piebald", case.target_sex, case.genotypes_known)
    young = [0.0] * (1 + max(number for number, _ in case.young))
    for number, share in case.young:
        young[number] = float(share)
    rows = tuple(
        (tuple(kind(genes, s, Clown=a, Piebald=b) for s, a, b in world), float(share))
        for world, share in case.beliefs
    )
    return frame(
        genes,
        animals,
        young=young,
        seasons=case.seasons,
        hold=case.hold,
        serves=case.serves,
        lag=case.lag,
        prior=rows,
        rest=case.rest,
        in_a_row=case.in_a_row,
        runs=case.runs,
    )


@pytest.mark.parametrize("number", range(len(CASES)))
def test_the_best_policy_equals_brute_force_over_all_policies(number: int) -> None:
    case, animals = CASES[number]
    built = built_from(case, animals)
    best = float(best_chance(case))
    assert chance(built) == pytest.approx(best, abs=1e-9)
    assert chance(built, NARROW) <= best + 1e-9
    assert most_chance(built) >= best - 1e-9


@pytest.mark.parametrize(
    ("rest", "in_a_row", "run"),
    [(0, 1, 0), (0, 2, 0), (0, 2, 1), (1, 0, 0), (1, 2, 0)],
)
def test_females_rest_in_a_route_as_the_keeper_asks(rest: int, in_a_row: int, run: int) -> None:
    # Her second and third season may bring targets; one that rests brings none.
    half = {"Clown": 1, "Piebald": 2}
    animals = {"F": ("f", half), "M": ("m", half)}
    case = Case(
        sexes=("f", "m"),
        beliefs=(((("f", 1, 2), ("m", 1, 2)), Fraction(1)),),
        young=((1, Fraction(1)),),
        seasons=3,
        hold=1,
        rest=rest,
        in_a_row=in_a_row,
        runs=(run, 0),
    )
    best = float(best_chance(case))
    built = built_from(case, animals)
    assert chance(built) == pytest.approx(best, abs=1e-12)
    assert best + 1e-9 >= chance(built, NARROW) >= best - 0.02
    free = built_from(replace(case, rest=0, in_a_row=0), animals)
    assert best < chance(free) - 0.01


def test_the_brute_force_cases_are_not_all_hopeless() -> None:
    chances = [float(best_chance(case)) for case, _ in CASES]
    assert sum(0.01 < each < 0.99 for each in chances) >= 8


# A keeper's luck ----------------------------------------------------------------------------


def lived(policy: Policy, draw: random.Random) -> int | None:
    """Carry a policy out once, young by young; returns the season of the first target."""
    frame_, genes = policy.frame, policy.frame.genes
    rows = policy.start.rows
    kinds = draw.choices([r for r, _ in rows], [p for _, p in rows])[0]
    truth = dict(enumerate(kinds))
    state: State = policy.start
    for season in range(1, frame_.seasons + 1):
        answer = policy.follow(state)
        hatched: list[list[tuple[int, int]]] = []
        for dam, sire in answer.pairs:
            members = policy.book.members
            pmf = frame_.young(members[dam], members[sire], season)
            count = draw.choices(range(len(pmf)), pmf)[0]
            litter = []
            for _ in range(count):
                strands = [
                    draw.choices(*zip(*genes.gametes(truth[parent]).items(), strict=True))[0]
                    for parent in (dam, sire)
                ]
                young = genes.joined(*strands)
                if genes.is_target(young):
                    return season
                litter.append((genes.look(young), genes.kind(young)))
            hatched.append(litter)
        if not answer.branches:
            return None
        state = outcome(policy, answer.pairs, answer.branches, hatched, truth, state, draw)
    return None


KNOWN: dict[tuple[int, State], dict[object, list[float]]] = {}


def outcomes_of(policy: Policy, state: State, pairs: tuple[tuple[int, int], ...]):  # type: ignore[no-untyped-def]
    if (id(policy), state) not in KNOWN:
        KNOWN[id(policy), state] = policy._outcomes(state, pairs)  # type: ignore[assignment]
    return KNOWN[id(policy), state]


def outcome(policy, pairs, branches, hatched, truth, state, draw):  # type: ignore[no-untyped-def]
    """Find the branch of what the keeper sees: of each sex the best by the stated ranking."""
    ranking = policy.steering.ranking(state, pairs)
    seen: list[tuple[int, int]] = []
    for offers, most in zip((ranking.females, ranking.males), ranking.most, strict=True):
        there = [offer for offer in offers for look, _ in hatched[offer[0]] if look == offer[1]]
        seen += there[:most]
    masses = outcomes_of(policy, state, pairs)
    key = tuple(sorted((offer, seen.count(offer)) for offer in set(seen)))
    at = [each for each in masses if sum(masses[each]) > 0].index(key)
    branch = branches[at]
    for number in branch.kept:
        member = policy.book.members[number]
        place = pairs.index((member.dam, member.sire))
        alike = [kind for look, kind in hatched[place] if look == member.look]
        truth[number] = draw.choice(alike)
    return branch.state


def test_runs_of_a_route_agree_with_its_chances() -> None:
    runs_agree("possible hets", 1_500)


@pytest.mark.slow
@pytest.mark.parametrize("which", ["certain", "possible hets", "rest years"])
def test_ten_thousand_runs_of_a_route_agree_with_its_chances(which: str) -> None:
    runs_agree(which, 10_000)


def runs_agree(which: str, runs: int) -> None:
    genes = genes_for("Clown Piebald")
    animals = {
        "F1": ("f", CLOWN),
        "F2": ("f", PIEBALD),
        "M1": ("m", PIEBALD),
        "M2": ("m", {"Clown": 2, "Piebald": 1}),
    }
    built = frame(
        genes,
        animals,
        young=female_season(),
        seasons=3,
        hold=2,
        serves=2,
        in_a_row=2 if which == "rest years" else 0,
        runs=(1, 0, 0, 0) if which == "rest years" else (),
    )
    if which == "possible hets":
        kinds = built.prior[0][0]
        plain = (*kinds[:3], kind(genes, "m", Clown=2))
        built = frame(
            genes,
            animals,
            young=female_season(),
            seasons=3,
            hold=2,
            serves=2,
            prior=((kinds, 0.5), (plain, 0.5)),
        )
    policy = Policy(built, Width(looks=2, pairings=1))
    fails = policy.best(policy.start).fails
    draw = random.Random(7)
    seasons = [lived(policy, draw) for _ in range(runs)]
    for season, fail in enumerate(fails, 1):
        share = sum(each is not None and each <= season for each in seasons) / runs
        spread = math.sqrt(max(fail * (1 - fail), 1e-9) / runs)
        assert abs(share - (1 - fail)) < 4.5 * spread + 1e-12
    assert 0.1 < 1 - fails[-1] < 0.999


# Laws ---------------------------------------------------------------------------------------

carried = st.tuples(st.integers(0, 2), st.integers(0, 2)).filter(lambda c: c != (2, 2))
animals_ = st.lists(st.tuples(st.sampled_from("fm"), carried), min_size=2, max_size=3)


def small(animals: list[tuple[str, tuple[int, int]]], seasons: int, hold: int) -> float:
    named = {
        f"{at}": (sex, {"Clown": c[0], "Piebald": c[1]}) for at, (sex, c) in enumerate(animals)
    }
    built = frame(
        genes_for("Clown Piebald"), named, young=[0.25, 0.25, 0.5], seasons=seasons, hold=hold
    )
    return chance(built)


@settings(max_examples=12)
@given(animals=animals_, more=st.tuples(st.sampled_from("fm"), carried))
def test_one_more_animal_year_or_place_never_lowers_the_best_chance(
    animals: list[tuple[str, tuple[int, int]]], more: tuple[str, tuple[int, int]]
) -> None:
    one_more_never_lowers(animals, more)


@pytest.mark.slow
@settings(max_examples=80, deadline=None)
@given(animals=animals_, more=st.tuples(st.sampled_from("fm"), carried))
def test_one_more_of_anything_in_many_collections(
    animals: list[tuple[str, tuple[int, int]]], more: tuple[str, tuple[int, int]]
) -> None:
    one_more_never_lowers(animals, more)


def one_more_never_lowers(
    animals: list[tuple[str, tuple[int, int]]], more: tuple[str, tuple[int, int]]
) -> None:
    plain = small(animals, 2, 1)
    assert small([*animals, more], 2, 1) >= plain - 1e-9
    assert small(animals, 2, 2) >= plain - 1e-9
    assert small(animals, 3, 1) >= plain - 1e-9


def test_a_policy_does_not_hang_on_the_order_of_the_animals() -> None:
    animals = [("f", (2, 0)), ("m", (0, 2)), ("f", (1, 1))]
    chances = {round(small(list(each), 2, 1), 12) for each in itertools.permutations(animals)}
    assert len(chances) == 1
