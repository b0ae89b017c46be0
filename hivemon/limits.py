"""Every threshold of advice, once: its unit, its source, its default.

`[advice.<question>]` in hivemon.toml overrides it for all yards, `[yard.advice.<question>]` below a `[[yard]]` for one.
"Our rule" marks a number for which no published one is known; "common practice" a rule of the trade; "from memory" a
published one that was not at hand to read again.
"""

from __future__ import annotations

import msgspec


class SuperLimits(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """When a hive needs its next super."""

    fresh_room_low: float = 2.5
    """Room of fresh nectar against the ripe honey it becomes, nectar of 40 % sugar (derived in `room.py`)."""
    fresh_room_high: float = 3.4
    """The same for nectar of 30 % sugar."""
    undried_days: float = 0.5
    """Days of income that stand as water on the scale at dawn. Our rule: of a day's nectar a quarter to a half of the
    weight is gone by the next dawn, as much again later (Hambleton 1925, from memory)."""
    share_low: float = 0.75
    """Least share of the gain that goes into the supers, the rest into the brood boxes. Our rule."""
    spare_low_kg: float = 4.0
    """Least honey a brood nest in good order takes without being crowded. Our rule: 1.5 deep frames of 2.7 kg."""
    spare_high_kg: float = 8.0
    """Most it takes: three empty deep frames of 2.7 kg in two boxes (common practice for swarm prevention)."""
    frames: int = 10
    """Frames in a brood box."""
    frame_kg: float = 2.7
    """Honey in a full deep frame (extension, from memory; range 2.3-3.6)."""
    brood_frames: float = 5.0
    brood_frames_sd: float = 1.0
    """Frames that hold brood in the season: 30,000 cells at 6,900 a frame and some empty ones (derived)."""
    pollen_frames: float = 1.0
    """A kilo or so of pollen (common practice)."""
    queen_frames: float = 2.0
    """Frames the queen needs empty: two to three in a nest of two boxes (common practice)."""
    least_gain: float = 0.15
    """A hive that gains less than this, kg a day, fills no super. Our rule: half of what makes a flow."""
    ask_days: float = 7.0
    """Ask when the likely date of need is nearer than this: most people visit once a week. Our rule."""
    let_go_days: float = 10.0
    """Once asked, take it back only when the need is farther off than this. Our rule, against flapping."""
    today_days: float = 1.0
    """Nearer than this and it is for today. Our rule."""
    weak_share: float = 0.4
    """A hive that gains less than this share of the yard's typical hive fills no super. Our rule."""
    weak_days: float = 2.0
    """Even so it is asked for one when its room ends sooner than this. Our rule."""
    rate_days: int = 10
    """Hive days from which a hive's own rate is taken. Our rule."""
    rate_half_days: float = 2.0
    """A day weighs half of one so many days younger. Our rule: weather lasts some days, flows swell within a week."""
    uneven: float = 0.5
    """How unlike a flow's days usually are, standard deviation as a share of the mean. Our rule: weather makes one day
    in six half again as good as the mean, and one in six half as good."""
    uneven_days: float = 3.0
    """So many of a hive's own days tell as much of it as what is usual. Our rule."""
    between_kg: float = 3.0
    """Room below which supers are nearly full: two good days of 1.5 kg use it up before a flow is told. Our rule."""
    trickle_kg: float = 2.0
    """Honey since the last flow that shows a trickle; less is what the flow left in the supers. Our rule."""
    between_first_week: int = 15
    between_last_week: int = 35
    """Weeks of the year (north; the south half a year later) in which more nectar may come, April to August; later the
    honey comes off anyway. Our rule; with no winter, all year."""
    look_after_days: int = 10
    """Days after a flow's end when capping is worth a look. Our rule."""
    flow_over_days: int = 21
    """Days after which a flow's end is no news. Our rule."""


class SwarmLimits(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """What is due on which day after a prime swarm; days counted from its departure."""

    fetch_hours: float = 10.0
    """How long a person is fetched at once for it: the flying day. Our rule."""
    look_hours: float = 24.0
    """How long a search is worth while: a cluster hangs for hours to a day or two (Seeley 2010, from memory)."""
    bee_low_g: float = 0.130
    bee_high_g: float = 0.160
    """One bee of a swarm with its honey load (Combs 1972, Otis 1982, from memory; package bees 130 mg, trade)."""
    afterswarm_first: int = 8
    afterswarm_last: int = 10
    """Afterswarm days (Winston 1987, from memory; range about 7 to 14)."""
    eggs_first: int = 16
    eggs_last: int = 25
    """First eggs of the young queen: emergence + mating + 2-4 days (derived from 16-day queen development)."""
    old_eggs_days: int = 4
    """Eggs hatch after three days; seen later than this they are not the old queen's."""
    given_first: int = 7
    given_last: int = 14
    """Days after a queen was given in which to look for her eggs: a mated one lays in 2-5 days (memory). Our rule."""
    again_days: int = 7
    """After a look without eggs, look again so many days later. Our rule: bad weather holds mating up a week."""
    failed_after: int = 30
    """No brood warmth later than this means a failed queen (derived: eggs by day 25, larvae to warm by day 28-30)."""
    forget_after: int = 45
    """Our rule: later than this the story is over or the beekeeper knows."""


class FoodLimits(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """Stores, use and feeding."""

    floor_and_lids_kg: float = 6.5
    """Floor, inner cover and roof: 5-8 kg (from memory)."""
    brood_box_kg: float = 10.0
    """A deep box with ten drawn frames, dry: 9-11 kg (from memory)."""
    super_wood_kg: float = 7.0
    """A super with drawn frames, dry: 6.5-8 kg for a medium (from memory)."""
    guess_sd_kg: float = 2.5
    """Doubt of a guessed tare. From the ranges above, and 2 kg for hives of another make (our rule)."""
    summer_colony_kg: float = 5.5
    """Bees, brood and pollen, mean of April to September: 2-5 kg bees, 0.5-2 kg brood, 0.5-1.5 kg pollen. Our rule;
    `season.colony_share` says how it goes through the year."""
    summer_colony_sd_kg: float = 1.6
    """Our rule: half of what lies between a small and a large colony."""
    brood_kg: float = 2.0
    """The brood of these: 25,000 cells, most of them capped, of 80 to 90 mg on average (from memory)."""
    dip_days: int = 14
    """Hive days of which the median morning dip is taken. Our rule."""
    usual_dip_kg: float = 0.27
    """Morning dip of a colony of usual size: 2,300 bees of 115 mg (Holst & Meikle 2018 count foragers so). Our rule."""
    colony_kg_per_dip_kg: float = 12.0
    """Derived: a third of the bees forage, a quarter of these are out at once: 12 kg of bees a kg."""
    dip_doubt: float = 0.3
    """How far that goes wrong, as a share: colonies and days differ in how many fly out at once. Our rule."""
    seen_colony_sd_kg: float = 0.8
    """Doubt of brood and pollen of a colony whose bees are known. Our rule: half of the spans above."""
    colony_low_kg: float = 2.0
    colony_high_kg: float = 10.0
    """No colony is taken to weigh less or more. Our rule: 5,000 to 45,000 bees with brood."""
    colony_drift_kg: float = 1.5
    colony_drift_days: float = 42.0
    """How far a colony's weight may have drifted in so many days, standard deviation. Our rule: half of what one
    without a queen loses in that time, since summer bees live four to six weeks (from memory)."""
    queen_gap_days: float = 28.0
    """Days after a swarm until the young queen's brood begins to weigh (derived: eggs by day 16 to 25, grown larvae a
    week later)."""
    regrown_days: float = 82.0
    """Days after a swarm until the colony is as large as before. Our rule: two and a half brood cycles after that."""
    split_kg: float = 5.0
    """What a split takes off the scale where the logbook does not say: three frames with bees, brood and food, less the
    empty ones put in their place. Our rule."""
    split_share: float = 0.5
    """Share of it that is bees and brood. Derived: 2,000 bees (0.25 kg) and half a frame of brood, 0.3 kg and more, to
    each frame of some 1.5 kg net."""
    winter_colony_kg: float = 3.5
    """Bees and pollen without brood: 1.2 kg of bees (10,000, handbooks, from memory) to 4.5 kg (strong ones, Farrar
    1944), and 0.5-1 kg of pollen. Our rule: the middle."""
    winter_colony_sd_kg: float = 1.1
    use_kg_per_day: float = 0.22
    """Summer use without income: 0.15-0.3 kg a day (derived from Seeley's yearly budget)."""
    use_sd_kg_per_day: float = 0.08
    """Our rule: half of that span."""
    winter_use_kg_per_day: float = 0.08
    """Between 0.04 kg a day in a mild winter (Norrström et al. 2021) and 0.14, 25 kg in six months (NBU). Our rule."""
    nectar_celsius: float = 10.0
    """Highest outside temperature of a day below which nothing comes in: bees fly from 12 °C (Burrill & Dietz 1981)."""
    least_use_kg_per_day: float = 0.04
    """Winter use, 0.039 kg a day measured in a mild winter (Norrström et al. 2021)."""
    most_use_kg_per_day: float = 0.5
    """More is no eating: ripening nectar, robbing or a leak. Our rule."""
    use_days: int = 14
    winter_use_days: int = 42
    """Hive days from which use is taken, in the broodless season more: it is slow and even then. Our rule."""
    wood_drift_kg: float = 0.5
    """How far wood and wet drift in those `winter_use_days`, standard deviation. Derived: 16 kg of bare wood takes up
    1.1 kg between 50 and 80 % of humidity over weeks (Wood Handbook, from memory); paint halves it."""
    emergency_kg: float = 5.0
    """Feed at any season below 4.5-7 kg (extension, from memory)."""
    comfortable_kg: float = 7.0
    """Upper edge of the same; the aim of an emergency feed."""
    warn_days: float = 12.0
    """Announce an emergency (food under 5 days) a week ahead. Our rule."""
    let_go_days: float = 16.0
    """Once said, take it back only above this. Our rule, against flapping."""
    starving_days: float = 5.0
    """A colony without stores or nectar starves within days (NSW DPI Primefact 1343)."""
    rest_after_feed_days: float = 4.0
    """After a feed wait until the syrup is stored before judging again. Our rule."""
    ripening_days: float = 5.0
    """After a flow's end weight is lost by drying; do not take it for eating. Our rule."""
    gaining_kg_per_day: float = 0.15
    """A hive that gains this much finds its own food. Our rule: half of what makes a flow."""
    stores_per_sugar: float = 0.95
    """Stores gained per kg of sugar fed (US extension, from memory)."""
    syrup_celsius: float = 10.0
    """Below this little syrup is taken: fondant instead (extension, from memory)."""
    dearth_days: int = 60
    """Days after which a dearth that nobody ended is no news. Our rule."""


class HeatLimits(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """Heat outside and in the brood nest."""

    hot_outside_celsius: float = 35.0
    """From 35 to 38 °C clusters at the entrance and fanning are normal (common practice)."""
    great_heat_celsius: float = 38.0
    """Above 38 °C shade matters (common practice)."""
    safe_brood_celsius: float = 36.0
    """Upper edge of the regulated nest (Becher & Moritz 2009); a day's mean below it: the heat is over."""
    forget_days: float = 21.0
    """An overheating that neither ended nor changed is no news after this. Our rule."""
    robbed_hours: float = 6.0
    """Robbing raised less than this ago is under way. Our rule: most of a flying day."""
    watch_hours: float = 72.0
    """Robbers come back to a place they know; watch this long. Our rule."""


class BroodLimits(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """Brood nest: what to make of cold and of a nest that follows the weather."""

    warm_low_celsius: float = 33.0
    warm_high_celsius: float = 36.5
    """Daily mean of a nest with brood: 33-36 °C (Stabentheiner et al. 2010), and half a degree of sensor error."""
    brood_swing_celsius: float = 1.5
    """Within-day swing with brood at the sensor; 0.5-1 °C is usual (Seeley 1985, from memory)."""
    warm_days: int = 2
    """Days in a row that count as proof of brood. Our rule."""
    opening_celsius: float = 15.0
    """Brood is not laid open in colder air (common practice)."""
    break_days: float = 40.0
    """A split, a new queen or a swarm explains a gap in the brood this long (eggs by day 25, warmth by day 30)."""
    handled_days: float = 2.0
    """An inspection this recent may have moved the sensor. Our rule."""
    forget_days: float = 21.0
    """Brood trouble that neither ended nor changed is no news after this. Our rule."""


class SensorLimits(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """Faults, hives off their scale and steps nobody logged."""

    fault_days: float = 30.0
    """A fault that was never ended is no news after this. Our rule."""
    ask_days: float = 7.0
    """How long a question about a step is worth asking: memory fades. Our rule."""
    near_hours: float = 12.0
    """A logbook entry this near answers the question. Our rule: entries are right to an hour, or made at night."""
    back_kg: float = 10.0
    """A scale that shows this much carries a hive again (floor, lid and one box weigh 14 kg and more, from memory)."""
    off_scale_days: float = 7.0
    """Our rule: by then the beekeeper knows."""


class NestLimits(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """Room in the brood nest before swarming."""

    first_week: int = 15
    last_week: int = 26
    """Weeks of the year (north; the south half a year later) in which strong hives swarm: April to June (extension)."""
    strong_share: float = 1.25
    """A hive that gains this much of the yard's typical gain is strong. Our rule."""
    strong_kg_per_day: float = 0.5
    """A hive alone is strong from this gain on. Our rule."""
    gaining_days: int = 4
    """Hive days in the flow before a hive is called strong. Our rule."""
    rest_days: float = 9.0
    """After an inspection the nest is left alone this long: a queen cell is capped on day 8-9 (Winston, memory)."""
    once_days: float = 21.0
    """After three inspections of this age the beekeeper keeps an eye on the nest without being told. Our rule."""
    empty_frames: int = 2
    """Two to three empty frames in a nest of two boxes keep swarms back (common practice)."""


class MiteLimits(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """Counting varroa mites. Sources disagree on when to treat; see `advice/mites.py`."""

    threshold_percent: float = 2.0
    """Mites per 100 bees that call for treatment in season: 2-3 (coalition guide, from memory; Delaware, Aug-Oct)."""
    early_threshold_percent: float = 1.0
    """The same before the season and for the first months (Mississippi State: 1 per 100, no research-based value)."""
    early_until_month: int = 4
    """Last month of the early season in the north. Our rule."""
    high_percent: float = 5.0
    """No source thinks less of this: the oldest threshold named (Penn State, older page)."""
    sample_bees: int = 300
    """Bees in half a US cup where the note does not say: 300 (Penn State); Mississippi State says 400."""
    every_days: float = 30.0
    """Count once a month in season (Penn State; common practice)."""
    first_month: int = 4
    last_month: int = 10
    """Months in which brood is reared and counting is asked for (north). Our rule."""
    least_celsius: float = 12.0
    """No frame is lifted out for a count on colder days. Our rule: bees fly from 12 °C (Burrill & Dietz 1981)."""
    recheck_first: int = 10
    recheck_last: int = 14
    """Days after a treatment's end at which to count again (coalition guide, from memory)."""
    told_days: float = 21.0
    """A count is acted on, or no news, after this. Our rule."""


class StrengthLimits(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """Strong and weak hives, compared within a yard."""

    days: int = 14
    """Hive days compared. Our rule."""
    least_days: int = 7
    """Fewer days than this and a hive is not ranked. Our rule."""
    weak_score: float = -0.9
    """Standard deviations of hives below the yard's median at which a hive is called weak. Our rule."""
    sure: float = 0.8
    """Share of the doubt on one side before it is said. Our rule."""
    gain_sd: float = 0.15
    swing_sd: float = 0.5
    dip_sd: float = 0.12
    """What sets hives of one yard apart: kg a day, °C, kg of bees out. Our rule."""
    midsummer_week: int = 26
    until_week: int = 38
    """Weeks (north) in which to unite, requeen or strengthen: July (common practice) to mid-September."""
    plan_week: int = 30
    """Week in which the number of colonies for winter is reckoned. Our rule: splits still grow up until then."""


class WinterLimits(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """Stores for winter, and how many colonies to bring into it."""

    target_kg: float | None = None
    """Stores before winter, kg; None: by climate, see `advice/climate.py`, where the sources that disagree stand."""
    ready_week: int = 32
    """Week from which stores are held against the target (north). Our rule: after the last harvest."""
    margin_kg: float = 2.0
    """A shortfall smaller than this is not worth a feed. Our rule: the doubt of a weighed tare."""
    spring_colonies: int | None = None
    """Colonies wanted next spring; None: as many as there are hives now."""
    expected_loss: float = 0.3
    """Share lost in winter: 25 % is a good result (common practice), 37.4 % in the US in 2022-23 (Steinhauer 2023)."""
    wanted_chance: float = 0.8
    """Chance of getting through with the colonies wanted that is thought enough. Our rule."""
    heft_days: float = 45.0
    """Look ahead in winter: food that ends sooner, and before spring, is told. Our rule."""
    late_winter_times: float | None = None
    """Use in late winter against that of early winter; None: by climate, see `advice/climate.py`."""
    least_weeks: int = 2
    """Weeks of winter use to judge by. Our rule."""


class Limits(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """All thresholds of advice, by question."""

    supers: SuperLimits = SuperLimits()
    swarm: SwarmLimits = SwarmLimits()
    food: FoodLimits = FoodLimits()
    heat: HeatLimits = HeatLimits()
    brood: BroodLimits = BroodLimits()
    sensors: SensorLimits = SensorLimits()
    nest: NestLimits = NestLimits()
    mites: MiteLimits = MiteLimits()
    strength: StrengthLimits = StrengthLimits()
    winter: WinterLimits = WinterLimits()
