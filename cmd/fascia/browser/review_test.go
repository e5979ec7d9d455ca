package browser

import (
	"bufio"
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"image"
	"math"
	"net"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"github.com/fascia-bench/fascia/capture/picture"
	"github.com/fascia-bench/fascia/cmd/fascia/internal/built"
	"github.com/fascia-bench/fascia/compare"
	"github.com/fascia-bench/fascia/golden"
	"github.com/fascia-bench/fascia/suites/demo"
	"github.com/fascia-bench/fascia/suites/desktest"
	"github.com/fascia-bench/fascia/suites/record"
)

// upgraded unpacks the demo and walks its upgrade.
func upgraded(t *testing.T) (dir, runDir string) {
	t.Helper()
	dir = t.TempDir()
	if err := demo.Unpack(dir); err != nil {
		t.Fatal(err)
	}
	out := built.Run(t, built.Differs, "run", "--bench", filepath.Join(dir, demo.UpgradeFile))
	_, page, ok := strings.Cut(out, "report: ")
	if !ok {
		t.Fatalf("no report named in %s", out)
	}
	return dir, filepath.Dir(strings.TrimSpace(page))
}

func lookOf(t *testing.T, run *record.Run, walk, look string) (int, record.Look) {
	t.Helper()
	for i, l := range run.Looks {
		if l.Walk == walk && l.Look == look {
			return i, l
		}
	}
	t.Fatalf("the run has no look %s/%s", walk, look)
	return 0, record.Look{}
}

// goTo opens a look by its address.
func (b browser) goTo(run *record.Run, walk, look string) record.Look {
	b.t.Helper()
	i, l := lookOf(b.t, run, walk, look)
	eval[any](b, fmt.Sprintf("location.hash = 'look/%d'", i))
	b.look(walk + " / " + look)
	return l
}

// A person goes through the findings by keyboard, looks in every way, approves a look, a region and a
// cause, takes some of it back, reloads and writes: ledger, pictures and the next run are right.
func TestReviewInBrowser(t *testing.T) {
	dir, runDir := upgraded(t)
	rec, err := record.Load(runDir)
	if err != nil {
		t.Fatal(err)
	}
	url, _, stop := built.Serve(t, "review", runDir, "--by", "Ada Fern")
	b := newBrowser(t)
	b.open(url)
	if got := b.text("verdict"); got != "33 looks wait for your eye" {
		t.Errorf("it begins with %q", got)
	}
	b.shoot("a1-sheet")
	b.usable("the sheet")

	// The folded changes, one of which is pencilled as a whole and taken back.
	b.until("!document.getElementById('folded').hidden", "the changes, folded")
	if got := eval[string](b, "document.querySelector('#folded li .says').textContent"); !strings.HasPrefix(got, "Text is cut short") {
		t.Errorf("the first change is %q", got)
	}
	eval[any](b, "[...document.querySelectorAll('#folded li')].find(e => e.textContent.startsWith('Colour #efaa39')).querySelector('button').click()")
	b.until("document.getElementById('pencilled').textContent.includes(' regions of ')", "a folded change pencilled")
	b.shoot("a1-folded")
	b.press("u")
	b.until("!document.getElementById('pencilled').textContent.includes(' regions of ')", "the change taken back")

	// Step through, by keys alone.
	b.press("n")
	b.look("about / focus on settings")
	b.press("n")
	b.look("alarm / tank is low")
	b.shoot("a2-look")
	b.usable("a look")
	if got := b.text("region-count"); got != "region 19 of 21" {
		t.Errorf("the largest region is not looked at first: %q", got)
	}
	b.press("o")
	if got := b.text("region-count"); got != "region 20 of 21" {
		t.Errorf("o went to %q", got)
	}
	b.press("p")
	b.look("about / focus on settings")
	b.press("n")
	b.look("alarm / tank is low")
	ways(t, b, runDir, rec)

	// One look, one region, one group over many looks, one cause; and two of them taken back.
	b.goTo(rec, "home", "mild")
	b.press("y")
	b.until("document.getElementById('look-status').textContent.trim() === 'pencilled'", "a look pencilled")
	l := b.goTo(rec, "schedule", "focus by key")
	b.press("t")
	b.goTo(rec, "alarm", "frost")
	for !strings.Contains(b.text("region-says"), "changed colour") {
		b.press("o")
	}
	b.press("e")
	b.until("document.getElementById('pencilled').textContent.includes('24 regions of')", "a group pencilled over looks")
	b.shoot("a4-pencilled")
	b.goTo(rec, "day chart", "a day in May")
	b.press("y", "u")
	b.until("document.getElementById('look-status').textContent.trim() === ''", "taking back")
	b.press(escape)
	b.until("!document.getElementById('sheet').hidden", "the sheet")
	was := b.text("pencilled")
	b.do(chromedp.Reload(), chromedp.WaitReady("html[data-ready]"))
	if got := b.text("pencilled"); got != was || !strings.Contains(was, "1 whole look and 24 regions of 17 others") {
		t.Errorf("pencilled are %q, before reloading %q", got, was)
	}
	before, err := os.ReadFile(filepath.Join(dir, "golden", "ledger.jsonl"))
	if err != nil {
		t.Fatal(err)
	}
	b.press("w")
	b.until("document.getElementById('write').open", "the order")
	b.fill("why", "new accent colour")
	b.shoot("a5-write")
	b.usable("the order")
	b.press("\r")
	b.until("!document.getElementById('summary').hidden", "the summary")
	b.shoot("a6-summary")
	if got := b.text("summary"); !strings.Contains(got, "1 look has a new golden; 24 regions of 17 looks approved") || !strings.Contains(got, "new accent colour") {
		t.Errorf("the summary says %q", got)
	}

	// On disk.
	after, err := os.ReadFile(filepath.Join(dir, "golden", "ledger.jsonl"))
	if err != nil || !bytes.HasPrefix(after, before) {
		t.Fatalf("the ledger lost lines: %v", err)
	}
	boxes := map[string]int{}
	for line := range bytes.Lines(after[len(before):]) {
		var e golden.Entry
		if err := json.Unmarshal(line, &e); err != nil {
			t.Fatal(err)
		}
		if e.Who != "Ada Fern" || e.Why != "new accent colour" || e.Run != rec.Run || e.Library != "draw-2" {
			t.Errorf("line %s", line)
		}
		if e.Box == nil {
			boxes[e.Walk+"/"+e.Look+" whole"]++
		} else {
			boxes["part"]++
		}
	}
	if boxes["home/mild whole"] != 1 || boxes["part"] != 24 || len(boxes) != 2 {
		t.Errorf("the ledger gained %v", boxes)
	}
	samePicture(t, filepath.Join(dir, "golden/fernhouse-320/home/mild.png"), filepath.Join(runDir, "home/mild.png"))
	samePicture(t, filepath.Join(dir, "golden/fernhouse-320/schedule/focus-by-key.png"), filepath.Join(runDir, filepath.FromSlash(l.Golden)))
	built.Run(t, built.OK, "golden", "check", "--bench", filepath.Join(dir, demo.BenchFile))
	out := built.Run(t, built.Differs, "run", "--bench", filepath.Join(dir, demo.UpgradeFile))
	if !regexp.MustCompile(`50 looks: 18 same, 32 differ`).MatchString(out) {
		t.Errorf("the next run says %s", out)
	}

	// The rest of a look makes it the golden.
	b.goTo(rec, "alarm", "frost")
	b.press("y", "w")
	b.until("document.getElementById('write').open", "the order")
	b.fill("why", "rounder corners")
	b.press("\r")
	b.until("document.getElementById('summary').textContent.includes('rounder corners')", "the second summary")
	samePicture(t, filepath.Join(dir, "golden/fernhouse-320/alarm/frost.png"), filepath.Join(runDir, "alarm/frost.png"))

	// A whole cause, over all looks that have it: where nothing else differs the look has its golden.
	b.goTo(rec, "start", "home")
	b.press("a", "w")
	b.until("document.getElementById('write').open", "the order")
	b.fill("why", "smoother corners")
	b.press("\r")
	b.until("document.getElementById('summary').textContent.includes('smoother corners')", "the third summary")
	samePicture(t, filepath.Join(dir, "golden/fernhouse-320/start/home.png"), filepath.Join(runDir, "start/home.png"))
	samePicture(t, filepath.Join(dir, "golden/fernhouse-320/languages/home-in-deutsch.png"), filepath.Join(runDir, "languages/home-in-deutsch.png"))
	out = built.Run(t, built.Differs, "run", "--bench", filepath.Join(dir, demo.UpgradeFile))
	if strings.Contains(out, "start / home: differs") || strings.Contains(out, "are drawn differently") || !strings.Contains(out, "day chart / a day in May: differs") {
		t.Errorf("after the edges were approved a run says %s", out)
	}
	if said := stop(); !strings.Contains(said, "approved: home / mild") || !strings.Contains(said, "approved: schedule / focus by key, 1 of 2 regions") || !strings.Contains(said, "by Ada Fern: rounder corners") {
		t.Errorf("at the end the command said %s", said)
	}
	built.Run(t, built.OK, "golden", "check", "--bench", filepath.Join(dir, demo.BenchFile))
}

// ways looks at the open look in each way, and proves what is shown against the pictures.
func ways(t *testing.T, b browser, runDir string, rec *record.Run) {
	t.Helper()
	_, l := lookOf(t, rec, "alarm", "tank is low")
	g, err1 := picture.Read(filepath.Join(runDir, filepath.FromSlash(l.Golden)))
	c, err2 := picture.Read(filepath.Join(runDir, filepath.FromSlash(l.Capture)))
	if err := errors.Join(err1, err2); err != nil {
		t.Fatal(err)
	}
	shown := func(what string) string {
		return fmt.Sprintf("document.getElementById('panel').classList.contains('show-%s') && document.getElementById('shown-%[1]s').classList.contains('on')", what)
	}
	b.press("g")
	b.until(shown("golden"), "the golden")
	b.press("c")
	b.until(shown("capture"), "the capture")
	b.press("r")
	b.until(shown("relief")+" && document.querySelector('.layer.relief').naturalWidth === 320", "the relief")
	b.shoot("a3-relief")
	b.press("b")
	for range 2 {
		b.until(shown("golden"), "blinking")
		b.until(shown("capture"), "blinking")
	}
	for _, step := range []struct{ key, want string }{{"f", "1.5 / s"}, {"f", "2.0 / s"}, {"f", "3.0 / s"}, {"f", "3.0 / s"}, {"s", "2.0 / s"}} {
		b.press(step.key)
		if got := b.text("rate"); got != step.want {
			t.Errorf("after %s the rate is %q, want %q", step.key, got, step.want)
		}
	}
	b.press("b")
	b.until(shown("capture"), "no blinking")

	// Whole device pixels for each of the panel's, at every size.
	for range 5 {
		if k := eval[float64](b, "document.getElementById('panel').clientWidth * devicePixelRatio / 320"); k != math.Trunc(k) || k < 1 {
			t.Errorf("a pixel of the panel takes %v", k)
		}
		b.press("z")
	}
	// The eyepieces go where the arrows lead, and show and tell what is in the pictures.
	var x, y int
	for _, key := range []string{arrowLeft, arrowDown, arrowRight, arrowRight} {
		b.press(key)
	}
	if _, err := fmt.Sscanf(b.text("at"), "%d, %d", &x, &y); err != nil {
		t.Fatal(err)
	}
	gp, cp := picture.Pix(g).NRGBAAt(x, y), picture.Pix(c).NRGBAAt(x, y)
	de := compare.ColourDifference(compare.LabOf(gp), compare.LabOf(cp))
	want := fmt.Sprintf("Δ %.2f", de)
	if de >= 10 {
		want = fmt.Sprintf("Δ %.1f", de)
	}
	hex := func(r, g, b uint8) string { return fmt.Sprintf("#%02x%02x%02x", r, g, b) }
	b.until(fmt.Sprintf("document.getElementById('hex-golden').textContent === %q && document.getElementById('hex-capture').textContent === %q",
		hex(gp.R, gp.G, gp.B), hex(cp.R, cp.G, cp.B)), fmt.Sprintf("the colours at %d,%d", x, y))
	b.until(fmt.Sprintf("document.getElementById('de').textContent === %q", want), "the difference")
	for which, from := range map[string]*image.NRGBA{"golden": picture.Pix(g), "capture": picture.Pix(c)} {
		px := eval[[]int](b, fmt.Sprintf(`(() => { const c = document.getElementById('eye-%s'), s = c.width / 11;
			return [...c.getContext('2d').getImageData(Math.round(s * 2.5), Math.round(s * 7.5), 1, 1).data] })()`, which))
		if p := from.NRGBAAt(x-3, y+2); px[0] != int(p.R) || px[1] != int(p.G) || px[2] != int(p.B) {
			t.Errorf("the %s eyepiece shows %v at %d,%d, want %v", which, px, x-3, y+2, p)
		}
	}
	b.press("x")
	b.until("getComputedStyle(document.querySelector('#panel .ring')).display === 'none'", "no rings")
	b.press("x", "m")
	b.until("document.getElementById('eyes').hidden", "no eyepieces")
	b.press("m")
}

func samePicture(t *testing.T, a, b string) {
	t.Helper()
	if pixels(t, a) != pixels(t, b) {
		t.Errorf("%s is not %s", a, b)
	}
}

// usable checks that nothing runs out of the window on narrow screens and at 200 % zoom, and that
// everything to be pressed, read or filled in has a name.
func (b browser) usable(what string) {
	b.t.Helper()
	for _, w := range []int64{400, 640, 1280} { // 640 is what 200 % leave of 1280
		b.do(chromedp.EmulateViewport(w, 800))
		if over := eval[float64](b, "document.documentElement.scrollWidth - innerWidth"); over > 0 {
			b.t.Errorf("%s is %v px too wide for %d", what, over, w)
		}
	}
	if bad := eval[[]string](b, `[...document.querySelectorAll('button, a, input, img, canvas, [tabindex="0"]')].filter(e => e.checkVisibility()).filter(e => {
		if (e.tagName === 'IMG') return !e.hasAttribute('alt');
		if (e.tagName === 'INPUT') return !e.labels.length;
		return !(e.getAttribute('aria-label') || e.textContent.trim() || e.getAttribute('aria-hidden'));
	}).map(e => e.outerHTML.slice(0, 120))`); len(bad) > 0 {
		b.t.Errorf("%s has parts without a name: %q", what, bad)
	}
}

// In every state nothing leaves the window, on a phone's width and in the dark too. FASCIA_SHOTS=DIR keeps
// pictures of all, which a person judges; -update makes those of the README.
func TestReadmePicturesOfReview(t *testing.T) {
	_, runDir := upgraded(t)
	rec, err := record.Load(runDir)
	if err != nil {
		t.Fatal(err)
	}
	url, _, _ := built.Serve(t, "review", runDir, "--by", "Ada Fern")
	b := newBrowser(t)
	for _, scheme := range []string{"light", "dark"} {
		b.light(scheme)
		for _, w := range []int64{1280, 400} {
			b.do(chromedp.EmulateViewport(w, 800))
			b.open(url)
			for _, part := range []string{"sheet", "causes", "trails"} {
				eval[any](b, fmt.Sprintf("document.getElementById(%q).scrollIntoView()", part))
				b.shoot(fmt.Sprintf("%s-%d-%s", scheme, w, part))
			}
			b.goTo(rec, "pairing", "two digits")
			b.shoot(fmt.Sprintf("%s-%d-look", scheme, w))
			b.press("a")
			eval[any](b, "document.getElementById('verdicts').scrollIntoView()")
			b.shoot(fmt.Sprintf("%s-%d-verdicts", scheme, w))
			b.press("w")
			b.until("document.getElementById('write').open", "the order")
			b.shoot(fmt.Sprintf("%s-%d-write", scheme, w))
			if over := eval[float64](b, "document.documentElement.scrollWidth - innerWidth"); over > 0 {
				t.Errorf("%s at %d: %v px too wide", scheme, w, over)
			}
			b.press(escape, "u")
		}
	}
}

// Beyond this machine the page is served with a warning, by IP address, and with its token all the same.
func TestReviewBeyondLoopback(t *testing.T) {
	runDir := desktest.Make(t, t.TempDir(), 4)
	cmd := exec.Command(built.Path, "review", runDir, "--by", "Ada", "--listen", "0.0.0.0:0")
	var errs bytes.Buffer
	cmd.Stderr = &errs
	out, err := cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	line, err := bufio.NewReader(out).ReadString('\n')
	if err != nil {
		t.Fatal(err)
	}
	_, url, _ := strings.Cut(strings.TrimSpace(line), "http://")
	hostPort, path, _ := strings.Cut(url, "/")
	_, port, err := net.SplitHostPort(hostPort)
	if err != nil {
		t.Fatalf("%q: %v", line, err)
	}
	for _, ask := range []struct {
		host, path string
		want       int
	}{{"127.0.0.1:" + port, "/" + path, 200}, {"127.0.0.1:" + port, "/", 403}, {"evil.example:" + port, "/" + path, 421}} {
		r, err := http.NewRequest("GET", "http://127.0.0.1:"+port+ask.path, nil)
		if err != nil {
			t.Fatal(err)
		}
		r.Host = ask.host
		resp, err := http.DefaultClient.Do(r)
		if err != nil {
			t.Fatal(err)
		}
		resp.Body.Close()
		if resp.StatusCode != ask.want {
			t.Errorf("asked as %s%s: %d, want %d", ask.host, ask.path, resp.StatusCode, ask.want)
		}
	}
	cmd.Process.Signal(os.Interrupt)
	cmd.Wait()
	if !strings.Contains(errs.String(), "fascia: warning: 0.0.0.0:0 can be reached from other machines") {
		t.Errorf("no warning: %s", errs.String())
	}
}

// Two thousand looks: the page is usable at once, and only thumbs in sight are fetched.
func TestReviewOfManyLooks(t *testing.T) {
	_, runDir := upgraded(t)
	many(t, runDir)
	url, cmd, _ := built.Serve(t, "review", runDir, "--by", "Ada Fern")
	b := newBrowser(t)
	b.open(url)
	ready := eval[string](b, "document.documentElement.dataset.ready")
	b.until("[...document.querySelectorAll('.specimen img')].some(i => i.complete && i.naturalWidth)", "specimens")
	time.Sleep(time.Second)
	if n := eval[int](b, "document.querySelectorAll('.stop').length"); n != 2150 {
		t.Fatalf("%d looks are on the page", n)
	}
	if n := eval[int](b, "performance.getEntriesByType('resource').filter(e => e.name.includes('/pic/thumb/')).length"); n > 400 {
		t.Errorf("%d thumbs were fetched at once", n)
	}
	status, _ := os.ReadFile(fmt.Sprintf("/proc/%d/status", cmd.Process.Pid))
	t.Logf("2021 looks: usable after %s ms in the browser, %.0f kB of page; server %s", ready,
		eval[float64](b, "performance.getEntriesByType('navigation')[0].decodedBodySize / 1000"), regexp.MustCompile(`VmRSS:\s+\d+ kB`).Find(status))
}

// many repeats the looks of a run until there are 2,021.
func many(t *testing.T, runDir string) {
	t.Helper()
	run, err := record.Load(runDir)
	if err != nil {
		t.Fatal(err)
	}
	walks, looks := run.Walks, run.Looks
	for n := 2; n <= 43; n++ {
		for _, w := range walks {
			w.Walk = fmt.Sprintf("%s %d", w.Walk, n)
			run.Walks = append(run.Walks, w)
		}
		for _, l := range looks {
			l.Walk = fmt.Sprintf("%s %d", l.Walk, n)
			run.Looks = append(run.Looks, l)
		}
	}
	if err := record.Save(filepath.Join(runDir, record.File), run); err != nil {
		t.Fatal(err)
	}
}

func pixels(t *testing.T, file string) string {
	t.Helper()
	img, err := picture.Read(file)
	if err != nil {
		t.Fatal(err)
	}
	return picture.Hash(img)
}
