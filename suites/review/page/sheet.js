// The sheet: the changes, causes and trails of a run, and what is pencilled of them.

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
