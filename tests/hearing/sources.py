"""Where the recorded sounds of the yardstick come from, and which part they serve.

Every sound is a file of a Debian package under a free licence; nothing is kept
in this repository. A whole recording (same person, same session) belongs to one
part only: `development` for building and tuning, `untouched` for the figures,
`training` for the network alone. A package of the training part was left out when its
sounds were those of the untouched part again (found by correlation).
`python -m tests.hearing.fetch` brings them into the cache folder.
"""

from __future__ import annotations

from dataclasses import dataclass

DEVELOPMENT = "development"
UNTOUCHED = "untouched"
TRAINING = "training"
PARTS = (DEVELOPMENT, UNTOUCHED)
"""The parts that scenes are made of; sounds of `TRAINING` only add variety to what the network is trained on."""

OPENCLONK = "usr/share/games/openclonk/Sound.ocg"
MOVEMENT = "Clonk.ocg/Movement.ocg"
HITS = "Hits.ocg"
LUGARU = "usr/share/games/lugaru/Sounds"
FLARE = "usr/share/games/flare/mods/fantasycore/soundfx/steps"
CAJON = "usr/share/hydrogen/data/drumkits/Gimme A Hand 1.0"
FLUID = "usr/share/sounds/sf2/FluidR3_GS.sf2"
CSOUND = "usr/share/sounds/sf2/sf_GMbank.sf2"
COLOBOT = "usr/share/games/colobot/sounds"
TUXFOOTBALL = "usr/share/games/tuxfootball/sound"
CSMASH = "usr/share/games/csmash/wav"
FOOBILLARD = "usr/share/games/foobillardplus/data"
PINBALL = "usr/share/games/pinball/tux"
SLIMEVOLLEY = "usr/share/games/slimevolley/themes/default"
KOLF = "usr/share/kolf/sounds"
SONICPI = "usr/share/sonic-pi/samples"
HEDGEWARS = "usr/share/games/hedgewars/Data/Sounds"
KLETTRES = "usr/share/klettres"
FREETENNIS = "usr/share/sounds/freetennis-common/sfx"
KTUBERLING = "usr/share/ktuberling/sounds"
ARDENTRYST = "usr/share/games/ardentryst/Sounds/NYX"
BERUSKY = "usr/share/games/berusky2/sound/sound"
CAVEEXPRESS = "usr/share/games/caveexpress/sounds"
SCRATCH = "usr/share/scratch/Media/Sounds/Human"
NEVERBALL = "usr/share/games/neverball/snd"
ENIGMA = "usr/share/games/enigma/soundsets/enigma"
SDLBALL = "usr/share/games/sdl-ball"
FILLETS = "usr/share/games/fillets-ng/sound"
QABCS = "usr/share/qabcs/abcs"


@dataclass(frozen=True)
class FootClip:
    """One footfall: a file, perhaps inside a container, and where to stop.

    A recording in which the ball of the foot follows the heel makes two clips:
    the heel, cut `keep_ms` after its contact, and the forefoot, sought from
    `start_ms` of the file on (children gallop and skip on the forefoot).
    """

    path: str
    member: str = ""
    keep_ms: float | None = None
    start_ms: float = 0.0


@dataclass(frozen=True)
class FootSource:
    """One recording of footfalls or of landings on a floor or board."""

    name: str
    part: str
    package: str
    licence: str
    author: str
    clips: tuple[FootClip, ...]


@dataclass(frozen=True)
class SoundSource:
    """Other recorded sounds: `kind` is adult, child, ball, whistle or other (doors, claps, laughter).

    `path` may hold a * for all files of a folder. `speed` above 1 plays a voice
    faster and higher, formants too, as a stand-in for a smaller speaker. `cuts_s` are the
    sounds within the file, from and to, s; none means that it is one sound.
    """

    name: str
    part: str
    kind: str
    package: str
    licence: str
    path: str
    member: str = ""
    speed: float = 1.0
    limit_s: float = 60.0
    cuts_s: tuple[tuple[float, float], ...] = ()


def _spans(names: str) -> list[tuple[str, float | None, float]]:
    """Read 'name@start:keep' items (ms) into (name, keep or None, start)."""
    spans = []
    for item in names.split():
        head, _, keep = item.partition(":")
        name, _, start = head.partition("@")
        spans.append((name, float(keep) if keep else None, float(start or 0.0)))
    return spans


def _openclonk(folder: str, names: str) -> tuple[FootClip, ...]:
    """Read 'Name Name:keep Name@start:keep' into clips of the game's sound container."""
    return tuple(FootClip(OPENCLONK, f"{folder}/{name}.ogg", keep, start) for name, keep, start in _spans(names))


def _files(folder: str, names: str, suffix: str) -> tuple[FootClip, ...]:
    """Read 'name name:keep name@start:keep' into clips that are plain files."""
    return tuple(FootClip(f"{folder}/{name}{suffix}", "", keep, start) for name, keep, start in _spans(names))


FOOT_SOURCES: tuple[FootSource, ...] = (
    FootSource("gritty-ground-steps", DEVELOPMENT, "openclonk-data", "CC-BY-3.0", "Herbert Boland",
               _openclonk(MOVEMENT, "StepHard1:68 StepHard2 StepHard3:82 StepHard4:85 "
                                    "StepSoft4:48 StepSoft5:60 StepSoft6:49 "
                                    "StepHard3@82 StepHard4@94 StepHard5@91 StepSoft4@50:70 StepSoft6@50:60")),
    FootSource("floor-impacts", DEVELOPMENT, "openclonk-data", "CC0-1.0", "adcbicycle",
               _openclonk(HITS, "GeneralHit1 GeneralHit2 SoftTouch1 SoftTouch2 "
                                "Materials.ocg/Wood.ocg/DullWoodHit2")),
    FootSource("board-impacts", DEVELOPMENT, "openclonk-data", "CC-BY-3.0", "Herbert Boland, Anton",
               _openclonk(HITS, "Materials.ocg/Wood.ocg/WoodHit3:75 Materials.ocg/Wood.ocg/DullWoodHit1")),
    FootSource("stone-steps", DEVELOPMENT, "lugaru-data", "CC-BY-SA-3.0", "Wolfire Games",
               _files(LUGARU, "FootStepStone1:56 FootStepStone2:66", ".ogg")),
    FootSource("grass-step", DEVELOPMENT, "lugaru-data", "CC-BY-SA-3.0", "Wolfire Games",
               _files(LUGARU, "FootStepGrass1:68 FootStepGrass1@72", ".ogg")),
    FootSource("snow-steps", DEVELOPMENT, "lugaru-data", "CC-BY-SA-3.0", "Wolfire Games",
               _files(LUGARU, "FootStepSnow1 FootStepSnow2", ".ogg")),
    FootSource("hard-shoe-in-hall", DEVELOPMENT, "fluid-soundfont-gs", "MIT", "Frank Wen and others",
               (FootClip(FLUID, "FootStep"),)),
    FootSource("hard-shoe-dry", DEVELOPMENT, "csound-soundfont", "public domain", "unnamed",
               (FootClip(CSOUND, "Step1oct"),)),
    FootSource("small-step", DEVELOPMENT, "amphetamine-data", "GPL-2+", "Jonas Spillmann and others",
               _files("usr/share/games/amphetamine/sounds", "step:80", ".wav")),
    FootSource("wooden-box-thumps", DEVELOPMENT, "hydrogen-drumkits", "GPL-2", "Glen MacArthur",
               _files(CAJON, "CajonThumps-Softest CajonThumps-Soft CajonThumps-Med "
                             "CajonThumps-Hard CajonThumps-Hardest", ".wav")),
    FootSource("wooden-box-slaps", DEVELOPMENT, "hydrogen-drumkits", "GPL-2", "Glen MacArthur",
               _files(CAJON, "CajonSlaps-Softest CajonSlaps-Soft CajonSlaps-Med "
                             "CajonSlaps-Hard CajonSlaps-Hardest", ".wav")),
    FootSource("soft-shoes", UNTOUCHED, "flare-game", "CC-BY-SA-3.0", "Clint Bellanger and others",
               _files(FLARE, "step_cloth1:42 step_cloth2:46 step_cloth3:47 step_cloth4:42 "
                      "step_cloth1@58 step_cloth2@60:38 step_cloth3@62 step_cloth4@56", ".ogg")),
    FootSource("leather-boots", UNTOUCHED, "flare-game", "CC-BY-SA-3.0", "Clint Bellanger and others",
               _files(FLARE, "step_leather1:45 step_leather2:42 step_leather3:43 step_leather4:47", ".ogg")),
    FootSource("metal-boots", UNTOUCHED, "flare-game", "CC-BY-SA-3.0", "Clint Bellanger and others",
               _files(FLARE, "step_metal1:58 step_metal2:60 step_metal3:58 step_metal4:60", ".ogg")),
    FootSource("steps-in-vault", UNTOUCHED, "flare-game", "CC-BY-SA-3.0", "Clint Bellanger and others",
               _files(FLARE, "step_echo1 step_echo2 step_echo3 step_echo4", ".ogg")),
    FootSource("boots-on-metal", UNTOUCHED, "colobot-common-sounds", "GPL-3+", "Epsitec, TerranovaTeam",
               _files(COLOBOT, "sound059:105 sound060:74", ".wav")),
    FootSource("webbed-foot", UNTOUCHED, "freedroidrpg-data", "GPL-2+", "FreedroidRPG team",
               _files("usr/share/freedroidrpg/data/sound/effects", "tux_footstep:52", ".ogg")),
    FootSource("running-shoe", UNTOUCHED, "kgoldrunner", "GPL-2+", "KGoldrunner team",
               _files("usr/share/kgoldrunner/themes/default", "step", ".wav")),
    FootSource("heels-on-concrete", TRAINING, "ardentryst", "CC-BY-SA-3.0", "Kendra Pietruszewski, Amy Dunwoodie",
               _files(ARDENTRYST, "NYX_STEP_CONCRETE1:82 NYX_STEP_CONCRETE2:32 NYX_STEP_CONCRETE3:54 "
                                  "NYX_STEP_CONCRETE4:58", ".ogg")),
    FootSource("heavy-steps", TRAINING, "berusky2-data", "GPL-2+", "AnakreoN",
               _files(BERUSKY, "stepsand@40:180 stepssteel1@40:260 stepsstone2@40:200 stepswood@40:200 "
                               "stepsnow2@45:200", ".wav")),
    FootSource("landings-in-cave", TRAINING, "caveexpress-data", "CC-BY-SA-4.0", "Martin Gerhardy and others",
               _files(CAVEEXPRESS, "player-land1:72 player-land2:160 player-land3:150", ".ogg")),
    FootSource("dungeon-step", TRAINING, "libmlv3-dev", "CC-BY-SA-3.0", "Jute",
               _files("usr/share/doc/libmlv3-dev/doc/mlv/examples/advanced", "walk:150", ".ogg")),
    FootSource("shoes-in-corridor", TRAINING, "scratch", "CC-BY-SA-3.0", "Massachusetts Institute of Technology",
               _files(SCRATCH, "Footsteps-1@40:280 Footsteps-1@740:170 Footsteps-1@1425:230 Footsteps-1@3120:220 "
                               "Footsteps-1@4290:110 Footsteps-1@4760:160", ".wav")),
    FootSource("shoes-on-gravel", TRAINING, "scratch", "CC-BY-SA-3.0", "Massachusetts Institute of Technology",
               _files(SCRATCH, "Footsteps-2@185:100 Footsteps-2@1995:120", ".mp3")),
    FootSource("small-animal-steps", TRAINING, "hedgewars-data", "GPL-2", "Hedgewars team",
               _files("usr/share/games/hedgewars/Data/Sounds", "steps@165:90", ".ogg")),
)


def _voices(part: str, kind: str, languages: str, speed: float = 1.0) -> tuple[SoundSource, ...]:
    return tuple(
        SoundSource(f"{language}{'-raised' if speed != 1.0 else ''}", part, kind, "ktuberling-data",
                    "GPL-2+", f"{KTUBERLING}/{language}/*", speed=speed, limit_s=30.0)
        for language in languages.split()
    )


def _letters(kind: str, languages: str, speed: float = 1.0) -> tuple[SoundSource, ...]:
    """Single letters and syllables, one voice a language: short as calls are."""
    return tuple(
        SoundSource(f"letters-{language}{'-raised' if speed != 1.0 else ''}", DEVELOPMENT, kind, "klettres-data",
                    "GPL-2+", f"{KLETTRES}/{language}/{folder}/*", speed=speed, limit_s=14.0)
        for language in languages.split() for folder in ("alpha", "syllab")
    )


def _cartoon(kind: str, voices: str) -> tuple[SoundSource, ...]:
    """Actors who play small animals: high, short and loud, as children call."""
    return tuple(
        SoundSource(f"cartoon-{voice}", DEVELOPMENT, kind, "hedgewars-data", "GFDL-1.3",
                    f"{HEDGEWARS}/voices/{voice}/*", limit_s=30.0)
        for voice in voices.split()
    )


def _extra_voices() -> tuple[SoundSource, ...]:
    """Speakers of one film of fishes and of picture alphabets, as they are and as children."""
    found = [SoundSource(f"fishes{'-raised' if speed != 1.0 else ''}", TRAINING, kind, "fillets-ng-data-nl", "GPL-2+",
                         f"{FILLETS}/{level}/nl/*", speed=speed, limit_s=12.0)
             for kind, speed in (("adult", 1.0), ("child", 1.36)) for level in ("city", "cabin1")]
    for language in ("de", "en", "pl", "ru"):
        found += [SoundSource(f"pictures-{language}{'-raised' if speed != 1.0 else ''}", TRAINING, kind, "qabcs-data",
                              "GPL-3+", f"{QABCS}/{language}/sounds/words/*", speed=speed, limit_s=12.0)
                  for kind, speed in (("adult", 1.0), ("child", 1.36))]
    return tuple(found)


def _extra(name: str, kind: str, package: str, licence: str, folder: str, files: str,
           cuts_s: tuple[tuple[float, float], ...] = ()) -> tuple[SoundSource, ...]:
    """Several files of one source of the training part."""
    return tuple(SoundSource(name, TRAINING, kind, package, licence, f"{folder}/{file}", cuts_s=cuts_s)
                 for file in files.split())


def _one(name: str, kind: str, package: str, licence: str, folder: str, files: str) -> tuple[SoundSource, ...]:
    """Several files of one source of the development part."""
    return tuple(SoundSource(name, DEVELOPMENT, kind, package, licence, f"{folder}/{file}") for file in files.split())


def _sampled(name: str, samples: str) -> tuple[SoundSource, ...]:
    """Several samples of the sound bank of FLUID as one source of other sounds."""
    return tuple(SoundSource(name, DEVELOPMENT, "other", "fluid-soundfont-gs", "MIT", FLUID, sample)
                 for sample in samples.split())


SOUND_SOURCES: tuple[SoundSource, ...] = (
    SoundSource("telephone-en", DEVELOPMENT, "adult", "asterisk-core-sounds-en-wav", "CC-BY-SA-3.0",
                "usr/share/asterisk/sounds/en_US_f_Allison/*.wav", limit_s=90.0),
    *_voices(DEVELOPMENT, "adult", "ca da de el en lt ru"),
    SoundSource("telephone-en-raised", DEVELOPMENT, "child", "asterisk-core-sounds-en-wav",
                "CC-BY-SA-3.0", "usr/share/asterisk/sounds/en_US_f_Allison/v*.wav", speed=1.34,
                limit_s=70.0),
    *_voices(DEVELOPMENT, "child", "nl sr"),
    *_voices(DEVELOPMENT, "child", "en ca", speed=1.38),
    SoundSource("telephone-fr", UNTOUCHED, "adult", "asterisk-core-sounds-fr-wav", "CC-BY-SA-3.0",
                "usr/share/asterisk/sounds/fr_CA_f_June/*.wav", limit_s=60.0),
    *_voices(UNTOUCHED, "adult", "fr nn uk sl wa pt it"),
    SoundSource("telephone-fr-raised", UNTOUCHED, "child", "asterisk-core-sounds-fr-wav",
                "CC-BY-SA-3.0", "usr/share/asterisk/sounds/fr_CA_f_June/v*.wav", speed=1.34,
                limit_s=40.0),
    *_voices(UNTOUCHED, "child", "fi sv"),
    *_voices(UNTOUCHED, "child", "uk", speed=1.3),
    SoundSource("school-yard", UNTOUCHED, "child", "lincity-ng-data", "GPL-2 or CC-BY-SA-2.0",
                "usr/share/games/lincity-ng/sounds/School*.wav", limit_s=12.0),
    SoundSource("football", DEVELOPMENT, "ball", "tuxfootball", "GPL-2+", f"{TUXFOOTBALL}/bounce.wav"),
    SoundSource("football-kick", DEVELOPMENT, "ball", "tuxfootball", "GPL-2+", f"{TUXFOOTBALL}/kick.wav"),
    SoundSource("tennis-ball", UNTOUCHED, "ball", "freetennis-common", "GPL-2+", f"{FREETENNIS}/palla*.wav"),
    SoundSource("volleyball", UNTOUCHED, "ball", "blobby-data", "GPL-2+",
                "usr/share/blobby/sounds.zip", "sounds/bums.wav"),
    SoundSource("referee", DEVELOPMENT, "whistle", "tuxfootball", "GPL-2+", f"{TUXFOOTBALL}/refwhistle*.wav"),
    SoundSource("volleyball-referee", UNTOUCHED, "whistle", "blobby-data", "GPL-2+",
                "usr/share/blobby/sounds.zip", "sounds/pfiff.wav"),
    *_letters("adult", "cs da de en es he ml ru tn nds hu"),
    *_letters("child", "cs he ml nl", speed=1.4),
    *_cartoon("adult", "Surfer Singer Mobster"),
    *_cartoon("child", "Default Classic Default_ru Default_pl HillBilly"),
    *_one("table-tennis", "ball", "csmash-data", "GPL-2+", CSMASH, "table.wav racket.wav"),
    *_one("billiard-ball", "ball", "foobillardplus-data", "GPL-2", FOOBILLARD, "oneballontable.wav"),
    *_one("bomb-ball", "ball", "warmux-data", "GPL-2+", "usr/share/games/warmux/sound/default/weapons",
          "footbomb_bounce.ogg"),
    *_one("golf-ball", "ball", "kolf", "GPL-2+", KOLF, "hit.wav wall.wav"),
    *_one("slime-ball", "ball", "slimevolley-data", "GPL-2+", SLIMEVOLLEY, "s_slime.wav"),
    *_one("pinball", "ball", "pinball-data", "GPL-2", PINBALL, "bump.wav bumpsoft.wav bumphard.wav"),
    *_one("hedgehog-whistle", "whistle", "hedgewars-data", "GFDL-1.3", HEDGEWARS + "/voices/Default", "Whistle.ogg"),
    *_one("melon", "other", "hedgewars-data", "GFDL-1.3", HEDGEWARS, "melonimpact.ogg"),
    *_one("applause", "other", "foobillardplus-data", "GPL-2", FOOBILLARD, "applause.wav ooh.wav"),
    *_one("rolling-balls", "other", "foobillardplus-data", "GPL-2", FOOBILLARD, "shuffleballs.wav"),
    *_one("box-door", "other", "sonic-pi-samples", "CC0-1.0", SONICPI, "perc_door.flac"),
    *_one("net", "other", "slimevolley-data", "GPL-3", SLIMEVOLLEY, "s_filet.wav"),
    *_sampled("door", "Door doorcreak"),
    *_sampled("screams", "Scream Laugh"),
    *_sampled("clapping", "Applause"),
    *_extra_voices(),
    *_extra("rubber-ball", "ball", "qabcs-data", "GPL-3+", f"{QABCS}/all/noises", "rubber_ball.ogg",
            ((0.03, 0.5), (0.56, 0.95), (1.0, 1.33), (1.36, 1.65), (1.68, 1.92), (1.94, 2.15))),
    *_extra("volleyball-played", "ball", "qabcs-data", "GPL-3+", f"{QABCS}/all/noises", "volleyball.ogg",
            ((0.1, 0.5), (0.75, 1.15), (1.36, 1.8))),
    *_extra("football-kicked", "ball", "qabcs-data", "GPL-3+", f"{QABCS}/all/noises", "football.ogg", ((0.0, 0.4),)),
    *_extra("rolling-ball", "ball", "neverball-common", "GPL-2+", NEVERBALL, "bump.ogg bumpbig.ogg bumplil.ogg"),
    *_extra("springy-ball", "ball", "bzflag-data", "LGPL-2.1 or MPL-2.0", "usr/share/games/bzflag", "bounce.wav"),
    *_extra("circus-ball", "ball", "circuslinux-data", "GPL-2+", "usr/share/games/circuslinux/data/sounds",
            "bounce.wav"),
    *_extra("marble", "ball", "enigma-data", "GPL-2+", ENIGMA, "ballcollision.wav st-thud.wav"),
    *_extra("bubble", "ball", "frozen-bubble-data", "GPL-2", "usr/share/games/frozen-bubble/snd", "rebound.ogg"),
    *_extra("pinball-gnu", "ball", "pinball-table-gnu-data", "GPL-3+", "usr/share/games/pinball/gnu", "bumpsoft.wav"),
    *_extra("pinball-hurd", "ball", "pinball-table-hurd-data", "GPL-2+", "usr/share/games/pinball/hurd",
            "bump.wav bumphard.wav"),
    *_extra("arcade-ball", "ball", "sdl-ball-data", "GPL-3+", f"{SDLBALL}/default/snd",
            "ball-hit-border.ogg ball-hit-paddle.ogg"),
    *_extra("jump-rope", "other", "qabcs-data", "GPL-3+", f"{QABCS}/all/noises", "jump_rope.ogg"),
    *_extra("wheels-and-sticks", "other", "qabcs-data", "GPL-3+", f"{QABCS}/all/noises",
            "skateboard.ogg hockey.ogg dice.ogg rocking_horse.ogg schooler.ogg"),
    SoundSource("fischio", UNTOUCHED, "whistle", "etw-data", "GPL-2+", "usr/share/games/etw/snd/fischio*.wav"),
)

KEPT_FROM_TRAINING = ("table-tennis", "billiard-ball", "bomb-ball", "letters-hu", "cartoon-Default_pl")
"""Sources of the development part that no training scene holds, so that its figures show what is new to the network."""

FLITE_PACKAGES = ("flite", "libflite1")
"""Speech synthesiser (CMU, BSD-like); each part has voices of its own."""

FLITE_VOICES = {DEVELOPMENT: ("rms", "kal16"), UNTOUCHED: ("slt", "awb")}

LESSON_SENTENCES = (
    "step, hop. step, hop. step, hop. very good.",
    "gallop, gallop, gallop and stop.",
    "come on, one more time, from the red line to the blue line.",
    "long, short, long, short. listen to your feet.",
    "everybody sit down please. who wants to go next?",
    "ready? and, go! keep going, keep going.",
    "look at me, look at me! I can do it.",
    "no, that is my ball, give it back to me.",
)
"""What is said in a gym while a child moves; our own wording."""

CUE_WORDS = ("step", "hop", "long", "short", "run")


def packages() -> tuple[str, ...]:
    """Return every Debian package needed, each once."""
    names = [s.package for s in FOOT_SOURCES] + [s.package for s in SOUND_SOURCES]
    return tuple(dict.fromkeys([*names, *FLITE_PACKAGES]))
