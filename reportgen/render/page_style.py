"""How the status page looks and what little it does by itself: kept apart from what it says."""

_LIGHT = """--ink:#1c2430;--soft:#55606e;--paper:#fbfaf7;--card:#fff;--edge:#d9d5cc;--met:#1d6a4a;
--not-met:#9c2222;--not-demonstrated:#7a5200;--not-tested:#4a5563;--beyond:#e4dccd;--focus:#2a5db0;--link:#1f4f9c"""
_DARK = """--ink:#eceae4;--soft:#b3bac4;--paper:#16191e;--card:#1f242b;--edge:#3b434e;--met:#7fd0a8;
--not-met:#ff9d94;--not-demonstrated:#f0c46c;--not-tested:#b9c2cd;--beyond:#414955;--focus:#8fb6ff;--link:#a9c7ff"""

_EVERYWHERE = """
*{box-sizing:border-box}
body{margin:0 auto;max-width:72rem;padding:1.25rem;background:var(--paper);color:var(--ink);
font:1rem/1.5 Georgia,"Liberation Serif",serif;overflow-wrap:break-word}
h1,h2,h3,th,label,legend,summary,caption,nav,.verdict,.total,.claim,.label,.margin,td.number
{font-family:"Segoe UI","Helvetica Neue",Arial,sans-serif}
h1{font-size:1.6rem;line-height:1.25;margin:.2rem 0;text-wrap:balance}.whole{white-space:nowrap}
h2{font-size:1.2rem;margin:2rem 0 .6rem}h3{font-size:1.05rem;margin:0}
a{color:var(--link)}
header p,small,.claim,caption{color:var(--soft)}
p{margin:.35rem 0}p,li{text-wrap:pretty}p,li,bdi,summary,h1,h2,h3{overflow-wrap:anywhere}
.skip{position:absolute;left:-99rem}.skip:focus{position:static}
.unseen{position:absolute;width:1px;height:1px;overflow:hidden;clip-path:inset(50%);white-space:nowrap}
:focus-visible{outline:3px solid var(--focus);outline-offset:2px}
:target{scroll-margin-top:1rem}
.draft{border:2px solid var(--not-met);padding:.4rem 1rem;margin:.8rem 0}.draft h2{margin:.2rem 0;color:var(--not-met)}
.totals,nav ul{list-style:none;display:flex;flex-wrap:wrap;gap:.6rem;padding:0;margin:1rem 0}
nav ul{gap:.3rem 1.2rem}
.total{border:1px solid var(--edge);border-bottom:4px solid currentColor;background:var(--card);padding:.5rem .9rem;
min-width:9rem}
.total strong{font-size:1.5rem;margin:0 .3rem}
.met{color:var(--met)}.not-met{color:var(--not-met)}.not-demonstrated{color:var(--not-demonstrated)}
.not-tested{color:var(--not-tested)}
.filter{display:flex;flex-wrap:wrap;gap:.8rem;align-items:center;margin:.6rem 0}
.filter fieldset{border:0;padding:0;margin:0;display:flex;flex-wrap:wrap;gap:.4rem 1rem}
.filter legend{float:left;margin-right:.8rem}
input[type=search]{font:inherit;padding:.3rem .5rem;border:1px solid var(--soft);background:var(--card);
color:var(--ink);max-width:100%}
input[type=checkbox]{width:1rem;height:1rem;vertical-align:-.1rem}
[hidden]{display:none!important}
.legend{border-left:3px solid var(--edge);padding:.1rem 0 .1rem .9rem;margin:.8rem 0;font-size:.9rem}
.legend ul{list-style:none;padding:0;margin:.3rem 0;display:flex;flex-wrap:wrap;gap:.2rem 1.4rem}
.legend li{display:flex;align-items:center;gap:.5rem}.legend svg{flex:none}
.card{border:1px solid var(--edge);border-left:6px solid currentColor;background:var(--card);
padding:.8rem 1rem;margin:.8rem 0}
.card>*{color:var(--ink)}.card .claim{color:var(--soft)}
.head{display:flex;flex-wrap:wrap;justify-content:space-between;gap:.5rem}
.verdict{font-weight:600;white-space:nowrap}
table{border-collapse:collapse;width:100%;font-size:.9rem;margin:.5rem 0}
caption{text-align:left;font-size:.85rem;padding:.2rem 0}
th,td{text-align:left;vertical-align:top;padding:.35rem .5rem;border-bottom:1px solid var(--edge)}
thead th{vertical-align:bottom}
th.number{white-space:nowrap}td.drawn{min-width:14.6rem}
td.number,th.number{text-align:right;font-variant-numeric:tabular-nums}
td.text{min-width:7rem}th[scope=row]{font-weight:600;min-width:5rem}th small{font-weight:400;display:block}
.overview th[scope=row]{min-width:12.5rem}.overview td.text{width:22%;min-width:9rem}
td p{margin:0}.margin{display:block;font-size:.8rem;color:var(--soft)}
.plot{display:block;max-width:100%;height:auto}
.axis{stroke:var(--edge)}.beyond{fill:var(--beyond)}.limit{stroke:var(--ink);stroke-width:2}
.acceptance{stroke:var(--ink);stroke-dasharray:4 2}
.interval{stroke:var(--ink)}.bound{stroke:var(--ink);stroke-width:3}.values{fill:none;stroke:var(--ink)}
.mean{fill:var(--ink)}.label{fill:var(--ink);font-size:11px}
details{margin:.4rem 0}summary{cursor:pointer;font-weight:600}.findings li{margin:.6rem 0}
footer{border-top:1px solid var(--edge);margin-top:2rem;font-size:.9rem}
"""

# each row of a table as a card, its headings repeated before its cells; not read out twice where that can be told
_NARROW = """
@media screen and (max-width:64rem){
table,caption,tbody,tr,th[scope=row],td{display:block}
thead{position:absolute;width:1px;height:1px;overflow:hidden;clip-path:inset(50%)}
tr{border-bottom:2px solid var(--edge);padding:.5rem 0}
th[scope=row],.overview th[scope=row],td{border:0;padding:.15rem 0;min-width:0}
td{display:grid;grid-template-columns:7.5rem minmax(0,1fr);gap:.5rem;min-width:0}
td.text,td.drawn,.overview td.text{width:auto;min-width:0}td:empty{display:none}
td.number{display:inline-block;margin-right:1.1rem;text-align:left}td.number::before{margin-right:.4rem}
td>*{grid-column:2}
td::before{content:attr(data-label);content:attr(data-label)/"";grid-column:1;grid-row:1;color:var(--soft);
font:600 .85rem/1.6 "Segoe UI","Helvetica Neue",Arial,sans-serif}
}
@media screen and (max-width:30rem){
body{padding:.8rem}.card{padding:.6rem .7rem}
.total{min-width:0;flex:1 1 40%;padding:.5rem;white-space:nowrap;font-size:.9rem}
}
"""

_PAPER = f"""
@media print{{
:root{{{_LIGHT}}}
@page{{margin:15mm}}
body{{max-width:none;padding:0;background:#fff;font-size:9.5pt}}table{{font-size:8pt}}
.filter,.skip,nav,#shown:not(.part){{display:none}}
th,td{{padding:.2rem .3rem}}.plot{{width:36mm}}td.text{{min-width:0}}td.drawn{{min-width:36mm}}.margin{{font-size:7pt}}
.overview th[scope=row]{{min-width:34mm}}.overview td.text{{min-width:48mm}}
th small,small{{font-size:7pt}}.total{{min-width:0}}
tr,li,p,.head,.draft,.legend{{break-inside:avoid}}h2,h3,.head,.card>p,summary,caption{{break-after:avoid}}
thead{{display:table-header-group}}tbody tr:first-child{{break-before:avoid}}
details::details-content{{content-visibility:visible;display:block}}a{{color:inherit;text-decoration:none}}
}}
"""

STYLE = f"\n:root{{{_LIGHT}}}\n@media (prefers-color-scheme:dark){{:root{{{_DARK}}}}}\n{_EVERYWHERE}{_NARROW}{_PAPER}"

SCRIPT = """
(function(){
var form=document.querySelector('.filter'),find=document.getElementById('find'),told=document.getElementById('shown');
var cards=[].slice.call(document.querySelectorAll('.card')),rows=[].slice.call(document.querySelectorAll('.row'));
function plain(text){return text.toLowerCase().replace(/\\s+/g,' ').trim()}
var texts=cards.map(function(card){return plain(card.textContent)});
function show(){
var words=plain(find.value),n=0;
var wanted=[].map.call(form.querySelectorAll('input[name=verdict]:checked'),function(box){return box.value});
cards.forEach(function(card,at){
var fits=wanted.indexOf(card.dataset.verdict)>=0&&texts[at].indexOf(words)>=0;
card.hidden=rows[at].hidden=!fits;if(fits){n+=1}});
told.textContent=n+' of '+cards.length+' design inputs shown';
told.classList.toggle('part',n<cards.length);
}
if(form){
form.hidden=false;
form.addEventListener('input',show);
form.addEventListener('submit',function(event){event.preventDefault()});
show();
}
var opened=[];
addEventListener('beforeprint',function(){
opened=[].filter.call(document.querySelectorAll('details'),function(one){return !one.open});
opened.forEach(function(one){one.open=true})});
addEventListener('afterprint',function(){opened.forEach(function(one){one.open=false});opened=[]});
}());
"""
