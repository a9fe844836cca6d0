"""The words by which people say a secret, and the words that tell that what follows is none.

English, German, French and Spanish; small letters, without accents (:mod:`plain` has taken them off), so "schlussel"
and "schluessel" both stand here.
"""

from __future__ import annotations

import re
from dataclasses import dataclass


@dataclass(frozen=True)
class Cue:
    """A word for a secret.

    ``stems`` are literal beginnings of ``pattern``: only where one stands, the pattern is tried. Where ``before`` or
    ``behind`` is given, one of them must hold: *code* alone says nothing, *door code* and *code of the safe* do.
    ``digits`` says that a number alone may be the secret; ``weak`` that the word means other things too, so that only
    what looks like a secret is one; ``several`` that several words in a row may be one;
    ``whole`` that the value must be long, and all that follows a sign.
    """

    what: str
    stems: tuple[str, ...]
    pattern: re.Pattern[str]
    before: re.Pattern[str] | None = None
    behind: re.Pattern[str] | None = None
    digits: bool = False
    weak: bool = False
    several: bool = False
    whole: bool = False


_ENDS = r"(?![a-z0-9]|[-_][a-z])"
_ALONE = r"(?<![a-z0-9])"


def _any(words: str) -> str:
    """A pattern for any of these; a blank in one may be a hyphen, or nothing."""
    return "(?:" + "|".join(word.replace(" ", "[ _-]{0,2}") for word in words.split(", ")) + ")"


def _words(text: str) -> frozenset[str]:
    return frozenset(text.split())


def _cue(
    what: str, stems: str, pattern: str, *, before: str = "", behind: str = "", **more: bool
) -> Cue:
    """``before`` and ``behind`` are lists of words."""
    ahead = rf"(?<![a-z0-9]){_any(before)}(?:[ _-]{{0,2}}|(?![a-z0-9])[^.;\n]{{0,40}}[,:/] )\Z"
    after = rf"[ _-]{{0,2}}{_OF}?(?:[a-z]{{1,20}} ){{0,2}}[ _-]{{0,2}}{_any(behind)}(?![a-z0-9])"
    found = re.compile(f"(?:{pattern}){_ENDS}")
    return Cue(
        what=what,
        stems=tuple(stems.split(", ")),
        pattern=found,
        before=re.compile(ahead) if before else None,
        behind=re.compile(after) if behind else None,
        **more,
    )


_OF = (
    r"(?:de la |de l'|de l |de |d'|du |del |der |des |dem |vom |von der |"
    r"of the |of |for the |to the |for |a |pour |para )"
)
_DOOR = (
    "alarm, alarma, alarme, alarmanlage, alarmanlagen, burglar alarm, door, porte, puerta, tur, "
    "tuer, haustur, gate, "
    "gate keypad, door keypad, portail, portal, tor, safe, tresor, coffre, caja fuerte, caja, "
    "keypad, lock, entry, access, acces, acceso, zugang, zugangs, zutritts, unlock, entsperr, "
    "panel, alarm panel, entrance, eingang, haupteingang, seiteneingang, lieferanteneingang, "
    "entree, entrada, barrier, schranke, garage, schliessanlage, key safe, key box, schlusselsafe, "
    "schlusselkasten, boite a cles, elevator, lift, aufzug, ascenseur, ascensor"
)
_WIRELESS = "wi fi, wifi, wlan, wpa, wpa2, wpa3, wep"
_KEY = ("key, schlussel, schluessel, cle, clave", r"keys?|schlussel|schluessel|cles?|claves?")
_CODE = ("cod", r"codes?|codigos?")

CUES = (
    _cue(
        "a passphrase",
        "pass, phrase, frase",
        _any(
            "pass phrases?, passphrasen?, phrases? secrete, phrases? de passe, frases? de contrasena, frases? de paso"
        ),
        several=True,
    ),
    _cue(
        "a password",
        "password, passwd, passwort, passwoert, kennw, losungsw, mot, contrasen, palabra",
        _any(
            "passwords?, passwds?, passworte?, passworter, passwoerter, passworts, "
            "kennworte?, kennworter, kennwoerter, kennworts, losungsworte?, mots? de passe, "
            "contrasenas?, palabras? de paso"
        ),
    ),
    _cue(
        "a password",
        "pwd, pw, p/w, mdp, psw, passwrd",
        _ALONE + "(?:pwds?|p/?ws?|mdp|passwrd|pswd|psw)",
    ),
    # French says it of words in general, German of what opens: only before a sign
    _cue("a password", "parole", _ALONE + r"parole(?=['\"]?\s{0,3}[:=])"),
    _cue("a password", "pass", r"(?:(?<=/)|(?<=/ ))pass(?=\s{0,3}[:=])"),
    _cue(
        "a password",
        "pass",
        _ALONE + r"passe?(?=['\"]?\s{0,3}[:=])|(?<=[a-z0-9] )pass(?= )",
        weak=True,
    ),
    _cue(
        "a PIN",
        "pin, puk, tan",
        _ALONE + r"(?:pin[ -]codes?|pin[ -]?(?:nummer|numbers?)|pins?|puks?|tans?)",
        digits=True,
    ),
    _cue(
        "a PIN",
        *_CODE,
        before="pass, geheim, pin",
        behind="secret, secreto, secrete, pin",
        digits=True,
    ),
    _cue("an access code", *_CODE, before=_DOOR, behind=_DOOR, digits=True),
    _cue(
        "an access code",
        "combin",
        r"combinations?|combinaisons?|combinacion",
        before=_DOOR,
        behind=_DOOR,
        digits=True,
    ),
    _cue(
        "a one-time code",
        *_CODE,
        digits=True,
        before="one time, onetime, einmal, verification, backup, recovery, wiederherstellungs, bestatigungs, "
        "verifizierungs, sicherheits, security, two factor, 2fa, mfa",
        behind="usage unique, un solo uso, secours, verification, verificacion, respaldo, securite, seguridad",
    ),
    _cue(
        "a recovery key",
        *_KEY,
        digits=True,
        before="recovery, wiederherstellungs",
        behind="recuperation, recuperacion",
    ),
    _cue(
        "a shared key",
        *_KEY,
        before=f"pre shared, preshared, shared, vorab, netzwerk, netzwerksicherheits, {_WIRELESS}",
        behind=f"partagee, partagees, compartida, compartidas, {_WIRELESS}",
    ),
    _cue("a shared key", *_KEY, weak=True, before="ssid, auth, priv, authentication, privacy"),
    _cue(
        "a shared key",
        "ssid, wi-fi, wifi, wlan, wpa",
        _ALONE + r"(?:ssid|wi-?fi|wlan|wpa[23]?)(?:(?: [\w-]{1,30})? ?/)?",
        weak=True,
        whole=True,
    ),
    _cue("a shared key", *_CODE, before=_WIRELESS, behind=_WIRELESS, digits=True),
    _cue("a shared key", "psk", _ALONE + "psks?"),
    _cue(
        "a licence key",
        *_KEY,
        weak=True,
        before="licence, license, product, lizenz, produkt, activation, aktivierungs",
        behind="licence, produit, licencia, producto, activation, activacion",
    ),
    _cue(
        "a key",
        *_KEY,
        weak=True,
        before="api, access, encryption, verschlusselungs, master, account, storage",
        behind="api, chiffrement, cifrado, acceso, acces",
    ),
    _cue(
        "a password",
        "clave",
        _ALONE + "(?<!palabra )(?<!palabras )claves?",
        weak=True,
        digits=True,
    ),
    _cue(
        "a secret",
        "secret, shared, client, app, api, radius",
        _ALONE + r"(?:(?:shared|client|app|api|radius)[ _-])?secrets?(?:[ _-]keys?)?",
    ),
    _cue("a secret", "secret", r"(?<=_)secrets?(?:_keys?)?"),
    _cue("a secret", "geheim, gemeins", _ALONE + r"(?:gemeinsames )?geheimnis(?:se)?"),
    _cue(
        "a secret", "mot, palabra, clave, cle", _ALONE + r"(?:mot|palabra|clave|cle) secret[aeo]?"
    ),
    _cue(
        "an access token",
        "token, jeton",
        r"tokens?|jetons?",
        weak=True,
        before="access, api, bearer, zugriffs, auth",
        behind="acces, acceso",
    ),
    _cue("an access token", "token", _ALONE + r"tokens?(?=['\"]?\s{0,3}[:=])", weak=True),
    _cue(
        "an SNMP community",
        "communit",
        r"(?:(?<=snmp )|(?<=ro )|(?<=rw ))communit(?:y|ies)(?: strings?| names?)?"
        r"|communit(?:y|ies) strings?"
        r"|(?<![a-z])community(?=\s{0,3}=)",
    ),
)

# -- between the word and the value ----------------------------------------------------------------

BEFORE_NAMES = "for|of|on|to|at|by|fur|fuer|vom|von|der|des|dem|zum|zur|am|auf|im|in|du|de|des|pour|sur|del|para|en"
BESIDE = (
    "administrat(?:or|eur|ors)|administrador|admin|root|local|lokal|lokales|user|guest|gast|gaste|invite|invitados|bios|"
    "temporary|provisoire|temporaire|provisional|vorlaufig|current|actual|aktuell|"
    "courant|maitre|standard|par defaut|por defecto|"
    "wi-?fi|wlan|router|routeur|switch|vpn|ssh|sudo|initial|default|new|neu|alt|old|nouveau|nueva|hash|code|value|field"
)
IS = (
    "is|was|are|were|be|reads|says|it's|it is|has been|had been|will be|shall be|must be|"
    "lautet|lauten|ist|war|sind|wurde|wurden|wird|"
    "est|sont|etait|c'est|a ete|es|son|era|sera|fue|ha sido"
)
STILL = (
    "now|still|currently|again|also|simply|just|always|noch|jetzt|immer|nun|weiterhin|einfach|auch|aktuell|derzeit|toujours|"
    "encore|maintenant|ahora|aun|todavia|siempre|as follows|set|changed|reset|gesetzt|geandert|change|cambiada|"
    "the same|called"
)
TO = "to|auf|en"
CHANGED_TO = (
    "(?:changed|set|reset|updated) to"
    "|(?:geandert|gesetzt|gestellt) auf"
    "|changee? (?:en|pour)"
    "|cambiada (?:a|por)"
)
THE = "the|its|his|her|our|their|a|das|die|der|ihr|unser|le|la|les|el|los|las|su|sus|son|sa|notre|nuestra"

# -- what says that the value is none ----------------------------------------------------------------

BENIGN = _words(
    """
    a an the in into at on with without within by from via through over under behind inside for of
    to as per and or but if so see ask kept keep keeps held hold known unknown not no none never
    nobody nothing n/a na tbd todo open yes same set unset reset changed unchanged change changes
    rotated rotate stored store saved written printed sealed locked hidden envelope vault safe
    drawer cabinet cupboard box card folder portal manager directory password passwords secret
    secrets given agreed shared required needed necessary optional missing lost forgotten expired
    expires expire due valid invalid correct wrong accepted refused rejected blocked disabled
    enabled active inactive protected encrypted only both each every all any some still already
    later tomorrow today yesterday soon always sometimes here there where when who whom whose what
    which how why it its this that these those they we you he she his her our your their handed
    handled managed owned unique individual personal separate different random generated initial
    default factory temporary long short strong weak good bad old new empty blank ok okay done
    checked tested verified replaced removed deleted revoked retired renewed being been be is was
    are were has have had must may can could should would will shall does do did owner owners
    supplier provider customer caretaker reception office head service desk purchasing house staff
    lead user users admin's certificate certificates typed entered read readable visible public
    private confidential secure insecure minimum maximum least most more less than about between up
    until after before during since whoever model modell modele type typ policy policies length
    age history complexity rules rule
    protection prompt hint link field page screen two three four five six seven eight nine ten
    fourteen asked copied posted sent taken told found put laid lies lie stands stand hangs hang
    comes come goes go works work siehe im bei beim am auf aus vom von zum zur mit ohne nach vor
    hinter unter uber ueber fur fuer durch wie und oder der die das dem den des ein eine einer einem
    einen kein keine keiner keines nicht nie niemand noch schon bereits wird werden wurde wurden ist
    sind war waren hat haben liegt liegen steht stehen hangt haengt hangen kommt kennt kennen
    bekommt geandert geaendert unverandert gesetzt hinterlegt bekannt unbekannt vergessen abgelaufen
    gesperrt gultig ungultig gleich erfragen fragen anfragen vorhanden erforderlich notwendig notig
    tresor umschlag schublade schrank ordner lieferant kunde kunden hausmeister empfang einkauf
    hausverwaltung leer neu alt ja nein offen unten oben hier dort nur alle jeder jedes jeweils
    individuell personlich geheim offentlich sicher lang kurz stark schwach zufallig einmalig muss
    mussen darf soll sollte kann lt laut gemass beide frau herr herrn voir au aux dans sur sous chez
    par avec sans pour de du d' l' la le les un une en et ou non oui pas jamais aucun aucune
    personne inconnu inconnue connu connue demander garde gardee changee modifie modifiee oublie
    oubliee perdu perdue requis necessaire coffre enveloppe tiroir armoire client gardien accueil
    fournisseur est sont etait sera doit peut tous toutes chaque meme ici la-bas celui ceux vide
    nouveau ancien demande ver las lo los el al del con sin por para una y o si nunca nadie ninguna
    ninguno desconocida desconocido conocida preguntar guardada guardado guardan cambiada cambiado
    olvidada perdida caja sobre cajon armario cliente conserje recepcion proveedor compras se esta
    estan es son era debe puede todas todos cada misma mismo aqui alli vacia nueva vieja caduca
    """
)
# What a passphrase may well begin with
BENIGN_BEFORE_PHRASE = BENIGN - _words(
    """
    a an the two three four five six seven eight nine ten le la les un une el los las der die das
    ein eine good bad old new long short no my
    """
)
PARTICIPLE = re.compile(
    r"(?:\w+ed|\w*ge\w+(?:t|en)|(?:ver|be|er|zer|ent|uber|hinter)\w+(?:t|en)"
    r"|\w+(?:ert|iert|bar|able|ible|ee|ees|ado|ada|ados|adas|ido|ida))\Z"
)
UNIT = re.compile(
    r"\d[\d.,]*(?:%|st|nd|rd|th|x|d|h|s|m|v|a|w|kw|cm|mm|km|min|ms|sec|days?|hours?|tage?n?|jahre?|ans?|jours?|dias?|years?|"
    r"[kmgt]i?b|[kmgt]?hz|bits?|chars?|gbit|mbit|er|te|ten|eme|e)\Z"
)

# -- names of accounts: what stands beside one after a stroke is its password ------------------------

SIGN_IN = _cue(
    "a password",
    "log, sign, cred, zugang, anmeld, identifiant, acces, usuario, user, benutzer, utilisateur, konto",
    _ALONE + "(?:log-?ins?|log in|logon|log on|logindaten|sign-?in|creds?|credentials?|"
    "credenciales|zugangsdaten|zugang|"
    "anmeldedaten|anmeldung|identifiants?|acces|access|acceso|usuarios?|users?|user ?names?|benutzer(?:name)?|"
    "utilisateurs?|konto)",
)
SIGN_IN_WITH = _cue(
    "a password",
    "log, sign, anmeld, einlogg, connect, connexion, entrar, acceder",
    _ALONE + "(?:log(?:ged)? ?in|log(?:ged)? on|sign(?:ed)? in|anmelde[nt]|anmeldung|einloggen|"
    "connexion|connecter|entrar|acceder) (?:with|as|mit|als|avec|comme|con|como)",
)
ACCOUNTS = _words(
    """
    admin administrator administrateur administrador root toor user guest gast invite invitado
    wartung service support operator manager sa sysadmin sysop supervisor super superuser test
    backup maint maintenance technik technician dba webmaster postmaster monitor netadmin
    localadmin domainadmin
    """
)
# What stands behind "root/" and is no password: places of files, other accounts, kinds of certificates
BESIDE_ROOT = (
    "admin|administrator|admins|user|users|guest|operator|sudo|wheel|nobody|issuing|intermediate|server|client|leaf|"
    "access|local|remote|backup|backups|config|shared|login|shell|console|domain|default|device|devices|volume|partition"
)
# Accounts that have one password, whoever signs in: root:… is said without any other word
OWNERS = "admin|administrator|administrateur|administrador|root|sa|wartung"
