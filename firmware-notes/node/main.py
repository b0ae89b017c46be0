"""One wake of the reference node on an ESP32: measure, now and then hand over, sleep. Starts at every wake.

`settings.json` beside it holds what differs between nodes; `settings-example.json` shows it. The certificate of the
broker's authority stands in `ca.der`.
"""

import json
import time

import calibration
import hardware
import machine
import network
import ntptime
import sampling
from clock import Clock
from node import Node
from ring import Ring
from umqtt.simple import MQTTClient, MQTTException


def attempt(read):
    """Return what a sensor says, or None with a line on the console where it does not answer: the others count."""
    try:
        return read()
    except OSError as error:
        print("no value:", error)
        return None


def sensors(settings):
    """Return the function that reads all four values: kg, °C, %RH, V."""
    pins = settings["pins"]
    bridge = hardware.Bridge(machine.Pin(pins["clock"], machine.Pin.OUT), machine.Pin(pins["data"], machine.Pin.IN))
    i2c = machine.I2C(0, scl=machine.Pin(pins["scl"]), sda=machine.Pin(pins["sda"]))
    adc = machine.ADC(machine.Pin(pins["battery"]), atten=machine.ADC.ATTN_11DB)

    def weigh():
        bridge.wake()
        found = sampling.burst(bridge.read, settings["burst"])
        bridge.sleep()
        if found is None:
            raise OSError("most readings of the burst failed")
        scale = settings["scale"]
        return calibration.kilograms(found[0], scale["scale"], scale["offset"])

    def read():
        nest = attempt(lambda: hardware.thermometer(machine.Pin(pins["one_wire"])))
        air = attempt(lambda: hardware.humidity(i2c))
        volts = attempt(lambda: hardware.battery(adc, settings["battery_divider"]))
        return [attempt(weigh), nest, None if air is None else air[1], volts]

    return read


def radio_on(settings):
    """Join the wireless network. OSError: not within 15 seconds."""
    radio = network.WLAN(network.STA_IF)
    radio.active(True)
    radio.connect(settings["wifi"]["name"], settings["wifi"]["password"])
    for _ in range(150):
        if radio.isconnected():
            return
        time.sleep_ms(100)
    raise OSError("no wireless network within 15 seconds")


def connect(settings):
    """Return a client linked over TLS that has checked the broker's certificate. OSError: not to be had."""
    import ssl  # noqa: PLC0415 - its memory only where it is needed

    broker = settings["broker"]
    secure = ssl.SSLContext(ssl.PROTOCOL_TLS_CLIENT)
    secure.verify_mode = ssl.CERT_REQUIRED
    with open("ca.der", "rb") as file:
        secure.load_verify_locations(cadata=file.read())
    client = MQTTClient(
        settings["hive"],
        broker["host"],
        port=broker["port"],
        user=settings["hive"],
        password=broker["password"],
        ssl=secure,  # a context also checks that the certificate is the host's: umqtt.simple gives it the name
    )
    try:
        client.connect()
    except MQTTException as error:
        raise OSError("the broker refuses this node, code {}: check name and password".format(error)) from None
    except ValueError as error:  # so MicroPython's TLS says that a certificate is wrong
        raise OSError("the broker's certificate is not to be trusted: {}".format(error)) from None
    client.sock.settimeout(20)
    return client


def session(ring, rtc):
    """Return the number of this stretch of power: kept by the clock chip through sleep, lost with the power."""
    kept = rtc.memory()
    if not kept:
        kept = str(ring.newest_session() + 1).encode()
        rtc.memory(kept)
    return int(kept)


def wake(alive):
    """Do the work of one wake and return the seconds to sleep; `alive` is called whenever it got on."""
    with open("settings.json") as file:
        settings = json.load(file)
    ring = Ring("readings.ring", settings["kept_readings"])
    clock = Clock(fetch=ntptime.settime)
    topic = "hives/{}/{}".format(settings["yard"], settings["hive"])
    power = session(ring, machine.RTC())
    node = Node(topic, sensors(settings), ring, clock, lambda: connect(settings), power, alive)
    node.measure()
    alive()
    if len(ring) >= settings["send_every"] or not clock.known():
        try:
            radio_on(settings)
        except OSError as error:
            print("kept for later:", error)
        else:
            node.set_clock()
            node.send()
    return settings["seconds_between_readings"]


def forever():
    """Measure, then sleep; whatever goes wrong is shown, and the node tries again at its next wake.

    The watchdog is for what hangs: umqtt.simple waits for an acknowledgement for ever once the link has gone silent.
    """
    seconds = 300
    watchdog = machine.WDT(timeout=120_000)
    try:
        seconds = wake(watchdog.feed)
    except Exception as error:  # noqa: BLE001 - a node nobody can reach must not stay stopped
        print("this wake failed:", error)
    machine.deepsleep(seconds * 1000)


if __name__ == "__main__":
    forever()
