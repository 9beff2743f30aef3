"""The rules and defaults as a page to read: ``docs/rules.md``.

``python -m brumal.rules.page docs/rules.md`` writes it anew from the table of rules; a test holds
the page to it.
"""

from __future__ import annotations

import sys
from collections.abc import Iterable, Sequence
from pathlib import Path

from brumal.genetics.catalogue.page import table
from brumal.records.floors import FLOORS, Floor
from brumal.rules.defaults import FORECAST_DEFAULTS, RULE_DEFAULTS, Default
from brumal.rules.males import (
    GROWN_G,
    GROWN_MONTHS,
    GROWN_PAIRINGS,
    LIGHT_G,
    MIDDLE_PAIRINGS,
    YOUNG_MONTHS,
    YOUNG_PAIRINGS,
)
from brumal.rules.pair_rules import PAIR_RULES
from brumal.rules.table import ANIMAL_RULES

_INTRODUCTION = """\
# Rules and defaults

Made from the table of rules in `src/brumal/rules` by `python -m brumal.rules.page docs/rules.md`;
change the rules, not this page.

Rules decide which animals may breed and which may meet. They are not veterinary advice: a licensed
vet decides on health, above all for a female that strains or stops mid-lay. `common practice, no
source` marks what keepers hold and no paper was found to show. Every figure can be changed in
`season.yaml`, but not beyond the floors below.
"""

_JUDGING = """\
## How animals are judged

- **Day.** An animal may start on the first day of the season on which every rule holds: from
  `season.pair_from`, or the day that the season is seen from (`season.as_of`) where that is later,
  to `season.pair_to`. A birthday, the end of quarantine, a vet's clearance and a weight may all
  lie between. Two animals may first meet on the later of their days.
- **Weight.** The last weighing counts; where `weights.csv` has none, `weight_g` of the animals
  table counts as it is. An animal whose last weighing is under a limit may
  start on the first day on which it weighs enough with the chance `rules.start_chance`, one-sided:
  by the normal law of one more weighing about the line of its weighings, that line or the last
  weighing with the gain since then, whichever is lower, taken for the mean. Such a start is
  provisional: the animal is weighed on that day, its chance is counted in the plan, and no visit is
  set down before the weight asked for is recorded. An animal over the limit whose loss leads under
  it, or would come to more than 20 % in six months, passes with a caution, and fails only where
  even the high end of the 80 % interval is under the limit. Three weighings over at least 14 days
  in the last 180 make a projection, the last of them at most `rules.weight_max_age_days` old.
- **Weighings that do not count.** One that is ten times off its neighbours; those in the 100 days
  before a laying as a measure of growth; all from before the last laying as a measure of her now.
- **Wasting.** Of the weighings since the last laying, one that lies 20 % or more under another of
  the six months before it bars, until the last weighing is back at 90 % of that other one, or a vet
  has cleared the animal (an event `cleared` about wasting). A male's winter fast explains less.
- **Recovered** is held against her last weight before the eggs: the last weighing 100 to 400 days
  before the laying, those in the weeks after an earlier laying only where there is no other. Where
  she was weighed while gravid alone, that weight, which is higher, stands in.
- **Last season** means a laying in the year before `season.pair_from`; earlier layings count back
  from there in whole years.
- **Rest years** are read off a ledger: female by season laid, paired without a clutch (a row with 0
  eggs; any day of that season in `laid` says of which), rested, not paired, or nothing on record. A
  season without a row is rest only where `records.failures` says that all failed seasons are
  written down; either way it ends a run. A clutch whose day is not recorded is taken to fill a
  season of which nothing is known. From the second year running on a caution is given; past
  `rules.max_seasons_in_a_row` she is barred. A price in place of the bar:
  `rules: {{soft: {{in-a-row: 150}}}}`; with `max_seasons_in_a_row: 1` it is the price of breeding
  her again without a year of rest.
- **Her past.** All eggs slugs, half of the fertile eggs or more dead (slugs not counted may be dead
  eggs), until a later clutch came through; deformed young and trouble named in a note, until
  `vet_cleared`, or an event `cleared` about laying, bears a day on or after them; great age, until
  a vet cleared her so within the last year. Each is a caution: a vet looks before she is paired.
- **Cautions** are told in order: what can hurt an animal first and whole, at the head of the plan;
  then weight and condition, rest years, and what the records leave open. One that many animals
  share is one line with their names.
- **Trouble at laying** stands in the `trouble` column of the clutches table and bars her until
  `vet_cleared` of the animals table, or an event `cleared` about laying, bears a day on or after
  it.
- **Illness.** An event `ill` bars until a vet clears the animal of illness, whatever `about` says.
  A test about illness, laying or wasting that is positive, unclear or without its result bars
  until a later negative test of the same, or a vet's clearance.
- **Her own genes.** A note on laying or fertility (Desert females, visual Caramel Albino females)
  bars the animal itself until both an event `cleared` about that genotype and the genotype in
  `rules.accept_welfare` stand. The note also lowers the forecast of fertile eggs
  ([forecast.md](forecast.md)).
- **Locks.** `locks.sit_out` rests an animal whatever the rules say, and is shown as a lock. A pair
  of `locks.already_paired` stands as a fact, but no further visit is planned while a rule bars one
  of the two (or their young); the plan says what comes first. So does a pair that events or a
  clutch tell of; none is planned while `locks.sit_out` or `locks.never_pair` is against it.

## What is not known

What is not known passes no bar that a known value would fail. A cell that is empty in a column that
the table has is not known; a table without the column is that of a keeper who does not record it.

- **Sex, weight**: barred. So is a weight without its day of a female that has laid: it may be from
  before the laying.
- **`hatched`**: barred, unless the animal has been on record for as long as the rule asks. In a
  table without the column a clutch or the weight may show a grown animal, with a caution.
- **`morph`**: barred, unless both parents are on record and carry no gene of a welfare note. Write
  `Normal` where it shows none.
- **`condition`**: barred. In a table without the column: a caution to look before pairing.
- **`status`**: barred. In a table without the column: breeder.
- **`arrived`**: loans, animals under `offers` and animals that a what-if brings in are barred.
  Of the others those pass that hatched of a dam of yours, or were weighed or bred here as long ago
  as quarantine lasts; the rest are barred where the table has the column.
- **The weight before last season's laying**: barred; enter it, or let her rest.
- **`laid` of a clutch, the result of a test**: barred.

So deleting or emptying a cell or a row makes no barred animal plannable, save where it is the only
trace of the very fact that bars: the last weighing of an animal (where the animals table repeats
it, that is a second trace), the weighings that a loss is told by, the only row of a clutch
(`last_laid` is a second trace of last season's), the word in `trouble`, the only entry of an
illness, a test, a death or a sale (`status` is a second trace of the last two), an arrival of an
animal that has been on record for longer, and the row that takes a clearance back.

## Floors

Limits that guard health cannot be set looser than this; a setting beyond is a fault.

{floors}
## Soft rules

`rules: {{soft: {{in-a-row: 120}}}}` turns a preference into a price: a female that would lay for
one season more in a row than you like may be planned, and the plan counts 120 of your currency
against each pairing of hers. What is missing is counted in the unit of the table above. Only rest
years are preferences. A rule without a unit guards the animals and always bars: no price buys it
off.
"""


def rules_page() -> str:
    """Return the page in Markdown."""
    animal_rows = [
        (f"`{rule.id}`", rule.title, _keys(rule.keys), rule.unit or "never", rule.because)
        for rule in ANIMAL_RULES
    ]
    pair_rows = [
        (f"`{rule.id}`", rule.title, _keys(rule.keys), rule.because) for rule in PAIR_RULES
    ]
    heads = ("id", "rule", "settings", "soft, a unit", "where it comes from")
    parts = [
        _INTRODUCTION,
        "## Rules on one animal",
        "",
        *table(heads, animal_rows),
        "## Rules on a pair",
        "",
        *table(("id", "rule", "settings", "where it comes from"), pair_rows),
        _JUDGING.format(floors=_floors()),
        "## Pairings of a male",
        "",
        _males(),
        "",
        "## Defaults of the rules",
        "",
        *_defaults(RULE_DEFAULTS),
        "## Defaults of forecasts, dates and visits",
        "",
        "How they are used is told in `docs/forecast.md`.",
        "",
        *_defaults(FORECAST_DEFAULTS),
    ]
    return "\n".join(parts)


def _males() -> str:
    return (
        "`max_pairings` of the animals table counts first, then `limits.pairings_per_male`. "
        "Without either:\n"
        f"{YOUNG_PAIRINGS} females for a male under {YOUNG_MONTHS} months or {LIGHT_G:g} g, "
        f"{MIDDLE_PAIRINGS} under {GROWN_MONTHS} months or {GROWN_G:,.0f} g, else {GROWN_PAIRINGS} "
        "(common practice,\nno source). No male is planned for more females than his visits allow "
        "in the pairing window."
    )


def _floors() -> str:
    rows = [
        (
            f"`rules.{floor.key}`" + _ends(floor),
            floor.words,
            floor.why,
        )
        for floor in FLOORS
    ]
    return "\n".join(table(("key", "at", "why"), rows))


def _ends(floor: Floor) -> str:
    return "" if floor.place is None else (", the lowest", ", the highest")[floor.place]


def _keys(keys: Sequence[str]) -> str:
    return ", ".join(f"`{key}`" for key in keys)


def _defaults(defaults: Iterable[Default]) -> list[str]:
    rows = [(f"`{each.key}`", each.value, each.meaning, each.source) for each in defaults]
    return table(("key", "default", "what it is", "source"), rows)


def main(arguments: Sequence[str]) -> None:
    """Write the page to the file named."""
    (target,) = arguments
    Path(target).write_text(rules_page(), encoding="utf-8")


if __name__ == "__main__":
    main(sys.argv[1:])
