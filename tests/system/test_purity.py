"""The rooms that judge, forecast and convert can do neither input nor output, ask no clock and keep no state of their own.

Looks at what their compiled objects call, not at what their sources promise; and at who includes whose headers.
"""
import pathlib
import platform
import re
import subprocess
import unittest

import rig

BUILD = pathlib.Path(rig.TRIVETD).resolve().parent

# Of the C library, what computes on the memory it is handed and nothing else.
MEMORY = {"memcpy", "memmove", "memset", "memcmp", "strlen", "strnlen", "strcmp", "strncmp", "strcpy", "strncpy", "strchr"}
TEXT = {"snprintf", "vsnprintf"}
NUMBERS = {"cbrt", "cos", "sin", "erfc", "erf", "exp", "expm1", "log", "log1p", "pow", "sqrt", "fmax", "fmin", "floor", "ceil",
           "fabs", "lround", "llround"}
COMPILER = {"__assert_fail", "_GLOBAL_OFFSET_TABLE_", "__stack_chk_fail"}
# Of our own: pure look-ups, comparison, and a decision's canonical text.
OURS = re.compile(r"plan_(person|product|handheld|reference|step_index|place_index|switch_index|probe_index|probe_by_number|oven_limit)|temp_compare|temp_text|"
                  r"out_(start|object|object_end|array|array_end|int|bool|null|text|raw|done)|limit_\w+|reading_\w+|correction_\w+|calendar_\w+|entry_clear")
ALLOCATES = {"malloc", "calloc", "free"}  # engine_new and engine_free only
ARITHMETIC_ON_FLOATS = re.compile(r"\t(v?(add|sub|mul|div|sqrt|max|min|ucomi|comi|cvt\w+2)s[sd]|cvt\w*2s[sd]\w?|f(add|sub|mul|div)p?)\b")


def objects(room, house="daemon"):
    found = sorted((BUILD / house / room).glob("*.o"))
    sources = sorted(path.stem for path in (rig.ROOT / house / room).glob("*.c"))
    built = [path for path in found if path.stem in sources]
    if [path.stem for path in built] != sources:
        raise AssertionError(f"{BUILD} has not every object of {house}/{room}")
    return built


def tool(*words):
    return subprocess.run(words, stdout=subprocess.PIPE, text=True, check=True, cwd=rig.ROOT).stdout


def symbols(option, path):
    return {line.split()[-1] for line in tool("nm", option, str(path)).splitlines() if line.strip()}


class Purity(unittest.TestCase):
    def check_calls(self, room, allowed, by_object=None, house="daemon"):
        own = set().union(*(symbols("--defined-only", path) for path in objects(room, house)))
        for path in objects(room, house):
            wanted = symbols("--undefined-only", path) - own - allowed - COMPILER - (by_object or {}).get(path.stem, set())
            self.assertEqual({name for name in wanted if not OURS.fullmatch(name)}, set(), f"{path.name} calls")

    def test_engine_calls_nothing_that_could_ask_or_tell(self):
        self.check_calls("engine", MEMORY | TEXT, {"engine": ALLOCATES})

    def test_thermal_calls_nothing_that_could_ask_or_tell(self):
        self.check_calls("thermal", MEMORY | TEXT | NUMBERS)

    def test_conversions_call_nothing_but_mathematics(self):
        self.check_calls("convert", NUMBERS, house="drivers")

    def test_none_keeps_state_of_its_own(self):
        for room, house in (("engine", "daemon"), ("thermal", "daemon"), ("convert", "drivers")):
            for path in objects(room, house):
                sizes = dict(re.findall(r"^(\.data|\.bss|\.tbss|\.tdata)\s+(\d+)", tool("size", "-A", str(path)), re.M))
                self.assertEqual({section: size for section, size in sizes.items() if size != "0"}, {}, path.name)

    def test_engine_computes_with_whole_numbers_only(self):
        if platform.machine() != "x86_64":
            self.skipTest("knows the instructions of x86-64 only")
        for path in objects("engine"):
            self.assertIsNone(ARITHMETIC_ON_FLOATS.search(tool("objdump", "-d", "--no-show-raw-insn", str(path))), path.name)
        # The search finds them where they are.
        self.assertTrue(any(ARITHMETIC_ON_FLOATS.search(tool("objdump", "-d", "--no-show-raw-insn", str(path)))
                            for path in objects("thermal")))

    def test_rooms_include_contracts_and_themselves_only(self):
        roots = ("daemon", "drivers", "web")
        for path in sorted(file for root in roots for file in (rig.ROOT / root).rglob("*.[ch]")):
            room = path.parent.relative_to(rig.ROOT)
            for name in re.findall(r'^\s*#\s*include\s+"([^"]+)"', path.read_text(encoding="utf-8"), re.M):
                with self.subTest(file=str(path.relative_to(rig.ROOT)), includes=name):
                    if name.startswith("trivet/") or (path.parent / name).is_file() or name == "engine_id.h":
                        continue
                    self.assertEqual(pathlib.Path(name).parent, room, "another room's header")


if __name__ == "__main__":
    unittest.main(verbosity=1)
