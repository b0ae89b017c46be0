"""A device that floods: the hives beside it are served, and memory is bounded. bench_flood.py does it for longer."""

import pytest
from brokers import free_port
from flooding import Flooded


@pytest.mark.parametrize(("kind", "room"), [("rubbish", None), ("readings", 64)])
def test_a_device_flooding_a_thousand_messages_a_second_is_outlived(tmp_path, kind, room):
    """`room`: MB of memory that the daemon may take beyond what it has at the start."""
    found = Flooded(tmp_path, free_port(), inside=True).run(kind, 3.0, room)
    assert found.lost == 0, found
    assert found.worst < 15, found
    assert found.memory_after - found.memory_before < 40, found
