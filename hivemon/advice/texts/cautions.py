"""What can hurt someone, each in a sentence or two. Used only where the act asked for carries the danger."""

from __future__ import annotations

from hivemon.advice.words import say


def lifting() -> str:
    """Heavy boxes. NIOSH Pub. 94-110: 23 kg is the limit of an ideal lift, far less away from the body."""
    return say("A full super is too heavy to lift safely alone. Lift with a second person, or move frames singly.")


def lifting_hive() -> str:
    """Hefting: NIOSH Pub. 94-110; a full box is three to five times what one lift allows."""
    return say("Only tilt it, with a straight back. A full hive is several times what one person can safely lift.")


def stings() -> str:
    """Allergy (CDC/NIOSH pages on stinging insects, from memory)."""
    return say(
        "Wear a veil. Trouble breathing, a swollen throat or faintness after a sting: adrenaline if you have it, "
        "and the emergency number at once.",
    )


def climbing() -> str:
    """Swarms out of reach (extension, from memory)."""
    return say("Do not climb for a swarm, and keep away from ladders, roofs and power lines. Keep onlookers back.")


def permission() -> str:
    """Swarms on other people's ground: law differs."""
    return say("Ask before you enter someone's ground. Local rules say who may take a swarm.")


def heat_illness() -> str:
    """The beekeeper's own heat illness (OSHA heat guidance: a glass of water every 20 minutes)."""
    return say(
        "Mind yourself in the heat: go in the cool of the day, drink a glass of water every 20 minutes, "
        "and stop if you feel dizzy or sick.",
    )


def disease() -> str:
    """Moving comb moves disease; foulbrood is reportable in most places."""
    return say(
        "Move no comb between hives before you have checked the brood for disease. "
        "Foulbrood must be reported in most places.",
    )


def infants() -> str:
    """Honey and infants (UF/IFAS EDIS AA142, citing CDC and AAP)."""
    return say("Honey is not for children under 12 months.")


def smoker() -> str:
    """Fire in dry weather."""
    return say("Light no smoker on dry grass or during a fire ban.")
