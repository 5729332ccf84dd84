"""Words of the grammar. From memory of the trade; no published list."""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path

from diagnose.words.stems import words

FILE = Path(__file__).with_name("ordinary.txt")


@lru_cache(maxsize=1)
def rightly_spelt() -> frozenset[str]:
    """Words of ordinary English that look like words of the trade, and are none."""
    lines = FILE.read_text(encoding="utf-8").splitlines()
    return frozenset(word for line in lines if not line.startswith("#") for word in line.split())


def listed(text: str) -> list[str]:
    """The expressions of one of the lists below."""
    return [one.strip() for one in text.replace("\n", "|").split("|") if one.strip()]


NEGATIONS = frozenset(
    words(
        """no not without never none nothing wont cant cannot doesnt dont isnt arent didnt wouldnt aint nor
        neither hasnt havent hadnt wasnt werent couldnt couldve nobody shouldnt"""
    )
)
"""Words that deny what comes after them (or, at the end of a clause, what stands before)."""

NORMAL = """
ok|okay|o k|all ok|good|all good|is good|tested good|tests good|tests fine|checks out|checked out ok
checked ok|check out ok|checked good|tested ok|tested fine|came back fine|came back good|came back clean
reads good|reads ok|fine|just fine|perfectly fine|normal|as normal|within spec|in spec|within specs|to spec
within limits|in range|within range|on spec|at spec|in the green|healthy|sound|perfect|lovely|spot on
as it should be|like it should|as it should|nothing wrong|nothing wrong there|no problem|no problems
no issues|no issue|no trouble|no faults found|no fault found|all right|alright|up to spec|passed|passes
pass|steady|bang on|looks good|looks fine|looking good|is fine|sweet|sweet as a nut|great|well|strong
smooth|smoothly|works|working|works fine|working fine|runs fine|runs well|runs good|runs great|holds|held
holding|holds pressure|holds fine|dry|tight|firm|free|moves free|full|bright|intact|clear|clean|undamaged
as new|like new|reads right|correct|a1|in good nick|good nick|no complaints|hasnt changed|not changed
unchanged|havent changed|has not changed|stays the same|first touch|first time|first turn of the key
on the button|first kick|straight off the key|unremarkable|rock steady|steady as a rock|solid|no worries
checks good|checks okay|checks ok|checked okay|checked fine|checked out|looks ok|look ok|look good|look fine
reads normal
no concerns|nothing abnormal|nothing unusual|nothing found|seems fine|seem fine|seems ok|seems good|still good
still fine
still ok|no abnormalities|all normal|all fine|measured ok|measures ok|measured good|in tolerance|where it should be
flat at all loads|in good order|good order|good shape|in good shape
"""
"""What says that something is sound."""

GONE = """
gone|went away|has gone|goes away|disappears|disappeared|cleared up|clears up|stopped|vanished|cured
fixed it|quit happening
"""
"""What says that something is not there any more."""

NO_MORE = """
no longer|no more|no sign of|no signs of|no trace of|no traces of|no evidence of|not a sign of|no hint of|free of
cant get it to|cant get the engine to|cant get her to|couldnt get it to|cant make it|couldnt make it
no visible|no obvious|no noticeable|no apparent|didnt find any|did not find any|did not see any|dont see any
do not see any
not seeing any|cannot see any|cannot find any|havent noticed any|havent had any|not getting any
nothing in the way of
cant see any|cant find any|couldnt find any|havent seen any|didnt see any
"""
"""Several words that deny what comes after them."""

SAME = """
no change|no difference|no better|made no difference|zero difference|made zero difference|same fault
still the same|same as before|no diff|no improvement|didnt help|didnt fix it|no luck|made no odds|no joy
still there|same problem|no different|not fixed
"""
"""What says that work done changed nothing."""

HEDGES = """
might be|may be|maybe|i think|i reckon|i guess|could be|perhaps|possibly|possible|probably|prob|seems
seems like|seem|looks like|sort of|kind of|kinda|a bit|a little|slightly|slight|suspect|suspected|not sure
think its|pretty sure|im not certain|as far as my ear goes|as far as i can tell|that i can see|apparently
if you ask me|wee bit|bit of a|smells like a|doubt|might|reckon|likely|guess|feels like|sounds like
something like|more or less|as well|as well as|to speak of|worth mentioning|at all|whatsoever|i suppose
supposedly|no matter how|no matter what|no matter
"""
"""What makes a statement less sure, or says nothing."""

STOP = frozenset(
    words(
        """a an the is are was were be been being there has have had does do did of on at to it its and or
        with from but when while as by for just my this that you will than then i we she he they her his
        our your us me them who which what so very quite really all some any up out about around again too
        also now got get gets getting go going thing still keeps keep im ive id ill youre theyre shes
        hes thats theres itd itll only even well like bit little kind sort lot lots every each both here
        where how why if because cos since after before during until till through into onto over under
        off down back away one two side put puts take takes took make makes made come comes came say
        says said see saw seen look looks looked find found feel feels show shows showed read reads
        seems seem set sets day days week weeks month months year years hour hours minute minutes min
        mins second seconds sec secs time times today yesterday tomorrow last next ago morning night
        afternoon evening lunch dinner monday tuesday wednesday thursday friday saturday sunday mate hey
        okay yes yeah hi hello please thanks basically actually anyway driver customer operator truck
        lorry tractor machine unit bus digger combine boat vehicle rig excavator wagon loader crusher dozer
        grader skidder forwarder harvester telehandler forklift tug trawler workboat
        barge coach tipper dumper sprayer crane sweeper shovel
        backhoe lad chap old whole more
        most much many few right left front rear own other others another same such nothing anything
        something everything everywhere somewhere nowhere mean think know guess reckon want needs need
        wants bought able way guy guys somebody someone nobody bloke let lets doing done went gone once
        strong massive huge severe severely slight terribly badly real proper properly horrible serious seriously
        major minor constant constantly external externally visible obvious certain
        twice three four five six seven eight nine ten first third half quarter nearly almost quite bout
        approx roughly whenever everytime whilst though although however yet either ever always usually
        mostly mainly straight without not no never none nor isnt wont cant doesnt dont didnt wasnt
        havent hasnt couldnt can could would should may might must shall"""
    )
)
"""Words that say nothing of the machine by themselves."""

EMPTY = frozenset(
    words(
        """a an the is are was were be been being there has have had does do did of on at to it its and or
        with from but as by for just my this that you will than then i we she he they her his our your us me
        them who which so very really some any up out about also now got get gets getting go going thing still
        keeps keep im ive id ill youre theyre shes hes thats theres itd itll even well like bit kind
        sort lot lots too here there where how if because cos down put puts take takes took make makes made
        come comes came say says said see saw seen look looks looked find found feel feels show shows showed
        read reads seems seem set sets mate hey okay yes yeah hi hello please thanks basically actually anyway
        driver customer operator truck lorry tractor machine unit bus digger combine boat vehicle rig excavator
        wagon loader crusher dozer grader skidder forwarder harvester telehandler forklift tug trawler workboat
        barge coach tipper dumper sprayer crane sweeper shovel backhoe lad bloke chap old mean
        think know guess reckon want needs need wants able way guy guys somebody someone bloke
        let lets doing done went gone nearly almost quite bout approx roughly can could would should may might
        must shall without not no never none nor isnt wont cant doesnt dont didnt wasnt havent hasnt couldnt
        when while front rear strong massive huge severe severely slight terribly badly real proper properly
        horrible serious seriously major minor constant constantly external externally visible obvious certain"""
    )
)
"""Words that neither say nor narrow anything. What else says nothing of the machine by itself narrows a name down:
no oil pressure for the first seconds, black smoke on take off."""

NARROWING = frozenset(
    words(
        """one two three four five six seven eight nine ten first second third half quarter again only every
        each both other another others once twice seconds minute minutes hour hours day days night morning
        week weeks year years what nothing something until before last same right left"""
    )
)
"""Words by which a measured quantity is a particular one: after an hour of work."""

ORDINARY = frozenset(
    words(
        """share shares sharing shared shape dinner thing things stuff problem hanging hang strokes stroke
        quit operator knew drum weed noticed belly hedge condenser roundabout trailer lifted kilo pounds
        dollars insurance warranty invoice message picked pick picks drop dropped heading headed turning
        corner corners gate fence parked parking january february march april june july august september
        october november december easter christmas spring summer autumn outside town city road roads
        street yard shop garage depot site farm field dock harbour marina mooring sea ferry home house
        school church mile miles kilometre metres feet yards big large huge tiny long wide tall heavy
        nice lovely beautiful terrible awful horrible weird strange funny odd crazy stupid damn bloody
        hell god honest honestly truth train plane car van bike people person man men woman women kid
        kids boss owner mechanic technician engineer fitter electrician dealer neighbour friend brother
        son father wife husband family team crew everyone someone anyone told tell tells telling ask
        asks asked asking call calls called calling phone text texted wrote write written read word
        words talk talked talking speak hear heard hearing listen watch watched watching notice remember
        forgot forget believe hope wish try tries tried trying use used using work worked working job
        jobs play wait waited waiting stay stayed leave left arrive arrived drive drives driving drove
        driven ride riding walk walked bring brought send sent buy sell sold pay paid cost money price
        cheap expensive fact problems issue issues trouble question answer reason idea point place
        places part parts side end beginning middle top bottom area spot edge line number numbers amount
        piece bit bits couple few several load loads ton tons bunch heap plenty enough half whole total
        round square straight sharp early late later soon sooner quick quickly slow slowly fast faster
        easy easily hard hardly simple simply clear clearly sure surely certain certainly possible
        basically generally normally typically exactly particularly especially absolutely completely
        totally entirely definitely finally immediately instantly eventually recently lately currently
        previously together alone apart instead besides anyway perhaps maybe though while plus minus per
        via whats whos wheres hows theyve weve youve shouldve wouldve couldve gonna wanna gotta aint
        reckon suppose guess figure figured harvest winterised recommissioned cloth rag hand hands foot
        eye eyes ear ears seat seats window door doors floor roof wall table chair box bag bags paper
        report reports note notes list screen display panel button picture sample test tests tested
        testing check checks checked checking inspect inspected measure measured reading readings value
        values result results spec specs compare compared correct corrected tomatoes potatoes cattle
        horse dog dogs cat cats bird birds tree trees grass snow ice sun sunny cloudy wind windy storm
        thunder heat weather season shift break breaks lunch breakfast coffee tea beer food drink bottle
        cup cups bucket"""
    )
)
"""Everyday words: rightly spelt, and of little weight where the knowledge does not hold them."""

KIN = """
bad broken worn crack fail
stuck bind collapse
bad hard
stuck loose bad
block dirty soot collapse
block stuck
noise knock
noise tick
noise rattle
noise whine
noise squeal
noise grind
noise hiss
noise growl
noise hum
whine howl hum
vibration rough
vibration shake
low bad
stutter rough misfire hunt hesitate
stutter stall hesitate
load hill
load fade
leak wet
leak break crack
overheat hot
line hose pipe tube boot
inlet intake
steam smoke
wire connector harness circuit
score worn
corrode green bad
mud dirt chaff straw leaf seed trash debris grass dust
coat crust deposit
high open
temperature hot overheat
metal brass flake
residue crust crystal white
amber warning
red warning
solenoid valve
surge bottle tank
slow low
tick knock
dim flicker
jump flicker
flash flicker
circuit open
fuel lift
pump supply
"""
"""Words that may stand for one another, at a discount."""
