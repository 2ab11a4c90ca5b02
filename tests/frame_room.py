"""Tests get room for their frames, as pages do: that is an eighth of their time."""

from _pytest.runner import runtestprotocol

from apps.common.serving.frame_room import with_frame_room

run_with_room = with_frame_room(runtestprotocol)


class FrameRoom:
    """A plugin of pytest that runs each test as pytest itself does, from a frame with room."""

    def pytest_runtest_protocol(self, item, nextitem):
        item.ihook.pytest_runtest_logstart(nodeid=item.nodeid, location=item.location)
        run_with_room(item, nextitem=nextitem)
        item.ihook.pytest_runtest_logfinish(nodeid=item.nodeid, location=item.location)
        return True
