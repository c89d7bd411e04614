"""The words that lines at a pot are made of: measures, common auxiliaries, and words that put an amount in doubt."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import Literal

from recipes.dyeing.fibres import FIBRES
from recipes.dyeing.units import MASS_UNITS, VOLUME_UNITS


def words_of(text: str) -> frozenset[str]:
    """The words of a list written as one text."""
    return frozenset(text.split())


@dataclass(frozen=True, slots=True)
class Measure:
    """A measure as dyers write it.

    `of` is what it measures: a mass or a volume with a certain size; a spoon or a handful, whose size is not certain,
    of powder or of liquid; "unclear" for one that means two things. `size` is in milligrams or microlitres.
    """

    of: Literal["mass", "volume", "cup", "spoon", "pinch", "drop", "unclear"]
    size: Fraction = Fraction(0)
    metric: bool = False
    question: str = ""


def _measures() -> dict[str, Measure]:
    measures: dict[str, Measure] = {}

    def add(words: str, measure: Measure) -> None:
        measures.update(dict.fromkeys(words.split(), measure))

    add("mg mgs milligram milligrams milligramme milligrammes", Measure("mass", MASS_UNITS["mg"], True))
    add("g gm gms gram grams gramme grammes", Measure("mass", MASS_UNITS["g"], True))
    add(
        "kg kgs kilo kilos kilogram kilograms kilogramme kilogrammes", Measure("mass", MASS_UNITS["kg"], True)
    )
    add("oz ounce ounces", Measure("mass", MASS_UNITS["oz"]))
    add("lb lbs pound pounds", Measure("mass", MASS_UNITS["lb"]))
    add("µl μl ul microlitre microlitres microliter microliters", Measure("volume", VOLUME_UNITS["ul"], True))
    add("ml mls mil mils mill mills cc ccs", Measure("volume", VOLUME_UNITS["ml"], True))
    add("millilitre millilitres milliliter milliliters", Measure("volume", VOLUME_UNITS["ml"], True))
    add("cl centilitre centilitres", Measure("volume", 10 * VOLUME_UNITS["ml"], True))
    add("dl decilitre decilitres deciliter deciliters", Measure("volume", 100 * VOLUME_UNITS["ml"], True))
    add("l ltr ltrs litre litres liter liters", Measure("volume", VOLUME_UNITS["l"], True))
    add("quart quarts qt qts", Measure("volume", VOLUME_UNITS["us_quart"]))
    add("gal gals gallon gallons", Measure("volume", VOLUME_UNITS["us_gal"]))
    add("cup cups", Measure("cup", VOLUME_UNITS["us_cup"]))
    add("tsp tsps teaspoon teaspoons teaspoonful teaspoonfuls", Measure("spoon"))
    add("tbsp tbsps tbs tablespoon tablespoons tablespoonful tablespoonfuls", Measure("spoon"))
    add("spoon spoons spoonful spoonfuls scoop scoops", Measure("spoon"))
    add("pinch pinches dash dashes sprinkle sprinkles smidgen smidgens speck specks", Measure("pinch"))
    add("drop drops squirt squirts glug glugs splash splashes pipette pipettes", Measure("drop"))
    add("syringe syringes ladle ladles capful capfuls dribble dribbles", Measure("drop"))
    add(
        "gr grs grain grains",
        Measure("unclear", question="Grams or grains? Write g for grams, for example “5 g violet”."),
    )
    add(
        "pint pints pt",
        Measure("unclear", question="Pints are two sizes. Write ml or litres, for example “500 ml”."),
    )
    return measures


MEASURES = _measures()

#: Measures of two or three words, and what they are.
LONG_MEASURES: dict[tuple[str, ...], Measure] = {
    (fluid, ounce): Measure("volume", VOLUME_UNITS["us_fl_oz"])
    for fluid in ("fl", "fluid")
    for ounce in ("oz", "ounce", "ounces")
}
LONG_MEASURES |= {
    (where, gallon): Measure("volume", VOLUME_UNITS[size])
    for where, size in (("us", "us_gal"), ("imperial", "imp_gal"), ("imp", "imp_gal"), ("uk", "imp_gal"))
    for gallon in ("gal", "gals", "gallon", "gallons")
}
LONG_MEASURES |= {
    (how, spoon): Measure("spoon")
    for how in ("heaped", "heaping", "level", "rounded", "scant", "generous")
    for spoon, measure in MEASURES.items()
    if measure.of == "spoon"
}
LONG_MEASURES |= {
    (how, pinch): MEASURES[pinch]
    for how in ("big", "small", "tiny", "good", "large")
    for pinch, measure in MEASURES.items()
    if measure.of in ("pinch", "drop")
}

MINUTES = words_of(
    "min mins minute minutes hr hrs hour hours sec secs second seconds s h day days week weeks"
)
COUNTED = words_of("skein skeins hank hanks mini minis piece pieces pot pots pan pans ball balls turn turns")
#: What a mix is named by: jug A, mix evening.
JUGS = words_of("jug mix")
PERCENT = frozenset(("percent", "per-cent"))

LIQUID_AUXILIARIES = words_of("vinegar acetic ammonia detergent soap formic leveller leveler wetter")
POWDER_AUXILIARIES = words_of(
    "citric salt salts soda bicarb bicarbonate alum urea sulphate sulfate ammonium glauber glauber's glaubers "
    "tartar borax carbonate chloride acetate phosphate tripolyphosphate"
)
OTHER_AUXILIARIES = words_of(
    "acid acids softener sequestrant wetting levelling leveling retarder buffer thickener alginate mordant "
    "surfactant auxiliary afterfix fixative fixer"
)
AUXILIARIES = LIQUID_AUXILIARIES | POWDER_AUXILIARIES | OTHER_AUXILIARIES
#: A bare word that may mean any of several auxiliaries.
BROAD_AUXILIARIES = {
    "acid": words_of("acid vinegar citric acetic formic"),
    "salt": words_of("salt glauber glauber's glaubers"),
    "soda": frozenset(("soda",)),
    "sulphate": frozenset(("sulphate", "sulfate")),
}

COLOURS = words_of(
    "red blue yellow green black white violet purple teal turquoise orange brown pink magenta cyan navy grey "
    "gray scarlet crimson fuchsia gold golden rose rust olive lime lemon aqua indigo lilac burgundy maroon "
    "ochre charcoal coral peach plum emerald chestnut cherry"
)

#: Words before an amount that only say that it went in.
OPENINGS = words_of(
    "add added adding another more extra further put poured pour gave i i've we we've have ive also just now "
    "ok okay so um uh er and then plus first second finally lastly again the gone went sprinkled sprinkle "
    "squirted stirred dripped used"
)
#: Words after a name that only say how or where it went in.
ENDINGS = words_of(
    "in now added more again extra slowly gradually gently carefully dropwise too also already straight "
    "directly please dissolved went was"
)
#: Words between an amount and its name.
BETWEEN = words_of("of more extra the my our another")
#: Words after a name that say what form it is in.
FORMS = words_of("stock solution powder dye liquid crystals sol soln")

ABOUT = words_of("about approx approximately almost nearly roughly around ca circa")

#: The line tells what is wanted, planned or supposed, or takes something back; nothing in it is read as done.
WANTED = words_of(
    "need needs needed should should've would could can might may must will shall i'll we'll it'll ill'd i'd "
    "we'd gonna want wants wanted plan plans planned planning tomorrow later next todo maybe perhaps possibly "
    "if think thinking wonder suppose supposed consider considering wish try trying todays tonight remember "
    "remind unless whether aim aiming target ought intend probably until'll recipe calls says"
)
TAKEN_BACK = words_of(
    "sorry oops correction correct corrected actually scratch wait instead meant mean rather wrong mistake "
    "mistyped misread undo cancel delete strike struck ignore disregard spilled spilt spill wasted retract "
    "typo whoops nevermind forget"
)
#: The line speaks of more than one portion.
PORTIONS = words_of(
    "twice thrice each every apiece ea per times both total altogether double doubled triple half-half split "
    "divided between shared dozen"
)
#: The clause says that something was not done, or was taken out.
NEGATIONS = words_of(
    "no not never none without didn't didnt don't dont haven't havent hasn't hasnt isn't isnt wasn't wasnt "
    "won't wont couldn't couldnt can't cant aint ain't weren't werent forgot forgotten forgetting missed "
    "skipped skip skipping removed took taken nothing neither nor hadn't hadnt doesn't doesnt wouldn't "
    "wouldnt shouldn't shouldnt"
)
#: Words that a name never holds, so that what follows an amount is not taken for one.
NEVER_NAMES = words_of(
    "at on in into to from for by with over under up down off out after before since till until while when "
    "where as than then or but and is are was were be been being has had have having do does did done it its "
    "it's this that these those they them there here he she you me us left remaining remains remain less "
    "least most some any few couple enough only even still yet ago away back later too very quite really so "
    "not no too much many used use mixed mix made make making bottle jar weigh weighed weighs lost drained "
    "drain rinse rinsed wash washed dip dipped pots pan pour poured add added adding a an the one two half "
    "quarter third ph heat temp temperature degrees degree celsius fahrenheit min mins minutes hour hours "
    "percent depth owf wof dos owg shade fibre fiber yarn wool skein skeins clear exhausted water cold hot "
    "warm tested test dropped fell weak strong stronger weaker was wants short missing found gone bath pot "
    "turned stirred stir again now x times about almost nearly both another first last extra more plus minus "
    "of per section"
)
#: What stands after an amount now and then and is no dye: yarn, and what went wrong with it.
UNLIKELY_NAMES = frozenset(fibre.slug for fibre in FIBRES) | words_of(
    "merino bfl polwarth corriedale sock dk worsted fingering lace roving fleece tops superwash batts braid like said "
    "yesterday today earlier morning evening night monday tuesday wednesday thursday friday saturday sunday "
    "dry wet weight wt weighing kettle vessel volume level load scale tare empty full cylinder beaker bucket sink mug "
    "towel gloves swatch scrap sample label tag shelf batch liquor ratio content something stuff thing room boil size "
    "leaked evaporated overflowed bled smells smelled boiled foamed"
)
DEPTH_WORDS = words_of("depth owf wof dos owg shade dos%")
ACTIONS = words_of(
    "turned turn stirred stir lifted moved swapped hold held holding wait waited waiting simmered simmering "
    "rest rested resting flipped lid dipped lowered raised soaked soaking steamed steaming cooked cooling "
    "cooled photo photographed checked rotated swirled squeezed"
)
PRONOUNS = words_of("it that this those them these all everything")

#: No unknown name holds one of these; a name of the studio's that does is recognised as a whole.
RESERVED = (
    ENDINGS
    | UNLIKELY_NAMES
    | NEVER_NAMES
    | WANTED
    | TAKEN_BACK
    | PORTIONS
    | NEGATIONS
    | PRONOUNS
    | ABOUT
    | MEASURES.keys()
    | FORMS
    | COUNTED
)
