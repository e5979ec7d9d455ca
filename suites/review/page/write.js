// Writing what is pencilled into the goldens, what was written, and how the page begins.

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
