//! How a page looks: light, dark as the reader's system has it, and on one sheet of paper.

use super::super::style::{IN_THE_DARK, hex};
use std::fmt::Write as _;

/// Everything but the picture's hues in the dark.
const PLAIN: &str = "\
:root{--ink:#26262b;--paper:#fff;--faint:#5c5c66;--line:#d5d5dc;--good:#28823c;--bar:#e6e6ec}\
body{font:16px/1.45 system-ui,sans-serif;margin:1.5rem auto;max-width:76rem;padding:0 1rem;\
color:var(--ink);background:var(--paper)}\
h1{font-size:1.45rem;line-height:1.3;margin:.2rem 0 .6rem}h2{font-size:1.05rem;margin:1.2rem 0 .3rem}\
p{margin:.35rem 0}.small{color:var(--faint);font-size:.9rem}\
svg{display:block;width:100%;height:auto;margin:.4rem 0}\
table{border-collapse:collapse;margin:.4rem 0}th,td{padding:.2rem .9rem .2rem 0;text-align:left;\
border-bottom:1px solid var(--line);vertical-align:top}th{font-weight:600}\
td.n,th.n{text-align:right}\
.mark{border:2px solid var(--faint);padding:.3rem .8rem;display:inline-block;letter-spacing:.08em;\
font-weight:600}\
.bar{display:flex;align-items:center;gap:.8rem;margin:.35rem 0}.bar b{flex:0 0 11rem;\
font-weight:600}.bar span{flex:1;height:1rem;background:var(--bar);border:1px solid var(--line)}\
.bar i{display:block;height:100%;background:var(--good)}.bar em{flex:0 0 12rem;font-style:normal}\
.events{columns:2;column-gap:2.5rem;list-style:none;padding:0;margin:.3rem 0}\
.events li{break-inside:avoid;border-bottom:1px solid var(--line);padding:.12rem 0;display:flex;\
gap:.8rem}.events time{flex:0 0 2.8rem;text-align:right;font-variant-numeric:tabular-nums}\
.scroll{overflow-x:auto}pre{white-space:pre-wrap;font-size:.85rem}\
.sign{display:flex;gap:2.5rem;margin:2.2rem 0 .5rem}.sign div{flex:1;border-top:1px solid var(--ink);\
padding-top:.2rem;font-size:.9rem}\
.at rect{fill:transparent;stroke:none}.at line,.at text{display:none}\
.at g:hover line,.at g:hover text{display:inline}.at line{stroke:#28282D;stroke-width:1}\
.at .behind{display:none;fill:var(--paper)}.at g:hover .behind{display:inline}\
.at text{font:13px ui-monospace,Menlo,Consolas,monospace;fill:#28282D;text-anchor:end}\
@media(max-width:46rem){.events{columns:1}.bar{flex-wrap:wrap;gap:.1rem .8rem}.bar span{flex:1 0 100%;\
order:3}.bar b,.bar em{flex:0 1 auto}}";

/// On paper: one sheet of A4 or Letter, in black on white.
const PAPER: &str = "@page{margin:10mm 12mm}\
@media print{body{font-size:8.2pt;line-height:1.25;margin:0;max-width:none;padding:0}\
h1{font-size:12pt;line-height:1.25;margin:0 0 1.5mm}h2{font-size:9pt;margin:1.6mm 0 .3mm}\
p{margin:.5mm 0}.small{font-size:7.4pt}svg{max-height:84mm;margin:1mm 0}table{margin:.6mm 0}\
th,td{padding:.2mm 3mm .2mm 0}.mark{padding:.5mm 2mm}\
.events{columns:3;column-gap:6mm;font-size:7pt;margin:.5mm 0}\
.events li{padding:.05mm 0;gap:2mm}.events time{flex-basis:7mm}\
.bar{margin:.5mm 0}.bar span{height:3mm}.bar b{flex-basis:30mm}.bar em{flex-basis:auto;white-space:nowrap}\
*{print-color-adjust:exact;-webkit-print-color-adjust:exact}\
details,.screen{display:none}.sign{margin:8mm 0 0;gap:8mm;break-inside:avoid}.sign div{font-size:7.4pt}}";

/// The whole of it.
pub(super) fn style() -> String {
    let mut out = format!("{PLAIN}{PAPER}@media screen and (prefers-color-scheme:dark){{");
    out.push_str(
        ":root{color-scheme:dark;--ink:#e2e2e6;--paper:#18191d;--faint:#a2a2ad;--line:#3a3b42;\
         --good:#5ac382;--bar:#2a2b31}.at line{stroke:#E2E2E6}.at text{fill:#E2E2E6}",
    );
    for (light, dark) in IN_THE_DARK {
        let (light, dark) = (hex(light), hex(dark));
        // Writing to a string cannot fail.
        let _ =
            write!(out, "[fill=\"{light}\"]{{fill:{dark}}}[stroke=\"{light}\"]{{stroke:{dark}}}");
    }
    out.push('}');
    out
}
