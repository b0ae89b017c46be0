"""From the world to readings: MQTT, SenML, device maps, files, the embedded broker."""
