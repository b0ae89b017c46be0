"""A wireless network that is there, or not."""

STA_IF = 0
there = {"apiary": True}


class WLAN:
    """Joins at once where the network is there."""

    def __init__(self, interface):
        assert interface == STA_IF
        self._name = ""

    def active(self, on):
        assert on

    def connect(self, name, _password):
        self._name = name

    def isconnected(self):
        return there.get(self._name, False)
