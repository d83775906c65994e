#!/usr/bin/env python3
"""check_pages.py: the pages of `dryfront serve`.

Their types against docs/schema and TypeScript, what they weigh, that they name no other host, and tests/browser driven
through Debian's Chromium against the program that DRYFRONT_PROGRAM names. Last line: "N passed, N failed".
"""
import json
import os
import pathlib
import re
import shutil
import subprocess
import sys
import tempfile

ROOT = pathlib.Path(os.environ.get("DRYFRONT_SOURCE_DIR") or pathlib.Path(__file__).resolve().parent.parent)
WEB = ROOT / "web"
BROWSER = ROOT / "tests" / "browser"
MOST_BYTES = 150_000  # of all that the pages ship, as a browser that takes brotli gets it; and of what any view needs, with gzip
CHROMIUM = os.environ.get("DRYFRONT_CHROMIUM") or shutil.which("chromium") or "/usr/bin/chromium"

results = [0, 0]


def check(sound, what):
    results[0 if sound else 1] += 1
    if not sound:
        print(f"FAILED: {what}", flush=True)


def call(command, folder, **environment):
    return subprocess.run(command, cwd=folder, env=dict(os.environ, **environment), stdin=subprocess.DEVNULL, text=True,
                          stdout=subprocess.PIPE, stderr=subprocess.STDOUT, check=False)


def install(folder):
    """What the lock file names, once."""
    stamp = folder / "node_modules" / ".installed"
    lock = (folder / "package-lock.json").read_text(encoding="utf-8")
    if stamp.exists() and stamp.read_text(encoding="utf-8") == lock:
        return
    done = call(["npm", "ci", "--ignore-scripts", "--no-audit", "--no-fund"], folder)
    if done.returncode != 0:
        raise SystemExit(f"{done.stdout}\n0 passed, 1 failed")
    stamp.write_text(lock, encoding="utf-8")


def check_source():
    done = call(["npm", "run", "--silent", "check"], WEB)
    check(done.returncode == 0, f"types: {done.stdout}")
    texts = json.loads((WEB / "src/text/en.json").read_text(encoding="utf-8"))
    source = "\n".join(p.read_text(encoding="utf-8") for p in (WEB / "src").rglob("*.ts*"))
    # A key is used as it stands, or put together from a first part of it.
    begins = set(re.findall(r"[`\"']([\w. ]+)\.\$\{", source))
    unused = [k for k in texts if f'"{k}"' not in source and not any(k.startswith(b + ".") for b in begins)]
    check(not unused, f"texts that no page uses: {unused}")


def check_build():
    with tempfile.TemporaryDirectory() as out:
        done = call(["npx", "--no-install", "vite", "build", "--manifest"], WEB, DRYFRONT_PAGES_OUT=out)
        check(done.returncode == 0, f"vite build: {done.stdout}")
        manifest = json.loads((pathlib.Path(out) / ".vite/manifest.json").read_text(encoding="utf-8"))
        files = [p for p in pathlib.Path(out).rglob("*") if p.is_file() and ".vite" not in p.parts]
        packed = call(["node", str(ROOT / "tools" / "pack-pages.mjs"), out], WEB)
        check(packed.returncode == 0, packed.stdout)

        def served(path, ending):
            beside = path.with_name(path.name + ending)
            return (beside if beside.exists() else path).stat().st_size

        weight = {str(p.relative_to(out)): served(p, ".gz") for p in files}
        lightest = sum(served(p, ".br") for p in files)

        def needed(key, found):
            """The files that a chunk needs to be shown, its own among them."""
            entry = manifest[key]
            found |= {entry["file"], *entry.get("css", [])}
            for other in entry.get("imports", []):
                needed(other, found)
            return found

        style = {entry["file"] for key, entry in manifest.items() if key.endswith(".css")}
        frame = needed("index.html", {"index.html"}) | style
        views = {entry["name"]: key for key, entry in manifest.items() if entry.get("isDynamicEntry")}
        check({"job", "laboratory"} <= set(views), f"the views are {views}")
        for name, key in views.items():
            bytes_needed = sum(weight[f] for f in frame | needed(key, set()))
            check(bytes_needed < MOST_BYTES, f"{name} needs {bytes_needed} bytes with gzip")
            print(f"{name}: {bytes_needed / 1000:.0f} kB with gzip", flush=True)
        check(lightest < MOST_BYTES, f"all pages together are {lightest} bytes with brotli")
        print(f"the frame: {sum(weight[f] for f in frame) / 1000:.0f} kB with gzip; all: {sum(weight.values()) / 1000:.0f} kB, "
              f"with brotli {lightest / 1000:.0f} kB", flush=True)
        for path in files:
            # The names of XML's and the web's own languages are no requests; libraries name their licence's page in comments.
            text = path.read_text(encoding="utf-8", errors="replace")
            hosts = set(re.findall(r"https?://([\w.-]+\.\w+)", text)) - {"www.w3.org"}
            check(not hosts, f"{path.name} names {hosts}")
        page = (pathlib.Path(out) / "index.html").read_text(encoding="utf-8")
        check("<script>" not in page and "<style" not in page and " style=" not in page, "index.html holds inline script or style")


def check_browser():
    if not os.access(CHROMIUM, os.X_OK):
        check(False, f"no Chromium at {CHROMIUM}")
        return
    with tempfile.TemporaryDirectory() as out:
        report = pathlib.Path(out) / "report.json"
        done = call(["npx", "--no-install", "playwright", "test"], BROWSER, DRYFRONT_BROWSER_REPORT=str(report),
                    DRYFRONT_BROWSER_OUT=str(pathlib.Path(out) / "results"), DRYFRONT_CHROMIUM=CHROMIUM)
        if not report.exists():
            check(False, done.stdout)
            return
        stats = json.loads(report.read_text(encoding="utf-8"))["stats"]
        failed = stats["unexpected"] + stats["flaky"] + stats["skipped"]
        results[0] += stats["expected"]
        results[1] += failed
        if failed or done.returncode != 0:
            print(done.stdout, flush=True)
            results[1] += 0 if failed else 1


def main():
    for folder in (WEB, BROWSER):
        install(folder)
    check_source()
    check_build()
    if "--source" not in sys.argv[1:]:
        check_browser()
    print(f"{results[0]} passed, {results[1]} failed")
    return 1 if results[1] else 0


if __name__ == "__main__":
    sys.exit(main())
