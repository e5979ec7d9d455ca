package suites

import (
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"
	"time"

	"github.com/fascia-bench/fascia/capture/capturetest"
	"github.com/fascia-bench/fascia/capture/link"
	"github.com/fascia-bench/fascia/capture/picture"
	"github.com/fascia-bench/fascia/capture/twin"
	"github.com/fascia-bench/fascia/golden"
	"github.com/fascia-bench/fascia/suites/demo"
	"github.com/fascia-bench/fascia/suites/record"
)

// The faults of a soak, and what may be said of the look they meet.
var sickness = []struct {
	name, why string
	weight    int
	strike    func(d *soaked, rng *rand.Rand) error
	may       []record.Verdict
}{
	{"none", "a quiet line", 60, nil, []record.Verdict{record.Same}},
	{"noise", "flipped, dropped and added bytes are asked for again, or given up; no picture is made of them", 8, func(d *soaked, rng *rand.Rand) error {
		d.line.Noise.Rate = 0.01 * rng.Float64()
		return nil
	}, []record.Verdict{record.Same, record.NoCapture}},
	{"flood", "log text between and within frames is told from them", 6, func(d *soaked, _ *rand.Rand) error {
		d.line.Noise.LogEvery = 20
		return nil
	}, []record.Verdict{record.Same, record.NoCapture}},
	{"late", "an answer that comes after it was asked for again is one answer", 6, func(d *soaked, _ *rand.Rand) error {
		d.line.StallEvery, d.line.Stall = 30, 250*time.Millisecond
		return nil
	}, []record.Verdict{record.Same, record.NoCapture}},
	{"garbage", "bytes that nobody sent are skipped", 6, func(d *soaked, rng *rand.Rand) error {
		d.sick.garbage = make([]byte, 3000)
		for i := range d.sick.garbage {
			d.sick.garbage[i] = byte(rng.Uint32())
		}
		return nil
	}, []record.Verdict{record.Same, record.NoCapture}},
	{"restart", "another boot id ends the walk", 5, func(d *soaked, _ *rand.Rand) error { return d.sick.restart() }, []record.Verdict{record.NoCapture}},
	{"hang", "a device that answers nothing more ends the walk and gets its power anew", 4, func(d *soaked, _ *rand.Rand) error {
		d.sick.silent = true
		return nil
	}, []record.Verdict{record.NoCapture}},
	{"dropped feed", "the picture before is still there", 5, nil, []record.Verdict{record.Differs}},
}

// A soak is a run that does not end well.
type soak struct {
	*session
	dev *soaked
	rng *rand.Rand

	struck   map[string]int // by fault
	verdicts map[record.Verdict]int
	notes    int
}

func newSoak(t *testing.T, walks int, seed uint64) *soak {
	t.Helper()
	dir := t.TempDir()
	if err := demo.Unpack(dir); err != nil {
		t.Fatal(err)
	}
	if err := os.RemoveAll(filepath.Join(dir, WalksDir)); err != nil {
		t.Fatal(err)
	}
	write := func(name, text string) {
		file := filepath.Join(dir, WalksDir, name)
		if err := errors.Join(os.MkdirAll(filepath.Dir(file), 0o777), os.WriteFile(file, []byte(text), 0o666)); err != nil {
			t.Fatal(err)
		}
	}
	for i := range walks {
		var b strings.Builder
		fmt.Fprintf(&b, "walk: soak %d\nsteps:\n  - clock: 2031-05-04T09:30:00\n  - wait: 2s\n", i)
		for k := range 10 {
			fmt.Fprintf(&b, "  - feed: {temperature: %d.%d, humidity: %d}\n  - look: number %d\n", i%60, k, (7*i+k)%100, k)
		}
		write(fmt.Sprintf("soak-%03d.yaml", i), b.String())
	}
	plan, err := Prepare(filepath.Join(dir, demo.BenchFile), nil)
	if err != nil {
		t.Fatal(err)
	}
	wasm, err := demo.Twin()
	if err != nil {
		t.Fatal(err)
	}
	program, err := twin.Load(t.Context(), wasm)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { program.Close() })
	tw, err := program.Boot()
	if err != nil {
		t.Fatal(err)
	}
	rng := rand.New(rand.NewPCG(seed, 11))
	s := &soak{rng: rng, struck: map[string]int{}, verdicts: map[record.Verdict]int{}}
	s.dev = &soaked{sick: &sick{Twin: tw}}
	s.dev.line = &capturetest.BadLine{Stream: s.dev.sick, Noise: &capturetest.Noise{Rand: rng}}
	book := &logBook{}
	s.dev.Conn, err = link.Dial(t.Context(), s.dev.line, link.Options{Log: book.add})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { s.dev.Close() })
	s.session = &session{Config: Config{Fresh: true}, plan: plan, dev: s.dev, book: book, roots: map[string]root{}}
	s.out = sender{func(e Event) {
		if e.Note != "" {
			s.notes++
		}
	}}
	s.judge = &judge{store: plan.Store, goldens: filepath.Join(dir, GoldenDir), target: plan.Bench.Target, runDir: t.TempDir(), today: time.Now()}
	return s
}

// walk walks a walk and strikes before some looks; it returns how many looks there were.
func (s *soak) walk(t *testing.T, w *Walk, faults bool) (looks int) {
	t.Helper()
	ctx := t.Context()
	d := s.driver(w)
	if err := s.begin(ctx, d, w); err != nil {
		t.Fatalf("%s does not begin: %v", w.Name, err)
	}
	kind, drop := 0, false
	for _, step := range w.Steps {
		l, isLook := step.Do.(TakeLook)
		_, isFeed := step.Do.(Feed)
		if isFeed && faults {
			kind = s.draw()
			drop = sickness[kind].name == "dropped feed"
			s.struck[sickness[kind].name]++
			if strike := sickness[kind].strike; strike != nil {
				if err := strike(s.dev, s.rng); err != nil {
					t.Fatal(err)
				}
			}
		}
		if isFeed && drop {
			continue
		}
		var rec record.Look
		var err error
		if isLook {
			looks++
			rec, err = s.judge.look(ctx, d, w, l, step.line())
		} else {
			err = d.take(ctx, step)
		}
		if err != nil {
			rec.Verdict = record.NoCapture
			if !isLook {
				looks++
			}
		}
		if !isLook && err == nil {
			continue
		}
		s.verdicts[rec.Verdict]++
		s.hold(t, w, l, kind, rec, err)
		s.dev.line.Noise.Rate, s.dev.line.Noise.LogEvery, s.dev.line.StallEvery = 0, 0, 0
		s.dev.sick.garbage = nil
		if err != nil {
			return looks // the walk broke off
		}
	}
	return looks
}

// draw picks a fault by its weight.
func (s *soak) draw() int {
	sum := 0
	for _, f := range sickness {
		sum += f.weight
	}
	n := s.rng.IntN(sum)
	for i, f := range sickness {
		if n -= f.weight; n < 0 {
			return i
		}
	}
	return 0
}

// hold is what a soak is for: the verdict is one that the fault may lead to, and a picture that was taken is right.
func (s *soak) hold(t *testing.T, w *Walk, l TakeLook, kind int, rec record.Look, err error) {
	t.Helper()
	if len(s.struck) == 0 {
		return // the goldens' own round
	}
	f := sickness[kind]
	ok := false
	for _, v := range f.may {
		ok = ok || rec.Verdict == v
	}
	if !ok {
		t.Errorf("%s / %s after %s: %s (%v): %s", w.Name, l.Name, f.name, rec.Verdict, err, f.why)
	}
	var restarted *link.RestartError
	switch f.name {
	case "restart":
		if !errors.As(err, &restarted) || !strings.Contains(err.Error(), "the device restarted") {
			t.Errorf("%s: a restart is told as %v", w.Name, err)
		}
	case "hang":
		if !errors.Is(err, link.ErrSilent) {
			t.Errorf("%s: a device that hangs is told as %v", w.Name, err)
		}
	case "dropped feed":
		if rec.Finding != nil && len(rec.Finding.Causes) == 0 {
			t.Errorf("%s / %s: a finding without a cause", w.Name, l.Name)
		}
	}
	if rec.Verdict == record.Same && rec.Pixels != rec.GoldenPixels {
		t.Errorf("%s / %s: same, with other pixels", w.Name, l.Name)
	}
}

// approve takes the looks of a quiet round as goldens.
func (s *soak) approve(t *testing.T) {
	t.Helper()
	var list []golden.Approval
	for _, w := range s.plan.Walks {
		s.walk(t, w, false)
		for _, l := range w.Looks() {
			img, err := picture.Read(filepath.Join(s.judge.runDir, w.Slug, l.File+".png"))
			if err != nil {
				t.Fatal(err)
			}
			list = append(list, golden.Approval{Target: s.plan.Bench.Target, Walk: w.Name, Look: l.Name, Picture: img, Who: "soak", Why: "a quiet round", When: time.Now()})
		}
	}
	if _, err := s.plan.Store.Approve(list); err != nil {
		t.Fatal(err)
	}
}

// footprint is what the process holds: bytes in use and open files (0 where /proc is not).
func footprint() (heap uint64, files int) {
	runtime.GC()
	runtime.GC()
	var m runtime.MemStats
	runtime.ReadMemStats(&m)
	list, _ := os.ReadDir("/proc/self/fd")
	return m.HeapAlloc, len(list)
}

// A night on a bad bench: 10,000 looks in make long, a sample here. No verdict is wrong, every fault is
// accounted for, and memory and files stay flat.
func TestSoak(t *testing.T) {
	walks, want := 4, 400
	if os.Getenv("FASCIA_LONG") != "" {
		walks, want = 20, 10_000
	}
	s := newSoak(t, walks, 2031)
	s.approve(t)
	var heap uint64
	var files, looks, hangs int
	for round := 0; looks < want; round++ {
		looks += s.walk(t, s.plan.Walks[s.rng.IntN(len(s.plan.Walks))], true)
		if heap == 0 && looks > want/10 {
			heap, files = footprint()
		}
		if t.Failed() {
			t.Fatalf("after %d looks", looks)
		}
	}
	hangs = s.struck["hang"]
	if s.dev.sick.silent { // the last walk ended so; the next would mend it
		hangs--
	}
	if s.dev.cycles != hangs || s.notes != hangs {
		t.Errorf("%d hangs, %d times the power was taken, %d notes", hangs, s.dev.cycles, s.notes)
	}
	if s.verdicts[record.Differs] != s.struck["dropped feed"] {
		t.Errorf("%d looks differ, %d feeds were dropped", s.verdicts[record.Differs], s.struck["dropped feed"])
	}
	if n := s.verdicts[record.NoCapture]; n < s.struck["restart"]+s.struck["hang"] {
		t.Errorf("%d looks without capture, %d restarts and %d hangs", n, s.struck["restart"], s.struck["hang"])
	}
	for _, f := range sickness {
		if s.struck[f.name] == 0 {
			t.Errorf("no %s: the soak saw nothing of it", f.name)
		}
	}
	endHeap, endFiles := footprint()
	if endFiles != files {
		t.Errorf("%d files open at the end, %d after a tenth", endFiles, files)
	}
	if grown := int64(endHeap) - int64(heap); grown > 8<<20 {
		t.Errorf("the heap grew by %d bytes since a tenth of the looks", grown)
	}
	resent, noise := s.dev.Trouble()
	t.Logf("%d looks: %v; faults %v; %d requests sent again, %d bytes of noise; heap %d kB then %d kB, %d files",
		looks, s.verdicts, s.struck, resent, noise, heap/1000, endHeap/1000, endFiles)
}
