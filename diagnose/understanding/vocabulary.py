"""What the trade and the people who drive call things, made one: expression -> plain words.

Both what is typed and the names and aliases of the knowledge go through this, so that the two sides meet. A plain
word with a minus behind it is said to be lacking: `power-` is no power, low power, gutless. Upper case marks words
of the grammar: NOT, OK (sound, normal), GONE, SAME (unchanged). From memory of the trade; no published list.
"""

from __future__ import annotations

EXPRESSIONS = """
gutless|no guts|no grunt|no poke|no pull|no puff|wont pull|doesnt pull|lost her guts|lost its guts|lost all her guts|lost all its guts|lost its legs|no legs|down on power|lacks power|lack of power|loss of power|losing power|lost power|loses power|lose power|power down|power is down|power loss|underpowered|under powered|power lacking|weak power|low on power|short of power|falls on its face|falls flat|fall on its face|fell on its face|engine lazy|no oomph|no torque|wont get out of its own way|pulls like a dog|short on power|no push|down on grunt|power went|wont make power|power gone|not making power|slow uphill|crawls up|cant climb|dog on hills|lost its power|lost its pull|struggling to pull|struggles to pull|struggles up|struggles on|poor performance|performance down|just slow = power-
bogs down|bog down|bogging down|bogs|grunts and drops|pulls down|labours|labouring|labors|lugs down|lugging = power- load
lazy|sluggish|hesitates|hesitation|hesitating|flat spot|stumbles when|slow to pick up|slow pickup|lags|laggy|turbo lag|slow to rev|slow throttle response = hesitate
fades|fade|drops away|tails off|runs out of breath|runs out of puff = fade
cuts out|cutting out|cut out and died|cuts off|cutting off|shuts off|shut off by itself|shuts itself off|shuts down|shut down by itself|shutting down|shuts itself down|dies|died|dying|die|stalls|stalled|stalling|conks out|conked out|conk out|quits|quit|quitting|just stops|stops running|stopped running|engine stops|stops on its own|packs up|packed up|went dead|up and died|gave up|gives up|falls over|cut out|cut outs|standstill|stood still|tripped out|trips out|engine cuts = stall
starts then dies|starts and dies|starts then stalls|starts and stalls|started ran a minute and died|starts runs and dies|fires then dies|fires up then dies|fires and dies|runs then dies|runs a few seconds and dies|starts up then cuts out|starts then cuts out|starts but dies|runs for a bit then dies|starts then quits|starts runs then quits|wont stay running|wont keep running|doesnt stay running|wont stay lit|wont run on = start stall
hard to start|hard starting|hard start|hard starter|difficult to start|bad starter|bad starting|poor starting|starts hard|slow to start|slow starting|takes ages to start|takes forever to start|takes a while to start|long crank|long cranking|excessive crank|excessive cranking|extended crank|extended cranking|cranks a long time|cranks for ages|cranks forever|reluctant to start|lazy to start|hates starting|pig to start|starts rough|tough to start|trouble starting|starting trouble|starting problem|struggles to start = hard start
cranks|crank|cranking|cranked|cranks over|crank over|cranking over|turns over|turn over|turning over|turned over|spins over|spin over|rolls over|spins|spin|spinning|winds over|wind over|winding over|turns it over|swings|whirs over|turns fine = crank
wont turn over|doesnt turn over|not turning over|wont crank|doesnt crank|no crank|wont rotate|will not crank|wont turn|wont even turn over = crank-
fires|fire|fires up|fire up|catches|catch|lights up|light up|kicks off|kick off|firing|fired|fired up|comes to life|kick in|bursts into life|starts up|start up|startup|starting|started|starts = start
wont light|never lights|doesnt light|not lighting|wont start|doesnt start|no start|not starting|wont fire|no fire|wont go|wont run|nonstarter|non starter|non start|wont catch|wont light|will not start|refuses to start|fails to start|failed to start|failing to start|didnt start|wouldnt start|cant start|cant get it to start|wouldnt fire|never fires|doesnt fire|not firing up|never caught|hasnt started|will not fire|no joy|wont kick = start-
dead on the key|no response to key|nothing when i turn the key|nothing at all when i turn the key|not a peep|not a sound|dead as a doornail|totally dead|completely dead|dead when i turn the key|turn the key nothing|turn key nothing|nothing happens|key does nothing|no response at all|absolutely nothing = dead key
just clicks|only clicks|one click|single click|a click|clunks once|just a click|only a click|clicks once|click but no crank = single click
rapid clicking|rapid click|clicking fast|machine gun clicking|chattering starter|clicks like mad|ticking like a machine gun = rapid click
flat battery|dead battery|dead batteries|batteries flat|battery flat|batteries dead|battery dead|batteries were flat|batteries run down|batteries go flat|battery goes flat|goes flat|battery drained|drains the battery|drains batteries|needs a jump|needs jumping|needs a boost to start|jump it|jump start|jumpstart|boosted off|batteries down = battery flat
hunts|hunting|surges|surging|surge|hunt|lopes|loping|goes up and down|up and down|revs up and down|wanders|wandering|swinging|swings|oscillates|oscillating|never settles|wont settle|unstable speed|rpm unstable|not steady|wont hold steady|wont idle steady|rhythmic|racing up and down|revs go up and down|speed varies = hunt
runs rough|rough running|running rough|idles rough|rough idle|rough|lumpy|lumpy idle|choppy|uneven running|runs uneven|runs like a bag of nails|runs like a bag of bolts|runs like crap|chugging|chugs|not running right|not running smooth|doesnt run smooth = rough
misses|missing on|miss|misfire|misfires|misfiring|skips|skip|skipping|running on five|runs on five|running on 5|running on three|hitting on five|dead miss|dead hole|dead cylinder|dead pot|one pot down|not firing on all|not hitting on all|down a cylinder|missing on one|a miss|cylinder down|cylinder dead|one cylinder dead|misfired|fluffing|engine missing|has a miss|dropping a cylinder|drops a cylinder = misfire
stutters|stuttering|stutter|splutters|sputters|spluttering|sputtering|coughs|coughing|cough|hiccups|hiccup|bucks|bucking|jerks|jerking|jerky|kangaroos|kangarooing|breaks up|breaking up|stumbles|stumble|stumbling = stutter
smokes|smoking|smokey|smoky|smoke|smokin|puffs of smoke|puffing|chucking out smoke|clouds|cloud|fumes = smoke
rolling coal|black out the stack|blows black|blowing black|smokes black|black clouds|sooty smoke|dark smoke|soot cloud = black smoke
smokes white|blows white|blowing white = white smoke
smokes blue|blows blue|blowing blue|bluish|blue grey|blue gray|bluey = blue smoke
gray|grey = grey
overheats|overheating|overheated|over heats|over heating|overheat|runs hot|running hot|gets hot|getting hot|goes hot|got hot|too hot|boils over|boiling over|boiled over|boils|boiling|cooks|cooking|cooked itself|in the red|into the red|to the red|temp gauge climbs|temp climbs|temperature climbs|temp goes up|temp high|temperature high|hot engine|running a temp|runs warm|temp up|running warm|temperature up|heats up|gauge up|gauge high|gauge climbs|gauge climbing|gauge creeps up|needle climbs|needle in the red|gauge in the red|temp creeps up|temp creeping up|temperature creeps|gauge goes up|gauge creeping = overheat
overcools|overcooled|runs cold|running cold|never gets warm|never warms up|doesnt warm up|wont warm up|wont get warm|never gets up to temp|doesnt get up to temp|doesnt reach temperature|runs too cold|too cold|runs cool|runs too cool|slow to warm up|takes forever to warm up|not getting up to temp|wont come up to temp = overcool
heater blows cold|no heat in the cab|no cab heat|cab heater cold|heater cold|heater doesnt work|no heat from the heater|heater only luke warm|heater blows luke warm|heater blows lukewarm|heater lukewarm|lukewarm heater|no heater|heater not hot|heater not working|no warm air|no hot air|cold heater|heater barely warm = cab heat-
using coolant|uses coolant|drinking water|drinks water|losing coolant|loses coolant|loosing coolant|losing water|loses water|using water|uses water|coolant loss|loss of coolant|coolant disappears|coolant disappearing|coolant keeps disappearing|coolant goes down|coolant drops|coolant level drops|topping up coolant|topping up water|topping up the water|topping up|topped up|needs topping up|keeps needing coolant|lost coolant|low coolant again|needs water|adding coolant|adding water|coolant consumption|water loss|losing antifreeze|loses antifreeze|coolant going missing|going through coolant|drinks coolant|drinks antifreeze|drinking coolant|drinking antifreeze|using antifreeze|uses antifreeze|burns coolant|eats coolant|level dropping in the radiator|losing its water|topping up every = coolant loss
using oil|uses oil|burning oil|burns oil|drinking oil|drinks oil|oil consumption|oil use|losing oil|loses oil|oil usage|going through oil|eating oil|adding oil|topping up oil|topping up the oil|heavy on oil|consumes oil = oil consumption
fuel consumption|fuel use|fuel usage|fuel economy|mpg|mileage = fuel consumption
in derate|derate|derates|derated|derating|limp mode|limp home|limps|limited power|power limited|limited to|power cut back|torque limited|torque limit|torque reduction|speed limited|five mile an hour mode|reduced power|power reduced|power restricted|cuts power|pulls power|cut the power = derate
check engine light|check engine lamp|check engine|engine light|engine lamp|amber light|amber lamp|yellow light|orange light|yellow lamp|engine warning light|engine warning lamp|amber warning|malfunction lamp|malfunction light|engine management light|eml|amber engine light|=mil|=cel = amber lamp
red light|red lamp|stop lamp|stop light|stop engine light|red stop lamp|stop engine lamp|red warning light|red warning|big red light|stop engine = red lamp
warning lights|warning light|warning lamps|warning lamp|dash lights|dash light|idiot lights|lights on the dash|lights come on|lights came on|light on the dash = warning lamp
battery light|battery lamp|charge light|charge lamp|charging light|alternator light|alternator lamp|gen light|ignition light|charge warning light|battery symbol|charge warning lamp|red battery symbol|generator light = charge lamp
doesnt charge|wont charge|undercharging|under charging|no charging|charging low|low charge|not putting out|charge low|alternator dead|not kicking in|never charges = charge-
overcharging|over charging|overcharges|overcharge|boiling the batteries|cooking the batteries = charge high
no throttle response|throttle does nothing|pedal does nothing|throttle pedal does nothing|dead pedal|no response to throttle|wont rev|wont rev up|doesnt rev|stuck at idle|wont accelerate|no response to the pedal|doesnt respond to throttle|accelerator does nothing|no pedal|wont come off idle|no response from the pedal|stays at idle|wont take throttle = throttle-
runs away|runaway|ran away|run away|revs by itself|revs itself|revs on its own|over revs|overrevs|overspeeds|overspeed|overspeed trip|over speed|overspeeding|over revving|revved itself|takes off by itself|raced away = overspeed
wont shut off|wont shut down|wont stop|wont turn off|doesnt shut off|keeps running with key off|keeps running after key off|runs on|running on after|keeps running when switched off|doesnt stop|will not shut off|cant shut it off|wont switch off|will not stop|cant stop it = engine stop-
drops to idle|falls to idle|goes back to idle|falls back to idle|idles down = drop idle
lost prime|lost its prime|loses prime|loses its prime|wont prime|doesnt prime|not priming|prime lost|losing prime|wont hold prime|wont bleed = prime-
ran out of fuel|run out of fuel|run dry|ran dry|ran it dry|ran it out of fuel|run it dry|out of fuel|run out of diesel|ran out of diesel|tank ran dry|ran the tank dry|no fuel in the tank|ran her dry|runs out of fuel = fuelout
gets no fuel|wont take fuel|not getting fuel|starved of fuel|fuel starved|fuel starvation|starving for fuel|starving|starves|starved|not enough fuel|lack of fuel|no diesel getting = fuel-
gelled|gelled up|gelling|gelling up|waxed|waxed up|waxing|waxy|fuel frozen|fuel froze|gels = wax
blow by|blowby|blow bye|crankcase pressure|crankcase press|breathes heavy|breathing heavy|heavy breathing|heavy breather|breathing|puffs out of the breather|puffing from breather|puffing at the breather|smoke out of the breather|smoke out the breather|fumes from the breather|lots of blowby|dipstick pops up|dipstick pops out|dipstick blows out|pushes the dipstick out|pushing dipstick out = blow by
milky|milkshake|mayonnaise|mayo|emulsified|creamy|chocolate milk|like coffee|milk|coffee coloured|emulsion|white goo|white sludge|mousse = milky
metal|shavings|flakes|glitter|glittery|chunks|swarf|filings|bits of metal|metal bits|metal flakes|metal shavings|metallic|metal particles|sparkles|sparkly|metal filings|slivers|bronze|debris = metal
knock|knocks|knocking|hammering|hammers|rapping|rap|bang|banging|bangs|thumping|thump|clunk|clunking|clunks|pounding|pounds = knock
tick|ticks|ticking|tapping|taps|tap|clatter|clatters|clattering|chatter|chattering|clack|clacking|tappety|tappy = tick
rattle|rattles|rattling|jangling|marbles = rattle
whine|whines|whining|howl|howls|howling|whistle|whistles|whistling|siren|screams|screaming|turbo noise = whine
squeal|squeals|squealing|chirp|chirps|chirping|squeak|squeaks|squeaking|screech|screeches|screeching = squeal
grind|grinds|grinding|graunching|graunch|scraping|scrapes|rubbing noise|scrape|gravel sound = grind
hiss|hisses|hissing|rush of air|blowing noise|air leak noise|whoosh|whooshing = hiss
noise|noises|noisy|racket|din|unusual noise|odd noise|funny noise|strange noise = noise
vibration|vibrates|vibrating|vibrate|shudder|shudders|shuddering|shakes|shaking|shake|shakey|judder|judders|judders|buzzing through = vibration
leak|leaks|leaking|leaky|drip|drips|dripping|weep|weeps|weeping|seep|seeps|seeping|pouring out|puddle|puddles|slobbering|pissing out|wet with|drops on the floor|pool under|spraying|losing out of|dribble|dribbles|dribbling|passing = leak
smells like|smells of|smell of|smelling of|stinks of|stinks|reeks of|smell|smells|smelly|stink|whiffs of|smelling|stinking|reeks|odor|odour|pong = smell
worn|worn out|wiped|chewed|shagged|clapped out|knackered = worn
broken|broke|snapped|busted|bust|sheared|shattered|smashed|fractured|torn|split|ripped|burst|blown|blew = broken
crack|cracked|cracks|cracking = crack
stuck|seized|jammed|siezed|frozen|binding|binds|hung up|hung|wont move|doesnt move|wont budge|jams|seize|jam|=sticks|=sticking|=sticky = stuck
blocked|plugged|clogged|restricted|restriction|choked|bunged|bunged up|blocked solid|stopped up|packed|gummed up|caked|furred up|half blocked|full of dirt|full of seeds|full of crap|filled with|matted|looks like a hedge|part blocked|partly blocked|clogging|plugs|plugging|blocking|blocks|plug up|plug up again = blocked
loose|slack|sloppy|wobble|wobbles|came loose|working loose|rattling about = loose
bad|faulty|failed|fails|fail|failing|dead|shot|fried|toast|kaput|duff|defective|no good|not working|doesnt work|wont work|inoperative|not functioning|doesnt run|does not run|packed in|faulted|went bad|burnt out|burned out|had it|no longer works|inop|not operating|u/s|buggered|stopped working|went to pot|gone to pot|went to hell|gone to hell|useless|rubbish|terrible|awful|crap|shocking|atrocious|not great|hopeless|pathetic = bad
dirty|black filter|filthy|manky|minging|contaminated|contamination|contaminate|contaminant|crud|gunk|gunky|slime|sludge|sludgy|goo|jelly|black stuff|muck|gunged|mucky|gunky = dirty
wrong|out of spec|out of range|incorrect|not right|out of tolerance|implausible|nonsense = wrong
high|too high|excessive|over the limit|elevated|way high|very high|sky high|through the roof|over spec|above spec|too much = high
low|too low|way low|very low|lowish|drops|dropped|falling|fell|falls|weak|insufficient|lost|loss|lacking|lacks|lack|under spec|below spec|starved of|barely any|hardly any = low
nil|zero|none = NONE
new|replaced|renewed|changed|swapped|fitted|installed|put in = new
burnt|burned|scorched|melted|charred|burn = burnt
corroded|corrosion|green|rusty|rusted|rust|verdigris|furry = corrode
chafed|rubbed through|rubbed|chaffed|pinched|frayed|worn through|rubbed bare = chafe
scored|scuffed|scuffing|scoring|scratched|grooved|scratches|scuff = score
soot|sooty|sooted|sooted up|carbon|coked|coked up|carboned|carboned up|black inside|carbon build up|carbon buildup = soot
bubbles|bubbling|bubble|air bubbles|fizzing|gassing in|foaming|foam|frothing|froth|frothy = bubble
collapsed|flat hose|sucked flat|sucked in|kinked|squashed|crushed|kink|collapsing = collapse
communicate|communication|comms|comm|talk to the scanner|talk to scanner|connect to|link up|comunicate|talks|communicating|communicates = communicate
engine stops when|engine = engine
motor|donk|lump|power plant = engine
lamp|light|lights|lamps|telltale|bulb warning = lamp
turbo|turbos|turbocharger|turbo charger|blower|charger turbo = turbo
variable geometry turbo|vgt|vnt|variable turbo|variable geometry turbocharger|variable turbocharger|vg turbo = variable turbo
intercooler|charge air cooler|charge cooler|cac|aftercooler|after cooler|charge-air cooler|inter cooler|ic = charge cooler
charge pipe|charge air pipe|charge hose|boost hose|boost pipe|boost boot|intercooler hose|intercooler pipe|intercooler boot|cac hose|cac boot|boost tube|charge air hose|charge-air hose|charge-air pipe|turbo hose|turbo pipe|cac pipe|intercooler pipes|boost hoses = charge hose
egr|exhaust gas recirculation|exhaust recirculation|recirculation|recirculated = egr
egr cooler|exhaust gas cooler|exhaust-gas cooler = egr cooler
dpf|particulate filter|soot filter|exhaust filter|soot trap|diesel particulate filter|particle filter|aftertreatment filter = dpf
doc|oxidation catalyst|oxy cat|oxicat|diesel oxidation catalyst|oxidation cat = doc
scr|reduction catalyst|selective catalyst|scr catalyst|scr cat|nox catalyst = scr
def|urea|adblue|ad blue|diesel exhaust fluid|exhaust fluid|reductant|reagent|urea solution|blue fluid = urea
def tank|urea tank|reductant tank = urea tank
doser|dosing valve|injector doser|dosing injector = doser
7th injector|seventh injector|hc doser|fuel doser|exhaust fuel doser|hydrocarbon doser|hc injector|regen injector|exhaust fuel injector|aftertreatment injector|seventh = fuel doser
regen|regens|regenerates|regenerating|regeneration|regenerations|burn off|forced burn|forced regen|parked regen|regening|regenerate|parked regeneration = regeneration
wont regen|wont regenerate|no regen|regen wont start|regen wont complete|regen aborts|regen fails|wont complete a regen|doesnt regen|failed regen|regens fail|regen never finishes|regeneration never finishes|forced regen aborts|aborts|regen stops|wont finish a regen = regeneration bad
always regenning|regens all the time|constant regens|regenerates too often|regens too often|keeps regenerating|keeps doing regens|frequent regens|regen every|constantly regenerating|regening all the time|regenerates a lot = regeneration often
ecm|ecu|pcm|computer|module|engine module|controller|control module|brain|engine computer|engine controller|engine control module|engine control|cpu|engine control unit = module
scanner|scan tool|reader|laptop|code reader|diagnostic tool|tester|scantool|diagnostic laptop|service tool = reader
codes|code|dtc|dtcs|fault codes|trouble codes|fault code|trouble code|fault memory|stored faults|codes stored|faults stored|logged faults|flash codes|blink codes|error code|error codes|fault stored|faults logged = code
gauge|guage|gage|needle|clock = gauge
coolant|antifreeze|anti freeze|coolent|antifreze|coolant water|glycol|rad water = coolant
water = water
engine oil|motor oil|lube oil|lube|crankcase oil|sump oil|engine lube = oil
transmission oil|gearbox oil|trans oil|trans fluid|tranny fluid|atf|transmission fluid|gear oil|tranny oil = transmission oil
transmission|gearbox|trans|tranny|gear box = transmission
dipstick|dip stick|oil stick|=stick = dipstick
fuel|diesel|derv|gas oil|juice|go juice|gasoil = fuel
fuel tank|diesel tank|tank = tank
starter|starter motor|starter moter = starter
alternator|alt|generator belt|altenator|alternater = alternator
batteries|battery|batts|batt|bat|bats|batterys = battery
battery isolator|isolator|iso switch|isolation switch|disconnect switch|battery switch|master switch|cutoff switch|battery disconnect|battery master = isolator
accelerator|throttle|throttle pedal|pedal|go pedal|gas pedal|foot feed|loud pedal|right foot|accelerator pedal = throttle
radiator|rad|radiators = radiator
radiator core|rad core|core = core
thermostat|stat|tstat|thermostats|t stat = thermostat
water pump|coolant pump|waterpump = water pump
fan clutch|viscous fan|fan coupling|viscous|viscous coupling|fan hub = fan clutch
fan belt|drive belt|serpentine belt|v belt|belt|belts|alternator belt|poly belt|fanbelt = belt
belt tensioner|tensioner|tensionner|idler|idler pulley = tensioner
head gasket|headgasket|hg|head gaskets|h gasket = head gasket
cylinder head|head|heads = head
crankcase breather|breather|ccv|road draft tube|crankcase vent|breather pipe|breather tube|crankcase filter|oil separator = breather
oil cap|filler cap|oil filler cap|filler|oil filler|cap oil = filler
air filter|air cleaner|air cleaner element|air element|airfilter|aircleaner = air filter
airbox|air box|air filter housing|air cleaner housing = air filter housing
fuel filter|fuel filters|fuel fliter|diesel filter|diesel filters|secondary filter|fuel element|inline filter|fuel filter element = fuel filter
water separator|separator|fuel water separator|filter bowl|bowl|sedimenter|primary filter bowl|racor|water trap|agglomerator = separator
lift pump|supply pump|feed pump|fuel lift pump|transfer pump|fuel transfer pump|low pressure pump|low pressure fuel pump|fuel supply pump|priming pump|electric fuel pump|electric lift pump = lift pump
hand primer|primer|primer pump|priming lever|hand pump|priming bulb|primer bulb = primer
injection pump|inj pump|injector pump|fuel injection pump|diesel pump|ip = injection pump
high pressure fuel pump|high-pressure fuel pump|high pressure pump|hp pump|hpfp|hp fuel pump|rail pump|cp pump|high-pressure pump|hipressure pump = high pressure pump
high pressure oil pump|hpop|hp oil pump|high-pressure oil pump|actuation pump = high pressure oil pump
icp|injection control pressure|actuation pressure|injector actuation pressure|actuation oil pressure|injection actuation pressure|oil rail pressure|icp pressure = actuation pressure
ipr|injection pressure regulator|pressure regulator valve|ipr valve|injection pressure regulator valve = regulator
fuel rail|common rail|rail press|rail pressure|fuel rail pressure|rail psi|rail|frp = rail
rail relief valve|relief valve rail|pressure relief valve|prv|pressure limiter|rail pressure relief valve|fuel pressure relief = relief valve
metering valve|mprop|fuel metering valve|inlet metering valve|imv|fuel control actuator|fca|suction control valve|scv|metering unit = metering valve
injectors|injector|injecters|injector nozzle|inj|injs|squirters|injectors nozzle = injector
return|leakoff|leak off|spill|return flow|back leak|backleak|back leakage|injector leakoff|injector return|leak back|leakback|spillback|return rate = return
unit injector|unit injectors|eui|pump injector = unit injector
fuel pressure|fuel press|fp|supply pressure|feed pressure|fuel supply pressure|fuel psi|lift pump pressure = fuel pressure
oil pressure|oil press|op|oil psi|oil px|lube pressure|oilpressure = oil pressure
boost pressure|boost|manifold pressure|turbo pressure|turbo boost|boost press|charge pressure|map pressure = boost
pressure|press|psi pressure|presure|px|preasure|pres = pressure
temperature|temp|temps|tempreture|temperture|temprature = temperature
oil level|level of oil|oil on the dipstick = oil level
coolant level|water level|header tank level = coolant level
expansion tank|surge tank|header tank|overflow tank|overflow bottle|degas bottle|coolant bottle|coolant tank|reservoir|expansion bottle|coolant reservoir|header bottle = surge tank
tailpipe|exhaust pipe|stack|stacks|pipe exhaust|exhaust stack|out the back|exhaust outlet = exhaust
exhaust|exh = exhaust
muffler|silencer|exhaust box = silencer
exhaust brake|exhaust flap|brake flap|butterfly exhaust = exhaust brake
engine brake|jake|compression brake|jake brake|retarder engine|compression release|engine retarder = engine brake
wastegate|waste gate|gate turbo = wastegate
actuator|actuators|servo = actuator
wiring|wires|wire|harness|loom|cable|cabling|wiring harness|wiring loom = wire
connector|plug|connectors|conn|plugs|pins|pin|terminal|terminals|multiplug|electrical plug = connector
ground|earth|ground strap|earth strap|grounds|earth lead|ground cable|gnd|ground wire|chassis ground|earth cable = ground
relay|relays = relay
fuse|fuses|fusible link|fusible = fuse
sensor|sensors|sender|sending unit|transducer|sensor switch = sensor
crank sensor|crank position sensor|ckp|cps|crankshaft sensor|crankshaft position sensor|speed sensor engine|crank speed sensor|engine speed sensor = crank sensor
cam sensor|cam position sensor|cmp|camshaft sensor|camshaft position sensor = cam sensor
5v ref|5 v ref|5v reference|reference voltage|5 volt reference|sensor supply|5v supply|five volt|sensor reference|5 v supply|5v|5 v|five volt supply|vref = reference
data link|datalink|can bus|canbus|j1939|bus|network|data bus|can network|databus|can line|can lines|can wires = network
terminator|terminating resistor|termination resistor|end resistor|terminators = terminator
solenoid|sol|solenoids|solinoid|solonoid = solenoid
shutdown solenoid|shut off solenoid|stop solenoid|fuel shutoff solenoid|fuel solenoid|fuel sol|shut down solenoid|run solenoid|fuel cut solenoid|shutoff solenoid|fuel shut off solenoid|etr = stop solenoid
governor|gov|govenor|governer|governors = governor
glow plugs|glow plug|grid heater|intake heater|heater grid|manifold heater|air heater|preheater|preheat|flame heater|glowplugs|glowplug|inlet heater = start heater
starting fluid|ether|easy start|quick start|start spray|starter fluid|start ya = ether
nox sensor|nox sensors|nox = nox sensor
dosing = dosing
tach|tacho|rev counter|tachometer|rev gauge|rpm gauge = tachometer
rpm|revs|engine speed|rpms = speed
idle|idling|idles|tickover|tick over|idle speed|low idle|ticking over = idle
valve lash|lash|valve clearance|valve clearances|tappet clearance|valve gap|tappets|tappet|valve lashes = lash
valve timing|cam timing = valve timing
injection timing|inj timing|pump timing|inj pump timing|static timing|timing = timing
rear main seal|rear main|rear crank seal|rear crankshaft seal|crank rear seal = rear seal
front crank seal|front seal|front crankshaft seal|front main seal = front seal
bellhousing|bell housing|flywheel housing|clutch housing = flywheel housing
damper|vibration damper|harmonic balancer|balancer|crank damper|torsional damper|crank pulley|crankshaft damper|viscous damper = damper
engine mounts|engine mount|motor mounts|motor mount|mounts|mount|engine mounting|mountings = mount
piston|pistons|slug = piston
liner|liners|sleeve|sleeves|bore|bores|cylinder bore|cylinder liner|cyl bore = liner
main bearings|mains|main bearing = main bearing
rod bearing|rod bearings|big end|big ends|big end bearing|conrod bearing|rod shells = rod bearing
timing gears|timing gear|timing end|timing train|gear train|timing case|timing cover = timing gear
cooler oil|oil cooler|oil coolers = oil cooler
oil pump|oilpump = oil pump
oil filter|oil filters = oil filter
oil pickup|oil pick up|pickup tube|pick up tube|pick-up tube|suction pipe|oil pickup tube|oil suction|suction tube|pickup pipe = pickup
oil relief valve|oil pressure valve|oil pressure relief valve|relief spring|oil pressure relief|pressure relief spring|oil relief|relief = relief valve
o rings|o ring|orings|oring|o-ring|o-rings|seal|seals|o'ring = seal
suction|suction side|suction line|inlet side|supply side|feed side = suction
air in the fuel|air in fuel|air in the lines|air in the line|air getting in|air in system|aerated fuel|air at bleed|air in the sight glass|air in sight glass|air in the fuel system|air lock fuel|air in diesel|airlock|air at every bleed screw|air at all bleed screws = air fuel
raw water|sea water|seawater|salt water|saltwater|sea-water = sea water
impeller|impellor|water pump impeller = impeller
hydrolocked|hydraulic lock|hydrolock|hydraulically locked|hydro locked|hydraulic locked|hydro lock|liquid locked|water locked|hydraulicked|fluid locked = hydrolock
sweet smell|smells sweet|sweet = sweet
ammonia|cat pee|cat piss|piss smell|pissy = ammonia
rotten eggs|rotten egg|eggy|sulphur|sulfur|bad eggs = sulphur
burning smell|smell of burning|burning plastic|electrical smell|smells burnt|burning wires|hot wires|insulation = burnt smell
intermittent|intermittently|comes and goes|on and off|now and then|now and again|sometimes|every so often|once in a while|off and on|occasionally|occasional|random|randomly|at random|when it feels like it|from time to time|some days|couldnt duplicate|cant duplicate|could not duplicate|could not reproduce|not every time|sporadic|sporadically = intermittent
suddenly|all of a sudden|sudden|all at once|out of the blue|without warning|out of nowhere|overnight change|from one minute to the next = sudden
slowly getting worse|getting worse|gets worse|worse every day|gradually|little by little|progressively|gradual|worse and worse|over time|crept up = gradual
after it sits|after sitting|after standing|sitting overnight|sat overnight|standing overnight|overnight|left standing|after it has sat|parked up|sat for|stood for|sitting the weekend|stood overnight|after the weekend|left over night|over the weekend|over night|sits for|sits overnight|after a night|first thing in the morning|first thing|first start|been sat|been sitting|been standing|monday morning|stood since|after being parked|after a weekend|after being left = standing
when cold|when its cold|from cold|stone cold|cold engine|cold mornings|cold morning|in the cold|in cold weather|cold weather|cold snap|on a cold day|winter mornings|freezing|below freezing|frost|frosty|cold days|in this cold|below zero|sub zero|cold day|wintertime|first thing cold = cold
when hot|when its hot|when warm|hot engine|when its warm|warmed up|once warm|once hot|once its warm|after warm up|at operating temp|at operating temperature|warm|heat soaked|heat soak|when it gets warm|hot restart|warm engine|up to temp|once it warms up|fully warm|after warming up|after a run|after its been running = hot
at idle|on idle|when idling|at tickover|in traffic|standing in traffic|slow traffic|at a standstill|while idling|in slow traffic|stopped|crawling|at low idle = idle
under load|when loaded|loaded|with a load on|under power|pulling|with load|when you put it to work|when i get on it|when working|working hard|put to work|heavy load|full load|on load|with the trailer on|pulling hard|when pulling|flat out|full throttle|wot|wide open|foot down|under acceleration|on acceleration|accelerating|when i accelerate|when accelerating|when you step on it|when i step on it|at full load|give it some|long pull|on a pull|steady pull|going hard|when its working|when i boot it|when the load comes on|high load|when you give it some|wide open throttle|when you load it|when i load it|load on = load
hills|hill|grade|grades|uphill|up hills|up hill|climbing|climb|climbs|inclines|incline|mountain|mountains|up grades|gradient|on the hills|on a grade|steep = hill
no load|off load|unloaded|without load|empty|no load on|with no load|free revving|running light|run light|light load|bobtail|bobtailing|solo = unloaded
in the wet|when it rains|in rain|wet weather|in the rain|wet days|after rain|after washing|after a wash|pressure washed|rains hard|rained on|when wet|damp|damp weather|wet|washed|raining|rain|after it rained|steam cleaned = wet
on bumps|over bumps|bumpy roads|rough roads|rough road|on rough ground|bumps|rough ground|potholes|hit a bump|bumpy|bouncing|pothole = bumps
at speed|on the motorway|on the highway|highway speed|motorway speed|when moving|road speed|at road speed|cruising|cruise|on the freeway|at highway speed|at cruise = road speed
cold start|cold starts|on cold start|at cold start = cold start
oil in the coolant|oil in coolant|oil in the water|oil in water|oil in the radiator|oil in radiator|oil in the expansion tank|oil in header tank|oily water|oil in my coolant|oil in the header tank|oily coolant|oil floating in = oil in coolant
coolant in the oil|coolant in oil|water in the oil|water in oil|antifreeze in the oil|antifreeze in oil|water in the sump|coolant in the sump|coolant in the engine oil|sea water in the oil|salt water in the oil|water in engine oil|water in the engine oil|raw water in the oil = coolant in oil
fuel in the oil|fuel in oil|diesel in the oil|diesel in oil|fuel dilution|diesel in the sump|fuel in the sump|fuel diluted|oil diluted|making oil|fuel in the engine oil|diluted oil|fuel diluted oil = fuel in oil
water in the fuel|water in fuel|water in the diesel|water in diesel|wif|water in the tank fuel|watery fuel = water in fuel
oil level up|oil level rising|oil level rises|making oil|oil level going up|gaining oil|oil going up|oil level gone up|level up on the stick|oil level climbing|level rising = oil level rise
overfilled|over full|overfull|over filled|above the mark|over the full mark|too full|over the mark|over full mark|above full|over max|inch over|inches over|qts over|quarts over|litres over|liters over|qt over|gallon over|over the top|way over full|inch over full|inches over full|qts over full|litres over full|way over full|over the full line|above the full mark|over the max mark = above mark
oil light|oil lamp|oil pressure light|oil pressure lamp|oil warning light|oil alarm|oil pressure alarm|oil warning|low oil pressure alarm|oil pressure warning = oil lamp
temperature light|temp light|hot alarm|temperature alarm|high temp alarm|overheat alarm|temp alarm|hot engine alarm = overheat alarm
water in fuel lamp|water in fuel light|wif light|wif lamp|water light = water in fuel lamp
filter lamp|dpf lamp|dpf light|filter light|soot lamp|regen lamp|regen light|exhaust filter light = dpf lamp
compression|comp|compresion|cylinder compression = compression
leakdown|leak down|cylinder leakage|leak-down|cylinder leakdown|leak down test|leakdown test|wet test = leak down
cutout test|cut out test|cylinder cutout|cylinder cut out|cut-out test|kill test|balance test|cylinder balance|cylinder balance test|cylinder cut-out|contribution test = cutout
buzz test|click test|injector buzz|injector click test = click test
crank shaft|crankshaft = crankshaft
cam shaft|camshaft|cam = cam
hydraulics|hydraulic|hyd|hydraulically|boom|bucket|implement|implements|digging|loader arms|crowd = hydraulic
compressor wheel|comp wheel|turbo wheel|compressor blades = compressor wheel
turbine|turbine wheel|hot side = turbine
shaft play|shaft has play = shaft loose
air compressor|brake compressor = air compressor
air tanks|air tank|brake tanks|air reservoirs|wet tank|brake air tanks|air reservoir = air tank
borescope|scope|boroscope = borescope
fuel cooler = fuel cooler
check valve|non return valve|nrv|one way valve|check valves = check valve
battery voltage|volts|voltage|voltmeter|volt meter|system voltage = voltage
hard to bar|hard to turn by hand|wont bar over|wont turn by hand|cant bar it over|stiff to bar|stiff to turn|tight to turn|locked solid|locked up solid|seized solid|engine seized|seized engine|engine locked|locked up = engine stuck
bar|barred over|by bar|barring|bar over|by hand = bar
hot start|hot restart|hot starts = hot start
weep hole|weep holes|telltale hole = weephole
coming on|comes on|come on|came on|kicks in|engages|engaging|cut in|cuts in|engaged = engage
bottom|lower|lowermost = lower
not seating = seat loose
oily mess|oil everywhere|oil all over = oil mess
steaming|steams = steam
trailer on|=trailer = trailer load
left on|left the = lefton
killing|kill|shorting out|cutting out cylinder|knocking out cylinder = kill
needs ether|needs easy start|needs starting fluid|only starts on ether|have to use ether|takes ether = needs ether
oil up the tanks|oil in the air tanks|oil in the tanks|oil into the air|pumping oil = oil air tank
oil stinks of diesel|oil smells of diesel|oil smells like diesel|oil smells of fuel|oil stinks of fuel|oil stinks like diesel = smell oil diesel
thin oil|oil is thin|oil thin|oil gone thin|oils gone thin = oil thin
=si = silicon
=na = sodium
=fe = iron
=cu = copper
=pb = lead
=al = aluminium
=diff|diff press|differential pressure|delta p|dp|pressure drop = pressure difference
=eng = engine
=brg|=brgs = bearing
=cyl|=cyls = cylinder
=wks = week
=hyd = hydraulic
using fuel|uses more fuel|drinking fuel|drinks fuel|burning more fuel|fuel consumption up|heavy on fuel|fuel use up|bad mileage|poor mileage|mileage is worse|mileage worse|mileage down|mileage dropped|poor economy|poor fuel economy|fuel economy down|mpg down|mpg dropped|bad mpg|eats fuel|eating fuel|thirsty|going through fuel|using more fuel|fuel burn up|uses too much fuel|burns more fuel|fuel consumption high|fuel consumption is up|high fuel consumption|mileage went down|economy dropped|mileage has dropped|fuel use gone up|fuel use is up|consumption has gone up|fuel mileage worse|burning fuel like|drinking it|guzzling|guzzles|juice like = fuel consumption high
sucking air|sucks air|drawing air|draws air|pulling air|pulls air = suck air
chewed wires|wires chewed|damaged wiring|harness damage|bare wire|wires chewed through|rats ate the wiring|mice chewed|mice ate = wire chafe
turbo play|turbo shaft play|end play turbo|bearing play turbo = turbo shaft loose
heater works|heater good|good heat|plenty of heat|heater blows hot|heater is hot|heater works fine|heat in the cab is fine = cab heat OK
low on oil|oil is low|low oil level|oil level low|oil level is low|short of oil|down on oil|oil down|low oil on = oil level low
low on coolant|low on water|coolant is low|coolant level low|low coolant level|coolant level is low|short of coolant|down on coolant|low coolant = coolant level low
light off|lightoff = lightoff
"""

NEGATIONS = frozenset(
    """no not without never none nothing wont cant cannot doesnt dont isnt arent didnt wouldnt aint nor neither hasnt
    havent hadnt wasnt werent couldnt couldve nobody shouldnt""".split()
)
"""Words that deny what comes after them (or, at the end of a clause, what stands before)."""

NORMAL = """
ok|okay|o k|all ok|good|all good|is good|tested good|tests good|tests fine|checks out|checked out ok|checked ok|check out ok|checked good|tested ok|tested fine|came back fine|came back good|came back clean|reads good|reads ok|fine|just fine|perfectly fine|normal|as normal|within spec|in spec|within specs|to spec|within limits|in range|within range|on spec|at spec|in the green|healthy|sound|perfect|lovely|spot on|as it should be|like it should|as it should|nothing wrong|nothing wrong there|no problem|no problems|no issues|no issue|no trouble|no faults found|no fault found|all right|alright|up to spec|passed|passes|pass|steady|bang on|looks good|looks fine|looking good|is fine|sweet|sweet as a nut|great|well|strong|smooth|smoothly|works|working|works fine|working fine|runs fine|runs well|runs good|runs great|holds|held|holding|holds pressure|holds fine|dry|tight|firm|free|moves free|full|bright|intact|clear|clean|undamaged|as new|like new|reads right|correct|a1|in good nick|good nick|no complaints|hasnt changed|not changed|unchanged|havent changed|has not changed|stays the same|first touch|first time|first turn of the key|on the button|first kick|straight off the key|unremarkable|rock steady|steady as a rock|solid|no worries|flat at all loads|in good order|good order|good shape|in good shape
"""
GONE = """
gone|went away|has gone|goes away|disappears|disappeared|cleared up|clears up|stopped|vanished|cured|fixed it|quit happening
"""
SAME = """
no change|no difference|no better|made no difference|zero difference|made zero difference|same fault|still the same|same as before|no diff|no improvement|didnt help|didnt fix it|no luck|made no odds|no joy|still there|same problem|no different|not fixed
"""
HEDGES = """
might be|may be|maybe|i think|i reckon|i guess|could be|perhaps|possibly|possible|probably|prob|seems|seems like|seem|looks like|sort of|kind of|kinda|a bit|a little|slightly|slight|suspect|suspected|not sure|think its|pretty sure|im not certain|as far as my ear goes|as far as i can tell|that i can see|apparently|if you ask me|wee bit|bit of a|smells like a|doubt|might|reckon|likely|guess|feels like|sounds like|something like|more or less|as well|as well as|to speak of|worth mentioning|at all|whatsoever|i suppose|supposedly
"""
STOP = frozenset(
    """a an the is are was were be been being there has have had does do did of on at to it its and or with from but when
    while as by for just my this that you will than then i we she he they her his our your us me them who which what so
    very really all some any up out about around again too also now got get gets getting go going thing still keeps
    keep im ive id ill youre theyre shes hes thats theres itd itll also only even well like bit little kind sort lot
    lots every each both here where how why if because cos since after before during until till through into onto
    over under off down back away one two side put puts take takes took make makes made come comes came say says said
    see saw seen look looks looked find found feel feels show shows showed read reads seems seem set sets day days
    week weeks month months year years hour hours minute minutes min mins second seconds sec secs time times today
    yesterday tomorrow last next ago morning night afternoon evening lunch dinner monday tuesday wednesday thursday
    friday saturday sunday mate hey okay yes yeah hi hello please thanks basically actually anyway driver customer
    operator truck lorry tractor machine unit bus digger combine boat vehicle rig set excavator wagon old whole more
    most much many few right left front rear own other others another same such nothing anything something everything
    everywhere somewhere nowhere mean think know guess reckon want needs need wants bought able way guy guys somebody
    someone nobody bloke let lets doing done went gone once twice three four five six seven eight nine ten first
    second third half quarter nearly almost quite bout approx roughly whenever everytime until whilst though although
    however yet either ever always usually mostly mainly straight without not no never none nor isnt wont cant doesnt
    dont didnt wasnt havent hasnt couldnt can could would should may might must shall""".split()
)
"""Words that say nothing of the machine by themselves."""

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

ORDINARY = frozenset(
    """
    share shares sharing shared shape dinner thing things stuff problem hanging hang strokes stroke quit operator knew
    drum weed noticed belly hedge condenser roundabout trailer lifted kilo pounds dollars insurance warranty invoice
    message picked pick picks drop dropped heading headed turning corner corners gate fence parked parking
    january february march april june july august september october november december easter christmas spring
    summer autumn outside town city road roads street yard shop garage depot site farm field dock harbour marina
    mooring sea ferry home house school church mile miles kilometre metres feet yards big large huge tiny long wide
    tall heavy nice lovely beautiful terrible awful horrible weird strange funny odd crazy stupid damn bloody hell
    god honest honestly truth train plane car van bike people person man men woman women kid kids boss owner
    mechanic technician engineer fitter electrician dealer neighbour friend brother son father wife husband family
    team crew everyone someone anyone told tell tells telling ask asks asked asking call calls called calling phone
    text texted wrote write written read word words talk talked talking speak hear heard hearing listen watch
    watched watching notice noticed remember forgot forget believe hope wish try tries tried trying use used using
    work worked working job jobs play wait waited waiting stay stayed leave left arrive arrived drive drives
    driving drove driven ride riding walk walked bring brought send sent buy sell sold pay paid cost money price
    cheap expensive fact problem problems issue issues trouble question answer reason idea point place places part
    parts side end beginning middle top bottom area spot corner edge line number numbers amount piece bit bits
    couple few several load loads ton tons bunch heap plenty enough half whole total round square straight sharp
    early late later soon sooner quick quickly slow slowly fast faster easy easily hard hardly simple simply clear
    clearly sure surely certain certainly possible basically generally normally typically exactly particularly
    especially absolutely completely totally entirely definitely finally immediately instantly eventually recently
    lately currently previously together alone apart instead besides anyway perhaps maybe though while plus minus
    per via whats whos wheres hows theyve weve youve shouldve wouldve couldve gonna wanna gotta aint reckon suppose
    guess figure figured harvest winterised recommissioned cloth rag hand hands foot feet eye eyes ear ears seat
    seats window door doors floor roof wall table chair box bag bags paper report reports note notes list screen
    display panel button picture sample test tests tested testing check checks checked checking inspect inspected
    measure measured reading readings value values result results spec specs compare compared correct corrected
    guess tomatoes potatoes cattle horse dog dogs cat cats bird birds tree trees grass snow ice sun sunny cloudy
    wind windy storm thunder heat weather season shift break breaks lunch dinner breakfast coffee tea beer food
    drink bottle cup cups bucket
    """.split()
)
"""Everyday words: rightly spelt, and of little weight where the knowledge does not hold them."""
