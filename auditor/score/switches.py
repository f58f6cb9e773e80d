"""Words that switch a way of playing on, and those that switch it off.

Words of the trade in Italian, German, French and English (common practice, no source).
"""

from __future__ import annotations

import re

# The word tremolo: notes with strokes are not counted out while it holds.
FREE_STROKES = "strokes-free"

# Pattern, what it switches on, what it switches off. Order matters: first the undoing, whose
# words are then taken away, for "senza sord." also contains what switches the mute on.
SWITCHES: tuple[tuple[re.Pattern[str], str, tuple[str, ...]], ...] = (
    (re.compile(r"\b(arco|gestrichen|mit bogen|c\. ?arco|coll.arco|bowed)\b"), "",
     ("pizz", "col-legno")),
    (re.compile(r"(senza sord\w*|ohne (d[äa]mpfer|sord)|sans (les? )?sourd\w*|"
                r"sourdines? [oô]t\w*|([oô]te[rz]|enlev\w*).{0,16}sourd\w*|via (le )?sord\w*|"
                r"d[äa]mpfer (ab|weg|fort)|\bopen\b|\boffen\b|\bouverts?\b|without mutes?|"
                r"mutes? off|\bnatural[ei]?\b)"), "",
     ("mute", "stopped")),
    (re.compile(r"(con (la |le )?sord|mit (d[äa]mpfer|sord)|gedämpft|gedaempft|\bsourd|"
                r"\bmuted?\b|\bmutes on|met(tez|tre).{0,8}sourd|straight mute|cup mute|"
                r"\bharmon\b)"), "mute", ()),
    (re.compile(r"\b(gestopft|bouch[ée]s?|stopped|chiuso|cuivr[ée] bouch)\b"), "stopped", ()),
    (re.compile(r"\bcuivr[ée](?! bouch)|\bschmetternd|\bbrassy\b"), "brassy", ()),
    (re.compile(r"\bpizz"), "pizz", ("col-legno", "spiccato")),
    (re.compile(r"col legno|mit (dem )?holz|avec le bois"), "col-legno", ("pizz",)),
    (re.compile(r"\b(ord(in)?(\.|ario)?|normale?|modo ord\w*|nat\.)(?!\w)"), "",
     ("sul-ponticello", "sul-tasto", "col-legno", "flutter", "harmonic", "bells-up", "brassy",
      "senza-vibrato", "near-table", "spiccato")),
    (re.compile(r"sul pont|am steg|au chevalet"), "sul-ponticello", ("sul-tasto",)),
    (re.compile(r"sul tasto|sulla tastiera|am griffbrett|sur la touche|flautando"), "sul-tasto",
     ("sul-ponticello",)),
    (re.compile(r"\b(spicc|sautill|saltando|springbogen)"), "spiccato", ()),
    (re.compile(r"\b(flag(eolet\w*|\.)|harmonics?\b|harmoniques?\b|harm\.|armonic[oi]\b)"),
     "harmonic", ()),
    (re.compile(r"\b(loco|suoni reali|sons? r[ée]els?)\b"), "", ("harmonic",)),
    (re.compile(r"\b(frull|flatterz|flutter|flz)"), "flutter", ()),
    (re.compile(r"\b(senza|non|ohne|sans|no) vib"), "senza-vibrato", ()),
    (re.compile(r"\b(con|mit|avec|molto|with) vib|^\W*vib(r\.|rato)"), "", ("senza-vibrato",)),
    (re.compile(r"schalltrichter (auf|hoch)|bells? up|pavillons? en l.air|campan[ae] in (aria|"
                r"alto)"), "bells-up", ()),
    (re.compile(r"pr[èe]s de la table|p\.? ?d\.? ?l\.? ?t\.?(?!\w)|sul(la)? tavola"),
     "near-table", ()),
    (re.compile(r"(soft|sponge|felt|yarn) (mallet|stick|beater)|schwammschl|weiche? schl|"
                r"baguettes? (d.[ée]ponge|douce)|bacchett[ae] (di spugna|morbid)"),
     "soft-sticks", ("hard-sticks", "brushes")),
    (re.compile(r"(hard|wood(en)?|metal) (mallet|stick|beater)|holzschl|harte? schl|"
                r"baguettes? (de bois|dure)|bacchett[ae] (di legno|dur)"), "hard-sticks",
     ("soft-sticks", "brushes")),
    (re.compile(r"\bbrush(es)?\b|\bmit besen\b|\bbalais\b"), "brushes",
     ("hard-sticks", "soft-sticks")),
    (re.compile(r"snares? off|senza corde\b|ohne (schnarr)?saiten|sans timbre"),
     "snares-off", ()),
    (re.compile(r"snares? on|\bcon corde\b|mit (schnarr)?saiten|avec timbre"), "",
     ("snares-off",)),
    (re.compile(r"\b(damp(ed)?|muffled|[ée]touff\w*|coperto|d[äa]mpfen)\b"), "damped",
     ("let-ring",)),
    (re.compile(r"\b(let ring|laissez vibrer|lasciar? vibrare|klingen lassen)\b|"
                r"\bl\. ?v\.(?!\w)"), "let-ring", ("damped",)),
    (re.compile(r"\btutti\b|\bunis\.?|\b(a)?gli altri\b|\ba altri\b|\bzusammen\b|\btous\b|"
                r"\balle\b"), "",
     ("solo", "div", "half")),
    (re.compile(r"^(\[|\()?(a|à|zu)\.? ?[2-8]\b"), "a2", ("solo", "div", "first")),
    (re.compile(r"\bdiv(\.|isi\b|is[ée]s?\b)?(?!\w)|\bget(\.|eilt)|\bgeth\."), "div",
     ("solo",)),
    (re.compile(r"\bsol[oi]\b|\bseul\b|\bein(e|zeln)? spieler\b"), "solo", ("a2",)),
    (re.compile(r"\bla moiti[ée]\b|\bdie h[äa]lfte\b|\bhalf\b|\bla met[àa]\b"), "half", ()),
    (re.compile(r"^(1\.|i\.|1°|1mo|1\.?er|2\.|ii\.|2°|3\.|iii\.|4\.|iv\.)( ?solo)?$"), "first",
     ("a2",)),
    (re.compile(r"\b(non|senza|meno) espr\w*|\bleggier|\bsecco\b|\baccomp"), "",
     ("espressivo",)),
    (re.compile(r"\bespr|\bexpress|\bcant(ab|\.|ando\b)|\bdolc|\ben dehors\b|\bhervor|"
                r"marc\w*\.? il (canto|tema)|\bin (rilievo|relievo|evidenza)\b|"
                r"\bausdruck|\bgesangvoll\b|\bbien chant|\bchant[ée]\b|\bprominent\b|"
                r"\bhauptstimme\b|\bbring out\b"),
     "espressivo", ()),
    (re.compile(r"\b(non|poco|senza) stacc\w*|\blegato\b|\bten(\.|uto)|\bsosten|"
                r"\blang gezogen"),
     "", ("staccato",)),
    (re.compile(r"\b(stacc(\.|ato)?|kurz gestrichen|gestrichen, kurz)(?!\w)"), "staccato", ()),
    (re.compile(r"\b(non|senza|ohne) trem\w*"), "", (FREE_STROKES,)),
    (re.compile(r"\btrem(\.|ol(o|ando)|olieren)?(?!\w)"), FREE_STROKES, ()),
)  # fmt: skip
# What two players of one staff may do differently at the same time.
APART = (
    (re.compile(r"\bpizz"), re.compile(r"\barco\b")),
    (re.compile(r"\bcon sord"), re.compile(r"\bsenza sord")),
)
