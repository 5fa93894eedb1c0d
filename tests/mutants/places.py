"""Where the source can be broken: every comparison, sign, constant, branch and statement of a function."""
import dataclasses
import pathlib
import re

# Operators stand between blanks in this tree's layout, which tells a binary one from a pointer or a sign.
SWAPS = [(r" < ", " <= "), (r" <= ", " < "), (r" > ", " >= "), (r" >= ", " > "), (r" == ", " != "), (r" != ", " == "),
         (r" && ", " || "), (r" \|\| ", " && "), (r" \+ ", " - "), (r" - ", " + "), (r" \* ", " / "), (r" \+= ", " -= "),
         (r" -= ", " += "), (r"\btrue\b", "false"), (r"\bfalse\b", "true"), (r"\+\+", "--")]
# A loop over a list is made to miss the last entry. One entry more would be no change: what lies beyond the count means
# nothing to anybody, and beyond the array's end the sanitizers speak, not a test's expectation.
LOOP, SHORT = re.compile(r"^\s*for \("), (r" < ", " + 1 < ")
CONSTANT = re.compile(r"(?<![\w.\"\[])(\d+)(?![\w.\"])")
BRANCH = re.compile(r"^(\s*(?:\} else )?if )\((.*)\)( \{)?$")
STATEMENT = re.compile(r"^\s+[a-z_][\w>.\[\]-]*(?: [-+|&]?= .*|\(.*\));$")
LEAVE = re.compile(r"^\s*(?:#|assert\(|static_assert|_Static_assert|\(void\)|/?\*|case .*:$|default:)")
BEGINS = re.compile(r"^([a-z_][a-z0-9_]*)\(")


@dataclasses.dataclass(frozen=True)
class Function:
    """Lines of a definition, counted from 0: its type, its name, its opening and closing brace."""
    name: str
    type_at: int
    name_at: int
    opens_at: int
    closes_at: int


@dataclasses.dataclass(frozen=True)
class Mutant:
    path: pathlib.Path
    at: int  # line, counted from 0
    function: str
    what: str
    line: str
    changed: str

    def text(self):
        """The whole file with the line changed."""
        lines = self.path.read_text().split("\n")
        return "\n".join(lines[:self.at] + [self.changed] + lines[self.at + 1:])

    def key(self):
        """What it is called in the list of survivors: lines move, so without their number."""
        return f"{self.path.name} {self.function} | {self.what} | {self.line.strip()}"


def code_of(text):
    """The text with comments and strings blanked, so that places stay the same."""
    blank = lambda found: re.sub(r"[^\n]", "~", found.group(0))
    return re.sub(r"/\*.*?\*/|//[^\n]*|\"(?:\\.|[^\"\\\n])*\"|'(?:\\.|[^'\\\n])+'", blank, text, flags=re.S)


def functions_of(code):
    """The definitions among the lines, by this tree's layout: name and braces begin a line."""
    found, at = [], 0
    while at < len(code):
        begins, opens = BEGINS.match(code[at]), at
        if begins and at > 0:
            while code[opens] != "{" and not code[opens].rstrip().endswith(";"):
                opens += 1
            if code[opens] == "{":
                closes = code.index("}", opens)
                found.append(Function(begins.group(1), at - 1, at, opens, closes))
                at = closes
        at += 1
    return found


def changes_of(line, code):
    """(what was done, the line changed) for every place of one line."""
    for pattern, new in [SHORT] + SWAPS[1:] if LOOP.match(code) else SWAPS:
        for at in re.finditer(pattern, code):
            yield f"{at.group(0).strip()} to {new.strip()}", line[:at.start()] + new + line[at.end():]
    for at in CONSTANT.finditer(code):
        new = str(int(at.group(1)) + 1)
        yield f"{at.group(1)} to {new}", line[:at.start()] + new + line[at.end():]
    branch = BRANCH.match(line) if BRANCH.match(code) else None
    for what, value in (("branch never", 0), ("branch always", 1)) if branch else ():
        yield what, f"{branch.group(1)}(({value}) || (0 && ({branch.group(2)}))){branch.group(3) or ''}"
    if STATEMENT.match(code):
        yield "statement left out", re.match(r"\s*", line).group(0) + ";"


def mutants_of(path):
    """All mutants of a file, in the order of its lines."""
    text = path.read_text()
    code, lines = code_of(text).split("\n"), text.split("\n")
    found = []
    for function in functions_of(code):
        seen = {}  # the same change to the same words of one function has a number from the second on
        for at in range(function.opens_at + 1, function.closes_at):
            if LEAVE.match(code[at]) or not code[at].strip():
                continue
            for what, changed in changes_of(lines[at], code[at]):
                times = seen[what, lines[at].strip()] = seen.get((what, lines[at].strip()), 0) + 1
                found.append(Mutant(path, at, function.name, what if times == 1 else f"{what} ({times})", lines[at], changed))
    return found
