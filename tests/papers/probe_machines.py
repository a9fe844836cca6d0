"""Machines for the probe to ask, run in a namespace. Not a test: ``python probe_machines.py WANTED``.

WANTED is JSON: ``tcp`` [[address, port] …] accept and close; ``time`` [[address, seconds ahead] …] answer for time;
``tls`` [[address, port, certificate file] …] answer for TLS. Says "ready" and stays until its input ends.
"""

from __future__ import annotations

import json
import socket
import ssl
import struct
import sys
import threading
import time

FROM_1900 = 2208988800


def stamp(seconds: float) -> bytes:
    whole = int(seconds)
    return struct.pack("!II", whole + FROM_1900, int((seconds - whole) * 2**32))


def keep(function, *values) -> None:
    threading.Thread(target=function, args=values, daemon=True).start()


def accept(line: socket.socket) -> None:
    while True:
        line.accept()[0].close()


def tell_time(line: socket.socket, ahead: float) -> None:
    """Answers as a server of stratum 2 (RFC 5905, figure 8)."""
    while True:
        message, asker = line.recvfrom(512)
        now = time.time() + ahead
        head = struct.pack("!BBbbII4s", 0x24, 2, 6, -20, 0, 0, bytes([127, 0, 0, 1]))
        line.sendto(head + stamp(now - 10) + message[40:48] + stamp(now) + stamp(now), asker)


def meet(line: socket.socket, certificate: str) -> None:
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    context.load_cert_chain(certificate)
    while True:
        plain = line.accept()[0]
        plain.settimeout(3)
        try:
            with context.wrap_socket(plain, server_side=True) as met:
                met.recv(1)
        except OSError:
            plain.close()


def main(wanted: dict) -> None:
    for address, port in wanted.get("tcp", ()):
        keep(accept, socket.create_server((address, port), backlog=64))
    for address, port, certificate in wanted.get("tls", ()):
        keep(meet, socket.create_server((address, port), backlog=64), certificate)
    for address, ahead in wanted.get("time", ()):
        line = socket.socket(socket.AF_INET, socket.SOCK_DGRAM)
        line.bind((address, 123))
        keep(tell_time, line, ahead)
    print("ready", flush=True)
    sys.stdin.read()


if __name__ == "__main__":
    main(json.loads(sys.argv[1]))
