// What everything else rests on: the run, what is approved of it, and what is pencilled.

const $ = id => document.getElementById(id);
const base = location.pathname;
const kept = {get: k => { try { return JSON.parse(sessionStorage.getItem(base + k)); } catch { return null; } },
  set: (k, v) => sessionStorage.setItem(base + k, JSON.stringify(v))};
const plural = (n, word) => n + ' ' + word + (n === 1 ? '' : 's');

let index, looks = new Map(), state = {standings: {}, written: []};
let marks = new Map();  // look -> 'all' or a Set of regions
let stack = [];         // what to put back, newest last
let at = null;          // the look that is open
let detail = null, region = 0, eye = {x: 0, y: 0};
const view = Object.assign({show: 'capture', blink: false, rate: 1, rings: true, eyes: true, size: 0}, kept.get('view'));
let lit = 'capture', ticker = 0, busy = false, writing = false;
const pics = {};

const data = Promise.all([json('index'), json('state')]); // while the page is still being read
data.catch(() => {});

async function json(path, options) {
  const r = await fetch(base + path, options);
  const body = await r.json();
  if (!r.ok) throw new Error(body.error);
  return body;
}

// --- what is pencilled, what is approved ---

const standing = n => state.standings[n] || {};
const settled = n => standing(n).approved || standing(n).stale;
const regionsOf = n => looks.get(n).groups.length;
const approvedIn = n => new Set(standing(n).regions || []);
const pencilledIn = n => { const m = marks.get(n); return m instanceof Set ? m : new Set(); };
function full(n) {
  if (marks.get(n) === 'all') return true;
  const total = regionsOf(n);
  return total > 0 && pencilledIn(n).size > 0 && new Set([...pencilledIn(n), ...approvedIn(n)]).size === total;
}
function status(n) {
  const s = standing(n);
  if (s.approved) return 'approved';
  if (s.stale) return 'stale';
  if (full(n)) return 'pencilled';
  if (pencilledIn(n).size || (s.regions || []).length) return 'partly';
  return looks.get(n).verdict;
}
const words = {approved: 'approved', stale: 'golden is newer', pencilled: 'pencilled', partly: 'in part'};
function regionState(n, i) {
  if (standing(n).approved || approvedIn(n).has(i)) return 'approved';
  if (marks.get(n) === 'all' || pencilledIn(n).has(i)) return 'pencilled';
  return 'open';
}

// pencil marks what wants says, a map from look to 'all' or to regions; again takes it back.
function pencil(wants, what) {
  const todo = new Map();
  let fresh = false;
  for (const [n, w] of wants) {
    if (settled(n)) continue;
    if (w === 'all') { todo.set(n, w); if (marks.get(n) !== 'all') fresh = true; continue; }
    const open = w.filter(i => !approvedIn(n).has(i));
    if (!open.length) continue;
    todo.set(n, open);
    if (marks.get(n) !== 'all' && open.some(i => !pencilledIn(n).has(i))) fresh = true;
  }
  if (!todo.size) { toast('nothing of that is left to approve'); return; }
  const was = [...todo.keys()].map(n => [n, frozen(n)]);
  for (const [n, w] of todo) {
    if (fresh) {
      if (w === 'all') marks.set(n, 'all');
      else if (marks.get(n) !== 'all') marks.set(n, new Set([...pencilledIn(n), ...w]));
    } else if (w === 'all') marks.delete(n);
    else {
      const own = marks.get(n) === 'all' ? new Set(looks.get(n).groups.keys()) : pencilledIn(n);
      w.forEach(i => own.delete(i));
      own.size ? marks.set(n, own) : marks.delete(n);
    }
  }
  stack.push({what, was});
  toast((fresh ? 'pencilled: ' : 'taken back: ') + what);
  changed();
}
const frozen = n => { const m = marks.get(n); return m instanceof Set ? [...m] : m || null; };
const thaw = (n, m) => m === null ? marks.delete(n) : marks.set(n, m === 'all' ? m : new Set(m));

function undo() {
  const last = stack.pop();
  if (!last) { toast('nothing is pencilled'); return; }
  last.was.forEach(([n, m]) => thaw(n, m));
  toast('taken back: ' + last.what);
  changed();
}
function clear() { marks.clear(); stack = []; toast('all of it is taken back'); changed(); }

function changed() {
  kept.set('marks', [...marks.keys()].map(n => [n, frozen(n)]));
  kept.set('stack', stack);
  paintSheet();
  if (at !== null) paintLook();
}

function inGroup(g) {
  const wants = new Map();
  for (const l of looks.values()) {
    const own = [...l.groups.keys()].filter(i => g(l.groups[i]));
    if (own.length) wants.set(l.n, own);
    else if (l.whole.length === 1 && g(l.whole[0])) wants.set(l.n, 'all');
  }
  return wants;
}
const takeGroup = g => pencil(inGroup(x => x === g), index.groups[g].name);
const takeCause = c => pencil(inGroup(x => index.groups[x].cause === c), 'all of ' + index.groups.find(g => g.cause === c).causeIs);
const takeLook = n => pencil(new Map([[n, 'all']]), looks.get(n).walk + ' / ' + looks.get(n).look);
