"""A Modbus device that nobody here wrote: pymodbus serves, this file only scripts its registers and keeps a log.

Runs as a child process of the tests. Commands come as JSON lines on stdin and are answered one by one on stdout:
    {"do": "set", "unit": 1, "table": "ir", "register": 0, "values": [215]}
    {"do": "ramp", "unit": 1, "table": "ir", "register": 0, "to": 215, "over_s": 4.0}
    {"do": "stick", "unit": 1, "register": 0}       a coil that says yes when it is set, and stays as it is, until it is "set" by us
    {"do": "die", "unit": 1}        silent until {"do": "live", "unit": 1}
Every answer to a read is logged before it goes out, exactly as served, one JSON line; a coil that is set likewise, as function 5:
    [wall_ms, unit, function, address, [values]]
"""
import argparse
import json
import logging
import sys
import threading
import time

from pymodbus.datastore import ModbusSequentialDataBlock, ModbusServerContext, ModbusSlaveContext
from pymodbus.server import StartSerialServer, StartTcpServer
from pymodbus.transaction import ModbusRtuFramer

REGISTERS = 200


class Block(ModbusSequentialDataBlock):
    """Registers of one table of one unit; some move along a ramp."""

    def __init__(self, unit, function, log, lock):
        super().__init__(0, [0] * REGISTERS)
        self.unit, self.function, self.log, self.lock = unit, function, log, lock
        self.ramps = {}
        self.stuck, self.echoes = set(), {}

    def now(self, register, at_s):
        if register in self.ramps:
            begun_s, over_s, first, last = self.ramps[register]
            part = min(1.0, (at_s - begun_s) / over_s)
            self.values[register] = round(first + (last - first) * part) & 0xFFFF
            if part >= 1.0:
                del self.ramps[register]
        return self.values[register]

    def set(self, register, values):
        for i, value in enumerate(values):
            self.ramps.pop(register + i, None)
            self.stuck.discard(register + i)
            self.values[register + i] = value & 0xFFFF

    def ramp(self, register, last, over_s):
        at_s = time.monotonic()
        first = self.now(register, at_s)
        first = first - 0x10000 if first >= 0x8000 else first
        self.ramps[register] = (at_s, over_s, first, last)

    def setValues(self, address, values):
        with self.lock:
            self.log.write(json.dumps([round(time.time() * 1000), self.unit, 5, address, [int(value) for value in values]]) + "\n")
            self.log.flush()
            if address in self.stuck:
                self.echoes[address] = values  # what the server reads right after it has written is its answer
            else:
                super().setValues(address, values)

    def getValues(self, address, count=1):
        at_s = time.monotonic()
        with self.lock:
            if address in self.echoes:
                return self.echoes.pop(address)
            values = [self.now(address + i, at_s) for i in range(count)]
            self.log.write(json.dumps([round(time.time() * 1000), self.unit, self.function, address, values]) + "\n")
            self.log.flush()
        return values


def obey(context, units, lock):
    """The commands' thread. Ends the process when the test's end of the pipe is closed."""
    for line in sys.stdin:
        command = json.loads(line)
        with lock:
            if command["do"] == "die":
                del context[command["unit"]]
            elif command["do"] == "stick":
                units[command["unit"]][1]["co"].stuck.add(command["register"])
            elif command["do"] == "live":
                context[command["unit"]] = units[command["unit"]][0]
            else:
                block = units[command["unit"]][1][command["table"]]
                if command["do"] == "set":
                    block.set(command["register"], command["values"])
                else:
                    block.ramp(command["register"], command["to"], command["over_s"])
            print(json.dumps({"at_ms": round(time.time() * 1000)}), flush=True)
    # The server's loop has no door for this thread; the log is flushed line by line, so nothing is lost.
    import os
    os._exit(0)


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument("--device")
    parser.add_argument("--port", type=int)
    parser.add_argument("--units", required=True)
    parser.add_argument("--log", required=True)
    options = parser.parse_args()
    logging.getLogger("pymodbus").setLevel(logging.CRITICAL)

    lock = threading.RLock()
    units = {}
    with open(options.log, "a", encoding="ascii") as log:
        for unit in (int(text) for text in options.units.split(",")):
            blocks = {"co": Block(unit, 1, log, lock), "di": Block(unit, 2, log, lock), "hr": Block(unit, 3, log, lock),
                      "ir": Block(unit, 4, log, lock)}
            units[unit] = (ModbusSlaveContext(zero_mode=True, **blocks), blocks)
        context = ModbusServerContext(slaves={unit: slave for unit, (slave, _) in units.items()}, single=False)
        threading.Thread(target=obey, args=(context, units, lock), daemon=True).start()
        if options.device:
            StartSerialServer(context=context, framer=ModbusRtuFramer, port=options.device, baudrate=19200,
                              timeout=0.005, ignore_missing_slaves=True)
        else:
            StartTcpServer(context=context, address=("127.0.0.1", options.port), ignore_missing_slaves=True,
                           allow_reuse_address=True)


if __name__ == "__main__":
    main()
