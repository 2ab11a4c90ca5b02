"""A line between the browser and the server that a test can cut, or make lose its replies.

Unlike a browser's own offline switch it also cuts off what a service worker asks for.
"""

import contextlib
import socket
import threading


class Wire:
    """Forwards one local port to the server's. `cut` ends all that runs and lets nothing through;
    `lose_replies` counts down the posts whose answers vanish after the server has written."""

    def __init__(self, host, port):
        self.server = (host, port)
        self.is_cut = False
        self.lose_replies = 0
        self.lost = 0
        self.open = set()
        self.listener = socket.create_server(("127.0.0.1", 0))
        self.url = f"http://localhost:{self.listener.getsockname()[1]}"
        threading.Thread(target=self.accept, daemon=True).start()

    def accept(self):
        while True:
            try:
                client, _ = self.listener.accept()
            except OSError:
                return
            if self.is_cut:
                client.close()
                continue
            server = socket.create_connection(self.server)
            self.open |= {client, server}
            line = {"posting": False}
            for start, end, is_request in ((client, server, True), (server, client, False)):
                threading.Thread(
                    target=self.pump, args=(start, end, line, is_request), daemon=True
                ).start()

    def pump(self, start, end, line, is_request):
        with contextlib.suppress(OSError):
            while data := start.recv(65536):
                if is_request and data.startswith((b"GET ", b"POST ")):
                    line["posting"] = data.startswith(b"POST ") and b"/sync/" in data[:200]
                if not is_request and line["posting"] and self.lose_replies > 0:
                    self.lose_replies -= 1
                    self.lost += 1
                    break
                end.sendall(data)
        hang_up(start)
        hang_up(end)

    def cut(self):
        self.is_cut = True
        for end in list(self.open):
            hang_up(end)
        self.open.clear()

    def mend(self):
        self.is_cut = False

    def close(self):
        self.cut()
        self.listener.close()


def hang_up(end):
    # close() alone leaves a thread that waits in recv() waiting.
    with contextlib.suppress(OSError):
        end.shutdown(socket.SHUT_RDWR)
    end.close()
