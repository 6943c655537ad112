"""The trade's words as one table: what each phrase sets. It drives the reader, the template and the tests.

All rows are common practice, no published source: the words vary from ensemble to ensemble, which is why
techniques.toml can lay its own rows over these. `ord.` means the keys here, as the ordinary way to sound a piano.
"""

from __future__ import annotations

from collections.abc import Mapping

from rimside.score.model import Technique

TECHNIQUE_WORDS: Mapping[Technique, tuple[str, ...]] = {
    Technique.LINE_BOW: (
        "arco", "bowed", "bow", "bowed with line", "bowed with the line", "with the line", "line bow", "line",
        "con il filo", "col filo", "archetto di filo", "avec le fil", "archet de fil", "mit dem Faden", "Fadenbogen",
        "gestrichen", "archet", "filo",
    ),
    Technique.STICK_BOW: (
        "stick bow", "with the stick bow", "short bow", "archetto", "con l'archetto", "petit archet",
        "avec le petit archet", "Stabbogen", "mit dem Stabbogen",
    ),
    Technique.FRICTION_STRIP: (
        "friction strip", "rubber strip", "with the rubber strip", "rubbed", "striscia di gomma", "bande de caoutchouc",
        "frotté", "Gummistreifen", "gerieben",
    ),
    Technique.FELT_HAMMER: (
        "felt hammer", "felt hammers", "soft hammer", "hammer", "hammers", "with the felt hammer", "felt end",
        "martello di feltro", "col martello", "marteau de feutre", "avec le marteau", "Filzhammer", "mit Filzhammer",
    ),
    Technique.WOOD_HAMMER: (
        "col legno", "wood hammer", "wood hammers", "hard hammer", "with the wood", "wood end", "martello di legno",
        "marteau de bois", "avec le bois", "Holzhammer", "mit Holzhammer", "mit dem Holz",
    ),
    Technique.BEATER: (
        "beater", "beaters", "with the beater", "battente", "con la mazza", "mailloche", "avec la mailloche",
        "Schlägel", "mit Schlägel",
    ),
    Technique.FINGER_PLUCK: (
        "pizz", "pizzicato", "plucked", "pluck", "finger pluck", "with the finger", "pizzicato col dito", "pincé",
        "avec le doigt", "gezupft", "mit dem Finger",
    ),
    Technique.PLECTRUM: ("plectrum", "with plectrum", "pick", "col plettro", "plettro", "médiator", "avec plectre",
                         "plectre", "Plektrum", "mit Plektrum"),
    Technique.HANDLED_PLECTRUM: ("handled plectrum", "handled plectra", "plettro con manico", "plectre à manche",
                                 "Stielplektrum"),
    Technique.KEYS: ("keys", "on the keys", "ord", "ordinario", "keyboard", "tasti", "sui tasti", "touches",
                     "sur les touches", "clavier", "Tasten", "auf den Tasten", "Klaviatur"),
    Technique.MAGNET_DRIVE: ("magnet drive", "magnet", "magnets", "magnete", "aimant", "Magnet", "elettromagnete",
                             "électro-aimant", "Elektromagnet"),
}

TOUCH_WORDS: tuple[str, ...] = (
    "touch", "node", "harmonic", "harm", "armonico", "arm", "suono armonico", "harmonique", "son harmonique",
    "Flageolett", "Flag", "berühren",
)
"""Each of these followed by k/n: a finger at that node of the string."""
TOUCH_OFF_WORDS: tuple[str, ...] = ("touch off", "no touch", "without touch", "senza armonici", "sans harmoniques",
                                    "ohne Flageolett", "not touched")

MUTE_WORDS: Mapping[str, tuple[str, ...]] = {
    "moulded mute": ("moulded mute", "molded mute", "putty mute", "con sord", "con sordina", "con sordino",
                     "avec sourdine", "mit Dämpfer", "mute on"),
    "finger mute": ("finger mute", "muted with the finger", "col dito smorzato", "étouffé avec le doigt",
                    "mit dem Finger gedämpft", "hand mute"),
    "none": ("senza sord", "senza sordina", "senza sordino", "mute off", "no mute", "open", "sans sourdine",
             "ohne Dämpfer"),
}

SPOT_WORDS: Mapping[str, tuple[str, ...]] = {
    "frame": ("on the frame", "frame", "telaio", "sul telaio", "cadre", "sur le cadre", "Rahmen", "auf den Rahmen"),
    "case": ("on the case", "case", "cassa", "sulla cassa", "caisse", "sur la caisse", "Gehäuse", "auf das Gehäuse"),
    "rim": ("on the rim", "rim", "bordo", "fascia", "ceinture", "sur la ceinture", "Raste", "Rim"),
    "soundboard": ("on the soundboard", "soundboard", "tavola armonica", "sulla tavola", "table d'harmonie",
                   "Resonanzboden", "auf den Resonanzboden"),
    "string ends": ("string ends", "on the string ends", "behind the bridge", "dietro il ponticello",
                    "derrière le chevalet", "hinter dem Steg"),
    "strut": ("on the strut", "strut", "plate strut", "traversa", "barrage", "Spreize", "auf die Spreize"),
    "lid": ("on the lid", "lid", "coperchio", "couvercle", "Deckel"),
}

ESSENTIAL_WORDS: Mapping[bool, tuple[str, ...]] = {
    True: ("essential", "essenziale", "essentiel", "wesentlich", "unverzichtbar"),
    False: ("essential off", "not essential", "non essenziale", "non essentiel", "entbehrlich"),
}

CUE_WORDS: tuple[str, ...] = ("all breathe", "tutti respirano", "tous respirent", "alle atmen")

PEDAL_WORDS: Mapping[str, tuple[str, ...]] = {
    "una-corda down": ("una corda", "u.c", "mit Verschiebung"),
    "una-corda up": ("tre corde", "t.c", "ohne Verschiebung"),
}

PART_WORDS: Mapping[Technique, tuple[str, ...]] = {
    Technique.LINE_BOW: ("line bow", "line bows", "bowed strings", "bows", "archi di filo", "Fadenbögen"),
    Technique.STICK_BOW: ("stick bow", "stick bows", "Stabbögen", "archetti"),
    Technique.FRICTION_STRIP: ("friction strip", "friction strips", "rubber strips", "Gummistreifen"),
    Technique.FELT_HAMMER: ("felt hammer", "felt hammers", "soft hammers", "hammers", "Filzhämmer"),
    Technique.WOOD_HAMMER: ("wood hammer", "wood hammers", "hard hammers", "Holzhämmer"),
    Technique.BEATER: ("beater", "beaters", "frame beats", "Schlägel"),
    Technique.FINGER_PLUCK: ("finger pluck", "finger plucks", "plucked strings", "plucks", "pizzicato"),
    Technique.PLECTRUM: ("plectrum", "plectra", "plettri", "Plektren"),
    Technique.HANDLED_PLECTRUM: ("handled plectrum", "handled plectra"),
    Technique.KEYS: ("keys", "keyboard", "tasti", "clavier", "Tasten", "Klaviatur"),
    Technique.MAGNET_DRIVE: ("magnet drive", "magnets", "magnet", "Magnete"),
}
"""Part names that decide, a trailing number aside. "Piano" is not one of them: such a part may hold anything."""

IGNORED_WORDS: tuple[str, ...] = (
    "dolce", "dolcissimo", "espressivo", "espr", "cantabile", "cant", "legato", "sempre", "sempre legato", "staccato",
    "stacc", "marcato", "marc", "tenuto", "ten", "leggiero", "leggero", "grazioso", "tranquillo", "calmo", "misterioso",
    "con fuoco", "con moto", "cresc", "crescendo", "dim", "diminuendo", "decresc", "decrescendo", "poco a poco",
    "molto", "poco", "più", "meno", "sub", "subito", "sotto voce", "mezza voce", "morendo", "niente", "al niente",
    "lontano", "expressif", "doux", "calme", "lointain", "ausdrucksvoll", "zart", "ruhig", "innig", "solo", "tutti",
    "simile", "sim", "expressive", "gently", "distant", "quietly", "semplice", "pesante", "l.v", "laissez vibrer",
    "let ring", "lasciar vibrare", "klingen lassen", "div", "unis", "a 2", "senza rep", "senza vib", "con vib",
    "up bow", "down bow",
)
"""Expression, not timing and not technique: known, and left to the players."""

TEMPO_WORDS: tuple[str, ...] = (
    "grave", "largo", "larghetto", "lento", "adagio", "andante", "andantino", "moderato", "allegretto", "allegro",
    "vivace", "vivo", "presto", "prestissimo", "rit", "ritard", "ritardando", "ritenuto", "riten", "rall",
    "rallentando", "accel", "accelerando", "string", "stringendo", "a tempo", "tempo i", "tempo primo", "più mosso",
    "meno mosso", "più lento", "poco rit", "poco a poco rit", "molto rit", "poco rall", "poco accel", "langsam",
    "sehr langsam", "mäßig", "lebhaft", "schnell", "lent", "modéré", "vif", "slow", "slowly", "fast", "slower",
    "faster", "tempo giusto", "allargando", "allarg", "calando", "rubato", "colla parte",
)
"""They move the clock: understood where a metronome value stands at the same place, listed for a person otherwise."""
