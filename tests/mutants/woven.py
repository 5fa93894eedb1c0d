"""All mutants of all files in one program, so that each costs a run and no compiler.

Of every function there is one copy for each of its mutants, beside the original; a variable of the environment says
which of them is called. That program also tells which functions a test program reaches at all.
"""
import os
import re
import subprocess

from places import code_of, functions_of

CHOICE = """#include <stdio.h>
#include <stdlib.h>
int mutant_now;
char mutant_reached[%(functions)d + 1];

static void
tell_reached(void)
{
    FILE *out = fopen(getenv("MUTANT_REACHED"), "w");
    for (int i = 0; out && i < %(functions)d; i++)
        if (mutant_reached[i])
            fprintf(out, "%%d\\n", i);
    if (out)
        fclose(out);
}

__attribute__((constructor)) static void
choose(void)
{
    const char *now = getenv("MUTANT_NOW");
    mutant_now = now ? atoi(now) : -1;
    if (getenv("MUTANT_REACHED"))
        atexit(tell_reached);
}
"""


def arguments_of(head):
    """Names of a definition's parameters, as a call hands them on."""
    inner, depth, parts = head[head.index("(") + 1:head.rindex(")")], 0, [""]
    for sign in inner:
        depth += {"(": 1, "[": 1, ")": -1, "]": -1}.get(sign, 0)
        if sign == "," and depth == 0:
            parts.append("")
        else:
            parts[-1] += sign
    bare = [re.sub(r"\[[^\]]*\]", "", part).strip() for part in parts]
    return [re.search(r"\(\*(\w+)\)|(\w+)$", part).group(1) or re.search(r"(\w+)$", part).group(1) for part in bare if part != "void"]


def can_be_woven(function, code):
    """A list of arguments of no fixed length cannot be handed on."""
    return "..." not in " ".join(code[function.name_at:function.opens_at])


def woven(path, mutants, reached):
    """The file's text with the mutants, a list of (number, mutant); reached maps (path, function) to its number."""
    text = path.read_text()
    code, lines = code_of(text).split("\n"), text.split("\n")
    out, last = ["extern int mutant_now;", "extern char mutant_reached[];"], 0
    for function in functions_of(code):
        if not can_be_woven(function, code):
            continue
        mine = [(number, mutant) for number, mutant in mutants if mutant.function == function.name]
        kind, head = lines[function.type_at], "\n".join(lines[function.name_at:function.opens_at])
        body = lines[function.opens_at:function.closes_at + 1]
        returns = "" if re.sub(r"\b(?:static|inline)\b", "", kind).strip() == "void" else "return "
        handed = ", ".join(arguments_of(head))

        def copy(suffix, content):
            named = head.replace(function.name + "(", f"{function.name}{suffix}(", 1)
            return "\n".join([kind if kind.startswith("static") else "static " + kind, named, *content])

        def call(label, suffix):
            return f"{label}: {returns}{function.name}{suffix}({handed});" + ("" if returns else " return;")

        out += lines[last:function.type_at] + [kind, head + ";", copy("__original", body)]
        for number, mutant in mine:
            at = mutant.at - function.opens_at
            out.append(copy(f"__mutant{number}", body[:at] + [mutant.changed] + body[at + 1:]))
        out += [kind, head, "{", f"mutant_reached[{reached[path, function.name]}] = 1;", "switch (mutant_now) {"]
        out += [call(f"case {number}", f"__mutant{number}") for number, _ in mine] + [call("default", "__original"), "}", "}"]
        last = function.closes_at + 1
    return "\n".join(out + lines[last:])


class Woven:
    """Objects of all files with all mutants that compile; the others are in `broken`, by number."""

    def __init__(self, folder, paths, mutants, compiler):
        """compiler(source, object) says what it has to say in an error, or nothing."""
        functions = [(path, function) for path in paths for function in functions_of(code_of(path.read_text()).split("\n"))]
        self.reached = {(path, function.name): i for i, (path, function) in enumerate(functions)}
        self.apart = set()  # functions that are not in here
        for path, function in functions:
            if not can_be_woven(function, code_of(path.read_text()).split("\n")):
                self.apart.add((path, function.name))
        self.broken, self.objects = set(), [self.choice(folder, compiler)]
        for path in paths:
            self.objects.append(self.compiled(folder, path, [(i, m) for i, m in enumerate(mutants) if m.path == path], compiler))

    def choice(self, folder, compiler):
        (folder / "choice.c").write_text(CHOICE % {"functions": len(self.reached)})
        compiler(folder / "choice.c", folder / "choice.o")
        return folder / "choice.o"

    def compiled(self, folder, path, mutants, compiler):
        source, target = folder / path.name, folder / f"{path.stem}.o"
        while True:
            source.write_text(woven(path, [(i, m) for i, m in mutants if i not in self.broken], self.reached))
            said = compiler(source, target)
            if not said:
                return target
            refused = set(map(int, re.findall(r"__mutant(\d+)", said))) - self.broken
            if not refused:
                raise SystemExit(f"{path}: cannot be woven:\n{said}")
            self.broken |= refused


def run(binary, program, root, limit_s, mutant=None, reached=None):
    """None when the test program ends well, else how it did not."""
    told = {"MUTANT_NOW": str(mutant)} if mutant is not None else {}
    told |= {"MUTANT_REACHED": str(reached)} if reached else {}
    try:
        ran = subprocess.run([binary, str(program)], cwd=root, env=os.environ | told, stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL,
                             stderr=subprocess.DEVNULL, timeout=limit_s)
    except subprocess.TimeoutExpired:
        return "in time"
    return "killed" if ran.returncode != 0 else None
