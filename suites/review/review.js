'use strict';
// The review page. Everything it decides about is pencilled here; only write() changes anything.
(() => {
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

// --- the run folded into changes, which comes when it is ready ---

let changes = [];
const takeChange = c => pencil(new Map(c.takes.map(t => [t.look, t.regions])), c.says);
function paintChanges() {
  const list = document.querySelector('#folded ol');
  for (const c of changes) {
    const what = document.createElement('p'), acts = document.createElement('p'), sum = c.takes.reduce((n, t) => n + t.regions.length, 0);
    what.className = 'says'; acts.className = 'acts';
    what.textContent = c.says + (c.seen === 'subtle' ? ' Hard to see.' : c.seen === 'no' ? ' Nobody sees it.' : '');
    if (c.first >= 0) {
      const a = document.createElement('a');
      a.href = '#look/' + c.first; a.textContent = 'one that shows it';
      acts.append(a, ' ');
    }
    if (sum) {
      const b = document.createElement('button');
      b.className = 'take'; b.dataset.change = c.rank;
      b.textContent = 'approve ' + plural(sum, 'region') + ' that show' + (sum === 1 ? 's' : '') + ' this alone, in ' + plural(c.takes.length, 'look');
      b.addEventListener('click', () => takeChange(c));
      acts.append(b);
    }
    const item = document.createElement('li');
    item.append(what, acts);
    list.append(item);
  }
  document.getElementById('folded').hidden = !changes.length;
}
data.then(() => json('folded')).then(list => { changes = list; paintChanges(); }).catch(e => toast('the changes cannot be folded: ' + e.message));

// --- the sheet: causes and trails ---

const svg = (name, cls) => {
  const s = document.createElementNS('http://www.w3.org/2000/svg', 'svg'), u = document.createElementNS(s.namespaceURI, 'use');
  s.setAttribute('viewBox', '0 0 16 16'); s.setAttribute('aria-hidden', 'true'); s.setAttribute('class', cls || 'mark');
  u.setAttribute('href', '#m-' + name); s.append(u);
  return s;
};
const el = (tag, cls, ...kids) => { const e = document.createElement(tag); if (cls) e.className = cls; e.append(...kids); return e; };
function setStatus(e, word, text) { e.replaceChildren(...(word ? [svg(word), ' ' + text] : [])); e.className = 'status ' + (word || ''); }

let dialTicks = new Map(), stops = new Map();
function buildSheet() {
  const dial = $('dial');
  let walk = null, ticks = null;
  for (const l of looks.values()) {
    if (l.walk !== walk) {
      walk = l.walk;
      ticks = el('span', 'ticks');
      dial.append(el('span', 'dial-walk', ticks, el('span', 'under', walk)));
    }
    const a = el('a', 'tick');
    a.href = '#look/' + l.n;
    ticks.append(a);
    dialTicks.set(l.n, a);
  }
  document.querySelectorAll('.stop[data-open]').forEach(a => stops.set(+a.dataset.look, a));
}

const painted = new Map();
function paintSheet() {
  let waiting = 0;
  for (const n of looks.keys()) {
    const s = status(n);
    if (s !== 'approved' && s !== 'pencilled' && s !== 'stale') waiting++;
    if (painted.get(n) === s) continue;
    painted.set(n, s);
    const l = looks.get(n), tick = dialTicks.get(n), stop = stops.get(n);
    tick.className = 'tick ' + s;
    tick.replaceChildren(svg(s));
    tick.title = l.walk + ' / ' + l.look + ': ' + (words[s] || s);
    tick.setAttribute('aria-label', tick.title);
    stop.querySelector('.station').replaceChildren(svg(s), el('span', 'word', words[s] || s));
    stop.dataset.state = s;
    stop.setAttribute('aria-label', tick.title);
  }
  document.querySelectorAll('.group').forEach(e => {
    const g = +e.dataset.group;
    let done = 0, marked = 0, all = 0;
    for (const [n, w] of inGroup(x => x === g)) {
      const own = w === 'all' ? [0] : w;
      for (const i of own) {
        all++;
        const s = w === 'all' ? (standing(n).approved ? 'approved' : marks.get(n) === 'all' ? 'pencilled' : 'open') : regionState(n, i);
        if (s === 'approved') done++; else if (s === 'pencilled') marked++;
      }
    }
    const s = e.querySelector('.status');
    e.classList.toggle('done', done + marked === all);
    if (done === all) setStatus(s, 'approved', 'approved');
    else if (marked + done === all) setStatus(s, 'pencilled', 'pencilled');
    else if (marked + done) setStatus(s, 'partly', marked + done + ' of ' + all);
    else setStatus(s, '');
  });
  $('verdict').textContent = waiting ? (waiting === 1 ? 'One look waits for your eye' : waiting + ' looks wait for your eye') : 'No look waits any more';
  paintTray();
}
function counts() {
  let whole = 0, parts = 0, regions = 0;
  for (const n of marks.keys()) {
    if (full(n)) whole++;
    else { parts++; regions += pencilledIn(n).size; }
  }
  return {whole, parts, regions};
}
function countsSay({whole, parts, regions}) {
  const say = [];
  if (whole) say.push(plural(whole, 'whole look'));
  if (regions) say.push(plural(regions, 'region') + ' of ' + plural(parts, whole ? 'other' : 'look'));
  return say.join(' and ');
}
function paintTray() {
  $('tray').hidden = !marks.size;
  document.body.classList.toggle('has-tray', marks.size > 0);
  $('pencilled').textContent = 'Pencilled: ' + countsSay(counts());
}

// --- one look, large ---

function go(n) { location.hash = n === null ? '' : 'look/' + n; }
async function route() {
  const m = /^#look\/(\d+)$/.exec(location.hash);
  const n = m ? +m[1] : null;
  if (n === null) {
    const from = at;
    at = null; detail = null; stopBlink();
    $('bench').hidden = true; $('sheet').hidden = false;
    document.title = document.title.replace(/^.* · /, '');
    if (from !== null) {
      const stop = document.querySelector('.stop[data-look="' + from + '"]');
      if (stop) { stop.scrollIntoView({block: 'center', inline: 'center'}); stop.focus({preventScroll: true}); }
    }
    return;
  }
  at = n;
  $('sheet').hidden = true; $('bench').hidden = false;
  scrollTo(0, 0);
  try {
    const d = await json('look/' + n);
    if (at !== n) return;
    detail = d;
    await openLook(n);
  } catch (e) { toast(e.message); }
}

function image(src) {
  const i = new Image();
  i.decoding = 'sync';
  i.src = base + src;
  i.alt = '';
  return i;
}
async function openLook(n) {
  const l = looks.get(n);
  document.title = detail.walk + ' / ' + detail.look + ' · ' + document.title.replace(/^.* · /, '');
  $('title').replaceChildren(el('span', 'of', detail.walk + ' / '), detail.look);
  $('where').textContent = detail.where;
  $('way').replaceChildren(...(detail.way.length ? [el('span', 'from', detail.before || 'start'), ...detail.way.map(w => el('span', 'input', w)), el('span', 'to', detail.look)] : [el('span', 'of', 'the first look of its walk')]));
  const order = [...looks.keys()], k = order.indexOf(n);
  $('count').textContent = k < 0 ? 'as approved' : (k + 1) + ' of ' + order.length;
  $('problem').hidden = !detail.problem && !detail.why;
  $('problem').textContent = detail.problem || detail.why || '';
  const fig = [];
  if (detail.golden[0] && (detail.golden[0] !== detail.size[0] || detail.golden[1] !== detail.size[1])) fig.push('golden ' + detail.golden.join('×') + ', capture ' + detail.size.join('×') + ' px');
  if (detail.changed) fig.push(plural(detail.changed, 'pixel') + ' changed');
  if (detail.ssim !== null && detail.changed) fig.push('SSIM ' + detail.ssim.toFixed(4));
  if (l && !detail.golden[0]) fig.push('nobody has approved a golden for this look yet');
  $('figures').textContent = fig.join(' · ');
  buildStage(n);
  buildNotes(n);
  // The largest region that waits is looked at first.
  const size = i => detail.regions[i].w * detail.regions[i].h * (regionState(n, i) === 'open' ? 1e9 : 1);
  region = detail.regions.length ? [...detail.regions.keys()].reduce((a, b) => size(b) > size(a) ? b : a) : 0;
  if (!detail.golden[0] && view.show !== 'capture') view.show = 'capture';
  centre();
  paintLook();
  $('stage').focus({preventScroll: true});
  startBlink();
  // The next finding's pictures are fetched while this one is looked at.
  const next = neighbour(1);
  if (next !== null) { image('pic/capture/' + next); if (looks.get(next).verdict === 'differs') image('pic/golden/' + next); }
}

const NS = 'http://www.w3.org/2000/svg';
function shape(name, attrs) { const e = document.createElementNS(NS, name); for (const k in attrs) e.setAttribute(k, attrs[k]); return e; }
function buildStage(n) {
  const p = $('panel');
  p.replaceChildren();
  delete pics.golden; delete pics.relief; delete pics.capture;
  if (!detail.size[0]) return;
  const [w, h] = detail.size;
  pics.capture = image('pic/capture/' + n);
  if (detail.golden[0]) pics.golden = image('pic/golden/' + n);
  for (const k of ['capture', 'golden']) if (pics[k]) { pics[k].className = 'layer ' + k; p.append(pics[k]); pics[k].decode().then(paintEyes, () => {}); }
  const s = shape('svg', {viewBox: '0 0 ' + w + ' ' + h, class: 'over', 'aria-hidden': 'true'});
  for (const m of detail.ignored || []) s.append(shape('rect', {class: 'mask', x: m.x, y: m.y, width: m.w, height: m.h}));
  detail.regions.forEach((r, i) => {
    const box = {x: r.x - 1.5, y: r.y - 1.5, width: r.w + 3, height: r.h + 3, 'data-i': i};
    s.append(shape('rect', {...box, class: 'case'}), shape('rect', {...box, class: 'ring'}));
  });
  s.append(shape('rect', {class: 'reticle-case', id: 'reticle-case', width: 11, height: 11}), shape('rect', {class: 'reticle', id: 'reticle', width: 11, height: 11}));
  p.append(s);
  p.onclick = e => {
    const b = p.getBoundingClientRect();
    eye = {x: Math.floor((e.clientX - b.left) / b.width * w), y: Math.floor((e.clientY - b.top) / b.height * h)};
    const hit = detail.regions.findIndex(r => eye.x >= r.x - 2 && eye.x < r.x + r.w + 2 && eye.y >= r.y - 2 && eye.y < r.y + r.h + 2);
    if (hit >= 0) region = hit;
    paintLook();
  };
  fit();
}

// fit gives the panel whole device pixels for each of its own.
function fit() {
  if (!detail || !detail.size[0]) return;
  const [w, h] = detail.size, dpr = devicePixelRatio || 1, stage = $('stage');
  const wide = stage.clientWidth, high = Math.max(innerHeight * .68, 240);
  const most = Math.max(1, Math.floor(Math.min(wide * dpr / w, innerWidth > 720 ? high * dpr / h : 99)));
  let k = view.size ? Math.min(view.size, 8) : most;
  const p = $('panel');
  p.style.width = w * k / dpr + 'px';
  p.style.height = h * k / dpr + 'px';
  $('scale').textContent = '×' + k;
  return k;
}

function buildNotes(n) {
  const ul = $('notes');
  ul.replaceChildren();
  const groups = new Map();
  detail.regions.forEach((r, i) => { if (!groups.has(r.group)) groups.set(r.group, []); groups.get(r.group).push(i); });
  for (const [g, own] of groups) {
    const b = el('button', 'note', el('span', 'note-mark'), el('span', 'note-name', ...spoken(g)), el('span', 'of', own.length > 1 ? own.length + ' regions' : 'region ' + (own[0] + 1)));
    b.onclick = () => { region = own[(own.indexOf(region) + 1) % own.length]; centre(); paintLook(); };
    const li = el('li', '', b);
    li.own = own;
    ul.append(li);
  }
  if (!detail.regions.length) for (const c of detail.causes) ul.append(el('li', 'plain', c.says + ' ', el('span', 'of', c.cause + ', ' + Math.round(c.confidence * 100) + ' % sure')));
}

// spoken writes a group for people, its colours shown.
function spoken(g) {
  return g.replace(/ from=| to=/g, m => m === ' to=' ? ' to ' : ' from ').split(/(#[0-9a-f]{6})/).map(p => {
    if (!/^#[0-9a-f]{6}$/.test(p)) return p;
    const s = el('i', 'chip');
    s.style.background = p;
    return el('code', '', s, p);
  });
}

function centre() {
  const r = detail.regions[region];
  eye = r ? {x: r.eye[0], y: r.eye[1]} : {x: detail.size[0] >> 1, y: detail.size[1] >> 1};
}

function paintLook() {
  if (!detail) return;
  const n = at, l = looks.get(n);
  const s = l ? status(n) : null;
  setStatus($('look-status'), s && words[s] ? s : '', words[s] || '');
  document.querySelector('.acts.whole').hidden = !l || !!detail.problem;
  $('take-look').textContent = marks.get(n) === 'all' ? 'take this look back' : detail.golden[0] ? 'approve the whole look' : 'make it the golden';
  const r = detail.regions[region];
  $('region').hidden = !r || !l;
  if (r && l) {
    $('region-count').textContent = 'region ' + (region + 1) + ' of ' + detail.regions.length;
    $('region-says').textContent = r.says;
    $('region-else').textContent = r.cause + ', ' + Math.round(r.confidence * 100) + ' % sure' + (r.instead && r.instead.length ? ' · or: ' + r.instead.map(c => c.says).join(' Or: ') : '');
    const rs = regionState(n, region);
    setStatus($('region-status'), rs === 'open' ? '' : rs, rs);
    const g = l.groups[region], reach = inGroup(x => x === g);
    let sum = 0; reach.forEach(w => sum += w.length);
    $('take-group').textContent = 'all ' + sum + ' like it, in ' + plural(reach.size, 'look');
    $('take-group').parentElement.hidden = sum < 2;
    const c = index.groups[g].cause, more = inGroup(x => index.groups[x].cause === c);
    let all = 0; more.forEach(w => all += w.length);
    $('take-cause').textContent = 'everything ' + index.groups[g].causeIs + ', in ' + plural(more.size, 'look');
    $('take-cause').parentElement.hidden = all === sum;
  }
  document.querySelectorAll('#panel .ring, #panel .case').forEach(e => {
    const i = +e.dataset.i;
    e.classList.toggle('here', i === region);
    if (e.classList.contains('ring')) e.setAttribute('class', 'ring ' + (l ? regionState(n, i) : 'open') + (i === region ? ' here' : ''));
  });
  for (const li of $('notes').children) {
    if (!li.own) continue;
    const states = li.own.map(i => regionState(n, i));
    const done = states.every(x => x !== 'open'), some = states.some(x => x !== 'open');
    li.firstChild.classList.toggle('here', li.own.includes(region));
    li.querySelector('.note-mark').replaceChildren(svg(done ? (states.every(x => x === 'approved') ? 'approved' : 'pencilled') : some ? 'partly' : 'differs'));
  }
  press();
  paintEyes();
}
function press() {
  const on = {blink: view.blink, golden: !view.blink && view.show === 'golden', capture: !view.blink && view.show === 'capture', relief: view.show === 'relief' && !view.blink, rings: view.rings, magnify: view.eyes};
  for (const k in on) document.querySelector('.levers [data-do=' + k + ']').setAttribute('aria-pressed', on[k]);
  $('rate').textContent = view.rate.toFixed(1) + ' / s';
  $('rate').parentElement.classList.toggle('on', view.blink);
  $('panel').classList.toggle('bare', !view.rings);
  $('eyes').hidden = !view.eyes || !detail || !detail.size[0];
  light(view.blink ? lit : view.show);
  kept.set('view', view);
}
function light(which) {
  lit = which;
  for (const k of ['golden', 'capture', 'relief']) {
    $('panel').classList.toggle('show-' + k, k === which);
    $('shown-' + k).classList.toggle('on', k === which);
  }
}

// Three changes a second is the most: WCAG 2.3.1 allows three flashes.
const rates = [.3, .5, 1, 1.5, 2, 3];
function startBlink() {
  stopBlink();
  if (!view.blink || !detail || !detail.golden[0]) return;
  light('golden');
  ticker = setInterval(() => light(lit === 'golden' ? 'capture' : 'golden'), 1000 / view.rate);
}
function stopBlink() { clearInterval(ticker); ticker = 0; }
function blink(on) { view.blink = on && !!(detail && detail.golden[0]); if (!view.blink) { stopBlink(); if (view.show === 'relief') view.show = 'capture'; } else if (view.show === 'relief') view.show = 'capture'; press(); startBlink(); }
function rate(step) {
  const i = Math.min(Math.max(rates.indexOf(view.rate) + step, 0), rates.length - 1);
  view.rate = rates[i];
  if (!view.blink) view.blink = true;
  press(); startBlink();
}
function show(what) {
  if (what !== 'capture' && !(detail && detail.golden[0])) { toast('this look had no golden'); return; }
  if (what === 'relief') {
    if (view.show === 'relief' && !view.blink) what = 'capture';
    else if (!pics.relief) {
      pics.relief = image('pic/relief/' + at);
      pics.relief.className = 'layer relief';
      pics.relief.onerror = () => { toast('there is no SSIM between these pictures'); show('capture'); };
      $('panel').insertBefore(pics.relief, $('panel').lastChild);
    }
  }
  view.blink = false; view.show = what;
  stopBlink(); press();
}

// --- eyepieces ---

const span = 11; // px of the panel, odd: the middle one is asked about
let asked = 0;
function paintEyes() {
  if (!detail || !view.eyes || !detail.size[0]) return;
  eye.x = Math.min(Math.max(eye.x, 0), detail.size[0] - 1);
  eye.y = Math.min(Math.max(eye.y, 0), detail.size[1] - 1);
  const half = span >> 1;
  for (const id of ['reticle', 'reticle-case']) if ($(id)) { $(id).setAttribute('x', eye.x - half); $(id).setAttribute('y', eye.y - half); }
  for (const k of ['golden', 'capture']) {
    const c = $('eye-' + k), dpr = devicePixelRatio || 1, cell = Math.max(1, Math.round(c.clientWidth * dpr / span));
    const side = cell * span;
    if (c.width !== side) c.width = c.height = side;
    const g = c.getContext('2d');
    g.imageSmoothingEnabled = false;
    g.fillStyle = getComputedStyle(c).backgroundColor;
    g.fillRect(0, 0, side, side);
    if (!pics[k] || !pics[k].complete || !pics[k].naturalWidth) continue;
    // Draw the part that lies on the panel; what is beyond stays plate.
    const x0 = Math.max(eye.x - half, 0), y0 = Math.max(eye.y - half, 0);
    const x1 = Math.min(eye.x + half + 1, pics[k].naturalWidth), y1 = Math.min(eye.y + half + 1, pics[k].naturalHeight);
    if (x1 > x0 && y1 > y0) g.drawImage(pics[k], x0, y0, x1 - x0, y1 - y0, (x0 - eye.x + half) * cell, (y0 - eye.y + half) * cell, (x1 - x0) * cell, (y1 - y0) * cell);
    g.fillStyle = 'rgba(128,128,128,.55)';
    for (let i = 1; i < span; i++) { g.fillRect(i * cell, 0, 1, side); g.fillRect(0, i * cell, side, 1); }
    const w = Math.max(2, Math.round(dpr * 2));
    g.lineWidth = w + 2; g.strokeStyle = '#241302'; g.strokeRect(half * cell, half * cell, cell, cell);
    g.lineWidth = w; g.strokeStyle = '#fff'; g.strokeRect(half * cell, half * cell, cell, cell);
  }
  $('at').textContent = eye.x + ', ' + eye.y;
  const mine = ++asked, n = at;
  json('probe/' + n + '?x=' + eye.x + '&y=' + eye.y).then(p => {
    if (mine !== asked) return;
    $('hex-golden').textContent = detail.golden[0] ? p.golden : 'none';
    $('hex-capture').textContent = p.capture;
    $('de').textContent = detail.golden[0] ? 'Δ ' + p.de.toFixed(p.de < 10 ? 2 : 1) : '';
    $('meaning').textContent = !detail.golden[0] ? '' : p.de === 0 ? 'the same colour' : p.de < 1 ? 'hardly to be seen' : p.de < 3 ? 'seen side by side' : p.de < 10 ? 'seen at a glance' : 'another colour';
  }, () => { if (mine === asked) { $('hex-golden').textContent = $('hex-capture').textContent = '–'; $('de').textContent = ''; $('meaning').textContent = ''; } });
}

// --- steps ---

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

// --- writing ---

function orderOf() {
  return [...marks.keys()].sort((a, b) => a - b).map(n => marks.get(n) === 'all' ? {look: n} : {look: n, regions: [...pencilledIn(n)].sort((a, b) => a - b)});
}
function openWrite() {
  if (!marks.size) { toast('nothing is pencilled yet'); return; }
  $('write-says').textContent = countsSay(counts()) + (counts().regions ? '. A look keeps its golden until all of its regions are approved.' : '. Their captures become the goldens.');
  $('write-list').replaceChildren(...[...marks.keys()].sort((a, b) => a - b).map(n => {
    const l = looks.get(n);
    return el('li', '', svg(full(n) ? 'pencilled' : 'partly'), ' ' + l.walk + ' / ' + l.look + ' ', el('span', 'of', full(n) ? 'whole' : pencilledIn(n).size + ' of ' + regionsOf(n) + ' regions'));
  }));
  $('write-error').hidden = true;
  $('write').showModal();
  $('why').focus();
}
function listen() { $('write-form').addEventListener('submit', async e => {
  e.preventDefault();
  if (writing) return;
  writing = true;
  try {
    state = await json('write', {method: 'POST', headers: {'Content-Type': 'application/json'}, body: JSON.stringify({who: $('who').value, why: $('why').value, wants: orderOf()})});
    marks.clear(); stack = [];
    $('why').value = '';
    $('write').close();
    changed();
    paintSummary();
    at = null;
    go(null);
    await route();
    scrollTo(0, 0);
    toast('written');
  } catch (err) {
    $('write-error').textContent = err.message + ' Nothing was written.';
    $('write-error').hidden = false;
  } finally { writing = false; }
}); }

function paintSummary() {
  const s = $('summary');
  s.hidden = !state.written || !state.written.length;
  if (s.hidden) return;
  s.replaceChildren(el('h2', '', 'Written in this sitting'));
  if (state.note) s.append(el('p', 'why', state.note));
  for (const w of [...state.written].reverse()) {
    const whole = w.deeds.filter(d => !d.regions), parts = w.deeds.filter(d => d.regions);
    const say = [];
    if (whole.length) say.push(plural(whole.length, 'look') + (whole.length === 1 ? ' has' : ' have') + ' a new golden');
    if (parts.length) say.push(plural(parts.reduce((n, d) => n + d.regions.length, 0), 'region') + ' of ' + plural(parts.length, 'look') + ' approved, which still ' + (parts.length === 1 ? 'differs' : 'differ') + ' in the rest');
    const list = el('ul', 'members', ...w.deeds.map(d => {
      const l = looks.get(d.look);
      const li = el('li', '', svg(d.regions ? 'partly' : 'approved'), ' ' + l.walk + ' / ' + l.look + ' ');
      li.append(el('span', 'of', d.regions ? plural(d.regions.length, 'region') : 'pixels ' + (d.entry.sha256 || '').slice(0, 12)));
      return li;
    }));
    s.append(el('article', 'entry', el('p', 'says', '“' + w.why + '”'), el('p', '', say.join('; ') + '.'), el('p', 'of', w.who + ', ' + w.when.replace('T', ' ').slice(0, 16) + ' UTC'), el('details', '', el('summary', '', 'which'), list)));
  }
  s.append(el('p', 'of', 'It is in golden/ledger.jsonl, with the pictures beside it: commit them together.'));
}

let toasting = 0;
function toast(text) {
  $('toast').textContent = text;
  $('toast').classList.add('on');
  clearTimeout(toasting);
  toasting = setTimeout(() => $('toast').classList.remove('on'), 2600);
}

addEventListener('beforeunload', e => { if (marks.size) e.preventDefault(); });
addEventListener('hashchange', route);
addEventListener('resize', () => { fit(); paintEyes(); });

(async () => {
  try {
    [index, state] = await data;
    if (document.readyState === 'loading') await new Promise(done => addEventListener('DOMContentLoaded', done));
    listen();
    index.looks = index.looks || [];
    for (const l of index.looks) looks.set(l.n, l);
    for (const [n, m] of kept.get('marks') || []) if (looks.has(n) && !settled(n)) thaw(n, m);
    stack = kept.get('stack') || [];
    if (matchMedia('(prefers-reduced-motion: reduce)').matches) view.blink = false;
    buildSheet();
    paintSheet();
    paintSummary();
    await route();
    if (at === null) $('sheet').hidden = false;
    document.documentElement.dataset.ready = Math.round(performance.now());
  } catch (e) {
    $('sheet').hidden = false;
    $('verdict').textContent = e.message;
  }
})();
})();
