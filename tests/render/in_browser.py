"""The status page as headless Chromium lays it out: measured by a script that is added to a copy of the page."""

from __future__ import annotations

import html
import json
import re
import subprocess
from pathlib import Path
from typing import Any

_MEASURE = """
<script>window.heardErrors=[];window.addEventListener('error',function(e){window.heardErrors.push(String(e.message))});
console.error=function(){window.heardErrors.push([].join.call(arguments,' '))};
</script>
"""
_TELL = """
<script>%s</script><script>
window.addEventListener('load',function(){
function tell(found){var told=document.createElement('pre');told.id='measured';
told.textContent=JSON.stringify(found);document.body.appendChild(told)}
var found={errors:window.heardErrors,width:document.documentElement.scrollWidth,window:window.innerWidth,
dark:matchMedia('(prefers-color-scheme: dark)').matches,
resources:performance.getEntriesByType('resource').map(function(r){return r.name}),
shown:[].filter.call(document.querySelectorAll('.card'),function(c){return !c.hidden}).length};
%s
});
</script>
"""
_AUDIT = """axe.run(document,{resultTypes:['violations']}).then(function(result){
found.violations=result.violations.map(function(v){return {id:v.id,impact:v.impact,
nodes:v.nodes.slice(0,3).map(function(n){return n.html.slice(0,200)})}});tell(found)})"""


def measured(
    page: Path, folder: Path, *, width: int, axe: Path | None = None, before: str = "", dark: bool = False
) -> Any:
    """What the page looks like to the browser at this width.

    Args:
        axe: axe.min.js of the npm package axe-core; without it no accessibility is judged. before: script run first.
    """
    text = page.read_text(encoding="utf-8")
    library = axe.read_text(encoding="utf-8") if axe else ""
    tell = before + (_AUDIT if axe else "tell(found)")
    copy = folder / "measured.html"
    head, body, rest = text.partition("</head>")
    assert body
    copy.write_text(
        head + _MEASURE + body + rest.replace("</body>", _TELL % (library, tell) + "</body>"), encoding="utf-8"
    )
    dumped = chromium(
        folder, "--virtual-time-budget=20000", f"--window-size={width},900", "--dump-dom", copy.as_uri(), dark=dark
    )
    (found,) = re.findall(r'<pre id="measured">(.*?)</pre>', dumped, re.DOTALL)
    return json.loads(html.unescape(found))


def chromium(folder: Path, *arguments: str, dark: bool = False) -> str:
    """Runs headless Chromium with a profile of its own and without any background traffic."""
    quiet = (
        "--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
        "--disable-background-networking", "--disable-component-update", "--disable-sync", "--hide-scrollbars",
    )  # fmt: skip
    scheme = ("--force-dark-mode", "--blink-settings=preferredColorScheme=0") if dark else ()
    done = subprocess.run(
        ["chromium", *quiet, *scheme, f"--user-data-dir={folder / 'profile'}", *arguments],
        capture_output=True,
        text=True,
        timeout=120,
        check=True,
    )
    return done.stdout
