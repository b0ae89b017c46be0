"""To people: what goes out when, the morning note, the channels. `Notifier` decides and queues, `Delivery` sends."""
