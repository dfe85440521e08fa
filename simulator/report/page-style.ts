/** Colours are our own, chosen to differ in lightness too, and each beside its name. */
export const PAGE_STYLE = `
:root {
  --paper: #fbfaf6; --ink: #22261f; --faint: #6a6f63; --rule: #dcd9cd; --card: #fffefb;
  --base: #9aa08f; --charge: #d9dfc2; --potential: #22261f; --unused: #a2523a;
  --soc: #1f5a6b; --curve: #6b4c8a; --floor: #a2523a;
  --load-0: #b7791f; --load-1: #2f7f86; --load-2: #7d5a9c; --load-3: #5c7a2e; --load-4: #a8577e;
}
@media (prefers-color-scheme: dark) {
  :root {
    --paper: #171a15; --ink: #e9e7dd; --faint: #a3a798; --rule: #363a31; --card: #1e221b;
    --base: #6d7365; --charge: #3d4632; --potential: #e9e7dd; --unused: #e08a6c;
    --soc: #7cc3d6; --curve: #c0a1e0; --floor: #e08a6c;
    --load-0: #e0a84a; --load-1: #5fb9c0; --load-2: #b594d6; --load-3: #9dbf66; --load-4: #dc8fb4;
  }
}
* { box-sizing: border-box; }
body { margin: 0 auto; max-width: 64rem; padding: 1rem; background: var(--paper); color: var(--ink);
  font: 1rem/1.5 system-ui, sans-serif; }
h1 { font-size: 1.5rem; margin: 0; } h2 { font-size: 1.2rem; margin: 2rem 0 .5rem; }
h3 { font-size: 1rem; margin: 0 0 .25rem; } header p { margin: .25rem 0 1rem; color: var(--faint); }
a { color: inherit; }
:focus-visible { outline: 3px solid var(--soc); outline-offset: 2px; }
.skip { position: absolute; left: -100rem; } .skip:focus { left: 1rem; background: var(--card); }
.defs { position: absolute; }
.summary { display: grid; grid-template-columns: repeat(auto-fit, minmax(9rem, 1fr)); gap: .5rem;
  margin: 0; }
.summary div { display: flex; flex-direction: column-reverse; justify-content: flex-end;
  border-top: 2px solid var(--rule); padding-top: .25rem; }
dt { color: var(--faint); font-size: .875rem; line-height: 1.3; }
dd { margin: 0; font-size: 1.25rem; font-variant-numeric: tabular-nums; }
.wide { overflow-x: auto; }
table { border-collapse: collapse; width: 100%; font-variant-numeric: tabular-nums; }
th, td { padding: .3rem .6rem; text-align: right; border-bottom: 1px solid var(--rule);
  white-space: nowrap; }
th { font-weight: 600; } thead th { white-space: normal; vertical-align: bottom;
  color: var(--faint); font-size: .875rem; line-height: 1.2; }
th:first-child { text-align: left; padding-left: 0; }
.key { display: inline-block; width: .8em; height: .8em; margin-right: .5em; }
.key.load-0 { background: var(--load-0); } .key.load-1 { background: var(--load-1); }
.key.load-2 { background: var(--load-2); } .key.load-3 { background: var(--load-3); }
.key.load-4 { background: var(--load-4); }
.legend { display: flex; flex-wrap: wrap; gap: .25rem 1rem; list-style: none; padding: 0;
  margin: 1rem 0; font-size: .875rem; }
.legend svg { width: 1.75rem; height: .875rem; margin-right: .35rem; vertical-align: -.1rem; }
figure { margin: 0 0 1.5rem; padding: .75rem; background: var(--card);
  border: 1px solid var(--rule); scroll-margin-top: 1rem; }
figure svg { display: block; width: 100%; }
figcaption { color: var(--faint); font-size: .875rem; }
svg text { fill: var(--faint); font: 12px system-ui, sans-serif; text-anchor: end; }
svg .hour { text-anchor: middle; }
svg path { stroke: none; fill: none; }
svg .grid { stroke: var(--rule); }
svg .base { fill: var(--base); } svg .charge { fill: var(--charge); }
svg .load-0 { fill: var(--load-0); } svg .load-1 { fill: var(--load-1); }
svg .load-2 { fill: var(--load-2); } svg .load-3 { fill: var(--load-3); }
svg .load-4 { fill: var(--load-4); }
svg .unused { fill: url(#hatch); } svg .hatch-line { stroke: var(--unused); stroke-width: 2.5; }
svg .potential { stroke: var(--potential); stroke-width: 1.25; }
svg .start { stroke: var(--ink); stroke-width: .75; }
svg .soc { stroke: var(--soc); stroke-width: 2.25; }
svg .curve { stroke: var(--curve); stroke-width: 1.75; stroke-dasharray: 6 4; }
svg .floor { stroke: var(--floor); stroke-width: 1.5; stroke-dasharray: 2 3; }
@media (max-width: 40rem) {
  body { padding: .75rem; } figure { padding: .5rem; } figure svg text { font-size: 23px; }
  tbody th { white-space: normal; min-width: 11rem; }
}
@media print {
  body { max-width: none; padding: 0; font-size: 10pt; }
  figure, tr { break-inside: avoid; } .skip { display: none; }
  * { print-color-adjust: exact; -webkit-print-color-adjust: exact; }
}
`;
