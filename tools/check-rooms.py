#!/usr/bin/env python3
"""check-rooms.py [SOURCE]: holds the order of the rooms and what a library room may not do.

Rooms depend downwards only. A file of src/ROOM or include/dryfront/ROOM.h includes no header of a room above it. The
library rooms neither print nor exit, and hold no mutable object at file scope. Prints one line for each breach; exit
status 1 where there is one. With --self-test it checks that it notices each kind of breach.
"""
import pathlib
import re
import sys
import tempfile

ROOMS = ["base", "substance", "mixture", "sample", "dryer", "drying", "advice", "watch", "record", "report", "serve",
         "command"]
NOT_LIBRARY = {"serve", "command"}
# Public headers that a room has beside the one of its own name.
FURTHER_HEADERS = {"secondary": "drying", "transient": "drying", "uncertain": "advice", "sweep": "advice", "routes": "advice",
                   "recipe": "advice"}
BANNED = re.compile(r"(?<![\w.>])(printf|puts|putchar|fprintf|vprintf|vfprintf|perror|exit|_exit|abort|quick_exit|"
                    r"setlocale|putenv|setenv|strtok|rand|srand)\s*\(")


def blank(match):
    return re.sub(r"[^\n]", " ", match.group(0))


def strip(text):
    """Comments and the insides of literals become blanks; lines stay where they are."""
    pattern = r'/\*.*?\*/|//[^\n]*|"(?:\\.|[^"\\\n])*"|\'(?:\\.|[^\'\\\n])*\''

    def replace(match):
        found = match.group(0)
        if found[0] == '"' or found[0] == "'":
            return found[0] + re.sub(r"[^\n]", "x", found[1:-1]) + found[0]
        return blank(match)

    return re.sub(pattern, replace, text, flags=re.S)


def room_of_include(target, own):
    """The room that an #include names, or None for what is no header of ours."""
    if target.startswith("dryfront/"):
        stem = pathlib.PurePosixPath(target).stem
        return FURTHER_HEADERS.get(stem, stem)
    first = target.split("/")
    while first and first[0] in ("..", ".", "src"):
        first = first[1:]
    if len(first) > 1 and first[0] in ROOMS:
        return first[0]
    return own if len(first) == 1 else None


def check_includes(path, text, own, breaches):
    for number, line in enumerate(text.split("\n"), 1):
        match = re.match(r'\s*#\s*include\s*(?:"([^"]+)"|<(dryfront/[^>]+)>)', line)
        if not match:
            continue
        target = match.group(1) or match.group(2)
        room = room_of_include(target, own)
        if room is None:
            continue
        if room not in ROOMS:
            if target.startswith("dryfront/"):
                breaches.append(f"{path}:{number}: dryfront/{room}.h belongs to no room")
            continue
        if ROOMS.index(room) > ROOMS.index(own):
            breaches.append(f"{path}:{number}: the room '{own}' includes '{target}' of the room '{room}' above it")


def file_scope(text):
    """(line, declaration) of everything at file scope, bodies and initialisers left out."""
    text = re.sub(r'extern\s*"x*"\s*\{', " ", text)
    lines, depth, out, start, number = [], 0, "", 1, 1
    continued = False
    kept = []
    for line in text.split("\n"):  # preprocessor lines go, with their continuations
        kept.append("" if continued or line.lstrip().startswith("#") else line)
        continued = (continued or line.lstrip().startswith("#")) and line.rstrip().endswith("\\")
    for c in "\n".join(kept):
        if c == "\n":
            number += 1
        if c == "{":
            depth += 1
        elif c == "}":
            depth = max(0, depth - 1)
            if depth == 0 and "=" not in out and "(" in out:  # the end of a function
                out = ""
            continue
        elif c == ";" and depth == 0:
            lines.append((start, out))
            out = ""
            continue
        if depth == 0:
            if not out.strip():
                out, start = "", number
            out += c
    return lines


def check_statics(path, text, breaches):
    for line, declaration in file_scope(text):
        words = declaration.split("=")[0]
        if not words.strip() or re.search(r"\b(typedef|extern|_Static_assert|static_assert)\b", words):
            continue
        if "(" in words and not re.search(r"\(\s*\*", words):
            continue  # a function's prototype
        if re.match(r"\s*(static\s+)?(const\s+)?(struct|enum|union)\s*\w*\s*$", words):
            continue  # a type alone
        name_part = re.sub(r"\[[^\]]*\]", "", words).rstrip()
        # The object itself is constant: "const T x" without a star, or "* const x".
        after_star = name_part.rsplit("*", 1)
        constant = "const" in after_star[1].split() if len(after_star) == 2 else re.search(r"\bconst\b", words)
        if not constant:
            shown = " ".join(words.split())
            breaches.append(f"{path}:{line}: a mutable object at file scope: {shown}")


def check_inner_statics(path, text, breaches):
    """Mutable statics inside functions are global state as well."""
    for number, line in enumerate(text.split("\n"), 1):
        match = re.match(r"\s+static\s+([^=;(]*)[=;]", line)
        if match and not re.search(r"\bconst\b", match.group(1)):
            breaches.append(f"{path}:{number}: a mutable static inside a function: {line.strip()}")


def check(root):
    breaches = []
    source = root / "src"
    for directory in sorted(p for p in source.iterdir() if p.is_dir()):
        if directory.name not in ROOMS:
            breaches.append(f"src/{directory.name}: no such room")
            continue
        for path in sorted(directory.rglob("*.[ch]")):
            shown = path.relative_to(root)
            raw = path.read_text(encoding="utf-8")
            text = strip(raw)
            check_includes(shown, re.sub(r"/\*.*?\*/", blank, raw, flags=re.S), directory.name, breaches)
            if directory.name in NOT_LIBRARY:
                continue
            for number, line in enumerate(text.split("\n"), 1):
                for match in BANNED.finditer(line):
                    breaches.append(f"{shown}:{number}: {match.group(1)}() has no place in a library room")
            check_statics(shown, text, breaches)
            check_inner_statics(shown, text, breaches)
    for path in sorted((root / "include" / "dryfront").glob("*.h")):
        shown = path.relative_to(root)
        raw = path.read_text(encoding="utf-8")
        room = FURTHER_HEADERS.get(path.stem, path.stem)
        if room not in ROOMS:
            breaches.append(f"{shown}: a public header is named after its room")
            continue
        check_includes(shown, re.sub(r"/\*.*?\*/", blank, raw, flags=re.S), room, breaches)
        check_statics(shown, strip(raw), breaches)
    return breaches


def self_test():
    good = ('#include "dryfront/base.h"\n#include <stdio.h>\n#include "own.h"\n/* printf("x"); */\n'
            "static const double a[] = {1, 2};\nstatic const char *const names[] = {\"exit(\", \"b\"};\n"
            "struct thing {\n    int x;\n};\ntypedef struct pair {\n    int a;\n} pair;\n"
            "static int f(int x);\nstatic int f(int x) {\n    static const int k = 1;\n    int y = x;\n"
            "    snprintf(0, 0, \"\");\n    return y + k;\n}\n")
    bad = {
        '#include "dryfront/drying.h"\n': "above it",
        '#include "drying/steps.h"\n': "above it",
        '#include "../drying/steps.h"\n': "above it",
        "void f(void) {\n    printf(\"x\");\n}\n": "printf()",
        "void f(void) {\n    exit(1);\n}\n": "exit()",
        "void f(void) {\n    abort();\n}\n": "abort()",
        "static int counter;\n": "mutable object",
        "static int counter = 3;\n": "mutable object",
        "static const char *name = \"x\";\n": "mutable object",
        "static double table[3] = {1, 2, 3};\n": "mutable object",
        "int f(void) {\n    return 1;\n}\nint counter;\n": "mutable object",
        "static struct pair here;\n": "mutable object",
        "void f(void) {\n    static int n = 0;\n    n++;\n}\n": "mutable static",
    }
    failures = 0
    for text, expected in [(good, None), *bad.items()]:
        with tempfile.TemporaryDirectory() as name:
            root = pathlib.Path(name)
            (root / "src" / "sample").mkdir(parents=True)
            (root / "include" / "dryfront").mkdir(parents=True)
            (root / "src" / "sample" / "file.c").write_text(text, encoding="utf-8")
            found = check(root)
            right = not found if expected is None else len(found) == 1 and expected in found[0]
            if not right:
                failures += 1
                print(f"self-test: expected {expected!r}, found {found!r} in:\n{text}")
    return failures


def main():
    if "--self-test" in sys.argv:
        return 1 if self_test() else 0
    root = pathlib.Path(sys.argv[1] if len(sys.argv) > 1 else pathlib.Path(__file__).parent.parent)
    breaches = check(root)
    for breach in breaches:
        print(breach)
    return 1 if breaches else 0


if __name__ == "__main__":
    sys.exit(main())
