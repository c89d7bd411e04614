"""The invented studio: its yarn, dyes, colourways and vessels. No person, shop, brand or colourway here is real."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class InventedBase:
    """A base with its put-ups as (grams, metres, name) and the share of a year's work that is dyed on it."""

    name: str
    fibres: dict[str, int]  # per mille
    metres_per_100g: int
    category: int
    superwash: bool
    hank_millimetres: int
    spun_in: str
    put_ups: tuple[tuple[int, int, str], ...]
    weight: int


BASES: tuple[InventedBase, ...] = (
    InventedBase("Harrow Sock", {"wool": 750, "nylon": 250}, 400, 1, True, 1500, "IT",
                 ((100, 400, "skein"), (50, 200, "half skein"), (20, 80, "mini")), 30),
    InventedBase("Tall Merino Single", {"wool": 1000}, 366, 1, True, 1500, "PE",
                 ((100, 366, "skein"), (50, 183, "half skein")), 16),
    InventedBase("Ferry DK", {"wool": 1000}, 225, 3, True, 1800, "PE", ((100, 225, "skein"), (50, 112, "half skein")), 16),
    InventedBase("Cold Byre Worsted", {"wool": 1000}, 180, 4, False, 1800, "GB", ((100, 180, "skein"),), 10),
    InventedBase("Millpond Lace", {"alpaca": 700, "silk": 300}, 800, 0, False, 1500, "IT", ((100, 800, "skein"),), 6),
    InventedBase("Plainsong Silk Blend", {"wool": 500, "silk": 500}, 400, 1, False, 1500, "CN", ((100, 400, "skein"),), 8),
    InventedBase("Halo Two", {"mohair": 720, "silk": 280}, 840, 0, False, 1500, "IT", ((50, 420, "half skein"),), 8),
    InventedBase("Glint Sock", {"wool": 750, "nylon": 200, "polyester": 50}, 400, 1, True, 1500, "TR",
                 ((100, 400, "skein"), (20, 80, "mini")), 6),
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class InventedDye:
    """A dye: its class, its C.I. name where the invented label gives one, and the colour of its button."""

    name: str
    dye_class: str
    ci_name: str
    chip: str


DYES: tuple[InventedDye, ...] = (
    InventedDye("Lemon", "levelling", "C.I. Acid Yellow 17", "#F2D027"),
    InventedDye("Straw", "milling", "", "#E0B84A"),
    InventedDye("Marigold", "milling", "", "#EC9A1E"),
    InventedDye("Orange", "levelling", "C.I. Acid Orange 7", "#E8641B"),
    InventedDye("Brick", "premetallised_1_2", "", "#A6452B"),
    InventedDye("Red", "milling", "C.I. Acid Red 138", "#C2203A"),
    InventedDye("Rose", "levelling", "C.I. Acid Red 1", "#D8335E"),
    InventedDye("Neon pink", "acid_unknown", "C.I. Acid Red 52", "#F0308C"),
    InventedDye("Plum", "premetallised_1_2", "", "#5B2346"),
    InventedDye("Violet", "levelling", "C.I. Acid Violet 43", "#5A3A8E"),
    InventedDye("Navy", "premetallised_1_2", "", "#1D2747"),
    InventedDye("Blue", "milling", "C.I. Acid Blue 80", "#1F4FA3"),
    InventedDye("Sky", "levelling", "C.I. Acid Blue 25", "#2F7FC4"),
    InventedDye("Turquoise", "acid_unknown", "C.I. Acid Blue 9", "#12A5C0"),
    InventedDye("Teal", "milling", "", "#0F6A70"),
    InventedDye("Bottle green", "milling", "C.I. Acid Green 25", "#1C5B45"),
    InventedDye("Leaf", "acid_unknown", "", "#6FA032"),
    InventedDye("Olive", "premetallised_1_2", "", "#6B6A2C"),
    InventedDye("Brown", "premetallised_1_2", "", "#5A3A26"),
    InventedDye("Grey", "premetallised_1_2", "", "#6A6C70"),
    InventedDye("Black", "mixed_1_2_reactive", "", "#1B1A1D"),
)


@dataclass(frozen=True, slots=True)
class InventedColourway:
    """A colourway: how it looks (kind and chips) and its dyes as (name, depth of shade in hundredths of a percent)."""

    name: str
    kind: str  # solid, tonal, variegated, speckled, gradient
    chips: tuple[str, ...]
    dyes: tuple[tuple[str, int], ...]


COLOURWAYS: tuple[InventedColourway, ...] = (
    InventedColourway("Ash Before Rain", "tonal", ("#8C9196", "#6F757C"), (("Grey", 45), ("Navy", 4))),
    InventedColourway("Tin Roof", "tonal", ("#9AA6AC", "#7B5747"), (("Grey", 30), ("Brick", 12))),
    InventedColourway("Quince Paste", "tonal", ("#C65A27", "#A8421E"), (("Orange", 90), ("Brick", 35))),
    InventedColourway("Slack Tide", "variegated", ("#1F5A66", "#7FB0B4", "#D9DDD2"), (("Teal", 80), ("Turquoise", 15))),
    InventedColourway("Sloe Hedge", "tonal", ("#3C2A55", "#2B1F40"), (("Violet", 110), ("Navy", 60))),
    InventedColourway("Lichen Wall", "speckled", ("#8C9087", "#C9B73C", "#566B47"), (("Grey", 15), ("Straw", 12), ("Olive", 8))),
    InventedColourway("Copper Gutter", "variegated", ("#B5623B", "#5F8F7D", "#7B3E26"), (("Brick", 60), ("Teal", 15))),
    InventedColourway("Paper Lantern", "tonal", ("#E9B65C", "#E0A045"), (("Marigold", 40), ("Straw", 20))),
    InventedColourway("Cold Frame", "tonal", ("#B9CDBB", "#9DBBA2"), (("Bottle green", 12), ("Grey", 6))),
    InventedColourway("Late Plum", "solid", ("#56223F",), (("Plum", 180), ("Red", 20))),
    InventedColourway("Wet Slate", "tonal", ("#4A525B", "#363D45"), (("Grey", 90), ("Navy", 35))),
    InventedColourway("Marmalade Spoon", "tonal", ("#E27D1C", "#C96413"), (("Orange", 70), ("Marigold", 60))),
    InventedColourway("Rook Feather", "solid", ("#1F2029",), (("Black", 320), ("Navy", 40))),
    InventedColourway("First Rhubarb", "variegated", ("#E77C93", "#C9D79A", "#D2476A"), (("Rose", 40), ("Leaf", 10))),
    InventedColourway("Bus Stop Violet", "tonal", ("#7A5BB0", "#63459B"), (("Violet", 70), ("Rose", 8))),
    InventedColourway("Bread Crust", "tonal", ("#A8743F", "#8A5A2E"), (("Brown", 50), ("Straw", 30))),
    InventedColourway("Pond Skater", "speckled", ("#9FB7A6", "#2E4C43", "#D0C06A"), (("Bottle green", 18), ("Straw", 10))),
    InventedColourway("Saltwort", "tonal", ("#8FA38A", "#73876E"), (("Olive", 25), ("Bottle green", 8))),
    InventedColourway("Cherry Stone", "solid", ("#8E1B2F",), (("Red", 170), ("Plum", 25))),
    InventedColourway("Kiln Door", "variegated", ("#2A1D1B", "#B8431E", "#E6A03A"), (("Orange", 60), ("Black", 70))),
    InventedColourway("Window Frost", "tonal", ("#D5E2EA", "#BFD3E0"), (("Sky", 6), ("Grey", 2))),
    InventedColourway("Nettle Soup", "tonal", ("#567A36", "#436329"), (("Leaf", 80), ("Olive", 30))),
    InventedColourway("Ink Bottle", "solid", ("#16244A",), (("Navy", 210), ("Blue", 40))),
    InventedColourway("Peach Stone", "tonal", ("#EFB494", "#E49A78"), (("Orange", 12), ("Rose", 6))),
    InventedColourway("Gorse Hill", "tonal", ("#EBC62B", "#D6AE1C"), (("Lemon", 90), ("Marigold", 15))),
    InventedColourway("Fishing Twine", "tonal", ("#2F8E93", "#23757B"), (("Turquoise", 60), ("Bottle green", 20))),
    InventedColourway("Beetroot Water", "variegated", ("#A31F56", "#E2A4BB", "#6E153C"), (("Rose", 90), ("Plum", 20))),
    InventedColourway("Moth Wing", "tonal", ("#B7A88F", "#97876C"), (("Brown", 16), ("Grey", 10))),
    InventedColourway("Pencil Cedar", "tonal", ("#9A5A3E", "#7E452E"), (("Brick", 70), ("Brown", 30))),
    InventedColourway("Blue Enamel", "solid", ("#2355A8",), (("Blue", 140), ("Sky", 30))),
    InventedColourway("Confetti Drain", "speckled", ("#F2E9DD", "#E13A77", "#2F7FC4", "#F2C22B"),
                      (("Neon pink", 6), ("Sky", 6), ("Lemon", 6))),
    InventedColourway("Bramble Jelly", "tonal", ("#5D1838", "#471029"), (("Plum", 130), ("Violet", 30))),
    InventedColourway("Harbour Light", "gradient", ("#0F3B57", "#4F8DA0", "#E9C77B"), (("Navy", 50), ("Teal", 30), ("Straw", 15))),
    InventedColourway("Old Hay", "tonal", ("#C7AE62", "#B1974B"), (("Straw", 45), ("Olive", 10))),
    InventedColourway("Thimbleberry", "tonal", ("#C93A55", "#A82943"), (("Rose", 80), ("Red", 30))),
    InventedColourway("Storm Porch", "variegated", ("#3B4654", "#8795A1", "#C7A94E"), (("Navy", 40), ("Grey", 30), ("Straw", 8))),
    InventedColourway("Pea Shoot", "tonal", ("#A9C65B", "#93B246"), (("Leaf", 35), ("Lemon", 12))),
    InventedColourway("Cinder Path", "tonal", ("#5E5653", "#4A4341"), (("Black", 60), ("Brown", 20))),
    InventedColourway("Lamp Oil", "solid", ("#7A5A12",), (("Olive", 90), ("Marigold", 40))),
    InventedColourway("Glass Float", "tonal", ("#7CC3B5", "#5FAE9F"), (("Turquoise", 22), ("Leaf", 8))),
    InventedColourway("Red Oxide", "tonal", ("#8F3B2A", "#762D1F"), (("Brick", 120), ("Red", 30))),
    InventedColourway("Dusk Bicycle", "variegated", ("#6C5A8C", "#E59A6A", "#2B3557"), (("Violet", 35), ("Orange", 15), ("Navy", 25))),
    InventedColourway("Chalk Dust", "solid", ("#E4DED2",), (("Grey", 3), ("Straw", 2))),
    InventedColourway("Woodpigeon", "tonal", ("#8E8AA0", "#B58F9C"), (("Grey", 28), ("Plum", 8))),
    InventedColourway("Winter Market", "speckled", ("#23443A", "#B8243B", "#E8DCC2"), (("Bottle green", 110), ("Red", 12))),
)  # fmt: skip

# (name, role, form, strength in hundredths of a percent or None, what is in the store: mg or µl)
AUXILIARIES: tuple[tuple[str, str, str, int | None, int], ...] = (
    ("Citric acid", "acid", "powder", None, 1_850_000),
    ("White vinegar", "acid", "liquid", 500, 7_400_000),
    ("Ammonium sulphate", "acid_donor", "powder", None, 620_000),
    ("Glauber's salt", "salt", "powder", None, 2_300_000),
    ("Wool leveller", "leveller", "liquid", None, 640_000),
    ("Wetting agent", "wetting", "liquid", None, 410_000),
)

# (name, kind, millilitres to the working mark, watts of its hob)
VESSELS: tuple[tuple[str, str, int, int | None, str], ...] = (
    ("Big blue", "pot", 20_000, 3000, "induction"),
    ("Old steel", "pot", 16_000, 2000, "electric"),
    ("Short one", "pot", 12_000, 2000, "electric"),
    ("Jam pot", "pot", 9_000, 1800, ""),
    ("Long pan", "pan", 8_000, 2000, "gas"),
    ("Square pan", "pan", 6_000, 1800, ""),
    ("The steamer", "steamer", 10_000, 2000, ""),
)
# The last two are for seconds and for samples.
SHELVES: tuple[str, ...] = ("A1", "A2", "A3", "B1", "B2", "B3", "Seconds bin", "Sample box")
HELPER_NAME = "Jo"
STUDIO_NAME = "Weir Lane Dyeworks"
STUDIO_ADDRESS = "2 Weir Lane\nBallydun\nIreland"
STUDIO_EMAIL = "post@weirlane.example"
