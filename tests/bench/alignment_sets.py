"""Which performances the alignment was fitted on, and which it is judged by.

`FITTING` and `SEEN` may be looked at while choosing anything; `FRESH` (and all that
begins with it) is for measuring only.
"""

from __future__ import annotations

from alignment_items import Item

# Note-level weights and the confidence were first fitted on these ...
FITTING = (
    Item("mozart/k156/movement1", 1, "fluid", "strings"),
    Item("mozart/k156/movement1", 2, "timgm", "plucked"),
    Item("haydn/opus1no1/movement2", 3, "timgm"),
    Item("haydn/opus74no1/movement3", 4, "fluid", "brass"),
    Item("schumann_robert/opus41no1/movement1", 5, "timgm", "mixed"),
    Item("handel/rinaldo/Lascia_chio_pianga", 6, "fluid", "winds"),
    Item("weber/concertino_clarinet", 7, "timgm", "winds"),
    Item("mozart/k155/movement2", 8, "fluid", "mixed"),
    Item("bach/bwv69.6", 9, "timgm", "strings"),
    Item("beethoven/opus18no4", 10, "fluid", "strings", "cut"),
    Item("haydn/opus74no1/movement1", 11, "timgm", "mixed", "once"),
    Item("mozart/k80/movement1", 12, "fluid", "plucked", "skip"),
)
# ... and judged by these, which the search for the order of bars has seen since.
SEEN = (
    Item("beethoven/opus59no1/movement3", 101, "musescore"),
    Item("mozart/k458/movement2", 102, "csound", "winds"),
    Item("beethoven/opus59no3/movement2", 103, "musescore", "mixed"),
    Item("haydn/opus74no1/movement2", 104, "csound", "strings"),
    Item("corelli/opus3no1/1grave", 105, "musescore", "brass"),
    Item("beach/prayer_of_a_tired_child", 106, "csound", "mixed"),
    Item("schumann_robert/opus41no1/movement3", 107, "musescore", "winds"),
    Item("beethoven/opus59no2/movement1", 108, "csound"),
    Item("verdi/laDonnaEMobile", 109, "musescore", "plucked"),
    Item("mozart/k458/movement1", 110, "csound", "strings", "once"),
    Item("beethoven/opus59no3/movement3", 111, "musescore", "mixed", "skip"),
    Item("beethoven/opus18no5", 112, "csound", "mixed", "cut"),
)


def _named(
    work: str, seed: int, font: str, palette: str, shape: str = "straight", change: str = ""
) -> Item:
    return Item(work, seed, font, palette, shape, 110, change, named=True)


# Hard cases to work on: scores and fonts of `FITTING`.
FITTING_HARD = (
    _named("mozart/k156/movement1", 51, "fluid", "strings", change="detuned"),
    _named("haydn/opus74no1/movement3", 52, "timgm", "winds", change="muted"),
    _named("mozart/k155/movement2", 53, "fluid", "mixed", change="wrong"),
    _named("weber/concertino_clarinet", 54, "fluid", "mixed", change="percussion"),
    _named("handel/rinaldo/Lascia_chio_pianga", 55, "timgm", "strings", change="wet"),
    _named("haydn/opus74no1/movement1", 56, "fluid", "strings", change="wet"),
    _named("mozart/k80/movement1", 57, "timgm", "winds", "again"),
    _named("beethoven/opus18no4", 58, "timgm", "plucked", "cut"),
    _named("haydn/opus1no1/movement2", 59, "fluid", "brass"),
    _named("mozart/k156/movement1", 60, "timgm", "strings"),
    _named("bach/bwv69.6", 61, "fluid", "winds"),
    _named("schumann_robert/opus41no1/movement1", 62, "fluid", "plucked"),
)
FITTING_ORCHESTRA = (
    Item("orchestra/Beethoven_Op.21_1", 71, "fluid", bars=60),
    Item("orchestra/Bruckner_WAB.105_2", 72, "fluid", bars=32, first=50),
    Item("orchestra/Bach_BWV.1048_1", 73, "timgm", bars=50),
    Item("orchestra/Brahms_Op.73_3", 74, "timgm", bars=60),
)
# Other orders to work on: scores of `FITTING` and `SEEN`.
FITTING_ORDER = (
    _named("mozart/k156/movement1", 5001, "fluid", "strings", "once"),
    _named("haydn/opus1no1/movement2", 5002, "timgm", "mixed", "once"),
    _named("beethoven/opus59no3/movement3", 5003, "fluid", "winds", "once"),
    _named("mozart/k155/movement2", 5004, "timgm", "strings", "once"),
    _named("schumann_robert/opus41no1/movement1", 5005, "fluid", "mixed", "again"),
    _named("mozart/k80/movement1", 5006, "timgm", "strings", "again"),
    _named("handel/rinaldo/Lascia_chio_pianga", 5007, "fluid", "winds", "again"),
    _named("beethoven/opus59no2/movement1", 5008, "timgm", "strings", "again"),
    _named("haydn/opus74no1/movement1", 5009, "fluid", "brass", "skip"),
    _named("mozart/k458/movement2", 5010, "timgm", "plucked", "skip"),
    _named("weber/concertino_clarinet", 5011, "fluid", "strings", "skip"),
    _named("schumann_robert/opus41no1/movement3", 5012, "timgm", "mixed", "skip"),
    _named("verdi/laDonnaEMobile", 5013, "fluid", "strings", "skip"),
    _named("beethoven/opus18no5", 5014, "timgm", "winds", "late"),
    _named("haydn/opus74no1/movement3", 5015, "fluid", "mixed", "late"),
    _named("mozart/k458/movement1", 5016, "timgm", "strings", "early"),
    _named("beethoven/opus59no1/movement3", 5017, "fluid", "strings", "early"),
    _named("haydn/opus74no1/movement2", 5018, "timgm", "winds", "loop"),
    _named("beethoven/opus18no4", 5019, "fluid", "strings", "loop"),
    _named("beethoven/opus59no3/movement2", 5020, "timgm", "mixed", "loop"),
)

# Scores 1 to 17 and 20 were not used before; musescore and recorded share nothing with what
# anything was fitted on, csound shares samples with timgm.
FRESH_STRAIGHT = (
    _named("beethoven/opus18no1/movement1", 201, "musescore", "strings"),
    _named("beethoven/opus18no1/movement2", 202, "csound", "mixed"),
    _named("mozart/k155/movement1", 203, "recorded", "winds"),
    _named("mozart/k155/movement3", 204, "recorded", "strings"),
    _named("mozart/k156/movement3", 205, "csound", "plucked"),
    _named("mozart/k156/movement4", 206, "recorded", "brass"),
    _named("haydn/opus1no1/movement1", 207, "musescore", "strings"),
    _named("haydn/opus1no1/movement4", 208, "musescore", "plucked"),
    _named("haydn/opus74no1/movement4", 209, "musescore", "mixed"),
    _named("beethoven/opus132", 210, "csound", "strings"),
    _named("beethoven/opus133", 211, "recorded", "mixed"),
    _named("beethoven/opus59no1/movement1", 212, "musescore", "winds"),
    _named("beethoven/opus59no2/movement3", 213, "recorded", "strings"),
    _named("beethoven/opus74", 214, "csound", "brass"),
    _named("schumann_clara/opus17/movement3", 215, "musescore", "strings"),
    _named("schumann_robert/opus41no1/movement2", 216, "csound", "mixed"),
    _named("mozart/k80/movement2", 217, "recorded", "winds"),
    _named("mozart/k156/movement1", 218, "csound", "winds"),
    _named("haydn/opus1no1/movement2", 219, "musescore", "brass"),
    _named("monteverdi/madrigal.4.10", 220, "musescore", "winds"),
)
FRESH_HARD = (
    _named("beethoven/opus59no1/movement4", 231, "csound", "strings", change="detuned"),
    _named("mozart/k458/movement3", 232, "musescore", "winds", change="detuned"),
    _named("beethoven/opus59no2/movement4", 233, "recorded", "mixed", change="muted"),
    _named("mozart/k458/movement4", 234, "musescore", "strings", change="muted"),
    _named("haydn/opus1no1/movement5", 235, "csound", "mixed", change="wrong"),
    _named("beethoven/opus59no3/movement1", 236, "recorded", "strings", change="wrong"),
    _named("schumann_robert/opus41no1/movement4", 237, "musescore", "mixed", "cut"),
    _named("beethoven/opus18no3", 238, "csound", "strings", "cut"),
    _named("beethoven/opus59no3/movement4", 239, "musescore", "mixed", change="percussion"),
    _named("beethoven/opus18no1/movement4", 240, "csound", "strings", change="percussion"),
)
FRESH_WET = (
    _named("mozart/k80/movement4", 241, "musescore", "strings", change="wet"),
    _named("beethoven/opus59no2/movement2", 242, "csound", "mixed", change="wet"),
    _named("mozart/k156/movement2", 243, "recorded", "winds", change="wet"),
)
FRESH_ORDER = (
    _named("mozart/k80/movement3", 251, "musescore", "strings", "once"),
    _named("beethoven/opus18no1/movement3", 252, "csound", "mixed", "once"),
    _named("haydn/opus1no1/movement1", 253, "recorded", "winds", "once"),
    _named("mozart/k155/movement3", 254, "csound", "strings", "again"),
    _named("schumann_robert/opus41no1/movement5", 255, "musescore", "winds", "again"),
    _named("beethoven/opus59no3/movement4", 256, "recorded", "mixed", "again"),
    _named("beethoven/opus59no1/movement2", 257, "csound", "mixed", "skip"),
    _named("mozart/k458/movement4", 258, "musescore", "brass", "skip"),
    _named("mozart/k156/movement4", 259, "recorded", "strings", "skip"),
    # Since the second search: shapes not met before, and more of the others.
    _named("beethoven/opus18no1/movement4", 271, "csound", "strings", "late"),
    _named("mozart/k458/movement3", 272, "musescore", "winds", "early"),
    _named("haydn/opus1no1/movement5", 273, "recorded", "mixed", "loop"),
    _named("beethoven/opus74", 274, "csound", "mixed", "loop"),
    _named("schumann_robert/opus41no1/movement4", 275, "musescore", "strings", "loop"),
    _named("mozart/k80/movement4", 276, "recorded", "winds", "late"),
    _named("beethoven/opus59no2/movement4", 277, "musescore", "mixed", "again"),
    _named("haydn/opus74no1/movement4", 278, "csound", "winds", "once"),
    _named("beethoven/opus59no1/movement4", 279, "recorded", "strings", "skip"),
)
FRESH_ORCHESTRA = (
    Item("orchestra/Brahms_Op.98_1", 261, "musescore", bars=60),
    Item("orchestra/Beethoven_Op.68_2", 262, "csound", bars=40),
    Item("orchestra/Beethoven_Op.36_2", 263, "musescore", bars=60),
    Item("orchestra/Dun_matin_de_printemps", 264, "csound", bars=60),
)
