package cost

import (
	"bytes"
	"image"
	"image/color"
	"image/png"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"sort"
	"strings"
	"testing"

	"github.com/fascia-bench/fascia/capture"
)

// screens are the demo's goldens, which its own twin drew.
func screens(t testing.TB) map[string]image.Image {
	t.Helper()
	files, err := filepath.Glob("../../../suites/demo/golden/*/*/*.png")
	if err != nil || len(files) < 10 {
		t.Fatalf("the demo has %d goldens, %v", len(files), err)
	}
	m := map[string]image.Image{}
	for _, f := range files {
		b, err := os.ReadFile(f)
		if err != nil {
			t.Fatal(err)
		}
		img, err := png.Decode(bytes.NewReader(b))
		if err != nil {
			t.Fatalf("%s: %v", f, err)
		}
		m[f] = img
	}
	return m
}

func noise(w, h int) image.Image {
	r := rand.New(rand.NewPCG(1, 1))
	m := image.NewRGBA(image.Rect(0, 0, w, h))
	for i := range m.Pix {
		m.Pix[i] = byte(r.Uint32())
	}
	return m
}

// An unchanged look moves at most 40 bytes whatever the picture. Noise never costs more than raw and 2 %, with either codec, whether
// it fills the panel or comes after what coding gains by. Where raw is little, what a look costs at all is added: the two requests, the
// look's answer, and the frame that the pixels come in.
func TestBounds(t *testing.T) {
	for _, size := range []image.Point{{1, 1}, {33, 17}, {96, 64}, {160, 128}, {320, 240}, {480, 320}} {
		for _, format := range []capture.Format{capture.RGB565LE, capture.MonoPages, capture.Grey4, capture.Grey8, capture.RGB332, capture.RGB888, capture.XRGB8888} {
			for _, light := range []bool{false, true} {
				for _, flat := range []int{0, size.Y / 3} {
					m := noise(size.X, size.Y).(*image.RGBA)
					for i := range m.Pix[:flat*m.Stride] {
						m.Pix[i] = 255
					}
					r, err := Measure(t.Context(), m, nil, Options{Format: format, Light: light})
					if err != nil {
						t.Fatal(err)
					}
					if r.Unchanged.Bytes > 40 {
						t.Errorf("%v %v: an unchanged look moves %d bytes", size, format, r.Unchanged.Bytes)
					}
					limit := float64(r.Raw) * 1.02
					if r.Raw < 32768 {
						limit += 200
					}
					if float64(r.New.Bytes) > limit {
						t.Errorf("%v %v light %v, %d rows flat: noise of %d bytes moves %d, %.2f %% more", size, format, light, flat, r.Raw, r.New.Bytes,
							100*float64(r.New.Bytes)/float64(r.Raw)-100)
					} else if size.X == 320 && flat == 0 {
						t.Logf("%v %v light %v: noise of %d bytes moves %d, %.2f %% more", size, format, light, r.Raw, r.New.Bytes, 100*float64(r.New.Bytes)/float64(r.Raw)-100)
					}
					if want := float64(r.New.Bytes) * 10 / 115200; math.Abs(r.New.Seconds-want) > 1e-9 {
						t.Errorf("%v s, want %v", r.New.Seconds, want)
					}
				}
			}
		}
	}
}

func TestRefusals(t *testing.T) {
	a := noise(10, 10)
	for _, c := range []struct {
		a, b image.Image
		opt  Options
		want string
	}{
		{a, noise(10, 11), Options{}, "different sizes"},
		{a, nil, Options{Format: capture.Palette8}, "palette"},
		{image.NewUniform(color.White), nil, Options{}, "no panel's"},
		{image.NewGray(image.Rect(0, 0, 4000, 4000)), nil, Options{}, "larger than"},
	} {
		if _, err := Measure(t.Context(), c.a, c.b, c.opt); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%v, want %q", err, c.want)
		}
	}
}

// A small change costs little, and less than the new screen.
func TestChange(t *testing.T) {
	for name, img := range screens(t) {
		m := image.NewRGBA(img.Bounds())
		for i := range m.Bounds().Dx() * m.Bounds().Dy() {
			m.Set(i%m.Bounds().Dx(), i/m.Bounds().Dx(), img.At(i%m.Bounds().Dx(), i/m.Bounds().Dx()))
		}
		for x := 40; x < 70; x++ {
			for y := 100; y < 118; y++ {
				m.Set(x, y, color.RGBA{255, 0, 0, 255})
			}
		}
		r, err := Measure(t.Context(), img, m, Options{})
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		if r.Change == nil || r.Change.Bytes <= r.Unchanged.Bytes || float64(r.Change.Bytes) > 0.02*float64(r.Raw) {
			t.Errorf("%s: a changed box costs %+v of %d raw", name, r.Change, r.Raw)
		}
		break
	}
}

func median(v []float64) float64 {
	sort.Float64s(v)
	return v[len(v)/2]
}

// BenchmarkDemoScreens: what a new screen costs with each codec, against raw and against the same
// picture as PNG by the standard library's best effort.
func BenchmarkDemoScreens(b *testing.B) {
	all := screens(b)
	for name, light := range map[string]bool{"light": true, "dense": false} {
		b.Run(name, func(b *testing.B) {
			var raw, toPNG, seconds []float64
			for b.Loop() {
				raw, toPNG, seconds = nil, nil, nil
				for _, img := range all {
					r, err := Measure(b.Context(), img, nil, Options{Light: light, Baud: 921600})
					if err != nil {
						b.Fatal(err)
					}
					var buf bytes.Buffer
					if err := (&png.Encoder{CompressionLevel: png.BestCompression}).Encode(&buf, img); err != nil {
						b.Fatal(err)
					}
					raw = append(raw, float64(r.New.Bytes)/float64(r.Raw))
					toPNG = append(toPNG, float64(r.New.Bytes)/float64(buf.Len()))
					seconds = append(seconds, r.New.Seconds*1000)
				}
			}
			b.ReportMetric(100*median(raw), "%raw")
			b.ReportMetric(100*raw[len(raw)-1], "%raw-worst")
			b.ReportMetric(median(toPNG), "x-png")
			b.ReportMetric(median(seconds), "ms-at-921600")
		})
	}
}

// BenchmarkDemoSteps: a look of each screen of a walk to a host that knows another of the same walk,
// in the share of raw: by how much of the panel differs.
func BenchmarkDemoSteps(b *testing.B) {
	all := screens(b)
	walks := map[string][]string{}
	for name := range all {
		walks[filepath.Dir(name)] = append(walks[filepath.Dir(name)], name)
	}
	var small, large []float64
	for b.Loop() {
		small, large = nil, nil
		for _, names := range walks {
			sort.Strings(names)
			for i := 1; i < len(names); i++ {
				r, err := Measure(b.Context(), all[names[i-1]], all[names[i]], Options{})
				if err != nil {
					b.Fatal(err)
				}
				share := 100 * float64(r.Change.Bytes) / float64(r.Raw)
				if differs(all[names[i-1]], all[names[i]]) < 0.03 {
					small = append(small, share)
				} else {
					large = append(large, share)
				}
			}
		}
	}
	if len(small) > 0 {
		b.ReportMetric(median(small), "%raw-small")
	}
	if len(large) > 0 {
		b.ReportMetric(median(large), "%raw-large")
	}
	b.ReportMetric(float64(len(small)), "small-steps")
}

// differs is the share of pixels that differ.
func differs(a, b image.Image) float64 {
	n := 0
	r := a.Bounds()
	for y := range r.Dy() {
		for x := range r.Dx() {
			if a.At(x, y) != b.At(x, y) {
				n++
			}
		}
	}
	return float64(n) / float64(r.Dx()*r.Dy())
}

// The committed panels are what the compiler makes of the sources; only the version that built
// them can promise that.
func TestCommittedPanelsAreUpToDate(t *testing.T) {
	version, err := exec.Command("clang", "-dumpversion").Output()
	if err != nil || !bytes.HasPrefix(version, []byte("14.")) {
		t.Skipf("needs clang 14, as packaged by Debian 12; found %q", version)
	}
	// The script writes beside itself: run it on a copy of what it reads.
	dir := t.TempDir()
	for _, from := range []string{"capture/link/cost", "capture/link/agent", "suites/demo/firmware/port/freestanding"} {
		if err := os.CopyFS(filepath.Join(dir, from), os.DirFS(filepath.Join("../../..", from))); err != nil {
			t.Fatal(err)
		}
	}
	cmd := exec.Command("sh", "build.sh")
	cmd.Dir = filepath.Join(dir, "capture/link/cost")
	if out, err := cmd.CombinedOutput(); err != nil {
		t.Fatalf("build.sh: %v\n%s", err, out)
	}
	for name, want := range map[string][]byte{"panel-light.wasm": lightPanel, "panel-dense.wasm": densePanel} {
		got, err := os.ReadFile(filepath.Join(cmd.Dir, name))
		if err != nil {
			t.Fatal(err)
		}
		if !bytes.Equal(got, want) {
			t.Errorf("%s is not what clang makes of the sources: run go generate ./capture/link/cost", name)
		}
	}
}
