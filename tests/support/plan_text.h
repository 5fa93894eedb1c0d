/* Pieces of plans for tests that write one of their own. */
#ifndef SUPPORT_PLAN_TEXT_H
#define SUPPORT_PLAN_TEXT_H

/* The kitchen, its people and two buses, then "probes:". */
#define PLAN_HEAD                                                                              \
    "site: {name: Harbour Lane Kitchen, time_zone: UTC}\n"                                     \
    "people:\n"                                                                                \
    "  - {initials: AB, name: Ana Brandt, role: cook}\n"                                       \
    "  - {initials: SB, name: Sara Berg, role: supervisor}\n"                                  \
    "  - {initials: VK, name: Vera Kinn, role: verifier}\n"                                    \
    "buses:\n"                                                                                 \
    "  - {id: rack, driver: modbus-tcp, host: 127.0.0.1, port: 1502}\n"                        \
    "  - {id: wing, driver: modbus-tcp, host: 127.0.0.1, port: 1503}\n"                        \
    "probes:\n"
/* A probe; each of one bus has its own register. */
#define PLAN_PROBE(id, kind, bus, register, every)                                             \
    "  - {id: " id ", name: " id ", kind: " kind ", bus: " bus ", unit: 1, function: 4, "      \
    "register: " register ", type: int16, scale: 0.1 °C, plausible: [-40 °C, 300 °C], "     \
                          "every: " every "}\n"

#endif
