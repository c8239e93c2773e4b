"""Words of the trade in English and German, and the settings that each of them is about.

The one list behind ``--find``. A row has the words that people use, and what to look for in the
id, title or help of a setting: every word of one entry, each as the beginning of a word.
"""

from __future__ import annotations

import re

WORDS: tuple[tuple[str, str], ...] = (
    ("address, Adresse, Lokadresse, Fahrzeugadresse", "address"),
    ("short address, base address, kurze Adresse, Basisadresse", "short address; base address"),
    ("long address, extended address, lange Adresse, erweiterte Adresse",
     "long address; extended address; address extended"),
    ("consist, multiple unit, double heading, Doppeltraktion, Mehrfachtraktion", "consist"),
    ("speed steps, Fahrstufen", "speed step"),
    ("direction, Fahrtrichtung, Richtung", "direction; revers; forward"),
    ("minimum speed, start voltage, start speed, Anfahrspannung, Mindestgeschwindigkeit, Vmin, "
     "Anfahrgeschwindigkeit",
     "minimum speed; speed minimum; start voltage; start level; start boost"),
    ("maximum speed, top speed, Höchstgeschwindigkeit, Vmax", "maximum speed; speed maximum"),
    ("middle speed, mid speed, Mittengeschwindigkeit, Vmid, mittlere Geschwindigkeit",
     "middle speed; speed middle"),
    ("speed curve, speed table, Geschwindigkeitskennlinie, Fahrkurve, Kennlinie, "
     "Geschwindigkeitstabelle", "speed table; speed curve"),
    ("acceleration, Beschleunigung, Anfahrverzögerung", "accelerat"),
    ("deceleration, Verzögerung, Bremsverzögerung", "decelerat"),
    ("momentum, inertia, Trägheit, Massensimulation", "momentum"),
    ("trim, Abgleich, Trimm", "trim"),
    ("kick start, Anfahrkick, Anfahrhilfe", "kick start; start boost"),
    ("load control, back-EMF, regulation, Lastregelung, Motorregelung, Regelung",
     "load control; regulat; back-emf; feedback"),
    ("motor, Motor", "motor"),
    ("PWM, motor frequency, pulse frequency, Motorfrequenz, Taktfrequenz", "pwm; motor frequency"),
    ("braking, stopping, Bremsen, Anhalten", "brak; stop"),
    ("stopping distance, braking distance, Bremsweg, Anhalteweg, Bremsstrecke",
     "stop distance; brak distance"),
    ("braking mode, automatic stop, Bremsmodus, Bremsart, automatischer Halt",
     "brak mode; stop mode; automatic brak; automatic stop; asymmetr"),
    ("asymmetric signal, ABC braking, asymmetrisches Signal, Bremsdioden", "asymmetr"),
    ("crawl, creep, Kriechen, Kriechgang, Schleichfahrt, Kriechgeschwindigkeit", "crawl; creep"),
    ("shuttle, Pendelbetrieb, Pendelverkehr, Pendeln", "shuttle"),
    ("emergency stop, Nothalt, Notstopp, Notbremse", "emergency"),
    ("timeout, packet timeout, Zeitüberschreitung, Signalausfall", "timeout; without data"),
    ("shunting, yard, Rangiergang, Rangieren, Rangiermodus", "shunt; low gear"),
    ("function key, key, function mapping, Funktionstaste, Taste, Funktionszuordnung, "
     "Function Mapping, Tastenzuordnung", "function; key"),
    ("output, Ausgang, Funktionsausgang", "output"),
    ("headlight, headlamp, front light, Stirnlampe, Spitzensignal, Spitzenlicht, Frontlicht, "
     "Stirnbeleuchtung", "headl; front light; front lamp; front bright; lights; lamp; f0"),
    ("tail light, rear light, Schlusslicht, Rücklicht, Schlussleuchte, Zugschluss",
     "tail l; rear light; rear lamp; rear bright; brake lights; f0"),
    ("light, lamp, lighting, Licht, Lampe, Beleuchtung", "light; lamp; bright"),
    ("brightness, Helligkeit", "bright; level of lamp; lamp level"),
    ("dim, dimming, Dimmen, Abblenden, Dimmung", "dim"),
    ("flicker, Flackern", "flicker; candle"),
    ("blink, flash, Blinken, Blinker, Blitz", "blink; flash"),
    ("fade, soft start of lamps, Auf- und Abblenden, Überblenden, weiches Licht", "fade"),
    ("smoke, smoke unit, Rauch, Raucherzeuger, Rauchgenerator, Dampf", "smoke; heater; fan"),
    ("firebox, Feuerbüchse, Feuer", "firebox"),
    ("coupler, uncoupler, Kupplung, Entkuppler, Rangierkupplung", "coupl"),
    ("servo, Servo", "servo"),
    ("point, turnout, switch machine, Weiche, Weichenantrieb", "coil; servo; point; turnout"),
    ("signal aspect, signal, Signal, Signalbild", "signal"),
    ("sound, Sound, Ton, Geräusch", "sound; slot; mixer; volume"),
    ("volume, loudness, Lautstärke", "volume; loud; mixer"),
    ("horn, Horn, Typhon, Signalhorn", "horn"),
    ("whistle, Pfeife", "whistle"),
    ("bell, Glocke, Läutewerk", "bell"),
    ("chuff, exhaust beat, Dampfstoß, Auspuffschlag, Dampfschlag", "chuff"),
    ("keep-alive, stay-alive, buffer, Energiespeicher, Pufferspeicher, Speicher, Goldcap",
     "keeper; buffer; hold time; charge current"),
    ("overload, current limit, Überlast, Überstrom, Strombegrenzung, Kurzschluss",
     "overload; current limit; current-limit; short"),
    ("temperature, overheating, Temperatur, Übertemperatur", "temperature; overheat"),
    ("lock, decoder lock, Decodersperre, Sperre, Programmiersperre", "lock"),
    ("analogue, analog, DC, Analogbetrieb, Gleichstrombetrieb", "analogue"),
    ("feedback, bidirectional, railcom, Rückmeldung", "bidirectional; feedback; report"),
    ("version, firmware, Version, Softwarestand", "version"),
    ("manufacturer, maker, Hersteller, Herstellerkennung", "manufacturer"),
    ("reset, factory reset, Werkseinstellung, Rücksetzen", "reset"),
    ("wheel, wheel diameter, Rad, Raddurchmesser", "wheel"),
)  # fmt: skip

_LETTERS = str.maketrans({"ä": "ae", "ö": "oe", "ü": "ue", "ß": "ss", "-": " "})


def _plain(text: str) -> str:
    """A word as it is compared: without capitals, umlauts and hyphens."""
    return " ".join(text.casefold().translate(_LETTERS).split())


_SOUGHT: dict[str, tuple[str, ...]] = {}
for _names, _finds in WORDS:
    for _name in _names.split(", "):
        _SOUGHT[_plain(_name)] = (*_SOUGHT.get(_plain(_name), ()), *_finds.split("; "))


def finds(asked: str, text: str) -> bool:
    """Whether what a person asks for is what a text is about, by the list or by the words alone.

    >>> finds("Bremsweg", "braking.stopping-distance Stopping distance")
    True
    """
    words = _plain(text)
    sought = _SOUGHT.get(_plain(asked), (asked,))
    return any(all(_begins(word, words) for word in _plain(one).split()) for one in sought)


def _begins(word: str, text: str) -> bool:
    return re.search(rf"(?<![^\W_]){re.escape(word)}", text) is not None
