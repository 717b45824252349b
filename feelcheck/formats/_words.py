"""The words that say what a column is and in what unit it stands: one table, several languages.

Each row of `WORDS` holds a kind, a factor to the unit used inside, a language, and the words (small letters, accents
taken off). Units of a kind in `PREFIXED` also stand with an SI prefix (``ms``, ``millisecond``, ``Mikrosekunden``).
The words are common practice, no source.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Mapping
from functools import lru_cache
from types import MappingProxyType
from typing import NamedTuple

__all__ = ["PREFIXED", "WORDS", "Row", "folded", "words_of"]


class Row(NamedTuple):
    """One row: words of one kind, one factor and one language."""

    kind: str
    factor: float
    language: str
    words: str


PREFIXED: Mapping[str, str] = MappingProxyType(
    {
        "second": "p n u m nano micro mikro milli mili н мк м 毫 微 ミリ マイクロ 밀리",
        "hertz": "m k g kilo mega giga к",
        "volt": "n u m k micro milli kilo мк м 毫 ミリ",
        "ampere": "n u m k micro milli kilo мк м 毫 ミリ",
        "tesla": "n u m micro milli",
        "gauss": "m k milli kilo",
    }
)
"""Kinds of units that take a prefix, and which."""

WORDS: tuple[Row, ...] = (
    # units of time
    Row("second", 1.0, "en", "s sec secs second seconds"),
    Row("second", 1.0, "de", "sek sekunde sekunden"),
    Row("second", 1.0, "fr", "seconde secondes"),
    Row("second", 1.0, "es pt", "seg segundo segundos"),
    Row("second", 1.0, "it", "secondo secondi"),
    Row("second", 1.0, "nl", "seconden"),
    Row("second", 1.0, "sv no da", "sekund sekunder"),
    Row("second", 1.0, "pl cs", "sekunda sekundy"),
    Row("second", 1.0, "ru", "с сек секунда секунды секунд"),
    Row("second", 1.0, "zh ja ko", "秒 초"),
    Row("milliseconds", 1e-3, "en", "millis milli"),
    Row("microseconds", 1e-6, "en", "micros"),
    Row("nanoseconds", 1e-9, "en", "nanos"),
    Row("minute", 60.0, "en", "min mins minute minutes"),
    Row("minute", 60.0, "de nl", "minuten"),
    Row("minute", 60.0, "es pt", "minuto minutos"),
    Row("minute", 60.0, "it", "minuti"),
    Row("minute", 60.0, "sv no da pl", "minut minuter minuty"),
    Row("hour", 3600.0, "en", "h hr hrs hour hours"),
    Row("day", 86_400.0, "en de", "days tage"),
    Row("hour", 3600.0, "de", "std stunde stunden"),
    Row("hour", 3600.0, "fr", "heures"),
    Row("hour", 3600.0, "es pt", "horas"),
    # other units
    Row("hertz", 1.0, "en", "hz hertz sa/s sa/sec s/s sps sample/s samples/s sample/sec samples/sec sample/second"),
    Row("hertz", 1.0, "en", "samples/second samplespersecond pt/s pts/s point/s points/s"),
    Row("hertz", 1.0, "ru", "гц"),
    Row("volt", 1.0, "", "v volt volts vdc vpp"),
    Row("volt", 1.0, "ru zh ja", "в 伏 伏特 ボルト"),
    Row("ampere", 1.0, "", "A amp amps ampere amperes"),
    Row("ampere", 1.0, "ru zh ja", "а 安 安培 アンペア"),
    Row("tesla", 1e3, "", "T tesla teslas"),
    Row("gauss", 0.1, "", "G Gs gauss"),
    Row("counts", 1.0, "en", "count counts cts lsb lsbs adu raw code codes digit digits dn adccount adccounts"),
    Row("index", 1.0, "en", "sample samples sequence pt pts point points index record records nr no no. #"),
    Row("other", 1.0, "", "°c °f degc c f % w ohm ohms ω deg ° rpm k"),
    # names of a time axis
    Row("time", 0.0, "en", "t time times timestamp timestamps ts tv stamp elapsed epoch clock uptime datetime"),
    Row("time", 0.0, "de", "zeit uhrzeit zeitpunkt zeitstempel messzeit laufzeit zeitachse"),
    Row("time", 0.0, "fr", "temps heure horodatage instant"),
    Row("time", 0.0, "es pt", "tiempo hora instante"),
    Row("time", 0.0, "it pt", "tempo orario"),
    Row("time", 0.0, "nl", "tijd tijdstip tijdstempel"),
    Row("time", 0.0, "sv no da", "tid tidpunkt tidsstampel"),
    Row("time", 0.0, "pl cs fi", "czas cas aika"),
    Row("time", 0.0, "ru", "время"),
    Row("time", 0.0, "zh ja ko", "时间 時間 时刻 時刻 시간 시각"),
    Row("time", 0.0, "el", "χρονος"),
    # names of a horizontal axis: the time of a capture, an axis of a stick
    Row("abscissa", 0.0, "en de", "x horizontal abscissa source"),
    Row("abscissa beside", 0.0, "en de", "axis achse value values data trace name"),
    # what a column of values is called where a line above tells which channel it is
    Row("plain value", 0.0, "en", "value values data y amplitude reading level"),
    Row("plain value", 0.0, "de fr es it", "wert werte messwert valeur valeurs valor valores valore valori"),
    # what has a time in its name and is no time axis
    Row("duration", 0.0, "en", "delta dt interval diff duration period latency last frametime looptime"),
    Row("duration", 0.0, "en", "frame loop reaction poll process"),
    Row("duration", 0.0, "de fr es", "dauer intervall abstand duree intervalle duracion intervalo"),
    # the time since the row before, by all its words
    Row("since", 0.0, "en", "dt delta deltat timedelta interval diff period"),
    Row("since", 0.0, "de fr es el", "intervall abstand intervalle intervalo δt δ"),
    Row("since beside", 0.0, "en", "t time frame sample step row report d game loop"),
    # what counts rows
    Row("counter", 0.0, "en", "frame frames sample samples index idx seq sequence count counter report packet row n i"),
    Row("counter", 0.0, "en", "tick no nr number num id #"),
    Row("counter", 0.0, "de fr es it", "nummer zahler numero compteur contador indice indeks"),
    # names of a column of dates
    Row("date", 0.0, "en de fr es pt it", "date dates datum fecha data"),
    # what is beside the point in a stick log
    Row(
        "aside", 0.0, "en", "dt delta latency jitter interval duration period battery voltage temperature temp rssi crc"
    ),
    Row("aside", 0.0, "en", "checksum fps date day id pid end unnamed humidity pressure"),
    # how fast a vehicle is and where it stands: in Italian and German a "tempo" is no time beside such a unit
    Row("pace", 0.0, "", "kmh kph mph mps knots rpm odometer altitude latitude longitude lat lon gps"),
    Row("pace", 0.0, "en de fr", "speed groundspeed airspeed geschwindigkeit vitesse"),
    Row("aside", 0.0, "de fr es it", "temperatur temperatura batterie bateria batteria akku datum fecha"),
    # what stands beside the sensor in a capture: computed from it, asked of it, or of something else
    Row("derived", 0.0, "en", "model fit fitted simulated simulation predicted prediction expected ideal theory"),
    Row("derived", 0.0, "en", "residual residuals resid error err deviation difference calculated calc math"),
    Row("derived", 0.0, "de", "modell anpassung residuum fehler abweichung berechnet simuliert gerechnet theorie"),
    Row("derived", 0.0, "fr", "modele ajustement ajuste residu erreur ecart calcule"),
    Row("derived", 0.0, "es pt", "modelo ajuste residuo error erro calculado desviacion desvio"),
    Row("derived", 0.0, "it", "modello adattamento residuo errore calcolato scarto"),
    Row("derived", 0.0, "sv no da nl pl", "modell avvikelse avvik fel fout afwijking blad"),
    Row("setpoint", 0.0, "en", "setpoint target demand nominal programmed commanded iset"),
    Row("setpoint", 0.0, "de fr es", "soll sollwert vorgabe consigne consigna referencia"),
    Row("setpoint", 0.0, "sv nl pl it", "borvarde gewenst zadana obiettivo"),
    # what drives, and what answers, in a capture (English and German words inside longer names: `_scope_roles`)
    Row("driving", 0.0, "de", "spule spulenstrom erregung ansteuerung"),
    Row("driving", 0.0, "fr", "courant bobine entree excitation"),
    Row("driving", 0.0, "es pt", "corriente corrente bobina entrada excitacion"),
    Row("driving", 0.0, "it", "corrente bobina ingresso eccitazione"),
    Row("driving", 0.0, "nl sv no pl", "stroom spoel ingang strom spole inngang prad cewka cewki wejscie"),
    Row("driving", 0.0, "ru", "ток тока катушка катушки вход"),
    Row("driving", 0.0, "zh ja ko", "电流 電流 线圈 線圈 コイル 激励 励磁 输入 入力 전류 코일 입력"),
    Row("driving", 0.0, "el tr", "ρευuα πηνιο akım bobin giris"),
    Row("answering", 0.0, "fr", "sortie capteur reponse"),
    Row("answering", 0.0, "es pt", "salida saida respuesta resposta"),
    Row("answering", 0.0, "it", "uscita sensore risposta"),
    Row("answering", 0.0, "nl sv no pl", "uitgang utgang antwoord svar wyjscie czujnik"),
    Row("answering", 0.0, "ru", "выход выхода датчик датчика сигнал"),
    Row("answering", 0.0, "zh ja ko", "输出 輸出 出力 传感器 感测 センサ センサー 響應 响应 応答 출력 센서"),
    Row("answering", 0.0, "el tr", "εξοδος αισθητηρας cıkıs sensor"),
    Row("quantity", 0.0, "ru", "напряжение напряжения канал измерение"),
    Row("quantity", 0.0, "zh ja ko", "电压 電壓 電圧 通道 チャンネル 测量 測定 日期 日付 전압 채널"),
    Row("surroundings", 0.0, "en", "temp temperature temperatures supply vdd vcc battery humid humidity ambient"),
    Row("surroundings", 0.0, "de", "temperatur feuchte versorgung batterie akku umgebung"),
    Row("surroundings", 0.0, "fr es it", "temperature temperatura humedad umidita alimentation batteria bateria"),
    Row("surroundings", 0.0, "sv no nl pl", "temperatur temperatuur spenning fuktighet wilgotnosc"),
    Row("label", 0.0, "en", "trigger trig digital event marker id serial segment block run cycle status flag"),
    Row("label", 0.0, "de fr es it", "kennung ereignis marke evenement identifiant evento serie segmento"),
    Row("device", 0.0, "en", "device controller pad gamepad joystick serial hand side player port"),
    Row("device", 0.0, "de fr es it", "gerat appareil manette dispositivo mando"),
    Row("note", 0.0, "en", "note notes comment comments remark remarks"),
    Row("note", 0.0, "de", "notiz notizen kommentar kommentare bemerkung bemerkungen anmerkung"),
    Row("note", 0.0, "fr es it pt", "remarque remarques commentaire nota notas note comentario observaciones commento"),
    Row("trigger", 0.0, "en", "trigger lt rt l2 r2 ltrigger rtrigger triggerleft triggerright throttle brake"),
)


@lru_cache(maxsize=8192)
def folded(text: str) -> str:
    """Return text in small letters, Latin accents taken off, the micro sign as ``u``.

    Examples
    --------
    >>> folded("Zähler"), folded("Durée (µs)")
    ('zahler', 'duree (us)')
    """
    text = text.lower().replace("µ", "u").replace("\u03bc", "u")
    if text.isascii():
        return text
    parts = unicodedata.normalize("NFD", text)
    return unicodedata.normalize("NFC", "".join(c for c in parts if not "\u0300" <= c <= "\u036f"))


@lru_cache
def words_of(*kinds: str) -> frozenset[str]:
    """Return all words of some kinds.

    Examples
    --------
    >>> "uhrzeit" in words_of("time"), "uhrzeit" in words_of("counter")
    (True, False)
    """
    return frozenset(word for row in WORDS if row.kind in kinds for word in row.words.split())
