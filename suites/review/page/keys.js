// Steps from look to look, keys and levers.

function neighbour(step) {
  const order = [...looks.keys()];
  if (!order.length) return null;
  let k = at === null ? (step > 0 ? -1 : order.length) : order.indexOf(at);
  if (at !== null && k < 0) { k = order.findIndex(n => n > at); k = step > 0 ? k - 1 : k < 0 ? order.length : k; }
  for (let i = 0; i < order.length; i++) {
    k = (k + step + order.length) % order.length;
    if (order[k] !== at && (step < 0 || !['approved', 'pencilled', 'stale'].includes(status(order[k])))) return order[k];
  }
  return null;
}
function step(by) {
  const n = neighbour(by);
  if (n === null) { toast(looks.size ? 'no other look waits' : 'nothing waits'); return; }
  go(n);
}
function nextRegion(by) {
  if (!detail || !detail.regions.length) return;
  region = (region + by + detail.regions.length) % detail.regions.length;
  centre(); paintLook();
}
const groupHere = () => { const e = document.activeElement.closest && document.activeElement.closest('.group'); return e ? +e.dataset.group : null; };

const acts = {
  next: () => step(1), prev: () => step(-1), close: () => go(null),
  blink: () => blink(!view.blink), slower: () => rate(-1), faster: () => rate(1),
  golden: () => show('golden'), capture: () => show('capture'), relief: () => show('relief'),
  rings: () => { view.rings = !view.rings; press(); },
  magnify: () => { view.eyes = !view.eyes; press(); paintEyes(); },
  size: () => { const k = fit() || 1; view.size = k >= 4 ? 1 : k + 1; fit(); press(); },
  'region-next': () => nextRegion(1), 'region-before': () => nextRegion(-1),
  look: () => looks.has(at) && !detail.problem && takeLook(at),
  region: () => detail && detail.regions[region] && pencil(new Map([[at, [region]]]), 'region ' + (region + 1) + ' of ' + detail.look),
  undo, clear, write: openWrite, cancel: () => $('write').close(),
  group: e => { const g = e && e.dataset.group !== undefined ? +e.dataset.group : at !== null ? here() : groupHere(); if (g !== null && g !== undefined) takeGroup(g); },
  cause: e => { const c = e && e.dataset.cause !== undefined ? +e.dataset.cause : at !== null ? causeAt(here()) : causeAt(groupHere()); if (c !== undefined) takeCause(c); },
};
const here = () => looks.has(at) ? (looks.get(at).groups.length ? looks.get(at).groups[region] : looks.get(at).whole[0]) : undefined;
const causeAt = g => g === null || g === undefined ? undefined : index.groups[g].cause;

const keys = {n: 'next', p: 'prev', w: 'write', u: 'undo', e: 'group', a: 'cause'};
const benchKeys = {b: 'blink', s: 'slower', f: 'faster', g: 'golden', c: 'capture', r: 'relief', x: 'rings', z: 'size', m: 'magnify', o: 'region-next', i: 'region-before', y: 'look', t: 'region', Escape: 'close'};
document.addEventListener('keydown', e => {
  if (!index || e.ctrlKey || e.metaKey || e.altKey || $('write').open || /^(INPUT|TEXTAREA)$/.test(e.target.tagName)) return;
  const k = e.key.length === 1 ? e.key.toLowerCase() : e.key;
  const arrows = {ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1]}[k];
  if (at !== null) {
    if (arrows && detail && (document.activeElement === $('stage') || document.activeElement === document.body)) {
      const far = e.shiftKey ? 10 : 1;
      eye.x += arrows[0] * far; eye.y += arrows[1] * far;
      paintEyes(); e.preventDefault(); return;
    }
    const act = benchKeys[k] || keys[k];
    if (act && (detail || act === 'close')) { acts[act](); e.preventDefault(); }
    return;
  }
  if (arrows) { if (walkTrail(...arrows)) e.preventDefault(); return; }
  if (k === 'y') { const s = document.activeElement.closest('.stop[data-open]'); if (s) { takeLook(+s.dataset.look); e.preventDefault(); } return; }
  if (keys[k]) { acts[keys[k]](); e.preventDefault(); }
});
function walkTrail(dx, dy) {
  const on = document.activeElement.closest && document.activeElement.closest('.stop');
  const group = document.activeElement.closest && document.activeElement.closest('.group');
  if (group && dy) {
    const all = [...document.querySelectorAll('.group')], next = all[all.indexOf(group) + dy];
    if (next) { next.querySelector('[data-do=group]').focus(); next.scrollIntoView({block: 'nearest'}); return true; }
    return false;
  }
  if (!on) return false;
  const li = on.closest('.leg');
  let to;
  if (dx) { const x = dx > 0 ? li.nextElementSibling : li.previousElementSibling; to = x && x.querySelector('.stop'); }
  else { const w = on.closest('.walk'), x = dy > 0 ? w.nextElementSibling : w.previousElementSibling; to = x && x.classList.contains('walk') && x.querySelector('.stop'); }
  if (!to) return false;
  to.focus({preventScroll: true});
  to.scrollIntoView({block: 'nearest', inline: 'center'});
  return true;
}
document.addEventListener('click', e => {
  const b = e.target.closest('[data-do]');
  if (!b || !index) return;
  acts[b.dataset.do](b);
  if (at !== null && b.closest('.levers')) $('stage').focus({preventScroll: true});
});
