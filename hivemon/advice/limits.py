"""Every threshold of advice, once: its unit, its source, its default.

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
    fresh_days: float = 1.0
    """Days of income that take the room of fresh nectar. Our rule: it is halfway ripe after a day or two."""
    share_low: float = 0.7
    """Least share of the gain that goes into the supers, the rest into the brood boxes. Our rule."""
    spare_low_kg: float = 4.0
    """Least honey a brood nest in good order takes without being crowded. Our rule: 1.5 deep frames of 2.7 kg."""
    spare_high_kg: float = 8.0
    """Most it takes: three empty deep frames of 2.7 kg in two boxes (common practice for swarm prevention)."""
    least_gain: float = 0.15
    """A hive that gains less than this, kg a day, fills no super. Our rule: half of what makes a flow."""
    ask_days: float = 7.0
    """Ask when the earliest date of need is nearer than this: most people visit once a week. Our rule."""
    let_go_days: float = 10.0
    """Once asked, take it back only when the need is farther off than this. Our rule, against flapping."""
    today_days: float = 1.0
    """Nearer than this and it is for today. Our rule."""
    first_days: float = 2.0
    """A first super is asked for at least this far ahead: the brood boxes give way a little. Our rule."""
    weak_share: float = 0.4
    """A hive that gains less than this share of the yard's typical hive fills no super. Our rule."""
    rate_days: int = 5
    """Hive days from which a hive's own rate is taken. Our rule."""
    look_after_days: int = 10
    """Days after a flow's end when capping is worth a look. Our rule."""
    flow_over_days: int = 21
    """Days after which a flow's end is no news. Our rule."""


class SwarmLimits(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """What is due on which day after a prime swarm; days counted from its departure."""

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
    """Bees, brood and pollen in season: 2-5 kg bees, 0.5-2 kg brood, 0.5-1.5 kg pollen. Our rule."""
    summer_colony_sd_kg: float = 1.4
    winter_colony_kg: float = 4.0
    """Bees and pollen without brood: a strong one has 3.6-4.5 kg bees (Farrar 1944), most have less. Our rule."""
    winter_colony_sd_kg: float = 1.0
    use_kg_per_day: float = 0.22
    """Summer use without income: 0.15-0.3 kg a day (derived from Seeley's yearly budget)."""
    use_sd_kg_per_day: float = 0.06
    least_use_kg_per_day: float = 0.04
    """Winter use, 0.039 kg a day measured in a mild winter (Norrström et al. 2021)."""
    most_use_kg_per_day: float = 0.5
    """More is no eating: ripening nectar, robbing or a leak. Our rule."""
    use_days: int = 7
    """Hive days from which use is taken. Our rule."""
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


class Limits(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """All thresholds of advice, by question."""

    supers: SuperLimits = SuperLimits()
    swarm: SwarmLimits = SwarmLimits()
    food: FoodLimits = FoodLimits()
    heat: HeatLimits = HeatLimits()
    brood: BroodLimits = BroodLimits()
    sensors: SensorLimits = SensorLimits()
