"""How the status page looks and what little it does by itself: kept apart from what it says."""

STYLE = """
:root{--ink:#1c2430;--soft:#55606e;--paper:#fbfaf7;--card:#fff;--edge:#d9d5cc;--met:#1d6a4a;--not-met:#9c2222;
--not-demonstrated:#7a5200;--not-tested:#4a5563;--beyond:#e9e3d8;--focus:#2a5db0}
@media (prefers-color-scheme:dark){:root{--ink:#eceae4;--soft:#b3bac4;--paper:#16191e;--card:#1f242b;--edge:#3b434e;
--met:#7fd0a8;--not-met:#ff9d94;--not-demonstrated:#f0c46c;--not-tested:#b9c2cd;--beyond:#343a43;--focus:#8fb6ff}}
*{box-sizing:border-box}
body{margin:0 auto;max-width:72rem;padding:1.25rem;background:var(--paper);color:var(--ink);
font:1rem/1.5 Georgia,"Liberation Serif",serif}
h1,h2,h3,th,label,legend,summary,.verdict,.total,.claim{font-family:"Segoe UI","Helvetica Neue",Arial,sans-serif}
h1{font-size:1.6rem;line-height:1.25;margin:.2rem 0}
h2{font-size:1.2rem;margin:1.8rem 0 .6rem}h3{font-size:1.05rem;margin:0}
header p,small,.claim{color:var(--soft)}p{margin:.35rem 0;overflow-wrap:anywhere}
li{overflow-wrap:anywhere}
.skip{position:absolute;left:-99rem}.skip:focus{position:static}
:focus-visible{outline:3px solid var(--focus);outline-offset:2px}
.draft{border:2px solid var(--not-met);padding:.4rem 1rem;margin:.8rem 0}.draft h2{margin:.2rem 0;color:var(--not-met)}
.totals{list-style:none;display:flex;flex-wrap:wrap;gap:.6rem;padding:0;margin:1rem 0}
.total{border:1px solid var(--edge);border-bottom:4px solid currentColor;background:var(--card);padding:.5rem .9rem;
min-width:9rem}
.total strong{font-size:1.5rem;margin:0 .3rem}
.met{color:var(--met)}.not-met{color:var(--not-met)}.not-demonstrated{color:var(--not-demonstrated)}
.not-tested{color:var(--not-tested)}
.filter{display:flex;flex-wrap:wrap;gap:.8rem;align-items:center;margin:.6rem 0}.filter[hidden]{display:none}
.filter fieldset{border:0;padding:0;margin:0;display:flex;flex-wrap:wrap;gap:.4rem 1rem}
.filter legend{float:left;margin-right:.8rem}
input[type=search]{font:inherit;padding:.3rem .5rem;border:1px solid var(--soft);background:var(--card);
color:var(--ink);max-width:100%}
.card{border:1px solid var(--edge);border-left:6px solid currentColor;background:var(--card);
padding:.8rem 1rem;margin:.8rem 0}
.card>*{color:var(--ink)}.card .claim{color:var(--soft)}.card[hidden]{display:none}
.head{display:flex;flex-wrap:wrap;justify-content:space-between;gap:.5rem}
.verdict{font-weight:600;white-space:nowrap}
.scroll{overflow-x:auto;margin:.5rem 0}.scroll table{min-width:44rem}
table{border-collapse:collapse;width:100%;font-size:.9rem}
th,td{text-align:left;vertical-align:middle;padding:.3rem .6rem;
border-bottom:1px solid var(--edge)}td.number{text-align:right}th[scope=row]{font-weight:600}
svg{display:block}
.axis{stroke:var(--edge)}.beyond{fill:var(--beyond)}.limit{stroke:var(--ink);stroke-width:2}
.interval{stroke:var(--ink)}.bound{stroke:var(--ink);stroke-width:3}.values{fill:none;stroke:var(--ink)}.mean{fill:var(--ink)}
details{margin:.4rem 0}summary{cursor:pointer;font-weight:600}.findings li{margin:.6rem 0}
footer{border-top:1px solid var(--edge);margin-top:2rem;font-size:.9rem}
@media print{.scroll table{min-width:0}
body{max-width:none;padding:0;background:#fff;color:#000;font-size:10pt}.filter,.skip,#shown{display:none}
.card,tr,li{break-inside:avoid}.scroll{overflow:visible}@page{margin:15mm}}
"""

SCRIPT = """
(function(){
var form=document.querySelector('.filter'),find=document.getElementById('find'),told=document.getElementById('shown');
var cards=[].slice.call(document.querySelectorAll('.card'));
if(!form){return}
form.hidden=false;
function show(){
var words=find.value.toLowerCase().trim(),n=0;
var wanted=[].map.call(form.querySelectorAll('input[name=verdict]:checked'),function(box){return box.value});
cards.forEach(function(card){
var fits=wanted.indexOf(card.dataset.verdict)>=0&&card.textContent.toLowerCase().indexOf(words)>=0;
card.hidden=!fits;if(fits){n+=1}});
told.textContent=n+' of '+cards.length+' design inputs shown';
}
form.addEventListener('input',show);
form.addEventListener('submit',function(event){event.preventDefault()});
show();
}());
"""
