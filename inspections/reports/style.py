"""The style of the HTML report: black on white, one column, tables that fold on a phone."""

from typing import Final

STYLE: Final = """
:root{color-scheme:light}
*{box-sizing:border-box}
body{margin:0;background:#fff;color:#000;font:16px/1.45 "DejaVu Sans",Verdana,Helvetica,Arial,sans-serif}
main{max-width:60rem;margin:0 auto;padding:1rem;overflow-wrap:break-word}
h1{font-size:1.5rem;line-height:1.2;margin:.5rem 0 1rem}
h2{font-size:1.2rem;margin:2rem 0 .5rem;border-bottom:2px solid #000;padding-bottom:.2rem}
h3{font-size:1rem;margin:1.5rem 0 .4rem}
p{margin:.5rem 0}
p.lead{font-size:1.25rem;font-weight:bold;line-height:1.3}
p.small{font-size:.85rem}
ul{margin:.5rem 0;padding-left:1.3rem}
li{margin:.25rem 0}
dl{margin:.8rem 0;border-top:1px solid #777}
dl div{display:flex;gap:1rem;border-bottom:1px solid #bbb;padding:.3rem 0}
dt{flex:0 0 11rem;font-weight:bold}
dd{margin:0;flex:1;min-width:0}
table{border-collapse:collapse;width:100%;margin:1rem 0;font-size:.85rem}
caption{text-align:left;font-weight:bold;padding:.3rem 0}
th,td{border:1px solid #777;padding:.3rem .4rem;text-align:left;vertical-align:top}
thead th{background:#e8e8e8}
.warning{border:4px double #000;padding:.6rem 1rem;margin:1rem 0}
.warning strong{font-size:1.15rem}
.drawing svg{display:block;width:100%;height:auto}
.drawing.narrow{display:none}
details{margin:.6rem 0}
summary{cursor:pointer;padding:.6rem 0;text-decoration:underline}
figure{margin:1rem 0}
figure img{max-width:100%;height:auto;border:1px solid #777}
@media screen and (max-width:620px){
.drawing.wide{display:none}
.drawing.narrow{display:block}
main{padding:.8rem}
dl div{display:block}
thead{position:absolute;clip-path:inset(50%);height:1px;width:1px;overflow:hidden}
table,tbody,tr,th,td,caption{display:block}
tr{border:1px solid #777;margin:0 0 .7rem}
tbody th,tbody td{border:0;border-bottom:1px solid #ccc;display:flex;gap:.6rem}
tbody th::before,tbody td::before{content:attr(data-name);flex:0 0 6.5rem;font-weight:bold}
tbody td[data-name=""]::before,tbody th[data-name=""]::before{content:none}
tbody th{background:#e8e8e8}
}
@media print{
@page{margin:15mm}
body{font-size:10pt}
.links,summary{display:none}
details::details-content{content-visibility:visible;block-size:auto}
main{max-width:none;padding:0}
h2,h3,caption{break-after:avoid}
tr,.warning,.drawing,dl div{break-inside:avoid}
}
"""
