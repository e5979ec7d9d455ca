package camera

import (
	"errors"
	"fmt"
	"image"
	"image/color"
	"image/draw"
	"math/rand/v2"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/fascia-bench/fascia/capture/camera"
	"github.com/fascia-bench/fascia/capture/capturetest/simbench"
	"github.com/fascia-bench/fascia/capture/capturetest/simcam"
	"github.com/fascia-bench/fascia/golden"
	"github.com/fascia-bench/fascia/suites"
	"github.com/fascia-bench/fascia/suites/record"
)

// The faults of a soak: what befalls the photo of a look, and what must be said of it.
type fault struct {
	name    string
	weight  int
	world   func(s *soak) simbench.World
	verdict record.Verdict
	says    string         // in the look's reason
	err     error          // that ends the walk; nil: it goes on
	also    record.Verdict // may be said instead, on the glass or before it: never that all is as approved
}

var faults = []fault{
	{"none", 60, func(*soak) simbench.World { return simbench.World{} }, record.Same, "", nil, ""},
	{"freeze", 5, func(*soak) simbench.World { return simbench.World{Shot: simcam.Shot{Frozen: true}} }, record.NoCapture, "repeats an old picture", camera.ErrFrozen, ""},
	{"drop of the connection", 5, func(*soak) simbench.World { return simbench.World{Gone: true} }, record.NoCapture, "is it plugged in", camera.ErrNoPhoto, ""},
	{"cut within a frame", 5, func(*soak) simbench.World { return simbench.World{Cut: true} }, record.NoCapture, "take a photo", errCut, ""},
	{"dark", 5, func(*soak) simbench.World { return simbench.World{Shot: simcam.Shot{Exposure: 1e-9}} }, record.NoCapture, "dark", nil, ""},
	{"bump", 5, func(s *soak) simbench.World {
		return simbench.World{Shot: simcam.Shot{MoveX: s.either(5, 14), MoveY: s.either(4, 10)}}
	}, record.NoCapture, "moved", nil, ""},
	{"hand", 5, func(s *soak) simbench.World {
		x, y := s.r.cam.Rig.Truth(160+120*(2*s.rng.Float64()-1), 120+90*(2*s.rng.Float64()-1))
		return simbench.World{Shot: simcam.Shot{Hand: []simcam.Patch{{X: x, Y: y, Radius: 90 + 40*s.rng.Float64(), Level: 0.02}}}}
	}, record.NoCapture, "no verdict on the photo", nil, record.Differs},
	{"glare", 5, func(s *soak) simbench.World {
		x, y := s.r.cam.Rig.Truth(160+100*(2*s.rng.Float64()-1), 120+70*(2*s.rng.Float64()-1))
		return simbench.World{Shot: simcam.Shot{Glare: []simcam.Patch{{X: x, Y: y, Radius: 50, Level: 0.3}}}}
	}, record.NoCapture, "no verdict on the photo", nil, record.Differs},
	{"wrong exposure", 5, func(s *soak) simbench.World {
		return simbench.World{Shot: simcam.Shot{Exposure: 0.4 + 0.2*s.rng.Float64()}}
	}, record.NoCapture, "bright", nil, ""},
	{"another resolution", 5, func(*soak) simbench.World { return simbench.World{Shot: simcam.Shot{Half: true}} }, record.NoCapture, "640x360", nil, ""},
	{"an old screen", 5, func(s *soak) simbench.World { return simbench.World{Other: s.old} }, record.Differs, "on the glass", nil, ""},
	{"stuck rows", 5, func(s *soak) simbench.World {
		y := 20 + s.rng.IntN(200)
		return simbench.World{Glass: func(m *image.RGBA) {
			draw.Draw(m, image.Rect(0, y, 320, y+3), image.NewUniform(color.RGBA{R: 255, A: 255}), image.Point{}, draw.Src)
		}}
	}, record.Differs, "on the glass", nil, ""},
}

var errCut = errors.New("any other than of a frozen camera or one that gives no photo")

type soak struct {
	r        *rig
	rng      *rand.Rand
	hasty    string
	old      image.Image // of a screen with other numbers
	looks    int
	struck   map[string]int
	verdicts map[record.Verdict]int
	due      map[record.Verdict]int // by the faults
	walks    int
	ended    int // by a fault
}

// either is a length between lo and hi, to either side.
func (s *soak) either(lo, hi float64) float64 {
	v := lo + (hi-lo)*s.rng.Float64()
	if s.rng.IntN(2) == 0 {
		return -v
	}
	return v
}

const screens = 8

func (s *soak) feed(t *testing.T, b *suites.Bench, k int) {
	t.Helper()
	if err := b.Feed(t.Context(), "temperature", fmt.Sprintf("%d.%d", 11+7*k, k)); err != nil {
		t.Fatal(err)
	}
	if err := b.Feed(t.Context(), "humidity", fmt.Sprint(20+9*k)); err != nil {
		t.Fatal(err)
	}
}

// open opens the bench for a walk; the camera is as it should be.
func (s *soak) open(t *testing.T, file string) *suites.Bench {
	t.Helper()
	s.r.Set(simbench.World{})
	b, err := suites.OpenBench(t.Context(), file, nil)
	if err != nil {
		t.Fatal(err)
	}
	if err := b.Walk(t.Context(), "soak", "", nil); err != nil {
		t.Fatalf("after %d looks the walk does not begin: %v", s.looks, err)
	}
	if err := b.Clock(t.Context(), time.Date(2031, 5, 4, 9, 30, 0, 0, time.UTC)); err != nil {
		t.Fatal(err)
	}
	if err := b.Wait(t.Context(), 2*time.Second); err != nil {
		t.Fatal(err)
	}
	return b
}

// shut ends the run and throws its folder away.
func shut(t *testing.T, b *suites.Bench) {
	t.Helper()
	if err := errors.Join(b.Close(), os.RemoveAll(b.Dir())); err != nil {
		t.Fatal(err)
	}
}

// approve takes what the framebuffer shows as goldens.
func (s *soak) approve(t *testing.T) {
	t.Helper()
	store, err := golden.Open(filepath.Join(s.r.dir, suites.GoldenDir))
	if err != nil {
		t.Fatal(err)
	}
	b := s.open(t, s.r.file)
	defer shut(t, b)
	var list []golden.Approval
	for k := range screens {
		s.feed(t, b, k)
		l, err := b.Look(t.Context(), fmt.Sprint("number ", k))
		if err != nil || l.Verdict != record.Unapproved {
			t.Fatalf("%s, %v", l.Verdict, err)
		}
		f, err := os.Open(filepath.Join(b.Dir(), filepath.FromSlash(l.Capture)))
		if err != nil {
			t.Fatal(err)
		}
		m, _, err := image.Decode(f)
		if err = errors.Join(err, f.Close()); err != nil {
			t.Fatal(err)
		}
		s.old = m
		list = append(list, golden.Approval{Target: "fernhouse-320", Walk: "soak", Look: l.Look, Picture: m, Who: "soak", Why: "a quiet round", When: time.Now()})
	}
	if _, err := store.Approve(list); err != nil {
		t.Fatal(err)
	}
}

// walk takes looks until the walk is over or a fault ends it. deal deals the faults.
func (s *soak) walk(t *testing.T, deal func() fault, left int) {
	t.Helper()
	s.walks++
	b := s.open(t, s.r.file)
	defer func() { shut(t, b) }()
	for k := range min(screens-1, left) { // the last screen is the old one
		f := deal()
		if f.err != nil && f.err != errCut { // a camera that is waited for in vain: in a walk of its own, which waits no longer than need be
			shut(t, b)
			b = s.open(t, s.hasty)
		}
		s.feed(t, b, k)
		if err := b.Settle(t.Context()); err != nil {
			t.Fatal(err)
		}
		s.r.Set(f.world(s))
		l, err := b.Look(t.Context(), fmt.Sprint("number ", k))
		s.r.Set(simbench.World{})
		s.looks++
		s.struck[f.name]++
		s.verdicts[l.Verdict]++
		fits := err == nil
		switch f.err {
		case nil:
		case errCut:
			fits = err != nil && !errors.Is(err, camera.ErrFrozen) && !errors.Is(err, camera.ErrNoPhoto)
		default:
			fits = errors.Is(err, f.err)
		}
		if f.also != "" && l.Verdict == f.also { // edges like the screen's: 2 of 14 hands, in a campaign of faults alone
			f.verdict, f.says = f.also, "or before it"
		}
		s.due[f.verdict]++
		if l.Verdict != f.verdict || !strings.Contains(l.Why, f.says) || !fits {
			t.Errorf("look %d, number %d, %s: %s, %q, %v; want %s with %q", s.looks, k, f.name, l.Verdict, l.Why, err, f.verdict, f.says)
		}
		if l.Verdict == record.Differs && (l.Photo == nil || !l.Photo.Glass || suites.Open(l)) {
			t.Errorf("look %d, %s: it can be approved: %+v", s.looks, f.name, l.Photo)
		}
		if err != nil {
			s.ended++
			return
		}
	}
}

// A night before a camera that fails in every way that rigs do: 1,000 looks in make long, a sample here, in which each fault comes
// once. No verdict is wrong, every fault is told as what it is, and memory and files stay flat.
func TestSoakByCamera(t *testing.T) {
	s := &soak{r: start(t), rng: rand.New(rand.NewPCG(2031, 7)), struck: map[string]int{}, verdicts: map[record.Verdict]int{}, due: map[record.Verdict]int{}}
	var err error
	if s.hasty, err = s.r.hasty(); err != nil {
		t.Fatal(err)
	}
	cards := slices.Clone(faults)
	want := len(cards) * 3 / 2
	for len(cards) < want {
		cards = append(cards, faults[0])
	}
	if os.Getenv("FASCIA_LONG") != "" {
		want = 1000
		for _, f := range faults {
			for range f.weight - 1 {
				cards = append(cards, f)
			}
		}
	}
	n := 0
	deal := func() fault { // each pack is dealt to its end, so that nothing is left to luck
		if n%len(cards) == 0 {
			s.rng.Shuffle(len(cards), func(i, k int) { cards[i], cards[k] = cards[k], cards[i] })
		}
		n++
		return cards[(n-1)%len(cards)]
	}
	s.approve(t)
	var heap uint64
	var files int
	for s.looks < want && !t.Failed() {
		s.walk(t, deal, want-s.looks)
		if heap == 0 && s.looks >= want/10 {
			heap, files = footprint()
		}
	}
	s.account(t)
	endHeap, endFiles := footprint()
	if endFiles != files {
		t.Errorf("%d files open at the end, %d after a tenth", endFiles, files)
	}
	if grown := int64(endHeap) - int64(heap); grown > 16<<20 {
		t.Errorf("the heap grew by %d bytes since a tenth of the looks", grown)
	}
	t.Logf("%d looks in %d walks, %d ended by a fault: %v; faults %v; heap %d kB then %d kB, %d files then %d",
		s.looks, s.walks, s.ended, s.verdicts, s.struck, heap/1000, endHeap/1000, files, endFiles)
}

// account holds what was said of all looks together against what befell them.
func (s *soak) account(t *testing.T) {
	t.Helper()
	ended := 0
	for _, f := range faults {
		if s.struck[f.name] == 0 && !t.Failed() {
			t.Errorf("no %s: the soak saw nothing of it", f.name)
		}
		if f.err != nil {
			ended += s.struck[f.name]
		}
	}
	for v, n := range s.due {
		if s.verdicts[v] != n {
			t.Errorf("%d looks are %s; by the faults it should be %d", s.verdicts[v], v, n)
		}
	}
	if s.ended != ended {
		t.Errorf("%d walks were ended by a fault; it should be %d", s.ended, ended)
	}
}

// footprint is what the process holds: bytes in use and open files (0 where /proc is not).
func footprint() (heap uint64, files int) {
	time.Sleep(300 * time.Millisecond) // for connections that were let go to be closed on both ends
	runtime.GC()
	runtime.GC()
	var m runtime.MemStats
	runtime.ReadMemStats(&m)
	list, _ := os.ReadDir("/proc/self/fd")
	return m.HeapAlloc, len(list)
}
