"""The manual pages: well formed for mandoc, and nothing that the programs and docs/plan.md have is missing in them."""
import re
import subprocess
import unittest

import rig

PAGES = {name: rig.ROOT / "docs" / name for name in ("trivet.1", "trivetd.8", "trivet-plan.5")}


def output(*command):
    done = subprocess.run(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, timeout=30, check=True)
    return done.stdout


def source(name):
    return PAGES[name].read_text(encoding="utf-8")


def verbs():
    """The verbs that `trivet help` lists, with help itself."""
    found = re.findall(r"^  ([a-z][a-z-]*)  ", output(rig.TRIVET, "help"), re.M)
    if len(found) < 10:
        raise AssertionError(f"`trivet help` is not understood: {found}")
    return found + ["help"]


def items(text):
    """Heads of a page's list items."""
    return re.findall(r"^\.It (.*)$", text, re.M)


def sections_of_plan():
    """What docs/plan.md says: {"a bus": [[key, value, default, only with, meaning], ...]}."""
    text = (rig.ROOT / "docs/plan.md").read_text(encoding="utf-8")
    found = {}
    for what, table in re.findall(r"^### Keys of ([^\n]+)\n\n((?:\|[^\n]*\n)+)", text, re.M):
        found[what] = [[cell.strip() for cell in row[1:-1].split("|")] for row in table.splitlines()[2:]]
    if sum(map(len, found.values())) < 50:
        raise AssertionError("the tables of docs/plan.md are not understood")
    return found


def keys_of_page():
    """What trivet-plan(5) says: {"a bus": {key: text of its item}}."""
    found = {}
    for what, body in re.findall(r"^\.Ss Keys of ([^\n]+)\n(.*?)^\.El$", source("trivet-plan.5"), re.M | re.S):
        parts = re.split(r"^\.It Cm (.*)$", body, flags=re.M)[1:]
        found[what] = dict(zip(parts[::2], parts[1::2]))
    return found


class Lint(unittest.TestCase):
    def test_mandoc_warns_of_nothing(self):
        for name, path in PAGES.items():
            with self.subTest(page=name):
                done = subprocess.run(["mandoc", "-T", "lint", "-W", "warning", path], stdout=subprocess.PIPE,
                                      stderr=subprocess.STDOUT, text=True, timeout=30)
                self.assertEqual((done.returncode, done.stdout), (0, ""))

    def test_each_page_cautions(self):
        for name in PAGES:
            with self.subTest(page=name):
                self.assertRegex(" ".join(source(name).split()), r"Local food(-safety)? codes and [^.]* prevail")


class Command(unittest.TestCase):
    def test_every_verb_has_its_item_and_no_other(self):
        described = [head.split()[1] for head in items(source("trivet.1")) if head.startswith("Cm ")]
        self.assertEqual(sorted(described), sorted(verbs()))

    def test_every_option_of_every_verb_is_named(self):
        named = set(re.findall(r"\bFl Fl ([a-z-]+)", source("trivet.1")))
        for verb in verbs():
            if verb in ("help", "forecast"):  # the page sends to the options of a forecast
                continue
            for option in set(re.findall(r"--([a-z][a-z-]*)", output(rig.TRIVET, verb, "--help"))):
                with self.subTest(verb=verb, option=option):
                    self.assertIn(option, named)

    def test_every_help_fits_a_terminal_of_80_columns(self):
        for verb in verbs():
            for line in output(rig.TRIVET, verb, "--help").splitlines():
                with self.subTest(verb=verb):
                    self.assertLessEqual(len(line), 80, line)

    def test_verb_alone_without_a_daemon_says_how_it_is_used(self):
        nowhere = ["--socket", "/nonexistent/control"]
        for verb in ("act", "begin", "next", "end", "take", "note", "heard", "shelve", "verify"):
            with self.subTest(verb=verb):
                done = subprocess.run([rig.TRIVET, *nowhere, verb], stdin=subprocess.DEVNULL, capture_output=True, text=True, timeout=30)
                self.assertEqual((done.returncode, done.stdout), (rig.UNREACHABLE, ""))
                self.assertIn("nobody answers at /nonexistent/control", done.stderr)
                self.assertRegex(done.stderr, rf"It is used as: trivet {verb} .*(--who|-w) [A-Z]")
                more = subprocess.run([rig.TRIVET, *nowhere, verb, "1"], stdin=subprocess.DEVNULL, capture_output=True, text=True, timeout=30)
                self.assertNotIn("It is used as", more.stderr)

    def test_every_verb_that_takes_something_says_how_it_is_used_when_alone(self):
        """Without a daemon and a terminal, where nothing can be asked; once, and not when something was given."""
        told = set()
        for verb in verbs():
            done = subprocess.run([rig.TRIVET, "--socket", "/nonexistent/control", verb], stdin=subprocess.DEVNULL,
                                  capture_output=True, text=True, timeout=30)
            usage = output(rig.TRIVET, verb, "--help").splitlines()[0]
            takes = set(re.findall(r"\b[A-Z]{2,}\b|\[[a-z]+\]", re.sub(r"\[?--[a-z-]+ [A-Z]+\]?", "", usage)))
            with self.subTest(verb=verb, usage=usage):
                if done.returncode == rig.DONE or (not takes and "find" != verb):
                    self.assertNotIn("It is used as", done.stderr)
                    continue
                told.add(verb)
                self.assertEqual(len(re.findall(rf"(?:as|As|usage): trivet {verb} \S", done.stderr)), 1, done.stderr)
        self.assertGreaterEqual(told, {"label", "why", "review", "calibrate", "export", "haccp", "judge", "find", "pin", "compare"})

    def test_every_exit_code_is_told(self):
        status = re.search(r"^\.Sh EXIT STATUS\n(.*?)^\.Sh", source("trivet.1"), re.M | re.S)[1]
        table = re.search(r"^## Exit codes\n(.*?)^## ", (rig.ROOT / "docs/trivet.md").read_text(), re.M | re.S)[1]
        codes = re.findall(r"^\| (\d) \|", table, re.M)
        self.assertEqual(items(status), codes)
        self.assertEqual(codes, [str(code) for code in (rig.DONE, rig.NO, rig.USAGE, rig.UNREACHABLE, rig.REFUSED)])


class Daemon(unittest.TestCase):
    def test_every_option_and_no_other(self):
        usage = output(rig.TRIVETD, "--help")
        described = [re.search(r"Fl Fl (\S+)", head)[1] for head in items(source("trivetd.8")) if "Fl Fl" in head]
        self.assertEqual(sorted(described), sorted(re.findall(r"^  --([a-z-]+) ", usage, re.M)))

    def test_every_exit_code_is_told(self):
        usage = output(rig.TRIVETD, "--help")
        codes = re.findall(r"\b(\d) [a-z]", usage[usage.index("Exit codes"):])
        status = re.search(r"^\.Sh EXIT STATUS\n(.*?)^\.Sh", source("trivetd.8"), re.M | re.S)[1]
        self.assertEqual(items(status), codes)
        self.assertGreaterEqual(len(codes), 4)


class Plan(unittest.TestCase):
    def test_every_key_of_every_table_and_no_other(self):
        expected = {what: [row[0].strip("`") for row in rows] for what, rows in sections_of_plan().items()}
        self.assertEqual({what: list(keys) for what, keys in keys_of_page().items()}, expected)

    def test_every_word_default_and_bound_of_a_key(self):
        page = keys_of_page()
        for what, rows in sections_of_plan().items():
            for key, value, default, only, _ in rows:
                item = page[what][key.strip("`")].replace("\\(de", "°").replace("\\ ", " ")
                for word in re.findall(r"`([^`]+)`", value + default + only):
                    with self.subTest(table=what, key=key, word=word):
                        self.assertRegex(item, rf"(?<!\w){re.escape(word)}(?!\w)" if word != "/" else "path")
                for number in re.findall(r"-?\d[\d.]*", re.sub(r"`[^`]*`", "", value)):
                    with self.subTest(table=what, key=key, number=number):
                        self.assertIn(number, item)
                if default.startswith("required"):
                    with self.subTest(table=what, key=key):
                        self.assertIn("Required", item)

    def test_example_is_a_plan(self):
        text = re.search(r"^\.Bd [^\n]*\n(site:.*?)^\.Ed", source("trivet-plan.5"), re.M | re.S)[1]
        with rig.Kitchen() as kitchen:
            kitchen.write_plan(text)
            self.assertIn("is in order", output(rig.TRIVETD, "--check", kitchen.plan))


if __name__ == "__main__":
    unittest.main(verbosity=1)
