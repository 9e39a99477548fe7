"""A mail server of the test's own (RFC 5321): it can refuse, and it can stand still at a stage."""

from __future__ import annotations

import socketserver
import threading
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from email import message_from_bytes, policy
from email.message import EmailMessage


@dataclass
class Mail:
    """What the server was told to do, and what it took. ``hold`` is a stage to stand still at."""

    hold: str = ""
    refuse: dict[str, str] = field(default_factory=dict)
    taken: list[bytes] = field(default_factory=list)
    reached: threading.Event = field(default_factory=threading.Event)
    go: threading.Event = field(default_factory=threading.Event)
    port: int = 0

    @property
    def url(self) -> str:
        """For PLATEN_EMAIL_URL."""
        return f"smtp://:@127.0.0.1:{self.port}"

    def messages(self) -> list[EmailMessage]:
        """What was taken, parsed."""
        return [message_from_bytes(each, policy=policy.default) for each in self.taken]

    def stand(self, stage: str) -> None:
        """Stand still where asked to."""
        if self.hold == stage:
            self.reached.set()
            self.go.wait(timeout=600)


class Handler(socketserver.StreamRequestHandler):
    """One connection."""

    mail: Mail

    def handle(self) -> None:
        """Greet, then answer line by line."""
        with suppress(OSError):
            self.mail.stand("greeting")
            self.say("220 test")
            while line := self.rfile.readline():
                word = line[:4].decode().strip().upper()
                if word == "DATA":
                    self.data()
                elif word == "QUIT":
                    self.say("221 bye")
                    return
                else:
                    self.mail.stand(word)
                    self.say(self.mail.refuse.get(word, "250 ok"))

    def data(self) -> None:
        """Take a message; it counts as taken from the moment its last dot was read."""
        self.say("354 go")
        lines = []
        while (line := self.rfile.readline()) not in (b".\r\n", b""):
            lines.append(line.removeprefix(b".") if line.startswith(b"..") else line)
        if "DATA" not in self.mail.refuse:
            self.mail.taken.append(b"".join(lines))
        self.mail.stand("taken")
        self.say(self.mail.refuse.get("DATA", "250 taken"))

    def say(self, line: str) -> None:
        """One line."""
        self.wfile.write(f"{line}\r\n".encode())


@contextmanager
def mail_server() -> Iterator[Mail]:
    """A server on a free port of this machine."""
    mail = Mail()
    handler = type("Here", (Handler,), {"mail": mail})
    with socketserver.ThreadingTCPServer(("127.0.0.1", 0), handler) as server:
        server.daemon_threads = True
        mail.port = server.server_address[1]
        thread = threading.Thread(target=server.serve_forever, daemon=True)
        thread.start()
        try:
            yield mail
        finally:
            mail.go.set()
            server.shutdown()
            thread.join(timeout=10)
