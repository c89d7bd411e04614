"""The publications that the rules of this room are from, titled without any maker's name."""

from __future__ import annotations

from recipes.dyeing.working import Source, Standing

_READ, _SECOND, _MEMORY, _DERIVED = (
    Standing.READ,
    Standing.SECOND_HAND,
    Standing.FROM_MEMORY,
    Standing.DERIVED,
)

DEFINITION = Source("definition and arithmetic", _DERIVED)
MASS_BALANCE = Source("mass balance", _DERIVED)
HEAT_BALANCE = Source("heat balance, with water at 4.186 kJ/(kg K) from memory", _DERIVED)
ATOMIC_MASSES = Source("atomic masses of the crystal forms", _DERIVED)

MAKER_QUANTITIES = Source("dye maker's page on calculating dye quantities", _READ)
MAKER_MILLING = Source("dye maker's bulletin on wool with milling dyes", _READ)
MAKER_WOOL_NYLON = Source("dye maker's bulletin on wool and nylon in one bath", _READ)
MAKER_COTTON = Source("dye maker's bulletin on reactive dyes on cotton", _READ)
SHEET_MIXED = Source("supplier's sheet on 1:2 premetallised and reactive dyes on wool", _READ)
SHEET_COLD_ON_WOOL = Source("supplier's sheet on cold reactive dyes on wool", _READ)
SHEET_REACTIVE_COTTON = Source("supplier's sheet on reactive dyes on cotton", _READ)
NOTE_PREMETALLISED = Source("supplier's note on ammonium sulphate and premetallised dyes", _READ)
FORUM_IMMERSION = Source("dye maker's answers on cold reactive dyes in immersion", _SECOND)

BROADBENT = Source(
    "Basic Principles of Textile Coloration (author from memory: A. D. Broadbent), pp. 242-268 and 356", _READ
)
SHRINK_RESIST = Source(
    "Cookson, Hine and McPhee, The Dyeing of Shrink-resistant Wool, J. Soc. Dyers Colourists, 1964", _READ
)
SILK_NOTE = Source("training note on acid dyes on silk", _SECOND)
WORKROOM_SILK = Source("workroom sheet on acid dyes on silk, wool and nylon", _SECOND)
METAL_COMPLEX = Source("training note on metal-complex dyes for wool and silk", _SECOND)
NYLON_NOTE = Source("training notes on dyeing nylon", _SECOND)
ARTIST_ACID = Source("an artist's published acid dye method", _SECOND)
LAB_DIP = Source("mill training note on lab dips", _SECOND)
HAND_DYEING_PAGES = Source("P. E. Burch, hand-dyeing reference pages", _SECOND)
LIQUOR_RATIO_STUDY = Source("Ozturk, Dayioglu and Shamey, AATCC Review 12(1), 2012, pp. 48-53", _READ)
DEPTH_CUSTOM = Source("general hand-dyers' custom", _MEMORY)
BLEND_NOTE = Source("note on acid dyes on wool and nylon blends", _SECOND)

BEECH = Source("F. Beech, The Dyeing of Cotton Fabrics", _READ)
GUM = Source("JCGM 100, Guide to the Expression of Uncertainty in Measurement, F.2.2.1", _MEMORY)
WEIGHING = Source("readability of a balance, two readings", _DERIVED)
COOKTOP_TESTS = Source("US DOE cooktop tests, as quoted in the trade", _SECOND)
HARDNESS_UNITS = Source("definitions of the hardness units", _DERIVED)
HARDNESS_CLASSES = Source("water hardness classes after USGS", _SECOND)
REGULATION_1007 = Source("Regulation (EU) No 1007/2011, Annex IX", _READ)
D1909 = Source("ASTM D1909-13 commercial moisture regains", _READ)
D1909_MEMORY = Source("ASTM D1909-13 commercial moisture regains", _MEMORY)

NOTES_ON_MIXED = Source(
    "T. Chiu, notes of 2006 quoting The Ashford Book of Dyeing (author A. Milner), on 1:2 and reactive dyes on wool",
    _SECOND,
)
ACETATE_AMOUNT = Source("makers' manuals for 1:2 and reactive dyes on wool", _MEMORY)
DYER_SALT = Source("a dyer's worked example with levelling dyes", _SECOND)
SODA_BY_WATER = Source("a supplier's word on soda ash, quoted by a shop", _SECOND)
CHART_BY_POUND = Source(
    "a dye maker's chart for cold reactive dyes, quoted by a shop; the litres of its bath from memory",
    _SECOND,
)
SHEET_ORGANIC = Source(
    "supplier's instructions for reactive dyes, 3 US gallons and a pound of cotton", _SECOND
)
WARM_REACTIVE = Source(
    "Analysis of Depth of Shade on Mercerized and Unmercerized Fabric, Journal of Materials, 2016, Table 2",
    _READ,
)
VINYL_SULPHONE = Source("Broadbent, chapter 16, and Shore, Cellulosics Dyeing", _MEMORY)
MOHAIR_NOTE = Source("P. E. Burch, hand-dyeing reference pages, on wool acid dyes", _SECOND)
WOOL_DYEING = Source("D. M. Lewis (editor), Wool Dyeing, SDC 1992", _MEMORY)

STOCK_TEST = Source("a dyer's fridge test of cold reactive stocks, 2011", _SECOND)
STOCK_MAKER = Source("dye maker's advice on cold reactive stocks, quoted by a shop", _SECOND)
HSE = Source("UK Health and Safety Executive, Dyes and dyeing, and Information Sheet 5", _READ)
HSE_LUNG = Source("UK Health and Safety Executive, Textiles and laundries", _READ)
CLP = Source("Regulation (EC) No 1272/2008, Annex I, Table 3.4.7", _READ)
SCHOOL_NOTES = Source("NSEAD, health and safety: dyes", _READ)
ACID_LIMITS = Source("CLP limits of acetic acid", _MEMORY)
SDS_IRRITANTS = Source("safety data sheets of citric acid and soda ash", _MEMORY)
SCALDS = Source("US CPSC scald times", _MEMORY)
DRAINS = Source("P. E. Burch, answers on disposal", _SECOND)
WHO_DECIDES = Source("section 13 of the safety data sheet, and the local sewer operator", _MEMORY)
SHADE_STRENGTH = Source(
    "P. E. Burch, hand-dyeing reference pages, on diluents and standard strength", _SECOND
)
WATER_EFFECTS = Source("notes on hard water in dyeing", _SECOND)
PRACTICE = Source("the trade", Standing.PRACTICE)
TOLD = Source("what was told at the pot", Standing.TOLD)
FIXATION = Source(
    "US EPA, Best Management Practices for Pollution Prevention in the Textile Industry, 1995, table of fixation",
    _SECOND,
)
