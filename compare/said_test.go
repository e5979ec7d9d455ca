package compare

import (
	"bytes"
	"crypto/sha256"
	"encoding/json"
	"flag"
	"fmt"
	"image"
	"image/draw"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"

	"github.com/fascia-bench/fascia/compare/internal/pairs"
)

var update = flag.Bool("update", false, "write down again what is said of the pairs")

// TestSaid holds what the comparer says of some hundred pairs to the letter: that of each cause, of parts that are cut by the
// panel's edge, and of real windows before and after a library's upgrade. Whether it is right is asked by other tests; this
// one notices what a change of the code changes that was not meant. If it was, -update writes it down, and the commit shows which
// sentences became others. A line is the pair, the start of a hash of all that is said of it, and the first finding.
func TestSaid(t *testing.T) {
	const file = "testdata/said.txt"
	list := saidPairs(t)
	lines := make([]string, len(list))
	var wg sync.WaitGroup
	for i, p := range list {
		wg.Go(func() { lines[i] = p.line() })
	}
	wg.Wait()
	now := strings.Join(lines, "")
	if *update {
		if err := os.WriteFile(file, []byte(now), 0o666); err != nil {
			t.Fatal(err)
		}
		return
	}
	data, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	was := strings.SplitAfter(string(data), "\n")
	if len(was) != len(lines)+1 {
		t.Fatalf("%s has %d lines for %d pairs: -update writes it again", file, len(was)-1, len(lines))
	}
	for i, line := range lines {
		if was[i] != line {
			t.Errorf("of this pair other things are said now; if that is meant, go test ./compare -run TestSaid -update\nwas %snow %s%s", was[i], line, said(list[i].result()))
		}
	}
}

// A saidPair is two pictures and what else is known of them; with a last area, it is the redraw that is judged.
type saidPair struct {
	name            string
	golden, capture *image.RGBA
	opt             Options
	flushed         *image.Rectangle
}

func (p saidPair) result() Result {
	if p.flushed != nil {
		return Flushed(p.golden, p.capture, *p.flushed)
	}
	return Compare(p.golden, p.capture, p.opt)
}

// said is all that is said, with fractions of six digits: what is below that may be the processor's.
func said(r Result) []byte {
	data, err := json.Marshal(r)
	if err != nil {
		return []byte(err.Error())
	}
	var v any
	if err := json.Unmarshal(data, &v); err != nil {
		return []byte(err.Error())
	}
	data, _ = json.Marshal(rounded(v))
	return data
}

func rounded(v any) any {
	switch v := v.(type) {
	case float64:
		return json.Number(fmt.Sprintf("%.6g", v))
	case []any:
		for i := range v {
			v[i] = rounded(v[i])
		}
	case map[string]any:
		for k := range v {
			v[k] = rounded(v[k])
		}
	}
	return v
}

func (p saidPair) line() string {
	r := p.result()
	says := "the same"
	if !r.Same {
		says = r.Causes[0].Says
	}
	return fmt.Sprintf("%s\t%.8x\t%s\n", p.name, sha256.Sum256(said(r)), says)
}

func saidPairs(t *testing.T) (list []saidPair) {
	for half, each := range []int{3, 2} {
		s := newSource(t, seed+1, pairs.Half(half))
		for _, cause := range pairs.WholeFaults {
			for i := range each {
				q := s.Whole(cause)
				p := saidPair{name: fmt.Sprintf("%d/%s/%d", half, cause, i), golden: q.Golden, capture: q.Capture}
				if q.Previous != nil {
					p.opt.Previous = q.Previous
				}
				list = append(list, p)
			}
		}
		for _, cause := range pairs.PartFaults {
			for i := range 2 * each {
				q := s.Part(cause)
				p := saidPair{name: fmt.Sprintf("%d/%s/%d", half, cause, i), golden: q.Golden, capture: q.Capture}
				list = append(list, p)
				list = append(list, p.besides(q.Regions[0], i)...)
			}
		}
	}
	return append(list, upgraded(t)...)
}

// besides are further pairs made of one with a part's fault: cut through the part so that it meets the panel's edge, as
// a redraw of the part, and with a rectangle ignored or a tolerance given.
func (p saidPair) besides(r image.Rectangle, i int) []saidPair {
	cut := p.golden.Rect
	switch i % 4 {
	case 0:
		cut.Min.X = r.Min.X
	case 1:
		cut.Min.Y = r.Min.Y + r.Dy()/3
	case 2:
		cut.Max.X = r.Max.X
	case 3:
		cut.Max.Y = r.Max.Y - r.Dy()/3
	}
	edge, again, masked, lenient := p, p, p, p
	edge.name, edge.golden, edge.capture = p.name+"/edge", cropped(p.golden, cut), cropped(p.capture, cut)
	again.name, again.flushed = p.name+"/redraw", &r
	masked.name, masked.opt.Ignore = p.name+"/ignore", []image.Rectangle{{r.Min, r.Min.Add(r.Size().Div(2))}}
	lenient.name = p.name + "/tolerance"
	lenient.opt.Tolerances = []Tolerance{{ColourBelow: 12, Reason: "a test"}, {EdgesOnly: true, Reason: "a test"}, {SmallerThan: 20, Reason: "a test"}}
	lenient.opt.Previous, lenient.opt.PreviousGolden = blank(p.golden), p.golden
	return []saidPair{edge, again, masked, lenient}
}

// cropped is a part of a picture, with its corner at 0,0.
func cropped(m *image.RGBA, r image.Rectangle) *image.RGBA {
	out := image.NewRGBA(image.Rectangle{Max: r.Size()})
	draw.Draw(out, out.Rect, m, r.Min, draw.Src)
	return out
}

// blank is a picture in its top left pixel's colour: what a screen may have shown before.
func blank(m *image.RGBA) *image.RGBA {
	out := image.NewRGBA(m.Rect)
	draw.Draw(out, out.Rect, image.NewUniform(m.At(0, 0)), image.Point{}, draw.Src)
	return out
}

// upgraded are windows of a real toolkit before and after its upgrade, and damaged ones.
func upgraded(t *testing.T) (list []saidPair) {
	const dir = "../suites/between/testdata/upgrade/"
	files, err := filepath.Glob(dir + "before/*.png")
	if err != nil || len(files) == 0 {
		t.Fatalf("windows of an upgrade: %v, %v", files, err)
	}
	for _, before := range files {
		for _, set := range []string{"after", "defects-0"} {
			after := dir + set + "/" + filepath.Base(before)
			golden, capture := pngFile(t, before), pngFile(t, after)
			if golden == nil || capture == nil || bytes.Equal(golden.Pix, capture.Pix) {
				continue
			}
			name := set + "/" + strings.TrimSuffix(filepath.Base(before), ".png")
			list = append(list, saidPair{name: name, golden: golden, capture: capture})
		}
	}
	return list
}

// pngFile is the picture of a file, nil if there is none.
func pngFile(t *testing.T, name string) *image.RGBA {
	f, err := os.Open(name)
	if os.IsNotExist(err) {
		return nil
	}
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	m, _, err := image.Decode(f)
	if err != nil {
		t.Fatal(err)
	}
	return cropped(toRGBA(m), m.Bounds())
}

func toRGBA(m image.Image) *image.RGBA {
	out := image.NewRGBA(m.Bounds())
	draw.Draw(out, out.Rect, m, m.Bounds().Min, draw.Src)
	return out
}
