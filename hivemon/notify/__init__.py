"""To people: which advisories go out when, the morning note, and the channels. `Notifier` is one turn of it all."""
