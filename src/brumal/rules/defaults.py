"""Every figure that rules, forecasts, dates and visits start from, with where it comes from."""

from __future__ import annotations

from dataclasses import dataclass

from brumal.records.settings import (
    ClutchPrior,
    Kin,
    Limits,
    RuleLimits,
    StageDays,
    Visits,
)
from brumal.rules.rule import PRACTICE

OFF = "off"
MORRILL = (
    "Morrill, Rickords, Sutherland & Julander 2011, Herpetological Review 42:226-231, summary read"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Default:
    """One setting: its key in ``season.yaml``, what it is, and the source of its default."""

    key: str
    meaning: str
    source: str = PRACTICE

    @property
    def value(self) -> str:
        """Return the default as written in ``season.yaml``."""
        section, name = self.key.split(".")
        return written(getattr(_SECTIONS[section], name))


_SECTIONS: dict[str, object] = {
    "rules": RuleLimits(),
    "limits": Limits(),
    "kin": Kin(),
    "clutch": ClutchPrior(),
    "dates": StageDays(),
    "visits": Visits(),
}


def written(value: object) -> str:
    """Write a default as the keeper would; what is off or empty is said in words."""
    if value is None or value is False or value in ((), {}):
        return OFF
    if isinstance(value, tuple):
        return f"[{', '.join(written(each) for each in value)}]"
    return f"{value:g}" if isinstance(value, float) else str(value)


RULE_DEFAULTS = (
    Default(
        key="rules.female_weight_g",
        meaning="least weight of a female, grams",
        source=f"females over 1,500 g were bred in 783 clutches ({MORRILL}): a practice, not a "
        "tested threshold",
    ),
    Default(
        key="rules.proven_female_weight_g",
        meaning="the same for a female that has laid; off: as for a first clutch",
    ),
    Default(
        key="rules.male_weight_g",
        meaning="least weight of a male, grams",
        source=f"males over 500 g were bred in the same clutches ({MORRILL}): a practice, not a "
        "tested threshold",
    ),
    Default(
        key="rules.start_chance",
        meaning="an animal whose last weighing is under a limit may start on the day on which it "
        "weighs enough with this chance, by its own gain; it is weighed first",
    ),
    Default(
        key="rules.weight_max_age_days",
        meaning="a last weighing older than this on the first day of pairing gets a caution, and "
        "no gain is projected from it",
    ),
    Default(
        key="rules.female_age_months",
        meaning="least age of a female, calendar months",
        source=f"{PRACTICE} (2-4 years, size more telling)",
    ),
    Default(
        key="rules.male_age_months",
        meaning="least age of a male, calendar months",
        source=f"{PRACTICE} (1-2 years)",
    ),
    Default(key="rules.condition", meaning="body condition from 1 thin to 5 obese: least, most"),
    Default(
        key="rules.first_clutch_condition",
        meaning="the same for a female that has not laid yet",
    ),
    Default(
        key="rules.recovered_share",
        meaning="share of her last weight before the eggs (more than 100 days before laying; each "
        "day from it until then counts as 5 g more) that a female must be back at, if she laid "
        "within the year before pairing",
    ),
    Default(
        key="rules.max_seasons_in_a_row",
        meaning="seasons of laying without a rest year (0: off)",
        source=f"{PRACTICE} (the effect of breeding in consecutive years was not found in papers)",
    ),
    Default(key="rules.rest_seasons", meaning="whole seasons of rest after a laying (0: off)"),
    Default(
        key="rules.great_age_years",
        meaning="age from which on a vet looks at a female before she is paired, years",
        source=f"{PRACTICE} (no age limit found)",
    ),
    Default(
        key="rules.quarantine_days",
        meaning="days a new animal stays apart after `arrived`",
        source="90 to 180 days; 90 may miss carriers (veterinary teaching wiki, read, a weak "
        "source)",
    ),
    Default(
        key="rules.quarantine_test",
        meaning="quarantine ends only with a negative test since the arrival (an event `tested`)",
        source="the keeper's own decision",
    ),
    Default(key="rules.soft", meaning="preferences turned into prices: rule id to cost a unit"),
    Default(
        key="rules.accept_welfare",
        meaning="genotypes whose welfare note the keeper accepts by name",
        source="the keeper's own decision",
    ),
    Default(
        key="limits.max_F",
        meaning="greatest inbreeding coefficient of the young",
        source=f"{PRACTICE} (the young of first cousins: Wright 1922, from memory)",
    ),
    Default(
        key="kin.min_generations",
        meaning="generations that must be recorded in full behind both parents (0: off)",
    ),
)

FORECAST_DEFAULTS = (
    Default(
        key="clutch.eggs",
        meaning="mean eggs of a later clutch of a female of `clutch.reference_g`",
        source=f"mean of 783 captive clutches, 5,344 eggs ({MORRILL}; first clutches among them, "
        "weights not told); wild mean 8.1, range 4-15 (Gorzula, Nsiah & Oduro 1997, summary read)",
    ),
    Default(key="clutch.reference_g", meaning="mass of that female, grams"),
    Default(key="clutch.first_share", meaning="a first clutch as a share of a later one"),
    Default(
        key="clutch.mass_exponent",
        meaning="eggs go with mass to this power",
        source=f"{PRACTICE}; fecundity rises with size (Aubret et al. 2005, abstract read), its "
        "slope is not published in the abstract",
    ),
    Default(
        key="clutch.goes",
        meaning="chance that a paired female that has laid before lays",
        source=f"{PRACTICE} (the share of paired females that lay was not found in papers)",
    ),
    Default(key="clutch.goes_first", meaning="the same for a first season"),
    Default(
        key="clutch.goes_after_laying",
        meaning="the same for a female that laid last season",
        source=f"{PRACTICE} (the effect of breeding in consecutive years was not found in papers)",
    ),
    Default(
        key="clutch.goes_doubtful",
        meaning="the most it is put at for a female of great age or with trouble at laying on "
        "record",
    ),
    Default(
        key="clutch.fertile",
        meaning="share of eggs that are not slugs",
        source=f"{PRACTICE} (no rate of slugs found); with `clutch.hatched` it makes 81 % of all "
        f"eggs, the published hatch rate ({MORRILL}; per egg or per clutch not told)",
    ),
    Default(
        key="clutch.hatched",
        meaning="share of fertile eggs that hatch",
        source=f"with `clutch.fertile` 81 % of all eggs ({MORRILL}; per egg or per clutch not "
        "told)",
    ),
    Default(key="clutch.worth", meaning="clutches that these stated figures count for"),
    Default(
        key="dates.ovulation",
        meaning="days of the year between which eight in ten females ovulate; left out, 10 "
        "February to 7 April, or half a year later where pairing begins from April to August",
    ),
    Default(
        key="dates.to_shed",
        meaning="days from ovulation to the pre-lay shed: least, most",
        source=f"{PRACTICE} (keepers write 14 to 25 days)",
    ),
    Default(
        key="dates.shed_to_laying",
        meaning="days from the pre-lay shed to laying",
        source=f"{PRACTICE} (keepers write 25 to 50; ovulation to laying 49 to 54 in all)",
    ),
    Default(
        key="dates.incubation",
        meaning="days from laying to hatching",
        source=f"{PRACTICE} (55 to 60 days; to 65 in wider use); 58 to 70 in one study (Ellis & "
        "Chappell 1987, J Comp Physiol B 157:393-402, abstract read)",
    ),
    Default(key="dates.raising", meaning="days from hatching until the young leave their tubs"),
    Default(key="visits.days", meaning="days a male stays with a female"),
    Default(key="visits.male_rest_days", meaning="whole days a male rests between visits"),
    Default(key="visits.female_rest_days", meaning="whole days a female rests between visits"),
    Default(key="visits.weekdays", meaning="weekdays on which visits begin"),
    Default(
        key="visits.wanted",
        meaning="visits a female gets at most; left out, they go on until her window is over",
    ),
    Default(
        key="visits.least",
        meaning="visits in `visits.serve_days` that a male must be able to give each of his "
        "females; decides how many he is planned for",
    ),
    Default(
        key="visits.serve_days", meaning="days before ovulation from which on a visit can serve it"
    ),
    Default(key="visits.serve_chance", meaning="chance that one such visit serves it"),
    Default(
        key="visits.ordinary",
        meaning="such visits in an ordinary schedule, for which `clutch.goes` and records stand",
    ),
)

ALL_DEFAULTS = (*RULE_DEFAULTS, *FORECAST_DEFAULTS)
