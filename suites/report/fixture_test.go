package report

import (
	"flag"
	"fmt"
	"image"
	"image/color"
	"image/draw"
	"math/rand/v2"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/fascia-bench/fascia/capture/picture"
	"github.com/fascia-bench/fascia/compare"
	"github.com/fascia-bench/fascia/suites/record"
)

var update = flag.Bool("update", false, "rewrite the golden files")

func checkGolden(t *testing.T, name, got string) {
	t.Helper()
	path := filepath.Join("testdata", name)
	if *update {
		if err := os.WriteFile(path, []byte(got), 0o666); err != nil {
			t.Fatal(err)
		}
		return
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if got != string(want) {
		t.Errorf("%s differs from what was written; see it with: go test -update && git diff", path)
	}
}

// panelOf draws a small panel: a bar, and blocks whose places follow from n.
func panelOf(w, h, n int) *image.NRGBA {
	m := image.NewNRGBA(image.Rect(0, 0, w, h))
	box := func(r image.Rectangle, c color.NRGBA) { draw.Draw(m, r, image.NewUniform(c), image.Point{}, draw.Src) }
	box(m.Rect, color.NRGBA{0xf8, 0xfc, 0xf8, 0xff})
	box(image.Rect(0, 0, w, h/8), color.NRGBA{0x18, 0x50, 0x38, 0xff})
	for i := range 3 {
		x := (i*w/3 + 7*n) % (w - w/5)
		box(image.Rect(x+3, h/4, x+w/6, h/2), color.NRGBA{uint8(40 * i), uint8(90 + 9*n), 0x60, 0xff})
	}
	return m
}

// folder is a run's folder being filled.
type folder struct {
	t   testing.TB
	dir string
	run *record.Run
}

func newFolder(t testing.TB) *folder {
	at := time.Date(2031, 5, 4, 9, 30, 0, 0, time.UTC)
	return &folder{t, t.TempDir(), &record.Run{
		Run: "2031-05-04-093000", Bench: "green-1", Target: "fernhouse-64", Started: at, Ended: at.Add(3400 * time.Millisecond),
		Device: record.Device{Device: "fernhouse", Build: "ddc313a836bc", Firmware: "Fernhouse 2.3.0", Library: "draw-2", Width: 64, Height: 48, Format: "rgb565le"},
	}}
}

func (f *folder) put(path string, m image.Image) string {
	f.t.Helper()
	full := filepath.Join(f.dir, filepath.FromSlash(path))
	if err := os.MkdirAll(filepath.Dir(full), 0o777); err != nil {
		f.t.Fatal(err)
	}
	if err := picture.WritePNG(full, m); err != nil {
		f.t.Fatal(err)
	}
	return path
}

// look adds a look; golden nil means that there is none.
func (f *folder) look(walk, name string, golden, capture image.Image, ignored ...record.Ignored) *record.Look {
	f.t.Helper()
	n := len(f.run.Looks)
	l := record.Look{Walk: walk, Look: name, Line: 6 + 3*n, Verdict: record.Unapproved, Settle: 0.15, At: float64(n), Wire: 38, Ignored: ignored}
	l.Capture = f.put(fmt.Sprintf("looks/%d.png", n), capture)
	if golden != nil {
		l.Golden = f.put(fmt.Sprintf("looks/%d.golden.png", n), golden)
		var opt compare.Options
		for _, i := range ignored {
			opt.Ignore = append(opt.Ignore, image.Rect(i.X, i.Y, i.X+i.W, i.Y+i.H))
		}
		l.Verdict = record.Same
		if res := compare.Compare(golden, capture, opt); !res.Same {
			l.Verdict, l.Finding = record.Differs, &res
		}
	}
	f.run.Looks = append(f.run.Looks, l)
	return &f.run.Looks[n]
}

// finding adds a look that differs in given words, so that a golden file of the page does not hang
// on the wording of the comparer.
func (f *folder) finding(walk, name string, golden, capture image.Image, regions ...compare.Region) *record.Look {
	f.t.Helper()
	l := f.look(walk, name, nil, capture)
	l.Golden = f.put(l.Capture+".golden.png", golden)
	g, c := golden.Bounds().Size(), capture.Bounds().Size()
	ssim, low := 0.9871, 0.41
	res := &compare.Result{SSIM: &ssim, SSIMMin: &low, Size: compare.Sizes{Golden: [2]int{g.X, g.Y}, Capture: [2]int{c.X, c.Y}}, Changed: 77, Regions: regions}
	for _, r := range regions {
		res.Causes = append(res.Causes, compare.Cause{Cause: r.Cause, Confidence: r.Confidence, Detail: r.Detail, Says: r.Says})
	}
	l.Verdict, l.Finding = record.Differs, res
	return l
}

// mixed is a run in which everything happens that a page can tell.
func mixed(t testing.TB) *folder {
	f := newFolder(t)
	clock := record.Ignored{Area: "clock", X: 50, Y: 0, W: 14, H: 6, Why: "seconds run on this screen"}
	f.look("home", "splash", panelOf(64, 48, 0), panelOf(64, 48, 0)).Path = []record.Input{{Says: "reset"}}
	l := f.finding("home", "manual panel", panelOf(64, 48, 0), panelOf(64, 48, 1),
		compare.Region{X: 3, Y: 12, W: 8, H: 12, Cause: "moved", Confidence: .95, Detail: compare.Detail{"dx": 7, "dy": 0}, Says: "The content at 3,12 (8x12) moved 7 px right.",
			Instead: []compare.Cause{{Cause: "missing", Says: "What stood at 3,12 (8x12) is gone."}}},
		compare.Region{X: 24, Y: 12, W: 2, H: 2, Cause: "edges", Confidence: .93, Says: "Only the edges at 24,12 (2x2) are drawn differently."},
		compare.Region{X: 45, Y: 12, W: 3, H: 3, Cause: "edges", Confidence: .93, Says: "Only the edges at 45,12 (3x3) are drawn differently."})
	l.Path = []record.Input{{Says: "drag 32,2 to 32,40", Points: [][2]int{{32, 2}, {32, 40}}}}
	l.Ignored = []record.Ignored{clock}
	f.look("home", "lamp 64", nil, panelOf(64, 48, 2)).Path = []record.Input{{Says: "tap 20,20", Points: [][2]int{{20, 20}}}, {Says: "turn +8"}}
	f.look("language", "list", panelOf(64, 48, 3), panelOf(64, 48, 3)).Path = []record.Input{{Says: "tap 60,40", Points: [][2]int{{60, 40}}}}
	f.run.Looks = append(f.run.Looks,
		record.Look{Walk: "language", Look: "Größe", Verdict: record.NoCapture, Line: 18, Why: "the device restarted", Path: []record.Input{{Says: "tap 9,9", Points: [][2]int{{9, 9}}}}},
		record.Look{Walk: "language", Look: "français", Verdict: record.NotReached, Line: 21, Path: []record.Input{{Says: "key escape"}}})
	f.run.Walks = []record.Walk{
		{Walk: "home", File: "walks/home.yaml", Looks: 3, Took: 0.412, DeviceTook: 4.48, Wire: 4907},
		{Walk: "language", File: "walks/language.yaml", Looks: 3, Took: 0.2, DeviceTook: 2.1, Wire: 812, Why: "the device restarted",
			Log: []string{"language de", "panic: label fits at scr_settings.c:88", "boot, reason panic"}},
	}
	f.run.Expectations = []record.Expectation{
		{Walk: "home", What: "log lamp 64", Result: record.Met, Line: 13},
		{Walk: "home", What: "within 300ms", Result: record.Missed, Line: 14, Why: "the picture settled after 412 ms"}}
	f.run.Count()
	return f
}

// noisy is a panel that compresses badly for one of a user interface: gradients and speckles.
func noisy(n int) *image.NRGBA {
	m := panelOf(320, 240, n)
	r := rand.New(rand.NewPCG(uint64(n), 7))
	for y := range 240 {
		for x := range 320 {
			if y > 100 && x > 160 || r.IntN(55) == 0 {
				m.SetNRGBA(x, y, color.NRGBA{uint8(x) &^ 15, uint8(y+n) &^ 15, uint8(n*9) &^ 7, 0xff})
			}
		}
	}
	return m
}

// file writes a text into the folder.
func (f *folder) file(name, text string) {
	f.t.Helper()
	if err := os.WriteFile(filepath.Join(f.dir, name), []byte(text), 0o666); err != nil {
		f.t.Fatal(err)
	}
}
