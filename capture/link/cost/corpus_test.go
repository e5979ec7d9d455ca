package cost

import (
	"bytes"
	"image"
	"image/draw"
	"image/png"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// A scene is a picture of testdata/ui, and its size as an optimised PNG: the file's.
type scene struct {
	name  string
	image image.Image
	png   int
}

// corpus are windows of real toolkits; a scene that ends with -b follows the one that ends with -a.
func corpus(t testing.TB) []scene {
	t.Helper()
	files, err := filepath.Glob("testdata/ui/*.png")
	if err != nil || len(files) < 20 {
		t.Fatalf("testdata/ui has %d pictures, %v", len(files), err)
	}
	var all []scene
	for _, f := range files {
		b, err := os.ReadFile(f)
		if err != nil {
			t.Fatal(err)
		}
		img, err := png.Decode(bytes.NewReader(b))
		if err != nil {
			t.Fatalf("%s: %v", f, err)
		}
		rgba := image.NewRGBA(img.Bounds()) // the optimiser chose another colour model for each
		draw.Draw(rgba, rgba.Bounds(), img, img.Bounds().Min, draw.Src)
		all = append(all, scene{strings.TrimSuffix(filepath.Base(f), ".png"), rgba, len(b)})
	}
	return all
}

// scrolled are the pairs in which a list moved; in the others one widget changed.
func scrolled(name string) bool {
	return strings.Contains(name, "-list-") || strings.Contains(name, "-table-")
}

// figures are what looks of the corpus cost, each as a share.
type figures struct {
	unchanged     []float64 // bytes
	new           []float64 // of the optimised PNG
	newRaw        []float64 // of raw
	widget, moved []float64 // of raw, by the host that knows the scene before
	bytes         map[string][]float64
}

func measureCorpus(t testing.TB, light bool) figures {
	t.Helper()
	f := figures{bytes: map[string][]float64{}}
	all := corpus(t)
	for i, s := range all {
		var next image.Image
		if i+1 < len(all) && all[i+1].name == strings.TrimSuffix(s.name, "-a")+"-b" {
			next = all[i+1].image
		}
		r, err := Measure(t.Context(), s.image, next, Options{Light: light})
		if err != nil {
			t.Fatalf("%s: %v", s.name, err)
		}
		raw := float64(r.Raw)
		f.unchanged = append(f.unchanged, float64(r.Unchanged.Bytes))
		f.new = append(f.new, float64(r.New.Bytes)/float64(s.png))
		f.newRaw = append(f.newRaw, float64(r.New.Bytes)/raw)
		f.bytes["new"] = append(f.bytes["new"], float64(r.New.Bytes))
		t.Logf("%-18s png %6d, new %6d (%.2f of png)", s.name, s.png, r.New.Bytes, float64(r.New.Bytes)/float64(s.png))
		if r.Change == nil {
			continue
		}
		share := float64(r.Change.Bytes) / raw
		t.Logf("%-18s change %5d bytes, %.2f %% of raw; %.1f %% of the pixels", s.name, r.Change.Bytes, 100*share, 100*differs(s.image, next))
		if scrolled(s.name) {
			f.moved = append(f.moved, share)
		} else {
			f.widget = append(f.widget, share)
			f.bytes["widget"] = append(f.bytes["widget"], float64(r.Change.Bytes))
		}
	}
	return f
}

func most(v []float64) float64 {
	m := 0.0
	for _, x := range v {
		m = max(m, x)
	}
	return m
}

// The bounds of issue 4 that hold on windows of real toolkits, which no codec was fitted to.
func TestCorpus(t *testing.T) {
	f := measureCorpus(t, false)
	if m := most(f.unchanged); m > 40 {
		t.Errorf("an unchanged look moves %v bytes, more than 40", m)
	}
	if m := most(f.newRaw); m > 1.02 {
		t.Errorf("a new screen moves %v of raw", m)
	}
	if m := median(f.new); m > 1.1 {
		t.Errorf("at the median a new screen moves %.3f of the same picture as an optimised PNG, more than 1.1", m)
	}
	if m := median(f.widget); m > 0.004 {
		t.Errorf("at the median a changed widget moves %.2f %% of raw, more than 0.4", 100*m)
	}
	if m := median(f.moved); m > 0.015 {
		t.Errorf("at the median a scrolled list moves %.2f %% of raw, more than 1.5", 100*m)
	}
	t.Logf("medians: new %.3f of an optimised PNG; one widget %.2f %% of raw; scrolled %.2f %%", median(f.new), 100*median(f.widget), 100*median(f.moved))
}

// BenchmarkCorpus: what looks of real toolkits' windows cost with each codec, and the time that the bytes
// take on a serial line.
func BenchmarkCorpus(b *testing.B) {
	for _, light := range []bool{false, true} {
		name := "dense"
		if light {
			name = "light"
		}
		b.Run(name, func(b *testing.B) {
			var f figures
			for b.Loop() {
				f = measureCorpus(b, light)
			}
			b.ReportMetric(median(f.unchanged), "unchanged-bytes")
			b.ReportMetric(median(f.new), "new/png-median")
			b.ReportMetric(100*most(f.newRaw), "%raw-new-worst")
			b.ReportMetric(100*median(f.widget), "%raw-widget-median")
			b.ReportMetric(100*median(f.moved), "%raw-scrolled-median")
			for _, baud := range []struct {
				name string
				rate float64
			}{{"115200", 115200}, {"921600", 921600}, {"2M", 2e6}} {
				b.ReportMetric(median(f.bytes["new"])*10/baud.rate, "s-new-"+baud.name)
				b.ReportMetric(median(f.bytes["widget"])*10/baud.rate, "s-widget-"+baud.name)
			}
		})
	}
}
