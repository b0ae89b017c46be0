"""The part of umqtt.simple that the reference node uses, over paho: a QoS 1 publish returns when acknowledged."""

import threading

import paho.mqtt.client as paho
from paho.mqtt.enums import CallbackAPIVersion


class MQTTException(Exception):  # noqa: N818 - MicroPython's name
    """The broker refused."""


class _Socket:
    def __init__(self, client):
        self._client = client

    def settimeout(self, seconds):
        self._client.patience = seconds


class MQTTClient:
    """MQTT 3.1.1, one message at a time."""

    def __init__(self, client_id, server, port=0, user=None, password=None, keepalive=0, ssl=None):
        self.patience = 10.0
        self.sock = _Socket(self)
        self._address = server, port or (8883 if ssl else 1883), keepalive or 60
        self._client = paho.Client(CallbackAPIVersion.VERSION2, client_id, protocol=paho.MQTTv311)
        self._answered = threading.Event()
        self._code = None
        self._client.on_connect = self._on_connect
        if user:
            self._client.username_pw_set(user, password)
        if ssl:
            self._client.tls_set_context(ssl)

    def _on_connect(self, _client, _data, _flags, reason, _properties):
        self._code = reason
        self._answered.set()

    def connect(self):
        self._client.connect(*self._address)
        self._client.loop_start()
        if not self._answered.wait(self.patience):
            self._client.loop_stop()
            raise OSError("the broker does not answer")
        if self._code.is_failure:
            self._client.loop_stop()
            raise MQTTException(self._code.value)
        return 0

    def publish(self, topic, msg, retain=False, qos=0):
        sent = self._client.publish(topic, msg, qos, retain)
        try:
            sent.wait_for_publish(self.patience)
        except (RuntimeError, ValueError) as error:
            raise OSError(f"not handed over: {error}") from error
        if not sent.is_published():
            raise OSError("not acknowledged in time")

    def disconnect(self):
        self._client.disconnect()
        self._client.loop_stop()
