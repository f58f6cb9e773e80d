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
    (re.compile(r"\b(arco|gestrichen|bogen|(?<!dos de l.)archet|bowed|the bow)\b|^\W*bow\W*$|"
                r"\bsenza pizz\w*"), "",
     ("pizz", "col-legno")),
    (re.compile(r"(\b(senza|s\.|ohne|sans|without|no)( les? | la | i | le )? ?"
                r"(sord|sourd|d[äa]mpf|dpf|mute)\w*|"
                r"(sourdines?|sordin[io]|mutes?|d[äa]mpfer|dpf\.?|sordinen) "
                r"([oô]t\w*|enlev\w*|tolt[io]|via|off|out|ab|weg|fort|abnehmen|absetzen)\b|"
                r"([oô]te[rz]|enl[eè]v\w*|quitte[rz]|retire[rz]|lev(ate|are|ano)|togli\w*|"
                r"\bvia|take off|remove)\b.{0,16}(sord|sourd|mute)\w*|^\W*[oô]tez\W*$|"
                r"\b(open|offen|ouverts?|apert[oi]|unmuted)\b)"), "",
     ("mute", "stopped")),
    (re.compile(r"\b(natural[ei]?|(position|jeu|son) naturel\w*)\b"), "",
     ("mute", "stopped", "sul-ponticello", "sul-tasto", "flutter", "harmonic")),
    (re.compile(r"(\b(con|c\.|mit|avec|with|put on)( la | le | les | i )? ?"
                r"(sord|sourd|d[äa]mpf|dpf|mute)|"
                r"ged(ä|ae)mpft|\bsourd|\bsord|\bmuted?\b|\bmutes on|"
                r"\bd[äa]mpfer\b|\bdpf\.?(?!\w)|"
                r"\bharmon\b)"), "mute", ()),
    (re.compile(r"\b(gestopft|bouch[ée]s?|stopped|chius[oi]|cuivr[ée] bouch)\b"), "stopped",
     ()),
    (re.compile(r"\bcuivr[ée](?! bouch)|\bschmetternd|\bbrassy\b"), "brassy", ()),
    (re.compile(r"\bpizz|\bgezupft\b|\bpinc[ée]\b|\bplucked\b"), "pizz",
     ("col-legno", "spiccato")),
    (re.compile(r"col legno|\bc\. ?l\.(?!\w)|mit (dem )?holz(?!schl)|avec le bois|"
                r"with the wood|dos de l.archet"), "col-legno", ("pizz",)),
    (re.compile(r"\b(ord(in)?(\.|ario|inaire)?|norm(\.|ale?)?|modo ord\w*|nat\.|gewöhnlich)"
                r"(?!\w)"), "",
     ("sul-ponticello", "sul-tasto", "col-legno", "flutter", "harmonic", "bells-up", "brassy",
      "senza-vibrato", "near-table", "spiccato")),
    (re.compile(r"sul pont|\bs\. ?pont|am steg|chevalet|(near|at|on) the bridge"),
     "sul-ponticello", ("sul-tasto",)),
    (re.compile(r"sul tasto|\btastiera|griffbrett|sur la touche|fingerboard|"
                r"flautando"), "sul-tasto",
     ("sul-ponticello",)),
    (re.compile(r"\b(spicc|sautill|saltando|springbogen)"), "spiccato", ()),
    (re.compile(r"\b(flag(eolet\w*|\.)|harmonics?\b|harmoniques?\b|harm\.|armonic[oi]\b)"),
     "harmonic", ()),
    (re.compile(r"\b(loco|suoni reali|sons? r[ée]els?)\b"), "", ("harmonic",)),
    (re.compile(r"\b(frull|flatterz|flutter|flz)|\btr[ée]molo dental"), "flutter", ()),
    (re.compile(r"\b(senza|non|ohne|sans|no) vib"), "senza-vibrato", ()),
    (re.compile(r"\b(con|mit|avec|molto|with) vib|^\W*vib(r\.|rato)"), "", ("senza-vibrato",)),
    (re.compile(r"schalltrichter (auf|hoch)|bells? up|pavillons? en l.air|campan[ae] in (aria|"
                r"alto)"), "bells-up", ()),
    (re.compile(r"pr[èe]s de la table|p\.? ?d\.? ?l\.? ?t\.?(?!\w)|sul(la)? tavola"),
     "near-table", ()),
    (re.compile(r"(soft|sponge|felt|yarn|timpani) (mallet|stick|beater)|schwammschl|"
                r"weiche? schl|"
                r"paukenschl|bacchett[ae] di timpani|"
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
                r"\balle\b|\btutte\b|\bensemble\b|\bnon div\w*|\bnicht get\w*"), "",
     ("solo", "div", "half")),
    (re.compile(r"^(\[|\()?(a|à|zu)\.? ?[2-8]\b"), "a2", ("solo", "div", "first")),
    (re.compile(r"\bdiv(\.|isi\b|is[ée]s?\b)?(?!\w)|\bget(\.|eilt)|\bgeth\."), "div",
     ("solo",)),
    (re.compile(r"\bsol[oi]\b|\bseule?\b|\ballein\b|\bein(e|zeln)? spieler\b"), "solo",
     ("a2",)),
    (re.compile(r"\bla moiti[ée]\b|\bdie h[äa]lfte\b|\bhalf\b|\bla met[àa]\b"), "half", ()),
    (re.compile(r"^(1\.|i\.|1°|1mo|1\.?er|2\.|ii\.|2°|3\.|iii\.|4\.|iv\.)( ?solo)?$"), "first",
     ("a2",)),
    (re.compile(r"\b(non|senza|meno) espr\w*|\bleggier|\bsecco\b|\baccomp"), "",
     ("espressivo",)),
    (re.compile(r"\bespr|\bexpress|\bcant(ab|\.|ando\b)|\bdolc|\ben dehors\b|\bhervor|"
                r"marc\w*\.? il (canto|tema)|\bin (rilievo|relievo|evidenza)\b|"
                r"\bausdruck|\bsingend\b|\bdeutlich\b|\bgesangvoll\b|\bbien chant|"
                r"\bchant[ée]\b|\bprominent\b|"
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
