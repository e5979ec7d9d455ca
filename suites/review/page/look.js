// One look, large: golden, capture and relief, blinking, eyepieces and notes.

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
