"""Run by MicroPython itself: folder of the node and a place for a ring as arguments. Ends with "all is well"."""

import sys

sys.path.append(sys.argv[1])

import calibration
import power
import sampling
from clock import Clock
from node import Node
from ring import Ring

NOW = 1_781_265_600
sent = []


class Client:
    """Takes what is published."""

    def publish(self, topic, message, retain, qos):
        sent.append((topic, message, retain, qos))

    def disconnect(self):
        sent.append("gone")


scale, offset = calibration.two_point(84_000, 516_000, 20.0)
assert abs(calibration.kilograms(300_000, scale, offset) - 10) < 0.001
assert sampling.median([3, 1, 2]) == 2
assert abs(power.average_ma(0.0, [(36.0, 1, 100)]) - 1) < 0.001

local = [100]


def fetch():
    """Set the clock, as a time server would."""
    local[0] = NOW


clock = Clock(local=lambda: local[0], fetch=fetch, epoch=0)
ring = Ring(sys.argv[2], 50)
node = Node("hives/orchard/o1", lambda: [48.21, 34.9, None, 3.92], ring, clock, Client, 1)
node.measure()
local[0] += 300
node.measure()
node.set_clock()
assert node.send() == 2
assert sent[1] == "gone"
topic, message, retain, qos = sent[0]
assert (topic, retain, qos) == ("hives/orchard/o1", False, 1)
first = b'{"bt":%d,"n":"weight","u":"kg","v":48.210}' % (NOW - 300)
assert message.startswith(b"[" + first), message
assert b'"u":"Cel","v":34.90,"t":300}' in message, message
assert len(Ring(sys.argv[2])) == 0
print("all is well")
