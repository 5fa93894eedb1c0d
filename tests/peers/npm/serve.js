// A Modbus device of the npm package modbus-serial, over TCP and on a serial line, for tests/peers/test_npm_server.py.
//
//   node serve.js PORT DEVICE
//
// Input register r of unit u holds 1000 u + r. Prints "ready" once it listens.
'use strict';
const { ServerTCP, ServerSerial } = require('modbus-serial');

const [port, device] = process.argv.slice(2);
const registers = { getInputRegister: (register, unit) => 1000 * unit + register };
let waiting = 2;
const ready = () => { if (--waiting === 0) console.log('ready'); };

const tcp = new ServerTCP(registers, { host: '127.0.0.1', port: Number(port), unitID: 255 });
tcp.on('initialized', ready);
const serial = new ServerSerial(registers, { port: device, baudRate: 19200, unitID: 255, interval: 2 });
serial.on('initialized', ready);
for (const server of [tcp, serial]) server.on('error', (error) => console.error(String(error)));
process.stdin.resume().on('end', () => process.exit(0));
