"""Asks the kitchen's devices by the clock, as the daemon does, and tells how late it got its answers.

What it suffers is the machine's doing, or the device's, and no daemon's: a test that measures how late readings are
allows them that and nothing else. Runs as a process of its own until its stdin is closed; then one JSON line:
    [[due_ms, late_ms], ...]       by the wall clock, those that were later than a few milliseconds
"""
import json
import select
import socket
import struct
import sys
import time

EVERY_S = 0.02
WORTH_TELLING_MS = 5


def ask(line, number):
    """Input register 0 of unit 1 (MODBUS Messaging on TCP/IP V1.0b, 4.1; Application Protocol V1.1b3, 6.4)."""
    line.sendall(struct.pack(">HHHBBHH", number & 0xFFFF, 0, 6, 1, 4, 0, 1))
    left = 11
    while left > 0:
        got = line.recv(left)
        if not got:
            raise SystemExit("the device hung up")
        left -= len(got)


def main(port):
    late = []
    with socket.create_connection(("127.0.0.1", port)) as line:
        line.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
        began_s, wall_s = time.monotonic(), time.time()
        number = 0
        ask(line, number)
        print("ready", flush=True)
        while True:
            number = max(number, int((time.monotonic() - began_s) / EVERY_S)) + 1
            due_s = number * EVERY_S
            if select.select([sys.stdin], [], [], max(0.0, began_s + due_s - time.monotonic()))[0]:
                break
            ask(line, number)
            late_ms = (time.monotonic() - began_s - due_s) * 1000
            if late_ms > WORTH_TELLING_MS:
                late.append([round((wall_s + due_s) * 1000), round(late_ms)])
    print(json.dumps(late), flush=True)


if __name__ == "__main__":
    main(int(sys.argv[1]))
